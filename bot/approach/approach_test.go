package approach

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/engine"
	"firn/engine/procedure"
)

// whole is an invented approach with all that a coded file may hold: two ways
// in, a hold, step-downs, a glide path and a missed approach of four legs.
func whole() Approach {
	return Approach{
		Ident: "XKLD", Code: "I31", Name: "ils 31", Title: Title{Kind: ILS, Runway: "31"}, Cycle: "2609",
		Legs: []Leg{
			{Route: Transition, Coded: 'A', Transition: "XADLO", Sequence: 10, Fix: "XADLO", Role: InitialFix, Initial: true, Path: Path{'I', 'F'}},
			{Route: Transition, Coded: 'A', Transition: "XADLO", Sequence: 20, Fix: "XUBRI", Limit: Between, Altitude: 10200, Second: Lower, Altitude2: 9200},
			{Route: Transition, Coded: 'A', Transition: "XADLO", Sequence: 30, Fix: "XOLMI", Role: IntermediateFix, Limit: AtOrAbove, Altitude: 8200},
			{Route: Transition, Coded: 'A', Transition: "XOLMI", Sequence: 10, Fix: "XOLMI", Role: Hold, Initial: true, Limit: AtOrAbove, Altitude: 8200, Path: Path{'H', 'F'}},
			{Route: FinalRoute, Coded: 'I', Sequence: 10, Fix: "XOLMI", Role: IntermediateFix, Limit: AtOrAbove, Altitude: 8200, Second: GlidePathAhead, Altitude2: 7400},
			{Route: FinalRoute, Coded: 'I', Sequence: 15, Fix: "XAMRO", Role: StepDown, Limit: AtOrBelow, Altitude: 8000},
			{Route: FinalRoute, Coded: 'I', Sequence: 20, Fix: "XIRTU", Role: FinalFix, Limit: At, Altitude: 7400, Second: GlidePath, Altitude2: 7350},
			{Route: FinalRoute, Coded: 'I', Sequence: 25, Fix: "XUPEN", Role: StepDown, Limit: AtOrAbove, Altitude: 6100, Angle: 3.1, HasAngle: true},
			{Route: FinalRoute, Coded: 'I', Sequence: 30, Fix: "RW31", Role: MissedPoint, Limit: At, Altitude: 4850, Angle: 3.2, HasAngle: true},
			{Route: MissedRoute, Coded: 'I', Sequence: 40, Role: MissedLeg, Limit: AtOrAbove, Altitude: 5400, Path: Path{'C', 'A'}},
			{Route: MissedRoute, Coded: 'I', Sequence: 50, Fix: "XADLO", Role: MissedHold, Limit: AtOrAbove, Altitude: 10200, Path: Path{'H', 'M'}},
			{Route: MissedRoute, Coded: 'Z', Transition: "XEMBA", Sequence: 10, Fix: "XEMBA", Role: MissedHold, Limit: AtOrAbove, Altitude: 11200},
		},
		Minimums: []Minimum{{Name: "ILS 31", Role: procedure.DecisionAltitude, Altitude: 5100}},
	}
}

func TestSettle(t *testing.T) {
	a := whole()
	a.Settle()
	want := []procedure.Segment{procedure.Initial, procedure.Initial, procedure.Initial, procedure.Initial, procedure.Initial, procedure.Intermediate,
		procedure.Intermediate, procedure.Final, procedure.Final, procedure.Missed, procedure.Missed, procedure.Missed}
	for i, l := range a.Legs {
		if l.Segment != want[i] {
			t.Errorf("%s %d %s: got segment %q, want %q", l.Route, l.Sequence, l.Fix, l.Segment, want[i])
		}
	}
	if !a.HasAngle || a.VerticalAngle != 3.2 {
		t.Errorf("got angle %v, %v, want 3.2, that of the leg to the missed approach point", a.VerticalAngle, a.HasAngle)
	}
	if !a.HasMissed || a.MissedAltitude != 10200 || a.MissedFix != "XADLO" {
		t.Errorf("got missed approach %q %v, want XADLO 10200, not the other way out", a.MissedFix, a.MissedAltitude)
	}
	once := a.Clone()
	a.Settle()
	if !slices.Equal(a.Legs, once.Legs) || a.MissedAltitude != once.MissedAltitude || a.VerticalAngle != once.VerticalAngle {
		t.Errorf("a second time: got %+v, want %+v", a, once)
	}
}

