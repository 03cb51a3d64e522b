package ruleset

import (
	"testing"

	"firn/engine/correction"
	"firn/engine/procedure"
)

// benchInput is a whole procedure of 12 altitudes: every fix role, three
// minimums, and one altitude above the table's last column. The numbers are
// made up.
func benchInput(b *testing.B) Input {
	b.Helper()
	in := Input{
		Air:         correction.Air{Temperature: -23.4, Source: 3206},
		Restriction: -12, HasPublished: true, Mountainous: true,
		Designated: []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed},
		Points: []procedure.Point{
			{Fix: "ABLER", Role: procedure.InitialFix, Altitude: 9400},
			{Fix: "BAKEN", Role: procedure.InitialFix, Altitude: 9400},
			{Fix: "CADRO", Role: procedure.Hold, Altitude: 9400},
			{Fix: "DELVO", Role: procedure.IntermediateFix, Altitude: 8000},
			{Fix: "ENKEL", Role: procedure.StepDown, Altitude: 7000},
			{Fix: "FORSA", Role: procedure.FinalFix, Altitude: 6200},
			{Fix: "GANTO", Role: procedure.StepDown, Altitude: 5400},
			{Fix: "HELMO", Role: procedure.StepDown, Altitude: 4840},
			{Role: procedure.DecisionAltitude, Altitude: 4310},
			{Role: procedure.MinimumDescent, Altitude: 4520},
			{Role: procedure.Circling, Altitude: 4700},
			{Fix: "JUNKA", Role: procedure.MissedHold, Altitude: 12000},
		},
	}
	if err := procedure.AssignSegments(in.Points); err != nil {
		b.Fatal(err)
	}
	return in
}

// A whole procedure under each rule set; the figure to reach is 2 µs.
func BenchmarkEvaluate12(b *testing.B) {
	sets, err := Builtin()
	if err != nil {
		b.Fatal(err)
	}
	in := benchInput(b)
	for _, s := range sets {
		b.Run(s.ID, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := s.Evaluate(in); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkRequests(b *testing.B) {
	sets, err := Builtin()
	if err != nil {
		b.Fatal(err)
	}
	in := benchInput(b)
	for _, s := range sets {
		res, err := s.Evaluate(in)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(s.ID, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s.RequestsFor(res, 0)
			}
		})
	}
}
