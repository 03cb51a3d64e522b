package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/access"
)

// RunAccess runs the suite of access.Store; open gives an empty store.
func RunAccess(t *testing.T, open func(t *testing.T) access.Store) {
	for _, c := range []struct {
		name string
		test func(*testing.T, access.Store)
	}{
		{"every field of a link is kept", linkFields},
		{"a name has one good link", linkName},
		{"eight want one link's name", linkRace},
		{"a link lets browsers in", linkEnters},
		{"a revoked link ends its sessions", linkRevoked},
		{"a link of the same name is another", linkAgain},
		{"a name has one good link, however it is written", linkFolded},
		{"a link that has ended lets nobody in", linkEnds},
		{"a rotated link ends its sessions", linkRotated},
		{"open sessions are listed", sessionsListed},
		{"a session ends when it is left", sessionLeft},
		{"a session ends when nobody uses it", sessionIdle},
		{"uses are kept to the minute", sessionUses},
		{"a link is revoked while browsers come in", linkRevokedMeanwhile},
		{"a cancelled context lets nobody in", accessCancelled},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, open(t)) })
	}
}

// hash is a hash of the suite; no two are alike.
func hash(n int) (h access.Hash) {
	copy(h[:], fmt.Sprintf("hash %d", n))
	return h
}

func link(name string, n int) access.Token {
	return access.Token{Name: name, Hash: hash(n), Scope: access.Ask, Made: at(n)}
}

// never is an idle time before everything.
var never = at(0).Add(-time.Hour)

func mustLink(t *testing.T, s access.Store, l access.Token) {
	t.Helper()
	if added, err := s.AddToken(t.Context(), l); !added || err != nil {
		t.Fatalf("AddToken(%s) = %v, %v; want added", l.Name, added, err)
	}
}

// enter begins the session n by the link l.
func enter(t *testing.T, s access.Store, l, n int, want string) {
	t.Helper()
	got, ok, err := s.Enter(t.Context(), hash(l), access.Session{Hash: hash(n), Made: at(n), Used: at(n)}, never)
	if err != nil || ok != (want != "") || got.Name != want {
		t.Errorf("Enter by %d = %+v, %v, %v; want %q", l, got, ok, err, want)
	}
}

// finds looks for the session n.
func finds(t *testing.T, s access.Store, n int, want string) {
	t.Helper()
	got, ok, err := s.Session(t.Context(), hash(n), at(n), never)
	if err != nil || ok != (want != "") || got.Name != want {
		t.Errorf("Session %d = %+v, %v, %v; want %q", n, got, ok, err, want)
	}
}

