package parse

import (
	"math"
	"strings"
	"testing"

	"firn/engine"
)

func celsiusTenths(n int) engine.Celsius       { return engine.Celsius(float64(n) / 10) }
func fahrenheitTenths(n int) engine.Fahrenheit { return engine.Fahrenheit(float64(n) / 10) }

func FuzzParse(f *testing.F) {
	for _, text := range []string{
		"XKLD -38 8200 7400 5340",
		"xkld m38 FAF 8200, step 7400, DA 5340, missed 10200",
		"-38 elev 4802: 8200/7400/5340",
		"XKLD -36F 10,900 ft 7 400 ft 560agl",
		"XKLD \u221238\u00b0C 2500m 2'250m",
		"<@U0123> *XKLD* -38 <tel:8200|8200> &amp; ~9000~ :snow:",
		"XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13781422; 8200 7400",
		"FAF 8200 XKLD 180750Z AUTO 08010KT 9999NDV -IC BKN033/// M10/M15 Q0998",
		"XKLD 180740Z AUTO ///// M03/\nRMK SLP044 T10311040\n8200",
		"XKLD 321153Z 00000KT", "TAF XKLD 251140Z 2512/2612 00000KT CAVOK",
		"why", "brief XKLD 1430 XRUN 1515", "rules icao", "add DA 5340", "remove FAF", "same at XRUN",
		"XKLD 38 8200 FL150 FAF 7400", "8200-38 950 m 38 - 38 1 500", "elev 0 -3 not min 100", "mute kaldmor", "between 7.4k elev 0 -3",
		"\x00\xff\u202e\U0001f976 FAF,DA,IAF 1 1 1",

		// What once read back otherwise, or was offered and refused.
		"XKLD -38 tango IF", "loc 8200 sbas above golf", "XKLD to y35 loc missed", "rnav y 00 msa localizer only", "XKLD -38 elev -38.5 rwy 2h ils", "landing echo one two, ils in use",
		"XKLD why no lpv =", "-38 FAF not circling why missed and", "at 4820 .5 ft traffic only loc", "lnav allein 4802 XUPEN 9999 1", "XKLD -38 solo loc 3050m XADLO 9999m", "-38 gp intercept at 9999m IAF/IF without",
		"XKLD -38 manoeuvre a vue libre eta XKLE 14:30 18000 in", "straight in", "XKLD mins between 9999m A2992 100agl", "XKLD between 60000 handy 2500m MDA", "8200 first lnav only only", "elev if gs comes 7600 back",
		"xkld temp -30 rnav31 straight elev .5 from xemba", "XKLD XKLD -38 msa radar us at 9000, FAF 7400", "xkld circling 5120 -30 rnav31 straight in faf is now 6900 from xemba", "selthaven vor 16 -13 arc from xopan 7400",
		"-38 via below freezing", "XKLD rwy kaldmoor on vectors inside rnp traffic", "XKLD elev minus 05 pt without", "rnp plus 0.15 DA", "additive 14.3080", "no step downs downs 7400, MDA 5460 lnav, downs", "xkld rnav 31 1.900 med vektorer",
	} {
		f.Add(text)
	}
	rd := demoReader()
	f.Fuzz(func(t *testing.T, text string) {
		req, p := rd.Parse(text)
		if p != nil {
			sound(t, text, p)
			mends(t, rd, text, p)
			if !req.HasReport { // around which the spaces may go
				named(t, text, p)
			}
		}
		for _, a := range req.Altitudes {
			if v := float64(a.Feet()); math.IsNaN(v) || v < 0 || v > highest {
				t.Fatalf("Parse(%q): altitude %v", text, v)
			}
		}
		if v := float64(req.Elevation.Feet()); math.IsNaN(v) || math.Abs(v) > highest {
			t.Fatalf("Parse(%q): elevation %v", text, v)
		}
		if c := req.Temperature; req.HasTemperature && !req.HasReport && (math.IsNaN(float64(c)) || c < coldest || c > hottest) {
			t.Fatalf("Parse(%q): temperature %v", text, c)
		}
		if p != nil || req.HasReport || req.Verb != Correct && req.Verb != Why || req.Empty() {
			return
		}
		line := req.Line()
		again, p := rd.Parse(line)
		if p != nil || again.Line() != line {
			t.Fatalf("Parse(%q): its line %q reads as %q, problem %v", text, line, again.Line(), p)
		}
	})
}

// named holds the word of a problem to be in the message, as the crew sees
// it: a control character by its code, a long word cut, other forms of
// dashes, quotes and figures as plain ones, one space for many.
func named(t *testing.T, text string, p *Problem) {
	word := strings.TrimSuffix(p.Word, "…")
	if strings.HasPrefix(word, "U+") {
		return
	}
	cleaned, trouble := clean(text)
	if trouble != nil {
		cleaned = text
	}
	cleaned = strings.Join(strings.Fields(cleaned), " ")
	if !strings.Contains(strings.ToUpper(cleaned), strings.ToUpper(word)) {
		t.Fatalf("Parse(%q): the problem's word %q is not in it", text, p.Word)
	}
}
