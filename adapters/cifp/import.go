package cifp

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"firn/bot/approach"
)

// Dataset is what the store calls a coded file's procedures.
const Dataset = "cifp"

// Import is how a file is taken in.
type Import struct {
	Airports []string // only these; none: all
	Partial  bool     // it is an excerpt: it may lack what a whole file has
	Now      func() time.Time
}

// ParseAirports reads idents with commas between.
func ParseAirports(text string) (idents []string) {
	for ident := range strings.SplitSeq(text, ",") {
		if ident = strings.ToUpper(strings.TrimSpace(ident)); ident != "" {
			idents = append(idents, ident)
		}
	}
	return idents
}

// Store puts a file in the place of what an earlier one left, in one step, and
// tells out what came of it. where is the store, for people.
func (i Import) Store(ctx context.Context, s approach.Store, where string, in io.Reader, out io.Writer) error {
	var sum Summary
	partial := false
	before, told := size(ctx, s)
	done, err := s.Replace(ctx, Dataset, i.Airports, func(add func(*approach.Approach) error) (approach.Edition, error) {
		var err error
		sum, err = Read(bounded{ctx, in}, Handler{Airports: i.Airports, Approach: add})
		switch {
		case err != nil:
		case sum.Records > 0 && sum.Malformed == sum.Records:
			err = errors.New("none of its lines is a record of a coded procedure file (ARINC 424, 132 characters): is it the file that was meant?")
		case sum.Cycle == "":
			err = errors.New("the file's header does not say its cycle, and without one nobody could tell when it ends")
		}
		if err == nil && !i.Partial {
			err = sum.Whole()
			partial = err != nil
		}
		return approach.Edition{Cycle: sum.Cycle, Effective: sum.Effective, End: sum.End, Imported: i.Now(), Partial: i.Partial}, err
	})
	if partial || errors.Is(err, approach.ErrFewer) {
		return fmt.Errorf("import: nothing is changed: the file is not whole: %w; an excerpt that is meant is stored with --partial", err)
	}
	if err != nil {
		return fmt.Errorf("import: nothing is changed: %w", err)
	}
	if err := sum.Write(out, i.Now()); err != nil {
		return err
	}
	was := "none before"
	if done.Was != "" {
		was = fmt.Sprintf("in the place of %d of cycle %s", done.Before, done.Was)
	}
	if _, err = fmt.Fprintf(out, "stored in %s: %d approaches of cycle %s, %s\n", where, done.After, sum.Cycle, was); err != nil || !told {
		return err
	}
	if after, told := size(ctx, s); told {
		_, err = fmt.Fprintf(out, "the store takes %s, %s before\n", mebibytes(after), mebibytes(before))
	}
	return err
}

// size is how many bytes a store takes, where it tells.
func size(ctx context.Context, s approach.Store) (bytes int64, told bool) {
	sized, ok := s.(approach.Sized)
	if !ok {
		return 0, false
	}
	bytes, err := sized.Size(ctx)
	return bytes, err == nil
}

func mebibytes(n int64) string { return fmt.Sprintf("%.1f MiB", float64(n)/(1<<20)) }

// Show reads a file and reports; approaches gets a JSON object a line, nil:
// nobody wants them.
func (i Import) Show(ctx context.Context, in io.Reader, report, approaches io.Writer) error {
	handler := Handler{Airports: i.Airports}
	if approaches != nil {
		out := bufio.NewWriterSize(approaches, 1<<16)
		defer out.Flush()
		enc := json.NewEncoder(out)
		enc.SetEscapeHTML(false)
		handler.Approach = func(a *approach.Approach) error { return enc.Encode(a.Object()) }
	}
	sum, err := Read(bounded{ctx, in}, handler)
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	return sum.Write(report, i.Now())
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
