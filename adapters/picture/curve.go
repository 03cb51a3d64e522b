package picture

import (
	"math"
	"slices"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
)

var (
	methodLine   = line{width: 3.2, tone: asked}
	accurateLine = line{width: 2, dash: []float64{7, 4}, tone: ink}
)

// curve draws the correction against height, with the altitudes of the crew.
func (p *pen) curve(d drawing.Curve) {
	p.heading(d)
	p.legends(curveLegends(d))
	c := p.planCurve(d)
	c.axes(p, d.Metric)
	c.lines(p, d)
	c.marks(p, d.Fixes)
	p.y = c.floor + 46
	p.fixTable(d.Fixes)
	p.foot(d)
}

func curveLegends(d drawing.Curve) []legend {
	method := d.MethodText()
	if d.Ends {
		method += ", up to its end"
	}
	list := []legend{{method, methodLine, nil}}
	if len(d.Accurate) > 0 {
		list = append(list, legend{"accurate equation, to compare", accurateLine, nil})
	}
	return append(list, legend{"your altitudes, as corrected", line{tone: ink}, plus})
}

// curvePlan is where heights and corrections stand on the page.
type curvePlan struct {
	left, right, top, floor float64
	least, highest          float64 // heights, ft
	most                    float64 // correction at the top, ft
}

// numberStrip is the height of the row of numbers above a curve.
const numberStrip = 34

func (p *pen) planCurve(d drawing.Curve) curvePlan {
	const height, gutter = 300, 52
	c := curvePlan{left: float64(margin + gutter), right: p.w - margin - 8, top: p.y + 34 + numberStrip, most: 50, highest: float64(d.Highest)}
	c.floor = c.top + height
	take := func(add engine.Feet) { c.most = math.Max(c.most, float64(add)) }
	for _, list := range [][]drawing.Correction{d.Line, d.Accurate} {
		for _, on := range list {
			take(on.Add)
		}
	}
	for _, f := range d.Fixes {
		take(f.Add)
		c.least, c.highest = math.Min(c.least, float64(f.Height)), math.Max(c.highest, float64(f.Height))
	}
	c.most *= 1.04
	return c
}

func (c curvePlan) at(h engine.Height, add engine.Feet) point {
	return point{
		c.left + (float64(h)-c.least)/(c.highest-c.least)*(c.right-c.left),
		c.floor - math.Max(float64(add), 0)/c.most*(c.floor-c.top),
	}
}

// axes draws what is added upwards, and the height across.
func (c curvePlan) axes(p *pen, metric bool) {
	scale := 1.0
	if metric {
		scale = engine.MetresPerFoot
	}
	p.text(margin, p.y+16, 14, soft, begin, unit(metric)+" added")
	for _, v := range ticks(0, c.most*scale, 5) {
		y := c.at(0, engine.Feet(v/scale)).y
		p.rule(c.left, y, c.right, y, 1, faint)
		p.text(c.left-8, y+5, 14, soft, end, number(v))
	}
	for _, v := range ticks(c.least*scale, c.highest*scale, 5) {
		x := c.at(engine.Height(v/scale), 0).x
		p.rule(x, c.floor, x, c.floor+5, 1, ink)
		p.text(x, c.floor+20, 14, soft, middle, number(v))
	}
	p.rule(c.left, c.floor, c.right, c.floor, 2, ink)
	p.text((c.left+c.right)/2, c.floor+40, 14, soft, middle, "height above the altimeter setting source, "+unit(metric))
}

// lines draws the method over the accurate equation, and where the method ends.
func (c curvePlan) lines(p *pen, d drawing.Curve) {
	way := func(list []drawing.Correction) (out []point) {
		for _, on := range list {
			out = append(out, c.at(on.Height, on.Add))
		}
		return out
	}
	if len(d.Accurate) > 1 {
		p.stroke(way(d.Accurate), false, accurateLine)
	}
	if len(d.Line) > 1 {
		p.stroke(way(d.Line), false, methodLine)
	}
	if d.Ends {
		last := d.Line[len(d.Line)-1]
		x := c.at(last.Height, last.Add)
		p.rule(x.x, x.y-8, x.x, x.y+8, 2.4, asked)
	}
}

