package main

import (
	"context"
	"fmt"
	"io"
	"strings"

	"firn/adapters/console"
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
	failed, err := console.Decode(ctx, now, in, h.stdout, c.JSON)
	if err == nil && failed && h.message != "-" {
		err = errNeedsFixing
	}
	return err
}
