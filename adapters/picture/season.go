package picture

import (
	"math"

	"firn/bot/drawing"
	"firn/engine"
)

// season draws the daily lows of a base: a bar down from the restriction
// temperature where it binds, a mere dot where it does not.
func (p *pen) season(d drawing.Season) {
	p.heading(d)
	p.legends([]legend{
		{"at or below the restriction temperature", line{width: 9, tone: asked}, nil},
		{"warmer than it", line{tone: soft}, knob},
		{"restriction temperature", restrictionLine, nil},
	})
	const height, gutter = 300, 46
	left, right := float64(margin+gutter), p.w-margin
	top := p.y + 26
	floor := top + height
	low, high := float64(d.Line), float64(d.Line)
	for _, s := range d.Days {
		if s.Known {
			low, high = math.Min(low, float64(s.C)), math.Max(high, float64(s.C))
		}
	}
	pad := math.Max(2, (high-low)*0.08)
	low, high = low-pad-(high-low)*0.06, high+pad
	y := func(c engine.Celsius) float64 { return floor - (float64(c)-low)/(high-low)*(floor-top) }
	step := (right - left) / float64(len(d.Days))
	x := func(i int) float64 { return left + (float64(i)+0.5)*step }
	bar := math.Max(0.8, math.Min(step*0.72, 16))

	p.text(margin, top-10, 14, soft, begin, "°C")
	zero := y(d.Line)
	lowest := 0
	for i, s := range d.Days {
		if s.Date.Equal(d.Lowest.Date) {
			lowest = i
		}
	}
	// The lowest, below its bar.
	words := celsius(d.Lowest.C) + ", " + d.Lowest.Date.Format("2 Jan")
	half := p.width(words, labelSize, true) / 2
	at := math.Max(left+half, math.Min(right-half, x(lowest)))
	under := math.Max(y(d.Lowest.C), zero) + 19
	if d.Unknown > 0 {
		under = math.Min(under, floor-24)
	}
	under = math.Min(under, floor-4)
	p.strong(at, under, labelSize, ink, middle, words)

	back := &labels{pen: p, words: []rect{{at - half, under - labelSize*0.8, 2 * half, labelSize * 0.8}}}
	for _, v := range ticks(low, high, 6) {
		at := y(engine.Celsius(v))
		back.behind(point{left, at}, point{right, at})
		p.text(left-8, at+5, 14, soft, end, number(v))
	}
	for i, s := range d.Days {
		switch {
		case !s.Known:
			continue
		case s.Binds:
			p.fill(box(x(i)-bar/2, zero, bar, math.Max(2.5, y(s.C)-zero)), asked)
		default:
			knob(p, point{x(i), y(s.C)}, math.Min(3.4, math.Max(1.4, step*0.4)))
		}
	}
	for i := 0; i < len(d.Days); i++ { // what is not known, a ground and one cross a run
		n := 0
		for i+n < len(d.Days) && !d.Days[i+n].Known {
			n++
		}
		if n == 0 {
			continue
		}
		p.fill(box(x(i)-step/2, top, step*float64(n), floor-top), wash)
		mid := (x(i) + x(i+n-1)) / 2
		const r = 4.5
		p.rule(mid-r, floor-12-r, mid+r, floor-12+r, 2, ink)
		p.rule(mid-r, floor-12+r, mid+r, floor-12-r, 2, ink)
		i += n
	}
	p.stroke([]point{{left, zero}, {right, zero}}, false, restrictionLine)
	p.rule(left, floor, right, floor, 2, ink)

	// Months, or days where there are few.
	last := math.Inf(-1)
	for i, day := range d.Days {
		first := day.Date.Day() == 1 || i == 0
		form := "Jan"
		if len(d.Days) <= 45 {
			first = day.Date.Day()%5 == 0 || i == 0 || day.Date.Day() == 1
			form = "2"
			if i == 0 || day.Date.Day() == 1 {
				form = "2 Jan"
			}
		}
		if !first {
			continue
		}
		edge := x(i) - step/2
		p.rule(edge, floor, edge, floor+6, 1.4, ink)
		s := day.Date.Format(form)
		w := p.width(s, 15, false)
		if edge < last+8 || edge+w > right+margin-4 {
			continue
		}
		p.text(edge, floor+22, 15, ink, begin, s)
		last = edge + w
	}
	p.y = floor + 34
	for _, l := range d.Lines {
		p.paragraph(margin, p.w-2*margin, 17, 22, false, ink, l)
		p.y += 4
	}
	p.foot(d)
}

// knob is a low that does not bind.
func knob(p *pen, at point, r float64) { p.disc(at, r, ink) }