// marks draws the altitudes. Their numbers stand in a row above, each with a
// line down to its mark, so that marks as close as may be keep theirs.
func (c curvePlan) marks(p *pen, fixes []drawing.Fix) {
	byHeight := slices.Clone(fixes)
	slices.SortStableFunc(byHeight, func(a, b drawing.Fix) int { return int(math.Copysign(1, float64(a.Height-b.Height))) })
	n := float64(len(byHeight))
	r := math.Min(11.5, (c.right-c.left)/n/2-1.5)
	wanted := make([]float64, len(byHeight))
	for i, f := range byHeight {
		wanted[i] = c.at(f.Height, 0).x
	}
	places := spread(wanted, 2*r+4, c.left-10, c.right+8)
	for i, f := range byHeight {
		mark := c.at(f.Height, f.Add)
		x, y := places[i], c.top-numberStrip+r
		p.stroke([]point{{x, y + r}, {mark.x, c.top - 4}, {mark.x, mark.y - 6}}, false, line{width: 1, tone: soft})
		p.bubble(point{x, y}, r, f.Number)
	}
	for _, f := range byHeight {
		plus(p, c.at(f.Height, f.Add), 6)
	}
}

// fixTable gives the altitudes of a curve in figures.
func (p *pen) fixTable(fixes []drawing.Fix) {
	columns := []column{
		{title: "published", width: 88, tone: ink},
		{title: "height", width: 70, tone: ink},
		{title: "add", width: 66, tone: ink},
		{title: "corrected", width: 94, bold: true, tone: ink},
	}
	rows := make([]row, len(fixes))
	for i, f := range fixes {
		height, add := drawing.Amount{Main: reply.WholeUp(f.Height)}, drawing.Amount{Main: reply.WholeUp(f.Add)}
		if f.PublishedM != 0 {
			height = drawing.Amount{Main: reply.WholeUp(f.Height.Metres()) + " m", Sub: height.Main + " ft"}
			add = drawing.Amount{Main: reply.WholeUp(f.Add.Metres()) + " m", Sub: add.Main + " ft"}
		}
		rows[i] = row{f.Number, f.Title(), subOf(f), []drawing.Amount{f.PublishedText(), height, add, f.CorrectedText()}}
	}
	p.table(columns, rows)
}

func unit(metric bool) string {
	if metric {
		return "m"
	}
	return "ft"
}

// spread moves sorted places apart to a least distance, as little as may be,
// inside two bounds.
func spread(wanted []float64, apart, low, high float64) []float64 {
	out := slices.Clone(wanted)
	if n := len(out); n > 1 {
		apart = math.Min(apart, (high-low)/float64(n-1))
	}
	// Blocks that touch move as one to the mean of what they want.
	type block struct {
		sum  float64 // of the wanted places, each less its distance in the block
		n    int
		from float64
	}
	var blocks []block
	for _, w := range wanted {
		b := block{sum: w, n: 1}
		for {
			length := float64(b.n-1) * apart
			b.from = math.Max(low, math.Min(b.sum/float64(b.n), high-length))
			if k := len(blocks) - 1; k >= 0 && blocks[k].from+float64(blocks[k].n)*apart > b.from {
				before := blocks[k]
				b.sum = before.sum + b.sum - float64(b.n)*float64(before.n)*apart
				b.n += before.n
				blocks = blocks[:k]
				continue
			}
			break
		}
		blocks = append(blocks, b)
	}
	i := 0
	for _, b := range blocks {
		for k := range b.n {
			out[i] = b.from + float64(k)*apart
			i++
		}
	}
	return out
}
