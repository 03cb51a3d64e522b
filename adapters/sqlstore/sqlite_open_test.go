package sqlstore_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"

	"firn/adapters/sqlstore"
	"firn/bot/outbox"
	"firn/bot/watch"
	"firn/bot/weather"
)

// written makes a file with some records in it.
func written(t *testing.T, path string) {
	t.Helper()
	s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MayCreate)
	if err != nil {
		t.Fatal(err)
	}
	write(t, s)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

// write writes records of several pages.
func write(t *testing.T, s *sqlstore.SQLite) {
	t.Helper()
	a := watch.Alert{Base: "XKLD", Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: noon}
	post := outbox.Item{Key: "alert/XKLD/2026-01-15/1", Channel: "page", Made: noon, Due: noon}
	if fresh, err := s.Open(t.Context(), a, []outbox.Item{post}); !fresh || err != nil {
		t.Fatalf("Open = %v, %v", fresh, err)
	}
	for _, id := range []string{"1", "2", "3", "4"} {
		if _, err := s.SaveObservation(t.Context(), weather.Observation{Ident: id, Source: "page", Raw: strings.Repeat("XKLD -38 8200 ", 2000)}); err != nil {
			t.Fatal(err)
		}
	}
}

// holds checks that the records are there.
func holds(t *testing.T, s *sqlstore.SQLite) {
	t.Helper()
	d, err := s.Day(t.Context(), "XKLD", "2026-01-15")
	if err != nil || len(d.Alerts) != 1 {
		t.Errorf("Day = %+v, %v, want one alert", d, err)
	}
	if b, err := s.Backlog(t.Context()); err != nil || b.Waiting != 1 {
		t.Errorf("Backlog = %+v, %v, want one", b, err)
	}
}

func TestOpenAgain(t *testing.T) {
	path := temp(t)
	written(t, path)
	holds(t, openFile(t, path))
	var applied int
	if err := plainFile(t, path).QueryRow("SELECT count(*) FROM schema_version WHERE version_id = 1").Scan(&applied); err != nil || applied != 1 {
		t.Errorf("the schema was applied %d times, %v, want once", applied, err)
	}
}

// TestOpenAfterCrash opens the copy of a file that is in use, which is what a
// killed process leaves.
func TestOpenAfterCrash(t *testing.T) {
	path := temp(t)
	write(t, openFile(t, path))
	left := temp(t)
	for _, end := range []string{"", "-wal"} {
		b, err := os.ReadFile(path + end)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(left+end, b, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	holds(t, openFile(t, left))
}

func TestOpenModes(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "new", "newer", "firn.db")
	write(t, openFile(t, path))
	for _, c := range []struct {
		name string
		want fs.FileMode
	}{
		{dir, 0o755 | fs.ModeDir},
		{filepath.Join(dir, "new"), 0o700 | fs.ModeDir},
		{filepath.Dir(path), 0o700 | fs.ModeDir},
		{path, 0o600},
		{path + "-wal", 0o600},
		{path + "-shm", 0o600},
		{path + "-opening", 0o600},
	} {
		info, err := os.Stat(c.name)
		if err != nil {
			t.Error(err)
		} else if info.Mode() != c.want {
			t.Errorf("%s has mode %v, want %v", c.name, info.Mode(), c.want)
		}
	}
}

func TestOpenOddPaths(t *testing.T) {
	for _, name := range []string{"with space.db", "50% ?mode=memory&x=#1.db", "北海道 −38.db", "file:x.db", "'quoted\".db"} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			written(t, filepath.Join(dir, name))
			if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() == 0 {
				t.Errorf("the file is elsewhere: %v", err)
			}
			holds(t, openFile(t, filepath.Join(dir, name)))
		})
	}
	t.Run("relative", func(t *testing.T) {
		t.Chdir(t.TempDir())
		written(t, "firn.db")
		holds(t, openFile(t, filepath.Join(".", "firn.db")))
	})
}

