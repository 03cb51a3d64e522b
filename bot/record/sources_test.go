package record_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"firn/bot/record"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// An observation and a forecast that lie on either side of what was taken are
// told once each, however many rounds there are.
func TestSourcesDoNotPushEachOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		r := s.ask(s.Book, "1", nil)
		time.Sleep(time.Minute)
		s.c, s.at = -30, time.Now()
		s.outlook = []weather.Forecast{{Forecast: coldwatch.Forecast{Source: "TAF (folder)", Issued: time.Now(),
			Minimums: []coldwatch.Sample{{At: time.Now().Add(2 * time.Hour), C: -44}}}}}
		for range 60 {
			s.Sweep(t.Context())
			time.Sleep(time.Minute)
			s.at = time.Now() // the same again, newer
		}
		now, _, err := s.Find(t.Context(), r.ID)
		if err != nil || len(now.Noticed) != 2 || now.Noticed[0].C != -30 || now.Noticed[1].C != -44 {
			t.Errorf("got %+v, %v; want each source's word once", now.Noticed, err)
		}
		if n := strings.Count(s.saw(), "tell "); n != 2 {
			t.Errorf("told %d times, want 2", n)
		}
	})
}

// However the weather of several sources goes, each word is colder than all
// before it, but for the first.
func TestEveryWordIsColder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := result()
		for range 40 {
			w := record.Weather{C: engine.Celsius(rapid.IntRange(-600, 0).Draw(t, "tenths")) / 10, At: noon.Add(time.Hour), Since: noon.Add(time.Hour),
				Source: rapid.SampledFrom([]string{"METAR (folder)", "TAF (folder)", "hourly forecast"}).Draw(t, "source")}
			w.Forecast = w.Source != "METAR (folder)"
			then := record.Figures{Required: true, Numbers: []record.Number{{CorrectedFt: 9000 - 10*float64(w.C)}, {CorrectedFt: 5480}}}
			if changed, _ := record.Notice(r, w, then, set); changed {
				for _, n := range r.Noticed {
					if float64(w.C) >= n.C {
						t.Fatalf("%.1f is told after %+v", float64(w.C), r.Noticed)
					}
				}
				r.Noticed = append(r.Noticed, record.Noticed{C: float64(w.C), Source: w.Source})
			}
		}
	})
}
