package picture

import (
	"context"
	"fmt"
	"os"
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

// WriteFile draws into a file as png, svg or, of a kneeboard, pdf.
func (l *Lazy) WriteFile(ctx context.Context, path, form string, d drawing.Drawing) error {
	var data []byte
	var err error
	switch form {
	case "svg":
		data, err = l.SVG(ctx, d)
	case "pdf":
		k, ok := d.(drawing.Kneeboard)
		if !ok {
			return fmt.Errorf("%T is no page to print", d)
		}
		data, err = l.PDF(ctx, k)
	default:
		var p chat.Picture
		p, err = l.Draw(ctx, d)
		data = p.PNG
	}
	if err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o600)
}
