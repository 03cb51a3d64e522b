package sqlite_test

import (
	"database/sql"
	"os"
	"testing"
	"time"

	"github.com/pressly/goose/v3"

	"firn/bot/access"
	"firn/bot/testkit/storetest"
)

func TestAccess(t *testing.T) {
	storetest.RunAccess(t, func(t *testing.T) access.Store { return mustOpen(t, temp(t)) })
}

// TestLinksSurviveAnUpgrade: whoever had a link before links had an end has it
// afterwards, without one, and stays signed in.
func TestLinksSurviveAnUpgrade(t *testing.T) {
	where := temp(t)
	db, err := sql.Open("sqlite", where)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	const before = 8 // 00009_link_end.sql
	p, err := goose.NewProvider(goose.DialectSQLite3, db, os.DirFS("migrations"), goose.WithTableName("schema_version"), goose.WithDisableGlobalRegistry(true))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := p.UpTo(t.Context(), before); err != nil {
		t.Fatal(err)
	}
	made := time.Date(2026, 1, 25, 12, 0, 0, 0, time.UTC)
	_, token := access.Secret()
	_, session := access.Secret()
	for query, args := range map[string][]any{
		"INSERT INTO page_link (name, hash, scope, made) VALUES (?, ?, ?, ?)":   {"crew_1", token[:], "duty", made.UnixMicro()},
		"INSERT INTO page_session (hash, link, made, used) VALUES (?, ?, ?, ?)": {session[:], token[:], made.UnixMicro(), made.UnixMicro()},
	} {
		if _, err := db.Exec(query, args...); err != nil {
			t.Fatal(err)
		}
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	s := mustOpen(t, where)
	later := made.Add(time.Hour)
	if got, ok, err := s.Session(t.Context(), session, later, made.Add(-time.Hour)); !ok || err != nil || got.Name != "crew_1" || got.Scope != access.Duty || !got.Ends.IsZero() {
		t.Errorf("the session is %+v, %v, %v", got, ok, err)
	}
	_, fresh := access.Secret()
	if _, ok, err := s.Enter(t.Context(), token, access.Session{Hash: fresh, Made: later, Used: later}, made); !ok || err != nil {
		t.Errorf("the link: %v, %v", ok, err)
	}
}
