package wxreport

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"
)

// brief writes extremes as the tables below do.
func brief(extremes []Extreme) string {
	var w []string
	for _, e := range extremes {
		kind := "min"
		if e.Max {
			kind = "max"
		}
		w = append(w, fmt.Sprintf("%s %v %s", kind, e.C, e.At.Format("01-02 15")))
	}
	return strings.Join(w, ", ")
}

func TestExtremes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, at, want string }{
		// Source: Hong Kong practice, one TX and one TN at the end of the base
		// group (reference for the two groups: 32/2506, 27/2522).
		{"Hong Kong, before the change groups", "TAF XHHH 242300Z 2500/2606 09010KT 9999 FEW020 TX32/2506Z TN27/2522Z TEMPO 2500/2506 SHRA",
			"2026-07-25T00:30:00Z", "max 32 07-25 06, min 27 07-25 22"},
		// Source: the same, the form before November 2008.
		{"without a day, pre-2008 form", "TAF XHHH 242300Z 2500/2600 09010KT TX32/06Z TN27/22Z",
			"2026-07-25T00:30:00Z", "max 32 07-25 06, min 27 07-25 22"},
		{"without a day, the hour of the start is the first", "TAF XKLD 242300Z 2506/2606 TX32/06Z TN27/05Z TN26/24",
			"2026-07-25T00:30:00Z", "max 32 07-25 06, min 27 07-26 05, min 26 07-26 00"},
		// Source: WMO FM 51, M for below zero.
		{"WMO FM 51, below zero", "TAF XKLD 131100Z 1312/1418 TXM05/1318Z TNM15/1410Z",
			"2026-01-13T12:00:00Z", "max -5 01-13 18, min -15 01-14 10"},
		{"M00 and 00", "TAF XKLD 131100Z 1312/1418 TXM00/1318Z TN00/1410Z",
			"2026-01-13T12:00:00Z", "max 0 01-13 18, min 0 01-14 10"},
		// Source: US military practice, the pair behind the last change group.
		{"US military, behind the last change group", "TAF XKLD 120700Z 1207/1313 VRB06KT 9999 SKC QNH2992INS BECMG 1212/1213 20015KT 9999 SKC QNH2998INS TX42/1223Z TN24/1313Z",
			"2026-07-12T08:00:00Z", "max 42 07-12 23, min 24 07-13 13"},
		// Source: WMO FM 51 model note, two maximums and two minimums.
		{"two of each, minimum first", "TAF XKLD 042300Z 0500/0606 TN27/0520Z TX37/0506Z TN26/0604Z TX36/0606Z",
			"2026-08-05T00:00:00Z", "min 27 08-05 20, max 37 08-05 06, min 26 08-06 04, max 36 08-06 06"},
		{"some before a change group, some behind", "TAF XKLD 131100Z 1312/1418 TX02/1318Z BECMG 1400/1402 SKC TNM15/1410Z RMK TNM14/1412Z",
			"2026-01-13T12:00:00Z", "max 2 01-13 18, min -15 01-14 10, min -14 01-14 12"},
		// As RKSS 212030Z of the corpus, an amendment that shortened the start.
		{"outside the validity, kept as written", "TAF AMD XKSS 212030Z 2121/2224 TN25/2118Z",
			"2026-08-21T21:00:00Z", "min 25 08-21 18"},
		{"hour 24", "TAF XKLD 301800Z 3018/3124 TNM05/3124Z",
			"2026-12-30T19:00:00Z", "min -5 01-01 00"},
		{"over a month end", "TAF XKLD 311800Z 3118/0206 TXM05/0104Z TNM09/3120Z",
			"2026-01-31T19:00:00Z", "max -5 02-01 04, min -9 01-31 20"},
		{"trailing Z missing, lower case, an equals sign", "taf xkld 080500z 0806/0910 txm08/0910z tnm11/0904=",
			"2026-01-08T06:00:00Z", "max -8 01-09 10, min -11 01-09 04"},
		// Source: Australia's list, temperatures every three hours after T.
		{"Australia's list is none", "TAF XWLM 020000Z 0200/0224 18010KT CAVOK RMK T 25 26 M02 21 Q 1013 1012 1011 1010",
			"2026-01-02T01:00:00Z", ""},
		{"words that begin like one", "TAF TNCA 281600Z 2818/2918 TXT TNM TX TN T",
			"2026-01-28T17:00:00Z", ""},
		{"behind an equals sign is another report", "TAF XKLD 131100Z 1312/1418 TX02/1318Z= TAF XRUN 131100Z 1312/1418 TNM15/1410Z=",
			"2026-01-13T12:00:00Z", "max 2 01-13 18"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := ParseTaf(c.text, at(c.at))
			if err != nil || brief(got.Extremes) != c.want {
				t.Errorf("%q: got %q, %v, want %q", c.text, brief(got.Extremes), err, c.want)
			}
		})
	}
}

