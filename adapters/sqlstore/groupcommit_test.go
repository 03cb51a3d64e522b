package sqlstore

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"sync"
	"testing"
)

// openNotes opens a store with a table for what turns write.
func openNotes(t *testing.T) *SQLite {
	t.Helper()
	s, err := OpenSQLite(t.Context(), filepath.Join(t.TempDir(), "firn.db"), MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	if _, err := s.writer.ExecContext(t.Context(), "CREATE TABLE note (text TEXT PRIMARY KEY)"); err != nil {
		t.Fatal(err)
	}
	return s
}

func note(text string) func(context.Context, conn) error {
	return func(ctx context.Context, tx conn) error {
		_, err := exec(ctx, tx, "INSERT INTO note (text) VALUES (?)", text)
		return err
	}
}

func notes(t *testing.T, s *SQLite) map[string]bool {
	t.Helper()
	rows, err := s.reader.QueryContext(t.Context(), "SELECT text FROM note")
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	out := map[string]bool{}
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			t.Fatal(err)
		}
		out[text] = true
	}
	return out
}

// gather has others come while a transaction is under way, so that they share
// the next one; it gives what came of each.
func gather(t *testing.T, s *SQLite, all ...func() error) []error {
	t.Helper()
	errs := make([]error, len(all))
	var running sync.WaitGroup
	first := s.commits.commitWith(t.Context(), func(context.Context, conn) error {
		for i, do := range all {
			running.Go(func() { errs[i] = do() })
		}
		for waiting := 0; waiting < len(all); {
			s.commits.mu.Lock()
			waiting = len(s.commits.waiting)
			s.commits.mu.Unlock()
		}
		return nil
	})
	if first != nil {
		t.Fatal(first)
	}
	running.Wait()
	return errs
}

func TestGroupCommit(t *testing.T) {
	wrong := errors.New("wrong")
	failing := func(text string) func(context.Context, conn) error {
		return func(ctx context.Context, tx conn) error {
			if err := note(text)(ctx, tx); err != nil {
				return err
			}
			return wrong
		}
	}
	t.Run("an error undoes its own alone", func(t *testing.T) {
		s := openNotes(t)
		turn := func(do func(context.Context, conn) error) func() error {
			return func() error { return s.commits.commitWith(t.Context(), do) }
		}
		errs := gather(t, s, turn(note("a")), turn(failing("b")), turn(note("c")))
		if errs[0] != nil || !errors.Is(errs[1], wrong) || errs[2] != nil {
			t.Errorf("came of it: %v", errs)
		}
		if got := notes(t, s); len(got) != 2 || !got["a"] || !got["c"] {
			t.Errorf("kept are %v", got)
		}
	})
	t.Run("alone", func(t *testing.T) {
		s := openNotes(t)
		if err := s.commits.commitWith(t.Context(), failing("b")); !errors.Is(err, wrong) {
			t.Errorf("came of it: %v", err)
		}
		if got := notes(t, s); len(got) != 0 {
			t.Errorf("kept are %v", got)
		}
	})
	t.Run("who has given up is passed over", func(t *testing.T) {
		s := openNotes(t)
		ctx, giveUp := context.WithCancel(t.Context())
		var err error
		first := s.commits.commitWith(t.Context(), func(_ context.Context, tx conn) error {
			giveUp()
			err = s.commits.commitWith(ctx, note("b"))
			return note("a")(t.Context(), tx)
		})
		if got := notes(t, s); first != nil || !errors.Is(err, context.Canceled) || len(got) != 1 || !got["a"] {
			t.Errorf("kept are %v: %v, %v", got, first, err)
		}
	})
	t.Run("a panic leaves nobody waiting", func(t *testing.T) {
		s := openNotes(t)
		panicked := make(chan any, 3)
		turn := func(do func(context.Context, conn) error) func() error {
			return func() error {
				defer func() {
					if p := recover(); p != nil {
						panicked <- p
					}
				}()
				return s.commits.commitWith(t.Context(), do)
			}
		}
		gather(t, s, turn(note("a")), turn(func(context.Context, conn) error { panic("a mistake") }), turn(note("c")))
		if len(panicked) != 1 {
			t.Errorf("%d panics", len(panicked))
		}
		if err := s.commits.commitWith(t.Context(), note("d")); err != nil || !notes(t, s)["d"] {
			t.Errorf("afterwards: %v", err)
		}
	})
	t.Run("many at once", func(t *testing.T) {
		s := openNotes(t)
		var running sync.WaitGroup
		for i := range 200 {
			running.Go(func() {
				ctx, cancel := context.WithCancel(t.Context())
				defer cancel()
				do := note(fmt.Sprint(i))
				switch i % 5 {
				case 1:
					do = failing(fmt.Sprint(i))
				case 2:
					cancel()
				}
				if err := s.commits.commitWith(ctx, do); (err == nil) != (i%5 != 1 && i%5 != 2) {
					t.Errorf("turn %d: %v", i, err)
				}
			})
		}
		running.Wait()
		got := notes(t, s)
		for i := range 200 {
			if want := i%5 != 1 && i%5 != 2; got[fmt.Sprint(i)] != want {
				t.Errorf("turn %d is kept: %v, want %v", i, !want, want)
			}
		}
	})
}
