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
)

// HoursStep is by how much the hours at or below the restriction temperature
// may move without being told. The figure is ours.
const HoursStep = 2 * time.Hour

// Change is one thing that changed, in words for people.
type Change struct {
	Reason Reason
	Text   string
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
// is not news, and only a rest that is clear ends a cold. A bound that is worse than a low that was known is not news
// either.
func Changed(before, after Judgement, rest Window, step engine.CelsiusDelta) []Change {
	passed := before.LowAt.Before(rest.From)
	// An hour of grace: a newer curve begins with the next full hour.
	toldBelow := !passed || before.HoursKnown && before.BelowTo.After(rest.From.Add(hold))
	switch {
	case before.State == NoForecast && after.State == NoForecast:
		return nil
	case before.State == NoForecast:
		return []Change{{SourceBack, "there is a forecast again"}}
	case after.State == NoForecast && passed:
		return nil // what mattered has gone by
	case after.State == NoForecast:
		return []Change{{SourceGone, "there is no forecast any more"}}
	case before.State == Clear && after.State == Clear:
		return nil
	case after.Bound(rest) && !before.Bound(Window{To: rest.To}) && after.State >= before.State:
		return nil
	}
	moved := after.Low.Sub(before.Low)
	if passed {
		moved = min(moved, 0)
	}
	var out []Change
	add := func(r Reason, format string, args ...any) {
		out = append(out, Change{r, fmt.Sprintf(format, args...)})
	}
	line := degrees(after.Restriction)
	switch {
	case before.State != Below && after.State == Below:
		add(CrossedLine, "now at or below %s", line)
	case toldBelow && before.State == Below && after.State != Below:
		add(CrossedLine, "no longer at or below %s", line)
	case passed && before.State == Below && after.State == Clear:
		add(Over, "the low, %s, has gone by and the rest is clear", degrees(before.Low))
	case passed && after.State < before.State:
		return nil
	case before.State == Clear && after.State == Near:
		add(CrossedMargin, "now near %s", line)
	case before.State == Near && after.State == Clear:
		add(CrossedMargin, "no longer near %s", line)
	}
	if moved < -step-noise || moved > step+noise {
		add(Moved, "the low moved from %s to %s", degrees(before.Low), degrees(after.Low))
	}
	if before.State == Below && after.State == Below && before.HoursKnown && after.HoursKnown &&
		(apart(later(before.BelowFrom, rest.From), after.BelowFrom) > HoursStep || apart(before.BelowTo, after.BelowTo) > HoursStep) {
		add(HoursMoved, "the hours at or below moved from %s–%s to %s–%s", clock(before.BelowFrom), clock(before.BelowTo), clock(after.BelowFrom), clock(after.BelowTo))
	}
	return out
}

func apart(a, b time.Time) time.Duration { return a.Sub(b).Abs() }

func clock(t time.Time) string { return t.UTC().Format("15:04Z") }
