package ruleset

import (
	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// CrossCheck is the result for avionics that correct for temperature: what
// the altimeter shows about where they fly, by the accurate equation from each
// altitude's own height, up to ten feet. Minimums stay as the rule set corrects
// them: the box may leave those alone (AIM 7-3-5). What they leave as published is
// not told.
func (r Result) CrossCheck(air correction.Air) Result {
	out := r
	out.Lines = make([]Line, len(r.Lines))
	copy(out.Lines, r.Lines)
	for i := range out.Lines {
		l := &out.Lines[i]
		if l.NoAltitude || l.Note == Left && l.Raised < 0 || l.Role.Minimum() || unlabelled(&l.Point) {
			continue
		}
		l.ReferencePoint, l.ReferenceHeight, l.Raised = -1, l.Height, -1
		l.Method, l.Note, l.ShortOf = correction.MethodAccurate, NoNote, 0
		about := func(a engine.Altitude) (engine.Feet, engine.Altitude) {
			c := max(0, correction.Accurate(a.Above(air.Source), air))
			return c, a.Add(engine.Feet(upTo(float64(c), 10)))
		}
		l.Unrounded, l.Corrected = about(l.Altitude.Add(l.Additive))
		l.Correction = engine.Feet(l.Corrected - l.Altitude)
		l.Report = l.Report && l.Correction > 0
		if l.Meaning == procedure.Between {
			_, l.UpperCorrected = about(l.Upper)
		}
	}
	return out
}
