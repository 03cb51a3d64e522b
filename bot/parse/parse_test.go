package parse

import (
	"math"
	"reflect"
	"runtime"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"firn/engine/procedure"
)

// demo is a small invented country.
type demo struct{}

var demoStations = map[string]string{"xkld": "XKLD", "kaldmoor": "XKLD", "xrun": "XRUN", "runmere": "XRUN", "xslt": "XSLT", "selthaven": "XSLT"}

func (demo) Place(word string) (string, bool) {
	ident, ok := demoStations[strings.ToLower(word)]
	return ident, ok
}

func (demo) Nearest(word string, n int) []string {
	switch strings.ToUpper(word) {
	case "XKLE", "KXLD", "KALDMOR":
		return []string{"XKLD"}
	case "XRUM":
		return []string{"XRUN"}
	}
	return nil
}

func (demo) Slip(word string) (string, bool) {
	switch strings.ToUpper(word) {
	case "XKLE", "XKDL", "KALDMOR":
		return "XKLD", true
	case "XRUM":
		return "XRUN", true
	}
	return "", false
}

func demoReader() *Reader {
	return NewReader(demo{}, []string{"faa-all-segments", "faa-individual-segments", "faa-each-fix", "icao", "canada", "strict"})
}

// TestMessage reads messages that are good. want is the request as a line:
// Request.Line, which TestLineReadsBack proves to be exact.
func TestMessage(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct{ name, text, want string }{
		{"station, temperature, altitudes", "XKLD -38 8200 7400 5340", "XKLD -38 8200, 7400, 5340"},
		{"lower case, m for minus, labels", "xkld m38 FAF 8200, step 7400, DA 5340, missed 10200", "XKLD -38 FAF 8200, step 7400, DA 5340, missed 10200"},
		{"elevation in place of a station", "-38 elev 4802: 8200/7400/5340", "elev 4802 -38 8200, 7400, 5340"},
		{"Fahrenheit and units", "XKLD -36F 10,900 ft 7400 ft", "XKLD -36F 10900 ft, 7400 ft"},
		{"metres", "XKLD -38 2500m 2250m", "XKLD -38 2500m, 2250m"},
		{"station alone", "XKLD", "XKLD"},
		{"stored procedure", "XKLD rnav 31", "XKLD rnav 31"},
		{"stored procedure and temperature", "XKLD rnav 31 -38", "XKLD rnav 31 -38"},
		{"why with a message", "why XKLD -38 8200", "why XKLD -38 8200"},
		{"why behind a message", "XKLD -38 8200 why", "why XKLD -38 8200"},
		{"rule set", "XKLD -38 8200 icao", "XKLD -38 icao 8200"},
		{"rule set with its word", "XKLD -38 8200 rules icao", "XKLD -38 icao 8200"},
		{"figures under a rule set", "rules canada XKLD -38 8200", "XKLD -38 canada 8200"},
		{"politeness", "can you correct 8200 at XKLD for -38 please", "XKLD -38 8200"},
		{"a sentence", "hey firn, what's 8200 corrected at XKLD, it's -38 there", "XKLD -38 8200"},
		{"name of a station", "Kaldmoor -38 8200", "XKLD -38 8200"},

		// Any order, any separator.
		{"temperature first", "-38 XKLD 8200", "XKLD -38 8200"},
		{"altitudes first", "8200 7400 XKLD -38", "XKLD -38 8200, 7400"},
		{"commas tight", "-38,XKLD,8200,7400", "XKLD -38 8200, 7400"},
		{"a point between two", "XKLD -38 8200.7400.5340", "XKLD -38 8200, 7400, 5340"},
		{"decimals without end", "XKLD -38 8200.25000000000000000000000000000000000", "XKLD -38 8200.25"},
		{"slashes", "XKLD/-38/8200/7400", "XKLD -38 8200, 7400"},
		{"semicolons", "XKLD; -38; 8200; 7400", "XKLD -38 8200, 7400"},
		{"pipes and backslashes", `XKLD -38 8200|7400\5340`, "XKLD -38 8200, 7400, 5340"},
		{"line breaks", "XKLD\r\n-38\n8200\n7400", "XKLD -38 8200, 7400"},
		{"tabs", "XKLD\t-38\t8200", "XKLD -38 8200"},
		{"full stops", "XKLD. -38. 8200. 7400.", "XKLD -38 8200, 7400"},
		{"dots between", "XKLD -38 8200...7400..5340", "XKLD -38 8200, 7400, 5340"},
		{"dashes between altitudes", "XKLD -38 8200-7400-5340", "XKLD -38 8200, 7400, 5340"},
		{"dashes with spaces", "XKLD -38 \u2013 8200 \u2013 7400", "XKLD -38 8200, 7400"},
		{"colon behind the station", "XKLD: -38, 8200", "XKLD -38 8200"},
		{"dash behind the station", "XKLD-38 8200", "XKLD -38 8200"},
		{"brackets", "XKLD (-38) [8200] {7400}", "XKLD -38 8200, 7400"},
		{"a list with dashes", "- XKLD\n- -38\n- 8200", "XKLD -38 8200"},
		{"arrows", "XKLD -38 10200->8200\u21927400", "XKLD -38 10200, 8200, 7400"},

		// Temperatures.
		{"zero needs no sign", "XKLD 0 8200", "XKLD 0 8200"},
		{"zero in two digits", "XKLD 00 8200", "XKLD 0 8200"},
		{"plus", "XKLD +5 8200", "XKLD +5 8200"},
		{"tenths", "XKLD -38.5 8200", "XKLD -38.5 8200"},
		{"decimal comma", "XKLD -38,5 8200", "XKLD -38.5 8200"},
		{"minus in words", "XKLD minus 38 8200", "XKLD -38 8200"},
		{"neg", "XKLD neg 38 8200", "XKLD -38 8200"},
		{"degrees Celsius", "XKLD -38\u00b0C 8200", "XKLD -38 8200"},
		{"one sign for degrees Celsius", "XKLD -38\u2103 8200", "XKLD -38 8200"},
		{"deg c", "XKLD -38 deg c 8200", "XKLD -38 8200"},
		{"temp", "XKLD temp -38, alt 8200", "XKLD -38 8200"},
		{"T and OAT", "XKLD T-38 8200", "XKLD -38 8200"},
		{"m38c", "XKLD m38c 8200", "XKLD -38 8200"},
		{"temperature and dew point", "XKLD M38/M42 8200", "XKLD -38 8200"},
		{"zero Fahrenheit", "XKLD 0F 8200", "XKLD 0F 8200"},
		{"Fahrenheit in words", "XKLD -36 degrees fahrenheit 8200", "XKLD -36F 8200"},
		{"the same temperature in both scales", "XKLD -40F -40C 8200", "XKLD -40F 8200"},
		{"temperature with an at sign", "8200 XKLD @-38", "XKLD -38 8200"},

		// Phones and chat services.
		{"typographic minus", "XKLD \u221238 8200", "XKLD -38 8200"},
		{"en dash", "XKLD \u201338 8200", "XKLD -38 8200"},
		{"em dash", "XKLD \u201438 8200", "XKLD -38 8200"},
		{"non-breaking hyphen", "XKLD \u201138 8200", "XKLD -38 8200"},
		{"small hyphen-minus", "XKLD \ufe6338 8200", "XKLD -38 8200"},
		{"two hyphens", "XKLD --38 8200", "XKLD -38 8200"},
		{"full-width figures", "\uff38\uff2b\uff2c\uff24 \uff0d\uff13\uff18 \uff18\uff12\uff10\uff10", "XKLD -38 8200"},
		{"no-break spaces", "XKLD\u00a0-38\u00a08200\u202f7400", "XKLD -38 8200, 7400"},
		{"smart quotes", "XKLD \u201c-38\u201d 8200\u2019 7400\u2032", "XKLD -38 8200 ft, 7400 ft"},
		{"ellipsis", "XKLD -38 8200\u20267400", "XKLD -38 8200, 7400"},
		{"emoji", "\u2744\ufe0f XKLD -38 8200 \U0001f976\U0001f3fb", "XKLD -38 8200"},
		{"invisible characters", "X\u200bKLD -\u206038 10\u200d900", "XKLD -38 10900"},
		{"bullets", "\u2022 XKLD\n\u2022 -38\n\u2022 8200", "XKLD -38 8200"},
		{"Slack mention", "<@U0123ABCD> XKLD -38 8200", "XKLD -38 8200"},
		{"Slack mention with a name", "<@U0123ABCD|firn> XKLD -38 8200", "XKLD -38 8200"},
		{"Discord mention", "<@!123456789> XKLD -38 8200", "XKLD -38 8200"},
		{"channel and role", "<#C012|ops> <@&12> <!here> XKLD -38 8200", "XKLD -38 8200"},
		{"typed mention", "@firn XKLD -38 8200", "XKLD -38 8200"},
		{"Slack telephone", "XKLD -38 <tel:100009200|8200 7400>", "XKLD -38 8200, 7400"},
		{"Slack telephone without a text", "XKLD -38 <tel:8200>", "XKLD -38 8200"},
		{"Slack escapes", "XKLD &gt; -38 8200 &amp; 7400 &lt;5340&gt;", "XKLD -38 8200, 7400, 5340"},
		{"a link", "XKLD -38 8200 <https://example.com/a?b=7400> https://example.com/7400", "XKLD -38 8200"},
		{"bold, italic, code", "*XKLD* _-38_ `8200` **7400**", "XKLD -38 8200, 7400"},
		{"code block", "```\nXKLD -38 8200\n```", "XKLD -38 8200"},
		{"quote", "> XKLD -38 8200", "XKLD -38 8200"},
		{"struck out on Discord", "XKLD -38 FAF ~~9000~~ 8200", "XKLD -38 FAF 8200"},
		{"struck out by the keyboard", "XKLD -3\u03360\u0336 -38 FAF 9\u03360\u03360\u03360\u0336, 8200\nDA 5340", "XKLD -38 FAF 8200, DA 5340"},
		{"struck out on Slack", "XKLD ~-30~ -38 8200", "XKLD -38 8200"},
		{"about", "XKLD -38 ~8200 ~7400", "XKLD -38 8200, 7400"},
		{"custom emoji", "<:snow:12345> :cold_face: XKLD -38 8200", "XKLD -38 8200"},
		{"angle brackets that are no markup", "XKLD -38 <MDA 5340> <hold 10200>", "XKLD -38 MDA 5340, hold 10200"},
		{"at sign before altitudes and labels", "XKLD -38 FAF @8200, 5340@DA", "XKLD -38 FAF 8200, DA 5340"},
		{"slash command", "/firn ask XKLD -38 8200", "XKLD -38 8200"},

		// Thousands of every culture, and units.
		{"comma", "XKLD -38 10,900 7,400", "XKLD -38 10900, 7400"},
		{"comma, and commas between", "XKLD -38 10,900, 7,400,5,340", "XKLD -38 10900, 7400, 5340"},
		{"point", "XKLD -38 10.900 7.400", "XKLD -38 10900, 7400"},
		{"apostrophe", "XKLD -38 10'900 7\u2019400", "XKLD -38 10900, 7400"},
		{"space", "XKLD -38 10 900 7 400", "XKLD -38 10900, 7400"},
		{"narrow no-break space", "XKLD -38 10\u202f900 7\u2009400", "XKLD -38 10900, 7400"},
		{"space, and metres", "XKLD -38 2 500m", "XKLD -38 2500m"},
		{"space behind a label", "XKLD -38 IAF 10 900 DA 5 340", "XKLD -38 IAF 10900, DA 5340"},
		{"a temperature ends at the comma", "XKLD -38,10,900", "XKLD -38 10900"},
		{"k", "XKLD -38 10k 7.4k", "XKLD -38 10000 ft, 7400 ft"},
		{"leading zero", "XSLT -38 0950", "XSLT -38 950"},
		{"feet tight and apart", "XKLD -38 8200ft 7400 feet 5340' 7000''", "XKLD -38 8200 ft, 7400 ft, 5340 ft, 7000 ft"},
		{"above mean sea level", "XKLD -38 8200 ft msl 7400msl", "XKLD -38 8200 ft, 7400"},
		{"metres in words", "XKLD -38 2500 metres 2250 meters", "XKLD -38 2500m, 2250m"},
		{"above the field", "XKLD -38 560 agl, 560agl, 560 ft above the field, 560 hat", "XKLD -38 560 agl, 560 agl, 560 ft agl, 560 agl"},
		{"metres, and a height in feet", "XKLD -38 FAF 2500m, DA 560 ft agl", "XKLD -38 FAF 2500m, DA 560 ft agl"},
		{"metres above the field", "XKLD -38 170m aal 180 m above airport", "XKLD -38 170m agl, 180m agl"},
		{"a low altitude with its unit", "XSLT -38 95 ft", "XSLT -38 95 ft"},

		{"9999 in feet is an altitude", "XKLD -38 9999 ft", "XKLD -38 9999 ft"},
		{"9999 with a thousands mark", "XKLD -38 9,999", "XKLD -38 9999 ft"},
		{"9999 metres as an altitude", "XKLD -38 2500m 9999.0m", "XKLD -38 2500m, 9999.0m"},
		{"a report's visibility is none", "XKLD -38 2500m 9999 m", "XKLD -38 2500m"},

		{"digits of another script", "XKLD -\u0663\u0668 \u0668\u0662\u0660\u0660 \u096d\u096a\u0966\u0966", "XKLD -38 8200, 7400"},

		// Elevations.
		{"elevation with units", "-38 elevation 4802ft 8200", "elev 4802 ft -38 8200"},
		{"elevation in metres", "-38 elev 1464m, 2500m", "elev 1464m -38 2500m"},
		{"a field at 14 ft", "-38 elev 14, 950", "elev 14 -38 950"},
		{"a field at sea level", "-38 elev 0 950", "elev 0 -38 950"},
		{"a field below the sea", "elev -210 +5 1500", "elev -210 +5 1500"},
		{"station and elevation", "XKLD elev 4802 -38 8200", "XKLD elev 4802 -38 8200"},

		// Reports; the line holds the temperature, not the report.
		{"report, semicolon, altitudes", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 T13781422; 8200 7400", "XKLD -38 8200, 7400"},
		{"report without remarks, altitudes tight behind", "XKLD 020630Z 02006KT 9999 FEW020 M21/M24 Q1029 7400", "XKLD -21 7400"},
		{"altitudes before the report", "FAF 8200, DA 5340 XKLD 251153Z 00000KT M38/M42 A2992 RMK AO2 T13831422", "XKLD -38.3 FAF 8200, DA 5340"},
		{"behind RMK a number is the report's", "XKLD 251153Z 00000KT M38/M42 A2992 RMK AO2 10000", "XKLD -38"},
		{"T-group colder than the body", "XKLD 251153Z 00000KT M38/M42 A2992 RMK AO2 T13841422; 8200", "XKLD -38.4 8200"},
		{"missing dew point", "XKLD 180740Z AUTO ///// M03/; 8200", "XKLD -3 8200"},
		{"ends with an equals sign", "XKLD 020630Z 02006KT CAVOK M21/M24 Q1029= 7400", "XKLD -21 7400"},
		{"report over two lines", "XKLD 251153Z 00000KT 10SM CLR\nM38/M42 A2992 RMK AO2\nT13841422 SLP044\n8200", "XKLD -38.4 8200"},
		{"SPECI in lower case", "speci xkld 251153z 00000kt 10sm clr m38/m42 a2992 rmk ao2; 8200", "XKLD -38 8200"},
		{"gusts, runway state, trend", "XKLD 180700Z 36031G36KT 1/8SM R04/720095 BKN002 M21/ A2917 TEMPO 4000 SN; 8200", "XKLD -21 8200"},
		{"runway state and estimated wind", "XKLD 180730Z 32011KT 9999 FEW020CB BKN048 01/M02 Q0965 R04/720095 8200", "XKLD +1 8200"},
		{"M00", "XKLD 180756Z AUTO VRB02KT 3/4SM BR OVC027 M00/M01 A2993 RMK SLP143; 8200", "XKLD 0 8200"},
		{"its own whole degree typed again", "XKLD -38 8200; XKLD 251153Z 00000KT M38/M42 A2992 RMK AO2 T13831422", "XKLD -38.3 8200"},
		{"report without an ident", "251153Z 00000KT M38/M42 A2992; XKLD 8200", "XKLD -38 8200"},
		{"quoted report", "> XKLD 251153Z 00000KT M38/M42 A2992\n8200", "XKLD -38 8200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			req, p := rd.Parse(c.text)
			if p != nil {
				t.Fatalf("Parse(%q): problem %q, want %q", c.text, p.Text, c.want)
			}
			if got := req.Line(); got != c.want {
				t.Errorf("Parse(%q) = %q, want %q", c.text, got, c.want)
			}
		})
	}
}

