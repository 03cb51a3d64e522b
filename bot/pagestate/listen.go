package pagestate

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"

	"firn/bot/sleep"
)

// A database that starts again is back within seconds. The figures are ours.
const (
	firstPause   = 250 * time.Millisecond
	longestPause = 4 * time.Second
)

// Listen follows a feed until the context ends. One that is lost is followed
// again; what happened in between is in the All that it begins with.
func Listen(ctx context.Context, log *slog.Logger, f Feed, tell func(Change)) {
	wait := firstPause
	var heard atomic.Bool
	for {
		err := f.Follow(ctx, func(c Change) {
			heard.Store(true)
			tell(c)
		})
		if ctx.Err() != nil {
			return
		}
		if heard.Swap(false) {
			wait = firstPause
		}
		log.WarnContext(ctx, "open pages hear nothing of the other replicas; trying again", "in", wait, "err", err)
		if sleep.For(ctx, wait) != nil {
			return
		}
		wait = min(2*wait, longestPause)
	}
}
