package reply

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/baro"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// Procedure is the stored one that a reply is about; the zero value is none.
type Procedure struct {
	FlownAs      string // what crews call it where they fly another line of it, "loc 12" of "ils 12"; empty: Name
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
	// Final is the final approach fix, empty for none, with its altitude.
	Final   string
	FinalAt engine.Altitude
	// Guided are the lines in use whose glidepath does not follow the altimeter
	// (ILS, GLS, LPV), Barometric says that one in use does.
	Guided     []string
	Barometric bool
}

// procedureFacts say which procedure it is and what its path really is.
func (sc *Scene) procedureFacts(out []string) []string {
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
	g := &sc.Guidance
	if g.SBAS || g.Compensated {
		out = append(out, sc.taken())
	}
	p := sc.Path
	if p == nil {
		return out
	}
	air := correction.Air{Temperature: sc.Temperature.C, Source: sc.Source}
	if cold := correction.Accurate(p.FinalAt.Above(sc.Source), air); len(p.Guided) > 0 && p.Final != "" && cold >= 1 {
		out = append(out, fmt.Sprintf("On the glidepath of %s the altimeter reads about %.0f at %s, chart %.0f: the path is right, the altimeter is not.",
			strings.Join(p.Guided, ", "), engine.UpToFoot(float64(p.FinalAt.Add(cold))), p.Final, float64(p.FinalAt)))
	}
	if !p.Barometric {
		return out
	}
	if g.Compensated {
		return append(out, fmt.Sprintf("Vertical path %.2f°: compensated avionics fly it as published.", float64(p.Published)))
	}
	line := fmt.Sprintf("Barometric vertical path %.2f°: uncompensated, really %.2f° at %s °C", float64(p.Published), float64(p.Effective), Degrees(sc.Temperature.C))
	if p.Final != "" {
		line += fmt.Sprintf("; it crosses %s at %.0f on the altimeter, the published figure", p.Final, float64(p.FinalAt))
	}
	line += "."
	if low, high, _ := g.outside(sc.Temperature.C); g.Limits != (baro.Limits{}) && !low && !high {
		line += " Within the chart's limits for barometric guidance" + limits(g.Limits) + "."
	}
	return append(out, line)
}

// taken says what the answer takes the aircraft to have.
func (sc *Scene) taken() string {
	g := &sc.Guidance
	whose := func(configured bool) string {
		if configured {
			return "Taken, as configured for the aircraft: "
		}
		return "Taken, as the message says: "
	}
	text := ""
	if g.SBAS {
		text = whose(g.SBASConfigured) + "SBAS vertical guidance"
	}
	if g.Compensated {
		switch {
		case !g.SBAS:
			text = whose(g.CompensationConfigured)
		case g.SBASConfigured == g.CompensationConfigured:
			text += "; "
		default:
			text += ". " + whose(g.CompensationConfigured)
		}
		text += "temperature compensation by the avionics: the corrected altitudes are a cross-check, about; minimums that the box leaves are by hand"
	}
	return text + "."
}

// fitted says on the screen what lifts a stop, or makes the figures a
// cross-check: equipment that the message or the configuration claims.
func (sc *Scene) fitted(res ruleset.Result) string {
	g := &sc.Guidance
	barometric := slices.ContainsFunc(res.Lines, func(l ruleset.Line) bool { return l.Barometric })
	whose := func(configured bool) string {
		if configured {
			return ", as configured"
		}
		return ", as you said"
	}
	satellites, box := whose(g.SBASConfigured), whose(g.CompensationConfigured)
	switch {
	case g.SBAS && barometric && g.Compensated && satellites == box:
		return "With SBAS and compensation" + box + "."
	case g.SBAS && barometric && g.Compensated:
		return "With SBAS" + satellites + ", and compensation" + box + "."
	case g.SBAS && barometric:
		return "With SBAS" + satellites + "."
	case g.Compensated:
		return "With compensation" + box + "."
	}
	return ""
}

// remoteNote says on the screen what a remote altimeter source does to the
// minimums.
func (sc *Scene) remoteNote(res ruleset.Result) string {
	additive, minimums, bare := engine.Feet(0), false, false
	for i := range res.Lines {
		minimums = minimums || res.Lines[i].Role.Minimum()
		bare = bare || res.Lines[i].Role == procedure.NoRole && !res.Lines[i].NoAltitude
		additive = max(additive, res.Lines[i].Additive)
	}
	switch {
	case sc.Guidance.Remote == Local || !minimums && !bare:
		return ""
	case !minimums:
		return "Remote altimeter: to a minimum add the chart's additive first, none is stored."
	case additive > 0:
		return fmt.Sprintf("Remote altimeter: chart's +%.0f ft added first.", float64(additive))
	}
	return "Remote altimeter: add the chart's additive first, none is stored."
}

func day(t time.Time) string { return t.UTC().Format("2 Jan 2006") }

func limits(l baro.Limits) string {
	var parts []string
	if l.HasLow {
		parts = append(parts, Degrees(l.Low))
	}
	if l.HasHigh {
		parts = append(parts, Degrees(l.High))
	}
	return " (" + strings.Join(parts, " to ") + " °C)"
}

// procedureCautions are those of a stored procedure: what nobody may miss
// comes first.
func (sc *Scene) procedureCautions(out []Caution) []Caution {
	p := sc.Procedure
	for _, g := range p.Gaps {
		out = append(out, Caution{Code: CautionProcedureGap, Text: strings.ToUpper(g[:1]) + g[1:] + "."})
	}
	return out
}
