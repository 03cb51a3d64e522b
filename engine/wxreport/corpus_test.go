package wxreport

import (
	"bufio"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"firn/engine"
)

// The corpora are described in testdata/wx/README.md: real reports, and what
// plain rules read in them, checked against two other decoders.

type metarRow struct {
	Raw, Source string
	Time        *time.Time
	Text        struct {
		Station           string
		Day, Hour, Minute int
		Temperature       *float64
		Dewpoint          *float64
		TGroup            *struct{ Temperature, Dewpoint *float64 } `json:"t_group"`
	}
}

type tafExtreme struct {
	Temperature float64
	Day, Hour   int
	Time        *time.Time
}

type tafRow struct {
	Raw, Source string
	Issued      *time.Time
	Text        struct {
		Issue              struct{ Day, Hour, Minute int }
		Validity           *struct{ Start, End *time.Time }
		Amd, Cor, Cnl, Nil bool
		TX, TN             []tafExtreme
	}
}

// undated is the instant that reports without a date are read as of.
var undated = time.Date(2026, time.January, 15, 12, 59, 0, 0, time.UTC)

func rows[T any](tb testing.TB, file string) []T {
	tb.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "wx", file))
	if err != nil {
		tb.Fatal(err)
	}
	defer f.Close()
	var all []T
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var r T
		if err := json.Unmarshal(lines.Bytes(), &r); err != nil {
			tb.Fatalf("%s: %v in %s", file, err, lines.Text())
		}
		all = append(all, r)
	}
	if err := lines.Err(); err != nil {
		tb.Fatal(err)
	}
	return all
}

// disagreements compares what was found with what is explained: an
// unexplained difference fails, and so does an explanation that is no longer
// needed. The key is "raw text: field".
func disagreements(t *testing.T, found, explained map[string]string) {
	t.Helper()
	for key, what := range found {
		if explained[key] == "" {
			t.Errorf("unexplained: %s: %s", key, what)
		}
	}
	for key, why := range explained {
		if found[key] == "" {
			t.Errorf("explained but no longer different: %s (%s)", key, why)
		}
	}
}

func same(got Temp, want *float64) bool {
	if want == nil {
		return !got.OK
	}
	return got.OK && math.Abs(float64(got.C)-*want) < 1e-9 && (got.C != 0 || !math.Signbit(float64(got.C)))
}

func show(p *float64) string {
	if p == nil {
		return "none"
	}
	return fmt.Sprint(*p)
}

func TestMetarCorpus(t *testing.T) {
	all := rows[metarRow](t, "metar.ref.jsonl")
	if len(all) != 3356 {
		t.Fatalf("%d reports, want 3356", len(all))
	}
	found := map[string]string{}
	for _, r := range all {
		m, left, err := ParseMetar(r.Raw)
		if err != nil {
			found[r.Raw+": error"] = err.Error()
			continue
		}
		for _, l := range left {
			found[r.Raw+": left over"] += l.Text + " "
		}
		w := r.Text
		if m.Ident != w.Station {
			found[r.Raw+": station"] = m.Ident + ", want " + w.Station
		}
		if m.Day != w.Day || m.Hour != w.Hour || m.Minute != w.Minute || !m.HasTime {
			found[r.Raw+": time"] = fmt.Sprint(m.Day, m.Hour, m.Minute)
		}
		compare := func(field string, got Temp, want *float64) {
			if !same(got, want) {
				found[r.Raw+": "+field] = fmt.Sprintf("got %v, want %s", got, show(want))
			}
		}
		compare("temperature", m.Body, w.Temperature)
		compare("dew point", m.Dewpoint, w.Dewpoint)
		var tenths, dew *float64
		if w.TGroup != nil {
			tenths, dew = w.TGroup.Temperature, w.TGroup.Dewpoint
		}
		compare("tenths", m.Tenths, tenths)
		compare("tenths of the dew point", m.TenthsDewpoint, dew)
		// The two readings of one thermometer agree to the rounding of the
		// body group (AFMAN 15-111 remark 30).
		if m.Body.OK && m.Tenths.OK && math.Abs(float64(m.Body.C-m.Tenths.C)) > 0.5+1e-9 {
			found[r.Raw+": body against tenths"] = fmt.Sprint(m.Body.C, " ", m.Tenths.C)
		}
		// Likewise Japan's two altimeter settings: the hectopascal is cut off,
		// not rounded.
		if m.AltimeterHPa != 0 && m.AltimeterInHg != 0 {
			if off := m.AltimeterInHg.Hectopascals() - m.AltimeterHPa; off < -0.3 || off > 1.3 {
				found[r.Raw+": altimeter"] = fmt.Sprint(m.AltimeterInHg, " ", m.AltimeterHPa)
			}
		}
		if r.Time != nil {
			// The source's time is the observation's in the caches, the
			// fetch's in the answers: the report is the latest before it.
			at := r.Time.Truncate(time.Hour).Add(59 * time.Minute)
			got := m.Issued(at)
			exact := !strings.HasPrefix(r.Source, "awc-json")
			if exact && !got.Equal(*r.Time) || got.After(at.Add(time.Hour)) || at.Sub(got) > 36*time.Hour {
				found[r.Raw+": issued"] = fmt.Sprint(got, ", want ", *r.Time)
			}
		}
	}
	disagreements(t, found, metarExplained)
	t.Logf("%d of %d METAR as the reference, %d differences explained", len(all)-len(found), len(all), len(metarExplained))
}