func TestLabels(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct{ name, text, want string }{
		{"before", "IAF 10200 IF 9200 FAF 8200 DA 5340", "IAF 10200, IF 9200, FAF 8200, DA 5340"},
		{"before, with commas", "FAF 8200, DA 5340", "FAF 8200, DA 5340"},
		{"after", "8200 FAF 5340 DA", "FAF 8200, DA 5340"},
		{"after, in brackets", "8200 (IAF) 7400 (FAF) 5340 (DA)", "IAF 8200, FAF 7400, DA 5340"},
		{"mixed, parted", "8200 FAF, DA 5340", "FAF 8200, DA 5340"},
		{"mixed, only one way", "FAF 8200 5340 DA", "FAF 8200, DA 5340"},
		{"tight", "FAF8200 5340DA", "FAF 8200, DA 5340"},
		{"colon", "FAF: 8200 7400", "FAF 8200, 7400"},
		{"equals sign and dash", "FAF=8200 DA-5340", "FAF 8200, DA 5340"},
		{"with small words", "the FAF is at 8200 and DA altitude 5340", "FAF 8200, DA 5340"},
		{"lonely across commas", "FAF,8200,DA,5340", "FAF 8200, DA 5340"},
		{"lonely behind, across commas", "8200, FAF, 5340, DA", "FAF 8200, DA 5340"},
		{"lonely across lines", "IAF\n10200\nFAF\n8200", "IAF 10200, FAF 8200"},
		{"one lonely, others not", "7400, 8200, FAF", "7400, FAF 8200"},
		{"some without a label", "IAF 10200, 9200, FAF 8200", "IAF 10200, 9200, FAF 8200"},
		{"every label", "iaf 13000, initial 13000, if 9200, intermediate fix 9200, final approach fix 8200, stepdown 7400, pt 10200, procedure turn 10200, hold 10200, da 5340, mda 5500, mins 5500, circling 5700, missed approach 10200, missed hold 10200, msa 14000, taa 13000",
			"IAF 13000, IAF 13000, IF 9200, IF 9200, FAF 8200, step 7400, PT 10200, PT 10200, hold 10200, DA 5340, MDA 5500, minimums 5500, circling 5700, missed 10200, missed hold 10200, MSA 14000, TAA 13000"},
		{"minimums lines", "LPV 5340 LNAV/VNAV 5400 LNAV 5500 LOC MDA 5510 LP 5520", "LPV DA 5340, LNAV/VNAV DA 5400, LNAV MDA 5500, LOC MDA 5510, LP MDA 5520"},
		{"ILS and LOC among labels", "FAF 8200 ILS 5340 LOC 5500", "FAF 8200, ILS DA 5340, LOC MDA 5500"},
		{"numbered steps", "step 1 7400 step 2 8800", "step 7400, step 8800"},
		{"fix before the label", "WENDL FAF 8200", "FAF WENDL 8200"},
		{"fix behind the label", "FAF WENDL 8200", "FAF WENDL 8200"},
		{"fix in brackets", "FAF (WENDL) 8200", "FAF WENDL 8200"},
		{"fix with a colon", "WENDL: FAF 8200", "FAF WENDL 8200"},
		{"fix behind the altitude", "FAF 8200 WENDL", "FAF WENDL 8200"},
		{"fix before the altitude", "WENDL 8200 FAF, BRIXT 7400 step", "FAF WENDL 8200, step BRIXT 7400"},
		{"several fixes without commas", "IAF BRIXT 10200 IAF CORMT 13000 FAF WENDL 8200", "IAF BRIXT 10200, IAF CORMT 13000, FAF WENDL 8200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := "XKLD -38; " + c.text
			req, p := rd.Parse(text)
			if p != nil {
				t.Fatalf("Parse(%q): problem %q", text, p.Text)
			}
			if got, want := req.Line(), "XKLD -38 "+c.want; got != want {
				t.Errorf("Parse(%q) = %q, want %q", text, got, want)
			}
		})
	}
}

