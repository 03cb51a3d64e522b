package app

import (
	"context"
	"sync"

	"firn/bot/watch"
	"firn/bot/weather"
)

// atOnce is how many bases are asked after at the same time.
const atOnce = 16

// ofEach asks after bases, several at once; what has no answer is left out.
func ofEach[V any](ctx context.Context, idents []string, ask func(ctx context.Context, ident string) (V, bool)) map[string]V {
	var mu sync.Mutex
	out := map[string]V{}
	// What the time does not suffice for is for the next look.
	_ = weather.Each(ctx, idents, atOnce, func(ctx context.Context, ident string) {
		if v, ok := ask(ctx, ident); ok {
			mu.Lock()
			out[ident] = v
			mu.Unlock()
		}
	})
	return out
}

// Observed are bases' latest observations, by ident; a base without one is
// left out.
func (a *App) Observed(ctx context.Context, idents []string) map[string]weather.Observation {
	return ofEach(ctx, idents, func(ctx context.Context, ident string) (weather.Observation, bool) {
		o, err := a.chain.Observation(ctx, ident)
		return o.Observation, err == nil
	})
}

// Seen is who knows of bases' alerts, by ident; one that the store does not
// tell is left out.
func (a *App) Seen(ctx context.Context, idents []string) map[string]watch.Seen {
	return ofEach(ctx, idents, func(ctx context.Context, ident string) (watch.Seen, bool) {
		seen, err := a.watch.Seen(ctx, ident, a.now())
		if err != nil {
			a.log.DebugContext(ctx, "not known who has seen an alert", "base", ident, "err", err)
		}
		return seen, err == nil
	})
}
