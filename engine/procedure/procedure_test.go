package procedure

import (
	"errors"
	"slices"
	"testing"

	"firn/engine"

	"pgregory.net/rapid"
)

// The altitudes in this file are made up; only their order matters. The
// division into segments is that of FAA AIM 7-3-5 f (10/5/23).

// given makes points from roles and altitudes in turn.
func given(pairs ...any) []Point {
	var points []Point
	for i := 0; i < len(pairs); i += 2 {
		points = append(points, Point{Role: pairs[i].(Role), Altitude: engine.Altitude(pairs[i+1].(int))})
	}
	return points
}

func TestAssignSegments(t *testing.T) {
	for _, tt := range []struct {
		name   string
		points []Point
		want   []Segment
	}{
		{"every role but step-down", given(SectorAltitude, 11000, ArrivalArea, 10500, InitialFix, 9400, ProcedureTurn, 9000, Hold, 9000,
			IntermediateFix, 8000, FinalFix, 6200, DecisionAltitude, 4400, MinimumDescent, 4520, Circling, 4800, MissedHold, 12000, MissedAltitude, 6600, NoRole, 7000),
			[]Segment{Sector, Initial, Initial, Initial, Initial, Initial, Intermediate, Final, Final, Final, Missed, Missed, NoSegment}},
		{"a fix without an altitude fits anywhere", []Point{{Role: InitialFix, NoAltitude: true}, {Role: FinalFix, Altitude: 6200}, {Role: StepDown, Altitude: 7000}}, []Segment{Initial, Intermediate, Intermediate}},
		{"step above the intermediate fix", given(IntermediateFix, 8000, FinalFix, 6200, StepDown, 8001), []Segment{Initial, Intermediate, Initial}},
		{"step at the intermediate fix", given(IntermediateFix, 8000, FinalFix, 6200, StepDown, 8000), []Segment{Initial, Intermediate, Initial}},
		{"step below the intermediate fix", given(IntermediateFix, 8000, FinalFix, 6200, StepDown, 7999), []Segment{Initial, Intermediate, Intermediate}},
		{"step above the final approach fix", given(IntermediateFix, 8000, FinalFix, 6200, StepDown, 6201), []Segment{Initial, Intermediate, Intermediate}},
		{"step at the final approach fix", given(FinalFix, 6200, StepDown, 6200), []Segment{Intermediate, Intermediate}},
		{"step below the final approach fix", given(FinalFix, 6200, StepDown, 6199), []Segment{Intermediate, Final}},
		{"step above the final approach fix, no intermediate fix", given(InitialFix, 9400, FinalFix, 6200, StepDown, 9400), []Segment{Initial, Intermediate, Intermediate}},
		{"step at both fixes when they are equal", given(IntermediateFix, 6200, FinalFix, 6200, StepDown, 6200), []Segment{Initial, Intermediate, Initial}},
		{"step with no final approach fix", given(IntermediateFix, 8000, StepDown, 7000, DecisionAltitude, 4000), []Segment{Initial, NoSegment, Final}},
		{"step alone", given(StepDown, 7000), []Segment{NoSegment}},
		{"step given before the fixes", given(StepDown, 5000, FinalFix, 6200), []Segment{Final, Intermediate}},
		{"two intermediate fixes, step between them", given(IntermediateFix, 7000, IntermediateFix, 8000, FinalFix, 6200, StepDown, 7500), []Segment{Initial, Initial, Intermediate, Intermediate}},
		{"one final approach fix, given twice", given(FinalFix, 6200, FinalFix, 6200), []Segment{Intermediate, Intermediate}},
		{"fixes at the final approach fix's altitude", given(InitialFix, 6200, ProcedureTurn, 6200, Hold, 6200, IntermediateFix, 6200, FinalFix, 6200), []Segment{Initial, Initial, Initial, Initial, Intermediate}},
		{"step at the lower minimum", given(FinalFix, 6200, StepDown, 4400, DecisionAltitude, 4400, MinimumDescent, 4520), []Segment{Intermediate, Final, Final, Final}},
		{"step at the highest initial altitude", given(InitialFix, 9400, InitialFix, 9000, FinalFix, 6200, StepDown, 9400), []Segment{Initial, Initial, Intermediate, Intermediate}},
		{"missed approach at the minimums", given(MissedHold, 4400, DecisionAltitude, 4400), []Segment{Missed, Final}},
		{"unlabelled anywhere", given(NoRole, 100, DecisionAltitude, 4400, NoRole, 20000), []Segment{NoSegment, Final, NoSegment}},
		{"sector altitude anywhere", given(SectorAltitude, 100, DecisionAltitude, 4400, FinalFix, 6200), []Segment{Sector, Final, Intermediate}},
		{"a segment that the source gives stays", []Point{{Role: StepDown, Segment: Initial, Altitude: 5000}, {Role: FinalFix, Altitude: 6200}}, []Segment{Initial, Intermediate}},
		{"no point", nil, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			if err := AssignSegments(tt.points); err != nil {
				t.Fatalf("%+v: got %v, want no error", tt.points, err)
			}
			for i, p := range tt.points {
				if p.Segment != tt.want[i] {
					t.Errorf("%s %.0f: got segment %q, want %q", p.Role, p.Altitude, p.Segment, tt.want[i])
				}
			}
		})
	}
}

