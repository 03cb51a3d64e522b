package main

import (
	"context"
	"fmt"
	"log/slog"
	"os"

	"firn/adapters/cifp"
	"firn/cmd/wiring"
)

// importCommand takes in what authorities publish.
type importCommand struct {
	Cifp     importCifp     `cmd:"" help:"Approaches of a coded procedure file (ARINC 424, such as the FAA's CIFP)."`
	Airports importAirports `cmd:"" help:"One list of airfields, of coded files and CSV lists."`
}

// importCifp reads a coded file into the store.
type importCifp struct {
	File string `arg:"" help:"The file; - reads from standard input."`
	wiring.Places
	Airport string `help:"Only these airports: idents with commas between." placeholder:"IDENT,…"`
	Partial bool   `help:"The file is an excerpt: store it although it is not whole, or has far fewer airports than are stored of its cycle."`
	DryRun  bool   `name:"dry-run" help:"Read and report; write nothing."`
	JSON    bool   `name:"json" help:"With --dry-run: one JSON object an approach."`
}

// Help is what kong shows below the flags.
func (importCifp) Help() string {
	return "What an earlier file left is replaced in one step, and repeating an import changes nothing. An older cycle than the stored one is refused, and without --partial a file that was cut off: fewer records than its header says, a last line that breaks off, far fewer airports than are stored of its cycle."
}

// Run imports.
func (c *importCifp) Run(ctx context.Context, h host) error {
	if c.JSON && !c.DryRun {
		return fmt.Errorf("%w: --json shows what is read: give --dry-run with it", errUsage)
	}
	in := h.stdin
	if c.File != "-" {
		f, err := os.Open(c.File)
		if err != nil {
			return fmt.Errorf("import: %w", err)
		}
		defer f.Close()
		in = f
	}
	do := cifp.Import{Airports: cifp.ParseAirports(c.Airport), Partial: c.Partial, Now: h.now}
	switch {
	case c.JSON:
		return do.Show(ctx, in, h.stderr, h.stdout)
	case c.DryRun:
		return do.Show(ctx, in, h.stdout, nil)
	}
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: c.Places, Level: slog.LevelWarn, Now: h.now, Store: wiring.MayCreate})
	if err != nil {
		return err
	}
	defer s.Close()
	return do.Store(ctx, s.Store, s.Where, in, h.stdout)
}
