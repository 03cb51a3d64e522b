package wxreport

import (
	"errors"
	"strings"
	"testing"
	"time"

	"firn/engine"

	"pgregory.net/rapid"
)

func none() Temp                { return Temp{} }
func deg(c engine.Celsius) Temp { return Temp{c, true} }

func mustMetar(t *testing.T, text string) (Metar, []Leftover) {
	t.Helper()
	m, left, err := ParseMetar(text)
	if err != nil {
		t.Fatalf("ParseMetar(%q): %v", text, err)
	}
	return m, left
}

func TestRemarkGroups(t *testing.T) {
	t.Parallel()
	type want struct{ tenths, dew, max6, min6, max24, min24 Temp }
	for _, c := range []struct {
		name, remarks string
		want          want
	}{
		// Source of each: AFMAN 15-111 (12 March 2019), the remark named.
		{"AFMAN 15-111 remark 30, 2.6 and -1.5", "T00261015", want{tenths: deg(2.6), dew: deg(-1.5)}},
		{"AFMAN 15-111 remark 30, the sign digit is no minus", "T10061017", want{tenths: deg(-0.6), dew: deg(-1.7)}},
		{"AFMAN 15-111 remark 31, -2.1", "11021", want{max6: deg(-2.1)}},
		{"AFMAN 15-111 remark 31, 14.2", "10142", want{max6: deg(14.2)}},
		{"AFMAN 15-111 remark 32, -0.1", "21001", want{min6: deg(-0.1)}},
		{"AFMAN 15-111 remark 32, 1.2", "20012", want{min6: deg(1.2)}},
		{"AFMAN 15-111 remark 33, 10.0 and -1.5", "401001015", want{max24: deg(10), min24: deg(-1.5)}},
		{"AFMAN 15-111 remark 33, 11.2 and 8.4", "401120084", want{max24: deg(11.2), min24: deg(8.4)}},
		// The code form allows a missing dew point (CWIP 180700Z of the corpus).
		{"dew point missing", "T1026", want{tenths: deg(-2.6)}},
		{"a six-hour maximum of zero", "10000", want{max6: deg(0)}},
		{"minus zero is zero", "T10001000 11000", want{tenths: deg(0), dew: deg(0), max6: deg(0)}},
		// Words that look like one and are none: each must match whole.
		{"snow depth", "4/021", want{}},
		{"pressure tendency", "56012 52001", want{}},
		{"hourly rain and thunder", "P0003 TSNO TWR", want{}},
		{"sign digit of two", "T20261015 12021 22001 421001015", want{}},
		{"a figure short or long", "T002 T0026101 T002610155 1102 110211", want{}},
		{"a letter within", "T0O261015 1I021 4010O1015", want{}},
		{"the first of two stands", "T00261015 T10261026 11021 10142", want{tenths: deg(2.6), dew: deg(-1.5), max6: deg(-2.1)}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m, left := mustMetar(t, "XKLD 251153Z 00000KT 10SM CLR A2992 RMK AO2 "+c.remarks)
			got := want{m.Tenths, m.TenthsDewpoint, m.Max6, m.Min6, m.Max24, m.Min24}
			if got != c.want || len(left) != 0 {
				t.Errorf("RMK %s: got %v, left %v, want %v", c.remarks, got, left, c.want)
			}
		})
	}
	t.Run("behind a semicolon is no remark", func(t *testing.T) {
		t.Parallel()
		m, _ := mustMetar(t, "XKLD 251153Z CAVOK M38/M42 A2992 RMK AO2 T13781422; 8200")
		if m.Max6.OK || m.Tenths != deg(-37.8) {
			t.Errorf("got %v and a maximum of %v, want -37.8 and none", m.Tenths, m.Max6)
		}
	})
	t.Run("groups before RMK are none", func(t *testing.T) {
		t.Parallel()
		m, left := mustMetar(t, "XKLD 251153Z 00000KT 10SM CLR 02/M01 A2992 T00261015 10142")
		if m.Tenths.OK || m.Max6.OK || len(left) != 2 {
			t.Errorf("got %v %v, left %v, want none and two words left", m.Tenths, m.Max6, left)
		}
	})
}

