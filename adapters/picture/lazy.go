package picture

import (
	"context"
	"fmt"
	"sync"

	"firn/bot/chat"
	"firn/bot/drawing"
)

// Lazy is an Artist that loads its fonts when it draws first. The zero value is
// ready, and safe for use by several goroutines.
type Lazy struct {
	once   sync.Once
	artist *Artist
	err    error
}

func (l *Lazy) load() (*Artist, error) {
	l.once.Do(func() { l.artist, l.err = New() })
	return l.artist, l.err
}

// Draw draws a PNG.
func (l *Lazy) Draw(ctx context.Context, d drawing.Drawing) (chat.Picture, error) {
	a, err := l.load()
	if err != nil {
		return chat.Picture{}, err
	}
	return a.Draw(ctx, d)
}

// SVG draws for a page.
func (l *Lazy) SVG(ctx context.Context, d drawing.Drawing) ([]byte, error) {
	a, err := l.load()
	if err != nil {
		return nil, err
	}
	return a.SVG(ctx, d)
}

// PDF draws for paper.
func (l *Lazy) PDF(ctx context.Context, k drawing.Kneeboard) ([]byte, error) {
	a, err := l.load()
	if err != nil {
		return nil, err
	}
	return a.PDF(ctx, k)
}

// Draws draws as png, svg or, of a kneeboard, pdf: what a file of it holds.
func (l *Lazy) Draws(ctx context.Context, form string, d drawing.Drawing) ([]byte, error) {
	switch form {
	case "svg":
		return l.SVG(ctx, d)
	case "pdf":
		k, ok := d.(drawing.Kneeboard)
		if !ok {
			return nil, fmt.Errorf("%T is no page to print", d)
		}
		return l.PDF(ctx, k)
	}
	p, err := l.Draw(ctx, d)
	return p.PNG, err
}
