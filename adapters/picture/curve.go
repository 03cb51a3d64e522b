package picture

import (
	"math"
	"slices"

	"firn/bot/drawing"
	"firn/engine"
)

var (
	methodLine   = line{width: 3.2, tone: asked}
	accurateLine = line{width: 2, dash: []float64{7, 4}, tone: ink}
)

// curve draws the correction against height, with the altitudes of the crew.
func (p *pen) curve(d drawing.Curve) {
	p.heading(d)
	method := d.MethodText()
	if d.Ends {
		method += ", up to its end"
	}
	list := []legend{{method, methodLine, nil}}
	if len(d.Accurate) > 0 {
		list = append(list, legend{"accurate equation, to compare", accurateLine, nil})
	}
	p.legends(append(list, legend{"your altitudes, as corrected", line{tone: ink}, diamond}))

	scale := 1.0
	if d.Metric {
		scale = engine.MetresPerFoot
	}
	const height, gutter, strip = 300, 52, 34
	left, right := float64(margin+gutter), p.w-margin-8
	top := p.y + 34 + strip
	floor := top + height
	most := 50.0
	take := func(c engine.Feet) { most = math.Max(most, float64(c)) }
	for _, list := range [][]drawing.Correction{d.Line, d.Accurate} {
		for _, c := range list {
			take(c.Add)
		}
	}
	least, highest := 0.0, float64(d.Highest)
	for _, f := range d.Fixes {
		take(f.Add)
		least, highest = math.Min(least, float64(f.Height)), math.Max(highest, float64(f.Height))
	}
	most *= 1.04
	at := func(h engine.Height, add engine.Feet) point {
		return point{
			left + (float64(h)-least)/(highest-least)*(right-left),
			floor - math.Max(float64(add), 0)/most*(floor-top),
		}
	}
	p.text(margin, p.y+16, 14, soft, begin, unit(d.Metric)+" added")
	for _, v := range ticks(0, most*scale, 5) {
		y := at(0, engine.Feet(v/scale)).y
		p.rule(left, y, right, y, 1, faint)
		p.text(left-8, y+5, 14, soft, end, number(v))
	}
	for _, v := range ticks(least*scale, highest*scale, 5) {
		x := at(engine.Height(v/scale), 0).x
		p.rule(x, floor, x, floor+5, 1, ink)
		p.text(x, floor+20, 14, soft, middle, number(v))
	}
	p.rule(left, floor, right, floor, 2, ink)
	p.text((left+right)/2, floor+40, 14, soft, middle, "height above the altimeter setting source, "+unit(d.Metric))

	way := func(list []drawing.Correction) (out []point) {
		for _, c := range list {
			out = append(out, at(c.Height, c.Add))
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
		x := at(last.Height, last.Add)
		p.rule(x.x, x.y-8, x.x, x.y+8, 2.4, asked)
	}
	// The numbers stand in a row above, each with a line down to its mark, so
	// that marks as close as may be keep theirs.
	byHeight := slices.Clone(d.Fixes)
	slices.SortStableFunc(byHeight, func(a, b drawing.Fix) int { return int(math.Copysign(1, float64(a.Height-b.Height))) })
	n := float64(len(byHeight))
	r := math.Min(11.5, (right-left)/n/2-1.5)
	wanted := make([]float64, len(byHeight))
	for i, f := range byHeight {
		wanted[i] = at(f.Height, 0).x
	}
	places := spread(wanted, 2*r+4, left-10, right+8)
	for i, f := range byHeight {
		mark := at(f.Height, f.Add)
		x, y := places[i], top-strip+r
		p.stroke([]point{{x, y + r}, {mark.x, top - 4}, {mark.x, mark.y - 6}}, false, line{width: 1, tone: soft})
		p.bubble(point{x, y}, r, f.Number)
	}
	for _, f := range byHeight {
		diamond(p, at(f.Height, f.Add), 6)
	}
	p.y = floor + 46

	columns := []column{
		{title: "published", width: 88, tone: ink},
		{title: "height", width: 70, tone: ink},
		{title: "add", width: 66, tone: ink},
		{title: "corrected", width: 94, bold: true, tone: ink},
	}
	rows := make([]row, len(d.Fixes))
	for i, f := range d.Fixes {
		height, add := drawing.Amount{Main: up(float64(f.Height))}, drawing.Amount{Main: up(float64(f.Add))}
		if f.PublishedM != 0 {
			height = drawing.Amount{Main: up(float64(f.Height.Metres())) + " m", Sub: height.Main + " ft"}
			add = drawing.Amount{Main: up(float64(f.Add.Metres())) + " m", Sub: add.Main + " ft"}
		}
		rows[i] = row{f.Number, f.Title(), subOf(f), []drawing.Amount{f.PublishedText(), height, add, f.CorrectedText()}}
	}
	p.table(columns, rows)
	p.foot(d)
}

// diamond marks an altitude on the curve.
func diamond(p *pen, at point, r float64) {
	p.fill([]point{{at.x, at.y - r}, {at.x + r, at.y}, {at.x, at.y + r}, {at.x - r, at.y}}, ink)
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