// edit changes a file's bytes.
func edit(change func([]byte) []byte) func(*testing.T, string) {
	return func(t *testing.T, path string) {
		t.Helper()
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, change(b), 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

func TestOpenRefuses(t *testing.T) {
	const page = 4096
	garbage := bytes.Repeat([]byte("\xde\xad"), page/2)
	for _, c := range []struct {
		name  string
		spoil func(*testing.T, string)
		want  string
	}{
		{"a text file", edit(func([]byte) []byte { return []byte("# notes on the winter\n") }), "does not begin as an SQLite file does"},
		{"a byte", edit(func([]byte) []byte { return []byte("S") }), "does not begin as an SQLite file does"},
		{"header of zeros", edit(func(b []byte) []byte { copy(b, make([]byte, 100)); return b }), "does not begin as an SQLite file does"},
		{"header cut short", edit(func(b []byte) []byte { return b[:60] }), "its end is missing"},
		{"garbage behind the header's first line", edit(func(b []byte) []byte { copy(b[16:100], garbage); return b }), "damaged"},
		{"cut at half", edit(func(b []byte) []byte { return b[:len(b)/2/page*page] }), "damaged"},
		{"cut in a page", edit(func(b []byte) []byte { return b[:len(b)-page/2] }), "its end is missing"},
		{"a page of garbage", edit(func(b []byte) []byte { copy(b[2*page:], garbage); return b }), "damaged"},
		{"schema of garbage", edit(func(b []byte) []byte { copy(b[100:page], garbage); return b }), "damaged"},
		{"emptied beside its log", func(t *testing.T, path string) {
			edit(func(b []byte) []byte { return nil })(t, path)
			if err := os.WriteFile(path+"-wal", garbage, 0o600); err != nil {
				t.Fatal(err)
			}
		}, "it is empty, and there is a log of its changes beside it (firn.db-wal)"},
		{"another program's", func(t *testing.T, path string) {
			os.Remove(path)
			if _, err := plainFile(t, path).Exec("CREATE TABLE bookmark (url TEXT)"); err != nil {
				t.Fatal(err)
			}
		}, "this is another program's SQLite file"},
		{"another program's, with a number of its own", func(t *testing.T, path string) {
			os.Remove(path)
			if _, err := plainFile(t, path).Exec("PRAGMA application_id = 252006674"); err != nil {
				t.Fatal(err)
			}
		}, "this is another program's SQLite file"},
		{"a newer schema", func(t *testing.T, path string) {
			if _, err := plainFile(t, path).Exec("INSERT INTO schema_version (version_id, is_applied) VALUES (99, 1)"); err != nil {
				t.Fatal(err)
			}
		}, "this file was written by a newer firn (schema 99, this one knows "},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := temp(t)
			written(t, path)
			c.spoil(t, path)
			before := contents(t, path)
			for range 2 {
				s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MayCreate)
				if err == nil {
					s.Close()
					t.Fatal("Open takes it")
				}
				t.Log(err)
				if !strings.Contains(err.Error(), c.want) || !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "left as it is") {
					t.Errorf("Open: %v\nwant %q, the path, and that it was left as it is", err, c.want)
				}
			}
			after := contents(t, path)
			for name := range before {
				if !bytes.Equal(before[name], after[name]) {
					t.Errorf("%s was changed", name)
				}
			}
		})
	}
}

// contents are the file and its log.
func contents(t *testing.T, path string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	for _, name := range []string{path, path + "-wal"} {
		b, err := os.ReadFile(name)
		if err != nil && !errors.Is(err, fs.ErrNotExist) {
			t.Fatal(err)
		}
		out[name] = b
	}
	return out
}

func TestOpenWithoutFile(t *testing.T) {
	dir := t.TempDir()
	file := filepath.Join(dir, "file")
	if err := os.WriteFile(file, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{dir, filepath.Join(file, "firn.db")} {
		if s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MayCreate); err == nil {
			s.Close()
			t.Errorf("Open(%s) works", path)
		} else if !strings.Contains(err.Error(), path) {
			t.Errorf("Open: %v, want the path %s", err, path)
		}
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	path := filepath.Join(dir, "firn.db")
	if _, err := sqlstore.OpenSQLite(ctx, path, sqlstore.MayCreate); !errors.Is(err, context.Canceled) {
		t.Errorf("Open with a cancelled context: %v", err)
	}
	if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a cancelled Open leaves a file: %v", err)
	}
}

// TestOpenAtOnce has several open a file that is not there.
func TestOpenAtOnce(t *testing.T) {
	for range 3 {
		path := filepath.Join(t.TempDir(), "new", "firn.db")
		var wg sync.WaitGroup
		stores := make([]*sqlstore.SQLite, 4)
		for i := range stores {
			wg.Go(func() {
				var err error
				if stores[i], err = sqlstore.OpenSQLite(t.Context(), path, sqlstore.MayCreate); err != nil {
					t.Error(err)
				}
			})
		}
		wg.Wait()
		var applied int
		if err := plainFile(t, path).QueryRow("SELECT count(*) FROM schema_version WHERE version_id = 1").Scan(&applied); err != nil || applied != 1 {
			t.Errorf("the schema was applied %d times, %v, want once", applied, err)
		}
		for _, s := range stores {
			if s != nil {
				s.Close()
			}
		}
	}
}

// TestAway: a disk that is full is no reason not to answer; what is refused is.
func TestAway(t *testing.T) {
	db := plainFile(t, temp(t))
	db.SetMaxOpenConns(1)
	for _, do := range []string{"CREATE TABLE t (x)", "PRAGMA max_page_count = 2"} {
		if _, err := db.Exec(do); err != nil {
			t.Fatal(err)
		}
	}
	_, full := db.Exec("INSERT INTO t VALUES (zeroblob(100000))")
	_, wrong := db.Exec("INSERT INTO nothing VALUES (1)")
	_, unreached := sqlstore.OpenPostgres(t.Context(), "postgres://firn@127.0.0.1:1/firn", sqlstore.MustExist)
	for _, c := range []struct {
		name string
		err  error
		want bool
	}{
		{"full", full, true},
		{"the disk says so itself", &fs.PathError{Op: "write", Path: "firn.db-opening", Err: syscall.ENOSPC}, true},
		{"nobody listens", unreached, true},
		{"a slip", wrong, false},
		{"none", sqlstore.ErrNone, false},
		{"an old one", sqlstore.OldError{Has: 1, Knows: 2}, false},
		{"nothing", nil, false},
	} {
		if is := sqlstore.Away(fmt.Errorf("store: %w", c.err)); is != c.want {
			t.Errorf("%s: Away(%v) = %v", c.name, c.err, is)
		}
	}
}
