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
		{"XBBB 151153Z 29/M33 Q1034", "its dew point, −33 °C, is far below its temperature, 29 °C: a minus may be missing", false},
		{"XBBB 151153Z 15/M19 Q1034", "", true},
		{"XBBB 151153Z 31/M14 Q1010", "", true},
		{"XBBB 151153Z M99/M99 Q1034", "no air is so cold as −99 °C", false},
		{"XBBB 151153Z M90/M92 A2992", "no air is so cold as −90 °C", false},
		{"XBBB 151153Z M89/M92 A2992", "", true},
		{"XBBB 151153Z M60/M63 A2992 RMK T19001930", "no air is so cold as −90 °C", false},
		{"XBBB 151153Z 57/10 A2992", "", true},
		{"XBBB 151153Z 70/M66 A2992", "no air is so warm as 70 °C", false},
		{"XBBB 151153Z 02/M05 Q1034 M29/M33", "it has two temperatures, 2 and −29 °C", true},
		{"XBBB 151153Z M05/M10 A2992 RMK T10501100 T13801400", "it has two temperatures, −5 and −38 °C", true},
		{"XBBB 151153Z A2992 RMK T1050 T1380", "it has two temperatures, −5 and −38 °C", true},
		{"XBBB 151153Z 02/M05 A2992 RMK T00181052 T00181052", "", true},
		{"XBBB 151153Z M05/M10 A2992 RMK T10501100 T1380114", "", true},
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
		if !m.Temperature().OK && m.Unread != "" {
			t.Errorf("%s: %s is taken for a temperature", r.Raw, m.Unread)
		}
		if m.Doubt() != "" {
			found = append(found, r.Raw)
		}
	}
	if both != 3318 || len(found) != 1 || found[0] != "UAKD 180700Z 04003MPS 7000 NSC M17/M11 Q1029 R04/82//50 NOSIG RMK QFE738/0984" {
		t.Errorf("of %d with both, in doubt are %q", both, found)
	}
}

// Of two temperature groups the colder counts, and whoever typed them is asked.
func TestTwoTemperatures(t *testing.T) {
	m, left, err := ParseMetar("XBBB 151153Z 00000KT 9999 M02/M05 Q1034 M29/M33")
	if err != nil || m.Temperature().C != -29 || len(left) != 1 || left[0].Text != "M29/M33" {
		t.Errorf("%v, left over %v, %v", m.Temperature(), left, err)
	}
}

// The equals sign ends a report also where the next is set right behind it.
func TestReportSetBehindAnother(t *testing.T) {
	m, left, err := ParseMetar("METAR XBBB 151153Z 00000KT 9999 M29/M33=METAR XRUN 151153Z 00000KT 9999 M02/M05=")
	if err != nil || m.Ident != "XBBB" || m.Temperature().C != -29 || len(left) == 0 {
		t.Errorf("%s %v, left over %v, %v", m.Ident, m.Temperature(), left, err)
	}
}
