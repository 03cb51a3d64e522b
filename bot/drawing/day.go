package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// Extreme is a forecast minimum or maximum.
type Extreme struct {
	At      time.Time
	C       engine.Celsius
	Maximum bool
	Binds   bool // at or below the restriction temperature
}

// Run is a part of a curve without a gap. A value holds until the next one,
// the last until To.
type Run struct {
	Values []coldwatch.Sample
	To     time.Time
}

// Text is the extreme in words.
func (e Extreme) Text(b Base) string {
	what := "minimum"
	if e.Maximum {
		what = "maximum"
	}
	return fmt.Sprintf("%s %s at %s", what, reply.Celsius(e.C), b.Both(e.At))
}

// Day is the forecast of a day against the restriction temperature. A
// forecast with extremes alone has no curve: what is estimated between them is
// apart from it.
type Day struct {
	Heading
	Base     Base
	Window   coldwatch.Window
	From, To time.Time // what is shown
	Runs     []Run     // the curve; between two runs nothing is known
	Extremes []Extreme
	// Estimated are the curves between extremes, a value every quarter of an hour.
	Estimated [][]coldwatch.Sample
	Line      engine.Celsius // the restriction temperature, when HasLine
	HasLine   bool
	// Judgement is what the watch says of it.
	Judgement coldwatch.Judgement
	// Lines are what the picture says, a sentence each.
	Lines []string
	foot  []string
}

// around is how much is shown before and after the duty window.
const around = 3 * time.Hour

// longestWindow and mostSamples are what a picture takes; what is more is
// not a day. The figures are ours.
const (
	longestWindow = 96 * time.Hour
	mostSamples   = 400
)

// DayOf draws a forecast for a duty window; now dates it. A restriction of
// coldwatch.NoRestriction draws no line.
func DayOf(b Base, f *coldwatch.Forecast, w coldwatch.Window, l coldwatch.Line, now time.Time) (Day, bool) {
	if f == nil || !w.From.Before(w.To) || w.To.Sub(w.From) > longestWindow || len(f.Hourly) > mostSamples || len(f.Minimums)+len(f.Maximums) > mostSamples {
		return Day{}, false
	}
	d := Day{
		Base: b, Window: w, From: w.From.Add(-around), To: w.To.Add(around),
		Line: l.Restriction, HasLine: l.Restriction > coldwatch.NoRestriction && drawableC(l.Restriction),
		Judgement: coldwatch.Judge(w, l, f),
	}
	d.curve(f.Hourly, f.ValidTo)
	d.extremes(f.Minimums, l, false)
	d.extremes(f.Maximums, l, true)
	d.estimate(f)
	slices.SortStableFunc(d.Extremes, func(a, b Extreme) int { return a.At.Compare(b.At) })
	if len(d.Runs) == 0 && len(d.Extremes) == 0 {
		return Day{}, false
	}
	d.words(f, now)
	return d, true
}

func (d *Day) extremes(list []coldwatch.Sample, l coldwatch.Line, maximum bool) {
	for _, s := range list {
		if d.has(s) {
			d.Extremes = append(d.Extremes, Extreme{At: s.At, C: s.C, Maximum: maximum, Binds: d.HasLine && l.Of(s.C) == coldwatch.Below})
		}
	}
}

// estimate takes what is estimated between the extremes, as far as it is shown
// and the forecast is valid.
func (d *Day) estimate(f *coldwatch.Forecast) {
	e := coldwatch.EstimateOf(f)
	var run []coldwatch.Sample
	flush := func() {
		if len(run) > 1 {
			d.Estimated = append(d.Estimated, run)
		}
		run = nil
	}
	for t := d.From; !t.After(d.To); t = t.Add(15 * time.Minute) {
		c, ok := e.At(t)
		if s := (coldwatch.Sample{At: t, C: c}); ok && d.has(s) && !t.Before(f.ValidFrom) && !t.After(f.ValidTo) {
			run = append(run, s)
		} else {
			flush()
		}
	}
	flush()
}

func (d *Day) has(s coldwatch.Sample) bool {
	return drawableC(s.C) && !s.At.Before(d.From) && !s.At.After(d.To)
}

