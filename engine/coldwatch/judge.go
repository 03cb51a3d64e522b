package coldwatch

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"firn/engine"
)

// NoRestriction is the restriction temperature of a station that has none
// published: absolute zero, which nothing is at or below.
const NoRestriction engine.Celsius = -273.15

// Step is how far apart two values of a curve may be. Longer is a gap, in
// which nothing is known: three hours is the coarsest step of forecasts in
// use (common practice, no source).
const Step = 3 * time.Hour

// hold is how long a value speaks for itself where nothing follows it, and how
// late a curve may begin: one that is made at 10:02 starts at 11:00.
const hold = time.Hour

// Tail is the end of a window that a forecast need not cover: most end at a
// full hour or three. The figure is ours.
const Tail = 2 * time.Hour

// noise is what binary fractions may add to a figure typed exactly: a limit
// met exactly after a conversion from Fahrenheit is met.
const noise = 1e-9

// has says whether an instant lies in the window.
func (w Window) has(t time.Time) bool { return !t.Before(w.From) && t.Before(w.To) }

// Of says which state a temperature is in, in the colder tenth, as people read
// it: what is shown at the line is at the line.
func (l Line) Of(c engine.Celsius) State {
	c = c.ColderTenth()
	switch {
	case c <= l.Restriction+noise:
		return Below
	case c <= l.Restriction.Add(l.Margin)+noise:
		return Near
	}
	return Clear
}

// Bound says that the low is a forecast minimum outside the window: inside it
// is no colder, and how cold is not known.
func (j Judgement) Bound(w Window) bool { return j.State != NoForecast && !w.has(j.LowAt) }

// Judge holds a forecast against the line for a window. Without a forecast,
// or with one that says nothing of the lowest temperature in the window, the
// state is NoForecast and Note says why.
//
// Of a curve, a value holds until the next one; the restriction temperature
// binds at or below it. Of extremes alone, each minimum speaks for the time
// that is nearer to it than to another; one outside the window is a bound,
// and Note says so. The hours at or below are estimated (EstimateOf).
//
// One whose extremes cannot all be right is to Choose as one with ColderOnly.
//
// Clear or near is PartForecast where the forecast leaves a part of the window
// out, but for its last two hours (Tail) and its first (a curve begins with
// the next full hour, a TAF is made before it is valid).
func Judge(w Window, l Line, f *Forecast) Judgement {
	j := Judgement{State: NoForecast, Restriction: l.Restriction}
	if f == nil {
		j.Note = "there is no forecast"
		return j
	}
	j.Source, j.Issued = f.Source, f.Issued
	switch {
	case !w.From.Before(w.To):
		j.Note = "the duty window is empty"
	case len(f.Hourly) > 0:
		j.curve(w, l, f)
	default:
		j.extremes(w, l, f)
	}
	if j.State == NoForecast {
		return Judgement{State: NoForecast, Restriction: j.Restriction, Source: j.Source, Issued: j.Issued, Note: join(f.Note, j.Note)}
	}
	odd := f.contradictsItself()
	j.byLow, j.ofForecast, j.colderOnly = j.State, join(f.Note, odd), f.ColderOnly || odd != ""
	if !j.settled(w) {
		j.State = PartForecast
	}
	j.Note = join(j.ofForecast, j.Note, j.partly)
	return j
}

// settled says that nothing more need be known of the window: it is cold, it
// is covered as far as that matters, or there is no line to be at.
func (j Judgement) settled(w Window) bool {
	return j.byLow == Below || j.Restriction <= NoRestriction ||
		!j.CoveredFrom.After(w.From.Add(hold)) && !j.CoveredTo.Before(w.To.Add(-Tail))
}

// join puts notes together; empty ones are left out.
func join(notes ...string) string {
	return strings.Join(slices.DeleteFunc(notes, func(n string) bool { return n == "" }), between)
}