func TestBodyGroup(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, group string
		body, dew   Temp
	}{
		// Source: AFMAN 15-111 remark 30, "2.6 and -1.5 -> 03/M01".
		{"AFMAN 15-111 remark 30, rounded body", "03/M01", deg(3), deg(-1)},
		{"both below zero", "M38/M42", deg(-38), deg(-42)},
		{"M00, between -0.5 and 0 (WMO FM 15)", "M00/M00", deg(0), deg(0)},
		{"dew point missing, US form", "10/", deg(10), none()},
		{"dew point missing, UK AIP GEN 3.5", "10///", deg(10), none()},
		{"dew point missing, two slashes", "M05//", deg(-5), none()},
		{"dew point missing, below zero", "M05/", deg(-5), none()},
		{"temperature missing", "///M05", none(), deg(-5)},
		{"both missing", "/////", none(), none()},
		{"both missing, short", "//", none(), none()},
		{"group absent", "", none(), none()},
		{"the limits of the code", "99/M99", deg(99), deg(-99)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			for _, text := range []string{
				"METAR XKLD 251153Z 00000KT 10SM CLR " + c.group + " A2992",
				"xkld 251153z auto 02006kt 9999 bkn020 " + strings.ToLower(c.group) + " q1013=",
			} {
				m, left := mustMetar(t, text)
				if m.Body != c.body || m.Dewpoint != c.dew || len(left) != 0 {
					t.Errorf("%q: got %v/%v, left %v, want %v/%v", text, m.Body, m.Dewpoint, left, c.body, c.dew)
				}
			}
		})
	}
	t.Run("visibility and wind are no temperature", func(t *testing.T) {
		t.Parallel()
		for _, g := range []string{"1/2SM", "M1/4SM", "/////KT", "R04/720095", "W15/S3", "4/021", "10/10/10", "1/2", "M5/M7", "10/M", "100/99"} {
			m, _ := mustMetar(t, "XKLD 251153Z 00000KT "+g+" A2992")
			if m.Body.OK || m.Dewpoint.OK {
				t.Errorf("%s: got %v/%v, want none", g, m.Body, m.Dewpoint)
			}
		}
	})
}

func TestTemperature(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name         string
		body, tenths Temp
		want         Temp
	}{
		// M12 covers -12.5 <= t < -11.5 (AFMAN 15-111 remark 30: halves go
		// toward the warmer degree).
		{"the body hides half a degree of cold", deg(-12), deg(-12.5), deg(-12.5)},
		{"the T group is warmer than the body", deg(-12), deg(-11.6), deg(-12)},
		{"body only", deg(-12), none(), deg(-12)},
		{"T group only", none(), deg(-12.1), deg(-12.1)},
		{"neither", none(), none(), none()},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			if got := (Metar{Body: c.body, Tenths: c.tenths}).Temperature(); got != c.want {
				t.Errorf("body %v, tenths %v: got %v, want %v", c.body, c.tenths, got, c.want)
			}
		})
	}
}

