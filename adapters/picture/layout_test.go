package picture

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// recorder is a canvas that keeps what was written and where.
type recorder struct {
	f     *faces
	w, h  float64
	texts []text
	stray []string // what is not on the page
	tones map[tone]bool
}

func (r *recorder) paint(t tone) {
	if r.tones == nil {
		r.tones = map[tone]bool{}
	}
	r.tones[t] = true
}

func (r *recorder) look(points []point) {
	for _, p := range points {
		if !(p.x >= -1 && p.x <= r.w+1 && p.y >= -1 && p.y <= r.h+1) {
			r.stray = append(r.stray, fmt.Sprintf("%v", p))
			return
		}
	}
}

func (r *recorder) fill(s []point, t tone)           { r.paint(t); r.look(s) }
func (r *recorder) stroke(s []point, _ bool, l line) { r.paint(l.tone); r.look(s) }
func (r *recorder) disc(at point, _ float64, t tone) { r.paint(t); r.look([]point{at}) }
func (r *recorder) write(t text) {
	r.paint(t.tone)
	r.texts = append(r.texts, t)
	if b := r.box(t); t.angle == 0 {
		r.look([]point{{b.x, b.y}, {b.x + b.w, b.y + b.h}})
	}
}

// box is where a text's letters are.
func (r *recorder) box(t text) rect {
	w := r.f.width(t.s, t.size, t.bold)
	x := t.at.x
	switch t.from {
	case middle:
		x -= w / 2
	case end:
		x -= w
	}
	return rect{x, t.at.y - 0.72*t.size, w, 0.74 * t.size}
}

// record draws on a recorder and says what is wrong with the layout.
func record(a *Artist, d drawing.Drawing) (*recorder, error) {
	s, err := a.plan(d)
	if err != nil {
		return nil, err
	}
	r := &recorder{f: a.faces, w: s.w, h: s.h}
	s.draw(a.pen(r, s.w))
	if len(r.stray) > 0 {
		return r, fmt.Errorf("not on the page of %.0f × %.0f: %s", s.w, s.h, strings.Join(r.stray, ", "))
	}
	for i, t := range r.texts {
		for _, o := range r.texts[:i] {
			if t.angle == 0 && o.angle == 0 && r.box(t).over(r.box(o)) {
				return r, fmt.Errorf("%q is written over %q", t.s, o.s)
			}
		}
	}
	return r, nil
}

func (r *recorder) all() string {
	words := make([]string, len(r.texts))
	for i, t := range r.texts {
		words[i] = t.s
	}
	return strings.Join(words, "\n")
}

// figures are the published and corrected altitudes as they are written.
func figures(fixes []drawing.Fix) (out []string) {
	for _, f := range fixes {
		for _, a := range []drawing.Amount{f.PublishedText(), f.CorrectedText()} {
			out = append(out, a.Main)
			if a.Sub != "" {
				out = append(out, a.Sub)
			}
		}
	}
	return out
}

// cells are the figures of a card's table.
func cells(c drawing.Kneeboard) (out []string) {
	for _, r := range c.Table.Rows {
		out = append(out, r.Fly, r.Chart)
	}
	return out
}

func TestNothingOverlaps(t *testing.T) {
	a := artist(t)
	for _, e := range examples(t) {
		r, err := record(a, e.d)
		if err != nil {
			t.Errorf("%s: %v", e.name, err)
			continue
		}
		if !strings.Contains(strings.ReplaceAll(r.all(), "\n", " "), "A planning aid:") {
			t.Errorf("%s does not say that it is a planning aid", e.name)
		}
		small := 10.0
		if e.d.Name() == "card" {
			small = 9 // points on paper, as the card is printed in its own size
		}
		for _, x := range r.texts {
			if x.size < small {
				t.Errorf("%s: %q at %.1f points", e.name, x.s, x.size)
			}
		}
	}
}