// sound holds every problem to one sentence that can be read aloud, and a
// word that is in the message.
func sound(t fataler, text string, p *Problem) {
	if p.Text == "" {
		t.Fatalf("Parse(%q): problem %+v lacks a text", text, *p)
	}
	end, _ := utf8.DecodeLastRuneInString(p.Text)
	if (end != '.' && end != '?') || strings.ContainsAny(p.Text, "\n\x00") || !utf8.ValidString(p.Text) || !utf8.ValidString(p.Try) {
		t.Fatalf("Parse(%q): %q is no sentence", text, p.Text)
	}
	if len(p.Text) > 400 {
		t.Fatalf("Parse(%q): %d bytes are no short sentence: %q", text, len(p.Text), p.Text)
	}
}

// mends holds the line to type instead to what is promised: it reads well, and
// as the same line.
func mends(t fataler, rd *Reader, text string, p *Problem) {
	if p.Try == "" {
		return
	}
	req, again := rd.Parse(p.Try)
	if again != nil {
		t.Fatalf("Parse(%q): the line to type, %q, has a problem: %q", text, p.Try, again.Text)
	}
	if req.Verb == Correct || req.Verb.Shows() {
		if line := req.Line(); line != p.Try && p.Try != Example {
			t.Fatalf("Parse(%q): the line to type, %q, reads as %q", text, p.Try, line)
		}
	}
}