var metarExplained = map[string]string{
	"SYCJ 180700Z 26004KT 4000 BR FEW010 22/22 Q1011 BR-ALQDS REFG NOSIG: left over":             "mist in all quadrants is plain language, no METAR group, so the caller is told of it",
	"KOSC 180754Z AUTO 30009KT 10SM OVC012 M03/M05 A3015 RMK AO2 T10361050: body against tenths": "the station's two groups differ by more than rounding: -3.6 is written M04; Temperature gives the colder",
}

func TestTafCorpus(t *testing.T) {
	all := rows[tafRow](t, "taf.ref.jsonl")
	if len(all) != 593 {
		t.Fatalf("%d forecasts, want 593", len(all))
	}
	found := map[string]string{}
	extremes := 0
	for _, r := range all {
		at := undated
		if r.Issued != nil {
			at = r.Issued.Truncate(time.Hour).Add(59 * time.Minute)
		}
		got, err := ParseTaf(r.Raw, at)
		if err != nil {
			found[r.Raw+": error"] = err.Error()
			continue
		}
		w := r.Text
		if got.Day != w.Issue.Day || got.Hour != w.Issue.Hour || got.Minute != w.Issue.Minute || !got.HasIssue {
			found[r.Raw+": issue"] = fmt.Sprint(got.Day, got.Hour, got.Minute)
		}
		if flags := [4]bool{got.Amended, got.Corrected, got.Cancelled, got.Nil}; flags != [4]bool{w.Amd, w.Cor, w.Cnl, w.Nil} {
			found[r.Raw+": flags"] = fmt.Sprint(flags)
		}
		if w.Validity == nil {
			if !got.ValidFrom.IsZero() || !got.ValidTo.IsZero() {
				found[r.Raw+": validity"] = "none wanted"
			}
		} else if w.Validity.Start != nil && (!got.ValidFrom.Equal(*w.Validity.Start) || !got.ValidTo.Equal(*w.Validity.End)) {
			found[r.Raw+": validity"] = fmt.Sprint(got.ValidFrom, got.ValidTo, ", want ", w.Validity.Start, w.Validity.End)
		}
		var highs, lows []Extreme
		for _, e := range got.Extremes {
			if e.Max {
				highs = append(highs, e)
			} else {
				lows = append(lows, e)
			}
		}
		compare := func(field string, got []Extreme, want []tafExtreme) {
			extremes += len(want)
			if len(got) != len(want) {
				found[r.Raw+": "+field] = fmt.Sprintf("got %v, want %v", got, want)
				return
			}
			for i, e := range got {
				w := want[i]
				hour := e.At.Hour() // 24 is midnight of the day after
				if e.C != engine.Celsius(w.Temperature) || hour != w.Hour%24 ||
					w.Hour < 24 && e.At.Day() != w.Day || w.Time != nil && !e.At.Equal(*w.Time) {
					found[r.Raw+": "+field] = fmt.Sprintf("got %v, want %v", e, w)
				}
			}
		}
		compare("maximums", highs, w.TX)
		compare("minimums", lows, w.TN)
	}
	disagreements(t, found, tafExplained)
	t.Logf("%d of %d TAF as the reference, with %d extremes; %d differences explained", len(all)-len(found), len(all), extremes, len(tafExplained))
}

var tafExplained = map[string]string{}
