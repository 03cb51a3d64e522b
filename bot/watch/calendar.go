package watch

import (
	"time"

	"firn/bot/config"
	"firn/engine/coldwatch"
)

// plan is one local day of a base.
type plan struct {
	day    string           // local, 2026-01-15
	window coldwatch.Window // the duty window
	// next is when the base's next day begins: from then on this one is quiet.
	next time.Time
	// gone is from when nothing is posted for this day any more.
	gone time.Time
}

// end is when the day's judgement ends: with its window, or when the next day
// begins before that.
func (p plan) end() time.Time {
	if p.next.Before(p.window.To) {
		return p.next
	}
	return p.window.To
}

// closing is how long after its window a day may still be closed, for a watch
// that was down at that moment. The figure is ours.
const closing = 24 * time.Hour

// daysBack is how many local days before today's can still be open: a window
// of 36 hours and the time for closing it, and one for the clocks.
const daysBack = 4

// plansAround gives the scheduled days of a base that begin in the days before
// an instant's local date up to the one after, in order.
func plansAround(w *config.Watch, zone *time.Location, now time.Time) []plan {
	y, m, d := now.In(zone).Date()
	var all []plan
	const ahead = 8 // a week on, so that each day knows the next
	for i := -daysBack; i <= ahead; i++ {
		date := time.Date(y, m, d+i, 0, 0, 0, 0, time.UTC)
		if !w.Days.Has(date.Weekday()) {
			continue
		}
		from, ok := begins(date, w.At, zone)
		if !ok {
			continue
		}
		if n := len(all); n > 0 {
			all[n-1].next = from
		}
		all = append(all, plan{day: date.Format(time.DateOnly), window: coldwatch.Window{From: from, To: ends(date, from, w, zone)}})
	}
	for i := range all {
		p := &all[i]
		if p.next.IsZero() {
			p.next = p.window.From.AddDate(0, 0, 1)
		}
		p.gone = p.window.To.Add(closing)
		if p.next.Before(p.gone) {
			p.gone = p.next
		}
	}
	return all
}

// ends is when the duty window of a local date ends. Where the clocks go back in it,
// it goes on to the time that they show at its end on other days: an hour between a
// day and the next would else be nobody's.
func ends(date, from time.Time, w *config.Watch, zone *time.Location) time.Time {
	to := from.Add(w.Window)
	wall := date.Add(time.Duration(w.At.Hour)*time.Hour + time.Duration(w.At.Minute)*time.Minute + w.Window)
	shown, ok := begins(wall.Truncate(24*time.Hour), config.TimeOfDay{Hour: wall.Hour(), Minute: wall.Minute()}, zone)
	// By hours and minutes alone: what a zone leaves out or has twice of a day is no window's.
	if longer := shown.Sub(to); ok && longer > 0 && longer <= 2*time.Hour {
		return shown
	}
	return to
}

// begins is the first instant of a local date whose time on the clock is at
// or after a time of day: where the clocks skip it the moment they go on, and
// where they show it twice the first of the two. A date that the zone leaves
// out altogether does not begin.
func begins(date time.Time, at config.TimeOfDay, zone *time.Location) (time.Time, bool) {
	y, m, d := date.Date()
	wall := time.Date(y, m, d, at.Hour, at.Minute, 0, 0, time.UTC)
	shows := func(t time.Time) bool {
		l := t.In(zone)
		return time.Date(l.Year(), l.Month(), l.Day(), l.Hour(), l.Minute(), l.Second(), 0, time.UTC).Equal(wall)
	}
	// The offsets in use around it; the larger one gives the earlier instant.
	_, before := wall.Add(-26 * time.Hour).In(zone).Zone()
	_, after := wall.Add(26 * time.Hour).In(zone).Zone()
	early := wall.Add(-time.Duration(max(before, after)) * time.Second)
	late := wall.Add(-time.Duration(min(before, after)) * time.Second)
	switch {
	case shows(early):
		return early.In(zone), true
	case shows(late):
		return late.In(zone), true
	}
	// Skipped: the clocks go on between the two.
	jump, _ := late.In(zone).ZoneBounds()
	if late.Sub(early) >= 12*time.Hour {
		return time.Time{}, false
	}
	return jump, !jump.IsZero()
}
