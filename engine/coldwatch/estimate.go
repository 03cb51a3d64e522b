package coldwatch

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"firn/engine"
)

// longestSwing is how far a minimum may be from the maximum beside it for the
// hours between to be estimated: within more lies another night or another day.
// The figure is ours.
const longestSwing = 24 * time.Hour

// around is how long a minimum speaks before and after its hour, so that one
// that only touches the line is an hour at it. The figure is ours.
const around = hold / 2

// Estimate is the temperature between the extremes of a forecast that has no
// values for the hours: half a cosine from each minimum to the maximum beside
// it. It hits both and never leaves what lies between them.
//
// Source: interpolation by cosines between daily minima and maxima, as compared
// with others and with hourly observations in Agricultural and Forest
// Meteorology 46 (1989), 193-209, cited from memory. How far it is off here:
// README.md.
type Estimate struct {
	swings [][]Sample // minimums and maximums in turn, in order of time
}

// EstimateOf is the estimate of a forecast. It says nothing where the forecast
// has values of its own, and nothing of the time beside a single extreme,
// between two of a kind or two that contradict each other (a minimum above the
// maximum, two at one time), or between two more than 24 hours apart.
func EstimateOf(f *Forecast) Estimate {
	if f == nil || len(f.Hourly) > 0 {
		return Estimate{}
	}
	type extreme struct {
		Sample
		maximum bool
	}
	all := make([]extreme, 0, len(f.Minimums)+len(f.Maximums))
	for i, list := range [...][]Sample{f.Minimums, f.Maximums} {
		for _, s := range list {
			if e := (extreme{s, i == 1}); finite(s.C) && !slices.Contains(all, e) {
				all = append(all, e)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b extreme) int { return a.At.Compare(b.At) })
	follows := func(a, b extreme) bool {
		up := b.C.Sub(a.C)
		if a.maximum {
			up = -up
		}
		apart := b.At.Sub(a.At)
		return a.maximum != b.maximum && up >= 0 && apart > 0 && apart <= longestSwing
	}
	var e Estimate
	for from := 0; from < len(all); {
		to := from + 1
		for to < len(all) && follows(all[to-1], all[to]) {
			to++
		}
		if to-from > 1 {
			swing := make([]Sample, 0, to-from)
			for _, x := range all[from:to] {
				swing = append(swing, x.Sample)
			}
			e.swings = append(e.swings, swing)
		}
		from = to
	}
	return e
}

// At is the temperature at an instant; false where nothing is known of it.
func (e Estimate) At(t time.Time) (engine.Celsius, bool) {
	for _, swing := range e.swings {
		for i, b := range swing[1:] {
			if a := swing[i]; !t.Before(a.At) && !t.After(b.At) {
				part := float64(t.Sub(a.At)) / float64(b.At.Sub(a.At))
				c := float64(a.C) + float64(b.C-a.C)*(1-math.Cos(math.Pi*part))/2
				return engine.Celsius(min(max(c, float64(min(a.C, b.C))), float64(max(a.C, b.C)))), true
			}
		}
	}
	return 0, false
}

// span is a stretch of time.
type span struct{ from, to time.Time }

func (s span) within(o span) span { return span{later(s.from, o.from), earlier(s.to, o.to)} }
func (s span) empty() bool        { return !s.from.Before(s.to) }

// below are the hours at or below the line within a stretch of time, to full
// minutes outwards. They are zero where none are, and where one end of them is
// not known; note tells what is known then, and of what nothing is.
func (e Estimate) below(within span, l Line) (hours span, note string) {
	var swing []Sample
	var known span
	for _, s := range e.swings {
		// An extreme speaks for an hour beyond it, as any value does.
		k := span{s[0].At.Add(-hold), s[len(s)-1].At.Add(hold)}.within(within)
		switch {
		case k.empty():
		case swing != nil:
			return span{}, "" // a part between the two is not known
		default:
			swing, known = s, k
		}
	}
	if swing == nil {
		return span{}, ""
	}
	var spells []span
	cold := belowIn(swing, l)
	slices.SortFunc(cold, func(a, b span) int { return a.from.Compare(b.from) })
	for _, s := range cold {
		if s = s.within(known); s.empty() {
			continue
		}
		if n := len(spells); n > 0 && !s.from.After(spells[n-1].to) {
			spells[n-1].to = later(spells[n-1].to, s.to)
			continue
		}
		spells = append(spells, s)
	}
	if len(spells) == 0 {
		return span{}, ""
	}
	hours = span{spells[0].from, spells[len(spells)-1].to}
	open := hours.from.Equal(known.from) && known.from.After(within.from) || hours.to.Equal(known.to) && known.to.Before(within.to)
	hours = span{hours.from.Truncate(time.Minute), hours.to.Add(time.Minute - 1).Truncate(time.Minute)}.within(within)
	switch {
	case open:
		words := make([]string, len(spells))
		for i, s := range spells {
			words[i] = zulu(s.from.Truncate(time.Minute)) + " to " + zulu(s.to.Add(time.Minute-1))
		}
		return span{}, "estimated between its extremes, it is at or below from " + strings.Join(words, " and from ") + " at least"
	case !known.from.Equal(within.from) || !known.to.Equal(within.to):
		note = fmt.Sprintf(hoursFrom, zulu(known.from), zulu(known.to))
	}
	return hours, note
}

// belowIn are the spans of a swing at or below the line, which may touch.
func belowIn(swing []Sample, l Line) (all []span) {
	line := l.Restriction + noise
	for i, s := range swing {
		at := cmp.Compare(s.C.ColderTenth(), line)
		if at <= 0 {
			all = append(all, span{s.At.Add(-around), s.At.Add(around)})
		}
		if at <= 0 && i == 0 {
			all = append(all, span{s.At.Add(-hold), s.At})
		}
		if i+1 == len(swing) {
			if at <= 0 {
				all = append(all, span{s.At, s.At.Add(hold)})
			}
			break
		}
		next := swing[i+1]
		cold, warm := s, next
		if next.C < s.C {
			cold, warm = next, s
		}
		low, high := cold.C.ColderTenth(), warm.C.ColderTenth()
		if low > line {
			continue
		}
		// How long of the way from the cold end it stays at or below.
		part := 1.0
		if high > line {
			part = math.Acos(1-2*max(0, float64(l.Restriction-low)/float64(high-low))) / math.Pi
		}
		long := time.Duration(part * float64(next.At.Sub(s.At)))
		if cold == s {
			all = append(all, span{s.At, s.At.Add(long)})
		} else {
			all = append(all, span{next.At.Add(-long), next.At})
		}
	}
	return all
}