func TestMisfits(t *testing.T) {
	for _, tt := range []struct {
		name   string
		points []Point
		index  int
		want   string
	}{
		{"minimum at the final approach fix", given(FinalFix, 6200, DecisionAltitude, 6200), 1, "DA 6200 is not below the final approach fix at 6200"},
		{"minimum above the final approach fix", given(MinimumDescent, 6201, FinalFix, 6200), 0, "MDA 6201 is not below the final approach fix at 6200"},
		{"circling minimum above the final approach fix", given(FinalFix, 6200, Circling, 7000), 1, "circling 7000 is not below the final approach fix at 6200"},
		{"initial fix below the final approach fix", given(InitialFix, 6199, FinalFix, 6200), 0, "IAF 6199 is below the final approach fix at 6200"},
		{"procedure turn below the final approach fix", given(FinalFix, 6200, ProcedureTurn, 6199), 1, "PT 6199 is below the final approach fix at 6200"},
		{"hold below the final approach fix", given(FinalFix, 6200, Hold, 6199), 1, "hold 6199 is below the final approach fix at 6200"},
		{"intermediate fix below the final approach fix", given(FinalFix, 6200, IntermediateFix, 6199), 1, "IF 6199 is below the final approach fix at 6200"},
		{"initial fix at the minimums, no final approach fix", given(InitialFix, 4400, DecisionAltitude, 4400), 0, "IAF 4400 is not above the minimums at 4400"},
		{"two final approach fixes", given(FinalFix, 6200, DecisionAltitude, 4400, FinalFix, 6300), 2, "FAF 6300: an approach has one final approach fix, and 6200 is given already"},
		{"step below every minimum", given(StepDown, 4399, DecisionAltitude, 4400, MinimumDescent, 4520), 0, "step 4399 is below the minimums at 4400"},
		{"step above every initial altitude", given(InitialFix, 9000, Hold, 9400, StepDown, 9401), 2, "step 9401 is above every initial altitude (highest 9400)"},
		{"step above the upper bound of the initial altitude", []Point{{Role: InitialFix, Altitude: 7000, Upper: 9000, Meaning: Between}, {Role: StepDown, Altitude: 9001}}, 1, "step 9001 is above every initial altitude (highest 9000)"},
		{"missed approach below the minimums", given(DecisionAltitude, 4400, MissedHold, 4399), 1, "missed 4399 is below the minimums at 4400"},
		{"the crew's own label", []Point{{Role: FinalFix, Altitude: 6200}, {Label: "LNAV", Role: MinimumDescent, Altitude: 7000}}, 1, "LNAV 7000 is not below the final approach fix at 6200"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			err := AssignSegments(tt.points)
			var m *Misfit
			if !errors.As(err, &m) {
				t.Fatalf("got %v, want a *Misfit", err)
			}
			if m.Index != tt.index || m.Error() != tt.want {
				t.Errorf("got point %d, %q, want point %d, %q", m.Index, m.Error(), tt.index, tt.want)
			}
		})
	}
}

