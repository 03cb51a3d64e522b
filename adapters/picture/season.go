package picture

import (
	"math"

	"firn/bot/drawing"
	"firn/bot/reply"
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
	c := p.planSeason(d)
	zero := c.y(d.Line)
	p.text(margin, c.top-10, 14, soft, begin, "°C")
	words := c.lowest(p)
	back := &labels{pen: p, left: c.left, right: c.right, words: []rect{words}}
	back.degrees(c.coldest, c.warmest, c.y)
	c.lows(p)
	c.unknown(p)
	p.stroke([]point{{c.left, zero}, {c.right, zero}}, false, restrictionLine)
	p.rule(c.left, c.floor, c.right, c.floor, 2, ink)
	c.dates(p)
	p.y = c.floor + 34
	p.sentences(d.Lines)
	p.foot(d)
}

// seasonPlan is where the days and temperatures of a season stand on the page.
type seasonPlan struct {
	drawing.Season
	axes
	step float64 // from a day to the next
}

func (p *pen) planSeason(d drawing.Season) seasonPlan {
	const height, gutter = 300, 46
	c := seasonPlan{Season: d, axes: axes{left: float64(margin + gutter), right: p.w - margin, top: p.y + 26}}
	c.floor = c.top + height
	low, high := float64(d.Line), float64(d.Line)
	for _, s := range d.Days {
		if s.Known {
			low, high = math.Min(low, float64(s.C)), math.Max(high, float64(s.C))
		}
	}
	pad := math.Max(2, (high-low)*0.08)
	c.coldest, c.warmest = low-pad-(high-low)*0.06, high+pad
	c.step = (c.right - c.left) / float64(len(d.Days))
	return c
}

func (c seasonPlan) x(day int) float64 { return c.left + (float64(day)+0.5)*c.step }

// lowest writes the season's lowest below its bar, and says where it stands.
func (c seasonPlan) lowest(p *pen) rect {
	day := 0
	for i, s := range c.Days {
		if s.Date.Equal(c.Lowest.Date) {
			day = i
		}
	}
	words := reply.Celsius(c.Lowest.C) + ", " + c.Lowest.Date.Format("2 Jan")
	half := p.width(words, labelSize, true) / 2
	at := math.Max(c.left+half, math.Min(c.right-half, c.x(day)))
	under := math.Max(c.y(c.Lowest.C), c.y(c.Line)) + 19
	if c.Unknown > 0 {
		under = math.Min(under, c.floor-24)
	}
	under = math.Min(under, c.floor-4)
	p.strong(at, under, labelSize, ink, middle, words)
	return rect{at - half, under - labelSize*0.8, 2 * half, labelSize * 0.8}
}

// lows draws the days that are known.
func (c seasonPlan) lows(p *pen) {
	zero, bar := c.y(c.Line), math.Max(0.8, math.Min(c.step*0.72, 16))
	for i, s := range c.Days {
		switch {
		case !s.Known:
			continue
		case s.Binds:
			p.fill(box(c.x(i)-bar/2, zero, bar, math.Max(2.5, c.y(s.C)-zero)), asked)
		default:
			knob(p, point{c.x(i), c.y(s.C)}, math.Min(3.4, math.Max(1.4, c.step*0.4)))
		}
	}
}

// unknown draws what is not known: a ground and one cross a run.
func (c seasonPlan) unknown(p *pen) {
	for i := 0; i < len(c.Days); i++ {
		n := 0
		for i+n < len(c.Days) && !c.Days[i+n].Known {
			n++
		}
		if n == 0 {
			continue
		}
		p.fill(box(c.x(i)-c.step/2, c.top, c.step*float64(n), c.floor-c.top), wash)
		mid := (c.x(i) + c.x(i+n-1)) / 2
		const r = 4.5
		p.rule(mid-r, c.floor-12-r, mid+r, c.floor-12+r, 2, ink)
		p.rule(mid-r, c.floor-12+r, mid+r, c.floor-12-r, 2, ink)
		i += n
	}
}

// dates are the months below, or days where there are few.
func (c seasonPlan) dates(p *pen) {
	last := math.Inf(-1)
	for i, day := range c.Days {
		first := day.Date.Day() == 1 || i == 0
		form := "Jan"
		if len(c.Days) <= 45 {
			first = day.Date.Day()%5 == 0 || i == 0 || day.Date.Day() == 1
			form = "2"
			if i == 0 || day.Date.Day() == 1 {
				form = "2 Jan"
			}
		}
		if !first {
			continue
		}
		edge := c.x(i) - c.step/2
		p.rule(edge, c.floor, edge, c.floor+6, 1.4, ink)
		s := day.Date.Format(form)
		w := p.width(s, 15, false)
		if edge < last+8 || edge+w > c.right+margin-4 {
			continue
		}
		p.text(edge, c.floor+22, 15, ink, begin, s)
		last = edge + w
	}
}

// knob is a low that does not bind.
func knob(p *pen, at point, r float64) { p.disc(at, r, ink) }
