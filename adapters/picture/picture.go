package picture

import (
	"context"
	"errors"
	"fmt"
	"runtime"

	"firn/bot/chat"
	"firn/bot/drawing"
)

// Artist draws. It is safe for concurrent use.
type Artist struct {
	faces *faces
	// turns bounds how many pictures are drawn at once: each is some megabytes
	// while it is.
	turns chan struct{}
}

// New makes an Artist; the fonts are read here, once.
func New() (*Artist, error) {
	f, err := newFaces()
	if err != nil {
		return nil, err
	}
	return &Artist{faces: f, turns: make(chan struct{}, max(1, runtime.GOMAXPROCS(0)))}, nil
}

// The size of the pictures. A phone shows a chat's picture about 360 points
// wide: 15 here is 10 there. At 144 dots an inch they are 1080 wide.
const (
	wide     = 540
	dots     = 144
	cardDots = 200 // A5 is then 1165 wide
	margin   = 24
)

// ErrNotDrawn is what is no drawing of package drawing.
var ErrNotDrawn = errors.New("picture: not a drawing that can be drawn")

// ErrTooMuch is a card that does not fit on its page.
var ErrTooMuch = errors.New("picture: too much for one page")

// Draw makes the PNG of a drawing, with the words for it.
func (a *Artist) Draw(ctx context.Context, d drawing.Drawing) (chat.Picture, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return chat.Picture{}, err
	}
	defer leave()
	s, err := a.plan(d)
	if err != nil {
		return chat.Picture{}, err
	}
	density := dots
	if s.paper {
		density = cardDots
	}
	r := newRaster(a.faces, s.w, s.h, density, s.paper)
	s.draw(a.pen(r, s.w))
	data, err := r.bytes()
	if err != nil {
		return chat.Picture{}, fmt.Errorf("picture: %s: %w", d.Name(), err)
	}
	return chat.Picture{Name: d.Name() + ".png", Alt: d.Alt(), PNG: data}, nil
}

// SVG makes the SVG of a drawing, to stand in a page: its words are its label,
// its ink is the page's colour.
func (a *Artist) SVG(ctx context.Context, d drawing.Drawing) ([]byte, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	s, err := a.plan(d)
	if err != nil {
		return nil, err
	}
	c := newDrawn(a.faces, s.w, s.h, d.Alt(), s.paper)
	s.draw(a.pen(c, s.w))
	return c.bytes(), nil
}

// PDF makes the page of a card, to print.
func (a *Artist) PDF(ctx context.Context, c drawing.Kneeboard) ([]byte, error) {
	leave, err := a.enter(ctx)
	if err != nil {
		return nil, err
	}
	defer leave()
	s, err := a.plan(c)
	if err != nil {
		return nil, err
	}
	p := newPrinted(a.faces, s.w, s.h, c.Kind+", "+c.Title, c.Alt())
	s.draw(a.pen(p, s.w))
	data, err := p.bytes()
	if err != nil {
		return nil, fmt.Errorf("picture: card: %w", err)
	}
	return data, nil
}

// enter waits for a turn.
func (a *Artist) enter(ctx context.Context) (leave func(), err error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	select {
	case a.turns <- struct{}{}:
		return func() { <-a.turns }, nil
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

func (a *Artist) pen(c canvas, w float64) *pen { return &pen{canvas: c, faces: a.faces, w: w} }

// sheet is a planned picture: its size, and how it is drawn.
type sheet struct {
	w, h  float64
	paper bool // black on white, to print
	draw  func(p *pen)
}

// plan lays a drawing out once on nothing, to know its height.
func (a *Artist) plan(d drawing.Drawing) (sheet, error) {
	var draw func(p *pen)
	empty := false // made by no constructor
	switch d := d.(type) {
	case drawing.Profile:
		draw, empty = func(p *pen) { p.profile(d) }, len(d.Fixes) == 0
	case drawing.Curve:
		draw, empty = func(p *pen) { p.curve(d) }, len(d.Fixes) == 0 || len(d.Line) == 0
	case drawing.Day:
		draw, empty = func(p *pen) { p.day(d) }, len(d.Runs) == 0 && len(d.Extremes) == 0
	case drawing.Season:
		draw, empty = func(p *pen) { p.season(d) }, len(d.Days) == 0
	case drawing.Kneeboard:
		if len(d.Table.Rows) > 0 {
			return a.planKneeboard(d)
		}
		empty = true
	default:
		empty = true
	}
	if empty {
		return sheet{}, fmt.Errorf("%w: %T", ErrNotDrawn, d)
	}
	p := a.pen(nothing{}, wide)
	draw(p)
	return sheet{w: wide, h: p.y, draw: draw}, nil
}

// nothing is a canvas for measuring.
type nothing struct{}

func (nothing) fill([]point, tone)         {}
func (nothing) stroke([]point, bool, line) {}
func (nothing) disc(point, float64, tone)  {}
func (nothing) write(text)                 {}
