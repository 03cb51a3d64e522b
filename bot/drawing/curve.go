package drawing

import (
	"fmt"
	"math"
	"strings"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/correction"
)

// Correction is a point of a curve.
type Correction struct {
	Height engine.Height
	Add    engine.Feet
}

// Curve is the correction against height at one temperature, by the method of
// the rule set, with the altitudes of the crew.
type Curve struct {
	Heading
	Fixes    []Fix // in flying order
	Method   string
	Line     []Correction // by the method, as far as it has figures
	Accurate []Correction // by the accurate equation; nil where that is the method
	Highest  engine.Height
	Ends     bool // Line ends below Top, with the published table
	Metric   bool
	foot     []string
}

// curveStep is the distance of the points of a curve; the columns of the table
// above 200 ft are multiples of it.
const curveStep engine.Height = 100

// CurveOf draws the correction against height for a reply.
func CurveOf(r reply.Reply) (Curve, bool) {
	r = withAltitudes(r)
	if !drawable(r) {
		return Curve{}, false
	}
	c := Curve{Heading: Heading{Kind: "Correction against height", Title: title(r), Sub: under(r)}, Method: r.Method}
	c.Fixes, _ = fixesOf(r)
	c.Metric = metric(c.Fixes)
	highest := correction.HighestColumn
	for i := range c.Fixes {
		highest = max(highest, c.Fixes[i].Height)
	}
	c.Highest = engine.Height(math.Ceil(float64(min(highest, correction.MaxHeight))/1000) * 1000)
	a := air(r, &r.Altitudes[0])
	method := correction.Method(r.Method)
	for h := engine.Height(0); h <= c.Highest; h += curveStep {
		if add, ok := byMethod(method, h, a); ok {
			c.Line = append(c.Line, Correction{h, add})
		} else {
			c.Ends = true
		}
		if method != correction.MethodAccurate {
			c.Accurate = append(c.Accurate, Correction{h, correction.Accurate(h, a)})
		}
	}
	if len(c.Line) == 0 {
		return Curve{}, false // no method of ours
	}
	unit := "feet"
	if c.Metric {
		unit = "metres"
	}
	if !c.adds() && a.Deviation() >= 0 {
		c.Sub += "; not colder than standard, nothing is added"
	}
	c.foot = append([]string{
		fmt.Sprintf("In %s; height above the altimeter setting source. A mark off the line: rounded, or corrected by another altitude's height, as the rule set says.", unit),
	}, sourceLines(r)...)
	return c, true
}

// adds says whether anything is added anywhere.
func (c Curve) adds() bool {
	for i := range c.Fixes {
		if c.Fixes[i].Add > 0 {
			return true
		}
	}
	return false
}

// byMethod is the correction by a method; colder and warmer than the table it
// is what rule sets do there (package ruleset), above it there is none.
func byMethod(m correction.Method, h engine.Height, a correction.Air) (engine.Feet, bool) {
	add, err := correction.By(m, h, a)
	if err == nil {
		return add, true
	}
	if h > correction.HighestColumn {
		return 0, false
	}
	edge := a
	switch {
	case a.Temperature < correction.ColdestRow:
		edge.Temperature = correction.ColdestRow
	case a.Temperature > correction.WarmestRow:
		edge.Temperature = correction.WarmestRow
	default:
		return 0, false
	}
	row, err := correction.By(m, h, edge)
	if err != nil {
		return 0, false
	}
	if edge.Temperature == correction.ColdestRow {
		return max(correction.Equation(h, a), row), true
	}
	return min(correction.Equation(h, a), row), true
}

// Name is the file's name.
func (Curve) Name() string { return "curve" }

// Top is the heading.
func (c Curve) Top() Heading { return c.Heading }

// Foot are the lines below.
func (c Curve) Foot() []string { return c.foot }

// MethodText is the method in a few words.
func (c Curve) MethodText() string {
	switch correction.Method(c.Method) {
	case correction.MethodTable:
		return "published table, interpolated"
	case correction.MethodTableNext:
		return "published table, next row and column"
	case correction.MethodEquation:
		return "published equation"
	case correction.MethodAccurate:
		return "accurate equation"
	case correction.MethodColumn:
		return "column of air"
	}
	return clean(c.Method)
}

// At is the line's correction at a height, false where it has none.
func (c Curve) At(h engine.Height) (engine.Feet, bool) {
	for _, p := range c.Line {
		if p.Height == h {
			return p.Add, true
		}
	}
	return 0, false
}

// Alt is the picture in words.
func (c Curve) Alt() string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s. %s. By the %s: ", c.Kind, c.Title, c.MethodText())
	for i, h := range []engine.Height{1000, 2000, 3000, 5000} {
		if add, ok := c.At(h); ok {
			if i > 0 {
				b.WriteString(", ")
			}
			fmt.Fprintf(&b, "%s ft at %.0f ft up", reply.WholeUp(add), float64(h))
		}
	}
	b.WriteString(". ")
	for i, f := range c.Fixes {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "%s: %s, %s ft up, add %s, corrected %s", f.Title(), f.PublishedText().words(), reply.WholeUp(f.Height), reply.WholeUp(f.Add), f.CorrectedText().words())
	}
	b.WriteString(". A planning aid.")
	return b.String()
}