func TestTafTimes(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, at, want string }{
		// Source: NWS, 0500/0524: hour 24 at the end is 00 of the next day.
		{"NWS 0500/0524, hour 24", "TAF KXXX 042330Z 0500/0524", "2026-01-05T01:00:00Z", "01-04 23:30 01-05 00 01-06 00"},
		// Source: NWS, 0500/0606: thirty hours.
		{"NWS 0500/0606, thirty hours", "TAF KXXX 042330Z 0500/0606", "2026-01-05T01:00:00Z", "01-04 23:30 01-05 00 01-06 06"},
		// Source: NWS, the amendment shortens the start and not the end.
		{"NWS 1412/1512", "TAF KXXX 141136Z 1412/1512", "2026-01-14T12:00:00Z", "01-14 11:36 01-14 12 01-15 12"},
		{"NWS 1414/1512, its amendment", "TAF AMD KXXX 141409Z 1414/1512", "2026-01-14T15:00:00Z", "01-14 14:09 01-14 14 01-15 12"},
		{"issued late on the last day of a month", "TAF KXXX 312330Z 0100/0206", "2026-02-01T01:00:00Z", "01-31 23:30 02-01 00 02-02 06"},
		{"over 29 February", "TAF KXXX 282330Z 2900/0106", "2024-02-29T01:00:00Z", "02-28 23:30 02-29 00 03-01 06"},
		{"over the end of a common February", "TAF KXXX 282330Z 0100/0206", "2026-03-01T01:00:00Z", "02-28 23:30 03-01 00 03-02 06"},
		{"begins before its issue", "TAF AMD KXXX 141409Z 1412/1512", "2026-01-14T15:00:00Z", "01-14 14:09 01-14 12 01-15 12"},
		{"begins before its issue, over a month end", "TAF AMD KXXX 010010Z 3118/0124", "2026-02-01T01:00:00Z", "02-01 00:10 01-31 18 02-02 00"},
		// As DNMM 121100Z of the corpus.
		{"begins the day before its issue", "TAF DNMM 121100Z 1112/1318", "2026-01-12T12:00:00Z", "01-12 11:00 01-11 12 01-13 18"},
		{"no issue time", "TAF XKLD 0100/0206", "2026-01-31T22:00:00Z", "none 02-01 00 02-02 06"},
		{"issue time without its Z", "TAF XKLD 311130 3112/0112", "2026-01-31T22:00:00Z", "01-31 11:30 01-31 12 02-01 12"},
		{"old validity", "TAF XKLD 311100Z 311221", "2006-01-31T12:00:00Z", "01-31 11:00 01-31 12 01-31 21"},
		{"old validity, into the next day", "TAF XKLD 311100Z 311812", "2006-01-31T12:00:00Z", "01-31 11:00 01-31 18 02-01 12"},
		{"old validity, a whole day", "TAF XKLD 301130Z 311212", "2006-01-30T12:00:00Z", "01-30 11:30 01-31 12 02-01 12"},
		{"old validity, hour 24", "TAF XKLD 302330Z 310024", "2006-01-31T00:00:00Z", "01-30 23:30 01-31 00 02-01 00"},
		{"old validity, no issue time", "TAF XKLD 311812 24012KT", "2006-01-31T12:00:00Z", "none 01-31 18 02-01 12"},
		{"NIL", "TAF XKLD 311100Z NIL", "2026-01-31T12:00:00Z", "01-31 11:00 none none"},
		// As LFMT 032244Z of the corpus.
		{"cancelled, a validity that ends before it begins", "TAF LFMT 032244Z 0318/0206 CNL", "2026-01-04T00:00:00Z", "01-03 22:44 none none"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := ParseTaf(c.text, at(c.at))
			form := func(layout string, t time.Time) string {
				if t.IsZero() {
					return "none"
				}
				return t.Format(layout)
			}
			have := form("01-02 15:04", got.Issued) + " " + form("01-02 15", got.ValidFrom) + " " + form("01-02 15", got.ValidTo)
			if err != nil || have != c.want || got.HasIssue == got.Issued.IsZero() {
				t.Errorf("%q at %s: got %s, %v, want %s", c.text, c.at, have, err, c.want)
			}
		})
	}
}

