// Package headless starts a real browser for the tests of pages.
package headless

import (
	"context"
	"fmt"
	"time"

	"github.com/chromedp/chromedp"
)

// startLimit is how long the browser may take to come up; a machine may be busy.
const startLimit = time.Minute

// Start starts the browser at a path (installed.Chromium has it), without a
// window. The context is its first tab; end ends the browser and waits for it.
// A browser that does not come up within a minute is ended, and is an error.
func Start(path string) (ctx context.Context, end func(), err error) {
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox)
	alloc, free := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	// The first call's context is the browser's life, so that it can have no
	// deadline of its own.
	late := time.AfterFunc(startLimit, cancel)
	err = chromedp.Do(ctx)
	late.Stop()
	if err != nil {
		// Nothing runs that Cancel could wait for.
		cancel()
		free()
		return nil, nil, fmt.Errorf("the browser %s does not start: %w", path, err)
	}
	return ctx, func() {
		_ = chromedp.Cancel(ctx) // it may have ended by itself
		cancel()
		free()
	}, nil
}
