package record

import (
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"time"
)

// Export writes records for other programs.
type Export struct {
	Store Records
	Now   func() time.Time
	By    string // the version that writes it
}

func (e Export) row(r Record) Row {
	row := RowOf(r, e.Now())
	row.ExportedBy = e.By
	return row
}

// CSV writes those of a query, a row each, below the names of the columns.
func (e Export) CSV(ctx context.Context, q Query, out io.Writer) error {
	w := csv.NewWriter(out)
	if err := w.Write(Columns()); err != nil {
		return err
	}
	err := e.Store.EachRecord(ctx, q, func(r Record) error { return w.Write(e.row(r).Fields()) })
	w.Flush()
	return errors.Join(err, w.Error())
}

// JSON writes an object a line.
func (e Export) JSON(ctx context.Context, q Query, out io.Writer) error {
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	return e.Store.EachRecord(ctx, q, func(r Record) error { return enc.Encode(e.row(r)) })
}

// ErrBroken: the history is not sound.
var ErrBroken = errors.New("the history is not sound")

// Prove proves a history, as Verify does, and writes what it found; an error is
// ErrBroken where it found something.
func Prove(ctx context.Context, h Walker, out io.Writer, since ...Head) error {
	report, err := Verify(ctx, h, since...)
	if err != nil {
		return fmt.Errorf("verify: %w", err)
	}
	for _, f := range report.Findings {
		fmt.Fprintln(out, f.Text)
	}
	for _, n := range report.Notes {
		fmt.Fprintln(out, "note: "+n)
	}
	if n := len(report.Findings); n > 0 {
		return fmt.Errorf("%w: %s in %s and %s", ErrBroken, count(n, "finding", "findings"), count(report.Entries, "entry", "entries"), count(report.Records, "record", "records"))
	}
	fmt.Fprintf(out, "the history is sound: %s\n", report)
	for _, h := range since {
		if h == (Head{}) {
			fmt.Fprintln(out, "the head that was written down is of an empty history: nothing was held against it")
			continue
		}
		fmt.Fprintf(out, "entry %d is the one that was written down\n", h.Seq)
	}
	return nil
}
