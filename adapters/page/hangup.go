package page

import (
	"context"
	"errors"
	"log/slog"
)

// hungUp is a handler of the log to which an error is none whose request is
// gone: the browser went away, and nobody has anything to mend.
type hungUp struct{ slog.Handler }

// Handle writes one line.
func (h hungUp) Handle(ctx context.Context, r slog.Record) error {
	if r.Level >= slog.LevelError && errors.Is(ctx.Err(), context.Canceled) {
		if !h.Enabled(ctx, slog.LevelDebug) {
			return nil
		}
		r.Level = slog.LevelDebug
	}
	return h.Handler.Handle(ctx, r)
}

// WithAttrs keeps to it.
func (h hungUp) WithAttrs(a []slog.Attr) slog.Handler { return hungUp{h.Handler.WithAttrs(a)} }

// WithGroup keeps to it.
func (h hungUp) WithGroup(name string) slog.Handler { return hungUp{h.Handler.WithGroup(name)} }
