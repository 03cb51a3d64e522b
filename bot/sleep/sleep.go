// Package sleep waits, and ends with its context.
package sleep

import (
	"context"
	"time"
)

// For waits for d, and says why where the context ends before it. Nothing and less
// are no wait.
func For(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
