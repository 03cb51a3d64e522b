package sqlstore_test

import (
	"database/sql"
	"errors"
	"io/fs"
	"os"
	"strings"
	"testing"

	"github.com/pressly/goose/v3"

	"firn/adapters/sqlstore"
)

// openFile opens a store that the test closes.
func openFile(t testing.TB, path string) *sqlstore.SQLite {
	t.Helper()
	return place{goose.DialectSQLite3, path}.must(t, sqlstore.MayCreate).(*sqlstore.SQLite)
}

// plainFile opens a file without the package.
func plainFile(t testing.TB, path string) *sql.DB {
	t.Helper()
	return place{goose.DialectSQLite3, path}.plain(t)
}

// TestOneServes: a second process that would serve from a file is told of the
// first; every other command works beside it.
func TestOneServes(t *testing.T) {
	path := temp(t)
	s, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.ToServe)
	if err != nil {
		t.Fatal(err)
	}
	if second, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.ToServe); err == nil {
		second.Close()
		t.Fatal("a second one serves")
	} else if !strings.Contains(err.Error(), path) || !strings.Contains(err.Error(), "another firn serve is running on this file") || strings.Contains(err.Error(), "\n") {
		t.Errorf("the second is told: %v", err)
	}
	for _, how := range []sqlstore.Opening{sqlstore.MustExist, sqlstore.MayCreate} {
		beside, err := sqlstore.OpenSQLite(t.Context(), path, how)
		if err != nil {
			t.Fatal(err)
		}
		write(t, beside)
		holds(t, s)
		if _, err := plainFile(t, path).Exec("DELETE FROM alert; DELETE FROM outbox"); err != nil {
			t.Fatal(err)
		}
		if err := beside.Close(); err != nil {
			t.Error(err)
		}
	}
	if err := sqlstore.Backup(t.Context(), path, temp(t)); err != nil {
		t.Error(err)
	}
	if info, err := os.Stat(path + "-serving"); err != nil || info.Mode() != 0o600 {
		t.Errorf("its lock: %v, %v, want mode 0600", info.Mode(), err)
	}
	lost := temp(t)
	if err := os.Rename(path, lost); err != nil {
		t.Fatal(err)
	}
	if beside, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.MustExist); err == nil || !errors.Is(err, sqlstore.ErrNone) || !strings.Contains(err.Error(), "it was moved away, and a firn serve still writes to it there") {
		t.Errorf("of a store that was moved away under it: %v, %v", beside, err)
	}
	for _, how := range []sqlstore.Opening{sqlstore.ToServe, sqlstore.MayCreate} {
		if beside, err := sqlstore.OpenSQLite(t.Context(), path, how); err == nil {
			beside.Close()
			t.Errorf("Open(%d) makes another store where one was moved away under it", how)
		}
		if _, err := os.Stat(path); !errors.Is(err, fs.ErrNotExist) {
			t.Errorf("Open(%d) leaves something in its place: %v", how, err)
		}
	}
	if err := os.Rename(lost, path); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	again, err := sqlstore.OpenSQLite(t.Context(), path, sqlstore.ToServe)
	if err != nil {
		t.Fatalf("after the first has ended: %v", err)
	}
	if err := again.Close(); err != nil {
		t.Error(err)
	}
}