func TestMetarHead(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		want       Metar
	}{
		{"METAR", "METAR XKLD 251153Z 00000KT", Metar{Type: "METAR", Ident: "XKLD", Day: 25, Hour: 11, Minute: 53, HasTime: true}},
		{"SPECI", "SPECI XKLD 251153Z 00000KT", Metar{Type: "SPECI", Ident: "XKLD", Day: 25, Hour: 11, Minute: 53, HasTime: true}},
		{"COR behind the type (ICAO)", "METAR COR XKLD 010000Z 00000KT", Metar{Type: "METAR", Ident: "XKLD", Day: 1, HasTime: true, Corrected: true}},
		{"COR behind the time (US)", "XKLD 010000Z COR 00000KT", Metar{Ident: "XKLD", Day: 1, HasTime: true, Corrected: true}},
		{"CCA behind the time (Canada)", "XKLD 010000Z CCA 00000KT", Metar{Ident: "XKLD", Day: 1, HasTime: true, Corrected: true}},
		{"AUTO", "XKLD 010000Z AUTO 00000KT", Metar{Ident: "XKLD", Day: 1, HasTime: true, Auto: true}},
		{"NIL", "XKLD 010000Z NIL=", Metar{Ident: "XKLD", Day: 1, HasTime: true, Nil: true}},
		{"three letters and a digit", "x2f 010000z 00000kt", Metar{Ident: "X2F", Day: 1, HasTime: true}},
		{"no time", "XKLD 00000KT M38/M42", Metar{Ident: "XKLD", Body: deg(-38), Dewpoint: deg(-42)}},
		{"no station", "312359Z 00000KT", Metar{Day: 31, Hour: 23, Minute: 59, HasTime: true}},
		{"time without its Z", "XKLD 251153 00000KT", Metar{Ident: "XKLD", Day: 25, Hour: 11, Minute: 53, HasTime: true}},
		{"both altimeter settings", "XKLD 010000Z Q1013 A2992", Metar{Ident: "XKLD", Day: 1, HasTime: true, AltimeterHPa: 1013, AltimeterInHg: 29.92}},
		{"altimeter setting after RMK (Japan)", "XKLD 010000Z Q1015 RMK 1CU030 A2999 P/RR", Metar{Ident: "XKLD", Day: 1, HasTime: true, AltimeterHPa: 1015, AltimeterInHg: 29.99}},
		{"QNHnnnnINS", "XKLD 010000Z QNH2992INS", Metar{Ident: "XKLD", Day: 1, HasTime: true, AltimeterInHg: 29.92}},
		{"altimeter setting missing", "XKLD 010000Z Q//// A////", Metar{Ident: "XKLD", Day: 1, HasTime: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m, left := mustMetar(t, c.text)
			c.want.Raw = c.text
			if m != c.want || len(left) != 0 {
				t.Errorf("%q:\ngot  %+v, left %v\nwant %+v", c.text, m, left, c.want)
			}
		})
	}
}

func TestMetarErrors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, word string }{
		{"empty", "", ""},
		{"white space", " \n\t", ""},
		{"punctuation", " ,;= ", ""},
		{"a request, not a report", "XKLD -38 8200 7400", "-38"},
		{"a station alone", "XKLD", ""},
		{"begins with an altitude", "8200 XKLD 251153Z", "8200"},
		{"no such day", "xkld 321153z 00000KT", "321153z"},
		{"day zero", "XKLD 001153Z 00000KT", "001153Z"},
		{"no such hour", "XKLD 252453Z 00000KT", "252453Z"},
		{"no such minute", "XKLD 251160Z 00000KT", "251160Z"},
		{"TAF by its word", "TAF XKLD 251100Z 2512/2612 00000KT", "TAF"},
		{"TAF by its validity", "XKLD 2512/2612 00000KT", "2512/2612"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m, left, err := ParseMetar(c.text)
			e, ok := errors.AsType[*Error](err)
			if !ok || e.Word != c.word || e.Text == "" || len(left) != 0 || m != (Metar{}) {
				t.Errorf("%q: got %+v %v %#v, want an error about %q", c.text, m, left, err, c.word)
			}
		})
	}
}

