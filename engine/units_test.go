package engine

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// exactly checks a conversion against rational arithmetic. Each step of a
// conversion may round once (half a unit in the last place), and so may the
// factor, which binary fractions do not hold exactly: scale is the greatest
// value on the way.
func exactly(t *rapid.T, what string, got float64, want *big.Rat, scale float64) {
	t.Helper()
	diff := new(big.Rat).Sub(new(big.Rat).SetFloat64(got), want)
	bound := new(big.Rat).SetFloat64(2*math.Nextafter(math.Abs(scale), math.Inf(1)) - 2*math.Abs(scale))
	if diff.Abs(diff).Cmp(bound) > 0 {
		t.Fatalf("%s: got %.17g, want %s", what, got, want.FloatString(20))
	}
}

func rat(x float64) *big.Rat { return new(big.Rat).SetFloat64(x) }

// The international foot, 0.3048 m, and the Celsius scale by definition (ICAO
// Annex 5).
func TestConversionsAreExact(t *testing.T) {
	foot, nine5, zero := big.NewRat(3048, 10000), big.NewRat(9, 5), big.NewRat(27315, 100)
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-100000, 100000).Draw(t, "x")
		metres := new(big.Rat).Mul(rat(x), foot)
		exactly(t, "Feet.Metres", float64(Feet(x).Metres()), metres, float64(Feet(x).Metres()))
		exactly(t, "Height.Metres", float64(Height(x).Metres()), metres, float64(Height(x).Metres()))
		exactly(t, "Altitude.Metres", float64(Altitude(x).Metres()), metres, float64(Altitude(x).Metres()))
		exactly(t, "Metres.Feet", float64(Metres(x).Feet()), new(big.Rat).Quo(rat(x), foot), float64(Metres(x).Feet()))

		c := rapid.Float64Range(-100, 60).Draw(t, "c")
		f := new(big.Rat).Add(new(big.Rat).Mul(rat(c), nine5), big.NewRat(32, 1))
		exactly(t, "Celsius.Fahrenheit", float64(Celsius(c).Fahrenheit()), f, 212)
		back := new(big.Rat).Quo(new(big.Rat).Sub(rat(c), big.NewRat(32, 1)), nine5)
		exactly(t, "Fahrenheit.Celsius", float64(Fahrenheit(c).Celsius()), back, 212)
		exactly(t, "Celsius.Kelvin", float64(Celsius(c).Kelvin()), new(big.Rat).Add(rat(c), zero), 400)
		exactly(t, "Kelvin.Celsius", float64(Kelvin(c+200).Celsius()), new(big.Rat).Sub(rat(c+200), zero), 400)
	})
}

// Values that people type come out whole.
func TestWholeValues(t *testing.T) {
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"1524 m, by definition 5000 ft", UpToFoot(float64(Metres(1524).Feet())), 5000},
		{"3048 m, by definition 10 000 ft", UpToFoot(float64(Metres(3048).Feet())), 10000},
		{"3050 m rounded up", UpToFoot(float64(Metres(3050).Feet())), 10007},
		{"-40 F is -40 C", float64(Fahrenheit(-40).Celsius()), -40},
		{"-36 F to the colder tenth", float64(Fahrenheit(-36).Celsius().ColderTenth()), -37.8},
		{"a tenth stays", float64(Celsius(-37.8).ColderTenth()), -37.8},
		{"0 C is 273.15 K", float64(Celsius(0).Kelvin()), 273.15},
		{"10 C is 50 F", float64(Celsius(10).Fahrenheit()), 50},
		{"a whole foot but for noise", UpToFoot(1200.0000000001), 1200},
		{"a part of a foot", UpToFoot(1200.001), 1201},
		{"-33 against 15", float64(Celsius(-33).Sub(15)), -48},
		{"15 less 48", float64(Celsius(15).Add(-48)), -33},
		{"29.92 inches, 1013.2 hPa on altimeter dials", math.Round(float64(InchesOfMercury(29.92).Hectopascals())*10) / 10, 1013.2},
		{"and back", math.Round(float64(Hectopascals(1013.25).InchesOfMercury())*100) / 100, 29.92},
		{"180 degrees", Degrees(180).Radians(), math.Pi},
		{"and back", float64(DegreesOf(math.Pi / 2)), 90},
	} {
		if c.got != c.want {
			t.Errorf("%s: got %v, want %v", c.name, c.got, c.want)
		}
	}
}

// FAA AIM 7-3-6: the Missoula final approach fix, 6200 ft over 3206 ft.
func TestAltitudesAndHeights(t *testing.T) {
	h := Altitude(6200).Above(3206)
	if h != 2994 || h.Over(3206) != 6200 || h.Add(6) != 3000 || Altitude(6200).Add(300) != 6500 {
		t.Errorf("6200 ft over 3206 ft: got a height of %v", h)
	}
	if got := Altitude(6515.4).String(); got != "6516 ft" {
		t.Errorf("6515.4 ft shown: got %s, want 6516 ft", got)
	}
}

// TestNothingIsMinusZero: a figure that rounds up to zero has no sign.
func TestNothingIsMinusZero(t *testing.T) {
	for _, ft := range []float64{0, math.Copysign(0, -1), -0.4, 1e-7} {
		if got := UpToFoot(ft); got != 0 || math.Signbit(got) {
			t.Errorf("UpToFoot(%g) = %g, want 0", ft, got)
		}
	}
	if got, want := Altitude(0).String(), "0 ft"; got != want {
		t.Errorf("Altitude(0) = %q, want %q", got, want)
	}
}
