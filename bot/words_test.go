package bot_test

import (
	"strings"
	"testing"
)

// At a low field under strict only the final segment is required: the other
// figures say that they are the crew's choice, and the call that it depends on it.
// AIM TBL 7-3-1 at -5 °C, by hand: 227 ft at 2955 ft, 133 at 1655.
func TestMoreThanIsRequired(t *testing.T) {
	const field = "stations: [{ident: XSEL, elevation_ft: 45, restriction_c: -20, mountainous: false}, {ident: XSIL, elevation_ft: 45}]\n"
	b := botOf(t, field)
	for ident, when := range map[string]string{
		"XSEL": "if you choose to correct more than is required: all or none, and tell ATC",
		"XSIL": "if a correction is required here, or you choose to correct: all or none, and tell ATC",
	} {
		r := askOf(t, b, ident+" -5 IAF 3000 IF 2500 FAF 1700 MDA 480 missed 3000 strict")
		for label, want := range map[string]float64{"IAF": 3300, "FAF": 1900, "missed": 3300} {
			if a := rowOf(t, r, label); a.CorrectedFt != want || a.Required || a.Mark != "if you choose" {
				t.Errorf("%s %s: got %+v, want %v, if you choose", ident, label, a, want)
			}
		}
		if a := rowOf(t, r, "MDA"); !a.Required || a.Mark != "" {
			t.Errorf("%s: got %+v, want it required", ident, a)
		}
		if r.Call == nil || r.Call.When != when || !strings.Contains(r.Call.Text, "request 3300 for the missed approach hold") ||
			strings.Contains(r.Call.Text, "unable") || strings.Contains(r.Call.Text, "require ") {
			t.Errorf("%s: got call %+v, want one %s", ident, r.Call, when)
		}
	}
}
