package wxreport

import (
	"testing"
	"time"
)

func TestDoubt(t *testing.T) {
	for _, tt := range []struct {
		report   string
		doubt    string
		believed bool
	}{
		{"XBBB 151153Z 30/33 A2992", "its dew point, 33 °C, is above its temperature, 30 °C, which air cannot have: a minus may be missing", false},
		{"XBBB 151153Z M30/M33 A2992", "", true},
		{"XBBB 151153Z 30/32 A2992", "", true},
		{"XBBB 151153Z M17/M11 Q1029", "its dew point, −11 °C, is above its temperature, −17 °C, which air cannot have: a minus may be missing", true},
		{"XBBB 151153Z 00/05 Q1029", "its dew point, 5 °C, is above its temperature, 0 °C, which air cannot have: a minus may be missing", true},
		{"XBBB 151153Z 30/ A2992", "", true},
		{"XBBB 151153Z AUTO A2992", "", false},
		{"XBBB 151153Z 05/05 RMK T00500075", "its dew point, 7.5 °C, is above its temperature, 5 °C, which air cannot have: a minus may be missing", false},
	} {
		m, _, err := ParseMetar(tt.report)
		if err != nil || m.Doubt() != tt.doubt || m.Believed() != tt.believed {
			t.Errorf("%s: %q, believed %v, %v", tt.report, m.Doubt(), m.Believed(), err)
		}
		if d := Decode(tt.report, time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)); d.Doubt != tt.doubt {
			t.Errorf("%s: decoded with the doubt %q", tt.report, d.Doubt)
		}
	}
	// Of the real reports in testdata/wx one is in doubt.
	var found []string
	both := 0
	for _, r := range rows[metarRow](t, "metar.ref.jsonl") {
		m, _, err := ParseMetar(r.Raw)
		if err != nil {
			t.Fatal(err)
		}
		if m.Temperature().OK && finer(m.TenthsDewpoint, m.Dewpoint).OK {
			both++
		}
		if m.Doubt() != "" {
			found = append(found, r.Raw)
		}
	}
	if both != 3318 || len(found) != 1 || found[0] != "UAKD 180700Z 04003MPS 7000 NSC M17/M11 Q1029 R04/82//50 NOSIG RMK QFE738/0984" {
		t.Errorf("of %d with both, in doubt are %q", both, found)
	}
}
