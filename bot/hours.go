package bot

import (
	"time"

	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// halfDay is how far before and after an arrival the hours at or below the line
// are looked for: its night. The figure is ours.
const halfDay = 12 * time.Hour

// coldHours are the hours at or below the line around an arrival, where the
// forecast that was judged has no more than extremes: the temperature of the
// arrival itself is a bound then, and these say what is to be thought of it.
func coldHours(a *reply.Arrival, all []weather.Forecast, j coldwatch.Judgement, line coldwatch.Line, zone *time.Location) {
	for i := range all {
		f := &all[i].Forecast
		if f.Source != j.Source || !f.Issued.Equal(j.Issued) || len(f.Hourly) > 0 {
			continue
		}
		w := coldwatch.Window{From: a.At.Add(-halfDay), To: a.At.Add(halfDay)}
		is := coldwatch.Judge(w, line, f)
		if !is.Estimated() {
			// One end is not known: as far as the extremes reach.
			if w = reach(w, f); !w.From.Before(w.To) {
				return
			}
			is = coldwatch.Judge(w, line, f)
		}
		if is.Estimated() {
			a.BelowFrom, a.BelowTo, a.Estimated, a.Zone = is.BelowFrom.UTC(), is.BelowTo.UTC(), true, zone
		}
		return
	}
}

// reach is the part of a window that lies between a forecast's extremes, and an
// hour around them.
func reach(w coldwatch.Window, f *coldwatch.Forecast) coldwatch.Window {
	var from, to time.Time
	for _, list := range [][]coldwatch.Sample{f.Minimums, f.Maximums} {
		for _, s := range list {
			if from.IsZero() || s.At.Before(from) {
				from = s.At
			}
			if s.At.After(to) {
				to = s.At
			}
		}
	}
	if from = from.Add(-time.Hour); from.After(w.From) {
		w.From = from
	}
	if to = to.Add(time.Hour); to.Before(w.To) {
		w.To = to
	}
	return w
}