type fataler interface{ Fatalf(string, ...any) }

// TestOpen: what a temperature in a follow-up would not settle is kept.
func TestOpen(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct {
		name, text string
		want       []string
	}{
		{"a missing sign alone", "XKLD 38 8200", nil},
		{"two temperatures", "XKLD -38 -40 8200", nil},
		{"unknown station", "XKLE -38 8200", nil},
		{"a flight level behind the missing sign", "XKLD 38 8200 FL150", []string{"FL150"}},
		{"a label in doubt behind the missing sign", "XKLD 38 8200 FAF 7400", []string{"FAF"}},
		{"two numbers without a sign", "XSLT 12 95", []string{"95"}},
		{"two words", "XKLD 38 garble 8200 FL150", []string{"garble", "FL150"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			req, p := rd.Parse(c.text)
			if p == nil {
				t.Fatalf("Parse(%q): no problem", c.text)
			}
			var got []string
			for _, o := range req.Open {
				got = append(got, o.Word)
			}
			if !slices.Equal(got, c.want) {
				t.Errorf("Parse(%q): open %q, want %q", c.text, got, c.want)
			}
		})
	}
}

func TestThreeThatDiffer(t *testing.T) {
	rd := demoReader()
	if req, p := rd.Parse("XKLD -38 -40 -41 8200"); p == nil || req.HasTemperature {
		t.Errorf("three temperatures: problem %v, temperature kept: %v", p, req.TemperatureWord())
	}
	if req, p := rd.Parse("XKLD XRUN XSLT -38 8200"); p == nil || req.Station != "" {
		t.Errorf("three stations: problem %v, station kept: %q", p, req.Station)
	}
}

func TestVerbs(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct {
		text string
		verb Verb
		rest string
	}{
		{"help", Help, ""}, {"please help", Help, ""},
		{"why", Why, ""}, {"rules", Rules, ""}, {"rules icao", Rules, ""},
		{"check", Check, ""}, {"watch", Watch, ""}, {"log", Log, ""}, {"mine", Mine, ""}, {"what waits for me?", Mine, ""},
		{"obs XKLD -38", Observe, ""},
		{"brief XKLD 1430 XRUN 1515", Brief, ""},
		{"add DA 5340", Add, ""}, {"remove 7400", Remove, ""}, {"drop FAF", Remove, ""}, {"same at XRUN", Same, ""},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Verb != c.verb || req.Record != c.rest {
			t.Errorf("Parse(%q) = %v %q, problem %v; want %v %q", c.text, req.Verb, req.Record, p, c.verb, c.rest)
		}
	}
}

