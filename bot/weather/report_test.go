package weather_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/weather"
	"firn/engine"
)

func at(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		panic(err)
	}
	return t
}

// noon is when the tests' reports are read.
var noon = at("2026-01-25T12:00:00Z")

func board(t *testing.T, reports ...string) *weather.Board {
	t.Helper()
	b := &weather.Board{}
	for _, text := range reports {
		for _, r := range weather.Split(text) {
			_ = b.Add(r, "test", noon, noon) // the tests look at what the board says
		}
	}
	return b
}

func TestBoardObservation(t *testing.T) {
	t.Parallel()
	const none, blank = "none", "blank"
	for _, c := range []struct {
		name    string
		reports []string
		want    string // the raw text; none; or an error's words
		c       engine.Celsius
	}{
		{"one", []string{"METAR XKLD 251153Z M38/M42"}, "METAR XKLD 251153Z M38/M42", -38},
		{"T group colder than the body", []string{"XKLD 251153Z M38/M42 RMK T13821422"}, "XKLD 251153Z M38/M42 RMK T13821422", -38.2},
		{"newest wins, first", []string{"METAR XKLD 251153Z M38/", "METAR XKLD 251053Z M37/"}, "METAR XKLD 251153Z M38/", -38},
		{"newest wins, last", []string{"METAR XKLD 251053Z M37/", "METAR XKLD 251153Z M38/"}, "METAR XKLD 251153Z M38/", -38},
		{"over a month's end", []string{"METAR XKLD 311153Z M37/", "METAR XKLD 251153Z M38/"}, "METAR XKLD 251153Z M38/", -38},
		{"of two of one time the colder, last", []string{"METAR XKLD 251153Z 05/", "METAR XKLD 251153Z M29/"}, "METAR XKLD 251153Z M29/", -29},
		{"of two of one time the colder, first", []string{"METAR XKLD 251153Z M29/", "METAR XKLD 251153Z 05/"}, "METAR XKLD 251153Z M29/", -29},
		{"corrected beats the original, last", []string{"METAR XKLD 251153Z M38/", "METAR COR XKLD 251153Z M36/"}, "METAR COR XKLD 251153Z M36/", -36},
		{"corrected beats the original, first", []string{"METAR COR XKLD 251153Z M36/", "METAR XKLD 251153Z M38/"}, "METAR COR XKLD 251153Z M36/", -36},
		{"NIL does not hide the one before", []string{"METAR XKLD 251053Z M37/", "METAR XKLD 251153Z NIL"}, "METAR XKLD 251053Z M37/", -37},
		{"no temperature does not either", []string{"METAR XKLD 251053Z M37/", "METAR XKLD 251153Z 24012KT /////"}, "METAR XKLD 251053Z M37/", -37},
		{"no temperature alone", []string{"SPECI XKLD 251153Z 24012KT 1/2SM SN A2992"}, blank, 0},
		{"NIL alone", []string{"METAR XKLD 251153Z NIL"}, blank, 0},
		{"another station", []string{"METAR XRUN 251153Z M38/"}, none, 0},
		{"a TAF", []string{"TAF XKLD 251130Z 2512/2612 TNM31/2518Z"}, none, 0},
		{"no such time", []string{"METAR XKLD 459999Z M38/"}, "no day and time", 0},
		{"a broken one beside a good one", []string{"METAR XKLD 459999Z M40/", "METAR XKLD 251153Z M38/"}, "METAR XKLD 251153Z M38/", -38},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			o, err := board(t, c.reports...).Observation("xkld")
			switch {
			case c.want == none, c.want == blank:
				if !errors.Is(err, weather.ErrNone) || errors.Is(err, weather.ErrNoTemperature) != (c.want == blank) {
					t.Errorf("got %+v, %v, want ErrNone", o, err)
				}
			case !strings.Contains(c.want, "XKLD"):
				if err == nil || errors.Is(err, weather.ErrNone) || !strings.Contains(err.Error(), c.want) {
					t.Errorf("got %+v, %v, want an error with %q", o, err, c.want)
				}
			case err != nil || o.Raw != c.want || o.C != c.c || o.Source != "METAR (test)" || !o.Received.Equal(noon):
				t.Errorf("got %+v, %v, want %q, %v", o, err, c.want, c.c)
			}
		})
	}
}

