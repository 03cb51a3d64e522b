package reply

import (
	"fmt"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/baro"
)

// Procedure is the stored one that a reply is about; the zero value is none.
type Procedure struct {
	Name         string // as crews say it
	Source       string // what it was taken from
	Cycle        string
	Begins, Ends time.Time // zero where the source does not say
	Standing     Standing
	Gaps         []string // what its source lacks, a sentence each
}

// Standing is whether a procedure may be used now.
type Standing uint8

// The standings.
const (
	ProcedureCurrent Standing = iota // or its source has no dates
	ProcedureNotYet
	ProcedureEnded
)

// Path is a published vertical path at the reply's temperature.
type Path struct {
	Published, Effective engine.Degrees
	Limits               baro.Limits
	Low, High            bool // the temperature is outside that limit
	Whole                bool // the limits bind the whole procedure
	Compensated          bool // by approved avionics
	Barometric, Others   []string
}

// procedureFacts say which procedure it is and what its path really is.
func (sc Scene) procedureFacts(out []string) []string {
	if p := sc.Procedure; p.Name != "" {
		b := fmt.Appendf(nil, "Procedure %s", p.Name)
		if p.Source != "" {
			b = fmt.Appendf(b, ", from %s", p.Source)
		}
		if p.Cycle != "" && !strings.Contains(p.Source, p.Cycle) {
			b = fmt.Appendf(b, ", cycle %s", p.Cycle)
		}
		switch {
		case p.Standing == ProcedureEnded:
			b = fmt.Appendf(b, "; ENDED on %s, do not fly it", day(p.Ends))
		case p.Standing == ProcedureNotYet:
			b = fmt.Appendf(b, "; NOT YET in force, from %s", day(p.Begins))
		case !p.Ends.IsZero():
			b = fmt.Appendf(b, ", until %s", day(p.Ends))
		}
		out = append(out, string(append(b, '.')))
	}
	p := sc.Path
	if p == nil {
		return out
	}
	if p.Compensated {
		return append(out, fmt.Sprintf("Vertical path %.2f°: compensated avionics fly it as published.", float64(p.Published)))
	}
	line := fmt.Sprintf("Vertical path %.2f°: uncompensated, really %.2f° at %s °C.", float64(p.Published), float64(p.Effective), Degrees(sc.Temperature.C))
	if (p.Limits.HasLow || p.Limits.HasHigh) && !p.Low && !p.High {
		line += " Within the chart's limits for barometric guidance" + p.limits() + "."
	}
	return append(out, line)
}

func day(t time.Time) string { return t.UTC().Format("2 Jan 2006") }

func (p *Path) limits() string {
	var parts []string
	if p.Limits.HasLow {
		parts = append(parts, Degrees(p.Limits.Low))
	}
	if p.Limits.HasHigh {
		parts = append(parts, Degrees(p.Limits.High))
	}
	return " (" + strings.Join(parts, " to ") + " °C)"
}

// procedureCautions are those of a stored procedure: what nobody may miss
// comes first.
func (sc Scene) procedureCautions(out []Caution) []Caution {
	p := sc.Procedure
	switch p.Standing {
	case ProcedureEnded:
		out = append(out, Caution{Code: "procedure-ended", Text: fmt.Sprintf("This edition of %s ended on %s: do not fly it, get the current one.", p.Name, day(p.Ends))})
	case ProcedureNotYet:
		out = append(out, Caution{Code: "procedure-not-yet", Text: fmt.Sprintf("This edition of %s begins on %s: until then the one before it holds.", p.Name, day(p.Begins))})
	}
	if v := sc.Path; v != nil && (v.Low || v.High) {
		out = append(out, Caution{Code: "baro-limit", Text: sc.outside(v)})
	}
	for _, g := range p.Gaps {
		out = append(out, Caution{Code: "procedure-gap", Text: strings.ToUpper(g[:1]) + g[1:] + "."})
	}
	return out
}

// outside says what the temperature limit takes away and what remains (FAA
// AIM 7-3-3 a, 5-1-17 b).
func (sc Scene) outside(v *Path) string {
	limit, side := v.Limits.Low, "below the chart's low limit"
	if v.High {
		limit, side = v.Limits.High, "above the chart's high limit"
	}
	text := fmt.Sprintf("%s °C is %s of %s °C for uncompensated barometric guidance", Degrees(sc.Temperature.C), side, Degrees(limit))
	switch {
	case v.Compensated:
		return text + ": approved compensation lifts it; without it the guidance may not be used."
	case v.Whole:
		return text + ": the whole procedure may not be flown without approved compensation."
	case len(v.Barometric) == 0:
		return text + ": its barometric line may not be used."
	case len(v.Others) == 0:
		return text + ": " + strings.Join(v.Barometric, ", ") + " may not be used."
	}
	return text + ": " + strings.Join(v.Barometric, ", ") + " may not be used; " + strings.Join(v.Others, ", ") + " may."
}
