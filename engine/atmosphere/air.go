package atmosphere

import (
	"math"

	"firn/engine"
)

// Air is what is known of the air: a temperature and where it was reported.
//
// Its methods take the standard atmosphere shifted by that one deviation at
// every pressure level: the assumption of the ICAO accurate equation (ESDU
// Performance Vol 2, Item 77022, from memory). Above the tropopause the
// standard temperature is constant and the deviation stays.
type Air struct {
	Temperature engine.Celsius
	// Source is the elevation of the altimeter setting source. It stands for
	// the source's pressure altitude, as in every published method; give the
	// pressure altitude itself where the setting is to count.
	Source engine.Altitude
}

// What Air can be. Beyond these a figure is a mistake, not weather: the
// coldest and warmest air measured at the surface are -89.2 °C and 56.7 °C
// (WMO archive of weather extremes, from memory), the highest airport lies
// below 15 000 ft and the lowest above -1300 ft.
const (
	ColdestAir    engine.Celsius  = -100
	WarmestAir    engine.Celsius  = 60
	LowestSource  engine.Altitude = -2000
	HighestSource engine.Altitude = 30000
)

// Bounded is the air moved to the nearest that can be; not a number becomes
// the coldest, the safe side.
func (a Air) Bounded() Air {
	if !(a.Temperature >= ColdestAir) {
		a.Temperature = ColdestAir
	} else if a.Temperature > WarmestAir {
		a.Temperature = WarmestAir
	}
	if !(a.Source >= LowestSource) {
		a.Source = LowestSource
	} else if a.Source > HighestSource {
		a.Source = HighestSource
	}
	return a
}

// Deviation is how much warmer than standard the air at the source is;
// negative when it is colder.
func (a Air) Deviation() engine.CelsiusDelta { return Deviation(a.Temperature, a.Source) }

// Ratio is the absolute temperature over the standard one at the source: by
// how much the air stretches every height, exactly so in a column with the
// standard lapse (Column).
func (a Air) Ratio() float64 {
	return float64(a.Temperature.Kelvin() / standardKelvin(a.Source))
}

// TrueHeight is where above the source an aeroplane is whose altimeter shows
// a height: less than that in cold air, more in warm. The air is taken as
// Bounded.
func (a Air) TrueHeight(indicated engine.Height) engine.Height {
	return indicated - shift(a).shortfall(indicated)
}

// TrueAltitude is TrueHeight for altitudes.
func (a Air) TrueAltitude(indicated engine.Altitude) engine.Altitude {
	return a.TrueHeight(indicated.Above(a.Source)).Over(a.Source)
}

// IndicatedHeight is what the altimeter shows at a true height above the
// source; the inverse of TrueHeight, to less than a millionth of a foot up
// to 60 000 ft.
func (a Air) IndicatedHeight(trueHeight engine.Height) engine.Height {
	s := shift(a)
	// Newton's method on h + c - shortfall(h + c) = h. The first guess
	// is the column with the standard lapse, a few per cent off. As a bounded
	// deviation is always less than the temperature it is added to, the
	// slope is positive, and the shortfall bends one way only: from the guess on
	// the steps come nearer from one side, doubling the digits each time.
	c := -trueHeight * engine.Height(s.deviation/(s.source+s.deviation))
	for range maxSteps {
		level := trueHeight + c
		step := (c - s.shortfall(level)) / engine.Height(1+s.deviation/s.standard(level))
		c -= step
		if math.Abs(float64(step)) < closeEnough {
			break
		}
	}
	return trueHeight + c
}

const (
	maxSteps    = 20   // three are usual
	closeEnough = 1e-4 // ft; the step after one this small is below 1e-12 ft
)

// shifted is the standard atmosphere above a source plus a deviation.
type shifted struct {
	deviation float64       // kelvins, negative when cold
	source    float64       // standard temperature at the source, kelvins
	bend      engine.Height // height of the tropopause above the source
}

func shift(a Air) shifted {
	a = a.Bounded()
	std := standardKelvin(a.Source)
	return shifted{
		deviation: float64(a.Temperature.Kelvin() - std),
		source:    float64(std),
		bend:      Tropopause.Above(a.Source),
	}
}

// standard is the standard temperature at an indicated height, in kelvins.
func (s shifted) standard(indicated engine.Height) float64 {
	return s.source - float64(lapsePerFoot)*float64(min(indicated, s.bend))
}

// shortfall is the indicated less the true height at an indicated one. The same
// pressure step is dz in this air and dh in the standard one, dz/(T + D) =
// dh/T; summed up from the source,
//
//	shortfall = D/L ln(1 - L h/T0)
//
// which is the ESDU equation with the sign of L turned round.
func (s shifted) shortfall(indicated engine.Height) engine.Height {
	below := min(indicated, s.bend)
	e := s.deviation / float64(lapsePerFoot) * math.Log(1-float64(lapsePerFoot)*float64(below)/s.source)
	if indicated > below {
		e -= s.deviation / float64(TropopauseTemperature) * float64(indicated-below)
	}
	return engine.Height(e)
}