func TestBoardForecast(t *testing.T) {
	t.Parallel()
	const (
		original  = "TAF XKLD 251100Z 2512/2612 24012KT TXM22/2518Z TNM31/2610Z"
		amended   = "TAF AMD XKLD 251100Z 2512/2612 24012KT TNM33/2610Z"
		later     = "TAF XKLD 251130Z 2512/2612 24012KT TNM35/2610Z"
		cancelled = "TAF AMD XKLD 251140Z 2512/2612 CNL"
		samples   = "US civil TAFs carry none"
	)
	for _, c := range []struct {
		name    string
		reports []string
		raw     string
		lows    []engine.Celsius
	}{
		{"one", []string{original}, original, []engine.Celsius{-31}},
		{"amended of the same time", []string{amended, original}, amended, []engine.Celsius{-33}},
		{"the later", []string{later, amended, original}, later, []engine.Celsius{-35}},
		{"cancelled", []string{later, cancelled}, "", nil},
		{"cancelled, first in the file", []string{cancelled, later}, "", nil},
		{"missing", []string{later, "TAF XKLD 251145Z NIL"}, "", nil},
		{"valid again", []string{cancelled, "TAF XKLD 251150Z 2512/2612 TNM30/2610Z"}, "TAF XKLD 251150Z 2512/2612 TNM30/2610Z", []engine.Celsius{-30}},
		{samples, []string{"TAF XKLD 251120Z 2512/2612 24012KT P6SM FM251800 VRB03KT"}, "TAF XKLD 251120Z 2512/2612 24012KT P6SM FM251800 VRB03KT", nil},
		{"two minimums", []string{"TAF XKLD 251100Z 2512/2618 TNM31/2514Z TNM33/2614Z"}, "TAF XKLD 251100Z 2512/2618 TNM31/2514Z TNM33/2614Z", []engine.Celsius{-31, -33}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f, err := board(t, c.reports...).Forecast("XKLD")
			if c.raw == "" {
				if !errors.Is(err, weather.ErrNone) {
					t.Errorf("got %+v, %v, want ErrNone", f, err)
				}
				return
			}
			var lows []engine.Celsius
			for _, s := range f.Minimums {
				lows = append(lows, s.C)
			}
			if err != nil || f.Raw != c.raw || !slices.Equal(lows, c.lows) || f.Hourly != nil || f.Source != "TAF (test)" {
				t.Errorf("got %+v, %v, want %q, %v", f, err, c.raw, c.lows)
			}
		})
	}
	if _, err := board(t, "TAF XKLD 251100Z 2512/2612 TNM31/9999Z").Forecast("XKLD"); err == nil || errors.Is(err, weather.ErrNone) {
		t.Errorf("an unreadable minimum: got %v, want an error that is not ErrNone", err)
	}
}

