package sqlstore

import (
	"crypto/sha256"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"firn/bot/access"
)

// contents are the sums of a folder's files, but for what SQLite itself makes for
// whoever reads: the index of the log, and a log with nothing in it.
func contents(t *testing.T, dir string) map[string]string {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "*"))
	if err != nil {
		t.Fatal(err)
	}
	all := map[string]string{}
	for _, f := range files {
		data, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if filepath.Ext(f) != ".db-shm" && len(data) > 0 {
			all[f] = fmt.Sprintf("%x", sha256.Sum256(data))
		}
	}
	return all
}

// TestToRead: who opens a file to read changes nothing in it and beside it,
// while another serves it and when nobody does, and cannot write.
func TestToRead(t *testing.T) {
	file := filepath.Join(t.TempDir(), "firn.db")
	if _, err := OpenSQLite(t.Context(), file, ToRead); err == nil {
		t.Error("what is not there can be read")
	}
	s, err := OpenSQLite(t.Context(), file, ToServe)
	if err != nil {
		t.Fatal(err)
	}
	token := access.Token{Name: "anna", Hash: access.Hash{1}, Scope: access.Ask, Made: time.Now()}
	if added, err := s.AddToken(t.Context(), token); err != nil || !added {
		t.Fatal(added, err)
	}
	look := func(when string) {
		t.Helper()
		before := contents(t, filepath.Dir(file))
		r, err := OpenSQLite(t.Context(), file, ToRead)
		if err != nil {
			t.Fatalf("%s: %v", when, err)
		}
		if all, err := r.Tokens(t.Context()); err != nil || len(all) != 1 || all[0].Name != "anna" {
			t.Errorf("%s: %v, %v", when, all, err)
		}
		if _, err := r.AddToken(t.Context(), access.Token{Name: "bo", Scope: access.Ask, Made: time.Now()}); err == nil {
			t.Errorf("%s: who reads can write", when)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
		for name, sum := range contents(t, filepath.Dir(file)) {
			if before[name] != sum {
				t.Errorf("%s: %s is another one", when, name)
			}
		}
	}
	look("while it is served")
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	look("when nobody serves it")
}