// TestLeftovers: a report pasted into a chat line, and altitudes around it.
// The lines are ours (product: "What a message may be").
func TestLeftovers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, want string }{
		{"a bare altitude", "XFJO 121950Z 02006KT 9999 FEW020 M21/M24 Q1029 2600", "2600"},
		{"labels and commas", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 FAF 8200, step 7400", "FAF|8200,|step|7400"},
		{"visibility in metres", "XKLD 251153Z 00000KT 0400 M38/M42 Q1013", ""},
		{"visibility with its direction", "XKLD 251153Z 00000KT 3000NE M38/M42 Q1013", ""},
		{"visibility, wind variable", "XKLD 251153Z 24006KT 210V270 4000 1200SW -SN M38/M42 Q1013", ""},
		{"visibility in a whole and a fraction", "XKLD 251153Z 00000KT 2 1/4SM -SN M38/M42 A2992", ""},
		{"after RMK all is report", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 RMK AO2 8200 7400 FAF", ""},
		{"an altitude before RMK", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 10000 RMK AO2 10000", "10000"},
		{"trend", "XKLD 251153Z 24012KT 6000 FEW003 M01/M10 Q1011 TEMPO 2000 SN BR BKN003", ""},
		{"trend with times", "XKLD 251153Z 24012KT CAVOK M01/M10 Q1011 BECMG FM1200 TL1330 25020G30KT 9999 NSW AT1500 SKC", ""},
		{"two trends", "XKLD 251153Z 24012KT 6000 FEW003 M01/M10 Q1011 TEMPO 2000 SN BECMG 9999 NSC", ""},
		{"altitudes behind a trend", "XKLD 251153Z 24012KT 6000 FEW003 M01/M10 Q1011 TEMPO 2000 SN 8200 7400 4000", "8200|7400|4000"},
		{"a trend's visibility the code cannot express", "XKLD 251153Z 24012KT 6000 M01/M10 Q1011 TEMPO 5340", "5340"},
		{"NOSIG opens no trend", "XKLD 251153Z 24012KT 6000 M01/M10 Q1011 NOSIG 4000", "4000"},
		{"the tail of a report", "XKLD 251153Z 24012KT 6000 M01/M10 Q1011 RESN WS R02 R04/720095 W15/S3 W///S9 GRN $ NOSIG=", ""},
		{"wind shear", "XKLD 251153Z 24012KT 6000 M01/M10 Q1011 WS ALL RWY 7400", "7400"},
		{"wind shear, old form", "XKLD 251153Z 24012KT 6000 M01/M10 Q1011 WS LDG RWY21 NOSIG", ""},
		{"runway state, old form", "XKLD 251153Z 01005MPS 0400 R08/0650N FG VV002 06/06 Q1012 08220356 1519//65 88CLRD70 R/SNOCLO NOSIG", ""},
		{"colour states", "XKLD 251153Z 24012KT CAVOK M01/M10 Q1011 BLU BECMG WHT BLACKGRN", ""},
		{"an equals sign ends it", "XKLD 251153Z 00000KT CAVOK M38/M42 Q1013= 8200 7400", "8200|7400"},
		{"an equals sign ends the remarks", "XKLD 251153Z 00000KT CAVOK M38/M42 A2992 RMK AO2 T13781422= 8200", "8200"},
		{"a semicolon ends the remarks", "XKLD 251153Z 00000KT CAVOK M38/M42 A2992 RMK AO2 T13781422; 8200 7400", "8200|7400"},
		{"a semicolon alone ends the remarks", "XKLD 251153Z 00000KT CAVOK M38/M42 A2992 RMK AO2 ; 8200", "8200"},
		{"a semicolon within the report", "XKLD 251153Z 00000KT CAVOK; M38/M42; A2992; 8200", "8200"},
		{"Australia's trend", "XKLD 251153Z 24012KT CAVOK M01/M10 Q1011 INTER 2000 SN", ""},
		{"no temperature, altimeter setting last", "XKLD 251153Z 00000KT 10SM CLR A2992 8200 7400", "8200|7400"},
		{"no temperature, no altimeter setting", "XKLD 251153Z 00000KT 10SM CLR 7400 800", "7400|800"},
		{"an altitude between sky and temperature", "XKLD 251153Z 00000KT 9999 CLR 7400 M38/M42", "7400"},
		{"a typed temperature behind the report", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 -36 M36 m3", "-36|M36|m3"},
		{"a second temperature group", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 M12/M14", "M12/M14"},
		{"labels that could be weather", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 GS 7400 DA 5340 IF 800", "GS|7400|DA|5340|IF|800"},
		{"weather that could be a label, in its place", "XKLD 251153Z 00000KT 5000 GS BR CLR M38/M42 A2992", ""},
		{"thousands, slashes, units", "XKLD 251153Z 00000KT 10SM CLR M38/M42, A2992; 8,200 8200/7400 2500m 800'", "8,200|8200/7400|2500m|800'"},
		{"a runway number", "XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992 rnav 31", "rnav|31"},
		{"a report over lines, a no-break space", "XKLD 251153Z\r\n\t00000KT 10SM\u00a0CLR\nM38/M42 A2992\n8200", "8200"},
		{"letters beyond ASCII keep offsets", "XKLD 251153Z 00000KT ıſé M38/M42 q1013 é 7400", "ıſé|é|7400"},
		{"more altimeter settings than one", "XKLD 251153Z Q1013 Q1014 8200", "8200"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, left := mustMetar(t, c.text)
			var got []string
			for _, l := range left {
				if c.text[l.Start:l.End] != l.Text {
					t.Errorf("%q: %d:%d is %q, not %q", c.text, l.Start, l.End, c.text[l.Start:l.End], l.Text)
				}
				got = append(got, l.Text)
			}
			if strings.Join(got, "|") != c.want {
				t.Errorf("%q: left over %q, want %q", c.text, strings.Join(got, "|"), c.want)
			}
		})
	}
}

func at(s string) time.Time {
	t, err := time.Parse(time.RFC3339, s)
	if err != nil {
		panic(err)
	}
	return t
}

// TestIssued: the months are the calendar's; the hour's allowance is the
// rule of Issued.
func TestIssued(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, time, at, want string }{
		{"today", "251153Z", "2026-01-25T12:30:00Z", "2026-01-25T11:53:00Z"},
		{"an hour ahead of the reader's clock", "251330Z", "2026-01-25T12:30:00Z", "2026-01-25T13:30:00Z"},
		{"a minute more is last month", "251331Z", "2026-01-25T12:30:00Z", "2025-12-25T13:31:00Z"},
		{"yesterday, over a month end", "312350Z", "2026-02-01T00:10:00Z", "2026-01-31T23:50:00Z"},
		{"ahead, over a month end", "010010Z", "2026-01-31T23:50:00Z", "2026-02-01T00:10:00Z"},
		{"the 31st, read on the 1st of a month after a short one", "311200Z", "2026-07-01T12:00:00Z", "2026-05-31T12:00:00Z"},
		{"the 30th, read in March", "301200Z", "2026-03-15T12:00:00Z", "2026-01-30T12:00:00Z"},
		{"29 February", "291200Z", "2024-03-01T12:00:00Z", "2024-02-29T12:00:00Z"},
		{"no 29 February", "291200Z", "2026-03-01T12:00:00Z", "2026-01-29T12:00:00Z"},
		{"over a year end", "312350Z", "2026-01-01T00:10:00Z", "2025-12-31T23:50:00Z"},
		{"read in another zone", "251153Z", "2026-01-25T22:30:00+10:00", "2026-01-25T11:53:00Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			m, _ := mustMetar(t, "XKLD "+c.time)
			got := m.Issued(at(c.at))
			if got.Format(time.RFC3339) != c.want {
				t.Errorf("%s at %s: got %v, want %s", c.time, c.at, got, c.want)
			}
		})
	}
	if got := (Metar{}).Issued(at("2026-01-25T12:30:00Z")); !got.IsZero() {
		t.Errorf("no time: got %v, want the zero time", got)
	}
}

func TestLooksLike(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]bool{
		"XKLD 251153Z 00000KT 10SM CLR M38/M42 A2992": true,
		"8200 7400; xkld 251153z auto m38/m42":        true,
		"metar xkld":                                  true,
		"XKLD M38/M42 A2992":                          true,
		"XKLD 02006KT":                                true,
		"XKLD -38 8200 7400 5340":                     false,
		"-38 elev 4802: 8200/7400/5340":               false,
		"XKLD M38/M42 8200":                           false,
		"XKLD 251100Z 2512/2612 00000KT TNM15/2610Z":  false,
		"TAF XKLD 251100Z NIL":                        false,
		"":                                            false,
	} {
		if got := LooksLikeMetar(text); got != want {
			t.Errorf("LooksLikeMetar(%q) is %v", text, got)
		}
	}
	for word, want := range map[string]bool{
		"251153Z": true, "251153z,": true, "251153": false, "251153ZZ": false,
		"321153Z": false, "252400Z": false, "25115ZZ": false, "": false,
	} {
		if got := IsReportTime(word); got != want {
			t.Errorf("IsReportTime(%q) is %v", word, got)
		}
	}
}

// TestMetarRoundTrip: a report written from values gives the values back.
func TestMetarRoundTrip(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := drawMetar(t)
		m.Raw = m.write()
		got, left, err := ParseMetar(m.Raw)
		if err != nil || len(left) != 0 || got != m {
			t.Fatalf("%q:\ngot  %+v, left %v, %v\nwant %+v", m.Raw, got, left, err, m)
		}
		lower, _, err := ParseMetar(strings.ToLower(m.Raw))
		lower.Raw = m.Raw
		if err != nil || lower != m {
			t.Fatalf("%q in lower case: got %+v, %v", m.Raw, lower, err)
		}
	})
}
