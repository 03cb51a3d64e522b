package storetest

import (
	"context"

	"firn/bot"
	"firn/bot/outbox"
	"firn/bot/watch"
	"firn/bot/weather"
)

// Store is all that firn keeps. Safe for use by several goroutines, and by
// several processes where it is not in memory.
type Store interface {
	watch.Store
	outbox.Queue
	weather.Archive
	bot.Results

	// Result is the result that was saved for a surface's message.
	Result(ctx context.Context, surface, id string) (r bot.Result, found bool, err error)
	Close() error
}
