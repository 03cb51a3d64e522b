package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"strings"

	"firn/adapters/console"
	"firn/engine/wxreport"
)

// decodeCommand shows what is read from reports.
type decodeCommand struct {
	At   string `help:"Read the reports as of this time (RFC 3339), not now: reports carry no month." placeholder:"TIME"`
	JSON bool   `name:"json" help:"Print one JSON object a line."`
}

// Help is what kong shows below the flags.
func (decodeCommand) Help() string {
	return "Give one report, or - to read a report a line."
}

// Run decodes.
func (c *decodeCommand) Run(ctx context.Context, h host) error {
	now, err := clock(c.At, h.now)
	if err != nil {
		return err
	}
	var in io.Reader = strings.NewReader(h.message)
	switch h.message {
	case "":
		return fmt.Errorf("%w: give a report, or - to read one a line", errUsage)
	case "-":
		in = h.stdin
	}
	lines := bufio.NewReader(in)
	out := bufio.NewWriter(h.stdout)
	failed := false
	for ctx.Err() == nil {
		line, err := console.ReadLine(lines)
		if errors.Is(err, io.EOF) && line == "" {
			break
		}
		if err != nil && !errors.Is(err, io.EOF) {
			return fmt.Errorf("read a report: %w", err)
		}
		d := wxreport.Decode(line, now())
		failed = failed || d.Kind == "error"
		if c.JSON {
			err = writeJSON(out, d)
		} else {
			err = console.RenderReport(out, d)
		}
		if err != nil {
			return err
		}
		if lines.Buffered() == 0 {
			if err := out.Flush(); err != nil {
				return err
			}
		}
	}
	if err := out.Flush(); err != nil {
		return err
	}
	if failed && h.message != "-" {
		return errNeedsFixing
	}
	return ctx.Err()
}
