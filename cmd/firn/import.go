package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"

	"firn/adapters/cifp"
	"firn/bot/approach"
)

// importCommand takes in what authorities publish.
type importCommand struct {
	Cifp     importCifp     `cmd:"" help:"Approaches of a coded procedure file (ARINC 424, such as the FAA's CIFP)."`
	Airports importAirports `cmd:"" help:"One list of airfields, of coded files and CSV lists."`
}

// importCifp reads a coded file into the store.
type importCifp struct {
	File string `arg:"" help:"The file; - reads from standard input."`
	files
	Airport string `help:"Only these airports: idents with commas between." placeholder:"IDENT,…"`
	Partial bool   `help:"The file is an excerpt: store it although it is not whole, or has far fewer airports than are stored of its cycle."`
	DryRun  bool   `name:"dry-run" help:"Read and report; write nothing."`
	JSON    bool   `name:"json" help:"With --dry-run: one JSON object an approach."`
}

// Help is what kong shows below the flags.
func (importCifp) Help() string {
	return "What an earlier file left is replaced in one step, and repeating an import changes nothing. An older cycle than the stored one is refused, and without --partial a file that was cut off: fewer records than its header says, a last line that breaks off, far fewer airports than are stored of its cycle."
}

// dataset is what the store calls a coded file's procedures.
const dataset = "cifp"

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
	var airports []string
	for ident := range strings.SplitSeq(c.Airport, ",") {
		if ident = strings.ToUpper(strings.TrimSpace(ident)); ident != "" {
			airports = append(airports, ident)
		}
	}
	if c.DryRun {
		return c.show(ctx, h, in, airports)
	}
	s, err := newServices(ctx, h, wanted{files: c.files, level: slog.LevelWarn, now: h.now, store: mayMake})
	if err != nil {
		return err
	}
	defer s.close()
	var sum cifp.Summary
	partial := false
	done, err := s.store.Replace(ctx, dataset, airports, func(add func(*approach.Approach) error) (approach.Edition, error) {
		var err error
		sum, err = cifp.Read(bounded{ctx, in}, cifp.Handler{Airports: airports, Approach: add})
		if err == nil && sum.Cycle == "" {
			err = errors.New("the file's header does not say its cycle, and without one nobody could tell when it ends")
		}
		if err == nil && !c.Partial {
			err = sum.Whole()
			partial = err != nil
		}
		return approach.Edition{Cycle: sum.Cycle, Effective: sum.Effective, End: sum.End, Imported: h.now(), Partial: c.Partial}, err
	})
	if partial || errors.Is(err, approach.ErrFewer) {
		return fmt.Errorf("import: nothing is changed: the file is not whole: %w; an excerpt that is meant is stored with --partial", err)
	}
	if err != nil {
		return fmt.Errorf("import: nothing is changed: %w", err)
	}
	if err := sum.Write(h.stdout, h.now()); err != nil {
		return err
	}
	was := "none before"
	if done.Was != "" {
		was = fmt.Sprintf("in the place of %d of cycle %s", done.Before, done.Was)
	}
	_, err = fmt.Fprintf(h.stdout, "stored in %s: %d approaches of cycle %s, %s\n", s.where, done.After, sum.Cycle, was)
	return err
}

// show reads and prints.
func (c *importCifp) show(ctx context.Context, h host, in io.Reader, airports []string) error {
	handler := cifp.Handler{Airports: airports}
	report := h.stdout
	if c.JSON {
		report = h.stderr
		out := bufio.NewWriterSize(h.stdout, 1<<16)
		defer out.Flush()
		enc := json.NewEncoder(out)
		enc.SetEscapeHTML(false)
		handler.Approach = func(a *approach.Approach) error { return enc.Encode(a.Object()) }
	}
	sum, err := cifp.Read(bounded{ctx, in}, handler)
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	return sum.Write(report, h.now())
}

// bounded is a reader that ends with its context.
type bounded struct {
	ctx context.Context
	in  io.Reader
}

func (b bounded) Read(p []byte) (int, error) {
	if err := b.ctx.Err(); err != nil {
		return 0, err
	}
	return b.in.Read(p)
}
