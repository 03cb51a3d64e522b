package picture

import (
	"fmt"
	"math"
	"strings"

	"firn/bot/drawing"
)

// paperSize is a paper's width and height, in points.
func paperSize(p drawing.Paper) (w, h float64) {
	switch p {
	case drawing.HalfLetter:
		return 5.5 * 72, 8.5 * 72
	case drawing.Letter:
		return 8.5 * 72, 11 * 72
	}
	const mm = 72 / 25.4
	return 148 * mm, 210 * mm
}

// The sizes of a card's writing. What is read in flight keeps its size before
// what is read on the ground, and nothing is smaller than the least.
const (
	flySize    = 24.0
	chartSize  = 14.0 // and the names'
	markSize   = 11.0
	callSize   = 12.0
	proseSize  = 9.5
	leastSize  = 9.0
	leastScale = 0.4 // of the table
)

// roomy to tight is how high a row is, in sizes of its greatest figure.
var roomyToTight = []float64{1.4, 1.34, 1.28, 1.22, 1.16, 1.08}

// planKneeboard finds the greatest table with which everything is on the page: the
// table is never on two. Of cautions that do not fit even so, the card says
// how many the answer has; altitudes and the call it never leaves out.
func (a *Artist) planKneeboard(d drawing.Kneeboard) (sheet, error) {
	w, h := paperSize(d.Paper)
	for _, cautions := range []int{len(d.Cautions), 0} {
		for scale := 1.0; scale > leastScale-1e-9; scale -= 0.02 {
			for _, row := range roomyToTight {
				c := kneeboard{Kneeboard: d, scale: scale, row: math.Max(row*flySize*scale, leastSize*1.2), cautions: cautions, h: h}
				p := a.pen(nothing{}, w)
				if c.draw(p); p.y <= h {
					return sheet{w: w, h: h, paper: true, draw: func(p *pen) { c.draw(p) }}, nil
				}
			}
		}
	}
	return sheet{}, ErrTooMuch
}

// kneeboard is a kneeboard at a size.
type kneeboard struct {
	drawing.Kneeboard
	scale    float64 // of the table
	row      float64 // the height of one
	cautions int
	h        float64
}

const (
	edge = 22 // the margin of a card
	clip = 34 // above: the kneeboard's clip
)

func (c kneeboard) draw(p *pen) {
	width := p.w - 2*edge
	p.y = clip
	if c.NotValid != "" {
		p.fill(box(edge, p.y, width, 34), ink)
		p.strong(p.w/2, p.y+26, 26, white, middle, "NOT VALID")
		p.y += 36
		p.paragraph(edge, width, 10, 13, true, ink, c.NotValid)
		p.y += 4
	}
	kind, size := p.fit(c.Kind, 11, leastSize, true, width)
	p.y += 11
	p.strong(edge, p.y, size, ink, begin, kind)
	p.y += 2
	title := 17.0
	if _, fit := p.fit(c.Title, title, 13, true, width); fit < title {
		title = fit
	}
	p.paragraph(edge, width, title, title*1.2, true, ink, c.Title)
	if c.From != "" {
		p.paragraph(edge, width, proseSize, 11.5, false, ink, c.From)
	}
	p.y += 5
	c.until(p)
	c.stops(p)
	for _, note := range c.Notes { // they change how the figures are read, as a stop does
		p.paragraph(edge, width, callSize, 14, true, ink, note)
	}
	if len(c.Notes) > 0 {
		p.y += 3
	}
	c.table(p)
	c.say(p)
	c.warn(p)
	c.close(p)
	if c.NotValid != "" {
		s := "NOT VALID"
		angle := math.Atan2(c.h*0.62, p.w)
		size := math.Min(p.w/math.Cos(angle)*0.82/p.width(s, 1, true), 110)
		at := point{p.w/2 + size*0.35*math.Sin(angle), c.h/2 + size*0.35*math.Cos(angle)}
		p.write(text{s: s, at: at, size: size, bold: true, from: middle, tone: ghost, angle: -angle * 180 / math.Pi})
	}
}

