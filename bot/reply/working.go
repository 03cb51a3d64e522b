package reply

import (
	"errors"
	"fmt"
	"math"

	"firn/engine"
	"firn/engine/atmosphere"
	"firn/engine/correction"
	"firn/engine/ruleset"
)

// workings show each altitude step by step, by every method, and how low the
// aeroplane would have been.
func workings(sc *Scene, res ruleset.Result) []Working {
	out := make([]Working, len(res.Lines))
	for i := range res.Lines {
		out[i] = workingOf(sc, res, &res.Lines[i])
	}
	return out
}

func workingOf(sc *Scene, res ruleset.Result, l *ruleset.Line) Working {
	air := correction.Air{Temperature: sc.Temperature.C, Source: sc.Source}
	if l.NoAltitude {
		return Working{Name: l.Name(), Steps: []Step{{Text: "the chart publishes no altitude at " + l.Fix}}}
	}
	w := Working{PublishedFt: cents(float64(l.Altitude)), Name: l.Name(), ErrorFt: float64(correction.Error(l.Height, air))}
	for _, m := range correction.Methods() {
		c, err := correction.By(m, l.Height, air)
		if errors.Is(err, correction.ErrAboveTable) {
			c, err = correction.By(m, correction.HighestColumn, air)
		}
		if err == nil { // colder or warmer than the table: it has no figure
			w.Methods = append(w.Methods, MethodFigure{string(m), float64(c)})
		}
	}
	step := func(source, format string, args ...any) {
		w.Steps = append(w.Steps, Step{Text: fmt.Sprintf(format, args...), Source: source})
	}
	if l.ReferencePoint >= 0 && &res.Lines[l.ReferencePoint] != l {
		ref := &res.Lines[l.ReferencePoint]
		step(firstSource(sc.Set), "%s sets the correction: %s − %s = %s ft above the source", nameOf(ref), feet(float64(ref.Altitude)), feet(float64(sc.Source)), feet(float64(l.ReferenceHeight)))
	} else {
		step("height = altitude − elevation of the source", "%s − %s = %s ft above the source", feet(float64(l.Altitude)), feet(float64(sc.Source)), feet(float64(l.Height)))
	}
	if l.Note == ruleset.Left {
		step(sc.Set.Name, "%s ft is flown as published: the rule leaves it, or its segment is not designated", feet(float64(l.Altitude)))
		w.truth(step, sc, l, air)
		return w
	}
	if l.Additive > 0 {
		step("the chart's note", "remote altimeter source: %s ft are added first, %s + %s = %s ft", feet(float64(l.Additive)), feet(float64(l.Altitude)), feet(float64(l.Additive)), feet(float64(l.Altitude.Add(l.Additive))))
	}
	methodSteps(step, sc, l, air)
	if l.Raised >= 0 {
		step("nothing on the way in is flown lower than what comes after it", "flown at %s ft, as %s", feet(engine.UpToFoot(float64(l.Corrected))), nameOf(&res.Lines[l.Raised]))
		w.truth(step, sc, l, air)
		return w
	}
	rounding := sc.Set.RoundingOf(&l.Point, sc.Outside)
	step(sc.Set.Name+", rounding", "%.1f ft, %s: %s ft; %s + %s = %s ft", float64(l.Unrounded), rounding.Describe(),
		feet(float64(l.Correction)), feet(float64(l.Altitude)), feet(float64(l.Correction)), feet(engine.UpToFoot(float64(l.Corrected))))
	if l.ReferencePoint >= 0 && l.ReferenceHeight < l.Height {
		own := correction.Accurate(l.Height, air)
		if own > l.Correction {
			step("the accurate equation; the rule set accepts the difference", "its own height, %s ft, would need %.0f ft", feet(float64(l.Height)), float64(own))
		}
	}
	w.truth(step, sc, l, air)
	return w
}

// truth is where the aeroplane really is, uncorrected and as corrected.
func (w *Working) truth(step func(source, format string, args ...any), sc *Scene, l *ruleset.Line, air correction.Air) {
	if w.ErrorFt <= 0 {
		return
	}
	step("the accurate equation read the other way: the error at the indicated altitude, which is not the correction",
		"uncorrected, at %s ft indicated the aeroplane is %.0f ft low, at %.0f ft", feet(float64(l.Altitude)), w.ErrorFt, float64(l.Altitude)-w.ErrorFt)
	if l.Correction <= 0 {
		return
	}
	at := trueAltitude(l.Corrected, air)
	step("the accurate equation read the other way", "as corrected, at %s ft indicated it is really at %.0f ft, %.0f ft %s the published altitude",
		feet(engine.UpToFoot(float64(l.Corrected))), float64(at), math.Abs(float64(at-l.Altitude)), map[bool]string{true: "above", false: "below"}[at >= l.Altitude])
}

// methodSteps show how the amount was found.
func methodSteps(step func(source, format string, args ...any), sc *Scene, l *ruleset.Line, air correction.Air) {
	_, source := l.Method.Describe()
	t := Degrees(sc.Temperature.C)
	h := l.ReferenceHeight
	if l.Note == ruleset.LastColumn {
		step(source, "higher than the last column: the 5000 ft column is used")
		h = correction.HighestColumn
	}
	switch {
	case l.Note == ruleset.WarmAir:
		step("nothing is added in air that is not cold, and never subtracted", "%s °C is not colder than the standard %s °C at %s ft",
			t, Degrees(atmosphere.StandardTemperature(sc.Source)), feet(float64(sc.Source)))
	case l.Method == correction.MethodTable:
		r, err := correction.Read(h, air.Temperature)
		if err != nil {
			return // Evaluate would have said so
		}
		tableSteps(step, source, r)
	case l.Method == correction.MethodEquation && l.Note != ruleset.NoNote:
		step(source, "%s °C is outside the table: %s by the equation, which is %.1f ft here", t, "the correction is found", float64(correction.Equation(h, air)))
	default:
		text, _ := l.Method.Describe()
		step(source, "%s at %s °C and %s ft: %.1f ft", text, t, feet(float64(h)), float64(l.Unrounded))
	}
}

func tableSteps(step func(source, format string, args ...any), source string, r correction.Reading) {
	rowText := func(row correction.Row) string {
		if r.Lower == r.Higher {
			return fmt.Sprintf("row %s °C, column %s ft: %s", Degrees(row.Temperature), feet(float64(r.Higher)), feet(float64(row.Value)))
		}
		return fmt.Sprintf("row %s °C: %s at %s ft, %s at %s ft, so %.1f at %s ft", Degrees(row.Temperature),
			feet(float64(row.Lower)), feet(float64(r.Lower)), feet(float64(row.Higher)), feet(float64(r.Higher)), float64(row.Value), feet(float64(r.Height)))
	}
	if r.Lower == 0 {
		source += "; below 200 ft from zero at the field, own choice"
	}
	step(source, "%s", rowText(r.Warmer))
	if r.Warmer.Temperature != r.Colder.Temperature {
		step(source, "%s", rowText(r.Colder))
		step("interpolated by temperature", "between them at %s °C: %.1f ft", Degrees(r.Temperature), float64(r.Correction))
	}
}

func firstSource(s *ruleset.Set) string {
	if len(s.Sources) == 0 {
		return s.Name
	}
	return s.Sources[0]
}

// feet writes a figure without decimals where it has none.
func feet(v float64) string {
	if v == float64(int64(v)) {
		return fmt.Sprintf("%d", int64(v))
	}
	return fmt.Sprintf("%.1f", v)
}
