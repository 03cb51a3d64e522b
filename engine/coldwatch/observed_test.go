package coldwatch_test

import (
	"bufio"
	"cmp"
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
	"time"

	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/wxreport"
)

// report is a line of testdata/wx.
type report struct {
	Raw    string    `json:"raw"`
	Source string    `json:"source"`
	Time   time.Time `json:"time"`   // of a METAR
	Issued time.Time `json:"issued"` // of a TAF
}

func reports(t *testing.T, name string, each func(r report)) {
	t.Helper()
	f, err := os.Open("../../testdata/wx/" + name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		var r report
		if err := json.Unmarshal(lines.Bytes(), &r); err != nil {
			t.Fatal(err)
		}
		each(r)
	}
	if err := lines.Err(); err != nil {
		t.Fatal(err)
	}
}

// TestEstimateAgainstObservations holds the estimate of real TAF with TX and TN
// against what was observed at the same places meanwhile (testdata/wx: sources
// and licences in its README.md). Each observation is a moment at which the air
// was at a temperature: how far it was from the estimate, and how far the
// moment at which the estimate has that temperature. The latter is the error of
// a begin or an end of the hours, for a line at that temperature. What the
// forecast itself is wrong by is in it. README.md has the figures.
func TestEstimateAgainstObservations(t *testing.T) {
	observed := map[string][]coldwatch.Sample{}
	reports(t, "metar.ref.jsonl", func(r report) {
		if m, _, err := wxreport.ParseMetar(r.Raw); err == nil && !r.Time.IsZero() && m.Temperature().OK && m.Believed() {
			observed[m.Ident] = append(observed[m.Ident], coldwatch.Sample{At: m.Issued(r.Time), C: m.Temperature().C})
		}
	})
	var tafs, never int
	var degrees, minutes []float64
	reports(t, "taf.ref.jsonl", func(r report) {
		got, err := wxreport.ParseTaf(r.Raw, r.Issued)
		if err != nil || r.Issued.IsZero() || got.Cancelled || len(got.Extremes) < 2 {
			return
		}
		e := coldwatch.EstimateOf(taf(t, r.Raw, r.Issued))
		seen := false
		for _, o := range observed[got.Ident] {
			c, ok := e.At(o.At)
			if !ok || o.At.Before(got.ValidFrom) || o.At.After(got.ValidTo) {
				continue
			}
			seen = true
			degrees = append(degrees, math.Abs(float64(c-o.C)))
			if off, ok := nearest(e, o); ok {
				minutes = append(minutes, off.Minutes())
			} else {
				never++
			}
		}
		if seen {
			tafs++
		}
	})
	slices.Sort(degrees)
	slices.Sort(minutes)
	at := func(all []float64, part float64) float64 { return all[int(math.Ceil(part*float64(len(all))))-1] }
	t.Logf("%d TAF, %d observations: off by %.1f °C (median), %.1f °C (nine of ten)", tafs, len(degrees), at(degrees, 0.5), at(degrees, 0.9))
	t.Logf("a begin or an end of the hours, %d of them: off by %.0f min (median), %.0f min (nine of ten); %d observed outside the extremes", len(minutes), at(minutes, 0.5), at(minutes, 0.9), never)
	if tafs < 16 || len(degrees) < 16 {
		t.Errorf("%d TAF and %d observations of their places, of 16 and 16", tafs, len(degrees))
	}
	if at(degrees, 0.5) > 1.5 || at(degrees, 0.9) > 3.5 || at(minutes, 0.5) > 180 || at(minutes, 0.9) > 300 {
		t.Error("the estimate is farther off than README.md says")
	}
}

// TestEstimateAgainstHourlyForecast holds the estimate between the highest and
// the lowest of a real hourly forecast against its hours: the US National
// Weather Service for western Wisconsin, 8 January 2025, 16:00 to 01:00 local
// (public domain; adapters/httpwx/testdata has the answer). An evening cools
// sooner than half a cosine does.
func TestEstimateAgainstHourlyForecast(t *testing.T) {
	hourly := []engine.Fahrenheit{18, 16, 15, 13, 12, 11, 11, 11, 11, 10}
	last := float64(len(hourly) - 1)
	e := coldwatch.EstimateOf(extremes([][2]float64{{last, float64(hourly[9].Celsius())}}, [][2]float64{{0, float64(hourly[0].Celsius())}}))
	var minutes []float64
	for i, f := range hourly {
		off, ok := nearest(e, coldwatch.Sample{At: hour(float64(i)), C: f.Celsius()})
		if !ok {
			t.Fatalf("the estimate never has %v °F", f)
		}
		minutes = append(minutes, off.Minutes())
	}
	slices.Sort(minutes)
	t.Logf("%d hours of an evening: off by %.0f min (median), %.0f min (most)", len(minutes), minutes[len(minutes)/2], minutes[len(minutes)-1])
	if minutes[len(minutes)/2] > 120 || minutes[len(minutes)-1] > 180 {
		t.Errorf("off by %v min", minutes)
	}
}

// nearest is how far from an observation the estimate has the temperature that
// was observed; false where it never has.
func nearest(e coldwatch.Estimate, o coldwatch.Sample) (time.Duration, bool) {
	side := func(at time.Time) (int, bool) {
		c, ok := e.At(at)
		return cmp.Compare(math.Round(float64(c-o.C)*1e6), 0), ok
	}
	was, _ := side(o.At)
	if was == 0 {
		return 0, true
	}
	for off := time.Minute; off < 24*time.Hour; off += time.Minute {
		for _, at := range []time.Time{o.At.Add(-off), o.At.Add(off)} {
			if is, ok := side(at); ok && is != was {
				return off, true
			}
		}
	}
	return 0, false
}
