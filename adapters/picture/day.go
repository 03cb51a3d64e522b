package picture

import (
	"cmp"
	"math"
	"slices"
	"time"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

var (
	restrictionLine = line{width: 2.6, dash: []float64{11, 4, 2.5, 4}, tone: ink}
	forecastLine    = line{width: 3, tone: asked}
	estimatedLine   = line{width: 2.2, dash: []float64{7, 5}, tone: asked}
)

// day draws a forecast against the restriction temperature.
func (p *pen) day(d drawing.Day) {
	p.heading(d)
	p.legends(dayLegends(d))
	c := p.planDay(d)

	// The words first, where they cross nothing; what lies behind leaves them
	// room.
	w0, w1 := c.x(d.Window.From), c.x(d.Window.To)
	p.fill(box(w0, c.top-8, w1-w0, c.floor-c.top+8), wash)
	curves, estimated := c.curves(), c.estimated()
	taken := c.reserve(p, slices.Concat(curves, estimated))
	c.words(taken)

	p.text(margin, c.top-14, 14, soft, begin, "°C")
	taken.degrees(c.coldest, c.warmest, c.y)
	if d.HasLine {
		taken.hatch(c.left, c.y(d.Line), c.right, c.floor)
		p.stroke([]point{{c.left, c.y(d.Line)}, {c.right, c.y(d.Line)}}, false, restrictionLine)
	}
	p.stroke([]point{{w0, c.floor}, {w0, c.top - 8}, {w1, c.top - 8}, {w1, c.floor}}, false, line{width: 1.4, tone: ink})
	p.text((w0+w1)/2, c.top-14, 15, ink, middle, "duty window")
	p.hours(d, c.x, c.floor)
	p.rule(c.left, c.floor, c.right, c.floor, 2, ink)
	for _, way := range curves {
		p.stroke(way, false, forecastLine)
	}
	for _, way := range estimated {
		p.stroke(way, false, estimatedLine)
	}
	c.marks(p)
	p.y = c.floor + 52
	p.sentences(d.Lines)
	p.foot(d)
}

func dayLegends(d drawing.Day) (list []legend) {
	if len(d.Runs) > 0 {
		list = append(list, legend{"forecast, each value until the next", forecastLine, nil})
	}
	if len(d.Estimated) > 0 {
		list = append(list, legend{"estimated between the extremes", estimatedLine, nil})
	}
	mins, maxs := false, false
	for _, e := range d.Extremes {
		mins, maxs = mins || !e.Maximum, maxs || e.Maximum
	}
	if mins {
		list = append(list, legend{"forecast minimum", line{tone: ink}, trough})
	}
	if maxs {
		list = append(list, legend{"forecast maximum", line{tone: ink}, peak})
	}
	if d.HasLine {
		list = append(list, legend{"restriction temperature; hatched: at or below it", restrictionLine, nil})
	}
	return list
}

// dayPlan is where the times and temperatures of a day stand on the page.
type dayPlan struct {
	drawing.Day
	axes
}

// axes are the sides of a plot of temperatures.
type axes struct {
	left, right, top, floor float64
	coldest, warmest        float64 // °C at the floor and at the top
}

func (a axes) y(t engine.Celsius) float64 {
	return a.floor - (float64(t)-a.coldest)/(a.warmest-a.coldest)*(a.floor-a.top)
}

func (p *pen) planDay(d drawing.Day) dayPlan {
	const height, gutter = 290, 46
	c := dayPlan{d, axes{left: float64(margin + gutter), right: p.w - margin - 10, top: p.y + 32}}
	c.floor = c.top + height
	low, high := d.Range()
	pad := math.Max(2, float64(high-low)*0.16)
	c.coldest, c.warmest = float64(low)-pad, float64(high)+pad
	return c
}

func (c dayPlan) x(t time.Time) float64 {
	part := float64(t.Sub(c.From)) / float64(c.To.Sub(c.From))
	return c.left + math.Max(0, math.Min(1, part))*(c.right-c.left)
}

// curves are the runs of the forecast as steps.
func (c dayPlan) curves() (curves [][]point) {
	for _, run := range c.Runs {
		var way []point
		for i, s := range run.Values {
			next := run.To
			if i+1 < len(run.Values) {
				next = run.Values[i+1].At
			}
			way = append(way, point{c.x(s.At), c.y(s.C)}, point{c.x(next), c.y(s.C)})
		}
		curves = append(curves, way)
	}
	return curves
}

// estimated are the curves between the extremes.
func (c dayPlan) estimated() (curves [][]point) {
	for _, run := range c.Estimated {
		way := make([]point, len(run))
		for i, s := range run {
			way[i] = point{c.x(s.At), c.y(s.C)}
		}
		curves = append(curves, way)
	}
	return curves
}

// reserve keeps the labels off the window, the lines and the marks.
func (c dayPlan) reserve(p *pen, curves [][]point) *labels {
	taken := &labels{pen: p, left: c.left, right: c.right, top: c.top, bottom: c.floor}
	taken.take(c.x(c.Window.From)-2, c.top, 4, c.floor-c.top)
	taken.take(c.x(c.Window.To)-2, c.top, 4, c.floor-c.top)
	if c.HasLine {
		taken.take(c.left, c.y(c.Line)-3, c.right-c.left, 6)
	}
	for _, way := range curves {
		for i := range way[1:] {
			a, b := way[i], way[i+1]
			taken.take(math.Min(a.x, b.x)-3, math.Min(a.y, b.y)-3, math.Abs(a.x-b.x)+6, math.Abs(a.y-b.y)+6)
		}
	}
	for _, e := range c.Extremes {
		taken.take(c.x(e.At)-9, c.y(e.C)-9, 18, 18)
	}
	return taken
}

// marksLowest says whether the lowest of the forecast has a mark of its own.
func (c dayPlan) marksLowest() bool {
	j := c.Judgement
	return len(c.Runs) > 0 && j.State != coldwatch.NoForecast && !j.Bound(c.Window) && !c.LowIsExtreme()
}

// words writes the temperatures beside their marks and the line.
func (c dayPlan) words(taken *labels) {
	if j := c.Judgement; c.marksLowest() {
		taken.put("low "+reply.Celsius(j.Low), point{c.x(j.LowAt), c.y(j.Low)}, false)
	}
	for _, e := range c.Extremes {
		taken.put(reply.Celsius(e.C), point{c.x(e.At), c.y(e.C)}, e.Maximum)
	}
	if c.HasLine {
		taken.along(reply.Celsius(c.Line), c.y(c.Line))
	}
}

// marks draws the lowest and the forecast extremes.
func (c dayPlan) marks(p *pen) {
	if j := c.Judgement; c.marksLowest() {
		p.disc(point{c.x(j.LowAt), c.y(j.Low)}, 5.5, asked)
	}
	for _, e := range c.Extremes {
		m := trough
		if e.Maximum {
			m = peak
		}
		m(p, point{c.x(e.At), c.y(e.C)}, 8)
	}
}

// sentences are the words below a picture.
func (p *pen) sentences(lines []string) {
	for _, l := range lines {
		p.paragraph(margin, p.w-2*margin, 17, 22, false, ink, l)
		p.y += 4
	}
}

// hours are the ticks of the time axis: local above, UTC below.
func (p *pen) hours(d drawing.Day, x func(time.Time) float64, floor float64) {
	zone := d.Base.Zone
	if zone == nil {
		zone = time.UTC
	}
	step := 3
	for d.To.Sub(d.From) > time.Duration(step)*8*time.Hour {
		step *= 2
	}
	begin := d.From.In(zone)
	last := math.Inf(-1)
	for h := 0; ; h += step {
		// By the clock on the wall, so that a change of the clocks moves them.
		t := time.Date(begin.Year(), begin.Month(), begin.Day(), h, 0, 0, 0, zone)
		if t.After(d.To) {
			return
		}
		if t.Before(d.From) {
			continue
		}
		at := x(t)
		p.rule(at, floor, at, floor+6, 1.4, ink)
		local := t.Format("15:04")
		if t.Hour() == 0 {
			local = t.Format("Mon")
		}
		if at-last < 48 {
			continue
		}
		last = at
		p.text(at, floor+22, 15, ink, middle, local)
		p.text(at, floor+40, 14, soft, middle, t.UTC().Format("15:04Z"))
	}
}

// trough marks a forecast minimum, peak a maximum: a cup, and one turned over.
func trough(p *pen, at point, r float64) { p.cup(at, r, -1, line{width: 3, tone: asked}) }

func peak(p *pen, at point, r float64) { p.cup(at, r, 1, line{width: 2, tone: ink}) }

// cup is open to the side of turn; its closed one is at the point.
func (p *pen) cup(at point, r, turn float64, l line) {
	p.stroke([]point{{at.x - r, at.y + turn*r}, {at.x - r, at.y}, {at.x + r, at.y}, {at.x + r, at.y + turn*r}}, false, l)
}

// labels places words beside points, where nothing is yet.
type labels struct {
	*pen
	left, right, top, bottom float64
	boxes                    []rect
	words                    []rect // of the boxes, those that are written in
}

type rect struct{ x, y, w, h float64 }

func (a rect) over(b rect) bool {
	return a.x < b.x+b.w && b.x < a.x+a.w && a.y < b.y+b.h && b.y < a.y+a.h
}

// behind draws a faint line that leaves the words their room.
func (l *labels) behind(a, b point) {
	from := 0.0
	cut := func(to, next float64) {
		at := func(k float64) point { return point{a.x + (b.x-a.x)*k, a.y + (b.y-a.y)*k} }
		if to > from {
			l.stroke([]point{at(from), at(to)}, false, line{width: 1, tone: faint})
		}
		from = math.Max(from, next)
	}
	var gaps [][2]float64
	for _, r := range l.words {
		k0, k1 := 0.0, 1.0
		for _, side := range [2][4]float64{{a.x, b.x, r.x - 3, r.x + r.w + 3}, {a.y, b.y, r.y - 3, r.y + r.h + 3}} {
			switch d := side[1] - side[0]; {
			case d == 0 && (side[0] < side[2] || side[0] > side[3]):
				k1 = -1
			case d != 0:
				e0, e1 := (side[2]-side[0])/d, (side[3]-side[0])/d
				k0, k1 = math.Max(k0, math.Min(e0, e1)), math.Min(k1, math.Max(e0, e1))
			}
		}
		if k1 > k0 {
			gaps = append(gaps, [2]float64{k0, k1})
		}
	}
	slices.SortFunc(gaps, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	for _, g := range gaps {
		cut(g[0], g[1])
	}
	cut(1, 1)
}

// degrees draws the temperatures beside the picture and the lines across it.
func (l *labels) degrees(low, high float64, y func(engine.Celsius) float64) {
	for _, v := range ticks(low, high, 6) {
		at := y(engine.Celsius(v))
		l.behind(point{l.left, at}, point{l.right, at})
		l.text(l.left-8, at+5, 14, soft, end, number(v))
	}
}

// hatch marks what lies below the restriction temperature.
func (l *labels) hatch(x0, y0, x1, y1 float64) {
	const apart = 14
	for c := x0 - (y1 - y0); y1-y0 > 2 && c < x1; c += apart {
		a, b := point{c, y1}, point{c + (y1 - y0), y0}
		if a.x < x0 {
			a = point{x0, y1 - (x0 - c)}
		}
		if b.x > x1 {
			b = point{x1, y1 - (x1 - c)}
		}
		if b.x > a.x {
			l.behind(a, b)
		}
	}
}

func (l *labels) take(x, y, w, h float64) { l.boxes = append(l.boxes, rect{x, y, w, h}) }

func (l *labels) free(r rect) bool {
	if r.x < l.left+1 || r.x+r.w > l.right-1 || r.y < l.top+1 || r.y+r.h > l.bottom-1 {
		return false
	}
	for _, b := range l.boxes {
		if r.over(b) {
			return false
		}
	}
	return true
}

const labelSize = 17

// put writes a label above or below its point, or beside it; where there is no
// room the words below the picture have it.
func (l *labels) put(s string, at point, above bool) {
	w, h := l.width(s, labelSize, true), labelSize*0.8
	up, down := at.y-13-h, at.y+13
	order := []float64{down, up}
	if above {
		order = []float64{up, down}
	}
	var places []rect
	for _, y := range order {
		for _, x := range []float64{at.x - w/2, at.x - 10, at.x - w + 10} {
			places = append(places, rect{x, y, w, h})
		}
	}
	places = append(places, rect{at.x + 14, at.y - h/2, w, h}, rect{at.x - 14 - w, at.y - h/2, w, h})
	for _, r := range places {
		if l.free(r) {
			l.boxes, l.words = append(l.boxes, r), append(l.words, r)
			l.strong(r.x, r.y+h, labelSize, ink, begin, s)
			return
		}
	}
}

// along writes a label above or below a line across, at either end.
func (l *labels) along(s string, y float64) {
	w, h := l.width(s, labelSize, true), labelSize*0.8
	for _, r := range []rect{
		{l.right - w - 6, y - 7 - h, w, h}, {l.left + 6, y - 7 - h, w, h},
		{l.right - w - 6, y + 7, w, h}, {l.left + 6, y + 7, w, h},
		{(l.left + l.right - w) / 2, y - 7 - h, w, h}, {(l.left + l.right - w) / 2, y + 7, w, h},
	} {
		if l.free(r) {
			l.boxes, l.words = append(l.boxes, r), append(l.words, r)
			l.strong(r.x, r.y+h, labelSize, ink, begin, s)
			return
		}
	}
}
