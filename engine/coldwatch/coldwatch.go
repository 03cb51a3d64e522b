package coldwatch

import (
	"slices"
	"strings"
	"time"

	"firn/engine"
)

// State is what a forecast says of a restriction temperature.
type State uint8

// The states. No forecast is not "warm": it is the state that says so, and so
// is one that goes only a part of the way and is clear or near there.
const (
	Clear State = iota
	Near
	Below
	PartForecast
	NoForecast
)

var stateNames = [...]string{"clear", "near", "below", "part-forecast", "no-forecast"}

// String is the state's id in contracts and the store.
func (s State) String() string { return stateNames[s] }

// Asks says that people must do something about it: it is cold, or nobody
// knows that it is not.
func (s State) Asks() bool { return s >= Below }

// ParseState reads a state's id.
func ParseState(id string) (State, bool) {
	for i, n := range stateNames {
		if n == id {
			return State(i), true
		}
	}
	return NoForecast, false
}

// Sample is one forecast temperature.
type Sample struct {
	At time.Time
	C  engine.Celsius
}

// Forecast is what one source says of the temperature at one station. Either
// Hourly is given, a curve with steps of at most Step, or only the extremes
// of a TAF: then the hours between can only be estimated.
type Forecast struct {
	Source    string // for people: "TAF", "hourly forecast", ...
	Issued    time.Time
	ValidFrom time.Time
	ValidTo   time.Time
	Hourly    []Sample // in order of time
	Minimums  []Sample
	Maximums  []Sample
	// Note is what people must know of it besides: that its source has failed,
	// or that a newer one cannot be read. Empty when there is nothing.
	Note string `store:"-"` // it holds for the moment: no store keeps it
	// ColderOnly: a newer one cannot be read, so that this one counts only as
	// far as it is colder than what else is known.
	ColderOnly bool `store:"-"`
}

// Window is the duty time that is judged, To excluded. Began is when it began
// where From is what is left of it; else zero.
type Window struct{ From, To, Began time.Time }

// Rest is what is left of the window at a time; the window where it has not begun.
func (w Window) Rest(now time.Time) Window {
	if !now.After(w.From) {
		return w
	}
	if w.Began.IsZero() {
		w.Began = w.From
	}
	w.From = now
	return w
}

// Gone says that an instant lay in the window before what is left of it.
func (w Window) Gone(t time.Time) bool {
	return !w.Began.IsZero() && !t.Before(w.Began) && t.Before(w.From)
}

// Beside says, for people, where an instant lies that is not in the window.
func (w Window) Beside(t time.Time) string {
	if w.Gone(t) {
		return "earlier in the duty window"
	}
	return "outside the duty window"
}

// name is the window for people.
func (w Window) name() string {
	if w.Began.IsZero() {
		return "the duty window"
	}
	return "what is left of the duty window"
}

// Line is the restriction temperature and how close to it is near.
type Line struct {
	Restriction engine.Celsius
	Margin      engine.CelsiusDelta
}

// Judgement is a forecast held against the line for a window.
type Judgement struct {
	State State
	// Low is the lowest in the window, rounded once, to the colder tenth: it is
	// judged as it is shown. Not set for NoForecast.
	Low   engine.Celsius
	LowAt time.Time
	// BelowFrom and BelowTo bound the time at or below the restriction
	// temperature inside the window; zero when there is none, or when the
	// hours are not known and not estimated either.
	BelowFrom, BelowTo time.Time
	HoursKnown         bool // whether the forecast has a curve
	Covered            bool // the forecast covers the whole window
	// CoveredFrom and CoveredTo bound the first stretch of the window that the
	// forecast covers without a gap; zero for NoForecast.
	CoveredFrom, CoveredTo time.Time
	Restriction            engine.Celsius
	Source                 string
	Issued                 time.Time
	// Note is what people must know besides: sources that disagree, a window
	// only partly covered. Empty when there is nothing.
	Note string

	// For Choose alone: the state by the low, what of Note is about the part
	// that is covered, and what the forecast says of itself.
	byLow      State
	inside     engine.Celsius // where the low is a bound: the lowest that is known inside
	hasInside  bool
	insideIs   State
	partly     string
	ofForecast string
	colderOnly bool
}

// Estimated says that the hours at or below are an Estimate: the forecast has
// only extremes.
func (j Judgement) Estimated() bool { return !j.HoursKnown && !j.BelowFrom.IsZero() }

// The texts of a note that repeat what a judgement has as figures: its low as a
// bound, the part that is covered, the estimated hours. A judgement is stored with
// its note as one text, so that Further knows their parts by how they begin.
const (
	boundBefore = "the forecast minimum, %s, was for %s, earlier in the duty window; what is left of it is no colder, how cold is not known"
	boundBeside = "the forecast minimum, %s, is for %s, outside the duty window, in which it is no colder; how cold is not known"
	coversOnly  = "the forecast covers only %s to %s of the duty window"
	hoursFrom   = "the hours are estimated from %s to %s, and not known beyond"
)

// between stands between the parts of a note.
const between = "; "

// figured is how the parts of those texts begin, up to their first figure.
var figured = func() (all []string) {
	for _, text := range [...]string{boundBefore, boundBeside, coversOnly, hoursFrom} {
		for part := range strings.SplitSeq(text, between) {
			begin, _, _ := strings.Cut(part, "%")
			all = append(all, begin)
		}
	}
	return all
}()

// Further is the note without what the figures say: what a person must read who
// is told the low and the hours.
func (j Judgement) Further() string {
	return join(slices.DeleteFunc(strings.Split(j.Note, between), func(part string) bool {
		return slices.ContainsFunc(figured, func(begins string) bool { return strings.HasPrefix(part, begins) })
	})...)
}
