package main

import (
	"bufio"
	"context"
	"fmt"
	"log/slog"
	"time"

	"firn/adapters/health"
	"firn/bot/record"
	"firn/cmd/wiring"
)

// exportCommand writes the record for other programs.
type exportCommand struct {
	wiring.Places
	From   string  `help:"Results asked from this day in UTC, or from this time (RFC 3339)." placeholder:"DAY"`
	To     string  `help:"Results asked before this day in UTC, or before this time." placeholder:"DAY"`
	Format string  `help:"csv; json: one object a line; none: the proof of --verify alone." enum:"csv,json,none" default:"csv"`
	Verify bool    `help:"Prove the history first: say which entry was changed or is missing, and export nothing then."`
	Since  *string `help:"With --verify: a head that was written down earlier, as --verify and the log of serve print it. Without one nobody sees that the newest entries were cut off, or that all hashes were made anew." placeholder:"\"NUMBER HASH\""`
}

// Help is what kong shows below the flags.
func (exportCommand) Help() string {
	return "The columns keep their names, order and meaning; new ones come at the end. In CSV, text that a spreadsheet would take for a formula has an apostrophe before it."
}

// Run exports.
func (c *exportCommand) Run(ctx context.Context, h host) error {
	from, err := moment("--from", c.From)
	if err != nil {
		return err
	}
	to, err := moment("--to", c.To)
	if err != nil {
		return err
	}
	if !from.IsZero() && !to.IsZero() && !from.Before(to) {
		return fmt.Errorf("%w: --from %s is not before --to %s", errUsage, c.From, c.To)
	}
	if c.Format == "none" && !c.Verify {
		return fmt.Errorf("%w: --format none leaves nothing to do without --verify", errUsage)
	}
	var since []record.Head
	if c.Since != nil { // given empty, by a variable that is not set, it is refused too
		head, err := record.ReadHead(*c.Since)
		if err != nil || !c.Verify {
			return fmt.Errorf("%w: --since takes a head such as \"10 5654…\", whole, beside --verify", errUsage)
		}
		since = append(since, head)
	}
	s, err := wiring.New(ctx, h.wiring(), wiring.Wanted{Places: c.Places, Level: slog.LevelWarn, Now: h.now, Store: wiring.ToRead})
	if err != nil {
		return err
	}
	defer s.Close()
	if c.Verify {
		if err := record.Prove(ctx, s.Store, h.stderr, since...); err != nil {
			return err
		}
	}
	if c.Format == "none" {
		return nil
	}
	out := bufio.NewWriter(h.stdout)
	export := record.Export{Store: s.Store, Now: h.now, By: health.ThisBuild().Version}
	write := export.CSV
	if c.Format == "json" {
		write = export.JSON
	}
	if err := write(ctx, record.Query{From: from, To: to}, out); err != nil {
		return fmt.Errorf("export: %w", err)
	}
	return out.Flush()
}

// moment reads a day or a time; zero for nothing.
func moment(flag, text string) (time.Time, error) {
	if text == "" {
		return time.Time{}, nil
	}
	for _, form := range []string{time.DateOnly, time.RFC3339} {
		if t, err := time.Parse(form, text); err == nil {
			return t, nil
		}
	}
	return time.Time{}, fmt.Errorf("%w: %s %q is neither a day such as 2026-01-15 nor a time such as 2026-01-15T06:00:00Z", errUsage, flag, text)
}
