package storetest

import (
	"context"

	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/watch"
	"firn/bot/weather"
)

// Store is all that firn keeps. Safe for use by several goroutines, and by
// several processes where it is not in memory.
type Store interface {
	watch.Store
	outbox.Queue
	outbox.Adder
	outbox.Lister
	weather.Archive
	record.Store

	Release(ctx context.Context, name, holder string) error // a lease, if holder has it
	Close() error
}