func TestIDsRoundTrip(t *testing.T) {
	for i := range RoleCount {
		r := Role(i)
		if got, ok := ParseRole(r.String()); !ok || got != r {
			t.Errorf("ParseRole(%q): got %v, %v, want %v", r, got, ok, r)
		}
		if r.Phrase() == "" {
			t.Errorf("%s: got no phrase, want one", r)
		}
		if (r.Label() == "") != (r == NoRole) {
			t.Errorf("%s: got label %q, want one for every role but NoRole", r, r.Label())
		}
		if got, want := r.Minimum(), slices.Contains([]Role{DecisionAltitude, MinimumDescent, Circling}, r); got != want {
			t.Errorf("%s: got minimum %v, want %v", r, got, want)
		}
	}
	for s := Initial; s <= Sector; s++ {
		if got, ok := ParseSegment(s.String()); !ok || got != s {
			t.Errorf("ParseSegment(%q): got %v, %v, want %v", s, got, ok, s)
		}
	}
	if got := NoSegment.String(); got != "" {
		t.Errorf("NoSegment: got %q, want no id", got)
	}
	for _, id := range []string{"", "Final", "FAF", "final ", "finals"} {
		if got, ok := ParseSegment(id); ok {
			t.Errorf("ParseSegment(%q): got %q, want none", id, got)
		}
		if got, ok := ParseRole(id); ok {
			t.Errorf("ParseRole(%q): got %q, want none", id, got)
		}
	}
	for m, want := range map[Meaning]string{At: "at", AtOrAbove: "at-or-above", AtOrBelow: "at-or-below", Between: "between"} {
		if got := m.String(); got != want {
			t.Errorf("meaning %d: got %q, want %q", m, got, want)
		}
	}
}

func TestName(t *testing.T) {
	for _, tt := range []struct {
		p    Point
		want string
	}{
		{Point{Role: FinalFix}, "FAF"},
		{Point{Role: MinimumDescent, Label: "LNAV MDA"}, "LNAV MDA"},
		{Point{}, ""},
	} {
		if got := tt.p.Name(); got != tt.want {
			t.Errorf("%+v: got %q, want %q", tt.p, got, tt.want)
		}
	}
}

// Whatever the points, AssignSegments answers; a second time it changes
// nothing, and says the same.
func TestAssignSegmentsIsIdempotent(t *testing.T) {
	altitude := rapid.OneOf(
		rapid.Custom(func(t *rapid.T) float64 { return float64(rapid.IntRange(-5, 60).Draw(t, "hundreds") * 100) }), // often equal
		rapid.Float64(), // not even a sane altitude
	)
	rapid.Check(t, func(t *rapid.T) {
		points := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) Point {
			p := Point{Role: Role(rapid.IntRange(0, RoleCount-1).Draw(t, "role")), Altitude: engine.Altitude(altitude.Draw(t, "altitude"))}
			if rapid.IntRange(0, 9).Draw(t, "given") == 0 {
				p.Segment = Segment(rapid.IntRange(int(NoSegment), int(Sector)).Draw(t, "segment"))
			}
			return p
		}), 0, 12).Draw(t, "points")
		before := slices.Clone(points)
		err := AssignSegments(points)
		once := slices.Clone(points)
		again := AssignSegments(points)
		if !slices.Equal(points, once) {
			t.Errorf("second time: got %+v, want %+v", points, once)
		}
		if (err == nil) != (again == nil) || err != nil && err.Error() != again.Error() {
			t.Errorf("second time: got error %v, want %v", again, err)
		}
		for i := range once {
			if before[i].Segment != NoSegment && once[i].Segment != before[i].Segment {
				t.Errorf("point %d: got segment %q, want the given %q", i, once[i].Segment, before[i].Segment)
			}
			if err == nil && once[i].Role.Minimum() && before[i].Segment == NoSegment && once[i].Segment != Final {
				t.Errorf("point %d, %s: got segment %q, want final", i, once[i].Role, once[i].Segment)
			}
		}
		var m *Misfit
		if err != nil && (!errors.As(err, &m) || m.Index < 0 || m.Index >= len(points) || m.Text == "") {
			t.Errorf("got error %#v, want a *Misfit of one of the %d points", err, len(points))
		}
	})
}