// curve judges by the values of a curve.
func (j *Judgement) curve(w Window, l Line, f *Forecast) {
	var last time.Time // of what is covered
	gap, found := false, false
	for i, s := range f.Hourly {
		from, to := s.At, s.At.Add(holds(f, i))
		if !to.After(w.From) || !from.Before(w.To) || !finite(s.C) {
			continue
		}
		from, to = later(from, w.From), earlier(to, w.To)
		if !found {
			j.CoveredFrom = from
		} else if from.After(last) {
			gap = true
		}
		last = later(last, to)
		if !gap {
			j.CoveredTo = last
		}
		if c := s.C.ColderTenth(); !found || c < j.Low {
			j.Low, j.LowAt = c, from
		}
		found = true
		if l.Of(s.C) == Below {
			if j.BelowFrom.IsZero() {
				j.BelowFrom = from
			}
			j.BelowTo = to
		}
	}
	if !found {
		j.Note = fmt.Sprintf("its values, %s to %s, cover none of %s", zulu(f.Hourly[0].At), zulu(f.Hourly[len(f.Hourly)-1].At), w.name())
		return
	}
	j.HoursKnown = true
	for _, m := range f.Minimums {
		if w.has(m.At) && finite(m.C) && m.C.ColderTenth() < j.Low {
			j.Low, j.LowAt = m.C.ColderTenth(), m.At
			// Colder than the curve: the curve's hours are not all of them.
			j.HoursKnown = l.Of(m.C) != Below
		}
	}
	if !j.HoursKnown {
		j.BelowFrom, j.BelowTo = time.Time{}, time.Time{}
	}
	j.State = l.Of(j.Low)
	j.Covered = !gap && !j.CoveredFrom.After(w.From.Add(hold)) && !last.Before(w.To)
	switch {
	case j.Covered:
	case gap:
		j.partly = "the forecast has gaps in the duty window, the first from " + zulu(j.CoveredTo)
	default:
		j.partly = partly(j.CoveredFrom, last)
	}
}

// holds is how long the value at an index speaks.
func holds(f *Forecast, i int) time.Duration {
	at := f.Hourly[i].At
	if i+1 < len(f.Hourly) {
		if d := f.Hourly[i+1].At.Sub(at); d <= Step {
			return max(d, 0)
		}
		return hold
	}
	if rest := f.ValidTo.Sub(at); rest > 0 {
		return min(rest, Step)
	}
	return hold
}

// extremes judges by forecast minimums.
func (j *Judgement) extremes(w Window, l Line, f *Forecast) {
	from, to := later(w.From, f.ValidFrom), earlier(w.To, f.ValidTo)
	switch {
	case f.ValidFrom.IsZero() || f.ValidTo.IsZero():
		j.Note = "it does not say for which time it is valid"
		return
	case !from.Before(to):
		j.Note = fmt.Sprintf("it is valid from %s to %s, which is none of %s", zulu(f.ValidFrom), zulu(f.ValidTo), w.name())
		return
	}
	found := false
	for i, m := range f.Minimums {
		if !finite(m.C) {
			continue
		}
		begin, end := f.speaksFor(i)
		speaks := (begin.IsZero() || begin.Before(to)) && (end.IsZero() || end.After(from))
		if !speaks && !w.has(m.At) {
			continue
		}
		// Of two alike, the one in the window is known.
		if c := m.C.ColderTenth(); !found || c < j.Low || c == j.Low && w.has(m.At) && !w.has(j.LowAt) {
			j.Low, j.LowAt = c, m.At
		}
		if c := m.C.ColderTenth(); w.has(m.At) && (!j.hasInside || c < j.inside) {
			j.inside, j.hasInside, j.insideIs = c, true, l.Of(c)
		}
		found = true
	}
	if !found {
		j.Note = l.withoutMinimum(f)
		return
	}
	estimated := ""
	j.byMaximums(w, l, f)
	j.State = l.Of(j.Low)
	j.Covered = !from.After(w.From) && !to.Before(w.To)
	j.CoveredFrom, j.CoveredTo = from, to
	if j.State == Below {
		var hours span
		hours, estimated = EstimateOf(f).below(span{from, to}, l)
		j.BelowFrom, j.BelowTo = hours.from, hours.to
	}
	switch {
	case !j.Bound(w):
	case w.Gone(j.LowAt):
		j.Note = fmt.Sprintf(boundBefore, degrees(j.Low), zulu(j.LowAt))
	default:
		j.Note = fmt.Sprintf(boundBeside, degrees(j.Low), zulu(j.LowAt))
	}
	j.Note = join(j.Note, estimated)
	if !j.Covered {
		j.partly = partly(from, to)
	}
}

