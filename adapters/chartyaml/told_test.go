package chartyaml

import (
	"strings"
	"testing"
)

// Slips of a chart that is typed are told as what they are.
func TestToldAsWhatTheyAre(t *testing.T) {
	for _, tt := range []struct{ name, old, new, want string }{
		{"minimum sector altitude below the field", "missed_ft: 10200", "missed_ft: 10200\nmsa_ft: 1430", `xkld.yaml:19:9: msa_ft 1430 is not above the field at 4802`},
		{"final approach fix with a ceiling alone", "above: 7400", "below: 7400",
			`xkld.yaml:9:5: XIRTU is the final approach fix and has a ceiling alone, below 7400: write its altitude as at or above, or both bounds as between`},
		{"comma in a minimum", "mda: 5460", "mda: 5,460", `xkld.yaml:13:23: 5,460 has a comma, which parts the keys here; write 5460 without it`},
		{"comma in a minimum with more behind it", "da: 5340", "da: 5,340, baro: true", `xkld.yaml:12:27: 5,340 has a comma, which parts the keys here; write 5340 without it`},
		{"comma in a fix", "above: 10900", "above: 10,900", `xkld.yaml:7:36: 10,900 has a comma, which parts the keys here; write 10900 without it`},
		{"comma between", "above: 7400", "between: [7,400, 8,200]", `xkld.yaml:9:38: "between" has an altitude with a comma, which parts the entries here; write the figures without it, as between: [9000, 11000]`},
		{"point for the thousands", "above: 7400", "above: 7.400", `xkld.yaml:9:36: 7.400 has a point between its figures; write 7400 without it`},
	} {
		_, err := whole("xkld.yaml", []byte(strings.Replace(good, tt.old, tt.new, 1)), fields)
		if err == nil || err.Error() != tt.want {
			t.Errorf("%s: got\n%v\nwant this alone\n%s", tt.name, err, tt.want)
		}
	}
}

// A key that is a figure is told as one where no comma has made it.
func TestNoComma(t *testing.T) {
	for _, behind := range []string{"mda: 5, 460: 1", "mda: 5460, 460"} {
		_, err := whole("xkld.yaml", []byte(strings.Replace(good, "mda: 5460", behind, 1)), fields)
		if err == nil || !strings.Contains(err.Error(), `unknown key "460"`) {
			t.Errorf("%s: got %v", behind, err)
		}
	}
}

// A minimum sector altitude below an initial approach fix may be right, so that
// it is told beside the procedure and not refused.
func TestSectorBelowInitialFix(t *testing.T) {
	for _, tt := range []struct{ msa, want string }{
		{"10800", "its minimum sector altitude, 10800 ft, is below IAF XADLO at 10900 ft: compare both with the chart"},
		{"10900", ""},
	} {
		all, err := whole("xkld.yaml", []byte(good+"msa_ft: "+tt.msa+"\n"), fields)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Join(all[0].Gaps(), "; "); got != tt.want {
			t.Errorf("MSA %s: got %q, want %q", tt.msa, got, tt.want)
		}
	}
}
