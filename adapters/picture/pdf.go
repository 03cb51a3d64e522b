package picture

import (
	"bytes"
	"time"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"codeberg.org/go-pdf/fpdf"
)

// printed is the canvas of PDF pages.
type printed struct {
	doc *fpdf.Fpdf
	f   *faces
}

const family = "liberation"

func newPrinted(f *faces, w, h float64, title, subject string) *printed {
	doc := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: w, Ht: h}})
	doc.SetMargins(0, 0, 0)
	doc.SetAutoPageBreak(false, 0)
	// The same card gives the same bytes: no clock, and nothing in the order
	// that a map happens to have.
	doc.SetCatalogSort(true)
	doc.SetCreationDate(time.Unix(0, 0).UTC())
	doc.SetModificationDate(time.Unix(0, 0).UTC())
	doc.SetProducer("firn", true)
	doc.SetTitle(title, true)
	doc.SetSubject(subject, true)
	doc.SetLang("en")
	doc.AddUTF8FontFromBytes(family, "", liberationsansregular.TTF)
	doc.AddUTF8FontFromBytes(family, "B", liberationsansbold.TTF)
	doc.AddPage()
	doc.SetLineJoinStyle("round")
	return &printed{doc: doc, f: f}
}

func (p *printed) colours(t tone) {
	c := t.colour(true)
	p.doc.SetFillColor(int(c.R), int(c.G), int(c.B))
	p.doc.SetDrawColor(int(c.R), int(c.G), int(c.B))
	p.doc.SetTextColor(int(c.R), int(c.G), int(c.B))
	p.doc.SetAlpha(float64(c.A)/0xff, "Normal")
}

func (p *printed) path(way []point, closed bool, style string) {
	for i, at := range way {
		if i == 0 {
			p.doc.MoveTo(at.x, at.y)
		} else {
			p.doc.LineTo(at.x, at.y)
		}
	}
	if closed {
		p.doc.ClosePath()
	}
	p.doc.DrawPath(style)
}

func (p *printed) fill(shape []point, t tone) {
	p.colours(t)
	p.path(shape, true, "F")
}

func (p *printed) stroke(way []point, closed bool, l line) {
	p.colours(l.tone)
	p.doc.SetLineWidth(l.width)
	p.doc.SetDashPattern(l.dash, 0)
	p.path(way, closed, "D")
}

func (p *printed) disc(at point, r float64, t tone) {
	p.colours(t)
	p.doc.Circle(at.x, at.y, r, "F")
}

func (p *printed) write(t text) {
	s := p.f.writable(t)
	style := ""
	if t.bold {
		style = "B"
	}
	p.colours(t.tone)
	p.doc.SetFont(family, style, t.size)
	x := t.at.x
	switch t.from {
	case middle:
		x -= p.doc.GetStringWidth(s) / 2
	case end:
		x -= p.doc.GetStringWidth(s)
	}
	if t.angle == 0 {
		p.doc.Text(x, t.at.y, s)
		return
	}
	p.doc.TransformBegin()
	p.doc.TransformRotate(-t.angle, t.at.x, t.at.y)
	p.doc.Text(x, t.at.y, s)
	p.doc.TransformEnd()
}

func (p *printed) bytes() ([]byte, error) {
	var b bytes.Buffer
	if err := p.doc.Output(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
