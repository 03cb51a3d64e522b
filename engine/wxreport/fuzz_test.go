package wxreport

import (
	"encoding/json"
	"math"
	"testing"
	"time"
)

// nasty are texts near the edges of the grammar.
var nasty = []string{
	"", " ", "=", "TAF", "METAR", "XKLD", "XKLD =", "XKLD 251153Z=", "\u00a0\xc2", "XKLD 251153Z \xc2\xa0\xff M/M //",
	"XKLD 000000Z", "312359Z R/ R04/ R W S VV /// M / T 1 2 4 A Q RMK T 1 2 4 A T1 T1999M",
	"XKLD 251153Z 1 1/4SM M1/4SM 2 TEMPO 2 FM TL1200 9999 9999 WS R0 WS", "XKLD Q1013 RMK 4//// T//// 1////",
	"TAF TAF AMD XKLD 3124/0100 TX/ TNM/24 TN00/ TXM00/24Z", "TAF XKLD 290000Z 2924/3024 TX99/3124Z TNM99/0100",
	"TAF XKLD 999999 0000/0000", "TAF XKLD CNL TNM05/2904Z", "TAF XKLD 010000Z 310000 TX01/24",
}

func seed[T any](f *testing.F, file string, raw func(T) string) {
	for i, r := range rows[T](f, file) {
		if i%40 == 0 {
			f.Add(raw(r), int64(0))
		}
	}
}

func seedAll(f *testing.F) {
	seed(f, "metar.ref.jsonl", func(r metarRow) string { return r.Raw })
	seed(f, "taf.ref.jsonl", func(r tafRow) string { return r.Raw })
	for _, text := range nasty {
		f.Add(text, int64(1)<<40)
	}
}

// readAt spreads the fuzzer's number over the years 2000 to 2099.
func readAt(n int64) time.Time {
	const century = int64(100 * 365 * 24 * 60 * 60)
	return time.Date(2000, time.January, 1, 0, 0, 0, 0, time.UTC).Add(time.Duration((n%century+century)%century) * time.Second)
}

func inRange(t *testing.T, text string, temps ...Temp) {
	t.Helper()
	for _, x := range temps {
		if x.OK && (x.C < -99.9 || x.C > 99.9) || !x.OK && x.C != 0 {
			t.Errorf("%q: temperature %v", text, x)
		}
	}
}

func FuzzMetar(f *testing.F) {
	seedAll(f)
	f.Fuzz(func(t *testing.T, text string, n int64) {
		LooksLikeMetar(text)
		m, left, err := ParseMetar(text)
		if err != nil {
			if e, ok := err.(*Error); !ok || e.Text == "" {
				t.Errorf("%q: error %#v", text, err)
			}
			return
		}
		end := 0
		for _, l := range left {
			if l.Start < end || l.End <= l.Start || l.End > len(text) || text[l.Start:l.End] != l.Text {
				t.Fatalf("%q: left over %+v behind %d", text, l, end)
			}
			end = l.End
		}
		inRange(t, text, m.Body, m.Dewpoint, m.Tenths, m.TenthsDewpoint, m.Max6, m.Min6, m.Max24, m.Min24)
		if float64(m.Body.C) != math.Trunc(float64(m.Body.C)) {
			t.Errorf("%q: body %v is no whole degree", text, m.Body)
		}
		if m.AltimeterHPa < 0 || m.AltimeterHPa > 9999 || m.AltimeterInHg < 0 || m.AltimeterInHg > 99.99 {
			t.Errorf("%q: altimeter setting %v %v", text, m.AltimeterHPa, m.AltimeterInHg)
		}
		at := readAt(n)
		issued := m.Issued(at)
		if m.HasTime && (issued.IsZero() || issued.After(at.Add(time.Hour)) || at.Sub(issued) > 62*24*time.Hour ||
			issued.Day() != m.Day || issued.Hour() != m.Hour || issued.Minute() != m.Minute || issued.Second() != 0) {
			t.Errorf("%q at %v: issued %v", text, at, issued)
		}
	})
}

func FuzzTaf(f *testing.F) {
	seedAll(f)
	f.Fuzz(func(t *testing.T, text string, n int64) {
		at := readAt(n)
		taf, err := ParseTaf(text, at)
		if err != nil {
			if e, ok := err.(*Error); !ok || e.Text == "" {
				t.Errorf("%q: error %#v", text, err)
			}
			return
		}
		if taf.Ident == "" || taf.HasIssue == taf.Issued.IsZero() {
			t.Errorf("%q: %+v", text, taf)
		}
		if taf.ValidFrom.IsZero() != taf.ValidTo.IsZero() || taf.ValidFrom.After(taf.ValidTo) ||
			taf.ValidFrom.IsZero() && !taf.Nil && !taf.Cancelled {
			t.Errorf("%q: valid %v to %v", text, taf.ValidFrom, taf.ValidTo)
		}
		for _, when := range []time.Time{taf.ValidFrom, taf.ValidTo} {
			if !when.Equal(when.Truncate(time.Hour)) {
				t.Errorf("%q: %v is no whole hour", text, when)
			}
		}
		for _, e := range taf.Extremes {
			inRange(t, text, Temp{e.C, true})
			if e.At.IsZero() || !e.At.Equal(e.At.Truncate(time.Hour)) {
				t.Errorf("%q: extreme at %v", text, e.At)
			}
		}
	})
}

func FuzzDecode(f *testing.F) {
	seedAll(f)
	f.Fuzz(func(t *testing.T, line string, n int64) {
		d := Decode(line, readAt(n))
		text, err := json.Marshal(d)
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		var back struct {
			Kind     string
			Issued   *time.Time
			Extremes []DecodedExtreme
			Problem  *Problem
		}
		if err := json.Unmarshal(text, &back); err != nil {
			t.Fatalf("%q: %s: %v", line, text, err)
		}
		switch d.Kind {
		case "metar", "taf":
			if d.Problem != nil || back.Issued != nil && back.Issued.Second() != 0 {
				t.Errorf("%q: %s", line, text)
			}
		case "error":
			if d.Problem == nil || d.Problem.Text == "" {
				t.Errorf("%q: %s", line, text)
			}
		default:
			t.Errorf("%q: kind %q", line, d.Kind)
		}
	})
}
