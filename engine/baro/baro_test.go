package baro

import (
	"fmt"
	"math"
	"testing"

	"firn/engine"
	"firn/engine/atmosphere"

	"pgregory.net/rapid"
)

// A 3.00 degree path: computed from tan(effective) = tan(3) T/Tstd to the
// hundredth, at three elevations.
func TestThreeDegreePath(t *testing.T) {
	temperatures := []engine.Celsius{40, 30, 15, 0, -10, -15, -20, -30, -31, -40, -50}
	for _, r := range []struct {
		source engine.Altitude
		want   []float64
	}{
		{0, []float64{3.26, 3.16, 3.00, 2.84, 2.74, 2.69, 2.64, 2.53, 2.52, 2.43, 2.32}},
		{3000, []float64{3.33, 3.22, 3.06, 2.90, 2.80, 2.74, 2.69, 2.59, 2.57, 2.48, 2.37}},
		{6000, []float64{3.40, 3.29, 3.13, 2.97, 2.86, 2.80, 2.75, 2.64, 2.63, 2.53, 2.42}},
	} {
		for i, temp := range temperatures {
			got := EffectiveAngle(3, atmosphere.Air{Temperature: temp, Source: r.source})
			if math.Round(float64(got)*100)/100 != r.want[i] {
				t.Errorf("%v °C, elevation %v ft: got %.4f, want %.2f", temp, r.source, float64(got), r.want[i])
			}
		}
	}
}

// ICAO Doc 8168 Vol I (2006), Table II-4-1-1, a sample chart, from memory (3
// degrees at 15 and 2.5 at -31 °C read in a discussion): to a tenth.
func TestICAOSampleChartFromMemory(t *testing.T) {
	for temp, want := range map[engine.Celsius]float64{30: 3.2, 15: 3.0, 0: 2.8, -15: 2.7, -31: 2.5} {
		got := EffectiveAngle(3, atmosphere.Air{Temperature: temp})
		if math.Round(float64(got)*10)/10 != want {
			t.Errorf("%v °C: got %.3f, want %.1f", temp, float64(got), want)
		}
	}
}

// The accurate equation in place of the exact column changes an angle by less
// than a hundredth of a degree at the heights of a final approach fix.
func TestEitherModelGivesTheAngle(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		air := atmosphere.Air{
			Temperature: engine.Celsius(rapid.Float64Range(-50, 50).Draw(t, "temperature")),
			Source:      engine.Altitude(rapid.Float64Range(0, 8000).Draw(t, "source")),
		}
		h := engine.Height(rapid.Float64Range(200, 1500).Draw(t, "height"))
		other := engine.DegreesOf(math.Atan(math.Tan(engine.Degrees(3).Radians()) * float64(air.TrueHeight(h)/h)))
		if got := EffectiveAngle(3, air); math.Abs(float64(got-other)) > 0.01 {
			t.Fatalf("%v at %v ft: got %.4f and %.4f", air, h, float64(got), float64(other))
		}
	})
}

// FAA AIM 7-3-3 a: not authorized below or above, so authorized at; charted
// limits of -16 to 54 and -8 to 47 °C.
func TestLimitsBindOnlyOutside(t *testing.T) {
	both := Limits{Low: -16, High: 54, HasLow: true, HasHigh: true}
	for _, c := range []struct {
		name      string
		l         Limits
		t         engine.Celsius
		low, high bool
	}{
		{"exactly at the low limit", both, -16, false, false},
		{"a tenth below the low limit", both, -16.1, true, false},
		{"a tenth above the low limit", both, -15.9, false, false},
		{"the low limit from 3.2 F", both, engine.Fahrenheit(3.2).Celsius(), false, false},
		{"exactly at the high limit", both, 54, false, false},
		{"a tenth above the high limit", both, 54.1, false, true},
		{"a tenth below the high limit", both, 53.9, false, false},
		{"low limit alone", Limits{Low: -8, HasLow: true}, -8.1, true, false},
		{"low limit alone, hot", Limits{Low: -8, HasLow: true}, 60, false, false},
		{"high limit alone", Limits{High: 47, HasHigh: true}, 47.1, false, true},
		{"high limit alone, cold", Limits{High: 47, HasHigh: true}, -60, false, false},
		{"a low limit of zero is a limit", Limits{HasLow: true}, -0.1, true, false},
		{"no limits", Limits{}, -60, false, false},
		{"not a number", both, engine.Celsius(math.NaN()), true, true},
	} {
		low, high := c.l.Outside(c.t)
		if low != c.low || high != c.high {
			t.Errorf("%s: Outside(%v): got %v, %v, want %v, %v", c.name, c.t, low, high, c.low, c.high)
		}
	}
}

func ExampleEffectiveAngle() {
	air := atmosphere.Air{Temperature: -31, Source: 0}
	fmt.Printf("%.2f\n", float64(EffectiveAngle(3, air)))
	// Output: 2.52
}

func ExampleLimits_Outside() {
	l := Limits{Low: -16, HasLow: true}
	at, _ := l.Outside(-16)
	below, _ := l.Outside(-16.1)
	fmt.Println(at, below)
	// Output: false true
}
