package main

import (
	"context"
	"fmt"
	"log/slog"

	"firn/adapters/console"
	"firn/cmd/wiring"
)

// watchCommand shows what the bases are like.
type watchCommand struct {
	Show watchShow `cmd:"" default:"withargs" help:"Show every base's state now (the same as firn watch)."`
	Run  watchRun  `cmd:"" help:"Judge every base as of a time, and print it. Nothing is posted or written."`
}

// watchShow is the table of now.
type watchShow struct {
	wiring.Places
	JSON bool `name:"json" help:"Print one JSON object a base."`
}

// Run shows.
func (c *watchShow) Run(ctx context.Context, h host) error {
	return judge(ctx, h, c.Places, "", c.JSON)
}

// watchRun judges as of a time.
type watchRun struct {
	wiring.Places
	Once bool   `help:"Judge once and end. firn serve is what watches all the time." required:""`
	At   string `help:"Judge as of this time (RFC 3339), not now." placeholder:"TIME"`
	JSON bool   `name:"json" help:"Print one JSON object a base."`
}

// Run judges.
func (c *watchRun) Run(ctx context.Context, h host) error {
	return judge(ctx, h, c.Places, c.At, c.JSON)
}

func judge(ctx context.Context, h host, places wiring.Places, at string, asJSON bool) error {
	now, err := clock(at, h.now)
	if err != nil {
		return err
	}
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: places, Level: slog.LevelWarn, Now: now})
	if err != nil {
		return err
	}
	defer s.Close()
	s.KnowBases(ctx, h.wiring())
	all, err := s.Status(ctx, now())
	if err != nil {
		return fmt.Errorf("watch: %w", err)
	}
	if !asJSON {
		return console.RenderBoard(h.stdout, all, s.Bot().Zone, styleFor(h))
	}
	if len(all) == 0 {
		fmt.Fprintln(h.stderr, "firn: no base is watched: give a station a watch in the configuration")
	}
	for _, b := range all {
		if err := console.JSON(h.stdout, b); err != nil {
			return err
		}
	}
	return nil
}
