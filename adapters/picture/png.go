package picture

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgimg"
)

// raster is the canvas of PNG pictures, gonum/plot's.
type raster struct {
	c     *vgimg.Canvas
	f     *faces
	h     float64
	paper bool
}

func newRaster(f *faces, w, h float64, dpi int, paper bool) *raster {
	return &raster{paper: paper, c: vgimg.NewWith(vgimg.UseWH(length(w), length(h)), vgimg.UseDPI(dpi)), f: f, h: h}
}

func (r *raster) at(p point) vg.Point { return vg.Point{X: length(p.x), Y: length(r.h - p.y)} }

func (r *raster) path(way []point, closed bool) vg.Path {
	var out vg.Path
	for i, p := range way {
		if i == 0 {
			out.Move(r.at(p))
		} else {
			out.Line(r.at(p))
		}
	}
	if closed {
		out.Close()
	}
	return out
}

func (r *raster) fill(shape []point, t tone) {
	r.c.SetColor(t.colour(r.paper))
	r.c.Fill(r.path(shape, true))
}

func (r *raster) stroke(way []point, closed bool, l line) {
	r.c.SetColor(l.tone.colour(r.paper))
	r.c.SetLineWidth(length(l.width))
	dashes := make([]vg.Length, len(l.dash))
	for i, d := range l.dash {
		dashes[i] = length(d)
	}
	r.c.SetLineDash(dashes, 0)
	r.c.Stroke(r.path(way, closed))
}

func (r *raster) disc(at point, radius float64, t tone) {
	var path vg.Path
	path.Move(r.at(point{at.x + radius, at.y}))
	path.Arc(r.at(at), length(radius), 0, 2*math.Pi)
	path.Close()
	r.c.SetColor(t.colour(r.paper))
	r.c.Fill(path)
}

func (r *raster) write(t text) {
	fc := r.f.face(t.bold).Face
	fc.Font.Size = length(t.size)
	r.c.SetColor(t.tone.colour(r.paper))
	if t.angle != 0 {
		r.c.Push()
		defer r.c.Pop()
		r.c.Translate(r.at(t.at))
		r.c.Rotate(-t.angle * math.Pi / 180)
		r.words(fc, vg.Point{}, t)
		return
	}
	r.words(fc, r.at(t.at), t)
}

// words writes word by word: the canvas would draw spaces together, at small
// sizes until none is left.
func (r *raster) words(fc font.Face, at vg.Point, t text) {
	s := r.f.writable(t)
	switch t.from {
	case middle:
		at.X -= length(r.f.width(s, t.size, t.bold) / 2)
	case end:
		at.X -= length(r.f.width(s, t.size, t.bold))
	}
	for word := range strings.SplitAfterSeq(s, " ") {
		if bare := strings.TrimSuffix(word, " "); bare != "" {
			r.c.FillString(fc, at, bare)
		}
		at.X += length(r.f.width(word, t.size, t.bold))
	}
}

// A picture has few colours: a palette makes it small and quick to write.
const mostColours = 256

func (r *raster) bytes() ([]byte, error) {
	var img image.Image = r.c.Image()
	if rgba, ok := img.(*image.RGBA); ok {
		if p, ok := paletted(rgba); ok {
			img = p
		}
	}
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestSpeed}
	if err := encoder.Encode(&b, img); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// paletted is the same picture with a palette, where it has few colours. The
// tones on white stay what they are; of the rest, the edges, each part of a
// colour is moved to the nearest of sixteen, which nobody sees.
func paletted(src *image.RGBA) (*image.Paletted, bool) {
	const step = 0x11
	out := image.NewPaletted(src.Rect, nil)
	for t := range tones {
		out.Palette = append(out.Palette, onWhite(tones[t]))
	}
	kept := make([]color.RGBA, len(out.Palette))
	for i := range kept {
		kept[i] = out.Palette[i].(color.RGBA)
	}
	var index [1 << 12]int16 // by the sixteenths, one more than the place in the palette
	var before [3]uint8
	last := -1
	for i, j := 0, 0; i+3 < len(src.Pix); i, j = i+4, j+1 {
		pixel := [3]uint8(src.Pix[i : i+3])
		if last < 0 || pixel != before {
			before, last = pixel, -1
			for k, c := range kept {
				if near(pixel[0], c.R) && near(pixel[1], c.G) && near(pixel[2], c.B) {
					last = k
					break
				}
			}
			if last < 0 {
				r, g, b := (int(pixel[0])+step/2)/step, (int(pixel[1])+step/2)/step, (int(pixel[2])+step/2)/step
				key := r<<8 | g<<4 | b
				if index[key] == 0 {
					if len(out.Palette) == mostColours {
						return nil, false
					}
					out.Palette = append(out.Palette, color.RGBA{uint8(r * step), uint8(g * step), uint8(b * step), 0xff})
					index[key] = int16(len(out.Palette))
				}
				last = int(index[key] - 1)
			}
		}
		out.Pix[j] = uint8(last)
	}
	return out, true
}

// near allows for the rounding of what is drawn.
func near(a, b uint8) bool { return max(a, b)-min(a, b) <= 1 }

func onWhite(c color.NRGBA) color.RGBA {
	on := func(v uint8) uint8 { return uint8((int(v)*int(c.A) + 0xff*(0xff-int(c.A)) + 0x7f) / 0xff) }
	return color.RGBA{on(c.R), on(c.G), on(c.B), 0xff}
}
