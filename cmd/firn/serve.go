package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"firn/adapters/console"
	"firn/cmd/wiring"
)

// serveCommand runs everything that is configured.
type serveCommand struct {
	wiring.Places
	logging
}

// Run serves until the context ends. At SIGHUP it goes on with the configuration
// and the certificate as they are then, if they can be right.
func (c *serveCommand) Run(ctx context.Context, h host) error {
	h.stdout = console.Share(h.stdout)
	again := make(chan os.Signal, 1)
	signal.Notify(again, syscall.SIGHUP)
	defer signal.Stop(again)
	return wiring.Serve(ctx, h.wiring(), again, wiring.Wanted{
		Places: c.Places, Level: c.level(), Form: c.LogFormat, Now: h.now, Screen: h.stdout, Store: wiring.ToServe, Chat: true,
	})
}