// TestFusedProcedure is a procedure written without its space, and what is
// none: what stands behind a label may be a fix of that name.
func TestFusedProcedure(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct{ text, procedure string }{
		{"XKLD gls 31 -38", "gls 31"}, {"XKLD -38 GLS 31L", "gls 31l"}, {"XKLD gls31 -38", "gls 31"}, {"XKLD rnav 31 gls -38", "rnav 31"}, {"XKLD -38 gls 5340", ""},
		{"XKLD rnav31 -38", "rnav 31"}, {"XKLD LOC12", "loc 12"}, {"XKLD -38 ils31l", "ils 31l"}, {"XKLD rnpy31 -38", "rnp y 31"},
		{"XKLD rwy28 -38", "rwy 28"}, {"XKLD vor9 -38", "vor 9"}, {"rnav31, XKLD -38", "rnav 31"}, {"XKLD rnav31 circling 5800 -38", "rnav 31"},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Procedure != c.procedure || req.Station != "XKLD" {
			t.Errorf("Parse(%q) = procedure %q at %q, problem %v; want %q", c.text, req.Procedure, req.Station, p, c.procedure)
		}
	}
	for _, text := range []string{
		"XKLD -38 FAF ils28 8200", "XKLD -38 step vor12 7400", "XKLD -38 DA KALDO loc12", // a fix, perhaps
		"XKLD rnp37 -38", "XKLD rnp0 -38", "XKLD rnpxy28 -38", "XKLD abc12 -38", "XKLD ils31x -38",
	} {
		if req, p := rd.Parse(text); p == nil || req.Procedure != "" {
			t.Errorf("Parse(%q) = procedure %q without a question", text, req.Procedure)
		}
	}
}

// TestCard is what stands behind "card" and "picture".
func TestCard(t *testing.T) {
	rd := demoReader()
	rd.Named(func(words []string) (string, int, bool) {
		switch {
		case strings.EqualFold(words[0], "KALOMI-RUTA"):
			return "KALOMI-RUTA", 1, true
		case len(words) > 1 && strings.EqualFold(words[0]+words[1], "KALOMIRUTA"):
			return "KALOMI-RUTA", 2, true
		}
		return "", 0, false
	})
	for _, c := range []struct {
		text       string
		verb       Verb
		rest, kind string
		altitudes  int
		empty      bool
	}{
		{"card", Card, "", "", 0, true},
		{"Card letter", Card, "", "half-letter", 0, true},
		{"card half-letter", Card, "", "half-letter", 0, true},
		{"card half letter please", Card, "", "half-letter", 0, true},
		{"card a5", Card, "", "a5", 0, true},
		{"card KALOMI-RUTA", Card, "KALOMI-RUTA", "", 0, true},
		{"card kalomi ruta letter", Card, "KALOMI-RUTA", "half-letter", 0, true},
		{"card letter KALOMI-RUTA", Card, "KALOMI-RUTA", "half-letter", 0, true},
		{"card XKLD -38 8200 7400 letter", Card, "", "half-letter", 2, false},
		{"card XKLD rnav 31 -38", Card, "", "", 0, false},
		{"XKLD -38 8200 card", Card, "", "", 1, false},
		{"picture", Picture, "", "", 0, true},
		{"picture curve", Picture, "", "curve", 0, true},
		{"picture day XKLD", Picture, "", "day", 0, false},
		{"picture profile XKLD -38 FAF CURVE 8200", Picture, "", "profile", 1, false},
	} {
		req, p := rd.Parse(c.text)
		if p != nil || req.Verb != c.verb || req.Record != c.rest || req.Kind != c.kind || len(req.Altitudes) != c.altitudes || req.Empty() != c.empty {
			t.Errorf("Parse(%q) = %v %q %q of %d altitudes, empty %v, problem %v; want %v %q %q of %d, %v", c.text, req.Verb, req.Record, req.Kind, len(req.Altitudes), req.Empty(), p, c.verb, c.rest, c.kind, c.altitudes, c.empty)
		}
		if c.rest != "" || c.empty {
			continue
		}
		if again, p := rd.Parse(req.Line()); p != nil || again.Line() != req.Line() || again.Kind != req.Kind {
			t.Errorf("the line %q of %q reads as %q, problem %v", req.Line(), c.text, again.Line(), p)
		}
	}
	for _, text := range []string{"XKLD -38 8200 letter", "letter"} {
		if _, p := rd.Parse(text); p == nil || !strings.EqualFold(p.Word, "letter") {
			t.Errorf("Parse(%q): problem %v, want one about the word", text, p)
		}
	}
}

