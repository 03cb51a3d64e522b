package record

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/correction"
)

// Weather is a temperature that a result is held against.
type Weather struct {
	C        engine.Celsius
	At       time.Time // observed, or when the forecast is for
	Source   string
	Forecast bool
	Bound    bool      // it is no colder, and how cold is not known
	Since    time.Time // observed or issued: what came before the result is no news
	Arrived  time.Time // of an observation: when it came; zero: not known
}

// Figures are a result's numbers at another temperature.
type Figures struct {
	Required bool
	Numbers  []Number
	Stops    []reply.Stop
	Version  string // of the rule set that they are by
}

// Observed is the weather of an observation.
func Observed(o weather.Reading) Weather {
	return Weather{C: o.C, At: o.At, Source: o.Source, Since: o.At, Arrived: o.Arrived}
}

// Coldest is the lowest temperature that a forecast has between two times; ok
// is false where it has none.
func Coldest(f weather.Forecast, from, to time.Time) (w Weather, ok bool) {
	for _, list := range [...][]coldwatch.Sample{f.Hourly, f.Minimums} {
		for _, s := range list {
			if s.At.Before(from) || s.At.After(to) || ok && s.C >= w.C {
				continue
			}
			w, ok = Weather{C: s.C, At: s.At, Source: f.Source, Forecast: true, Since: f.Issued}, true
		}
	}
	return w, ok
}

// Newer says that weather is news to a record. Who typed a temperature could
// not know a report that had not come yet, whenever it was observed.
func (m Result) Newer(w Weather) bool { return m.horizon().newer(w) }

// horizon is what weather was known when a result was made.
type horizon struct {
	since time.Time // of the temperature: observed, or typed
	typed bool
}

func (h horizon) newer(w Weather) bool {
	return w.Since.After(h.since) || h.typed && w.Arrived.After(h.since)
}

// Notice says whether a result holds at another temperature, and in one
// sentence what changes. An observation changes it either way; a forecast only
// when it is colder, by more than the step: every afternoon grows colder, and
// what is corrected is flown before the night. Once something was said, whatever
// its source, only what is colder than all of it by more than the step is news:
// else two sources that differ would push each other's word out for ever. A
// barometric limit that comes to be passed is news whatever moved, once. then
// are the figures at that temperature.
func Notice(r Record, w Weather, then Figures, set Settings) (changed bool, text string) {
	set = set.withDefaults()
	was := engine.Celsius(r.Temperature())
	what := passed(r, then)
	if w.Forecast && was.Sub(w.C) <= set.Step && len(what) == 0 {
		return false, ""
	}
	for _, n := range r.Noticed {
		if n.Source != "" && engine.Celsius(n.C).Sub(w.C) <= set.Step && len(what) == 0 {
			return false, ""
		}
	}
	if len(r.Noticed) == 0 && len(limits(r.Reply.Stops)) > 0 && len(limits(then.Stops)) == 0 {
		what = append(what, "the limit of barometric guidance is not passed any more")
	}
	if required := r.Reply.Required == reply.Yes; then.Required != required {
		if then.Required {
			what = append(what, "a correction is required now")
		} else {
			what = append(what, "no correction is required any more")
		}
	}
	for i, n := range r.Numbers {
		t, there := then.number(i, n, len(r.Numbers))
		if there && math.Abs(t.CorrectedFt-n.CorrectedFt) > noise {
			what = append(what, fmt.Sprintf("%s: %s becomes %s", altitudeName(n.Label, n.PublishedFt), reply.WholeUp(n.CorrectedFt), reply.WholeUp(t.CorrectedFt)))
		}
	}
	if r.Restriction.OK && passes(was, w.C, engine.Celsius(r.Restriction.Value), set.Step) {
		what = append(what, fmt.Sprintf("it has passed the restriction temperature, %s °C", reply.Degrees(r.Restriction.Value)))
	}
	if row, ok := rowPassed(was, w.C, set.Step); ok && len(what) == 0 {
		what = append(what, fmt.Sprintf("it has passed the table's row of %s °C", reply.Degrees(row)))
	}
	if len(what) == 0 {
		return false, ""
	}
	at := set.clock(r.Station(), w.At, r.At)
	is := fmt.Sprintf("it is %s °C (%s, observed %s)", reply.Degrees(w.C), w.Source, at)
	if w.Forecast {
		is = fmt.Sprintf("%s °C is forecast for %s (%s)", reply.Degrees(w.C), at, w.Source)
	}
	return true, fmt.Sprintf("%s °C was taken, and %s: %s.", reply.Degrees(was), is, strings.Join(what, "; "))
}

// number is the one that the i-th of n has become: at its place, or where a
// line has come to be usable or not, wherever it is now.
func (f Figures) number(i int, was Number, n int) (Number, bool) {
	if len(f.Numbers) == n {
		return f.Numbers[i], true
	}
	at := slices.IndexFunc(f.Numbers, func(t Number) bool { return t.Label == was.Label && t.PublishedFt == was.PublishedFt })
	if at < 0 {
		return Number{}, false
	}
	return f.Numbers[at], true
}