func TestSettleWithout(t *testing.T) {
	in := func(l ...Leg) []Leg { return l }
	initial := Leg{Transition: "XADLO", Fix: "XADLO", Role: InitialFix, Initial: true, Limit: AtOrAbove, Altitude: 9000}
	step := Leg{Transition: "XADLO", Sequence: 1, Fix: "XUBRI", Limit: AtOrAbove, Altitude: 8000}
	atFinal := Leg{Transition: "XADLO", Sequence: 2, Fix: "XIRTU", Limit: AtOrAbove, Altitude: 7000}
	turn := Leg{Transition: "XADLO", Sequence: 1, Fix: "XIRTU", Role: ProcedureTurn, Limit: AtOrAbove, Altitude: 8000}
	finalFix := Leg{Route: FinalRoute, Fix: "XIRTU", Role: FinalFix, Limit: AtOrAbove, Altitude: 7000}
	intermediate := Leg{Route: FinalRoute, Fix: "XOLMI", Role: IntermediateFix, Limit: AtOrAbove, Altitude: 8000}
	stepInside := Leg{Route: FinalRoute, Sequence: 1, Fix: "XUPEN", Role: StepDown, Limit: AtOrAbove, Altitude: 6000}
	for _, tt := range []struct {
		name string
		legs []Leg
		want []procedure.Segment
	}{
		// As procedure.AssignSegments has a step-down without an intermediate fix.
		{"no intermediate fix", in(initial, step, atFinal, finalFix), []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Intermediate, procedure.Intermediate}},
		{"on the way to a procedure turn", in(initial, step, turn, atFinal, finalFix), []procedure.Segment{procedure.Initial, procedure.Initial, procedure.Initial, procedure.Intermediate, procedure.Intermediate}},
		{"procedure turn at the final approach fix", in(initial, turn, atFinal, finalFix), []procedure.Segment{procedure.Initial, procedure.Initial, procedure.Intermediate, procedure.Intermediate}},
		{"intermediate fix on the final route", in(initial, step, intermediate, finalFix), []procedure.Segment{procedure.Initial, procedure.Initial, procedure.Initial, procedure.Intermediate}},
		{"no final approach fix", in(initial, stepInside), []procedure.Segment{procedure.Initial, procedure.NoSegment}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			a := Approach{Legs: slices.Clone(tt.legs)}
			a.Settle()
			for i, l := range a.Legs {
				if l.Segment != tt.want[i] {
					t.Errorf("%s: got %q, want %q", l.Fix, l.Segment, tt.want[i])
				}
			}
		})
	}
}

func TestPoints(t *testing.T) {
	a := whole()
	a.Settle()
	want := []procedure.Point{
		{Fix: "XADLO", Role: procedure.InitialFix, Segment: procedure.Initial, From: "XADLO", NoAltitude: true},
		{Fix: "XUBRI", Role: procedure.StepDown, Segment: procedure.Initial, Meaning: procedure.Between, Altitude: 9200, Upper: 10200, From: "XADLO"},
		{Fix: "XOLMI", Role: procedure.Hold, Segment: procedure.Initial, Meaning: procedure.AtOrAbove, Altitude: 8200, From: "XOLMI"},
		{Fix: "XOLMI", Role: procedure.IntermediateFix, Segment: procedure.Initial, Meaning: procedure.AtOrAbove, Altitude: 8200},
		{Fix: "XAMRO", Role: procedure.StepDown, Segment: procedure.Intermediate, Meaning: procedure.AtOrBelow, Altitude: 8000},
		{Fix: "XIRTU", Role: procedure.FinalFix, Segment: procedure.Intermediate, Altitude: 7400},
		{Fix: "XUPEN", Role: procedure.StepDown, Segment: procedure.Final, Meaning: procedure.AtOrAbove, Altitude: 6100},
		{Label: "ILS 31", Role: procedure.DecisionAltitude, Segment: procedure.Final, Meaning: procedure.AtOrAbove, Altitude: 5100},
		{Fix: "XADLO", Role: procedure.MissedHold, Segment: procedure.Missed, Meaning: procedure.AtOrAbove, Altitude: 10200},
	}
	got := a.Points()
	if !slices.Equal(got, want) {
		t.Errorf("got\n%+v, want\n%+v", got, want)
	}
}

