package bases

import (
	"context"
	"time"

	"firn/bot/config"
	"firn/bot/outbox"
)

// Base is one that somebody added.
type Base struct {
	Ident    string           `json:"ident"`
	At       config.TimeOfDay `json:"at"`       // local
	Window   time.Duration    `json:"window"`   // from At
	Channels []string         `json:"channels"` // addresses; none: wherever the surfaces decide
	By       string           `json:"by"`       // for people
	Made     time.Time        `json:"made"`
}

// Store keeps them. Safe for concurrent use by several processes.
type Store interface {
	// Bases are all that are kept, in the order of idents.
	Bases(ctx context.Context) ([]Base, error)
	// AddBase keeps one and writes the posts that tell it, in one transaction.
	// fresh is false, and nothing is written, when one of its ident is there.
	AddBase(ctx context.Context, b Base, posts []outbox.Item) (fresh bool, err error)
	// DropBase ends one and writes the posts that tell it, in one transaction.
	// was is false, and nothing is written, when there is none.
	DropBase(ctx context.Context, ident string, posts []outbox.Item) (was bool, err error)
}

// watch is how a base is watched: on every day, near by the usual margin.
func (b *Base) watch() *config.Watch {
	w := &config.Watch{At: b.At, Days: config.Daily, Window: b.Window, Margin: config.DefaultMargin}
	for _, c := range b.Channels {
		if a, err := config.ParseAddress(c); err == nil { // an older store may have others
			w.Channels = append(w.Channels, a)
		}
	}
	return w
}