func TestTafFlags(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, want string }{
		// Source: WMO FM 51 note 5, amended, corrected, cancelled, missing.
		{"plain", "TAF XKLD 251100Z 2512/2612", ""},
		{"AMD", "TAF AMD XKLD 251100Z 2512/2612", "AMD"},
		{"COR", "TAF COR XKLD 251100Z 2512/2612", "COR"},
		{"CNL with the validity, no body", "TAF AMD XKLD 251100Z 2512/2612 CNL", "AMD CNL"},
		{"CNL without a validity", "TAF XKLD 251100Z CNL", "CNL"},
		{"NIL", "TAF XKLD 251100Z NIL=", "NIL"},
		{"both, either order", "TAF AMD COR XKLD 251100Z 2512/2612", "AMD COR"},
		{"both, the other order", "TAF COR AMD XKLD 251100Z 2512/2612", "AMD COR"},
		{"doubled", "TAF COR TAF COR XKLD 251100Z 2512/2612", "COR"},
		{"TAF twice", "TAF TAF XKLD 251100Z 2512/2612", ""},
		{"TAF COR TAF", "TAF COR TAF XKLD 251100Z 2512/2612", "COR"},
		{"behind the station", "TAF XKLD AMD 251100Z 2512/2612", "AMD"},
		{"without the word TAF", "AMD XKLD 251100Z 2512/2612", "AMD"},
		// Source: AIM 7-1, part-time sites.
		{"AMD NOT SKED", "TAF XKLD 251100Z 2512/2612 24012KT P6SM SKC AMD NOT SKED AFT 260300", ""},
		{"AMD NOT SKED at once", "TAF XKLD 251100Z 2512/2612 AMD NOT SKED", ""},
		{"COR in a remark", "TAF XKLD 251100Z 2512/2612 SKC RMK COR", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			taf, err := ParseTaf(c.text, at("2026-01-25T12:00:00Z"))
			var got []string
			for i, on := range []bool{taf.Amended, taf.Corrected, taf.Cancelled, taf.Nil} {
				if on {
					got = append(got, []string{"AMD", "COR", "CNL", "NIL"}[i])
				}
			}
			if err != nil || strings.Join(got, " ") != c.want || taf.Ident != "XKLD" {
				t.Errorf("%q: got %s %q, %v, want %q", c.text, taf.Ident, got, err, c.want)
			}
		})
	}
}

func TestLowestQNH(t *testing.T) {
	t.Parallel()
	// Source of the group: US Navy P-304.
	taf, err := ParseTaf("TAF XKLD 251700Z 2517/2623 SKC QNH2981INS BECMG 2521/2522 SKC QNH2975INS BECMG 2618/2619 SKC QNH2980INS",
		at("2026-01-25T18:00:00Z"))
	if err != nil || taf.LowestQNH != 29.75 {
		t.Errorf("got %v, %v, want 29.75", taf.LowestQNH, err)
	}
}

func TestTafErrors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, text, word string }{
		{"empty", "", ""},
		{"the word alone", "TAF", ""},
		{"no station", "TAF 251100Z 2512/2612", "251100Z"},
		{"no validity", "TAF XKLD 251100Z 24012KT", "24012KT"},
		{"no validity, nothing else", "TAF XKLD 251100Z", ""},
		{"no such day", "TAF XKLD 251100Z 3212/0112", "3212/0112"},
		{"no such hour", "TAF XKLD 251100Z 2512/2625", "2512/2625"},
		{"no such issue time", "TAF XKLD 252500Z 2512/2612", "252500Z"},
		{"ends before it begins", "TAF XKLD 251100Z 2512/2412 SKC", "2512/2412"},
		{"a minimum with no such day", "TAF XKLD 251100Z 2512/2612 TNM15/3210Z", "TNM15/3210Z"},
		{"a minimum with no such hour", "TAF XKLD 251100Z 2512/2612 TNM15/2625Z", "TNM15/2625Z"},
		{"a minimum with a letter in it", "TAF XKLD 251100Z 2512/2612 tnm15/26o4z", "tnm15/26o4z"},
		{"a minimum of three figures", "TAF XKLD 251100Z 2512/2612 TNM150/2604Z", "TNM150/2604Z"},
		{"a minimum without its time", "TAF XKLD 251100Z 2512/2612 TNM15", "TNM15"},
		{"a second minimum cut in two", "TAF XKLD 251100Z 2512/2618 TNM15/2604Z TXM10/2521Z TN M30/2610Z", "M30/2610Z"},
		{"a second minimum cut at its stroke", "TAF XKLD 251100Z 2512/2618 TNM15/2604Z TN M30 /2610Z", "/2610Z"},
		{"a second minimum with its letters changed", "TAF XKLD 251100Z 2512/2618 TNM15/2604Z NTM30/2610Z", "NTM30/2610Z"},
		{"a minimum with a minus", "TAF XKLD 251100Z 2512/2618 TX10/2521Z T-30/2610Z", "T-30/2610Z"},
		{"a minimum with another script's letter", "TAF XKLD 251100Z 2512/2618 TX10/2521Z \u0422NM30/2610Z", "\u0422NM30/2610Z"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			got, err := ParseTaf(c.text, at("2026-01-25T12:00:00Z"))
			e, ok := errors.AsType[*Error](err)
			if !ok || e.Word != c.word || e.Text == "" || !sameTaf(got, Taf{}) {
				t.Errorf("%q: got %+v %#v, want an error about %q", c.text, got, err, c.word)
			}
		})
	}
}