func TestAmend(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct {
		name, first, next string
		done              bool
		want              string
	}{
		{"temperature completes", "XKLD 8200 7400", "-38", false, "XKLD -38 8200, 7400"},
		{"station completes", "-38 8200", "XKLD", false, "XKLD -38 8200"},
		{"elevation completes", "-38 8200", "elev 4802", false, "elev 4802 -38 8200"},
		{"altitudes complete", "XKLD -38", "FAF 8200", false, "XKLD -38 FAF 8200"},
		{"colder", "XKLD -38 8200", "-41", true, "XKLD -41 8200"},
		{"from Celsius to Fahrenheit", "XKLD -38 8200", "-40F", true, "XKLD -40F 8200"},
		{"bare altitudes ask anew", "XKLD -38 8200", "7400 8000", true, "XKLD -38 7400, 8000"},
		{"label replaces", "XKLD -38 FAF 8200, DA 5340", "DA 5400", true, "XKLD -38 FAF 8200, DA 5400"},
		{"label keeps its fix", "XKLD -38 FAF WENDL 8200", "FAF 8300", true, "XKLD -38 FAF WENDL 8300"},
		{"label for a bare altitude", "XKLD -38 8200 7400", "FAF 7400", true, "XKLD -38 8200, FAF 7400"},
		{"a ceiling of what is there", "XKLD -38 IF 8200, FAF 7400", "the IF is at or below 8200", true, "XKLD -38 IF below 8200, FAF 7400"},
		{"a ceiling said alone", "XKLD -38 IF 8200, FAF 7400", "at or below 8200", true, "XKLD -38 IF below 8200, FAF 7400"},
		{"a second bound of what is there", "XKLD -38 IF 8200, FAF 7400", "IF between 8200 and 9000", true, "XKLD -38 IF between 8200 and 9000, FAF 7400"},
		{"another second bound", "XKLD -38 IF between 8200 and 9000", "IF between 8200 and 9500", true, "XKLD -38 IF between 8200 and 9500"},
		{"a ceiling said again without its words", "XKLD -38 IF XOLMI below 8200, FAF 7400", "IF 8200", true, "XKLD -38 IF XOLMI below 8200, FAF 7400"},
		{"add", "XKLD -38 8200", "add 7400", true, "XKLD -38 8200, 7400"},
		{"add a step", "XKLD -38 FAF 8200 step 7400", "add step 8800", true, "XKLD -38 FAF 8200, step 7400, step 8800"},
		{"remove by figure", "XKLD -38 8200 7400", "remove 7,400", true, "XKLD -38 8200"},
		{"remove by label", "XKLD -38 FAF 8200, DA 5340", "remove DA", true, "XKLD -38 FAF 8200"},
		{"remove by label and figure", "XKLD -38 IAF 8200, FAF 8200", "remove FAF 8200", true, "XKLD -38 IAF 8200"},
		{"same at another station", "XKLD -38 8200", "same at XRUN", true, "XRUN -38 8200"},
		{"a report's temperature stays at its station", "XKLD 251153Z 00000KT M38/M42 A2992; 8200", "same at XRUN", true, "XRUN 8200"},
		{"a procedure has its own altitudes", "XKLD -38 FAF 8200, DA 5340", "rnav 31", true, "XKLD rnav 31 -38"},
		{"another procedure too", "XKLD rnav 31 -38 circling 5800", "loc 12 -41", true, "XKLD loc 12 -41"},
		{"the same procedure keeps what was added", "XKLD rnav 31 -38 circling 5800", "rnav 31 -41", true, "XKLD rnav 31 -41 circling 5800"},
		{"what is typed with it stands", "XKLD -38 FAF 8200", "rnav 31 circling 5800", true, "XKLD rnav 31 -38 circling 5800"},
		{"nothing is lost of what was not answered", "XKLD circling 5800", "rnav 31 -38", false, "XKLD rnav 31 -38 circling 5800"},
		{"another rule set", "XKLD -38 8200", "icao", true, "XKLD -38 icao 8200"},
		{"why", "XKLD -38 8200", "why", true, "why XKLD -38 8200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			first, _ := rd.Parse(c.first)
			next, p := rd.Parse(c.next)
			if p != nil {
				t.Fatalf("Parse(%q): %v", c.next, p)
			}
			before := first.Line()
			if got := first.Amend(next, c.done).Line(); got != c.want {
				t.Errorf("%q then %q = %q, want %q", c.first, c.next, got, c.want)
			}
			if after := first.Line(); after != before {
				t.Errorf("%q then %q changed the first to %q", c.first, c.next, after)
			}
		})
	}
}

// mostRoom is what a message takes, in MiB, while it is read; ours. Written once
// a word, the line to type instead would take 470.
const mostRoom = 128

// TestPathological: one clear sentence, and quick, whatever comes.
func TestPathological(t *testing.T) {
	rd := demoReader()
	for _, c := range []struct{ name, text string }{
		{"labels", strings.Repeat("FAF ", MaxBytes/4)},
		{"labels and figures", strings.Repeat("FAF 1 ", MaxBytes/6)},
		{"labels and altitudes in doubt", strings.Repeat("8200 FAF ", MaxBytes/10-1) + "7400"},
		{"labels, commas and altitudes in doubt", "XKLD -38 8200," + strings.Repeat("FAF,8200,", 400)},
		{"fixes", strings.Repeat("WENDL 8200 ", MaxBytes/12)},
		{"digits", strings.Repeat("1", MaxBytes)},
		{"dashes", strings.Repeat("-", MaxBytes)},
		{"minus and digits", strings.Repeat("-1", MaxBytes/2)},
		{"tildes", strings.Repeat("~a ", MaxBytes/3)},
		{"angle brackets", strings.Repeat("<@", MaxBytes/2)},
		{"colons", strings.Repeat(":a", MaxBytes/2)},
		{"small figures", "XKLD -38 " + strings.Repeat("8 ", MaxBytes/2-5)},
		{"fractions", "XKLD -38 " + strings.Repeat("1/2 ", MaxBytes/4-3)},
		{"report times", strings.Repeat("251153Z ", MaxBytes/8)},
		{"broken report lines", "XKLD 251153Z" + strings.Repeat("\nFEW020", MaxBytes/7-2)},
		{"words", strings.Repeat("qzqzqzqz ", MaxBytes/9)},
		{"one word", strings.Repeat("q", MaxBytes)},
		{"a megabyte", strings.Repeat("XKLD -38 8200 ", 1<<20/15)},
		{"control characters", "XKLD\x07 -38 8200\x1b[2J"},
		{"a degree sign", "\u2212\u00b0"},
		{"degree signs", strings.Repeat("\u00b0 ", 200)},
		{"NUL", "XKLD -38\x00 8200"},
		{"invalid UTF-8", "XKLD -38 8200 \xff\xfe"},
	} {
		t.Run(c.name, func(t *testing.T) {
			var before, after runtime.MemStats
			runtime.ReadMemStats(&before)
			req, p := rd.Parse(c.text)
			runtime.ReadMemStats(&after)
			// One process on two cores reads what all people send, at once.
			if n := (after.TotalAlloc - before.TotalAlloc) >> 20; n > mostRoom {
				t.Errorf("Parse(%.40q…) takes %d MiB, at most %d", c.text, n, mostRoom)
			}
			if p == nil && (req.Verb == Note || req.Verb == Repeat || req.At.Said || req.HasReport) {
				return // nothing is asked
			}
			if p == nil {
				t.Fatalf("Parse(%.40q…): no problem", c.text)
			}
			sound(t, c.text[:min(len(c.text), 40)], p)
			if strings.Count(p.Text, ".") > 1 && !strings.Contains(p.Text, "…") {
				t.Errorf("Parse(%.40q…): %q is more than one sentence", c.text, p.Text)
			}
		})
	}
}

// TestOtherThanSeen: what is shown as another figure than it reads as is asked about.
func TestOtherThanSeen(t *testing.T) {
	rd := demoReader()
	for text, want := range map[string]string{
		"XKLD -38 8\u202e002":              "The message holds a control character (U+202E).",
		"XKLD \u202e83- 8200":              "The message holds a control character (U+202E).",
		"XKLD -38 8\u0336200":              "I don't know “8\u0336200”.",
		"XKLD -38 8\u03362\u03360\u033600": "I don't know “8\u03362\u03360\u033600”.",
	} {
		if req, p := rd.Parse(text); p == nil || p.Text != want || p.Try != "" {
			t.Errorf("%+q: %+v, %+v, want %q and nothing to type", text, req, p, want)
		}
	}
}

