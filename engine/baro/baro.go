package baro

import (
	"math"

	"firn/engine"
	"firn/engine/atmosphere"
)

// EffectiveAngle is the angle really flown on an uncompensated barometric
// path. Every height above the threshold is stretched by the true over the
// indicated height, so
//
//	tan(effective) = tan(published) T/Tstd
//
// with the reported and the standard temperature at the source in kelvins:
// exact for the column with the standard lapse. Our derivation; at sea level
// it agrees with the sample chart of ICAO Doc 8168 Vol I (2006) Table II-4-1-1
// as remembered (3.2 at +30, 2.8 at 0, 2.7 at -15, 2.5 at -31 °C for 3.0).
func EffectiveAngle(published engine.Degrees, air atmosphere.Air) engine.Degrees {
	return engine.DegreesOf(math.Atan(math.Tan(published.Radians()) * air.Ratio()))
}

// Limits are the charted temperatures of uncompensated barometric vertical
// guidance: "For uncompensated Baro-VNAV systems, LNAV/VNAV NA below Low or
// above High". On RNAV (GPS) charts they bind the LNAV/VNAV line alone, on RNAV
// (RNP) charts the whole procedure; approved compensation or SBAS lifts them
// (FAA AIM 7-3-3 a, 5-1-17 b). They are charted for the final segment only.
type Limits struct {
	Low, High       engine.Celsius
	HasLow, HasHigh bool // a chart may give either, both or none
}

// noise is the part of a degree by which a converted temperature may miss the
// tenth that was meant.
const noise = 1e-6

// Outside says whether a temperature is below the low or above the high limit:
// strictly, so that at a limit the guidance may still be used. A restriction
// temperature for cold corrections is the other way, it binds at or below (FAA
// AIM 7-3-3 a against 7-3-5 b). The two are independent, and one approach may
// meet both. Not a number is outside every limit there is.
func (l Limits) Outside(t engine.Celsius) (low, high bool) {
	return l.HasLow && !(t >= l.Low-noise), l.HasHigh && !(t <= l.High+noise)
}
