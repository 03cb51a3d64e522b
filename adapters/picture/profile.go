package picture

import (
	"math"
	"strings"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
)

var (
	correctedLine = line{width: 3.2, tone: asked}
	publishedLine = line{width: 1.8, dash: []float64{7, 4}, tone: ink}
	reallyLine    = line{width: 2.4, dash: []float64{2, 3.5}, tone: really}
)

// profile draws an approach from the side: a shelf an altitude, three deep.
func (p *pen) profile(d drawing.Profile) {
	if !d.Beside {
		p.heading(d)
		for _, stop := range d.Stops {
			p.paragraph(margin, p.w-2*margin, 17, 22, true, ink, stop)
			p.y += 8
		}
		for _, note := range d.Notes {
			p.paragraph(margin, p.w-2*margin, 17, 22, false, ink, note)
			p.y += 8
		}
	}
	p.legends([]legend{
		{"corrected: what to fly", correctedLine, bar},
		{"published", publishedLine, plus},
		{d.RealPhrase(), reallyLine, chevron},
	})
	g := newShelves(p, d)
	g.draw()
	p.y = g.bottom
	if d.Beside {
		foot := d.Foot() // the source is the answer's
		p.paragraph(margin, p.w-2*margin, 14, 18.5, false, soft, foot[0]+" "+foot[len(foot)-1])
		p.y += 10
		return
	}

	columns := []column{
		{title: "published", mark: plus, width: 88, tone: ink},
		{title: "corrected", mark: bar, width: 94, bold: true, tone: ink},
		{title: "true", mark: chevron, width: 72, tone: ink},
		{title: "then true", width: 78, tone: ink},
	}
	rows := make([]row, len(d.Fixes))
	for i, f := range d.Fixes {
		rows[i] = row{f.Number, f.Title(), subOf(f), []drawing.Amount{f.PublishedText(), f.CorrectedText(), f.RealText(), f.RealCorrectedText()}}
	}
	p.table(columns, rows)
	p.foot(d)
}

// shelves is the graph of a profile.
type shelves struct {
	*pen
	d           drawing.Profile
	left, right float64
	top, floor  float64 // of the scale
	low, high   float64
	step, shelf float64 // the width of a column, and of the shelf in it
	bottom      float64
	labels      float64 // the size of the labels at the shelves; 0: none
	scale       float64 // feet to the unit of the scale
}

func newShelves(p *pen, d drawing.Profile) *shelves {
	const height, gutter = 300, 52
	g := &shelves{pen: p, d: d, left: margin + gutter, right: p.w - margin, top: p.y + 6, scale: 1}
	g.floor = g.top + height
	if d.Metric {
		g.scale = engine.MetresPerFoot
	}
	n := float64(len(d.Fixes))
	g.step = (g.right - g.left) / n
	g.shelf = math.Min(g.step*0.8, 92)
	g.low, g.high = float64(d.Field), float64(d.Field)
	for _, f := range d.Fixes {
		for _, a := range []engine.Altitude{f.Published, f.Corrected, f.Real} {
			g.low, g.high = math.Min(g.low, float64(a)), math.Max(g.high, float64(a))
		}
		if f.UpperPublished != 0 {
			g.high = math.Max(g.high, math.Max(float64(f.UpperPublished), float64(f.UpperCorrected)))
		}
	}
	if g.high-g.low < 200 {
		g.high = g.low + 200
	}
	// Labels stand above the highest and below the lowest line of a column.
	const above, below = 30, 26
	span := g.high - g.low
	g.high += span * above / (height - above - below)
	g.low -= span * below / (height - above - below)
	g.labels = 17
	for _, f := range d.Fixes {
		room := g.step - 5
		g.labels = math.Min(g.labels, room/p.width(g.label(f), 1, true))
	}
	if g.labels < 11.5 {
		g.labels = 0
	}
	return g
}

// label is the corrected altitude in the unit of the scale.
func (g *shelves) label(f drawing.Fix) string {
	if !g.d.Metric { // a figure in metres would not fit the scale
		f.PublishedM = 0
	}
	return strings.TrimSuffix(f.CorrectedText().Main, " m")
}

func (g *shelves) at(a engine.Altitude) float64 {
	return g.floor - (float64(a)-g.low)/(g.high-g.low)*(g.floor-g.top)
}

func (g *shelves) x(i int) (from, to float64) {
	mid := g.left + (float64(i)+0.5)*g.step
	return mid - g.shelf/2, mid + g.shelf/2
}

