package main

import (
	"bytes"
	"database/sql"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/pressly/goose/v3"
)

// olderStore makes the store as the firn before this one made it.
func (m *mover) olderStore() (schema int64) {
	m.Helper()
	if err := os.MkdirAll(filepath.Dir(m.file()), 0o700); err != nil {
		m.Fatal(err)
	}
	db, err := sql.Open("sqlite", m.file())
	if err != nil {
		m.Fatal(err)
	}
	defer m.close(db)
	p, err := goose.NewProvider(goose.DialectSQLite3, db, os.DirFS("../../adapters/sqlstore/migrations/sqlite"), goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		m.Fatal(err)
	}
	all := p.ListSources()
	schema = all[len(all)-2].Version
	if _, err := p.UpTo(m.Context(), schema); err != nil {
		m.Fatal(err)
	}
	return schema
}

func (m *mover) schema() (v int64) {
	m.Helper()
	db := m.plain()
	defer m.close(db)
	if err := db.QueryRow("SELECT max(version_id) FROM schema_version").Scan(&v); err != nil {
		m.Fatal(err)
	}
	return v
}

// TestOnlyServeUpgrades: a newer firn beside an older one that is running
// leaves the store to it, and what serve changes has a copy.
func TestOnlyServeUpgrades(t *testing.T) {
	m := newMover(t)
	schema := m.olderStore()
	if code, said := m.firn("doctor"); code != exitAnswered || !strings.Contains(said, "note   store     store "+m.file()+": this file was written by an older firn") || !strings.Contains(said, "ok     disk") {
		t.Errorf("doctor: exit %d\n%s", code, said)
	}
	for _, args := range [][]string{{"export"}, {"chat"}, {"import", "cifp", "../../testdata/cifp/sample.txt"}} {
		at := args
		if args[0] == "import" { // its flags stand behind its name
			at = append([]string{"import", "cifp", "--config", m.config}, args[2:]...)
		}
		var out bytes.Buffer
		h := host{stdin: strings.NewReader("quit\n"), stdout: &out, stderr: &out, getenv: func(string) string { return "" }, now: time.Now}
		if args[0] != "import" {
			at = append(at, "--config", m.config)
		}
		if code := run(t.Context(), at, h); code != exitOther || !strings.Contains(out.String(), "firn serve of this version") {
			t.Errorf("%s: exit %d\n%s", args[0], code, &out)
		}
	}
	if code, said := m.firn("backup", filepath.Join(m.dir, "copy.db")); code != exitAnswered {
		t.Errorf("backup: exit %d\n%s", code, said)
	}
	if is := m.schema(); is != schema {
		t.Fatalf("the schema is %d, want %d still", is, schema)
	}

	w := &world{T: t, dir: m.dir, env: append(os.Environ(), childPlain+"=1"), flags: []string{"--log-format", "json", "--log-level", "info"}}
	if err := os.WriteFile(m.config, []byte("page: {listen: '127.0.0.1:0'}\nstore: {path: data/firn.db}\nstations: [{ident: XKLD, elevation_ft: 4802}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w.start()
	w.stop()
	lines := strings.Split(strings.TrimSpace(w.said.All()), "\n")
	var first struct{ Msg, Version, Go, Calculation string }
	if err := json.Unmarshal([]byte(lines[0]), &first); err != nil || first.Msg != "firn starts" || first.Version == "" || first.Go == "" || first.Calculation == "" {
		t.Errorf("the first line of the log is %q, %v", lines[0], err)
	}
	said := regexp.MustCompile(`"msg":"the store was brought up to date; a copy of it as it was is kept".*"copy":"([^"]+)"`).FindStringSubmatch(w.said.All())
	if said == nil {
		t.Fatalf("it does not say where the copy is:\n%s", w.said.All())
	}
	if is := m.schema(); is <= schema {
		t.Errorf("the schema is %d after serve", is)
	}
	copied := &mover{T: t, dir: t.TempDir(), config: m.config}
	if err := os.MkdirAll(filepath.Dir(copied.file()), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(said[1], copied.file()); err != nil {
		t.Fatal(err)
	}
	if is := copied.schema(); is != schema {
		t.Errorf("the copy has schema %d, want %d", is, schema)
	}
}

// TestOneServeAFile: a second serve on a file is refused in one sentence, and
// what else there is goes on beside the first.
func TestOneServeAFile(t *testing.T) {
	m := newMover(t)
	w := &world{T: t, dir: m.dir, env: append(os.Environ(), childPlain+"=1")}
	if err := os.WriteFile(m.config, []byte("page: {listen: '127.0.0.1:0'}\nstore: {path: data/firn.db}\nstations: [{ident: XKLD, elevation_ft: 4802}]\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w.start()
	defer w.stop()
	code, said := m.firn("serve", "--log-level", "error")
	if code != exitOther || strings.Count(said, "\n") != 1 || !strings.Contains(said, m.file()+": another firn serve is running on this file") {
		t.Errorf("serve: exit %d\n%s", code, said)
	}
	for _, args := range [][]string{{"doctor"}, {"export"}, {"export", "--verify"}, {"backup", filepath.Join(m.dir, "copy.db")}} {
		if code, said := m.firn(args...); code != exitAnswered {
			t.Errorf("%s: exit %d\n%s", args, code, said)
		}
	}
	db := m.plain()
	defer m.close(db)
	if _, err := db.Exec("DELETE FROM history_head"); err != nil {
		t.Fatal(err)
	}
	if code, said := m.firn("export", "--verify"); code != exitOther || !strings.Contains(said, "the last entry of the history is gone") || strings.Contains(said, "sql") {
		t.Errorf("without its head: exit %d\n%s", code, said)
	}
}
