package main

import (
	"bufio"
	"context"
	"encoding/csv"
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
	From   string  `help:"Results asked from this day in UTC, or from this time (RFC 3339)." placeholder:"DAY"`
	To     string  `help:"Results asked before this day in UTC, or before this time." placeholder:"DAY"`
	Format string  `help:"csv, or json: one object a line." enum:"csv,json" default:"csv"`
	Verify bool    `help:"Prove the history first: say which entry was changed or is missing, and export nothing then."`
	Since  *string `help:"With --verify: a head that was written down earlier, as --verify and the log of serve print it. Without one nobody sees that the newest entries were cut off, or that all hashes were made anew." placeholder:"\"NUMBER HASH\""`
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
	var since []record.Head
	if c.Since != nil { // given empty, by a variable that is not set, it is refused too
		head, err := record.ReadHead(*c.Since)
		if err != nil || !c.Verify {
			return fmt.Errorf("%w: --since takes a head such as \"10 5654…\", whole, beside --verify", errUsage)
		}
		since = append(since, head)
	}
	s, err := newServices(ctx, h, wanted{files: c.files, level: slog.LevelWarn, now: h.now, store: mustBeThere})
	if err != nil {
		return err
	}
	defer s.close()
	fmt.Fprintln(h.stderr, "firn: the store is", s.where)
	if c.Verify {
		if err := verify(ctx, s.store, h.stderr, since...); err != nil {
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
func verify(ctx context.Context, h record.Walker, out io.Writer, since ...record.Head) error {
	report, err := record.Verify(ctx, h, since...)
	if err != nil {
		return fmt.Errorf("verify: %w", err)
	}
	for _, f := range report.Findings {
		fmt.Fprintln(out, f.Text)
	}
	if n := len(report.Findings); n > 0 {
		return fmt.Errorf("%w: %d findings in %d entries and %d records", errBroken, n, report.Entries, report.Records)
	}
	pruned := ""
	if report.Pruned > 0 {
		pruned = fmt.Sprintf(" (those up to %d went by retain_days)", report.Pruned)
	}
	fmt.Fprintf(out, "the history is sound: %d entries%s, %d records, head %s\n", report.Entries, pruned, report.Records, report.Head)
	for _, h := range since {
		fmt.Fprintf(out, "entry %d is the one that was written down\n", h.Seq)
	}
	return nil
}

func exportCSV(ctx context.Context, s record.Records, q record.Query, now func() time.Time, out io.Writer) error {
	w := csv.NewWriter(out)
	if err := w.Write(record.Columns()); err != nil {
		return err
	}
	err := s.EachRecord(ctx, q, func(r record.Record) error { return w.Write(rowOf(r, now()).Fields()) })
	w.Flush()
	return errors.Join(err, w.Error())
}

func exportJSON(ctx context.Context, s record.Records, q record.Query, now func() time.Time, out io.Writer) error {
	return s.EachRecord(ctx, q, func(r record.Record) error { return writeJSON(out, rowOf(r, now())) })
}

// rowOf is a record's row, with which firn wrote it.
func rowOf(r record.Record, now time.Time) record.Row {
	row := record.RowOf(r, now)
	row.ExportedBy = thisBuild().Version
	return row
}
