package bot_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"firn/bot"
	"firn/bot/approach"
	"firn/engine"
	"firn/engine/baro"
	"firn/engine/procedure"
)

// barometric is an approach with a path that -28 °C is the low limit of.
func barometric() approach.Approach {
	a := approach.Approach{Ident: "XKLD", Code: "R31", Name: "rnav 31", Title: approach.Title{Kind: approach.RNAV, Runway: "31"},
		VerticalAngle: 3, HasAngle: true, Baro: baro.Limits{Low: -28, HasLow: true},
		Legs: []approach.Leg{
			{Route: approach.FinalRoute, Fix: "XOLMI", Role: approach.IntermediateFix, Limit: approach.AtOrAbove, Altitude: 8200},
			{Route: approach.FinalRoute, Fix: "XIRTU", Role: approach.FinalFix, Limit: approach.AtOrAbove, Altitude: 7400},
			{Route: approach.MissedRoute, Fix: "XORLI", Role: approach.MissedHold, Limit: approach.AtOrAbove, Altitude: 10200},
		},
		Minimums: []approach.Minimum{{Name: "LNAV/VNAV", Role: procedure.DecisionAltitude, Altitude: 5340, Barometric: true}, {Name: "LNAV", Role: procedure.MinimumDescent, Altitude: 5460}},
	}
	a.Settle()
	return a
}

// "Recompute at" is the warmest tenth of a degree at which anything is another:
// a figure, whether it is required, whether the path may be flown.
func TestRecomputeAtIsTheTenth(t *testing.T) {
	figures := func(t *rapid.T, b *bot.Bot, c float64) string {
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: fmt.Sprintf("XKLD rnav 31 %+.1f", c), At: noon})
		if err != nil || r.Problem != nil {
			t.Fatalf("%.1f: %v, %+v", c, err, r.Problem)
		}
		s := fmt.Sprint(r.Required, c < -28)
		for _, a := range r.Altitudes {
			s += fmt.Sprintf(" %.2f", a.CorrectedFt)
		}
		return s
	}
	rapid.Check(t, func(t *rapid.T) {
		planned := float64(rapid.IntRange(-480, -150).Draw(t, "tenths")) / 10
		b := botOf(t, stations)
		b.Use(bot.Ports{Forecasts: forecasts{"XKLD": {curve("hourly", 48, engine.Celsius(planned))}}, Procedures: charts{barometric()}})
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: "brief XKLD 1430Z rnav 31", At: noon})
		if err != nil || r.Problem != nil || !r.Arrivals[0].RecomputeC.OK {
			t.Fatalf("%+v, %v", r, err)
		}
		at := r.Arrivals[0].RecomputeC.Value
		if tenths := at * 10; math.Abs(tenths-math.Round(tenths)) > 1e-6 || at >= planned {
			t.Fatalf("planned with %.1f it is %v", planned, at)
		}
		was := figures(t, b, planned)
		if is := figures(t, b, at); is == was {
			t.Fatalf("planned with %.1f nothing changes at %.1f: %s", planned, at, is)
		}
		for c := planned - 0.1; c > at+0.05; c -= 0.1 {
			if is := figures(t, b, c); is != was {
				t.Fatalf("planned with %.1f it changes at %.1f and not only at %.1f: %s, %s", planned, c, at, was, is)
			}
		}
	})
}
