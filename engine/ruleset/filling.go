package ruleset

import (
	"slices"
	"strconv"

	"firn/engine"
	"firn/engine/procedure"
	"firn/engine/speech"
)

// filling is what a call's fields are filled with.
type filling struct {
	CallOptions
	doc      *call
	res      Result
	required bool
	hundreds engine.Altitude // up to where whole hundreds are spoken

	floor  *Line // that is refused below; nil: none
	refuse engine.Altitude
	until  string
	at     *Line // the way's own place, or the next one further in
	missed *Line
}

// asked says that a line may be asked for: it is told, and no ceiling.
func asked(l *Line) bool { return l.Report && l.Meaning != procedure.AtOrBelow }

// asks is asked; other traffic is told of every corrected place, also of one that
// a rule set does not report to air traffic control.
func (f *filling) asks(l *Line) bool {
	if f.Way != WayTraffic || inward(&l.Point) == 0 {
		return asked(l)
	}
	return l.State != Unchanged && l.Correction > 0 && (l.Required || !f.required) && !l.Lifted() && l.Meaning != procedure.AtOrBelow
}

// unlabelled is the altitude without a label that is told, where nothing with
// one is.
func (f *filling) unlabelled() (found *Line) {
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		switch {
		case !asked(l):
		case unlabelled(&l.Point):
			found = l
		default:
			return nil
		}
	}
	return found
}

// look finds the lines that a call speaks of.
func (f *filling) look(way string) {
	for i := range f.res.Lines {
		if l := &f.res.Lines[i]; asked(l) && l.Role == procedure.MissedHold {
			f.missed = higher(f.missed, l)
		}
	}
	switch way {
	case WayVectors, WayVectorsInside:
		f.vectors(way == WayVectorsInside)
	case WayHold:
		f.at = f.highest(func(l *Line) bool { return l.Role == procedure.Hold })
	case WayTurn:
		f.at = f.highest(func(l *Line) bool { return l.Role == procedure.ProcedureTurn })
	default:
		f.at = f.highest(func(l *Line) bool {
			return f.Fix != "" && l.Fix == f.Fix && inward(&l.Point) > 0 && inward(&l.Point) < 6
		})
		if f.at == nil && f.Fix == "" {
			f.at = f.highest(func(l *Line) bool { return l.Role == procedure.InitialFix })
		}
		if f.at == nil && f.Fix == "" && way == WayTraffic {
			f.at = f.highest(func(l *Line) bool { return l.Role.Opens() })
		}
	}
	if f.at == nil {
		f.at = f.inner(0)
	}
}

// highest is the highest line that may be asked for among some.
func (f *filling) highest(among func(*Line) bool) (found *Line) {
	for i := range f.res.Lines {
		if l := &f.res.Lines[i]; f.asks(l) && among(l) {
			found = higher(found, l)
		}
	}
	return found
}

// inner is the first line on the way in that may be asked for, further in than
// a place.
func (f *filling) inner(than int) (found *Line) {
	at := 0
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		n := inward(&l.Point)
		if !f.asks(l) || n <= than || n > 5 {
			continue
		}
		switch {
		case found == nil || n < at:
			found, at = l, n
		case n == at:
			found = higher(found, l)
		}
	}
	return found
}

// vectors finds what is refused below. To the intermediate fix it is that
// fix; without one the highest initial approach fix, and else the highest
// between there and the final approach fix, as inside a fix; where none of them is
// the turn or the hold. What would keep the crew above a ceiling further in is none.
func (f *filling) vectors(inside bool) {
	passed, from := -1, inwardIntermediate
	if inside {
		passed, from = f.fix()
	} else {
		for _, r := range [...]procedure.Role{procedure.IntermediateFix, procedure.InitialFix} {
			if f.floor == nil {
				f.floor = f.floorAmong(func(i int, l *Line) bool { return l.Role == r && !f.capped(i) })
			}
		}
	}
	// ahead: further in than the place.
	ahead := func(i int, l *Line) bool {
		n := inward(&l.Point)
		further := n > from || n == from && l.Role == procedure.StepDown && i > passed && passed >= 0
		return further && n < inwardFinal && (from != 1 || l.On(f.Fix))
	}
	if f.floor == nil {
		f.floor = f.floorAmong(func(i int, l *Line) bool { return ahead(i, l) && !f.capped(i) })
	}
	final := f.floorAmong(func(_ int, l *Line) bool { return l.Role == procedure.FinalFix })
	f.until = "established"
	if f.floor == nil || inward(&f.floor.Point) > inwardIntermediate { // a row further out is left for those behind it
		f.until = "the final approach fix"
	}
	if f.floor == nil {
		f.floor = final
	}
	if f.floor == nil && !inside { // a turn or a hold is all there is outside the final segment
		f.floor = f.floorAmong(func(i int, l *Line) bool {
			return (l.Role == procedure.ProcedureTurn || l.Role == procedure.Hold) && !f.capped(i)
		})
		f.until = "established"
	}
	if f.floor == nil {
		return
	}
	// Never under a line between there and the final approach fix.
	at := inward(&f.floor.Point)
	floor := f.floor
	f.refuse = floor.Corrected
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		n := inward(&l.Point)
		if n < at || n > inwardFinal || n == at && at == 1 && l != floor || n == from && inside && !ahead(i, l) || l.Meaning == procedure.AtOrBelow || l.Corrected <= f.refuse {
			continue
		}
		if f.refuse = l.Corrected; l.Report {
			f.floor = l
		}
	}
}

