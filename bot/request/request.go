// Package request puts a name on what somebody asked, so that every line of
// the log that comes of it tells which one it was.
package request

import (
	"context"
	"log/slog"
)

type key struct{}

// With is a context for what a surface's event caused. The name is the
// surface's own: never a text.
func With(ctx context.Context, surface, event string) context.Context {
	if event == "" {
		return ctx
	}
	return context.WithValue(ctx, key{}, surface+":"+event)
}

// Handler writes the request to every record that has one.
func Handler(next slog.Handler) slog.Handler { return handler{next} }

type handler struct{ slog.Handler }

// Handle adds the name.
func (h handler) Handle(ctx context.Context, r slog.Record) error {
	if name, ok := ctx.Value(key{}).(string); ok {
		r = r.Clone()
		r.AddAttrs(slog.String("request", name))
	}
	return h.Handler.Handle(ctx, r)
}

// WithAttrs keeps what the handler does.
func (h handler) WithAttrs(attrs []slog.Attr) slog.Handler {
	return handler{h.Handler.WithAttrs(attrs)}
}

// WithGroup keeps what the handler does.
func (h handler) WithGroup(name string) slog.Handler { return handler{h.Handler.WithGroup(name)} }