func links(t *testing.T, s access.Store) []access.Token {
	t.Helper()
	all, err := s.Tokens(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func linkFields(t *testing.T, s access.Store) {
	if got := links(t, s); len(got) != 0 {
		t.Errorf("an empty store has the links %+v", got)
	}
	want := []access.Token{
		{Name: "anna", Hash: hash(1), Scope: access.Read, Made: at(1), Ends: at(9)},
		{Name: "bjørn", Hash: hash(2), Scope: access.Duty, Made: at(2), Revoked: at(3), LastUsed: at(4)},
	}
	mustLink(t, s, want[1])
	mustLink(t, s, want[0])
	same(t, "links", links(t, s), want)
}

func linkName(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	if added, err := s.AddToken(t.Context(), link("anna", 2)); added || err != nil {
		t.Errorf("a second anna: %v, %v", added, err)
	}
	same(t, "links", links(t, s), []access.Token{link("anna", 1)})
	for _, name := range []string{"bo", ""} {
		if found, err := s.RevokeToken(t.Context(), name, at(3)); found || err != nil {
			t.Errorf("RevokeToken(%q) = %v, %v", name, found, err)
		}
	}
}

func linkRace(t *testing.T, s access.Store) {
	var added atomic.Int32
	var wg sync.WaitGroup
	for i := range 8 {
		wg.Go(func() {
			ok, err := s.AddToken(t.Context(), link("anna", i))
			if err != nil {
				t.Errorf("AddToken: %v", err)
			}
			if ok {
				added.Add(1)
			}
		})
	}
	wg.Wait()
	if added.Load() != 1 || len(links(t, s)) != 1 {
		t.Errorf("%d links were added, %d are there; want one", added.Load(), len(links(t, s)))
	}
}

func linkEnters(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	mustLink(t, s, link("bo", 2))
	enter(t, s, 9, 11, "")
	finds(t, s, 11, "")
	enter(t, s, 1, 11, "anna")
	enter(t, s, 1, 12, "anna")
	enter(t, s, 2, 13, "bo")
	for n, want := range map[int]string{11: "anna", 12: "anna", 13: "bo", 14: "", 1: ""} {
		finds(t, s, n, want)
	}
	got, ok, err := s.Session(t.Context(), hash(13), at(13), never)
	want := link("bo", 2)
	want.LastUsed = at(13)
	if !ok || err != nil {
		t.Fatalf("Session = %v, %v", ok, err)
	}
	same(t, "the session's link", got, want)
}

func linkRevoked(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	mustLink(t, s, link("bo", 2))
	enter(t, s, 1, 11, "anna")
	enter(t, s, 2, 12, "bo")
	for i, want := range []bool{true, false} {
		if found, err := s.RevokeToken(t.Context(), "anna", at(20+i)); found != want || err != nil {
			t.Errorf("RevokeToken = %v, %v; want %v", found, err, want)
		}
	}
	finds(t, s, 11, "")
	finds(t, s, 12, "bo")
	enter(t, s, 1, 13, "")
	if got := links(t, s)[0]; !got.Revoked.Equal(at(20)) {
		t.Errorf("the link was revoked at %v, want %v", got.Revoked, at(20))
	}
}

func linkAgain(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	enter(t, s, 1, 11, "anna")
	if _, err := s.RevokeToken(t.Context(), "anna", at(20)); err != nil {
		t.Fatal(err)
	}
	mustLink(t, s, link("anna", 2))
	same(t, "links", links(t, s), []access.Token{link("anna", 2)})
	finds(t, s, 11, "")
	enter(t, s, 1, 12, "")
	enter(t, s, 2, 13, "anna")
}

func linkFolded(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	for _, name := range []string{"Anna", "ANNA", "ＡＮＮＡ", "an-na", "anna."} {
		if added, err := s.AddToken(t.Context(), link(name, 2)); added || err != nil {
			t.Errorf("%s beside anna: %v, %v", name, added, err)
		}
	}
	if _, err := s.RevokeToken(t.Context(), "anna", at(20)); err != nil {
		t.Fatal(err)
	}
	mustLink(t, s, link("Anna", 3))
	if added, err := s.AddToken(t.Context(), link("anna", 4)); added || err != nil {
		t.Errorf("anna beside Anna: %v, %v", added, err)
	}
}

func linkEnds(t *testing.T, s access.Store) {
	l := link("anna", 1)
	l.Ends = at(30)
	mustLink(t, s, l)
	enter(t, s, 1, 29, "anna")
	finds(t, s, 29, "anna")
	enter(t, s, 1, 30, "")
	if _, ok, err := s.Session(t.Context(), hash(29), at(30), never); ok || err != nil {
		t.Errorf("a session of a link that has ended: %v, %v", ok, err)
	}
	if added, err := s.AddToken(t.Context(), link("Anna", 29)); added || err != nil {
		t.Errorf("Anna while anna's is good: %v, %v", added, err)
	}
	mustLink(t, s, link("anna", 40))
	enter(t, s, 40, 41, "anna")
	enter(t, s, 1, 29, "")
}

func linkRotated(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	mustLink(t, s, link("bo", 2))
	enter(t, s, 1, 11, "anna")
	enter(t, s, 2, 12, "bo")
	if found, err := s.RotateToken(t.Context(), "anna", hash(3), at(20), at(60)); !found || err != nil {
		t.Fatalf("RotateToken = %v, %v", found, err)
	}
	finds(t, s, 11, "")
	finds(t, s, 12, "bo")
	enter(t, s, 1, 21, "")
	enter(t, s, 3, 22, "anna")
	enter(t, s, 3, 60, "")
	got := links(t, s)[0]
	want := access.Token{Name: "anna", Hash: hash(3), Scope: access.Ask, Made: at(20), Ends: at(60), LastUsed: at(22)}
	same(t, "the rotated link", got, want)
	if _, err := s.RevokeToken(t.Context(), "anna", at(23)); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"anna", "nobody"} {
		if found, err := s.RotateToken(t.Context(), name, hash(4), at(24), time.Time{}); found || err != nil {
			t.Errorf("RotateToken(%s) = %v, %v", name, found, err)
		}
	}
}

func sessionsListed(t *testing.T, s access.Store) {
	ends := link("cy", 3)
	ends.Ends = at(40)
	mustLink(t, s, link("anna", 1))
	mustLink(t, s, link("bo", 2))
	mustLink(t, s, ends)
	for _, e := range [][2]int{{1, 11}, {1, 12}, {2, 13}, {3, 14}} {
		enter(t, s, e[0], e[1], map[int]string{1: "anna", 2: "bo", 3: "cy"}[e[0]])
	}
	if _, err := s.RevokeToken(t.Context(), "bo", at(20)); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		at, idle int
		want     []access.Open
	}{
		{39, 0, []access.Open{{Link: "anna", Made: at(12), Used: at(12)}, {Link: "anna", Made: at(11), Used: at(11)}, {Link: "cy", Made: at(14), Used: at(14)}}},
		{40, 12, []access.Open{{Link: "anna", Made: at(12), Used: at(12)}}},
	} {
		got, err := s.Sessions(t.Context(), at(c.at), at(c.idle))
		if err != nil {
			t.Fatal(err)
		}
		same(t, "sessions", got, c.want)
	}
}

