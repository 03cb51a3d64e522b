package picture

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// point is a place; a pen's unit is a point, and y grows downwards from the top edge.
type point struct{ x, y float64 }

// tone is a colour by what it is for.
type tone uint8

// The tones. Asked and really are of a lightness that reads on white and on
// near-black; everything else is the ink of the page, more or less of it.
const (
	ink tone = iota
	soft
	faint
	wash
	asked      // what to fly
	askedWash  //
	really     // where the aeroplane is
	reallyWash //
	white      // on a card, and on a filled mark
	ghost      // NOT VALID across a card
)

var tones = [...]color.NRGBA{
	ink:        {0x12, 0x1a, 0x24, 0xff},
	soft:       {0x12, 0x1a, 0x24, 0xb4},
	faint:      {0x12, 0x1a, 0x24, 0x40},
	wash:       {0x12, 0x1a, 0x24, 0x12},
	asked:      {0x22, 0x74, 0xcc, 0xff},
	askedWash:  {0x22, 0x74, 0xcc, 0x2e},
	really:     {0xc6, 0x4d, 0x17, 0xff},
	reallyWash: {0xc6, 0x4d, 0x17, 0x2a},
	white:      {0xff, 0xff, 0xff, 0xff},
	ghost:      {0x12, 0x1a, 0x24, 0x55},
}

// anchor says which end of a text stands at its point.
type anchor uint8

const (
	begin anchor = iota
	middle
	end
)

// colour is a tone's; on paper the ink is black.
func (t tone) colour(paper bool) color.NRGBA {
	c := tones[t]
	if paper && t.isInk() {
		c.R, c.G, c.B = 0, 0, 0
	}
	return c
}

func (t tone) isInk() bool { return t <= wash || t == ghost }

// text is a piece of writing; the point is on its baseline.
type text struct {
	s     string
	at    point
	size  float64
	bold  bool
	from  anchor
	tone  tone
	angle float64 // degrees, clockwise, about the point
}

// line is how something is stroked.
type line struct {
	width float64
	dash  []float64
	tone  tone
}

// canvas is what a pen writes to.
type canvas interface {
	fill(shape []point, t tone)
	stroke(way []point, closed bool, l line)
	disc(at point, r float64, t tone)
	write(t text)
}

// face is a font and its advances, measured once.
type face struct {
	font.Face
	advance [0x2100]float64 // of a letter of size 1; what is beyond has none
}

// faces are the fonts. Liberation Sans has the widths of Arial and Helvetica, so
// that an SVG in one of these keeps its layout.
type faces struct{ plain, bold face }

func newFaces() (*faces, error) {
	f := new(faces)
	for _, load := range []struct {
		to     *face
		ttf    []byte
		weight xfont.Weight
	}{{&f.plain, liberationsansregular.TTF, xfont.WeightNormal}, {&f.bold, liberationsansbold.TTF, xfont.WeightBold}} {
		parsed, err := opentype.Parse(load.ttf)
		if err != nil {
			return nil, fmt.Errorf("picture: font: %w", err)
		}
		load.to.Face = font.Face{Font: font.Font{Typeface: "Liberation", Variant: "Sans", Weight: load.weight}, Face: parsed}
		if err := load.to.measure(); err != nil {
			return nil, fmt.Errorf("picture: font: %w", err)
		}
	}
	return f, nil
}

func (f *face) measure() error {
	var buf sfnt.Buffer
	for r := range f.advance {
		g, err := f.Face.Face.GlyphIndex(&buf, rune(r))
		if err != nil {
			return err
		}
		if g == 0 {
			continue
		}
		one := f.Face
		one.Font.Size = 1
		f.advance[r] = float64(one.Width(string(rune(r))))
	}
	for r := range ' ' {
		f.advance[r] = 0
	}
	return nil
}

// has says whether the font can write a letter.
func (f *face) has(r rune) bool {
	switch r {
	case minus, ellipsis:
		return true
	}
	return int(r) < len(f.advance) && f.advance[r] > 0
}

const (
	minus    = '−' // U+2212, beyond the measured letters
	ellipsis = '…'
	unknown  = '?' // for what the font cannot write
)

func (f *face) of(r rune) float64 {
	if r == minus {
		return f.advance['+'] // as wide in this font, see TestMinus
	}
	if !f.has(r) {
		r = unknown
	}
	return f.advance[r]
}

func (f *faces) face(bold bool) *face {
	if bold {
		return &f.bold
	}
	return &f.plain
}

// writable replaces what the font cannot write.
func (f *faces) writable(t text) string {
	fc := f.face(t.bold)
	return strings.Map(func(r rune) rune {
		if fc.has(r) {
			return r
		}
		return unknown
	}, t.s)
}

func (f *faces) width(s string, size float64, bold bool) float64 {
	fc, w := f.face(bold), 0.0
	for _, r := range s {
		w += fc.of(r)
	}
	return w * size
}

