package picture

import (
	"fmt"
	"math"

	"firn/bot/drawing"
)

// size is a paper's, in points.
func paperSize(p drawing.Paper) (w, h float64) {
	if p == drawing.HalfLetter {
		return 5.5 * 72, 8.5 * 72
	}
	const mm = 72 / 25.4
	return 148 * mm, 210 * mm
}

// The sizes of digits and of prose that a card is tried with. Digits are what
// is read in flight, prose what is read before.
const (
	leastDigits, mostDigits = 0.4, 1.3
	leastProse, mostProse   = 0.55, 1.1
)

// planCard finds the greatest sizes at which everything is on the page. Of
// cautions that do not fit even so, the card says how many the answer has;
// altitudes and requests it never leaves out.
func (a *Artist) planCard(d drawing.Card) (sheet, error) {
	w, h := paperSize(d.Paper)
	for _, cautions := range []int{len(d.Cautions), 0} {
		var best card
		for prose := mostProse; prose > leastProse-1e-9; prose -= 0.05 {
			fits := func(digits float64) bool {
				p := a.pen(nothing{}, w)
				card{Card: d, digits: digits, prose: prose, cautions: cautions, h: h}.draw(p)
				return p.y <= h
			}
			low, high := leastDigits, mostDigits
			if !fits(low) {
				continue
			}
			if fits(high) {
				low = high
			}
			for high-low > 0.02 {
				if mid := (low + high) / 2; fits(mid) {
					low = mid
				} else {
					high = mid
				}
			}
			if low*prose > best.digits*best.prose {
				best = card{Card: d, digits: low, prose: prose, cautions: cautions, h: h}
			}
		}
		if best.digits > 0 {
			return sheet{w: w, h: h, paper: true, draw: func(p *pen) { best.draw(p) }}, nil
		}
	}
	return sheet{}, ErrTooMuch
}

// card is a card at a size.
type card struct {
	drawing.Card
	digits, prose float64
	cautions      int
	h             float64
}

const (
	edge = 22 // the margin of a card
	clip = 34 // above: the kneeboard's clip
)