func sessionLeft(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	enter(t, s, 1, 11, "anna")
	enter(t, s, 1, 12, "anna")
	for range 2 {
		if err := s.Leave(t.Context(), hash(11)); err != nil {
			t.Errorf("Leave: %v", err)
		}
	}
	finds(t, s, 11, "")
	finds(t, s, 12, "anna")
}

func sessionIdle(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	enter(t, s, 1, 11, "anna")
	enter(t, s, 1, 12, "anna")
	if _, ok, err := s.Session(t.Context(), hash(11), at(60), at(11).Add(time.Second)); ok || err != nil {
		t.Errorf("a session that was idle: %v, %v", ok, err)
	}
	if _, ok, err := s.Session(t.Context(), hash(12), at(60), at(11)); !ok || err != nil {
		t.Errorf("a session that was used: %v, %v", ok, err)
	}
	// Whoever comes in sweeps: an idle session is not found again.
	if _, ok, err := s.Enter(t.Context(), hash(1), access.Session{Hash: hash(13), Made: at(61), Used: at(61)}, at(30)); !ok || err != nil {
		t.Errorf("Enter = %v, %v", ok, err)
	}
	finds(t, s, 11, "")
	finds(t, s, 12, "anna")
}

func sessionUses(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	enter(t, s, 1, 11, "anna")
	begun := at(11)
	for _, c := range []struct{ after, want time.Duration }{
		{0, 0}, {59 * time.Second, 0}, {access.UseStep, access.UseStep}, {access.UseStep + 30*time.Second, access.UseStep}, {time.Hour, time.Hour},
	} {
		if _, ok, err := s.Session(t.Context(), hash(11), begun.Add(c.after), never); !ok || err != nil {
			t.Fatalf("Session = %v, %v", ok, err)
		}
		if got := links(t, s)[0].LastUsed; !got.Equal(begun.Add(c.want)) {
			t.Errorf("%v later the link was last used at %v, want %v", c.after, got, begun.Add(c.want))
		}
	}
}

// linkRevokedMeanwhile: whoever comes in while a link is revoked is not let in
// by a new one of its name.
func linkRevokedMeanwhile(t *testing.T, s access.Store) {
	for round := range 10 {
		name, n := fmt.Sprintf("anna-%d", round), 100*(round+1)
		mustLink(t, s, link(name, n))
		var wg sync.WaitGroup
		for i := range 4 {
			wg.Go(func() {
				if _, _, err := s.Enter(t.Context(), hash(n), access.Session{Hash: hash(n + i + 1), Made: at(1), Used: at(1)}, never); err != nil {
					t.Errorf("Enter: %v", err)
				}
			})
		}
		wg.Go(func() {
			if _, err := s.RevokeToken(t.Context(), name, at(2)); err != nil {
				t.Errorf("RevokeToken: %v", err)
			}
		})
		wg.Wait()
		mustLink(t, s, link(name, n+50))
		for i := range 4 {
			finds(t, s, n+i+1, "")
		}
	}
}

func accessCancelled(t *testing.T, s access.Store) {
	mustLink(t, s, link("anna", 1))
	enter(t, s, 1, 11, "anna")
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for name, call := range map[string]func() error{
		"AddToken": func() error { _, err := s.AddToken(ctx, link("bo", 2)); return err },
		"Tokens":   func() error { _, err := s.Tokens(ctx); return err },
		"RotateToken": func() error {
			_, err := s.RotateToken(ctx, "anna", hash(5), at(3), time.Time{})
			return err
		},
		"Sessions":    func() error { _, err := s.Sessions(ctx, at(3), never); return err },
		"RevokeToken": func() error { _, err := s.RevokeToken(ctx, "anna", at(3)); return err },
		"Enter": func() error {
			_, _, err := s.Enter(ctx, hash(1), access.Session{Hash: hash(12), Made: at(1), Used: at(1)}, never)
			return err
		},
		"Session": func() error { _, _, err := s.Session(ctx, hash(11), at(3), never); return err },
		"Leave":   func() error { return s.Leave(ctx, hash(11)) },
	} {
		if err := call(); !errors.Is(err, context.Canceled) {
			t.Errorf("%s with a cancelled context: %v", name, err)
		}
	}
	finds(t, s, 11, "anna")
	finds(t, s, 12, "")
	if got := links(t, s); len(got) != 1 || !got[0].Revoked.IsZero() {
		t.Errorf("after cancelled calls there are %+v", got)
	}
}