// drawReply makes a reply as odd as may be.
func drawReply(t *rapid.T) reply.Reply {
	word := rapid.OneOf(rapid.StringN(0, 12, 40), rapid.SampledFrom([]string{"", "", "FAF", "IAF", "DA", "step", "missed", "LNAV/VNAV 12 of a long name", "🛩", "<b>", "\x00\u202e"}))
	figure := rapid.OneOf(rapid.Float64Range(-1200, 20000), rapid.SampledFrom([]float64{0, 90000, -90000}))
	added := rapid.Float64Range(-500, 4000)
	if rapid.IntRange(1, 20).Draw(t, "no figures") == 13 {
		figure = rapid.SampledFrom([]float64{0, 1e9, math.NaN(), math.Inf(-1)})
	}
	r := reply.Reply{
		Kind:              reply.KindCorrection,
		Station:           reply.Station{Ident: word.Draw(t, "ident"), Name: word.Draw(t, "name"), ElevationFt: rapid.Float64Range(-1000, 14000).Draw(t, "elevation")},
		TemperatureC:      reply.Some(rapid.Float64Range(-80, 40).Draw(t, "temperature")),
		TemperatureSource: word.Draw(t, "source"),
		Method:            rapid.SampledFrom([]string{"table", "table-next", "equation", "accurate", "column", "guess"}).Draw(t, "method"),
		Required:          reply.OptBool(rapid.IntRange(0, 2).Draw(t, "required")),
		Source:            word.Draw(t, "rules"),
	}
	for range rapid.SampledFrom([]int{1, 2, 3, 5, 8, 12, 14, 40}).Draw(t, "rows") {
		row := reply.Row{
			Label: word.Draw(t, "label"), Fix: word.Draw(t, "fix"), PublishedFt: figure.Draw(t, "published"), CorrectionFt: added.Draw(t, "correction"),
			Segment: rapid.SampledFrom([]string{"", "initial", "intermediate", "final", "missed", "sector", "other"}).Draw(t, "segment"),
			Meaning: rapid.SampledFrom([]string{"", "at-or-below", "between"}).Draw(t, "meaning"), Report: rapid.Bool().Draw(t, "report"),
		}
		row.HeightFt, row.CorrectedFt = row.PublishedFt-r.Station.ElevationFt, row.PublishedFt+row.CorrectionFt
		if rapid.Bool().Draw(t, "metres") {
			row.PublishedM, row.CorrectedM = row.PublishedFt*0.3048, row.CorrectedFt*0.3048
		}
		if row.Meaning == "between" {
			row.UpperPublishedFt, row.UpperCorrectedFt = row.PublishedFt+1000, row.CorrectedFt+1000
		}
		r.Altitudes = append(r.Altitudes, row)
	}
	for range rapid.IntRange(0, 6).Draw(t, "requests") {
		r.Requests = append(r.Requests, reply.Request{When: word.Draw(t, "when"), Spoken: word.Draw(t, "spoken")})
		r.Cautions = append(r.Cautions, reply.Caution{Text: word.Draw(t, "caution")})
	}
	return r
}

// Every altitude of a reply is on the picture and in its words, nothing is
// written over something else, and no reply is too odd.
func TestOddReplies(t *testing.T) {
	a := artist(t)
	rapid.Check(t, func(t *rapid.T) {
		r := drawReply(t)
		name := rapid.String().Draw(t, "procedure")
		check := func(d drawing.Drawing, ok bool, rows int, figures []string) {
			if !ok {
				return
			}
			if rows != len(r.Altitudes) {
				t.Fatalf("%s: %d altitudes of %d", d.Name(), rows, len(r.Altitudes))
			}
			on, err := record(a, d)
			if errors.Is(err, ErrTooMuch) && rows > 20 {
				return // no approach; a page has an end
			}
			if err != nil {
				t.Fatalf("%s: %v", d.Name(), err)
			}
			for _, f := range figures {
				if !strings.Contains(on.all(), f) || !strings.Contains(d.Alt(), f) {
					t.Fatalf("%s: no %q in\n%s\nor\n%s", d.Name(), f, on.all(), d.Alt())
				}
			}
			if _, err := a.SVG(context.Background(), d); err != nil {
				t.Fatal(err)
			}
		}
		p, ok := drawing.ProfileOf(r, name)
		check(p, ok, len(p.Fixes), figures(p.Fixes))
		c, ok := drawing.CurveOf(r)
		check(c, ok, len(c.Fixes), figures(c.Fixes))
		s := standing(drawing.Paper(rapid.IntRange(0, 1).Draw(t, "paper")))
		s.Record, s.Void = name, rapid.String().Draw(t, "void")
		card, ok := drawing.KneeboardOf(r, s)
		check(card, ok, len(card.Table.Rows), cells(card))
	})
}