func TestSplit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, text string
		want       []string
		tafs       int
	}{
		{"nothing", "\n \n# METAR XKLD 251153Z M38/\n", nil, 0},
		{"prose", "This folder is for weather.\nPlease drop files here.\n", nil, 0},
		{"one a line", "METAR XKLD 251153Z M38/M42\nXRUN 251153Z M30/M33\r\nTAF XKLD 251130Z 2512/2612\n",
			[]string{"METAR XKLD 251153Z M38/M42", "XRUN 251153Z M30/M33", "TAF XKLD 251130Z 2512/2612"}, 1},
		{"wrapped", "TAF XKLD 251130Z 2512/2612\n      FM251800 VRB03KT P6SM\n      TNM31/2610Z=\nXRUN 251153Z M30/M33\n",
			[]string{"TAF XKLD 251130Z 2512/2612 FM251800 VRB03KT P6SM TNM31/2610Z=", "XRUN 251153Z M30/M33"}, 1},
		{"words after an equals sign", "METAR XKLD 251153Z M38/M42=\nthe end\n", []string{"METAR XKLD 251153Z M38/M42="}, 0},
		{"bulletin of METAR", "000 \nSAXX70 XKWB 251200 RRA\nMETAR\nXKLD 251153Z M38/M42=\nXRUN 251153Z NIL=\n",
			[]string{"METAR XKLD 251153Z M38/M42=", "XRUN 251153Z NIL="}, 0},
		{"bulletin of TAF", "FTXX80 XKWB 251140 AAA\nTAF AMD\nXKLD 251130Z 2512/2612 24012KT\n  TNM31/2610Z=\nXRUN 251130Z NIL=\n\nSAXX70 XKWB 251200\nXKLD 251153Z M38/M42=\n",
			[]string{"TAF AMD XKLD 251130Z 2512/2612 24012KT TNM31/2610Z=", "TAF XRUN 251130Z NIL=", "XKLD 251153Z M38/M42="}, 2},
		{"TAF word twice", "TAF\nTAF XKLD 251130Z 2512/2612\n", []string{"TAF XKLD 251130Z 2512/2612"}, 1},
		{"several on a line, with nothing between them", "METAR XKLD 251153Z 24012KT M38/M42 METAR COR XRUN 251155Z M20/M22 TAF AMD XSLT 251130Z 2512/2612 TNM31/2610Z\nXKLD 251153Z AUTO 24012KT M38/M42 XRUN 251155Z VRB03KT M20/M22\n",
			[]string{"METAR XKLD 251153Z 24012KT M38/M42", "METAR COR XRUN 251155Z M20/M22", "TAF AMD XSLT 251130Z 2512/2612 TNM31/2610Z", "XKLD 251153Z AUTO 24012KT M38/M42", "XRUN 251155Z VRB03KT M20/M22"}, 1},
		{"a time in what a report says", "TAF XKLD 251130Z 2512/2612 24012KT AMDS NEXT 251800Z TNM31/2610Z\nAMD XRUN 251130Z 2512/2612\n",
			[]string{"TAF XKLD 251130Z 2512/2612 24012KT AMDS NEXT 251800Z TNM31/2610Z", "AMD XRUN 251130Z 2512/2612"}, 1},
		{"a comment with one in it", "# as METAR XKLD 251153Z 24012KT M38/M42= METAR XRUN 251153Z 24012KT M38/M42\n", nil, 0},
		{"lower case", "metar xkld 251153z m38/m42\n", []string{"metar xkld 251153z m38/m42"}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			var got []string
			tafs := 0
			for _, r := range weather.Split(c.text) {
				got = append(got, r.Text)
				if r.Taf {
					tafs++
				}
			}
			if !slices.Equal(got, c.want) || tafs != c.tafs {
				t.Errorf("got %q with %d TAF, want %q with %d", got, tafs, c.want, c.tafs)
			}
		})
	}
}

func FuzzSplit(f *testing.F) {
	f.Add("FTXX80 XKWB 251140 AAA\nTAF AMD\nXKLD 251130Z 2512/2612 24012KT\n  TNM31/2610Z=\nXRUN 251130Z NIL=\n")
	f.Add("METAR XKLD 251153Z M38/M42\n#\n=\nSPECI\n\nTAF\nTAF\n")
	f.Fuzz(func(t *testing.T, text string) {
		b := &weather.Board{}
		for _, r := range weather.Split(text) {
			if r.Text == "" || strings.ContainsAny(r.Text, "\n\r") || r.Line < 1 {
				t.Errorf("%q: report %+v", text, r)
			}
			_ = b.Add(r, "test", noon, noon)
		}
		_, _ = b.Observation("XKLD")
		_, _ = b.Forecast("XKLD")
	})
}

// TestTypedTime is when something was observed that was typed at 14:40.
func TestTypedTime(t *testing.T) {
	t.Parallel()
	now := at("2026-01-25T14:40:00Z")
	for _, c := range []struct {
		day, hour, minute int
		want              string // empty: it is asked about
	}{
		{0, 14, 30, "2026-01-25T14:30:00Z"},
		{0, 14, 45, "2026-01-25T14:45:00Z"}, // a clock that is ahead
		{0, 14, 46, ""},                     // ahead of the clock
		{0, 2, 39, ""},                      // nearer ahead than behind
		{0, 2, 40, "2026-01-25T02:40:00Z"},
		{25, 15, 0, ""},
		{26, 14, 0, ""},
		{28, 14, 0, ""},
		{24, 23, 0, "2026-01-24T23:00:00Z"},
		{20, 14, 30, ""},
	} {
		got, wrong := weather.TypedTime(c.day, c.hour, c.minute, now)
		if (wrong == "") != (c.want != "") || wrong == "" && !got.Equal(at(c.want)) {
			t.Errorf("%02d %02d:%02d: got %v, %q, want %q", c.day, c.hour, c.minute, got, wrong, c.want)
		}
	}
}
