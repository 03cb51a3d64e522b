package main

import (
	"bufio"
	"context"
	"encoding/csv"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"time"

	"firn/bot/record"
)

// exportCommand writes the record for other programs.
type exportCommand struct {
	files
	From   string `help:"Results asked from this day in UTC, or from this time (RFC 3339)." placeholder:"DAY"`
	To     string `help:"Results asked before this day in UTC, or before this time." placeholder:"DAY"`
	Format string `help:"csv, or json: one object a line." enum:"csv,json" default:"csv"`
	Verify bool   `help:"Prove the history first: say which entry was changed or is missing, and export nothing then."`
}

// Help is what kong shows below the flags.
func (exportCommand) Help() string {
	return "The columns keep their names, order and meaning; new ones come at the end. In CSV, text that a spreadsheet would take for a formula has an apostrophe before it."
}

// errBroken ends an export whose history is not sound.
var errBroken = errors.New("the history is not sound")

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
	s, err := newServices(ctx, h, wanted{files: c.files, level: slog.LevelWarn, now: h.now, store: mustBeThere})
	if err != nil {
		return err
	}
	defer s.close()
	fmt.Fprintln(h.stderr, "firn: the store is", s.where)
	if c.Verify {
		if err := verify(ctx, s.store, h.stderr); err != nil {
			return err
		}
	}
	out := bufio.NewWriter(h.stdout)
	write := exportCSV
	if c.Format == "json" {
		write = exportJSON
	}
	if err := write(ctx, s.store, record.Query{From: from, To: to}, h.now, out); err != nil {
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

// verify proves the history and says what it found.
func verify(ctx context.Context, h record.Walker, out io.Writer) error {
	report, err := record.Verify(ctx, h)
	if err != nil {
		return fmt.Errorf("verify: %w", err)
	}
	for _, f := range report.Findings {
		fmt.Fprintln(out, f.Text)
	}
	if n := len(report.Findings); n > 0 {
		return fmt.Errorf("%w: %d findings in %d entries and %d records", errBroken, n, report.Entries, report.Records)
	}
	since := ""
	if report.Pruned > 0 {
		since = fmt.Sprintf(" (those up to %d went by retain_days)", report.Pruned)
	}
	fmt.Fprintf(out, "the history is sound: %d entries%s, %d records, head %d %s\n", report.Entries, since, report.Records, report.Head.Seq, hex.EncodeToString(report.Head.Hash[:]))
	return nil
}

func exportCSV(ctx context.Context, s record.Records, q record.Query, now func() time.Time, out io.Writer) error {
	w := csv.NewWriter(out)
	if err := w.Write(record.Columns()); err != nil {
		return err
	}
	err := s.EachRecord(ctx, q, func(r record.Record) error { return w.Write(record.RowOf(r, now()).Fields()) })
	w.Flush()
	return errors.Join(err, w.Error())
}

func exportJSON(ctx context.Context, s record.Records, q record.Query, now func() time.Time, out io.Writer) error {
	return s.EachRecord(ctx, q, func(r record.Record) error { return writeJSON(out, record.RowOf(r, now())) })
}
