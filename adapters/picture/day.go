package picture

import (
	"cmp"
	"math"
	"slices"
	"time"

	"firn/bot/drawing"
	"firn/engine"
	"firn/engine/coldwatch"
)

var (
	restrictionLine = line{width: 2.6, dash: []float64{11, 4, 2.5, 4}, tone: ink}
	forecastLine    = line{width: 3, tone: asked}
)

// day draws a forecast against the restriction temperature.
func (p *pen) day(d drawing.Day) {
	p.heading(d)
	var list []legend
	if len(d.Runs) > 0 {
		list = append(list, legend{"forecast, each value until the next", forecastLine, nil})
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
	p.legends(list)

	const height, gutter = 290, 46
	left, right := float64(margin+gutter), p.w-margin-10
	top := p.y + 32
	floor := top + height
	low, high := d.Range()
	pad := math.Max(2, float64(high-low)*0.16)
	bottomC, topC := float64(low)-pad, float64(high)+pad
	y := func(c engine.Celsius) float64 { return floor - (float64(c)-bottomC)/(topC-bottomC)*(floor-top) }
	x := func(t time.Time) float64 {
		part := float64(t.Sub(d.From)) / float64(d.To.Sub(d.From))
		return left + math.Max(0, math.Min(1, part))*(right-left)
	}

	// The words first, where they cross nothing; what lies behind leaves them
	// room.
	w0, w1 := x(d.Window.From), x(d.Window.To)
	p.fill(box(w0, top-8, w1-w0, floor-top+8), wash)
	taken := &labels{pen: p, left: left, right: right, top: top, bottom: floor}
	taken.take(w0-2, top, 4, floor-top)
	taken.take(w1-2, top, 4, floor-top)
	if d.HasLine {
		taken.take(left, y(d.Line)-3, right-left, 6)
	}
	var curves [][]point
	for _, run := range d.Runs {
		var way []point
		for i, s := range run.Values {
			next := run.To
			if i+1 < len(run.Values) {
				next = run.Values[i+1].At
			}
			way = append(way, point{x(s.At), y(s.C)}, point{x(next), y(s.C)})
		}
		for i := range way[1:] {
			a, b := way[i], way[i+1]
			taken.take(math.Min(a.x, b.x)-3, math.Min(a.y, b.y)-3, math.Abs(a.x-b.x)+6, math.Abs(a.y-b.y)+6)
		}
		curves = append(curves, way)
	}
	for _, e := range d.Extremes {
		taken.take(x(e.At)-9, y(e.C)-9, 18, 18)
	}
	j := d.Judgement
	lowest := len(d.Runs) > 0 && j.State != coldwatch.NoForecast && !j.Bound(d.Window) && !d.LowIsExtreme()
	if lowest {
		taken.put("low "+celsius(j.Low), point{x(j.LowAt), y(j.Low)}, false)
	}
	for _, e := range d.Extremes {
		taken.put(celsius(e.C), point{x(e.At), y(e.C)}, e.Maximum)
	}
	if d.HasLine {
		taken.along(celsius(d.Line), y(d.Line))
	}

	p.text(margin, top-14, 14, soft, begin, "°C")
	for _, v := range ticks(bottomC, topC, 6) {
		at := y(engine.Celsius(v))
		taken.behind(point{left, at}, point{right, at})
		p.text(left-8, at+5, 14, soft, end, number(v))
	}
	if d.HasLine {
		taken.hatch(left, y(d.Line), right, floor)
		p.stroke([]point{{left, y(d.Line)}, {right, y(d.Line)}}, false, restrictionLine)
	}
	p.stroke([]point{{w0, floor}, {w0, top - 8}, {w1, top - 8}, {w1, floor}}, false, line{width: 1.4, tone: ink})
	p.text((w0+w1)/2, top-14, 15, ink, middle, "duty window")
	p.hours(d, x, floor)
	p.rule(left, floor, right, floor, 2, ink)
	for _, way := range curves {
		p.stroke(way, false, forecastLine)
	}
	if lowest {
		p.disc(point{x(j.LowAt), y(j.Low)}, 5.5, asked)
	}
	for _, e := range d.Extremes {
		m := trough
		if e.Maximum {
			m = peak
		}
		m(p, point{x(e.At), y(e.C)}, 8)
	}
	p.y = floor + 52

	for _, l := range d.Lines {
		p.paragraph(margin, p.w-2*margin, 17, 22, false, ink, l)
		p.y += 4
	}
	p.foot(d)
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

// trough marks a forecast minimum, peak a maximum.
func trough(p *pen, at point, r float64) {
	p.fill([]point{{at.x - r*1.05, at.y - r*0.75}, {at.x + r*1.05, at.y - r*0.75}, {at.x, at.y + r}}, asked)
}

func peak(p *pen, at point, r float64) {
	shape := []point{{at.x - r*1.05, at.y + r*0.75}, {at.x + r*1.05, at.y + r*0.75}, {at.x, at.y - r}}
	p.stroke(shape, true, line{width: 2, tone: ink})
}

// celsius is the drawing's way to write a temperature.
func celsius(c engine.Celsius) string { return drawing.Celsius(c) }

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
