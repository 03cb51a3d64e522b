package pagestate

import (
	"context"
	"log/slog"
	"sync/atomic"
	"time"
)

// A database that starts again is back within seconds. The figures are ours.
const (
	firstPause   = 250 * time.Millisecond
	longestPause = 4 * time.Second
)

// Listen follows a feed until the context ends. One that is lost is followed
// again; what happened in between is in the All that it begins with.
func Listen(ctx context.Context, log *slog.Logger, f Feed, tell func(Change)) {
	pause := firstPause
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
			pause = firstPause
		}
		log.WarnContext(ctx, "open pages hear nothing of the other replicas; trying again", "in", pause, "err", err)
		t := time.NewTimer(pause)
		select {
		case <-t.C:
		case <-ctx.Done():
			t.Stop()
			return
		}
		pause = min(2*pause, longestPause)
	}
}