// genRequest draws what a message can say.
func genRequest(t *rapid.T) Request {
	var req Request
	if rapid.Bool().Draw(t, "why") {
		req.Verb = Why
	}
	metric := rapid.Bool().Draw(t, "metric")
	value := func(what string) Altitude {
		a := Altitude{Metric: metric, Bare: !metric && rapid.Bool().Draw(t, "bare "+what)}
		most := 60000.0
		if metric {
			most = 18000
		}
		a.Value = float64(rapid.IntRange(100, int(most)).Draw(t, what))
		if rapid.IntRange(0, 5).Draw(t, "parts of "+what) == 0 {
			a.Value += 0.5
		}
		a.Value = min(a.Value, most)
		a.Bare = a.Bare && a.Value != 9999 // which is a report's visibility
		return a
	}
	switch rapid.IntRange(0, 2).Draw(t, "place") {
	case 0:
		req.Station = rapid.SampledFrom([]string{"XKLD", "XRUN", "XSLT"}).Draw(t, "station")
	case 1:
		req.Elevation, req.HasElevation = value("elevation"), true
		if rapid.Bool().Draw(t, "low field") {
			req.Elevation.Value = float64(rapid.IntRange(-1500, 99).Draw(t, "low elevation"))
		}
	}
	switch rapid.IntRange(0, 2).Draw(t, "scale") {
	case 0:
		req.HasTemperature = true
		req.Temperature = celsiusTenths(rapid.IntRange(-892, 599).Draw(t, "tenths"))
	case 1:
		req.HasTemperature, req.InFahrenheit = true, true
		req.Fahrenheit = fahrenheitTenths(rapid.IntRange(-1285, 1399).Draw(t, "tenths of Fahrenheit"))
		req.Temperature = req.Fahrenheit.Celsius()
	}
	if rapid.Bool().Draw(t, "names a rule set") {
		req.Rules = rapid.SampledFrom([]string{"icao", "canada", "faa-all-segments"}).Draw(t, "rules")
	}
	if rapid.IntRange(0, 3).Draw(t, "has a procedure") == 0 {
		req.Procedure = rapid.SampledFrom([]string{"rnav 31", "ils 9l", "vor a", "rnav y 4", "loc", "rwy 28"}).Draw(t, "procedure")
	}
	if rapid.IntRange(0, 2).Draw(t, "says how it comes in") == 0 {
		req.Way = rapid.SampledFrom([]Way{{Kind: Vectors}, {Kind: Vectors, Fix: "WENDL"}, {Kind: VectorsInside, Fix: "WENDL"}, {Kind: Via, Fix: "BRIXT"}, {Kind: Via}, {Kind: InHold}, {Kind: InTurn}, {Kind: Traffic}, {Kind: Traffic, Fix: "BRIXT"}, {Kind: Traffic, In: InHold}, {Kind: Traffic, In: InTurn}}).Draw(t, "way")
	}
	if rapid.IntRange(0, 3).Draw(t, "says what it has") == 0 {
		yes := []string{"", "yes", "no"}
		req.SBAS, req.Compensated, req.Remote = rapid.SampledFrom(yes).Draw(t, "sbas"), rapid.SampledFrom(yes).Draw(t, "compensated"), rapid.SampledFrom(yes).Draw(t, "remote")
		if req.Remote == "yes" {
			req.Additive = float64(rapid.IntRange(0, 200).Draw(t, "additive"))
		}
	}
	for range rapid.IntRange(0, 8).Draw(t, "altitudes") {
		a := value("altitude")
		a.Height = rapid.IntRange(0, 4).Draw(t, "above the field") == 0
		if rapid.Bool().Draw(t, "labelled") {
			label := rapid.SampledFrom(labels()).Draw(t, "label")
			a.Role, a.Label = label.role, label.label
			a.Instead = req.Procedure != "" && (req.Station != "" || req.HasElevation) && rapid.Bool().Draw(t, "in place of the chart's")
			if rapid.Bool().Draw(t, "at a fix") {
				a.Fix = rapid.SampledFrom([]string{"WENDL", "BRIXT", "CORMT", "ABC"}).Draw(t, "fix")
			}
		}
		req.Altitudes = append(req.Altitudes, a)
	}
	return req
}

// labels are every role and label that a message can give.
func labels() []phrase {
	var out []phrase
	for _, list := range phrases {
		for _, p := range list {
			if (p.meaning == roleWord || p.meaning == lineWord) && !slices.ContainsFunc(out, func(q phrase) bool { return q.role == p.role && q.label == p.label }) {
				out = append(out, p)
			}
		}
	}
	slices.SortFunc(out, func(a, b phrase) int {
		return strings.Compare(a.role.String()+a.label, b.role.String()+b.label)
	})
	return out
}

// twice says that a request has two of what there is one of.
func twice(r Request) bool {
	for i, a := range r.Altitudes {
		one := a.Role == procedure.FinalFix || a.Role.Minimum() || a.Role == procedure.Circling
		if one && slices.ContainsFunc(r.Altitudes[:i], func(b Altitude) bool { return a.Role == b.Role && a.Label == b.Label }) {
			return true
		}
	}
	return false
}

func TestLineReadsBack(t *testing.T) {
	rd := demoReader()
	rapid.Check(t, func(t *rapid.T) {
		want := genRequest(t)
		line := want.Line()
		if line == "" || twice(want) { // there is one, and two are asked about
			return
		}
		got, p := rd.Parse(line)
		if p != nil {
			t.Fatalf("Parse(%q): %v", line, p)
		}
		if math.Abs(float64(got.Temperature-want.Temperature)) > 1e-9 {
			t.Fatalf("Parse(%q): temperature %v, want %v", line, got.Temperature, want.Temperature)
		}
		got.Temperature = want.Temperature
		if !reflect.DeepEqual(got, want) {
			t.Fatalf("Parse(%q) = %+v, want %+v", line, got, want)
		}
	})
}