func (c card) draw(p *pen) {
	width := p.w - 2*edge
	p.y = clip
	if c.NotValid != "" {
		p.fill(box(edge, p.y, width, 34), ink)
		p.strong(p.w/2, p.y+26, 26, white, middle, "NOT VALID")
		p.y += 36
		p.paragraph(edge, width, 10, 13, true, ink, c.NotValid)
		p.y += 6
	}
	kind, size := p.fit(c.Kind, 15, 10, true, width)
	p.y += 13
	p.strong(edge, p.y, size, ink, begin, kind)
	p.y += 2
	p.paragraph(edge, width, 19, 22, true, ink, c.Title)
	p.paragraph(edge, width, 10, 13, false, ink, c.Sub)
	for _, stop := range c.Stops {
		p.y += 3
		p.paragraph(edge, width, 12, 14.5, true, ink, stop)
	}
	p.y += 5
	until := c.ValidUntil
	p.rule(edge, p.y, p.w-edge, p.y, 1.6, ink)
	p.y += 15
	p.strong(edge, p.y, 11, ink, begin, "VALID UNTIL")
	from := edge + p.width("VALID UNTIL ", 11, true) + 4
	if until == "" {
		p.rule(from, p.y+1, p.w-edge, p.y+1, 0.8, ink)
	} else {
		s, size := p.fit(until, 12, 8, true, p.w-edge-from)
		p.strong(from, p.y, size, ink, begin, s)
	}
	p.y += 6
	p.rule(edge, p.y, p.w-edge, p.y, 1.6, ink)
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

// table is the altitudes: the corrected ones are the greatest on the page.
func (c card) table(p *pen) {
	s := c.digits
	right := p.w - edge
	corrected := math.Max(118*s, p.width("CORRECTED", 9, true)+8)
	published := math.Max(84*s, p.width("published", 9, false)+8)
	names := right - corrected - published
	p.y += 11
	p.text(right-corrected, p.y, 9, ink, end, "published")
	p.strong(right, p.y, 9, ink, end, "CORRECTED")
	p.y += 4
	for i, f := range c.Fixes {
		width := 0.6
		if i > 0 && f.Missed && !c.Fixes[i-1].Missed {
			width = 2
		}
		p.rule(edge, p.y, right, p.y, width, ink)
		main, sub := f.CorrectedText(), f.PublishedText()
		base := p.y + 23*s
		t, size := p.fit(main.Main, 25*s, 10*s, true, corrected-4)
		p.strong(right, base, size, ink, end, t)
		t, size = p.fit(sub.Main, 15*s, 8*s, false, published-8)
		p.text(right-corrected, base, size, ink, end, t)
		c.name(p, f, base, names-edge-6)
		p.y = base + 6*s
		if main.Sub != "" || sub.Sub != "" {
			p.y += 9 * s
			t, size = p.fit(main.Sub, 10*s, 6*s, false, corrected-4)
			p.text(right, p.y-4*s, size, ink, end, t)
			t, size = p.fit(sub.Sub, 10*s, 6*s, false, published-8)
			p.text(right-corrected, p.y-4*s, size, ink, end, t)
		}
	}
	p.rule(edge, p.y, right, p.y, 1.6, ink)
}

// name is what an altitude is, and behind or below it what else is to be known.
func (c card) name(p *pen, f drawing.Fix, base, room float64) {
	s, notes := c.digits, f.Notes()
	size := 9 * s
	below := size >= leastNote
	width := room
	switch {
	case notes == "":
	case below:
		t, small := p.fit(notes, size, leastNote*0.8, false, room)
		p.text(edge, base+s, small, ink, begin, t)
		base -= 9.5 * s
	default:
		size = leastNote
		width -= p.width(notes, size, false) + 6
	}
	t, big := p.fit(f.Title(), 14*s, 9*s, true, width)
	p.strong(edge, base, big, ink, begin, t)
	if notes != "" && !below {
		p.text(edge+p.width(t, big, true)+6, base, size, ink, begin, notes)
	}
}

// leastNote is the smallest writing beside an altitude.
const leastNote = 6.6

// say are the requests, as they are spoken.
func (c card) say(p *pen) {
	s, width := c.prose, p.w-2*edge
	if len(c.Requests) == 0 {
		return
	}
	p.y += 4 * s
	for i, q := range c.Requests {
		if i == 0 || c.Requests[i-1].When != q.When {
			p.y += 2 * s
			p.paragraph(edge, width, 8.5*s, 10.5*s, false, ink, q.When+":")
		}
		p.paragraph(edge+8, width-8, 11*s, 13*s, true, ink, "“"+q.Spoken+"”")
	}
	p.y += 6 * s
	p.rule(edge, p.y, p.w-edge, p.y, 0.6, ink)
}

// warn are the cautions.
func (c card) warn(p *pen) {
	s, width := c.prose, p.w-2*edge
	if len(c.Cautions) == 0 {
		return
	}
	p.y += 3 * s
	for _, t := range c.Cautions[:c.cautions] {
		p.disc(point{edge + 2, p.y + 7.5*s}, 1.4*s, ink)
		p.paragraph(edge+8, width-8, 9*s, 11*s, false, ink, t)
		p.y += 1.5 * s
	}
	if left := len(c.Cautions) - c.cautions; left > 0 {
		p.paragraph(edge, width, 9*s, 11*s, true, ink, fmt.Sprintf("%d cautions are in the answer: no room for them here.", left))
	}
	p.y += 4 * s
}

// close is who computed and checked, and what the figures are worth, at the
// foot of the page.
func (c card) close(p *pen) {
	s, width := c.prose, p.w-2*edge
	top := p.y
	lay := func(p *pen) {
		p.rule(edge, p.y, p.w-edge, p.y, 1.6, ink)
		p.y += 3
		c.signature(p, "Computed by", c.Computed)
		if len(c.Checked) == 0 {
			c.signature(p, "Checked by", "")
		}
		for _, by := range c.Checked {
			c.signature(p, "Checked by", by)
		}
		p.y += 3
		for _, l := range c.Foot() {
			p.paragraph(edge, width, math.Max(5.6, 7*s), math.Max(6.9, 8.6*s), false, ink, l)
		}
	}
	trial := &pen{canvas: nothing{}, faces: p.faces, w: p.w, y: top}
	lay(trial)
	const below = 14
	p.y = math.Max(top, c.h-below-(trial.y-top))
	lay(p)
	p.y += below - 1e-6
}

// signature is a name, or a line to write one on.
func (c card) signature(p *pen, what, who string) {
	p.y += 14
	p.text(edge, p.y, 9.5, ink, begin, what)
	from := edge + p.width("Computed by", 9.5, false) + 8
	if who == "" {
		p.rule(from, p.y+1, p.w-edge, p.y+1, 0.8, ink)
		return
	}
	s, size := p.fit(who, 11, 7.5, true, p.w-edge-from)
	p.strong(from, p.y, size, ink, begin, s)
}
