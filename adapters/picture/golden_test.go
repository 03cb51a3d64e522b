package picture

import (
	"bytes"
	"flag"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"firn/adapters/testkit/installed"
	"firn/bot/drawing"
)

var update = flag.Bool("update", false, "write the golden pictures anew; look at each before you commit it")

func artist(t testing.TB) *Artist {
	t.Helper()
	a, err := New()
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// TestGoldenPictures compares the PNG of every example with the one that
// somebody has looked at.
func TestGoldenPictures(t *testing.T) {
	a := artist(t)
	for _, e := range examples(t) {
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			p, err := a.Draw(t.Context(), e.d)
			if err != nil {
				t.Fatal(err)
			}
			if want := e.d.Name() + ".png"; p.Name != want || p.Alt != e.d.Alt() {
				t.Errorf("got %s with %q, want %s with the drawing's words", p.Name, p.Alt, want)
			}
			compare(t, e.name, p.PNG)
		})
	}
}

// TestGoldenPages compares the PDF of every card, as a printer would raster
// it.
func TestGoldenPages(t *testing.T) {
	a := artist(t)
	for _, e := range examples(t) {
		c, ok := e.d.(drawing.Kneeboard)
		if !ok {
			continue
		}
		t.Run(e.name, func(t *testing.T) {
			t.Parallel()
			toPPM, toText := installed.PDFToPPM().Need(t), installed.PDFToText().Need(t)
			data, err := a.PDF(t.Context(), c)
			if err != nil {
				t.Fatal(err)
			}
			compare(t, "pdf_"+e.name, tool(t, data, toPPM, "-r", "110", "-png", "-singlefile", "-"))
			// A minus that is lost would turn a temperature round; what can be
			// read aloud by a screen reader is what is printed.
			words := strings.Join(strings.Fields(string(tool(t, data, toText, "-raw", "-", "-"))), " ")
			for _, want := range append([]string{c.Title, c.Kind}, cells(c)...) {
				if !strings.Contains(words, want) {
					t.Errorf("the page's text has no %q:\n%s", want, words)
				}
			}
			if got := bytes.Count(data, []byte("/Type /Page\n")); got != 1 {
				t.Errorf("got %d pages, want 1", got)
			}
		})
	}
}

func tool(t *testing.T, in []byte, name string, args ...string) []byte {
	t.Helper()
	cmd := exec.Command(name, args...)
	cmd.Stdin = bytes.NewReader(in)
	var out, complaint bytes.Buffer
	cmd.Stdout, cmd.Stderr = &out, &complaint
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s: %v %s", name, err, complaint.String())
	}
	return out.Bytes()
}

// compare holds a picture against the golden one. Rasters differ by a shade from
// one release of a library to the next; what has moved is over the tolerance.
func compare(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name+".png")
	picture, err := png.Decode(bytes.NewReader(got))
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		var b bytes.Buffer
		best := png.Encoder{CompressionLevel: png.BestCompression}
		if err := best.Encode(&b, grey(picture)); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v; run with -update and look at it", err)
	}
	want, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if err := alike(picture, want); err != nil {
		kept := filepath.Join(t.ArtifactDir(), name+".png")
		if werr := os.WriteFile(kept, got, 0o644); werr != nil {
			t.Error(werr)
		}
		t.Errorf("%s: %v; go test -artifacts keeps the new one", name, err)
	}
}

// shades are the greys of a picture, row by row.
func shades(src image.Image) []uint8 {
	g, ok := src.(*image.Gray)
	if !ok {
		g = image.NewGray(src.Bounds())
		draw.Draw(g, g.Rect, src, src.Bounds().Min, draw.Src)
	}
	return g.Pix
}

// grey keeps a golden small; nothing on a picture depends on colour.
func grey(src image.Image) image.Image {
	out := image.NewPaletted(src.Bounds(), nil)
	for v := range 16 {
		out.Palette = append(out.Palette, color.Gray{Y: uint8(v * 0x11)})
	}
	for i, v := range shades(src) {
		out.Pix[i] = uint8((int(v) + 8) / 0x11)
	}
	return out
}

// alike says what differs between two pictures beyond the tolerance: two points
// in a thousand that are clearly other.
func alike(a, b image.Image) error {
	if a.Bounds() != b.Bounds() {
		return fmt.Errorf("it is %v, want %v", a.Bounds().Size(), b.Bounds().Size())
	}
	const clearly, most = 0x60, 2
	other := 0
	one, two := shades(a), shades(b)
	for i, p := range one {
		if q := two[i]; max(p, q)-min(p, q) > clearly {
			other++
		}
	}
	all := len(one)
	if other*1000 > all*most {
		return fmt.Errorf("%d of %d points are other", other, all)
	}
	return nil
}

// TestAlike shows that the comparison can fail: one figure is other.
func TestAlike(t *testing.T) {
	a := artist(t)
	fixed := func(change float64) image.Image {
		r := answer(t, "faa-all-segments", -38, false, approach()...)
		r.Altitudes[0].CorrectedFt += change
		p, _ := drawing.ProfileOf(r, "RNAV (GPS) RWY 31")
		got, err := a.Draw(t.Context(), p)
		if err != nil {
			t.Fatal(err)
		}
		img, err := png.Decode(bytes.NewReader(got.PNG))
		if err != nil {
			t.Fatal(err)
		}
		return img
	}
	if err := alike(fixed(0), fixed(0)); err != nil {
		t.Errorf("the same: %v", err)
	}
	if err := alike(fixed(0), fixed(-300)); err == nil {
		t.Error("a fix 300 ft lower is not seen")
	}
}

// TestWords compares what the pictures say in words.
func TestWords(t *testing.T) {
	var b strings.Builder
	for _, e := range examples(t) {
		fmt.Fprintf(&b, "== %s\n%s\n", e.name, e.d.Alt())
		if n := len(e.d.Alt()); n > 1000 {
			t.Errorf("%s: %d bytes of words; chat services take 1000", e.name, n)
		}
		for _, l := range e.d.Foot() {
			fmt.Fprintf(&b, "  | %s\n", l)
		}
	}
	const path = "testdata/words.txt"
	if *update {
		if err := os.WriteFile(path, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if b.String() != string(want) {
		t.Errorf("got\n%s\nwant\n%s", b.String(), want)
	}
}
