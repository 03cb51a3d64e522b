package sqlstore_test

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"firn/adapters/sqlstore"
)

func schemaOf(t *testing.T, path string) int64 {
	t.Helper()
	return place{goose.DialectSQLite3, path}.schema(t)
}

// TestUpgradeKeepsACopy: there is a way back from an upgrade.
func TestUpgradeKeepsACopy(t *testing.T) {
	path := temp(t)
	has := place{goose.DialectSQLite3, path}.migrated(t, -1)
	s := place{goose.DialectSQLite3, path}.must(t, sqlstore.ToServe).(*sqlstore.SQLite)
	u, done := s.Upgraded()
	if !done || u.From != has || u.To <= has || filepath.Dir(u.Copy) != filepath.Dir(path) {
		t.Fatalf("Upgraded = %+v, %v, want from %d and a copy beside the file", u, done, has)
	}
	if is := schemaOf(t, u.Copy); is != has {
		t.Errorf("the copy has schema %d, want %d", is, has)
	}
	if info, err := os.Stat(u.Copy); err != nil || info.Mode() != 0o600 {
		t.Errorf("the copy: %v, %v, want mode 0600", info.Mode(), err)
	}
	if is := schemaOf(t, path); is != u.To {
		t.Errorf("the store has schema %d, want %d", is, u.To)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if u, done := (place{goose.DialectSQLite3, path}).must(t, sqlstore.ToServe).(*sqlstore.SQLite).Upgraded(); done {
		t.Errorf("opened again it is upgraded again: %+v", u)
	}
	if u, done := inFile(t).must(t, sqlstore.ToServe).(*sqlstore.SQLite).Upgraded(); done {
		t.Errorf("a new store was upgraded: %+v", u)
	}
}

// TestOlderIsLeftAlone: whoever is not to upgrade refuses, or copies as it is.
func TestOlderIsLeftAlone(t *testing.T) {
	path := temp(t)
	has := place{goose.DialectSQLite3, path}.migrated(t, -1)
	for _, how := range []sqlstore.Opening{sqlstore.MustExist, sqlstore.MayCreate} {
		s, err := sqlstore.OpenSQLite(t.Context(), path, how)
		if err == nil {
			s.Close()
		}
		if old, ok := errors.AsType[sqlstore.OldError](err); !ok || old.Has != has {
			t.Errorf("opening %d: %v, want an OldError", how, err)
		}
	}
	copied, to := temp(t), temp(t)
	if err := sqlstore.Backup(t.Context(), path, copied); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlstore.Restore(t.Context(), copied, to); err == nil || !strings.Contains(err.Error(), "brings it up to date") {
		t.Errorf("Restore: %v, want that it is old", err)
	}
	for _, p := range []string{path, copied, to} {
		if is := schemaOf(t, p); is != has {
			t.Errorf("%s has schema %d, want %d", p, is, has)
		}
	}
	if left, err := filepath.Glob(path + ".schema-*"); err != nil || len(left) > 0 {
		t.Errorf("copies: %q, %v", left, err)
	}
}

// TestMustExistMakesNothing: a store that is not there is not made.
func TestMustExistMakesNothing(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "new", "firn.db")
	if _, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MustExist); !errors.Is(err, sqlstore.ErrNone) || !strings.Contains(err.Error(), path) {
		t.Errorf("MustExist: %v, want ErrNone and the path", err)
	}
	if err := sqlstore.Backup(t.Context(), path, filepath.Join(dir, "copy")); !errors.Is(err, sqlstore.ErrNone) {
		t.Errorf("Backup: %v, want ErrNone", err)
	}
	if all, err := os.ReadDir(dir); err != nil || len(all) > 0 {
		t.Errorf("made: %v, %v", all, err)
	}
	// A file that Open was about to fill when it was killed is none either.
	empty := temp(t)
	if err := os.WriteFile(empty, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := sqlstore.OpenSQLite(t.Context(), empty, sqlstore.MustExist); !errors.Is(err, sqlstore.ErrNone) {
		t.Errorf("MustExist of an empty file: %v, want ErrNone", err)
	}
}