// curve splits values at the gaps in which nothing is known.
func (d *Day) curve(all []coldwatch.Sample, validTo time.Time) {
	var run Run
	flush := func(to time.Time) {
		if n := len(run.Values); n > 0 {
			// As coldwatch has it: an hour, or up to the end of validity.
			last := run.Values[n-1].At
			run.To = last.Add(time.Hour)
			if rest := validTo.Sub(last); to.IsZero() && rest > 0 {
				run.To = last.Add(min(rest, coldwatch.Step))
			} else if d := to.Sub(last); d > 0 && d <= coldwatch.Step {
				run.To = to
			}
			if run.To.After(d.To) {
				run.To = d.To
			}
			d.Runs = append(d.Runs, run)
		}
		run = Run{}
	}
	for _, s := range all {
		if n := len(run.Values); !d.has(s) || n > 0 && (s.At.Sub(run.Values[n-1].At) > coldwatch.Step || !s.At.After(run.Values[n-1].At)) {
			flush(s.At)
		}
		if d.has(s) {
			run.Values = append(run.Values, s)
		}
	}
	flush(time.Time{})
}

func (d *Day) words(f *coldwatch.Forecast, now time.Time) {
	b, j := d.Base, d.Judgement
	d.Heading = Heading{Kind: "Forecast of the day", Title: b.title() + ", " + d.Window.From.In(b.zone()).Format("Mon 2 Jan 2006")}
	switch {
	case j.State == coldwatch.NoForecast:
		d.Sub = "No forecast for the duty window: this does not mean warm"
	case j.State == coldwatch.PartForecast:
		d.Sub = "Forecast for a part of the duty window only, to " + b.Both(j.CoveredTo) + ": the rest is not known"
	case !d.HasLine:
		d.Sub = "No restriction temperature is published here"
	case j.State == coldwatch.Below:
		d.Sub = "BELOW: at or below the restriction temperature, " + reply.Celsius(d.Line)
	case j.State == coldwatch.Near:
		d.Sub = "Near the restriction temperature, " + reply.Celsius(d.Line)
	default:
		d.Sub = "Clear of the restriction temperature, " + reply.Celsius(d.Line)
	}
	say := func(format string, args ...any) { d.Lines = append(d.Lines, fmt.Sprintf(format, args...)) }
	if j.State != coldwatch.NoForecast {
		if j.Bound(d.Window) {
			say("No colder than %s, forecast for %s, outside the duty window.", reply.Celsius(j.Low), b.Both(j.LowAt))
		} else {
			say("Lowest %s at %s.", reply.Celsius(j.Low), b.Both(j.LowAt))
		}
	}
	switch {
	case j.State != coldwatch.Below:
	case !j.BelowFrom.IsZero():
		say("At or below %s: %s.", reply.Celsius(d.Line), d.hours())
	default:
		say("The hours at or below %s are not known: only extremes are forecast.", reply.Celsius(d.Line))
	}
	say("Duty window %s.", b.Span(d.Window.From, d.Window.To))
	switch {
	case len(d.Estimated) > 0:
		say("The forecast has extremes alone: the dashed curve between them is estimated.")
	case len(d.Runs) == 0:
		say("Points alone: the forecast has no values between them.")
	}
	if note := clean(j.Note); note != "" {
		say("%s.", capital(note))
	}
	d.foot = []string{"Degrees Celsius; time is local, UTC below it."}
	source := "Source: " + clean(f.Source)
	if f.Source == "" {
		source = "Source: not named"
	}
	if f.Issued.IsZero() {
		source += "; when it was issued is not known"
	} else {
		source += ", issued " + f.Issued.UTC().Format("15:04Z 2 Jan")
		if !now.IsZero() {
			source += ", " + reply.Age(now.Sub(f.Issued))
		}
	}
	d.foot = append(d.foot, source+".", reply.Aid)
}

// mostSpells is how many cold stretches are told each by itself.
const mostSpells = 4

// hours are those at or below the line: each stretch by itself, where the
// forecast is above the line between them.
func (d *Day) hours() string {
	j, all := d.Judgement, d.spells()
	if len(all) < 2 || len(all) > mostSpells {
		all = []coldwatch.Window{{From: j.BelowFrom, To: j.BelowTo}}
	}
	return d.said(all)
}

