package atmosphere

import (
	"math"

	"firn/engine"
)

// The standard atmosphere: ICAO Doc 7488/2, as given in tables that cite it
// and in the U.S. Standard Atmosphere 1976; GasConstant from memory.
const (
	SeaLevelTemperature engine.Kelvin       = 288.15
	SeaLevelPressure    engine.Hectopascals = 1013.25
	Gravity                                 = 9.80665   // m/s2
	GasConstant                             = 287.05287 // J/(kg K), dry air

	// Tropopause is 11 km, where the temperature stops falling.
	Tropopause            engine.Altitude = 11000 / engine.MetresPerFoot
	TropopauseTemperature engine.Kelvin   = 216.65

	// Top is 20 km, where the isothermal layer ends. Above it the functions
	// of this package go on as if it did not.
	Top engine.Altitude = 20000 / engine.MetresPerFoot
)

// Lapse is how fast the air gets colder with height, in kelvins a kilometre;
// negative in an inversion.
type Lapse float64

// StandardLapse is the lapse of the standard atmosphere up to the tropopause
// (ICAO Doc 7488/2).
const StandardLapse Lapse = 6.5

const (
	lapsePerFoot = StandardLapse / 1000 * engine.MetresPerFoot // 0.0019812 K/ft
	// exponent is g/(R L), 5.25588: pressure goes as temperature to this
	// power below the tropopause.
	exponent = Gravity / (GasConstant * float64(StandardLapse) / 1000)
	// scaleFeet is R T/g of the isothermal layer: the height over which the
	// pressure falls by a factor of e.
	scaleFeet = GasConstant * float64(TropopauseTemperature) / Gravity / engine.MetresPerFoot
	// tropopausePressure is SeaLevelPressure * (216.65/288.15)^exponent;
	// published as 226.32 hPa.
	tropopausePressure engine.Hectopascals = 226.3204009500781
)

// StandardTemperature is the temperature of the standard atmosphere at a
// pressure altitude, and so what the air at an aerodrome of that elevation
// would have on a standard day: 15 °C less 1.98 °C a thousand feet up to the
// tropopause, -56.5 °C above it.
func StandardTemperature(at engine.Altitude) engine.Celsius { return standardKelvin(at).Celsius() }

func standardKelvin(at engine.Altitude) engine.Kelvin {
	if at >= Tropopause {
		return TropopauseTemperature
	}
	return SeaLevelTemperature - engine.Kelvin(at)*engine.Kelvin(lapsePerFoot)
}

// Deviation is how much warmer than standard the air at a pressure altitude
// is; negative when it is colder.
func Deviation(t engine.Celsius, at engine.Altitude) engine.CelsiusDelta {
	return t.Sub(StandardTemperature(at))
}

// StandardPressure is the pressure of the standard atmosphere at a pressure
// altitude, up to Top.
func StandardPressure(at engine.Altitude) engine.Hectopascals {
	if at <= Tropopause {
		return SeaLevelPressure * engine.Hectopascals(math.Pow(float64(standardKelvin(at)/SeaLevelTemperature), exponent))
	}
	return tropopausePressure * engine.Hectopascals(math.Exp(-float64(at-Tropopause)/scaleFeet))
}

// PressureAltitude is the altitude at which the standard atmosphere has the
// pressure p: what an altimeter set to 1013.25 hPa reads. p must be positive;
// the least pressure of the standard layers, at Top, is 54.75 hPa.
func PressureAltitude(p engine.Hectopascals) engine.Altitude {
	if p >= tropopausePressure {
		return engine.Altitude(float64(SeaLevelTemperature) / float64(lapsePerFoot) * (1 - math.Pow(float64(p/SeaLevelPressure), 1/exponent)))
	}
	return Tropopause - engine.Altitude(scaleFeet*math.Log(float64(p/tropopausePressure)))
}