func TestStanding(t *testing.T) {
	day := func(d int) time.Time { return time.Date(2026, 9, d, 0, 0, 0, 0, time.UTC) }
	a := Approach{Effective: day(3), End: day(30)}
	for _, tt := range []struct {
		name string
		a    Approach
		at   time.Time
		want Standing
	}{
		{"the second before", a, day(3).Add(-time.Second), NotYet},
		{"at its beginning", a, day(3), Current},
		{"the second before the end", a, day(30).Add(-time.Second), Current},
		{"at its end", a, day(30), Expired},
		{"no dates", Approach{}, day(3), Undated},
		{"an end alone", Approach{End: day(30)}, day(3), Current},
		{"an end alone, passed", Approach{End: day(30)}, day(30), Expired},
	} {
		if got := tt.a.At(tt.at); got != tt.want {
			t.Errorf("%s: got %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestGaps(t *testing.T) {
	a := whole()
	a.Settle()
	if got := a.Gaps(); got != nil {
		t.Errorf("whole: got %q, want none", got)
	}
	got := (&Approach{Unread: 1, Legs: []Leg{{Route: FinalRoute}}}).Gaps()
	want := []string{"some of its records could not be read", "no final approach fix is in the source", "no missed approach altitude is in the source", "it carries no minimums: take them from the chart"}
	if !slices.Equal(got, want) {
		t.Errorf("got %q, want %q", got, want)
	}
	if got := (&Approach{Legs: []Leg{{Route: FinalRoute, Role: FinalFix, Coded: 'I'}}}).Gaps(); got[0] != "its missed approach point is not in the source, so legs behind it may look like its final segment" {
		t.Errorf("no missed approach point: got %q", got)
	}
	if got := (&Approach{}).Gaps(); got[0] != "its final route is not in the source" {
		t.Errorf("no legs: got %q", got)
	}
}

func TestObject(t *testing.T) {
	a := whole()
	a.Settle()
	text, err := json.Marshal(a.Object())
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		`{"ident":"XKLD","procedure":"I31","name":"ils 31","runway":"31","cycle":"2609","legs":[`,
		`{"route":"A","transition":"XADLO","sequence":10,"fix":"XADLO","role":"initial-fix","initial":true,"segment":"initial","path":"IF"}`,
		`"meaning":"between","altitude_ft":10200,"altitude2_ft":9200}`,
		`"meaning":"glide-path-intercept","limit":"at-or-above","altitude_ft":8200,"altitude2_ft":7400}`,
		`"meaning":"glide-path","limit":"at","altitude_ft":7400,"altitude2_ft":7350}`,
		`{"route":"I","sequence":30,"fix":"RW31","role":"missed-point","segment":"final","meaning":"at","altitude_ft":4850,"angle_deg":-3.2}`,
		`{"route":"I","sequence":40,"role":"missed","segment":"missed","path":"CA","meaning":"at-or-above","altitude_ft":5400}`,
	} {
		if !strings.Contains(string(text), want) {
			t.Errorf("got %s\nwant in it %s", text, want)
		}
	}
	typed := (&Leg{Route: FinalRoute, Limit: AtOrAbove, Altitude: engine.Altitude(-70)}).object()
	if typed.Route != "final" || *typed.Altitude != -70 {
		t.Errorf("typed: got %+v", typed)
	}
}