// ceiling is the innermost place on the way in that is required and no more than
// so high, where vectors are asked for and nothing is refused below.
func (f *filling) ceiling() (at string, most engine.Altitude) {
	floors := slices.ContainsFunc(f.doc.clauses, func(parts []part) bool {
		return slices.ContainsFunc(parts, func(p part) bool { return p.field == fieldFloor })
	})
	if !floors || f.floor != nil || !f.required {
		return "", 0
	}
	last := 0
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		if n := inward(&l.Point); l.Report && l.Meaning == procedure.AtOrBelow && n > last && n <= inwardFinal {
			last, at, most = n, l.FullName(), l.Corrected
		}
	}
	return at, most
}

// capped says that a line further in than the one at i is flown no higher than below
// it.
func (f *filling) capped(i int) bool {
	l := &f.res.Lines[i]
	at := inward(&l.Point)
	return slices.ContainsFunc(f.res.Lines[i+1:], func(m Line) bool { return m.Role == procedure.StepDown && inward(&m.Point) == at && below(&m, l) }) ||
		slices.ContainsFunc(f.res.Lines, func(m Line) bool {
			return inward(&m.Point) > at && inward(&m.Point) <= inwardFinal && below(&m, l)
		})
}

// below says that a line is flown no higher than below another, on one way in.
func below(m, l *Line) bool {
	most := m.Corrected
	if m.Meaning == procedure.Between {
		most = m.UpperCorrected
	} else if m.Meaning != procedure.AtOrBelow {
		return false
	}
	return most < l.Corrected && sameWay(&l.Point, &m.Point)
}

// floorAmong is the highest line that may be asked for among some.
func (f *filling) floorAmong(among func(i int, l *Line) bool) (found *Line) {
	for i := range f.res.Lines {
		if l := &f.res.Lines[i]; asked(l) && among(i, l) {
			found = higher(found, l)
		}
	}
	return found
}

// fix is the innermost line at the fix that the crew is vectored inside of, and
// how far in that is: a hold may stand at the intermediate fix. Without one it
// is the intermediate fix.
func (f *filling) fix() (line, from int) {
	line, from = -1, 0
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		if n := inward(&l.Point); l.Fix == f.Fix && f.Fix != "" && n >= max(from, 1) && n < inwardFinal {
			line, from = i, n
		}
	}
	if line < 0 {
		return -1, inwardIntermediate
	}
	return line, from
}

// say appends parts; full is false where one of them has nothing to say.
func (f *filling) say(text, spoken []byte, parts []part) (_, _ []byte, full bool) {
	full = true
	for _, p := range parts {
		n := len(text)
		switch p.field {
		case fieldText:
			text, spoken = append(text, p.text...), append(spoken, p.text...)
		case fieldProcedure:
			text, spoken = append(text, f.Name...), append(spoken, f.SpokenName...)
		case fieldVia:
			if f.Fix != "" && (f.Way == WayVia || f.Way == WayTraffic) {
				text, spoken = append(append(text, " via "...), f.Fix...), append(append(spoken, " via "...), f.Fix...)
			}
			continue
		case fieldAmount:
			switch {
			case f.floor != nil:
				text, spoken = f.amount(text, spoken, f.floor.Correction+f.extra())
			case f.at != nil && unlabelled(&f.at.Point):
				text, spoken = f.amount(text, spoken, f.at.Correction)
			}
		case fieldFloor:
			if f.floor != nil {
				text, spoken = f.altitude(text, spoken, f.refuse)
			}
		case fieldUntil:
			text, spoken = append(text, f.until...), append(spoken, f.until...)
		case fieldAltitude:
			if f.at != nil {
				text, spoken = f.altitude(text, spoken, f.at.Corrected)
			}
		case fieldPlace:
			if f.at != nil {
				where := f.where(f.at)
				text, spoken = append(text, where...), append(spoken, where...)
			}
		case fieldMissed:
			if f.missed != nil {
				text, spoken = f.altitude(text, spoken, f.missed.Corrected)
			}
		case fieldAltitudes, fieldAmounts:
			text, spoken = f.list(text, spoken, p.field == fieldAmounts)
		}
		full = full && len(text) > n
	}
	return text, spoken, full
}

// extra counts outside the intermediate fix alone.
func (f *filling) extra() engine.Feet {
	if f.Way != WayVectors && f.until != "established" {
		return 0
	}
	return f.Extra
}

