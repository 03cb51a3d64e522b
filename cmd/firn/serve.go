package main

import (
	"context"
	"os"
	"os/signal"
	"sync"
	"syscall"

	"firn/adapters/console"
	"firn/cmd/wiring"
)

// serveCommand runs everything that is configured.
type serveCommand struct {
	wiring.Places
	logging
}

// spare is what may be allocated, besides as much again as is in use, before the
// collector runs. With 30 MiB in use it ran every three seconds at 100 messages a
// second, a twelfth of all that firn took (cmd/firn-load/README.md). A percentage
// would grow with what is in use.
const spare = 64 << 20

// spared has the collector wait: it counts these bytes, which are never written
// and so take no memory, as in use.
var spared = sync.OnceValue(func() []byte { return make([]byte, spare) })

// Run serves until the context ends. At SIGHUP it goes on with the configuration
// and the certificate as they are then, if they can be right.
func (c *serveCommand) Run(ctx context.Context, h host) error {
	spared()
	h.stdout = console.Share(h.screen()) // a post that fails is tried again
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	return wiring.Serve(ctx, h.wiring(), again, wiring.Wanted{
		Places: c.Places, Level: c.level(), Form: c.LogFormat, Now: h.now, Screen: h.stdout, Store: wiring.ToServe, Chat: true,
	})
}