// passed are the stops of a barometric limit that the result has not, and that
// nobody was told.
func passed(r Record, then Figures) (what []string) {
	for _, s := range limits(then.Stops) {
		had := slices.Contains(limits(r.Reply.Stops), s)
		for _, n := range r.Noticed {
			had = had || strings.Contains(n.Text, s)
		}
		if !had {
			what = append(what, s)
		}
	}
	return what
}

// limits are what stops say of barometric limits.
func limits(stops []reply.Stop) (texts []string) {
	for _, s := range stops {
		if s.Code == reply.StopBaro {
			texts = append(texts, strings.TrimSuffix(s.Text, "."))
		}
	}
	return texts
}

// onArrival is how far from an arrival an observation says something of it.
// Ours: what is colder tonight is not tomorrow evening's.
const onArrival = 2 * time.Hour

// arriving is the weather that a brief's arrival is held against: observations
// near it, and what forecasts have for the hours around it, as the brief itself
// was planned.
func arriving(a reply.Arrival, at *station) (all []Weather) {
	for _, w := range at.weather {
		if off := w.At.Sub(a.At).Abs(); off <= onArrival {
			all = append(all, w)
		}
	}
	line := coldwatch.Line{Restriction: coldwatch.NoRestriction}
	if a.RestrictionC.OK {
		line.Restriction = engine.Celsius(a.RestrictionC.Value)
	}
	for i := range at.forecasts {
		f := &at.forecasts[i]
		window := coldwatch.Around(a.At)
		if j := coldwatch.Judge(window, line, &f.Forecast); j.State != coldwatch.NoForecast {
			all = append(all, Weather{C: j.Low, At: a.At, Source: f.Source, Forecast: true, Bound: j.Bound(window), Since: f.Issued})
		}
	}
	return all
}

// heldAt is the temperature at and below which an arrival does not hold, and what that
// is, in words: the one from which on its figures change; without figures, the one it
// was planned with, by the step; where none was known, the restriction's. false where
// it has none of them.
func heldAt(a reply.Arrival, set Settings) (c float64, what string, held bool) {
	switch {
	case a.RecomputeC.OK:
		c = a.RecomputeC.Value
		return c, fmt.Sprintf("at or below %s °C, from which on the figures of the brief change", reply.Degrees(c)), true
	case a.TemperatureC.OK:
		return a.TemperatureC.Value - float64(set.Step), fmt.Sprintf("colder than the %s °C that the brief was made with", reply.Degrees(a.TemperatureC.Value)), true
	case a.RestrictionC.OK:
		c = a.RestrictionC.Value
		return c, fmt.Sprintf("at or below the restriction temperature, %s °C, and the brief knew no temperature", reply.Degrees(c)), true
	}
	return 0, "", false
}

// crosses says whether an arrival does not hold in weather. It is said once, and
// again when it has gone on by more than the step.
func crosses(r Record, a reply.Arrival, w Weather, now time.Time, set Settings) (text string, crossed bool) {
	set = set.withDefaults()
	line, what, _ := heldAt(a, set)
	// What was observed before a brief that did not look at it yet: a new one would.
	from := coldwatch.Around(a.At).From
	unseen := !w.Forecast && r.At.Before(from) && !now.Before(from)
	if !unseen && !r.Newer(w) || float64(w.C) > line+noise {
		return "", false
	}
	ident := a.Station.Ident
	for _, n := range r.Noticed {
		if strings.HasPrefix(n.Text, ident+" ") && float64(w.C) >= n.C-float64(set.Step)-noise {
			return "", false
		}
	}
	clock := set.clock(ident, w.At, r.At)
	is := fmt.Sprintf("is %s °C (%s, observed %s)", reply.Degrees(w.C), w.Source, clock)
	switch {
	case w.Bound:
		is = fmt.Sprintf("may be as cold as %s °C within an hour of %s (%s)", reply.Degrees(w.C), clock, w.Source)
	case w.Forecast:
		is = fmt.Sprintf("will be %s °C within an hour of %s (%s)", reply.Degrees(w.C), clock, w.Source)
	}
	return fmt.Sprintf("%s %s, %s: recompute.", ident, is, what), true
}

// passes says that a temperature went from one side of a line to more than
// step on the other. At the line is below it, as a restriction binds.
func passes(was, is, line engine.Celsius, step engine.CelsiusDelta) bool {
	switch {
	case was > line && is <= line:
		return line.Sub(is) > step
	case was <= line && is > line:
		return is.Sub(line) > step
	}
	return false
}

// rowPassed is the farthest row of the table that a temperature has passed.
func rowPassed(was, is engine.Celsius, step engine.CelsiusDelta) (row engine.Celsius, ok bool) {
	const rows = 10 // degrees apart, as published
	for line := correction.WarmestRow; line >= correction.ColdestRow; line -= rows {
		if passes(was, is, line, step) && (!ok || is < was) {
			row, ok = line, true
		}
	}
	return row, ok
}
