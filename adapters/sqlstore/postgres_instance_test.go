package sqlstore_test

import (
	"net/url"
	"testing"
	"time"

	"firn/adapters/sqlstore"
	"firn/adapters/testkit/pgtest"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/watch"
)

// maybeSent opens an alert and says what its first claim does.
func maybeSent(t *testing.T, s *sqlstore.Postgres, base string, made time.Time) bool {
	t.Helper()
	a := watch.Alert{Base: base, Day: "2026-01-15", Seq: 1, Kind: watch.Opened, Made: made}
	if _, err := s.Open(t.Context(), a, []outbox.Item{{Key: "alert/" + base + "/2026-01-15/1", Channel: "page", Made: made, Due: made}}); err != nil {
		t.Fatal(err)
	}
	c, err := s.Claim(t.Context(), made, time.Hour, 1)
	if err != nil || len(c) != 1 {
		t.Fatalf("Claim = %+v, %v", c, err)
	}
	return c[0].MaybeSent
}

// TestRecognised has a store opened after what happens to databases.
// TestRestored of cmd/firn does it with pg_restore.
func TestRecognised(t *testing.T) {
	address := pgtest.Shared(t).Database(t)
	if maybeSent(t, openDatabase(t, address), "XK01", time.Now()) {
		t.Error("a new store is taken for a copy")
	}
	if maybeSent(t, openDatabase(t, address), "XK02", time.Now()) {
		t.Error("a store that is opened again is taken for a copy")
	}
	if _, err := plainDatabase(t, address).Exec(t.Context(), "VACUUM FULL outbox"); err != nil {
		t.Fatal(err)
	}
	if maybeSent(t, openDatabase(t, address), "XK03", time.Now()) {
		t.Error("a store that was tidied is taken for a copy")
	}
	place := chat.PlaceNames()[0]
	serves := func(s *sqlstore.Postgres) bool {
		all, err := s.Held(t.Context(), place)
		if err != nil || len(all) != 1 {
			t.Fatalf("Held = %+v, %v", all, err)
		}
		return all[0].Left > 0
	}
	if _, err := openDatabase(t, address).Lease(t.Context(), place, "one", time.Hour); err != nil {
		t.Fatal(err)
	}
	if !serves(openDatabase(t, address)) {
		t.Error("who serves is forgotten by who comes next")
	}
	// As it is in a database that was made from a dump.
	if _, err := plainDatabase(t, address).Exec(t.Context(), "UPDATE instance SET mark = '1/1/1/1'"); err != nil {
		t.Fatal(err)
	}
	s := openDatabase(t, address)
	if !maybeSent(t, s, "XK04", time.Now()) {
		t.Error("a copy is not recognised")
	}
	if serves(s) {
		t.Error("a copy is served by who serves from what it was made of")
	}
	if !maybeSent(t, openDatabase(t, address), "XK05", time.Now().Add(time.Hour)) {
		t.Error("what a copy opens again later is sent unseen")
	}
	if maybeSent(t, s, "XK06", time.Now().Add(outbox.RestoredWindow+time.Hour)) {
		t.Error("lookups do not end")
	}
	other := openDatabase(t, pgtest.Shared(t).Database(t))
	if err := other.Restored(t.Context()); err != nil {
		t.Fatal(err)
	}
	if !maybeSent(t, other, "XK07", time.Now()) {
		t.Error("Restored is not kept")
	}
}

// TestPlainRole opens a store as a role that may do nothing but what firn
// needs.
func TestPlainRole(t *testing.T) {
	pgtest.Shared(t).Exec(t, "CREATE ROLE crew LOGIN PASSWORD 'invented'")
	t.Cleanup(func() { pgtest.Shared(t).Exec(t, "DROP ROLE crew") })
	address, err := url.Parse(pgtest.Shared(t).Database(t, "OWNER crew"))
	if err != nil {
		t.Fatal(err)
	}
	address.User = url.UserPassword("crew", "invented")
	if maybeSent(t, openDatabase(t, address.String()), "XK01", time.Now()) {
		t.Error("a new store is taken for a copy")
	}
}
