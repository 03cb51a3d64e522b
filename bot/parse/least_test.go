package parse

import (
	"testing"

	"firn/engine"
)

// "min" and "max" between a label and its figure say how that is flown; behind
// "inside IF" the figure is the intermediate fix's.
func TestLeastAndMost(t *testing.T) {
	rd := demoReader()
	for text, want := range map[string]string{
		"XKLD -38 IAF max 9000, IF min 8200, FAF 7400":      "XKLD -38 IAF below 9000, IF 8200, FAF 7400",
		"XKLD -38 IF XOLMI minimum 8200 FAF 7400 min 5460":  "XKLD -38 IF XOLMI 8200, FAF 7400, minimums 5460",
		"XKLD -38 FAF min 7400, LNAV min 5460":              "XKLD -38 FAF 7400, LNAV MDA 5460",
		"XKLD -38 8200 FAF, min 5460":                       "XKLD -38 FAF 8200, minimums 5460",
		"XKLD -38 vectors inside IF 8100 FAF 7400 DA 5340":  "XKLD -38 vectors inside IF, IF 8100, FAF 7400, DA 5340",
		"XKLD -38 vectors to the IF 8100 FAF 7400, DA 5340": "XKLD -38 vectors, IF 8100, FAF 7400, DA 5340",
		"XKLD -38 vectors inside the FAF":                   "? Nobody is vectored inside the final approach fix; write “vectors”, or “vectors inside IF”.",
		"XKLD -38 FAF 8200 or 8300?":                        "? Is the FAF 8200 or 8300?",
		"XKLD -38 8200 or 8300 FAF":                         "? Is the FAF 8200 or 8300?",
		"XKLD -38 IF 9000, FAF 8200 ft or 8300 ft, DA 5340": "? Is the FAF 8200 ft or 8300 ft?",
	} {
		req, p := rd.Parse(text)
		got := req.Line()
		if p != nil {
			got = "? " + p.Text
		}
		if got != want {
			t.Errorf("%s: got %q, want %q", text, got, want)
		}
	}
}

// An altimeter setting is kept in the unit that it is typed in.
func TestSettingTyped(t *testing.T) {
	rd := demoReader()
	for text, want := range map[string]struct {
		inHg engine.InchesOfMercury
		hPa  engine.Hectopascals
	}{
		"XKLD -38 8200; QNH 1051":                              {hPa: 1051},
		"XKLD -38 8200 Q0945":                                  {hPa: 945},
		"XKLD -38 8200 qnh 890":                                {hPa: 890},
		"XKLD -38 8200 A3105":                                  {inHg: 31.05},
		"XKLD -38 8200 altimeter 27.95":                        {inHg: 27.95},
		"XKLD -38 8200, 31.05":                                 {inHg: 31.05},
		"XKLD -38 8200 remote altimeter setting 3105":          {inHg: 31.05},
		"XKLD -38 8200, qnh one zero five five":                {hPa: 1055},
		"XKLD -38 8200, altimeter three one decimal zero five": {inHg: 31.05},
		"XKLD -38 8200 qfe 940":                                {},
	} {
		req, p := rd.Parse(text)
		if p != nil || req.SettingInHg != want.inHg || req.SettingHPa != want.hPa || len(req.Altitudes) != 1 {
			t.Errorf("%s: got %v inHg, %v hPa, %+v, %v, want %+v", text, req.SettingInHg, req.SettingHPa, req.Altitudes, p, want)
		}
	}
}