// TestTryMends: whatever is typed, the line to type instead is better.
func TestTryMends(t *testing.T) {
	rd := demoReader()
	pieces := []string{
		"XKLD", "XRUN", "XKLE", "-38", "38", "m38", "-36F", "- 38", "0", "+5", "10900", "7,400", "10 900", "62", "95 ft", "2500m", "560 agl", "agl",
		"FL150", "FAF", "DA", "step", "IAF", "WENDL", "final", "elev", "elev 4802", "elev 14", "rnav 31", "ils", "loc", "icao", "why", "add", "remove",
		"minus", "temp", "ft", "m", "MVA", "FOO", "circlng", ",", "/", ";", "\n", ":", "(", ")", "8200-38", "8200-7400", "-8200", "999999", "M38/M42",
		"38/42", "251153Z", "~9000~", "@", "<tel:7400>", "step 1",
	}
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(rapid.SampledFrom(pieces), 1, 9).Draw(t, "pieces"), rapid.SampledFrom([]string{" ", ", ", "/"}).Draw(t, "between"))
		for range 12 {
			_, p := rd.Parse(text)
			if p == nil {
				return
			}
			sound(t, text, p)
			mends(t, rd, text, p)
			if p.Try == "" {
				return
			}
			text = p.Try
		}
	})
}

func TestRolesHaveWords(t *testing.T) {
	known := map[procedure.Role]bool{}
	for _, l := range labels() {
		known[l.role] = true
	}
	for r := procedure.NoRole + 1; int(r) < procedure.RoleCount; r++ {
		if !known[r] && r != procedure.MissedAltitude { // which the bot finds among several of the missed approach
			t.Errorf("no word means %s", r)
		}
	}
}

// TestDegreesApart reads a temperature as the replies write it.
func TestDegreesApart(t *testing.T) {
	for _, c := range []struct {
		text string
		want float64
	}{
		{"XKLD, −38 °C, 10 900 / 7 400 / 5 340", -38},
		{"XKLD −4 °F 8200", -20},
		{"XKLD -38 ° C 8200", -38},
	} {
		req, p := NewReader(demo{}, nil).Parse(c.text)
		if p != nil || float64(req.Temperature) != c.want || len(req.Altitudes) == 0 {
			t.Errorf("Parse(%q) = %v °C, %d altitudes, problem %v; want %v °C", c.text, req.Temperature, len(req.Altitudes), p, c.want)
		}
	}
	if _, p := NewReader(demo{}, nil).Parse("XKLD 38 °C 8200"); p == nil || p.Word != "38 °C" {
		t.Errorf("an unsigned temperature in degrees: problem %+v, want one for 38 °C", p)
	}
}

// TestUnitOrHeightNotSaid: what stands beside metres without a unit could be
// metres, and a decision height is not above the field.
func TestUnitOrHeightNotSaid(t *testing.T) {
	for _, c := range []struct{ text, word, try string }{
		{"XKLD -38 FAF 2500m, DA 560 agl", "560", "XKLD -38 FAF 2500m, DA 560m agl"},
		{"XKLD -38 FAF 2500m, DA 560agl", "560", "XKLD -38 FAF 2500m, DA 560m agl"},
		{"XKLD -38 DH 200", "DH", ""},
		{"XKLD -38 FAF 7400 mdh 400 ft", "mdh", ""},
	} {
		_, p := NewReader(demo{}, nil).Parse(c.text)
		if p == nil || p.Word != c.word || p.Try != c.try {
			t.Errorf("Parse(%q): problem %#v, want word %q and try %q", c.text, p, c.word, c.try)
		}
	}
}

// TestVerbNames: each verb has a name of its own, and those that have words are known
// by it.
func TestVerbNames(t *testing.T) {
	verbOf := map[string]Verb{}
	for v := range verbCount {
		name := v.String()
		if have, taken := verbOf[name]; name == "" || taken {
			t.Errorf("verb %d is called %q, as is verb %d", v, name, have)
		}
		verbOf[name] = v
	}
	for _, p := range verbPhrases {
		if name := p.verb.String(); VerbOf(name) != p.verb {
			t.Errorf("%q is read as %q", name, VerbOf(name))
		}
	}
}

// TestOnDuty: each word of a duty officer's is found, however it is written.
func TestOnDuty(t *testing.T) {
	for _, w := range dutyWords[1:] {
		for _, text := range []string{w + " XKLD", strings.ToUpper(w) + " XKLD", "please " + w + " XKLD"} {
			if OnDuty(text) != VerbOf(text).OnDuty() {
				t.Errorf("%q: on duty %v by its words, %v by its verb", text, OnDuty(text), VerbOf(text).OnDuty())
			}
		}
	}
	for text, want := range map[string]bool{
		"ack XKLD": true, "ＡＣＫ XKLD": true, "base add XABC 06:00": true, "drop base XABC": true, "snooze XKLD 2h": true, "obs XKLD -38": true,
		"XKLD -38 8200": false, "watch": false, "": false,
	} {
		if got := OnDuty(text); got != want {
			t.Errorf("%q: on duty %v, want %v", text, got, want)
		}
	}
}

// TestVerbOf: what duty officers alone may do is known without stations, and
// wherever the word stands.
func TestVerbOf(t *testing.T) {
	for text, want := range map[string]bool{
		"ack XKLD": true, "Ack, XKLD": true, "please ack xkld": true, "acknowledge XGLN": true, "snooze XKLD 2h": true, "obs XKLD -38": true,
		"XKLD ack": true, "XKLD -38 8200": false, "log XKLD": false, "watch": false, "ack": true, "": false, "check KALOMI-RUTA": false,
	} {
		if got := VerbOf(text).OnDuty(); got != want {
			t.Errorf("VerbOf(%q).OnDuty() = %v, want %v", text, got, want)
		}
	}
}

// TestTemperatureProblem: a field for a temperature is read as a message is.
func TestTemperatureProblem(t *testing.T) {
	for typed, want := range map[string]string{
		"-38": "", "m38": "", "minus thirty eight": "", "0": "", "-38,5": "", "-36F": "",
		"38": "Is it -38 or +38?", "cold": "cold is no temperature; give it with its sign, such as -38.", "-138": "-138 is no temperature that occurs at an airfield.",
		"-38 8200": "-38 8200 is no temperature; give it with its sign, such as -38.",
	} {
		if got := TemperatureProblem(typed); got != want {
			t.Errorf("TemperatureProblem(%q) = %q, want %q", typed, got, want)
		}
	}
}
