package atmosphere

import (
	"math"

	"firn/engine"
)

// Column is a column of air with a constant lapse of true height above the
// source, whose surface pressure is the standard one for the source's
// elevation. It is exact hydrostatics; where it differs from Air is the lapse:
// Air has the standard one a foot of pressure altitude.
//
// With StandardLapse true over indicated height is Air.Ratio exactly; with an
// inversion (negative) or an isothermal layer (zero) the need for correction
// is less, with a steeper lapse more than every published method says.
type Column struct {
	Air   Air
	Lapse Lapse
}

// IndicatedHeight is what the altimeter shows at a true height above the
// source. The column ends where its temperature would reach absolute zero;
// there the pressure is nothing and the indication without bound. The air is
// taken as Bounded.
func (c Column) IndicatedHeight(trueHeight engine.Height) engine.Height {
	air := c.Air.Bounded()
	surface, z := float64(air.Temperature.Kelvin()), float64(trueHeight.Metres())
	x := max(-float64(c.Lapse)/1000*z/surface, -1)
	logRatio := -Gravity / GasConstant * z / surface * over(math.Log1p(x), x)
	p := StandardPressure(air.Source) * engine.Hectopascals(math.Exp(logRatio))
	return PressureAltitude(p).Above(air.Source)
}

// TrueHeight is where above the source an aeroplane is whose altimeter shows
// a height; the inverse of IndicatedHeight.
func (c Column) TrueHeight(indicated engine.Height) engine.Height {
	air := c.Air.Bounded()
	logRatio := math.Log(float64(StandardPressure(indicated.Over(air.Source)) / StandardPressure(air.Source)))
	x := GasConstant / Gravity * float64(c.Lapse) / 1000 * logRatio
	z := -GasConstant / Gravity * float64(air.Temperature.Kelvin()) * logRatio * over(math.Expm1(x), x)
	return engine.Height(engine.Metres(z).Feet())
}

// over is y/x for a y that goes as x near zero, where it is one: there the
// column is isothermal.
func over(y, x float64) float64 {
	if math.Abs(x) < 1e-15 {
		return 1
	}
	return y / x
}