// pen lays a picture out.
type pen struct {
	canvas
	*faces
	w float64 // the page
	y float64 // where the next thing begins
}

func (p *pen) text(x, y, size float64, t tone, from anchor, s string) {
	if s != "" {
		p.write(text{s: s, at: point{x, y}, size: size, from: from, tone: t})
	}
}

func (p *pen) strong(x, y, size float64, t tone, from anchor, s string) {
	if s != "" {
		p.write(text{s: s, at: point{x, y}, size: size, bold: true, from: from, tone: t})
	}
}

// wrap breaks a text into lines of a width; a word that is longer is broken.
func (p *pen) wrap(s string, size float64, bold bool, width float64) []string {
	var lines []string
	var line string
	for _, word := range strings.Fields(s) {
		for {
			candidate := word
			if line != "" {
				candidate = line + " " + word
			}
			if p.width(candidate, size, bold) <= width {
				line = candidate
				break
			}
			if line != "" {
				lines, line = append(lines, line), ""
				continue
			}
			head := p.head(word, size, bold, width)
			lines, word = append(lines, head), word[len(head):]
		}
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// head is as much of a word as fits, one letter at least.
func (p *pen) head(word string, size float64, bold bool, width float64) string {
	cut := 0
	for i, r := range word {
		next := i + len(string(r))
		if cut > 0 && p.width(word[:next], size, bold) > width {
			break
		}
		cut = next
	}
	return word[:cut]
}

// fit makes a text fit into a width: smaller down to a least size, then cut.
func (p *pen) fit(s string, size, least float64, bold bool, width float64) (string, float64) {
	if w := p.width(s, 1, bold); w > 0 {
		size = math.Min(size, math.Max(least, width/w))
	}
	if p.width(s, size, bold) <= width+1e-9 {
		return s, size
	}
	room := width - p.width(string(ellipsis), size, bold)
	return strings.TrimSpace(p.head(s, size, bold, room)) + string(ellipsis), size
}

// paragraph writes a text from p.y on and moves p.y below it.
func (p *pen) paragraph(x, width, size, leading float64, bold bool, t tone, s string) {
	for _, l := range p.wrap(s, size, bold, width) {
		p.y += leading
		p.write(text{s: l, at: point{x, p.y}, size: size, bold: bold, tone: t})
	}
}

func (p *pen) rule(x0, y0, x1, y1, width float64, t tone, dash ...float64) {
	p.stroke([]point{{x0, y0}, {x1, y1}}, false, line{width, dash, t})
}

func box(x, y, w, h float64) []point {
	return []point{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}}
}

// mark draws one of the marks: an upright bar is what to fly, a cross of two strokes what is
// published, a chevron where the aeroplane really is. None has the shape of a
// lamp, of a caution or of a record's state (adapters/page): a shape means one
// thing.
type mark func(p *pen, at point, r float64)

func bar(p *pen, at point, r float64) { p.fill(box(at.x-r*0.45, at.y-r*1.3, 0.9*r, 2.6*r), asked) }

func plus(p *pen, at point, r float64) {
	p.rule(at.x-r, at.y, at.x+r, at.y, 2.2, ink)
	p.rule(at.x, at.y-r, at.x, at.y+r, 2.2, ink)
}

func chevron(p *pen, at point, r float64) {
	p.stroke([]point{{at.x - r, at.y - r*0.8}, {at.x, at.y + r*0.8}, {at.x + r, at.y - r*0.8}}, false, line{width: 2.2, tone: really})
}

func circle(at point, r float64) []point {
	const corners = 28
	out := make([]point, corners)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		out[i] = point{at.x + r*cos, at.y + r*sin}
	}
	return out
}

// bubble is the number of an altitude.
func (p *pen) bubble(at point, r float64, n int) {
	p.stroke(circle(at, r), true, line{width: 1.3, tone: ink})
	p.strong(at.x, at.y+r*0.42, r*1.2, ink, middle, fmt.Sprint(n))
}

// ticks are round values from low to high, about n of them.
func ticks(low, high float64, n int) []float64 {
	step := tickStep((high - low) / float64(n))
	var out []float64
	for v := math.Ceil(low/step) * step; v <= high+1e-9; v += step {
		out = append(out, v)
	}
	return out
}

// tickStep is the next round step up from a raw one.
func tickStep(raw float64) float64 {
	if !(raw > 0) {
		return 1
	}
	ten := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 5} {
		if raw <= m*ten {
			return m * ten
		}
	}
	return 10 * ten
}

// number writes a figure of an axis.
func number(v float64) string {
	return strings.Replace(fmt.Sprintf("%.0f", v+0), "-", string(minus), 1)
}

func length(v float64) vg.Length { return vg.Length(v) }
