package bot

import (
	"slices"
	"time"

	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// halfDay is how far before and after an arrival the hours at or below the line
// are looked for: its night. The figure is ours.
const halfDay = 12 * time.Hour

// coldHours are the hours at or below the line in the night that is nearest to an
// arrival, where the forecast that was judged has no more than extremes: the
// temperature of the arrival itself is a bound then, and these say what is to be
// thought of it. They are those of the forecast, whole: the watch has the same.
func coldHours(a *reply.Arrival, all []weather.Forecast, j coldwatch.Judgement, line coldwatch.Line, zone *time.Location) {
	for i := range all {
		f := &all[i].Forecast
		if f.Source != j.Source || !f.Issued.Equal(j.Issued) || len(f.Hourly) > 0 {
			continue
		}
		nights, nearest := nightsOf(f, line), halfDay
		for i, w := range nights {
			is := coldwatch.Judge(w, line, f)
			off := max(is.BelowFrom.Sub(a.At), a.At.Sub(is.BelowTo), 0)
			if !is.Estimated() || off >= nearest {
				continue
			}
			nearest = off
			a.Longer = i == 0 && is.BelowFrom.Equal(w.From) || i == len(nights)-1 && is.BelowTo.Equal(w.To)
			a.BelowFrom, a.BelowTo, a.Estimated, a.Zone = is.BelowFrom.UTC(), is.BelowTo.UTC(), true, zone
		}
		return
	}
}

// nightsOf are the stretches of time between a forecast's maximums that are above the
// line, from an hour before the first of its extremes to an hour behind the last.
func nightsOf(f *coldwatch.Forecast, line coldwatch.Line) (all []coldwatch.Window) {
	extremes := slices.Concat(f.Minimums, f.Maximums)
	if len(extremes) == 0 {
		return nil
	}
	byTime := func(a, b coldwatch.Sample) int { return a.At.Compare(b.At) }
	from := slices.MinFunc(extremes, byTime).At.Add(-time.Hour)
	end := slices.MaxFunc(extremes, byTime).At.Add(time.Hour)
	for _, m := range slices.SortedFunc(slices.Values(f.Maximums), byTime) {
		if line.Of(m.C) != coldwatch.Below {
			all = append(all, coldwatch.Window{From: from, To: m.At})
			from = m.At
		}
	}
	return append(all, coldwatch.Window{From: from, To: end})
}