// byMaximums takes a maximum in the window that is colder than the minimum for
// the low: by the maximum it is never warmer than that.
func (j *Judgement) byMaximums(w Window, l Line, f *Forecast) {
	for _, m := range f.Maximums {
		if c := m.C.ColderTenth(); w.has(m.At) && finite(m.C) && c < j.Low {
			j.Low, j.LowAt = c, m.At
			j.inside, j.hasInside, j.insideIs = c, true, l.Of(c)
		}
	}
}

// farOutside is how far from a forecast's time a minimum of it is another day's:
// one that is amended may still have that of hours before. The figure is ours;
// of 280 real TAFs with extremes (testdata/wx) one has one outside, by 3 hours.
const farOutside = 12 * time.Hour

// contradictsItself says why a forecast's extremes cannot all be right, empty
// where they can: a minimum above a maximum may have lost its minus, and one of
// another day is no bound. It is of no forecast with a curve.
func (f *Forecast) contradictsItself() string {
	if len(f.Hourly) > 0 {
		return ""
	}
	var minimums, maximums []engine.Celsius
	for _, m := range f.Minimums {
		if !finite(m.C) {
			continue
		}
		if m.At.Before(f.ValidFrom.Add(-farOutside)) || m.At.After(f.ValidTo.Add(farOutside)) {
			return fmt.Sprintf("its minimum of %s is for %s, which is far outside its time", degrees(m.C), zulu(m.At))
		}
		minimums = append(minimums, m.C)
	}
	for _, m := range f.Maximums {
		if finite(m.C) {
			maximums = append(maximums, m.C)
		}
	}
	if len(minimums) == 0 || len(maximums) == 0 {
		return ""
	}
	for _, of := range [...]func([]engine.Celsius) engine.Celsius{slices.Max[[]engine.Celsius], slices.Min[[]engine.Celsius]} {
		if high, low := of(maximums), of(minimums); high.ColderTenth() < low.ColderTenth() {
			return fmt.Sprintf("the forecast maximum, %s, is colder than its minimum, %s: the colder is used", degrees(high), degrees(low))
		}
	}
	return ""
}

// speaksFor is the time that is nearer to a minimum than to another; zero
// where there is none on that side.
func (f *Forecast) speaksFor(i int) (begin, end time.Time) {
	at := f.Minimums[i].At
	for _, o := range f.Minimums {
		middle := at.Add(o.At.Sub(at) / 2)
		switch {
		case !finite(o.C):
		case o.At.Before(at) && (begin.IsZero() || middle.After(begin)):
			begin = middle
		case o.At.After(at) && (end.IsZero() || middle.Before(end)):
			end = middle
		}
	}
	return begin, end
}

// withoutMinimum says what a forecast without a minimum has.
func (l Line) withoutMinimum(f *Forecast) string {
	if len(f.Maximums) == 0 {
		return "it forecasts no temperature"
	}
	m := f.Maximums[0]
	note := fmt.Sprintf("it forecasts a maximum only, %s at %s, and no minimum", degrees(m.C), zulu(m.At))
	if l.Of(m.C) == Below {
		note += "; even the maximum is at or below the restriction temperature"
	}
	return note
}

func partly(from, to time.Time) string {
	return fmt.Sprintf(coversOnly, zulu(from), zulu(to))
}

// finite tells a temperature from what arithmetic calls a number and is none.
func finite(c engine.Celsius) bool { return !math.IsNaN(float64(c)) && !math.IsInf(float64(c), 0) }

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

// zulu writes an instant for people.
func zulu(t time.Time) string { return t.UTC().Format("15:04Z 2 Jan") }

// degrees writes a temperature to the tenth, on the colder side, with a real
// minus in front.
func degrees(c engine.Celsius) string {
	s := strings.TrimSuffix(fmt.Sprintf("%.1f", float64(c.ColderTenth())+0), ".0")
	if rest, minus := strings.CutPrefix(s, "-"); minus {
		s = "−" + rest
	}
	return s + " °C"
}
