package picture

import (
	"fmt"
	"strconv"
	"strings"
)

// drawn is the canvas of SVG pictures. It has no ids, no styles and nothing from
// outside, so that it can stand in a page under a strict content security
// policy, several times. The ink is the page's own (currentColor), on no
// ground.
type drawn struct {
	b     strings.Builder
	f     *faces
	paper bool
}

// fontStack are fonts of the same widths, then any without serifs.
const fontStack = "Liberation Sans, Arimo, Arial, Helvetica, sans-serif"

var escape = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;")

func newDrawn(f *faces, w, h float64, alt string, paper bool) *drawn {
	d := &drawn{f: f, paper: paper}
	fmt.Fprintf(&d.b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" width="%[1]s" height="%[2]s" role="img" aria-label="%[3]s" font-family="%[4]s" stroke-linejoin="round">`+"\n",
		short(w), short(h), escape.Replace(alt), fontStack)
	if paper {
		d.fill(box(0, 0, w, h), white)
	}
	return d
}

// short writes a figure to a tenth of a point at most.
func short(v float64) string {
	s := strconv.FormatFloat(v, 'f', 1, 64)
	s = strings.TrimSuffix(s, ".0")
	if s == "-0" {
		return "0"
	}
	return s
}

// paint is a tone as an attribute and its opacity.
func (d *drawn) paint(what string, t tone) string {
	c := t.colour(d.paper)
	colour := fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B)
	if t.isInk() && !d.paper {
		colour = "currentColor"
	}
	out := fmt.Sprintf(` %s="%s"`, what, colour)
	if c.A != 0xff {
		out += fmt.Sprintf(` %s-opacity="%s"`, what, strconv.FormatFloat(float64(c.A)/0xff, 'f', 2, 64))
	}
	return out
}

func (d *drawn) path(way []point, closed bool) {
	d.b.WriteString(`<path d="`)
	for i, p := range way {
		if i == 0 {
			d.b.WriteByte('M')
		} else {
			d.b.WriteByte('L')
		}
		d.b.WriteString(short(p.x) + " " + short(p.y))
	}
	if closed {
		d.b.WriteByte('Z')
	}
	d.b.WriteByte('"')
}

func (d *drawn) fill(shape []point, t tone) {
	d.path(shape, true)
	d.b.WriteString(d.paint("fill", t) + "/>\n")
}

func (d *drawn) stroke(way []point, closed bool, l line) {
	d.path(way, closed)
	d.b.WriteString(` fill="none"` + d.paint("stroke", l.tone) + ` stroke-width="` + short(l.width) + `"`)
	if len(l.dash) > 0 {
		parts := make([]string, len(l.dash))
		for i, v := range l.dash {
			parts[i] = short(v)
		}
		d.b.WriteString(` stroke-dasharray="` + strings.Join(parts, " ") + `"`)
	}
	d.b.WriteString("/>\n")
}

func (d *drawn) disc(at point, r float64, t tone) {
	fmt.Fprintf(&d.b, `<circle cx="%s" cy="%s" r="%s"%s/>`+"\n", short(at.x), short(at.y), short(r), d.paint("fill", t))
}

func (d *drawn) write(t text) {
	fmt.Fprintf(&d.b, `<text x="%s" y="%s" font-size="%s"`, short(t.at.x), short(t.at.y), short(t.size))
	if t.bold {
		d.b.WriteString(` font-weight="700"`)
	}
	switch t.from {
	case middle:
		d.b.WriteString(` text-anchor="middle"`)
	case end:
		d.b.WriteString(` text-anchor="end"`)
	}
	if t.angle != 0 {
		fmt.Fprintf(&d.b, ` transform="rotate(%s %s %s)"`, short(t.angle), short(t.at.x), short(t.at.y))
	}
	d.b.WriteString(d.paint("fill", t.tone) + ">" + escape.Replace(t.s) + "</text>\n")
}

func (d *drawn) bytes() []byte { return []byte(d.b.String() + "</svg>\n") }