// Spells are the hours at or below the line from an instant on, in words, where they
// are several stretches; empty where they are one, or too many to be told.
func (d Day) Spells(from time.Time) string {
	var all []coldwatch.Window
	for _, s := range d.spells() {
		if s.From.Before(from) {
			s.From = from
		}
		if s.From.Before(s.To) {
			all = append(all, s)
		}
	}
	if len(all) < 2 || len(all) > mostSpells {
		return ""
	}
	return d.said(all)
}

// said are stretches at or below the line, in words.
func (d *Day) said(all []coldwatch.Window) string {
	j := d.Judgement
	words := make([]string, len(all))
	for i, s := range all {
		if j.BelowFrom, j.BelowTo = s.From, s.To; j.Estimated() {
			words[i] = reply.ColdOf("", j).Hours(" to ", "", d.Base.Both)
		} else {
			words[i] = d.Base.Span(s.From, s.To)
		}
	}
	return strings.Join(words, ", and ")
}

// spells are the stretches of what is drawn at or below the line, within the
// hours that the watch gives. What is estimated is known by the quarter of an
// hour, and is cold where an end of one is, or an extreme in it.
func (d *Day) spells() (all []coldwatch.Window) {
	l := coldwatch.Line{Restriction: d.Line}
	add := func(from, to time.Time, cold bool) {
		if from.Before(d.Judgement.BelowFrom) {
			from = d.Judgement.BelowFrom
		}
		if to.After(d.Judgement.BelowTo) {
			to = d.Judgement.BelowTo
		}
		switch n := len(all); {
		case !cold || !from.Before(to):
		case n > 0 && !from.After(all[n-1].To):
			all[n-1].To = to
		default:
			all = append(all, coldwatch.Window{From: from, To: to})
		}
	}
	for _, run := range d.Runs {
		for i, s := range run.Values {
			to := run.To
			if i+1 < len(run.Values) {
				to = run.Values[i+1].At
			}
			add(s.At, to, l.Of(s.C) == coldwatch.Below)
		}
	}
	for _, run := range d.Estimated {
		for i, s := range run[1:] {
			touched := slices.ContainsFunc(d.Extremes, func(e Extreme) bool {
				return e.Binds && !e.At.Before(run[i].At) && !e.At.After(s.At)
			})
			add(run[i].At, s.At, touched || min(run[i].C, s.C) <= d.Line)
		}
	}
	return all
}

// LowIsExtreme says that the lowest temperature is one of the extremes, which
// are marked anyway.
func (d Day) LowIsExtreme() bool {
	for _, e := range d.Extremes {
		if e.C == d.Judgement.Low && e.At.Equal(d.Judgement.LowAt) {
			return true
		}
	}
	return false
}

// Name is the file's name.
func (Day) Name() string { return "day" }

// Top is the heading.
func (d Day) Top() Heading { return d.Heading }

// Foot are the lines below.
func (d Day) Foot() []string { return d.foot }

// Alt is the picture in words.
func (d Day) Alt() string {
	parts := append([]string{d.Kind + ".", d.Title + ".", d.Sub + "."}, d.Lines...)
	for i, e := range d.Extremes {
		if i == mostSpoken {
			parts = append(parts, "And more.")
			break
		}
		parts = append(parts, capital(e.Text(d.Base))+".")
	}
	return strings.Join(append(parts, "A planning aid."), " ")
}

// mostSpoken is how many single values the words for a picture name.
const mostSpoken = 8

// capital begins a sentence.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
}

// drawableC is a temperature that air can have.
func drawableC(c engine.Celsius) bool { return c >= -120 && c <= 70 }

// Range is the lowest and highest temperature that is drawn.
func (d Day) Range() (low, high engine.Celsius) {
	low, high = engine.Celsius(math.Inf(1)), engine.Celsius(math.Inf(-1))
	take := func(c engine.Celsius) { low, high = min(low, c), max(high, c) }
	for _, run := range d.Runs {
		for _, s := range run.Values {
			take(s.C)
		}
	}
	for _, run := range d.Estimated { // from an extreme that lies outside of what is drawn
		for _, s := range run {
			take(s.C)
		}
	}
	for _, e := range d.Extremes {
		take(e.C)
	}
	if d.HasLine {
		take(d.Line)
	}
	return low, high
}