// until is how long the card holds; struck out when it does not.
func (c kneeboard) until(p *pen) {
	p.y += 11
	p.strong(edge, p.y, 11, ink, begin, "VALID UNTIL")
	from := edge + p.width("VALID UNTIL ", 11, true) + 4
	to := p.w - edge
	if c.ValidUntil == "" {
		p.rule(from, p.y+1, to, p.y+1, 0.8, ink)
	} else {
		s, size := p.fit(c.ValidUntil, 12, leastSize, true, to-from)
		p.strong(from, p.y, size, ink, begin, s)
		to = from + p.width(s, size, true)
	}
	if c.NotValid != "" {
		p.rule(edge, p.y-4, to, p.y-4, 1.4, ink)
	}
	p.y += 5
}

// stops are what may not be flown, in a box.
func (c kneeboard) stops(p *pen) {
	if len(c.Stops) == 0 {
		return
	}
	width := p.w - 2*edge
	top := p.y + 1
	p.y = top + 1
	for _, stop := range c.Stops {
		p.paragraph(edge+7, width-14, 12, 14, true, ink, stop)
	}
	p.y += 6
	p.stroke(box(edge, top, width, p.y-top), true, line{width: 1.6, tone: ink})
	p.y += 2
}

// table is the altitudes: those to fly are the greatest on the page.
func (c kneeboard) table(p *pen) {
	s, right := c.scale, p.w-edge
	small := math.Max(chartSize*s, leastSize)
	noted := math.Max(markSize*s, leastSize)
	fly, chart := p.width(c.Table.Fly, leastSize, true), p.width("chart", leastSize, false)
	name, mark, word := 0.0, 0.0, 0.0
	for _, r := range c.Table.Rows {
		fly = math.Max(fly, p.width(r.Fly, flySize*s, true))
		chart = math.Max(chart, p.width(r.Chart, small, false))
		name = math.Max(name, p.width(r.Name, small, true))
		mark = math.Max(mark, p.width(r.Mark, noted, false))
		for _, w := range strings.Fields(r.Mark) {
			word = math.Max(word, p.width(w, leastSize, false))
		}
	}
	const gap = 10
	room := right - edge - fly - chart - 3*gap
	if name+mark > room {
		// A word of a mark is not broken where the names can do without.
		mark = math.Min(mark, math.Max(math.Max(room*0.42, room-name), math.Min(word+1, room*0.6)))
		name = room - mark
	}
	spare := math.Min((room-name-mark)/3, 30)
	flyAt := edge + name + gap + spare + fly
	chartAt := flyAt + gap + spare + chart
	p.y += 10
	p.strong(flyAt, p.y, leastSize, ink, end, c.Table.Fly)
	p.text(chartAt, p.y, leastSize, ink, end, "chart")
	p.y += 3
	for i, r := range c.Table.Rows {
		thick := 0.6
		if i > 0 && i == c.Missed {
			thick = 2
		}
		p.rule(edge, p.y, right, p.y, thick, ink)
		base := p.y + (c.row+0.72*flySize*s)/2
		p.strong(flyAt, base, flySize*s, ink, end, r.Fly)
		p.text(chartAt, base, small, ink, end, r.Chart)
		// A long name may have what its figure leaves of the column.
		c.beside(p, edge, base, flyAt-p.width(r.Fly, flySize*s, true)-gap-edge, small, true, r.Name)
		c.beside(p, chartAt+gap, base, right-chartAt-gap, noted, false, r.Mark)
		p.y += c.row
	}
	p.rule(edge, p.y, right, p.y, 1.6, ink)
}

