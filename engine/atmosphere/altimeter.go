package atmosphere

import (
	"math"

	"firn/engine"
)

// AltimeterSetting is the setting with which an altimeter that senses the
// pressure of a station reads its elevation (QNH). Elevation: below the
// tropopause.
func AltimeterSetting(station engine.Hectopascals, elevation engine.Altitude) engine.Hectopascals {
	return shiftPressure(station, elevation)
}

// StationPressure is the pressure at an elevation that gave an altimeter
// setting; the inverse of AltimeterSetting.
func StationPressure(setting engine.Hectopascals, elevation engine.Altitude) engine.Hectopascals {
	return shiftPressure(setting, -elevation)
}

// shiftPressure moves a pressure down the standard atmosphere by a height:
// the definition of the altimeter setting, Hp(setting) = Hp(station) -
// elevation, solved for the pressure.
func shiftPressure(p engine.Hectopascals, by engine.Altitude) engine.Hectopascals {
	t := math.Pow(float64(p/SeaLevelPressure), 1/exponent) + float64(by)*float64(lapsePerFoot)/float64(SeaLevelTemperature)
	return SeaLevelPressure * engine.Hectopascals(math.Pow(max(t, 0), exponent))
}

// Indicated is what an altimeter reads at pressure p with a setting dialled
// in: the difference of two pressure altitudes (the barometric scale of SAE
// AS6296, Table 5, is this difference).
func Indicated(p, setting engine.Hectopascals) engine.Altitude {
	return PressureAltitude(p) - PressureAltitude(setting)
}

// TrueAltitudeFromOutside is the true altitude from the outside air
// temperature at the level: the height over the altimeter setting source,
// scaled by the measured over the standard temperature at the pressure
// altitude (the flight computer's formula; as in the European ATPL question
// "indicated 2600 ft on a QNH from a 600 ft field, air 8 °C colder than
// standard", answered there by the rule of thumb of 4 % a 10 °C).
//
// It takes the deviation met at the level for that of the whole layer below;
// under a surface inversion the truth is lower than it says.
func TrueAltitudeFromOutside(indicated, source engine.Altitude, setting engine.Hectopascals, outside engine.Celsius) engine.Altitude {
	level := indicated + PressureAltitude(setting)
	ratio := outside.Kelvin() / standardKelvin(level)
	return source + (indicated-source)*engine.Altitude(ratio)
}

// Situation is one aeroplane and its altimeter, every figure of the chain
// from pressure to true altitude side by side, for teaching.
type Situation struct {
	True             engine.Altitude     // where the aeroplane is
	Station          engine.Hectopascals // pressure at the altimeter setting source
	Setting          engine.Hectopascals // what is dialled in
	Pressure         engine.Hectopascals // pressure at the aeroplane
	PressureAltitude engine.Altitude     // what 1013.25 hPa dialled in would read
	Indicated        engine.Altitude     // what the altimeter reads
}

// SituationAt works the chain out for an aeroplane at a true altitude, in air
// shifted from standard as Air says and with a local setting. The published
// methods leave the setting out; here it says where on the standard curve the
// layer lies, which at -30 °C and 3000 ft is worth 15 ft either way.
func SituationAt(trueAltitude engine.Altitude, air Air, setting engine.Hectopascals) Situation {
	station := StationPressure(setting, air.Source)
	layer := Air{Temperature: air.Temperature, Source: PressureAltitude(station)}
	indicated := layer.IndicatedHeight(trueAltitude.Above(air.Source))
	level := indicated.Over(layer.Source)
	return Situation{
		True:             trueAltitude,
		Station:          station,
		Setting:          setting,
		Pressure:         StandardPressure(level),
		PressureAltitude: level,
		Indicated:        indicated.Over(air.Source),
	}
}
