package bot

import (
	"cmp"
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
// chart has is not added again. A higher minimum of a line that the chart has,
// as another category's, takes the place of the chart's. Any other altitude that
// contradicts the chart is asked about, and so is a minimum that may be of a
// barometric line: it would be another truth, or pass by what stops that line.
func beside(a *approach.Approach, typed flown, line string) (flown, *parse.Problem) {
	chart := a.Points()
	if len(typed.points) == 0 || len(chart) == 0 {
		return flown{points: append(chart, typed.points...), metres: typed.metres}, nil
	}
	chart = slices.Clone(chart)
	metric := make(reply.Metres, len(chart))
	var own flown
	for i, p := range typed.points {
		if i < len(typed.instead) && typed.instead[i] {
			told, problem := replace(a, chart, &p)
			if problem != nil {
				return flown{}, problem
			}
			if told != "" {
				own.notes = append(own.notes, told)
				continue
			}
		}
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
		if k := lineOf(chart, &p, line); k >= 0 {
			c := &chart[k]
			if p.Altitude < c.Altitude {
				return flown{}, whichOne(a, c, &p)
			}
			metric[k] = typed.metres.At(i)
			own.notes = append(own.notes, parse.AsTyped(c.Name(), written(&p, metric[k]), float64(c.Altitude)))
			c.Altitude = p.Altitude
			continue
		}
		own.points = append(own.points, p)
		own.metres = append(own.metres, typed.metres.At(i))
	}
	out := flown{points: chart, metres: metric, notes: own.notes}
	for i, p := range own.points {
		at := slices.IndexFunc(out.points, func(c procedure.Point) bool { return flyingOrder(&c) > flyingOrder(&p) })
		if at < 0 {
			at = len(out.points)
		}
		out.points = slices.Insert(out.points, at, p)
		out.metres = slices.Insert(out.metres, at, own.metres.At(i))
	}
	if !slices.Contains(out.metres, true) {
		out.metres = nil
	}
	return out, nil
}

// flyingOrder is where in the table an altitude stands beside a chart's.
func flyingOrder(p *procedure.Point) int {
	switch {
	case p.Segment == procedure.Missed:
		return 7
	case p.Role.Minimum(), p.Role == procedure.NoRole:
		return 6
	case p.Segment == procedure.Final:
		return 5
	case p.Role == procedure.FinalFix:
		return 4
	case p.Segment == procedure.Intermediate:
		return 3
	case p.Role == procedure.IntermediateFix:
		return 2
	case p.Role == procedure.SectorAltitude:
		return 0
	}
	return 1
}

// written is an altitude as it was typed.
func written(p *procedure.Point, metric bool) string {
	if metric {
		return reply.Metric(p.Altitude)
	}
	return fmt.Sprintf("%.0f", float64(p.Altitude))
}

// lineOf is where the chart has the line that a minimum is of, -1 where it has
// none, or more than one.
func lineOf(chart []procedure.Point, p *procedure.Point, line string) (at int) {
	at = -1
	if !p.Role.Minimum() {
		return at
	}
	for i := range chart {
		c := &chart[i]
		if c.Role != p.Role || !reply.Unnamed(p) && !sameLine(p, c) || line != "" && !approach.LineIs(c.Label, c.Role, line) {
			continue
		}
		if at >= 0 {
			return -1
		}
		at = i
	}
	return at
}

// whichOne asks about an altitude that contradicts the chart's.
func whichOne(a *approach.Approach, c, p *procedure.Point) *parse.Problem {
	typed := ofPoint(p)
	mine := typed
	mine.Instead = true
	text := parse.ChartOrTyped(a.Name, c.FullName(), float64(c.Altitude), cmp.Or(p.Name(), p.Fix), float64(p.Altitude))
	if math.Abs(float64(p.Altitude-c.Altitude)) < 0.5 {
		text = parse.ChartOrLimit(a.Name, c.FullName(), strings.ReplaceAll(c.Meaning.String(), "-", " "), float64(c.Altitude), strings.ReplaceAll(p.Meaning.String(), "-", " "))
	}
	return &parse.Problem{
		Word: cmp.Or(p.Name(), p.Fix), Figure: fmt.Sprintf("%.0f", float64(p.Altitude)),
		Choices: []parse.Choice{
			{Words: parse.ChartWords, Figure: fmt.Sprintf("%.0f", float64(c.Altitude)), Value: float64(c.Altitude), Picks: []parse.Pick{parse.Old, parse.Drop}, Next: &parse.Request{Gone: []parse.Altitude{typed}}},
			{Words: []string{"notam", "mine", "my", "ours", "typed", "wrote", "min", "meine", "mien", "mia"}, Figure: fmt.Sprintf("%.0f", float64(p.Altitude)), Value: float64(p.Altitude), Picks: []parse.Pick{parse.New}, Next: &parse.Request{Altitudes: []parse.Altitude{mine}}},
		},
		Text: text,
	}
}

// ofPoint is a point as the altitude that was typed: what has its figure is it.
func ofPoint(p *procedure.Point) parse.Altitude {
	return parse.Altitude{Value: float64(p.Altitude), Bare: true}
}

// rowsOf are the choices of which row of a chart a typed altitude is.
func rowsOf(p *procedure.Point, rows []procedure.Point, instead bool) (out []parse.Choice) {
	for i := range rows {
		c := &rows[i]
		a := ofPoint(p)
		a.Role, a.Label, a.Fix, a.Instead = c.Role, c.Label, c.Fix, instead
		words := strings.FieldsFunc(strings.ToLower(c.Name()+" "+c.Fix), func(r rune) bool { return r == ' ' || r == '/' })
		if p.Role != procedure.NoRole {
			words = slices.DeleteFunc(words, func(w string) bool { return w == strings.ToLower(p.Role.Label()) }) // it says nothing between them
		}
		out = append(out, parse.Choice{Words: words, Figure: fmt.Sprintf("%.0f", float64(c.Altitude)), Value: float64(c.Altitude), Next: &parse.Request{Altitudes: []parse.Altitude{a}}})
	}
	return out
}

// replace puts an altitude that the crew says is so, by a NOTAM perhaps, in
// place of the chart's, and gives what the crew is told of it; empty where the
// chart has no such row.
func replace(a *approach.Approach, chart []procedure.Point, p *procedure.Point) (told string, problem *parse.Problem) {
	at, names, rows := -1, []string{}, []procedure.Point{}
	unnamed := p.Role == procedure.NoRole && p.Fix == ""
	for i := range chart {
		c := &chart[i]
		switch {
		case unnamed && !c.NoAltitude && outOfOrder(chart, i, p) == nil: // "pardon, 10400" may be any that it can be
		case c.NoAltitude, p.Fix != "" && c.Fix != "" && p.Fix != c.Fix, p.Role != c.Role:
			continue
		case p.Role.Minimum() && !reply.Unnamed(p) && !sameLine(p, c):
			continue
		}
		at, names, rows = i, append(names, fmt.Sprintf("%s %.0f", c.FullName(), float64(c.Altitude))), append(rows, *c)
	}
	switch {
	case len(names) == 0:
		return "", nil
	case len(names) > 1 || unnamed:
		return "", &parse.Problem{
			Word: p.Name(), Either: true, Figure: fmt.Sprintf("%.0f", float64(p.Altitude)), Choices: rowsOf(p, rows, true),
			Text: parse.WhichOfChart(float64(p.Altitude), names),
		}
	}
	c := &chart[at]
	if other := outOfOrder(chart, at, p); other != nil {
		return "", &parse.Problem{
			Word: p.Name(), Wrong: ofPoint(p), Figure: fmt.Sprintf("%.0f", float64(p.Altitude)), Choices: rowsOf(p, fitting(chart, p), true),
			Text: parse.OutOfOrder(c.FullName(), float64(p.Altitude), other.FullName(), float64(other.Altitude)),
		}
	}
	was := float64(c.Altitude)
	c.Altitude, c.Upper = p.Altitude, p.Upper
	if p.Meaning != procedure.At || c.Meaning == procedure.Between {
		c.Meaning = p.Meaning
	}
	if err := procedure.AssignSegments(slices.Clone(chart)); err != nil {
		return "", &parse.Problem{Word: p.Name(), Text: err.Error() + "."}
	}
	return parse.AsSaid(c.Name(), float64(c.Altitude), was, a.Name), nil
}

// outOfOrder is a row that says that an altitude cannot stand in the place of the
// chart's at: one before it that is lower, or one behind it that is higher; nil
// where there is none. The missed approach has no order.
func outOfOrder(chart []procedure.Point, at int, p *procedure.Point) (out *procedure.Point) {
	mine := flyingOrder(&chart[at])
	for i := range chart {
		c := &chart[i]
		order := flyingOrder(c)
		if i == at || c.NoAltitude || min(mine, order) == 0 || max(mine, order) == 7 {
			continue
		}
		if order < mine && p.Altitude > max(c.Altitude, c.Upper) && chart[at].Altitude <= max(c.Altitude, c.Upper) || order > mine && p.Altitude < c.Altitude && chart[at].Altitude >= c.Altitude {
			if out == nil || order < mine { // the nearest
				out = c
			}
		}
	}
	return out
}

// fitting are the rows of an altitude's role in whose place it can stand.
func fitting(chart []procedure.Point, p *procedure.Point) (rows []procedure.Point) {
	for i := range chart {
		if c := &chart[i]; c.Role == p.Role && !c.NoAltitude && outOfOrder(chart, i, p) == nil {
			rows = append(rows, *c)
		}
	}
	return rows
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
		case p.Role != c.Role, p.Label == parse.ArcLabel && c.Label != p.Label, p.Role.Minimum() && !sameLine(p, c):
			continue
		}
		if alike(p, c) {
			return true, nil
		}
		one := p.Role == procedure.FinalFix || p.Role == procedure.IntermediateFix || p.Role == procedure.MissedHold || p.Role == procedure.Hold || p.Role == procedure.ProcedureTurn || p.Label == parse.ArcLabel
		if problem == nil && (one || p.Fix != "" && p.Fix == c.Fix) {
			problem = whichOne(a, c, p)
		}
	}
	return false, problem
}

func alike(p, c *procedure.Point) bool {
	return math.Abs(float64(p.Altitude-c.Altitude)) < 0.5 && (p.Role == procedure.NoRole || p.Meaning == c.Meaning || p.Meaning == procedure.At || p.Meaning == procedure.AtOrAbove && c.Meaning == procedure.At)
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
	var rows []procedure.Point
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
		names, rows = append(names, fmt.Sprintf("%s %.0f", c.Name(), float64(c.Altitude))), append(rows, *c)
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
		Word: cmp.Or(p.Name(), word), Figure: word, Wrong: ofPoint(p), Choices: rowsOf(p, rows, false),
		Text: parse.WhichLine(strings.TrimSpace(p.Name()+" "+word), a.Name, names),
	}
}

// additiveLost says of an additive that was typed that there is no minimum to add it
// to; empty where there is one.
func additiveLost(points []procedure.Point, typed float64) []string {
	if typed == 0 || slices.ContainsFunc(points, func(p procedure.Point) bool { return p.Role.Minimum() }) {
		return nil
	}
	return []string{parse.AdditiveLost(typed)}
}