// list are the lines that a call tells, in flying order.
func (f *filling) list(text, spoken []byte, amounts bool) (_, _ []byte) {
	first := true
	add := func(l *Line) {
		if !first {
			text, spoken = append(text, ", "...), append(spoken, ", "...)
		}
		first = false
		if amounts {
			text, spoken = f.amount(text, spoken, l.Correction)
		} else {
			text, spoken = f.altitude(text, spoken, l.Corrected)
		}
		where := f.where(l)
		text, spoken = append(append(text, ' '), where...), append(append(spoken, ' '), where...)
	}
	if f.Way == WayTraffic && f.Fix == "" && f.at != nil && f.at.Role.Opens() && f.doc.tellWay {
		// By which way is not said: each of them.
		for i := range f.res.Lines {
			if l := &f.res.Lines[i]; f.asks(l) && l.Role.Opens() {
				add(l)
			}
		}
		return text, spoken
	}
	own := f.doc.tellWay && f.at != nil && f.Way != WayVectors && f.Way != WayVectorsInside &&
		(f.at.Role != procedure.FinalFix || !f.doc.tell.has(&f.at.Point, 0))
	if own {
		for i := range f.res.Lines {
			if l := &f.res.Lines[i]; f.begins(l) {
				add(l)
			}
		}
		add(f.at)
	}
	for _, missed := range []bool{false, true} {
		for at := range inwardLast + 1 { // in flying order
			for i := range f.res.Lines {
				l := &f.res.Lines[i]
				if inward(&l.Point) != at || (l.Segment == procedure.Missed) != missed || !f.asks(l) || own && l == f.at ||
					!f.doc.tell.has(&l.Point, 0) || l.Role == procedure.MissedHold && l != f.missed {
					continue
				}
				add(l)
			}
		}
	}
	return text, spoken
}

// begins says that a line is the initial fix that the crew crosses before the
// turn or the hold that it comes in by: at the same fix, or one of the two has no
// name. Where they are at one place and flown alike it is said once.
func (f *filling) begins(l *Line) bool {
	if f.Way != WayHold && f.Way != WayTurn || f.at.Role != procedure.Hold && f.at.Role != procedure.ProcedureTurn {
		return false
	}
	if l.Role != procedure.InitialFix || !f.asks(l) || !sameWay(&l.Point, &f.at.Point) {
		return false
	}
	if f.at.Fix != "" && l.Fix == f.at.Fix {
		return l.Corrected > f.at.Corrected
	}
	return l.Fix == "" || f.at.Fix == ""
}

// amount appends whole hundreds, rounded up.
func (f *filling) amount(text, spoken []byte, ft engine.Feet) (_, _ []byte) {
	n := engine.Feet(upTo(float64(ft), 100))
	if n <= 0 {
		return text, spoken
	}
	return append(appendWhole(text, float64(n)), " ft"...), append(speech.AppendAmount(spoken, n), " feet"...)
}

// altitude appends whole hundreds, rounded up; from the transition altitude on
// it is said to be an altitude.
func (f *filling) altitude(text, spoken []byte, a engine.Altitude) (_, _ []byte) {
	n := engine.Altitude(upTo(float64(a), 100))
	if n >= f.Transition {
		text, spoken = append(text, "altitude "...), append(spoken, "altitude "...)
	}
	text, spoken = appendWhole(text, float64(n)), speech.AppendAltitudeBelow(spoken, n, f.hundreds)
	if n >= f.Transition || len(f.Typed) > 0 { // beside metres a figure without its unit may be heard as metres
		text, spoken = append(text, " ft"...), append(spoken, " feet"...)
	}
	return text, spoken
}

// appendWhole writes a whole number.
func appendWhole(b []byte, v float64) []byte { return strconv.AppendInt(b, int64(v), 10) }

// where is whereOf; a hold that the crew comes by is named as a fix, and a final
// approach fix where a turn begins as what it is.
func (f *filling) where(l *Line) string {
	if (f.Way == WayVia || f.Way == WayTraffic) && l.Role == procedure.Hold && l.Fix != "" && l.Fix == f.Fix {
		return "at " + l.Fix
	}
	if l.Role == procedure.FinalFix && f.shared(l) {
		return "at the final approach fix"
	}
	return whereOf(l)
}

// shared says that another line at the final approach fix's place is flown
// higher on the way in: its name alone would not tell the two apart.
func (f *filling) shared(final *Line) bool {
	for i := range f.res.Lines {
		l := &f.res.Lines[i]
		if n := inward(&l.Point); l.Fix != "" && l.Fix == final.Fix && n > 0 && n < inwardFinal && l.Corrected > final.Corrected {
			return true
		}
	}
	return false
}

// whereOf is where a line's altitude holds, as it is said.
func whereOf(l *Line) string {
	switch l.Role {
	case procedure.MissedHold, procedure.MissedAltitude:
		return "on the missed approach"
	case procedure.ProcedureTurn:
		return "in the procedure turn"
	case procedure.Hold:
		if l.Fix == "" {
			return "in the hold"
		}
		return "in the hold at " + l.Fix
	}
	return "at " + place(l)
}
