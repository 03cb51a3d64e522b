package picture

import (
	"math"
	"testing"
	"time"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// answer is the reply of a rule set to an approach at XKLD, an invented field.
func answer(t testing.TB, set string, c engine.Celsius, metres bool, points ...procedure.Point) reply.Reply {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range sets {
		if s.ID != set {
			continue
		}
		if points[0].Role != procedure.NoRole && points[0].Segment == procedure.NoSegment {
			if err := procedure.AssignSegments(points); err != nil {
				t.Fatal(err)
			}
		}
		sc := reply.Scene{
			Ident: "XKLD", Name: "Kaldmoor", Elevation: 4802, Source: 4802, Restriction: -25, Restricted: true,
			Temperature: reply.Temperature{C: c}, Set: s,
		}
		res, err := s.Evaluate(ruleset.Input{
			Air: correction.Air{Temperature: c, Source: 4802}, Restriction: -25, HasPublished: true, Mountainous: true,
			Designated: []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}, Points: points,
		})
		if err != nil {
			t.Fatal(err)
		}
		m := make(reply.Metres, len(points))
		for i := range m {
			m[i] = metres
		}
		return reply.Correction(&sc, res, s.RequestsFor(res, 0), m, false)
	}
	t.Fatalf("no rule set %s", set)
	return reply.Reply{}
}

func fix(role procedure.Role, fix string, alt engine.Altitude) procedure.Point {
	return procedure.Point{Role: role, Fix: fix, Altitude: alt}
}

// The approaches that the pictures are looked at with.
func approach() []procedure.Point {
	return []procedure.Point{
		fix(procedure.InitialFix, "XADLO", 10900),
		fix(procedure.IntermediateFix, "XOLMI", 9100),
		fix(procedure.FinalFix, "XIRTU", 8000),
		fix(procedure.StepDown, "XUPEN", 6500),
		fix(procedure.DecisionAltitude, "", 5340),
		fix(procedure.MissedHold, "XADLO", 10200),
	}
}

func unlabelled() []procedure.Point {
	return []procedure.Point{{Altitude: 8200}, {Altitude: 7400}, {Altitude: 5340}}
}

// long is as much as a chart can have: twelve, with long names of minimums,
// two ways in, one altitude between two.
func long() []procedure.Point {
	p := []procedure.Point{
		{Role: procedure.SectorAltitude, Segment: procedure.Sector, Altitude: 12400},
		{Role: procedure.InitialFix, Fix: "XADLO", Segment: procedure.Initial, Altitude: 10900, Meaning: procedure.AtOrAbove},
		{Role: procedure.InitialFix, Fix: "XEMBA", Segment: procedure.Initial, Altitude: 9500, Upper: 11200, Meaning: procedure.Between},
		{Role: procedure.StepDown, Fix: "XUBRI", Segment: procedure.Initial, Altitude: 9400, Meaning: procedure.AtOrBelow},
		{Role: procedure.IntermediateFix, Fix: "XOLMI", Segment: procedure.Initial, Altitude: 8200},
		{Role: procedure.FinalFix, Fix: "XIRTU", Segment: procedure.Intermediate, Altitude: 7400},
		{Role: procedure.StepDown, Fix: "XUPEN", Segment: procedure.Final, Altitude: 6600},
		{Role: procedure.StepDown, Fix: "XORDU", Segment: procedure.Final, Altitude: 6100},
		{Label: "LNAV/VNAV, climb gradient 425 ft a mile", Role: procedure.DecisionAltitude, Segment: procedure.Final, Altitude: 5340},
		{Label: "LNAV", Role: procedure.MinimumDescent, Segment: procedure.Final, Altitude: 5460},
		{Label: "circling, not north of the runway at night", Role: procedure.Circling, Segment: procedure.Final, Altitude: 5840},
		{Role: procedure.MissedHold, Fix: "XADLO", Segment: procedure.Missed, Altitude: 10200},
	}
	return p
}

func metres() []procedure.Point {
	m := func(v engine.Metres) engine.Altitude { return engine.Altitude(v.Feet()) }
	return []procedure.Point{
		fix(procedure.InitialFix, "XADLO", m(3300)), fix(procedure.IntermediateFix, "", m(2750)),
		fix(procedure.FinalFix, "XIRTU", m(2500)), fix(procedure.DecisionAltitude, "", m(1630)), fix(procedure.MissedHold, "", m(3150)),
	}
}

var morning = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC) // 06:00 in the zone below

var mountain = time.FixedZone("XST", -7*3600)

func base() drawing.Base { return drawing.Base{Ident: "XKLD", Name: "Kaldmoor", Zone: mountain} }

func window() coldwatch.Window {
	return coldwatch.Window{From: morning, To: morning.Add(12 * time.Hour)}
}

func hourly() *coldwatch.Forecast {
	f := &coldwatch.Forecast{Source: "hourly forecast (demo)", Issued: morning.Add(-90 * time.Minute), ValidFrom: morning.Add(-3 * time.Hour), ValidTo: morning.Add(24 * time.Hour)}
	for h := -3; h < 24; h++ {
		c := -23.5 - 7*math.Cos(float64(h-1)/24*2*math.Pi)
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: morning.Add(time.Duration(h) * time.Hour), C: engine.Celsius(math.Round(c))})
	}
	return f
}