// beside writes what stands beside an altitude: in one line on the base of its
// figures, smaller where it must be, else in as many lines as the row has room
// for.
func (c kneeboard) beside(p *pen, x, base, width, size float64, bold bool, s string) {
	if s == "" {
		return
	}
	_, fit := p.fit(s, size, leastSize, bold, width)
	if p.width(s, fit, bold) <= width+1e-9 {
		p.write(text{s: s, at: point{x, base}, size: fit, bold: bold, tone: ink})
		return
	}
	const leading = leastSize * 1.1
	most := max(1, int(c.row/leading))
	lines := p.wrap(s, leastSize, bold, width)
	if len(lines) > most {
		last, _ := p.fit(strings.Join(lines[most-1:], " "), leastSize, leastSize, bold, width)
		lines = append(lines[:most-1:most-1], last)
	}
	middle := p.y + c.row/2
	for i, l := range lines {
		y := middle + leading*(float64(i)-float64(len(lines)-1)/2) + 0.36*leastSize
		p.write(text{s: l, at: point{x, y}, size: leastSize, bold: bold, tone: ink})
	}
}

// say is the one call, in figures, or why there is none.
func (c kneeboard) say(p *pen) {
	width := p.w - 2*edge
	switch {
	case c.Call.Text != "":
		p.y += 2
		p.paragraph(edge, width, proseSize, 11.5, false, ink, c.Call.Title+":")
		p.y++
		p.paragraph(edge, width, callSize, 14, true, ink, "“"+c.Call.Text+"”")
	case c.NoCall != "":
		p.y += 3
		p.paragraph(edge, width, callSize, 14, true, ink, c.NoCall)
	default:
		return
	}
	p.y += 5
	p.rule(edge, p.y, p.w-edge, p.y, 0.6, ink)
}

// warn are the cautions: this answer's own, and the line that each has.
func (c kneeboard) warn(p *pen) {
	width := p.w - 2*edge
	p.y += 2
	for _, t := range c.Cautions[:c.cautions] {
		p.disc(point{edge + 2, p.y + 8}, 1.4, ink)
		p.paragraph(edge+8, width-8, proseSize, 11.5, false, ink, t)
	}
	if left := len(c.Cautions) - c.cautions; left > 0 {
		p.paragraph(edge, width, proseSize, 11.5, true, ink, fmt.Sprintf("%d cautions are in the answer: no room for them here.", left))
	}
	p.paragraph(edge, width, proseSize, 11.5, false, ink, c.Standing)
	p.y += 3
}

// close is who computed and checked, and where the figures are from, at the
// foot of the page.
func (c kneeboard) close(p *pen) {
	top := p.y
	lay := func(p *pen) {
		p.rule(edge, p.y, p.w-edge, p.y, 1.6, ink)
		c.signature(p, "Computed by", c.Computed)
		for _, by := range c.Checked {
			c.signature(p, "Checked by", by)
		}
		if len(c.Checked) == 0 {
			c.signature(p, "Checked by", drawing.Signature{})
		}
		p.y += 3
		for _, l := range c.Foot() {
			p.paragraph(edge, p.w-2*edge, leastSize, 10.3, false, ink, l)
		}
	}
	trial := &pen{canvas: nothing{}, faces: p.faces, w: p.w, y: top}
	lay(trial)
	const below = 12
	p.y = math.Max(top, c.h-below-(trial.y-top))
	lay(p)
	p.y += below - 1e-6
}

// signature is a name, or a line to write one on.
func (c kneeboard) signature(p *pen, what string, who drawing.Signature) {
	p.y += 15
	if who.By == "" {
		p.y += 4 // handwriting
	}
	p.text(edge, p.y, 9.5, ink, begin, what)
	from, to := edge+p.width("Computed by", 9.5, false)+8, p.w-edge
	if who.By != "" {
		s, size := p.fit(who.String(), 11, leastSize, true, to-from)
		p.strong(from, p.y, size, ink, begin, s)
		return
	}
	if who.At != "" {
		p.text(to, p.y, 9.5, ink, end, who.At)
		to -= p.width(who.At, 9.5, false) + 8
	}
	p.rule(from, p.y+1, to, p.y+1, 0.8, ink)
}
