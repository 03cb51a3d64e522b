package coldwatch

import (
	"fmt"
	"time"

	"firn/engine"
)

// Reason names what changed between two judgements.
type Reason string

// The reasons.
const (
	CrossedLine   Reason = "crossed-line"   // at or below the restriction temperature, and not before; or the other way
	CrossedMargin Reason = "crossed-margin" // near the line, and not before; or the other way
	Moved         Reason = "moved"          // the low, by more than the step
	HoursMoved    Reason = "hours-moved"    // the hours at or below, by more than HoursStep
	Over          Reason = "over"           // the low has passed, and what is left of the window is clear
	SourceGone    Reason = "source-gone"    // there was a forecast
	SourceBack    Reason = "source-back"    // there was none
	Covers        Reason = "covers"         // the forecast goes farther than it did
	CoversLess    Reason = "covers-less"    // it leaves a part of the window out, and did not before
)

// HoursStep is by how much the hours at or below the restriction temperature
// may move without being told. The figure is ours.
const HoursStep = 2 * time.Hour

// Change is one thing that changed, in words for people.
type Change struct {
	Reason Reason
	Text   string
	Colder bool // of Moved: than the low that was told
}

// Crosses says that a change is one of state, not of degree.
func (c Change) Crosses() bool { return c.Reason != Moved && c.Reason != HoursMoved }

// Changed says what is different in after since before, the judgement that
// people were last told. rest is the window that after was judged for: what is
// left of the one of before, or all of it. Nothing changed means that nobody
// needs to be told.
//
// Time that passes is no change: once the low that people were told has gone
// by, and the hours at or below the line where they were told, a warmer rest
// is not news, and only a rest that is clear, or not known, ends a cold. A
// bound is no news where it was below already. That nothing is known any more is news, but for
// the last two hours (Tail).
func Changed(before, after Judgement, rest Window, step engine.CelsiusDelta) []Change {
	if out, done := known(before, after, rest); done {
		return out
	}
	passed := before.LowAt.Before(rest.From)
	out := crossed(before, after, rest, passed)
	if before.State == Below && after.State < Below && passed && len(out) == 0 {
		return nil
	}
	moved := after.Low.Sub(before.Low)
	if passed || before.State == PartForecast {
		moved = min(moved, 0)
	}
	if moved < -step-noise || moved > step+noise {
		out = append(out, Change{Reason: Moved, Text: fmt.Sprintf("the low moved from %s to %s", degrees(before.Low), degrees(after.Low)), Colder: moved < 0})
	}
	if before.State == Below && after.State == Below && before.hasHours() && after.hasHours() &&
		(apart(later(before.BelowFrom, rest.From), after.BelowFrom) > HoursStep || apart(before.BelowTo, after.BelowTo) > HoursStep) {
		out = append(out, Change{Reason: HoursMoved, Text: fmt.Sprintf("the hours at or below moved from %s to %s", before.hours(), after.hours())})
	}
	return out
}

// known tells of what is known and what is not; done where that is all.
func known(before, after Judgement, rest Window) (out []Change, done bool) {
	one := func(r Reason, format string, args ...any) ([]Change, bool) {
		return []Change{{Reason: r, Text: fmt.Sprintf(format, args...)}}, true
	}
	switch was, is := before.State, after.State; {
	case was == NoForecast && is == NoForecast, was == Clear && is == Clear:
		return nil, true
	case was == NoForecast && is == PartForecast:
		return one(SourceBack, "there is a forecast again, which goes to %s", zulu(after.CoveredTo))
	case was == NoForecast:
		return one(SourceBack, "there is a forecast again")
	case was == PartForecast && is == NoForecast:
		return one(SourceGone, "what was forecast, to %s, is at its end, and nothing is known of the rest", zulu(before.CoveredTo))
	case is == NoForecast && rest.To.Sub(rest.From) <= Tail:
		return nil, true
	case is == NoForecast:
		return one(SourceGone, "there is no forecast any more")
	case was == PartForecast && is == PartForecast && !before.CoveredTo.After(rest.From):
		return one(Covers, "what was told has gone by; the forecast goes to %s now", zulu(after.CoveredTo))
	case was == PartForecast && is == PartForecast && after.CoveredTo.Before(before.CoveredTo.Add(-hold)):
		return one(CoversLess, "the forecast goes only to %s now", zulu(after.CoveredTo))
	case was == PartForecast && is == PartForecast && after.byLow == Clear:
		return nil, true
	case was == Below && is == Below && after.Bound(rest) && !before.Bound(Window{To: rest.To}):
		return nil, true
	}
	return nil, false
}

// crossed tells of a state that is another.
func crossed(before, after Judgement, rest Window, passed bool) []Change {
	one := func(r Reason, format string, args ...any) []Change {
		return []Change{{Reason: r, Text: fmt.Sprintf(format, args...)}}
	}
	// An hour of grace: a newer curve begins with the next full hour.
	toldBelow := !passed || before.hasHours() && before.BelowTo.After(rest.From.Add(hold))
	line := degrees(after.Restriction)
	switch was, is := before.State, after.State; {
	case was != Below && is == Below && after.Bound(rest):
		return one(CrossedLine, "now perhaps at or below %s: a minimum of %s is forecast for %s, %s", line, degrees(after.Low), zulu(after.LowAt), rest.Beside(after.LowAt))
	case was != Below && is == Below:
		return one(CrossedLine, "now at or below %s", line)
	case was == Below && is == PartForecast && toldBelow:
		return one(CrossedLine, "no longer at or below %s as far as the forecast goes, to %s", line, zulu(after.CoveredTo))
	case was == Below && is == PartForecast:
		return one(Over, "the low, %s, has gone by; the forecast goes to %s", degrees(before.Low), zulu(after.CoveredTo))
	case was == Below && is != Below && toldBelow:
		return one(CrossedLine, "no longer at or below %s", line)
	case was == Below && is == Clear:
		return one(Over, "the low, %s, has gone by and the rest is clear", degrees(before.Low))
	case was == PartForecast && is != PartForecast && is != Below:
		return one(Covers, "the rest of the duty window is forecast now")
	case was != PartForecast && is == PartForecast:
		return one(CoversLess, "the forecast goes only to %s now", zulu(after.CoveredTo))
	case was == Near && is == Clear && !passed:
		return one(CrossedMargin, "no longer near %s", line)
	case was == Clear && is == Near:
		return one(CrossedMargin, "now near %s", line)
	}
	return nil
}

func apart(a, b time.Time) time.Duration { return a.Sub(b).Abs() }

func (j Judgement) hasHours() bool { return !j.BelowFrom.IsZero() }

// hours are those at or below, for people.
func (j Judgement) hours() string {
	about, estimated := "", ""
	if j.Estimated() {
		about, estimated = "about ", " (estimated)"
	}
	return about + j.BelowFrom.UTC().Format("15:04Z") + "–" + j.BelowTo.UTC().Format("15:04Z") + estimated
}
