package weather

import (
	"context"
	"sync"
)

// Each calls f for every ident, at most n at a time, and returns when all
// calls have. After the context has ended none is begun, and its error is
// returned. How long one call may take is f's business (a Chain limits each
// source); a slow one keeps one of n hands busy and no other.
func Each(ctx context.Context, idents []string, n int, f func(ctx context.Context, ident string)) error {
	next := make(chan string)
	var hands sync.WaitGroup
	for range min(max(n, 1), len(idents)) {
		hands.Go(func() {
			for ident := range next {
				f(ctx, ident)
			}
		})
	}
	defer hands.Wait()
	defer close(next)
	for _, ident := range idents {
		if err := ctx.Err(); err != nil {
			return err
		}
		select {
		case next <- ident:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}