func bulletin() *coldwatch.Forecast {
	return &coldwatch.Forecast{
		Source: "TAF (demo)", Issued: morning.Add(-90 * time.Minute), ValidFrom: morning.Add(-time.Hour), ValidTo: morning.Add(23 * time.Hour),
		Minimums: []coldwatch.Sample{{At: morning.Add(time.Hour), C: -31}},
		Maximums: []coldwatch.Sample{{At: morning.Add(8 * time.Hour), C: -17}},
	}
}

// winter is a made-up season with a hole in it.
func winter(days int) []drawing.Low {
	var out []drawing.Low
	for d := range days {
		if d > 60 && d < 66 {
			continue
		}
		x := float64(d)
		c := -14 - 9*math.Sin(x/150*math.Pi) - 6*math.Sin(x/5) - 3*math.Sin(x*1.7)
		out = append(out, drawing.Low{Day: time.Date(2025, 11, 1+d, 12, 0, 0, 0, mountain), C: engine.Celsius(math.Round(c))})
	}
	return out
}

func standing(p drawing.Paper) drawing.Standing {
	return drawing.Standing{
		Record:     "KALOMI-RUTA",
		Computed:   drawing.Signed{By: "K. Moor", At: morning},
		Checked:    []drawing.Signed{{By: "A. Second", At: morning.Add(4 * time.Minute)}},
		ValidUntil: morning.Add(2 * time.Hour), Now: morning.Add(5 * time.Minute), Zone: mountain, Paper: p,
	}
}

// call is one as long as those of a rule set are.
var call = &reply.Call{Way: "vectors", Text: "Request RNAV runway 31. For cold temperature request 800 ft added to vectored altitudes, " +
	"unable below 9900 until established; require 11400 for the missed approach hold."}

// closed is an approach that a stop closes.
func closed(t testing.TB) reply.Reply {
	r := answer(t, "faa-all-segments", -38, false, approach()...)
	r.Procedure, r.Headline = "rnp 31", "XKLD rnp 31, −38 °C: not without compensation"
	r.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "The whole procedure is NA below −28 (chart): not without approved compensation."}}
	for i := range r.Altitudes {
		if a := &r.Altitudes[i]; a.Label == "DA" {
			a.State, a.Mark = reply.StateNotUsable, "not usable"
		}
	}
	return r
}

// example is a drawing with its name among the goldens.
type example struct {
	name string
	d    drawing.Drawing
}

func examples(t testing.TB) []example {
	t.Helper()
	var out []example
	add := func(name string, d drawing.Drawing, ok bool) {
		if !ok {
			t.Fatalf("%s: nothing to draw", name)
		}
		out = append(out, example{name, d})
	}
	for _, c := range []struct {
		name   string
		set    string
		at     engine.Celsius
		points []procedure.Point
		metres bool
		proc   string
	}{
		{"approach", "faa-all-segments", -38, approach(), false, "RNAV (GPS) RWY 31"},
		{"unlabelled", "faa-all-segments", -38, unlabelled(), false, ""},
		{"long", "faa-individual-segments", -47.5, long(), false, "RNAV (GPS) Y RWY 31"},
		{"metres", "icao", -38, metres(), true, ""},
		{"warm", "faa-all-segments", 12, approach(), false, ""},
	} {
		r := answer(t, c.set, c.at, c.metres, c.points...)
		if c.name == "approach" {
			r.Notes = []string{"Remote altimeter: add the chart's additive first, none is stored."}
		}
		p, ok := drawing.ProfileOf(r, c.proc)
		add("profile_"+c.name, p, ok)
		if c.name == "warm" {
			continue
		}
		cu, ok := drawing.CurveOf(r)
		add("curve_"+c.name, cu, ok)
		s := standing(drawing.A5)
		r.Procedure, r.Headline = c.proc, ""
		if c.proc != "" {
			r.Call = call
		}
		if c.name == "metres" {
			s.Paper = drawing.HalfLetter
			s.Record, s.Computed.By, s.Checked, s.ValidUntil = "", "", nil, time.Time{}
		}
		if c.name == "unlabelled" {
			s.Now, s.State = s.ValidUntil.Add(time.Minute), "expired"
		}
		card, ok := drawing.KneeboardOf(r, s)
		add("card_"+c.name, card, ok)
	}
	card, ok := drawing.KneeboardOf(closed(t), standing(drawing.HalfLetter))
	add("card_closed", card, ok)
	l := coldwatch.Line{Restriction: -25, Margin: 3}
	now := morning.Add(-time.Hour)
	d, ok := drawing.DayOf(base(), hourly(), window(), l, now)
	add("day_hourly", d, ok)
	d, ok = drawing.DayOf(base(), bulletin(), window(), l, now)
	add("day_minimums", d, ok)
	both := hourly()
	both.Hourly = append(both.Hourly[:6:6], both.Hourly[10:]...)
	both.Minimums = bulletin().Minimums
	d, ok = drawing.DayOf(base(), both, window(), l, now)
	add("day_gap", d, ok)
	s, ok := drawing.SeasonOf(base(), winter(150), -25, "METAR, lowest of each day (demo)")
	add("season_winter", s, ok)
	s, ok = drawing.SeasonOf(base(), winter(20), -15, "METAR, lowest of each day (demo)")
	add("season_weeks", s, ok)
	p, ok := drawing.ProfileOf(closed(t), "") // its minimum may not be flown
	p.Beside = true
	add("profile_beside", p, ok)
	return out
}
