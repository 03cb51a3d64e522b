package correction

import (
	"errors"
	"fmt"

	"firn/engine"
	"firn/engine/atmosphere"
)

// Method is the id of a way to find a correction.
type Method string

// The methods.
const (
	MethodTable       Method = "table"
	MethodTableNext   Method = "table-next"
	MethodEquation    Method = "equation"
	MethodAccurate    Method = "accurate"
	MethodColumn      Method = "column"
	MethodFourPercent Method = "four-percent"
)

// Methods are all of them, in the order in which people are shown them.
func Methods() []Method {
	return []Method{MethodTable, MethodTableNext, MethodEquation, MethodAccurate, MethodColumn, MethodFourPercent}
}

// Describe says what the method is, for people, and where it is from; both
// are empty for what is no method.
func (m Method) Describe() (text, source string) {
	switch m {
	case MethodTable:
		return "the published table, interpolated in both directions", "FAA AIM 7-3-5, TBL 7-3-1"
	case MethodTableNext:
		return "the published table, next colder row and next higher column", "FAA AIM 7-3-5, TBL 7-3-1"
	case MethodEquation:
		return "the published equation, temperature reduced to sea level", "ICAO Doc 8168 Vol III Section 2 Chapter 4, from memory"
	case MethodAccurate:
		return "the accurate equation, solved for the wanted true height", "ESDU 77022 as in ICAO Doc 8168, from memory"
	case MethodColumn:
		return "the column of air from the reported temperature with the standard lapse", "hydrostatics, ICAO Doc 7488 constants"
	case MethodFourPercent:
		return "4 % of the height for each 10 °C below standard; a rule of thumb, never an answer", "ICAO Doc 8168, read in a quotation only"
	}
	return "", ""
}

// Errors of By. A rule set has no answer to them: the input is wrong.
var (
	ErrNoMethod  = errors.New("not a method")
	ErrNoSuchAir = errors.New("no such air")
	ErrTooHigh   = errors.New("higher than any approach")
)

// By is the correction by a method, in feet to add. Errors: ErrNoMethod;
// ErrNoSuchAir for a temperature or source beyond Air.Bounded, ErrTooHigh for a
// height above MaxHeight (not a number is either); and Table's for the two
// methods that use it.
func By(m Method, h engine.Height, air Air) (engine.Feet, error) {
	if air.Bounded() != air { // not a number is not equal to itself
		return 0, fmt.Errorf("%w: %g °C at an elevation of %.0f ft; %.0f to %.0f °C and %.0f to %.0f ft can be", ErrNoSuchAir,
			float64(air.Temperature), float64(air.Source),
			float64(atmosphere.ColdestAir), float64(atmosphere.WarmestAir), float64(atmosphere.LowestSource), float64(atmosphere.HighestSource))
	}
	if !(h <= MaxHeight) {
		return 0, fmt.Errorf("%w: %.0f ft above the source", ErrTooHigh, float64(h))
	}
	switch m {
	case MethodTable:
		return Table(h, air.Temperature)
	case MethodTableNext:
		return TableNext(h, air.Temperature)
	case MethodEquation:
		return Equation(h, air), nil
	case MethodAccurate:
		return Accurate(h, air), nil
	case MethodColumn:
		return Column(h, air), nil
	case MethodFourPercent:
		return FourPercent(h, air), nil
	}
	return 0, fmt.Errorf("%w: %q", ErrNoMethod, string(m))
}
