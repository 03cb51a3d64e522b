package procedure

import (
	"slices"
	"testing"
)

// Two ways in to one intermediate fix, and what a crew types without a way.
func branches() []Point {
	return []Point{
		{Fix: "XADLO", Role: InitialFix, Altitude: 10900, From: "XADLO"},
		{Fix: "XUBRI", Role: StepDown, Altitude: 9400, From: JoinWays("XADLO", "XEMBA")},
		{Fix: "XAMRO", Role: StepDown, Altitude: 9000, From: "XEMBA"},
		{Fix: "XEMBA", Role: InitialFix, Altitude: 10500},
		{Fix: "XOLMI", Role: IntermediateFix, Altitude: 8200},
	}
}

func TestAlong(t *testing.T) {
	for _, tt := range []struct {
		via  string
		want []string
	}{
		{"XADLO", []string{"XADLO", "XUBRI", "XOLMI"}},
		{"xemba", []string{"XUBRI", "XAMRO", "XEMBA", "XOLMI"}},
	} {
		var got []string
		along := Along(branches(), tt.via)
		for _, p := range along {
			got = append(got, p.Fix)
		}
		if !slices.Equal(got, tt.want) {
			t.Errorf("via %s: got %q, want %q", tt.via, got, tt.want)
		}
		if slices.Contains(Parted(along), true) {
			t.Errorf("via %s: a row tells a way, and one is left", tt.via)
		}
	}
}

func TestParted(t *testing.T) {
	if got, want := Parted(branches()), []bool{true, false, true, false, false}; !slices.Equal(got, want) {
		t.Errorf("got %v, want %v: what every way leads over tells none", got, want)
	}
}