// Forecasts and seasons as odd as may be.
func TestOddWeather(t *testing.T) {
	a := artist(t)
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.Float64Range(-70, 30)
		samples := func(what string, n int) (out []coldwatch.Sample) {
			at := morning.Add(time.Duration(rapid.IntRange(-600, 300).Draw(t, what)) * time.Minute)
			for range rapid.IntRange(0, n).Draw(t, what) {
				out = append(out, coldwatch.Sample{At: at, C: engine.Celsius(c.Draw(t, what))})
				at = at.Add(time.Duration(rapid.IntRange(-30, 400).Draw(t, what)) * time.Minute)
			}
			return out
		}
		f := &coldwatch.Forecast{Source: rapid.String().Draw(t, "source"), Hourly: samples("hourly", 30), Minimums: samples("minimums", 4), Maximums: samples("maximums", 4), ValidFrom: morning, ValidTo: morning.Add(20 * time.Hour)}
		w := coldwatch.Window{From: morning, To: morning.Add(time.Duration(rapid.IntRange(1, 90).Draw(t, "hours")) * time.Hour)}
		l := coldwatch.Line{Restriction: engine.Celsius(c.Draw(t, "line")), Margin: 2}
		if rapid.Bool().Draw(t, "no line") {
			l.Restriction = coldwatch.NoRestriction
		}
		if d, ok := drawing.DayOf(base(), f, w, l, morning); ok {
			if _, err := record(a, d); err != nil {
				t.Fatal(err)
			}
		}
		var lows []drawing.Low
		for range rapid.IntRange(0, 60).Draw(t, "lows") {
			lows = append(lows, drawing.Low{Day: morning.AddDate(0, 0, rapid.IntRange(0, 380).Draw(t, "day")), C: engine.Celsius(c.Draw(t, "low"))})
		}
		if s, ok := drawing.SeasonOf(base(), lows, l.Restriction, "made up"); ok {
			if _, err := record(a, s); err != nil {
				t.Fatal(err)
			}
		}
	})
}

func TestSameBytes(t *testing.T) {
	one, two := artist(t), artist(t)
	var wg sync.WaitGroup
	kinds := map[string]int{}
	for _, e := range examples(t) {
		if kinds[e.d.Name()]++; kinds[e.d.Name()] > 1 {
			continue
		}
		wg.Go(func() {
			type form struct {
				name string
				make func(*Artist) ([]byte, error)
			}
			forms := []form{
				{"png", func(a *Artist) ([]byte, error) { p, err := a.Draw(t.Context(), e.d); return p.PNG, err }},
				{"svg", func(a *Artist) ([]byte, error) { return a.SVG(t.Context(), e.d) }},
			}
			if c, ok := e.d.(drawing.Kneeboard); ok {
				forms = append(forms, form{"pdf", func(a *Artist) ([]byte, error) { return a.PDF(t.Context(), c) }})
			}
			for _, f := range forms {
				x, err := f.make(one)
				y, err2 := f.make(two)
				if err != nil || err2 != nil || len(x) == 0 || !slices.Equal(x, y) {
					t.Errorf("%s as %s: %d and %d bytes, %v, %v", e.name, f.name, len(x), len(y), err, err2)
				}
			}
		})
	}
	wg.Wait()
}