// TestMovedIsRefused: what is written to a store that was moved away would be
// missing where it is now.
func TestMovedIsRefused(t *testing.T) {
	path := temp(t)
	written(t, path)
	from, err := sqlstore.Take(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(from.Moved(t.Context(), noon), from.Close()); err != nil {
		t.Fatal(err)
	}
	for range 2 {
		if s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MayCreate); err == nil {
			s.Close()
			t.Fatal("Open takes it")
		} else if !strings.Contains(err.Error(), "moved to PostgreSQL at 2026-01-15T12:00:00Z") || !strings.Contains(err.Error(), "firn restore") {
			t.Errorf("Open: %v", err)
		}
	}
	copied := temp(t)
	if err := sqlstore.Backup(t.Context(), path, copied); err == nil || !strings.Contains(err.Error(), "moved to PostgreSQL at 2026-01-15T12:00:00Z") || !strings.Contains(err.Error(), path) {
		t.Errorf("Backup of what nothing is written to any more: %v", err)
	}
	data, err := os.ReadFile(path)
	if err := errors.Join(err, os.WriteFile(copied, data, 0o600)); err != nil {
		t.Fatal(err)
	}
	if s, err := sqlstore.OpenSQLite(t.Context(), copied, sqlstore.MayCreate); err == nil {
		s.Close()
		t.Error("a copy of it is opened")
	}
	if err := sqlstore.PutBack(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	s := openFile(t, path)
	holds(t, s)
	// What it has not sent may have been sent from the new place.
	if c, err := s.Claim(t.Context(), noon, 1, 1); err != nil || len(c) != 1 || !c[0].MaybeSent {
		t.Errorf("Claim = %+v, %v, want one that may be sent", c, err)
	}
}

// TestFilesAreTheFoldersOwners: root restores and looks, and serve is somebody else.
func TestFilesAreTheFoldersOwners(t *testing.T) {
	copied := temp(t)
	if err := openFile(t, temp(t)).Backup(t.Context(), copied); err != nil {
		t.Fatal(err)
	}
	open := func(how sqlstore.Opening) func(string) error {
		return func(file string) error {
			s, err := sqlstore.OpenSQLite(t.Context(), file, how)
			if err != nil {
				return err
			}
			t.Cleanup(func() { s.Close() })
			return nil
		}
	}
	for name, do := range map[string]func(file string) error{
		"restored": func(file string) error { _, err := sqlstore.Restore(t.Context(), copied, file); return err },
		"made":     open(sqlstore.ToServe),
		"looked at, where serve has not run since it was put there": func(file string) error {
			data, err := os.ReadFile(copied)
			if err == nil {
				err = os.WriteFile(file, data, 0o600)
			}
			if os.Geteuid() == 0 {
				err = errors.Join(err, os.Chown(file, 12345, 23456))
			}
			return errors.Join(err, open(sqlstore.MustExist)(file))
		},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			if os.Geteuid() == 0 {
				if err := os.Chown(dir, 12345, 23456); err != nil {
					t.Fatal(err)
				}
			}
			if err := do(filepath.Join(dir, "firn.db")); err != nil {
				t.Fatal(err)
			}
			folder, err := os.Stat(dir)
			if err != nil {
				t.Fatal(err)
			}
			all, err := os.ReadDir(dir)
			if err != nil || len(all) < 2 {
				t.Fatalf("%v, %v", all, err)
			}
			want := folder.Sys().(*syscall.Stat_t)
			for _, e := range all {
				info, err := e.Info()
				if err != nil {
					t.Fatal(err)
				}
				if is := info.Sys().(*syscall.Stat_t); is.Uid != want.Uid || is.Gid != want.Gid {
					t.Errorf("%s is %d:%d's, the folder %d:%d's", e.Name(), is.Uid, is.Gid, want.Uid, want.Gid)
				}
			}
		})
	}
}

// TestBorn: a store knows when it was made, and its copy too.
func TestBorn(t *testing.T) {
	path := temp(t)
	s := openFile(t, path)
	born, err := s.Born(t.Context())
	if d := time.Since(born).Abs(); err != nil || d > time.Minute {
		t.Errorf("Born = %v, %v, want now", born, err)
	}
	// What was moved here from another store is older than the file.
	write(t, s)
	if born, err = s.Born(t.Context()); err != nil || !born.Equal(noon) {
		t.Errorf("Born = %v, %v, want its first alert's time", born, err)
	}
}
