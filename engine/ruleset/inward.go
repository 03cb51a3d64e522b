package ruleset

import (
	"slices"

	"firn/engine"
	"firn/engine/procedure"
)

// Some of inward's places; the last is a step-down in the final segment.
const (
	inwardIntermediate = 3
	inwardFinal        = 5
	inwardLast         = 6
)

// inward orders the roles on the way in; 0 is one that is not on it.
func inward(p *procedure.Point) int {
	switch {
	case p.NoAltitude:
		return 0
	case p.Role.Opens() || p.Role == procedure.ArrivalArea:
		return 1
	case p.Role == procedure.StepDown && p.Segment == procedure.Initial:
		return 2
	case p.Role == procedure.IntermediateFix:
		return inwardIntermediate
	case p.Role == procedure.StepDown && p.Segment == procedure.Intermediate:
		return 4
	case p.Role == procedure.FinalFix:
		return inwardFinal
	case p.Role == procedure.StepDown && p.Segment == procedure.Final:
		return inwardLast
	}
	return 0
}

// sameWay says that one way in may lead over both points.
func sameWay(a, b *procedure.Point) bool {
	if b.From == "" {
		return true
	}
	ways := a.Ways()
	return ways == nil || slices.ContainsFunc(ways, b.On)
}

// raise has nothing on the way in flown lower than what comes further in: an
// altitude that is left as published, below one that is corrected, is flown at
// the other's figure. A ceiling lifts nothing.
func raise(lines []Line) {
	for i := range lines {
		l := &lines[i]
		at := inward(&l.Point)
		if at == 0 {
			continue
		}
		for j := range lines {
			m := &lines[j]
			if m.Raised >= 0 || m.Meaning == procedure.AtOrBelow || m.Altitude > l.Altitude || m.Corrected <= l.Corrected {
				continue
			}
			if inward(&m.Point) > at && sameWay(&l.Point, &m.Point) {
				l.Corrected, l.Raised = m.Corrected, j
			}
		}
		if l.Raised < 0 {
			continue
		}
		m := &lines[l.Raised]
		l.Correction = engine.Feet(l.Corrected - l.Altitude)
		l.State, l.Required, l.Rule = m.State, m.Required, m.Rule
		if l.Meaning == procedure.Between {
			l.UpperCorrected = max(l.UpperCorrected, l.Corrected)
		}
	}
}

// mayBeMinimum: an altitude without a label that is less than this above the
// field may be a minimum, and nothing is asked of air traffic control from it.
const mayBeMinimum engine.Height = 1500

// outside are the segments before the final approach fix.
const outside uint16 = 1<<procedure.Initial | 1<<procedure.Intermediate

// told marks what air traffic control is told: what the rule reports and
// requires; where it requires nothing of that, what the crew may choose to
// correct, all of it. Not what is only lifted. Of altitudes without a label it is
// the highest, unless it may be a minimum.
func (s *Set) told(res *Result, in Input, designated uint16) {
	highest := -1
	for i := range res.Lines {
		l := &res.Lines[i]
		if unlabelled(&l.Point) && l.Height-engine.Height(in.FieldAbove) >= mayBeMinimum-noise && (highest < 0 || l.Corrected > res.Lines[highest].Corrected) {
			highest = i
		}
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		l.Report = l.Correction > 0 && !l.Lifted() && (i == highest || !unlabelled(&l.Point) && s.report.has(&l.Point, designated))
		if l.ByPlace && designated&outside != outside {
			l.Report = false // before the final approach fix it need not be designated
		}
		res.ToldRequired = res.ToldRequired || l.Report && (l.Required || l.ByPlace)
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		l.Report = l.Report && (l.Required || l.ByPlace) == res.ToldRequired
		res.ToldUnknown = res.ToldUnknown || l.Report && l.State == Unknown && !l.ByPlace
	}
}

// unlabelled is true of an altitude of which nothing is known.
func unlabelled(p *procedure.Point) bool {
	return p.Segment == procedure.NoSegment && p.Role == procedure.NoRole
}