// TestSVG holds the SVG to what a page under a strict policy can show: known
// elements and attributes, and typed text as text.
func TestSVG(t *testing.T) {
	a := artist(t)
	nasty := `"><script>alert(1)</script><a href='javascript:1' onload="x">&amp;]]>`
	r := answer(t, "faa-all-segments", -38, false, approach()...)
	r.Station.Ident, r.Station.Name, r.TemperatureSource, r.Source = nasty, nasty+"\x00\x1b\ufffe", nasty, nasty
	for i := range r.Altitudes {
		r.Altitudes[i].Label, r.Altitudes[i].Fix = nasty, nasty
	}
	p, _ := drawing.ProfileOf(r, nasty)
	c, _ := drawing.CurveOf(r)
	s := standing(drawing.A5)
	s.Record, s.State, s.Computed.By, s.Void = nasty, nasty, nasty, nasty
	card, _ := drawing.KneeboardOf(r, s)
	f := hourly()
	f.Source = nasty
	d, _ := drawing.DayOf(drawing.Base{Ident: nasty, Name: nasty}, f, window(), coldwatch.Line{Restriction: -25}, morning)
	se, _ := drawing.SeasonOf(drawing.Base{Ident: nasty}, winter(20), -15, nasty)
	all := append(examples(t), example{"nasty", p}, example{"nasty", c}, example{"nasty", card}, example{"nasty", d}, example{"nasty", se})
	elements := []string{"svg", "path", "circle", "text"}
	attributes := []string{"xmlns", "viewBox", "width", "height", "role", "aria-label", "font-family", "stroke-linejoin", "d", "fill", "fill-opacity", "stroke",
		"stroke-opacity", "stroke-width", "stroke-dasharray", "cx", "cy", "r", "x", "y", "font-size", "font-weight", "text-anchor", "transform"}
	for _, e := range all {
		data, err := a.SVG(t.Context(), e.d)
		if err != nil {
			t.Fatal(err)
		}
		dec := xml.NewDecoder(strings.NewReader(string(data)))
		for {
			token, err := dec.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			if err != nil {
				t.Fatalf("%s %s: %v", e.name, e.d.Name(), err)
			}
			start, ok := token.(xml.StartElement)
			if !ok {
				continue
			}
			if !slices.Contains(elements, start.Name.Local) {
				t.Errorf("%s: element %s", e.name, start.Name.Local)
			}
			for _, at := range start.Attr {
				if !slices.Contains(attributes, at.Name.Local) {
					t.Errorf("%s: attribute %s", e.name, at.Name.Local)
				}
				if at.Name.Local == "aria-label" && at.Value != e.d.Alt() {
					t.Errorf("%s: label %q, want %q", e.name, at.Value, e.d.Alt())
				}
			}
		}
	}
}

func TestMinus(t *testing.T) {
	f := artist(t).faces
	for _, fc := range []*face{&f.plain, &f.bold} {
		one := fc.Face
		one.Font.Size = 1
		if got, want := fc.of(minus), float64(one.Width(string(minus))); math.Abs(got-want) > 1e-9 {
			t.Errorf("got %v, want %v", got, want)
		}
	}
}

func TestRefused(t *testing.T) {
	a := artist(t)
	gone, cancel := context.WithCancel(t.Context())
	cancel()
	p := examples(t)[0].d
	if _, err := a.Draw(gone, p); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
	for _, d := range []drawing.Drawing{nil, drawing.Profile{}, drawing.Curve{}, drawing.Day{}, drawing.Season{}, drawing.Kneeboard{}} {
		if _, err := a.Draw(t.Context(), d); !errors.Is(err, ErrNotDrawn) {
			t.Errorf("%T: got %v", d, err)
		}
		if _, err := a.SVG(t.Context(), d); !errors.Is(err, ErrNotDrawn) {
			t.Errorf("%T: got %v", d, err)
		}
	}
	// A page has an end; altitudes and the call are never left out.
	c := examples(t)[2].d.(drawing.Kneeboard)
	for range 60 {
		c.Cautions = append(c.Cautions, strings.Repeat("A caution that is long. ", 6))
	}
	if r, err := record(a, c); err != nil || strings.Contains(r.all(), "A caution that is long.") || !strings.Contains(r.all(), fmt.Sprintf("%d cautions are in the answer", len(c.Cautions))) {
		t.Errorf("too many cautions: %v", err)
	}
	for len(c.Table.Rows) <= 80 {
		c.Table.Rows = append(c.Table.Rows, c.Table.Rows...)
	}
	if _, err := a.PDF(t.Context(), c); !errors.Is(err, ErrTooMuch) {
		t.Errorf("too many altitudes: got %v", err)
	}
}

func BenchmarkDraw(b *testing.B) {
	a := artist(b)
	for _, e := range examples(b) {
		c, isCard := e.d.(drawing.Kneeboard)
		b.Run(e.name+"/png", func(b *testing.B) {
			for b.Loop() {
				if _, err := a.Draw(b.Context(), e.d); err != nil {
					b.Fatal(err)
				}
			}
		})
		b.Run(e.name+"/svg", func(b *testing.B) {
			for b.Loop() {
				if _, err := a.SVG(b.Context(), e.d); err != nil {
					b.Fatal(err)
				}
			}
		})
		if !isCard {
			continue
		}
		b.Run(e.name+"/pdf", func(b *testing.B) {
			for b.Loop() {
				if _, err := a.PDF(b.Context(), c); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
