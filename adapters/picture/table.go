package picture

import (
	"strings"

	"firn/bot/drawing"
)

// heading writes what stands above a picture.
func (p *pen) heading(d drawing.Drawing) {
	top := d.Top()
	p.y = 14
	p.paragraph(margin, p.w-2*margin, 15, 20, true, soft, top.Kind)
	p.y += 4
	p.paragraph(margin, p.w-2*margin, 25, 29, true, ink, top.Title)
	p.y += 3
	p.paragraph(margin, p.w-2*margin, 17, 22, false, ink, top.Sub)
	p.y += 12
}

// foot writes what stands below it, and closes the page.
func (p *pen) foot(d drawing.Drawing) {
	p.y += 14
	p.rule(margin, p.y, p.w-margin, p.y, 1, faint)
	p.y += 4
	for _, l := range d.Foot() {
		p.paragraph(margin, p.w-2*margin, 14, 18.5, false, soft, l)
		p.y += 3
	}
	p.y += 16
}

// legend explains lines and marks, one a row.
type legend struct {
	words string
	line  line
	mark  mark // may be nil
}

func (p *pen) legends(list []legend) {
	for _, l := range list {
		p.y += 25
		y := p.y - 5.5
		p.stroke([]point{{margin, y}, {margin + 46, y}}, false, l.line)
		if l.mark != nil {
			l.mark(p, point{margin + 23, y}, 6)
		}
		s, size := p.fit(l.words, 17, 12, false, p.w-2*margin-56)
		p.text(margin+56, p.y, size, ink, begin, s)
	}
	p.y += 8
}

// column is one of a table; its figures stand at its right edge.
type column struct {
	title string
	mark  mark
	width float64
	bold  bool
	tone  tone
}

// row is one altitude of a table.
type row struct {
	number  int
	name    string
	sub     string
	figures []drawing.Amount
}

const (
	nameSize   = 17
	figureSize = 18
	subSize    = 13.5
)

// table writes rows under columns at the right; names have what is left.
func (p *pen) table(columns []column, rows []row) {
	right := p.w - margin
	names := right
	for _, c := range columns {
		names -= c.width
	}
	const indent = 32 // of the names, behind the numbers
	room := names - margin - indent - 6

	p.y += 22
	x := names
	for _, c := range columns {
		x += c.width
		p.text(x, p.y, 15, soft, end, c.title)
		if c.mark != nil {
			c.mark(p, point{x - p.width(c.title, 15, false) - 11, p.y - 5}, 5)
		}
	}
	p.y += 8
	for _, r := range rows {
		p.rule(margin, p.y, right, p.y, 1, faint)
		lines := p.wrap(r.name, nameSize, true, room)
		size := float64(nameSize)
		if len(lines) > 1 {
			size = 15
			lines = p.wrap(r.name, size, true, room)
		}
		if len(lines) > 3 {
			rest, _ := p.fit(strings.TrimSpace(strings.Join(lines[2:], " ")), size, size, true, room)
			lines = []string{lines[0], lines[1], rest}
		}
		under := false
		for _, f := range r.figures {
			under = under || f.Sub != ""
		}
		top := p.y
		y := top + 21
		p.bubble(point{margin + 12, top + 16}, 11.5, r.number)
		for i, l := range lines {
			p.strong(margin+indent, y+float64(i)*18, size, ink, begin, l)
		}
		bottom := y + float64(len(lines)-1)*18
		if r.sub != "" {
			bottom += 18
			s, small := p.fit(r.sub, subSize, 11, false, room)
			p.text(margin+indent, bottom, small, soft, begin, s)
		}
		x := names
		for i, f := range r.figures {
			c := columns[i]
			x += c.width
			s, size := p.fit(f.Main, figureSize, 12, c.bold, c.width-8)
			if c.bold {
				p.strong(x, y, size, c.tone, end, s)
			} else {
				p.text(x, y, size, c.tone, end, s)
			}
			if f.Sub != "" {
				s, size := p.fit(f.Sub, subSize, 10, false, c.width-6)
				p.text(x, y+18, size, soft, end, s)
			}
		}
		if under {
			bottom = max(bottom, y+18)
		}
		p.y = bottom + 11
	}
	p.rule(margin, p.y, right, p.y, 1, faint)
}

// subOf is what an altitude's row says below its name.
func subOf(f drawing.Fix) string {
	if f.Mark != "" {
		return f.Mark
	}
	if f.UpperPublished != 0 {
		return "between two altitudes"
	}
	if f.Meaning == "at-or-below" {
		return "at or below"
	}
	return ""
}