func (g *shelves) draw() {
	for _, v := range ticks(g.low*g.scale, g.high*g.scale, 5) {
		if v/g.scale < float64(g.d.Field) {
			continue // below the field is nothing to read
		}
		y := g.at(engine.Altitude(v / g.scale))
		g.rule(g.left, y, g.right, y, 1, faint)
		g.text(g.left-8, y+5, 14, soft, end, number(v))
	}
	fixes := g.d.Fixes
	of := []struct {
		get  func(f drawing.Fix) engine.Altitude
		line line
		mark mark
		part float64 // where on the shelf the mark stands
		fly  bool    // what may not be flown has none
	}{
		{func(f drawing.Fix) engine.Altitude { return f.Real }, reallyLine, chevron, 0.84, false},
		{func(f drawing.Fix) engine.Altitude { return f.Published }, publishedLine, plus, 0.5, false},
		{func(f drawing.Fix) engine.Altitude { return f.Corrected }, correctedLine, bar, 0.16, true},
	}
	g.wash()
	for _, s := range of {
		var way []point
		flush := func() {
			if len(way) > 1 {
				g.stroke(way, false, s.line)
			}
			way = nil
		}
		for i, f := range fixes {
			if !f.Joined || s.fly && f.NotUsable {
				flush()
			}
			if s.fly && f.NotUsable {
				continue
			}
			x0, x1 := g.x(i)
			y := g.at(s.get(f))
			way = append(way, point{x0, y}, point{x1, y})
		}
		flush()
		for i, f := range fixes {
			if s.fly && f.NotUsable {
				continue
			}
			x0, x1 := g.x(i)
			r := math.Min(4.5, g.shelf/9)
			s.mark(g.pen, point{x0 + (x1-x0)*s.part, g.at(s.get(f))}, r)
		}
	}
	for i, f := range fixes {
		x0, x1 := g.x(i)
		if f.UpperPublished != 0 { // the window's upper side
			mid := (x0 + x1) / 2
			y := g.at(f.UpperCorrected)
			g.rule(mid, g.at(f.Corrected), mid, y, 1.4, asked)
			g.rule(x0, y, x1, y, correctedLine.width/2, asked)
			g.rule(x0, g.at(f.UpperPublished), x1, g.at(f.UpperPublished), 1.2, ink, publishedLine.dash...)
		}
	}
	g.values()
	field := g.at(g.d.Field)
	g.rule(g.left-4, field, g.right, field, 3, ink)
	g.names()
}

// wash fills what lies between the lines, which stand on it; what may not be flown
// has none of what to fly.
func (g *shelves) wash() {
	for i, f := range g.d.Fixes {
		x0, x1 := g.x(i)
		y := g.at(f.Published)
		if !f.NotUsable {
			g.fill(box(x0, g.at(f.Corrected), x1-x0, y-g.at(f.Corrected)), askedWash)
		}
		g.fill(box(x0, y, x1-x0, g.at(f.Real)-y), reallyWash)
		if f.Joined {
			_, before := g.x(i - 1)
			b := g.d.Fixes[i-1]
			if !f.NotUsable && !b.NotUsable {
				g.fill([]point{{before, g.at(b.Corrected)}, {x0, g.at(f.Corrected)}, {x0, y}, {before, g.at(b.Published)}}, askedWash)
			}
			g.fill([]point{{before, g.at(b.Published)}, {x0, y}, {x0, g.at(f.Real)}, {before, g.at(b.Real)}}, reallyWash)
		}
	}
}

// values writes the corrected altitude above each shelf and how low the
// aeroplane really is below it, on the side that no line crosses.
func (g *shelves) values() {
	if g.labels == 0 {
		return
	}
	fixes := g.d.Fixes
	for i, f := range fixes {
		x0, x1 := g.x(i)
		top := max(f.Corrected, f.Published, f.Real)
		if f.UpperPublished != 0 {
			top = max(top, f.UpperCorrected, f.UpperPublished)
		}
		bottom := min(f.Corrected, f.Published, f.Real)
		before, after := 0.0, 0.0 // the way's rise to the neighbours
		if f.Joined {
			before = float64(fixes[i-1].Corrected - f.Corrected)
		}
		if i+1 < len(fixes) && fixes[i+1].Joined {
			after = float64(fixes[i+1].Corrected - f.Corrected)
		}
		x, from := side(x0, x1, before > 0, after > 0)
		g.strong(x, g.at(top)-8, g.labels, ink, from, g.label(f))
		x, from = side(x0, x1, before < 0, after < 0)
		low := f.LowText(g.d.Metric)
		size := math.Min(g.labels, 14)
		// Not across the field's line: then below it.
		y, field := g.at(bottom)+7+size*0.75, g.at(g.d.Field)
		if y > field-4 && y-size*0.75 < field+4 {
			y = field + 6 + size*0.75
		}
		g.text(x, y, size, ink, from, low)
	}
}

// side is where a label stands whose left or right side is crossed.
func side(x0, x1 float64, left, right bool) (float64, anchor) {
	switch {
	case left && !right:
		return x0, begin
	case right && !left:
		return x1, end
	}
	return (x0 + x1) / 2, middle
}

// names are the numbers and, where there is room, what each altitude is.
func (g *shelves) names() {
	unit := " ft"
	field := reply.WholeUp(g.d.Field)
	if g.d.Metric {
		field, unit = reply.WholeUp(g.d.Field.Metres()), " m"
	}
	y := g.floor + 20
	g.rule(g.left-4, y-5, g.left+22, y-5, 3, ink)
	g.text(g.left+28, y, 14, ink, begin, "field "+field+unit)
	switch {
	case g.labels == 0:
	case g.d.Lower:
		g.text(g.right, y, 14, ink, end, "− how low, uncorrected")
	default:
		g.text(g.right, y, 14, ink, end, "+ how high, uncorrected")
	}
	y += 24
	r := math.Min(11.5, g.step/2-2)
	named := false
	for i, f := range g.d.Fixes {
		x := g.left + (float64(i)+0.5)*g.step
		g.bubble(point{x, y}, r, f.Number)
		const size = 14
		if f.Label != "" && g.width(f.Label, size, false) <= g.step-4 {
			g.text(x, y+r+17, size, ink, middle, f.Label)
			named = true
		}
	}
	g.bottom = y + r + 8
	if named {
		g.bottom += 16
	}
}
