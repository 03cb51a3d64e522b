package bot

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firn/bot/approach"
	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// beside is a stored procedure with what the crew typed beside it, such as the
// minimums of a coded file: in flying order, the missed approach last. What the
// chart has is not added again. An altitude that contradicts the chart is asked
// about, and so is a minimum that may be of a barometric line: it would be
// another truth, or pass by what stops that line.
func beside(a *approach.Approach, typed flown, line string) (flown, *parse.Problem) {
	chart := a.Points()
	if len(typed.points) == 0 || len(chart) == 0 {
		return flown{points: append(chart, typed.points...), metres: typed.metres}, nil
	}
	var own flown
	for i, p := range typed.points {
		if p.Role == procedure.MissedHold && p.Label != parse.MissedHoldLabel && onTheClimb(chart, &p) {
			p.Role = procedure.MissedAltitude
		}
		known, problem := sameAs(a, chart, &p, line)
		if problem != nil {
			return flown{}, problem
		}
		if known {
			continue
		}
		own.points = append(own.points, p)
		own.metres = append(own.metres, typed.metres.At(i))
	}
	at := len(chart)
	for at > 0 && chart[at-1].Segment == procedure.Missed {
		at--
	}
	out := flown{points: slices.Concat(chart[:at], own.points, chart[at:])}
	if slices.Contains(own.metres, true) {
		out.metres = make(reply.Metres, len(out.points))
		copy(out.metres[at:], own.metres)
	}
	return out, nil
}

// onTheClimb: an altitude of the missed approach below the chart's hold is on
// the way to it.
func onTheClimb(chart []procedure.Point, p *procedure.Point) bool {
	return slices.ContainsFunc(chart, func(c procedure.Point) bool {
		return c.Role == procedure.MissedHold && !c.NoAltitude && p.Altitude < c.Altitude-0.5
	})
}

// sameAs says that the chart has an altitude already, or asks which it is.
func sameAs(a *approach.Approach, chart []procedure.Point, p *procedure.Point, line string) (known bool, problem *parse.Problem) {
	if reply.Unnamed(p) || p.Role == procedure.NoRole && p.Fix == "" {
		return minimumOf(a, chart, p, line)
	}
	for i := range chart {
		c := &chart[i]
		switch {
		case c.NoAltitude, p.Fix != "" && c.Fix != "" && p.Fix != c.Fix:
			continue
		case p.Role == procedure.NoRole: // the fix says what it is
			if p.Fix != c.Fix {
				continue
			}
		case p.Role != c.Role, p.Role.Minimum() && !sameLine(p, c):
			continue
		}
		if alike(p, c) {
			return true, nil
		}
		one := p.Role == procedure.FinalFix || p.Role == procedure.IntermediateFix || p.Role == procedure.MissedHold || p.Role == procedure.Hold || p.Role == procedure.ProcedureTurn
		if problem == nil && (one || p.Fix != "" && p.Fix == c.Fix) {
			name := strings.TrimSpace(c.Name() + " " + c.Fix)
			problem = &parse.Problem{
				Word: orWord(p.Name(), p.Fix),
				Text: fmt.Sprintf("Which one: the chart of %s has %s at %.0f, and you wrote %s %.0f? Leave it out, or type all altitudes without the procedure.",
					a.Name, name, float64(c.Altitude), orWord(p.Name(), p.Fix), float64(p.Altitude)),
			}
		}
	}
	return false, problem
}

func alike(p, c *procedure.Point) bool {
	return math.Abs(float64(p.Altitude-c.Altitude)) < 0.5 && (p.Role == procedure.NoRole || p.Meaning == c.Meaning || p.Meaning == procedure.At)
}

// sameLine: both are of one line of the minimums.
func sameLine(p, c *procedure.Point) bool {
	first, _, _ := strings.Cut(p.Name(), " ")
	return approach.LineIs(c.Label, c.Role, first)
}

// minimumOf places a figure without a name, or a minimum without a line: of the
// line that was chosen, else of the one that has the figure, else of the only
// kind of line that there is.
func minimumOf(a *approach.Approach, chart []procedure.Point, p *procedure.Point, line string) (known bool, problem *parse.Problem) {
	var names []string
	barometric, chosen := 0, false
	final := chart[0].Altitude // without a final approach fix: what opens the approach
	for i := range chart {
		c := &chart[i]
		if c.Role == procedure.FinalFix && !c.NoAltitude {
			final = c.Altitude
		}
		if !c.Role.Minimum() {
			if p.Role == procedure.NoRole && !c.NoAltitude && alike(p, c) {
				return true, nil
			}
			continue
		}
		used := line == "" || approach.LineIs(c.Label, c.Role, line)
		if used && math.Abs(float64(p.Altitude-c.Altitude)) < 0.5 {
			return true, nil
		}
		if !used {
			continue
		}
		chosen = line != ""
		names = append(names, fmt.Sprintf("%s %.0f", c.Name(), float64(c.Altitude)))
		if c.Barometric {
			barometric++
		}
	}
	switch {
	case p.Role == procedure.NoRole && p.Altitude >= final, len(names) > 0 && barometric == 0:
		return false, nil
	case len(names) == 0, p.Role != procedure.NoRole && (chosen || barometric == len(names)):
		p.Barometric = p.Role == procedure.DecisionAltitude && (line == "lnav/vnav" || a.WholeByLimit()) || len(names) > 0 && barometric == len(names)
		return false, nil
	case p.Role == procedure.MinimumDescent && p.Label != "minimums":
		return false, nil // no barometric line has an MDA
	}
	word := fmt.Sprintf("%.0f", float64(p.Altitude))
	return false, &parse.Problem{
		Word: orWord(p.Name(), word),
		Text: fmt.Sprintf("Which line is %s of? The chart of %s has %s; write the line's name before it.",
			strings.TrimSpace(p.Name()+" "+word), a.Name, strings.Join(names, ", ")),
	}
}
