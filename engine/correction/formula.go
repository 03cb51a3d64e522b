package correction

import (
	"firn/engine"
	"firn/engine/atmosphere"
)

// Air is the reported temperature and the elevation of the altimeter setting
// source.
type Air = atmosphere.Air

// MaxHeight is the greatest height above the source that the formulas take.
const MaxHeight engine.Height = 60000

// The figures as the published equation prints them, rounder than the
// standard atmosphere's.
const (
	printedStandard = 15      // °C at sea level
	printedZero     = 273     // 0 °C in kelvins; with 273.15 four cells of the table differ
	printedLapse    = 0.00198 // °C a foot
)

// bound moves height and air to what the formulas are good for: above the
// source, up to MaxHeight, air that can be. Not a number becomes the limit on
// the safe side.
func bound(h engine.Height, air Air) (engine.Height, Air) {
	if !(h <= MaxHeight) {
		h = MaxHeight
	} else if h < 0 {
		h = 0
	}
	return h, air.Bounded()
}

// atLeastZero is the promise of the package: never a subtraction, nor a zero
// with a minus sign.
func atLeastZero[T ~float64](c T) engine.Feet {
	if c > 0 {
		return engine.Feet(c)
	}
	return 0
}

// Equation is the published equation for tabulated corrections, in feet to
// add:
//
//	h (15 - t0) / (273 + t0 - 0.5 L0 (h + source))
//
// with t0 the temperature reduced to sea level by L0 = 0.00198 °C a foot.
// Source: ICAO Doc 8168 Vol III Section 2 Chapter 4 (2018), from
// memory; its shape is confirmed by all 98 cells of the table, which it gives
// when rounded up to ten feet. Published as within 5 % of Accurate for
// sources to 10 000 ft and heights to 5000 ft (read in a quotation only): it
// is short, as its mean temperature is too warm above sea level.
//
// Range: heights to MaxHeight and air as Air.Bounded; beyond, the limit holds.
func Equation(h engine.Height, air Air) engine.Feet {
	h, air = bound(h, air)
	t0 := float64(air.Temperature) + printedLapse*float64(air.Source)
	mean := printedZero + t0 - 0.5*printedLapse*(float64(h)+float64(air.Source))
	return atLeastZero(float64(h) * (printedStandard - t0) / mean)
}

// Accurate is the accurate equation solved for the wanted true height, in
// feet to add: the c for which Error(h + c) is c, to less than a millionth of
// a foot. Source: ESDU Performance Vol 2, Item 77022, from memory, as ICAO
// Doc 8168 gives it; see atmosphere.Air. Where the layer reaches above the
// tropopause the standard temperature there is used.
//
// Range: heights to MaxHeight and air as Air.Bounded; beyond, the limit holds.
func Accurate(h engine.Height, air Air) engine.Feet {
	h, air = bound(h, air)
	return atLeastZero(air.IndicatedHeight(h) - h)
}

// Column is the exact correction, in feet to add, for a column of air that
// starts at the reported temperature and has the standard lapse: the height
// times (standard temperature at the source / reported temperature - 1), both
// in kelvins. Source: hydrostatics, see atmosphere.Column. It is short
// of Accurate by up to 3 % as that one's lapse is a foot of pressure altitude.
//
// Range: heights to MaxHeight and air as Air.Bounded; beyond, the limit holds.
func Column(h engine.Height, air Air) engine.Feet {
	h, air = bound(h, air)
	return atLeastZero(-float64(h) * float64(air.Deviation()) / float64(air.Temperature.Kelvin()))
}

// FourPercent is the rule of thumb, in feet to add: 4 % of the height for
// each 10 °C below standard at the source. Source: ICAO Doc 8168, read in a
// quotation only, as safe for temperatures warmer than -15 °C at every source
// elevation; that is true up to 5000 ft above the source and not of 10 000.
//
// Range: heights to MaxHeight and air as Air.Bounded; beyond, the limit holds.
func FourPercent(h engine.Height, air Air) engine.Feet {
	h, air = bound(h, air)
	standard := printedStandard - printedLapse*float64(air.Source)
	return atLeastZero(0.04 * float64(h) * (standard - float64(air.Temperature)) / 10)
}

// Error is how far below its indicated height an aeroplane is, in feet;
// negative in air warmer than standard, where it is above. It is the accurate
// equation as published (ESDU 77022), and not a correction: what must be added
// to be at that height is Accurate, which is more. The air is taken as
// Air.Bounded; below the source the answer is negative in cold air.
func Error(indicated engine.Height, air Air) engine.Feet {
	return engine.Feet(indicated - air.TrueHeight(indicated))
}

// EnRoute is what a minimum en-route altitude needs, in feet to add, for its
// height above the source: by both published ways, the larger, since that height is
// often far above the table's last column. Nothing in air that is not colder than
// standard, or at the source. Source: ICAO Doc 8168 as given from memory; the
// source is the nearest station, and from which deviation on to correct is the
// operator's policy (see Air.Deviation). Not rounded.
func EnRoute(minimum engine.Altitude, air Air) engine.Feet {
	if air.Temperature >= atmosphere.StandardTemperature(air.Source) {
		return 0
	}
	height := minimum.Above(air.Source)
	return max(Accurate(height, air), Equation(height, air))
}

// EnRouteByOutside is what a minimum en-route altitude needs by the outside air
// temperature at that altitude, in feet to add: the indicated altitude at which
// atmosphere.TrueAltitudeFromOutside gives the minimum, less it, in the proportion
// of the air below the minimum. Nothing in air that is not colder than standard
// there. The minimum is above the source; the setting is the standard one. Ours,
// from that formula. Not rounded.
func EnRouteByOutside(minimum, source engine.Altitude, outside engine.Celsius) engine.Feet {
	height := minimum.Above(source)
	isTrue := atmosphere.TrueAltitudeFromOutside(minimum, source, atmosphere.SeaLevelPressure, outside).Above(source)
	return atLeastZero(float64(height*height/isTrue - height))
}
