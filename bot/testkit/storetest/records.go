package storetest

import (
	"encoding/hex"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/record"
	"firn/bot/reply"
)

// made is the n-th record of the suite.
func made(n int) record.Result {
	return record.Result{
		ID: fmt.Sprintf("KALOMI-%04d", n), Version: 1, Surface: "slack", Thread: "T1", Message: fmt.Sprint(n),
		Asked: record.Person{Address: "slack:U1", Name: "Anna"}, Text: "XKLD -38 8200", At: at(n), Expires: at(n).Add(6 * time.Hour),
		Numbers: []record.Number{{PublishedFt: 8200, CorrectedFt: 8990, NeedFt: 8983.5, StepFt: 10}},
		Reply:   reply.Reply{Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", Known: true}},
	}
}

// fullMade sets every field.
func fullMade() record.Result {
	return record.Result{
		ID: "KALOMI-RUTA", Version: 2, Replaces: "KALOMI-RUTO", Shown: "KALOMI-RUTI",
		Surface: "slack", Thread: "C1/1.2", Channel: "slack:C1", Direct: true, Team: true, Message: "1768480000.000100",
		Asked: record.Person{Address: "slack:U1", Name: "Anna “A” <b>", Via: "0123456789abcdef"}, Text: "xkld m38 8200 \u2028", Line: "XKLD -38 8200",
		At: at(1), Expires: at(7), Measured: at(2), Restriction: reply.Some(-25), Engine: "1",
		Numbers: []record.Number{{Label: "FAF", PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 1.0 / 3, StepFt: 100, Required: true}},
		Reply:   fullReply(),
	}
}

// changes are one of each kind, with every field set in one of them.
func changes() []record.Change {
	bo := record.Person{Address: "discord:2", Name: "Bo", Via: "fedcba9876543210"}
	k := record.Check{By: bo, At: at(11), How: record.Blind, Compared: []record.Compared{
		{Label: "FAF", PublishedFt: 8200, CorrectedFt: 9000, NeedFt: 8983.333333333334, EnteredFt: 8890, Agrees: false},
	}}
	return []record.Change{
		{Kind: record.KindDisagreed, By: bo, At: at(11), Check: &k},
		{Kind: record.KindWithdrawn, By: bo, At: at(12), Withdrawn: 1},
		{Kind: record.KindRecompute, At: at(13), Noticed: &record.Noticed{At: at(13), Rev: 3, C: -41.3, Source: "METAR (folder)", Text: "colder", Observed: true, Forecast: true}},
		{Kind: record.KindExpired, At: at(14)},
		{Kind: record.KindPosted, By: bo, At: at(14)},
		{Kind: record.KindReplaced, By: bo, At: at(15), Replaced: &record.Replacement{By: "KALOMI-RUTO", At: at(15), Deleted: true}},
	}
}

// expired is a change that ends a record.
func expired(n int) record.Change { return record.Change{Kind: record.KindExpired, At: at(n)} }

func mustAdd(t testing.TB, s Store, want record.Added, all ...record.Result) {
	t.Helper()
	got, err := s.AddRecords(t.Context(), all)
	if err != nil || len(got) != len(all) {
		t.Fatalf("AddRecords = %v, %v", got, err)
	}
	for i, a := range got {
		if a != want {
			t.Errorf("AddRecords(%s) = %d, want %d", all[i].ID, a, want)
		}
	}
}

func mustFind(t testing.TB, s Store, id string) record.Record {
	t.Helper()
	r, found, err := s.Record(t.Context(), id)
	if err != nil || !found {
		t.Fatalf("Record(%q): found %v, %v", id, found, err)
	}
	return r
}

func mustApply(t testing.TB, s Store, r record.Record, c record.Change) record.Record {
	t.Helper()
	mustHold(t, "Apply "+string(c.Kind), true)(s.Apply(t.Context(), r, c))
	r.Status = r.With(c)
	return r
}

// mustBeSound proves the history.
func mustBeSound(t testing.TB, s Store) record.Report {
	t.Helper()
	rep, err := record.Verify(t.Context(), s)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range rep.Findings {
		t.Errorf("history: %s", f.Text)
	}
	return rep
}

func recordOnce(t *testing.T, s Store) {
	mustAdd(t, s, record.Fresh, made(1))
	again := made(1)
	again.ID, again.Text = "another", "changed"
	mustAdd(t, s, record.Already, made(1), again)
	other := made(2)
	other.ID = made(1).ID
	mustAdd(t, s, record.Taken, other)
	elsewhere := made(1)
	elsewhere.ID, elsewhere.Surface = "elsewhere", "discord"
	mustAdd(t, s, record.Fresh, elsewhere)
	same(t, "the first", mustFind(t, s, made(1).ID), record.Record{Result: made(1)})
	bad := made(4)
	bad.Numbers = []record.Number{{NeedFt: math.NaN()}}
	if _, err := s.AddRecords(t.Context(), []record.Result{made(3), bad}); err == nil {
		t.Error("a record without a figure is kept")
	}
	if _, found, err := s.Record(t.Context(), made(3).ID); found || err != nil {
		t.Errorf("one of several that failed is there: %v, %v", found, err)
	}
	if rep := mustBeSound(t, s); rep.Entries != 2 || rep.Records != 2 {
		t.Errorf("%d entries for %d records, want 2 for 2", rep.Entries, rep.Records)
	}
}

func recordFields(t *testing.T, s Store) {
	m := fullMade()
	full(t, "Made", reflect.ValueOf(m))
	mustAdd(t, s, record.Fresh, m)
	r := mustFind(t, s, m.ID)
	same(t, "made", r.Result, m)
	for _, c := range changes() {
		r = mustApply(t, s, r, c)
		same(t, "after "+string(c.Kind), mustFind(t, s, m.ID), r)
	}
	live := r.Status
	live.Checks[0].Compared[0].Agrees = true
	full(t, "Live", reflect.ValueOf(live))
	mustBeSound(t, s)
}

func recordReplaced(t *testing.T, s Store) {
	first, second, third := made(1), made(2), made(3)
	second.Replaces, second.Version = first.ID, 2
	third.Replaces, third.Version = first.ID, 2
	mustAdd(t, s, record.Fresh, first, second)
	mustAdd(t, s, record.Fresh, third) // it stands, and the place is taken
	old := mustFind(t, s, first.ID)
	same(t, "the first", old.Status, record.Status{Rev: 1, Replaced: &record.Replacement{By: second.ID, At: second.At}})
	same(t, "the third", mustFind(t, s, third.ID).Status, record.Status{})
	gone := made(4)
	gone.Replaces = "nobody"
	mustAdd(t, s, record.Fresh, gone)
	mustBeSound(t, s)
}

func recordRevision(t *testing.T, s Store) {
	mustAdd(t, s, record.Fresh, made(1), made(2))
	r := mustFind(t, s, made(1).ID)
	c := changes()
	mustApply(t, s, r, c[0])
	mustHold(t, "Apply behind another", false)(s.Apply(t.Context(), r, c[3]))
	mustHold(t, "the same deed again", false)(s.Apply(t.Context(), r, c[0]))
	mustHold(t, "Apply to nothing", false)(s.Apply(t.Context(), record.Record{Result: record.Result{ID: "x"}}, c[0]))
	same(t, "another record", mustFind(t, s, made(2).ID).Status, record.Status{})
	if rep := mustBeSound(t, s); rep.Entries != 3 {
		t.Errorf("%d entries, want 3", rep.Entries)
	}
}

// Press lets several do a deed to one record at once, each as it read it: one
// does it. The stores are on one database.
func Press(t *testing.T, stores ...Store) {
	t.Helper()
	const rounds = 12
	for i := range rounds {
		mustAdd(t, stores[0], record.Fresh, made(i))
		r := mustFind(t, stores[0], made(i).ID)
		var held atomic.Int32
		var wg sync.WaitGroup
		start := make(chan struct{})
		for _, s := range stores {
			wg.Go(func() {
				<-start
				ok, err := s.Apply(t.Context(), r, changes()[0])
				if err != nil {
					t.Error(err)
				}
				if ok {
					held.Add(1)
				}
			})
		}
		close(start)
		wg.Wait()
		if held.Load() != 1 {
			t.Errorf("round %d: %d of %d did it, want one", i, held.Load(), len(stores))
		}
		if n := len(mustFind(t, stores[0], r.ID).Checks); n != 1 {
			t.Errorf("round %d: %d checks are kept", i, n)
		}
	}
	mustBeSound(t, stores[0])
}

func list(t testing.TB, s Store, q record.Query) string {
	t.Helper()
	var ids []string
	if err := s.EachRecord(t.Context(), q, func(r record.Record) error {
		n, err := strconv.Atoi(strings.TrimPrefix(r.ID, "KALOMI-"))
		ids = append(ids, strconv.Itoa(n))
		if err != nil {
			return err
		}
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	return strings.Join(ids, " ")
}

func recordQueries(t *testing.T, s Store) {
	all := []record.Result{made(1), made(2), made(3), made(4), made(5), made(6)}
	all[1].Reply.Station.Ident, all[3].Reply.Station.Ident = "XRUN", "XRUN"
	all[2].Thread = "T2"
	all[2].Reply.Station = reply.Station{Known: true} // an elevation alone
	all[4].Surface = "discord"
	all[5].At = all[4].At // the same instant: by name
	all[5].Reply.Procedure = "rnav 31"
	all[1].Asked.Name, all[4].Asked.Name = "Bo Ek", "Åse “A” <B>"
	all[4].Asked.Address, all[5].Asked.Address = "discord:2_b", "slack:å"
	mustAdd(t, s, record.Fresh, all...)
	mustApply(t, s, mustFind(t, s, all[0].ID), expired(1))
	mustApply(t, s, mustFind(t, s, all[3].ID), changes()[5])
	mustApply(t, s, mustFind(t, s, all[2].ID), changes()[0])
	for _, c := range []struct {
		name string
		q    record.Query
		want string
	}{
		{"all", record.Query{}, "1 2 3 4 5 6"},
		{"newest", record.Query{Newest: true}, "6 5 4 3 2 1"},
		{"the newest two", record.Query{Newest: true, Limit: 2}, "6 5"},
		{"from and to", record.Query{From: at(2), To: at(4)}, "2 3"},
		{"from an instant between", record.Query{From: at(2).Add(time.Microsecond)}, "3 4 5 6"},
		{"a station", record.Query{Station: "XRUN"}, "2 4"},
		{"no such station", record.Query{Station: "XHGH"}, ""},
		{"of no station", record.Query{Nowhere: true}, "3"},
		{"a thread", record.Query{Surface: "slack", Thread: "T1"}, "1 2 4 6"},
		{"a thread's last", record.Query{Surface: "slack", Thread: "T1", Newest: true, Limit: 1}, "6"},
		{"live", record.Query{Live: true}, "2 3 5 6"},
		{"live of a station", record.Query{Live: true, Station: "XRUN"}, "2"},
		{"over", record.Query{Over: true}, "1 4"},
		{"over, since", record.Query{Over: true, From: at(2)}, "4"},
		{"due", record.Query{Due: at(3).Add(6 * time.Hour)}, "2 3"},
		{"nothing due", record.Query{Due: at(1)}, ""},
		{"by an account", record.Query{By: []string{"discord:2_b"}}, "5"},
		{"the newest by one of two", record.Query{By: []string{"slack:å", "discord:2_b"}, Live: true, Newest: true, Limit: 1}, "6"},
		{"by an account of other letters", record.Query{By: []string{"slack:å"}}, "6"},
		{"by no such account", record.Query{By: []string{"discord:2"}}, ""},
		{"a person who asked", record.Query{Text: "bo ek"}, "2"},
		{"a person who asked or checked", record.Query{Text: "BO"}, "2 3"},
		{"a name of other letters", record.Query{Text: "åse “a” <b"}, "5"},
		{"such letters alone", record.Query{Text: "Å"}, "5"},
		{"a part of a name", record.Query{Text: "kalomi-0004"}, "4"},
		{"a station as text", record.Query{Text: "xrun", Newest: true}, "4 2"},
		{"an approach", record.Query{Text: "XKLD RNAV 31"}, "6"},
		{"the newest of a person", record.Query{Text: "anna", Newest: true, Limit: 2}, "6 4"},
		{"no such person", record.Query{Text: "nobody%"}, ""},
		{"what is no name", record.Query{Text: "correction"}, ""},
	} {
		if got := list(t, s, c.q); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
	recordViewers(t, s)
	stop := errors.New("stop")
	n := 0
	if err := s.EachRecord(t.Context(), record.Query{}, func(record.Record) error { n++; return stop }); !errors.Is(err, stop) || n != 1 {
		t.Errorf("yield's error: %v after %d, want it after one", err, n)
	}
	// Whoever goes through them may change them.
	if err := s.EachRecord(t.Context(), record.Query{Live: true}, func(r record.Record) error {
		mustApply(t, s, r, expired(20))
		return nil
	}); err != nil {
		t.Fatal(err)
	}
	if got := list(t, s, record.Query{Live: true}); got != "" {
		t.Errorf("live after all expired: %q", got)
	}
}

// recordViewers: of what was asked in direct messages a query gives the own and
// what was posted, with as many as were wanted.
func recordViewers(t *testing.T, s Store) {
	all := []record.Result{made(7), made(8), made(9)}
	for i := range all {
		all[i].Surface, all[i].Thread, all[i].Direct = "discord", "D", true
	}
	all[1].Asked.Address = "slack:U2"
	mustAdd(t, s, record.Fresh, all...)
	anna, bo := record.Viewer{Accounts: []string{"slack:U1"}}, record.Viewer{Accounts: []string{"discord:2", "slack:U2"}}
	see := func(name string, want string, v *record.Viewer, limit int) {
		t.Helper()
		if got := list(t, s, record.Query{Surface: "discord", Thread: "D", For: v, Newest: true, Limit: limit}); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	see("whoever runs firn", "9 8 7", nil, 0)
	see("who asked two", "9 7", &anna, 0)
	see("by one of several accounts", "8", &bo, 0)
	see("a stranger", "", &record.Viewer{}, 0)
	see("as many as were wanted", "9 7", &anna, 2)
	mustApply(t, s, mustFind(t, s, all[2].ID), record.Change{Kind: record.KindPosted, By: all[2].Asked, At: at(20)})
	see("posted", "9 8", &bo, 0)
	see("posted, of one", "9", &bo, 1)
	if r := mustFind(t, s, all[2].ID); r.Private() || !bo.Sees(r) || bo.Sees(mustFind(t, s, all[0].ID)) {
		t.Errorf("the viewer and the query differ on %+v", r)
	}
	mustBeSound(t, s)
}

func recordThousand(t *testing.T, s Store) {
	var all []record.Result
	for i := range 1000 {
		m := made(i)
		m.At = at(i / 7) // several at one instant
		all = append(all, m)
	}
	for i := 0; i < len(all); i += 250 {
		mustAdd(t, s, record.Fresh, all[i:i+250]...)
	}
	for _, newest := range []bool{false, true} {
		n := 0
		if err := s.EachRecord(t.Context(), record.Query{Newest: newest}, func(r record.Record) error {
			want := n
			if newest {
				want = 999 - n
			}
			if r.ID != made(want).ID {
				t.Fatalf("newest %v: the %d-th is %s, want %s", newest, n, r.ID, made(want).ID)
			}
			n++
			return nil
		}); err != nil {
			t.Fatal(err)
		}
		if n != 1000 {
			t.Errorf("newest %v: %d records, want 1000", newest, n)
		}
	}
	if rep := mustBeSound(t, s); rep.Entries != 1000 || rep.Head.Seq != 1000 {
		t.Errorf("%d entries, head %d, want 1000", rep.Entries, rep.Head.Seq)
	}
}

// untold are the cards that are behind, as surface/ref told-want.
func untold(t testing.TB, s Store, now time.Time) string {
	t.Helper()
	all, err := s.Untold(t.Context(), now, 10)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range all {
		out = append(out, fmt.Sprintf("%s/%s %d-%d", m.Surface, m.Ref, m.Told, m.Want))
	}
	return strings.Join(out, ", ")
}

func cards(t *testing.T, s Store) {
	ctx := t.Context()
	mustAdd(t, s, record.Fresh, made(1))
	a := record.Mark{Surface: "slack", Ref: "a", Record: made(1).ID}
	b := record.Mark{Surface: "discord", Ref: "b", Record: made(1).ID}
	if err := s.AddCards(ctx, []record.Mark{a, b}); err != nil {
		t.Fatal(err)
	}
	if got := untold(t, s, later); got != "" {
		t.Errorf("before any deed: %q", got)
	}
	r := mustApply(t, s, mustFind(t, s, made(1).ID), changes()[0])
	if got := untold(t, s, later); got != "discord/b 0-1, slack/a 0-1" {
		t.Errorf("after a deed: %q", got)
	}
	c := record.Mark{Surface: "page", Ref: "c", Record: made(1).ID}
	if err := s.AddCards(ctx, []record.Mark{c}); err != nil {
		t.Fatal(err)
	}
	if got := untold(t, s, later); got != "discord/b 0-1, page/c 0-1, slack/a 0-1" {
		t.Errorf("a card that comes after the deed: %q", got)
	}
	told := a
	told.Told = 1
	mustHold(t, "SetMark", true)(s.SetMark(ctx, a, told))
	mustHold(t, "SetMark again", false)(s.SetMark(ctx, a, told))
	wait := b
	wait.Tries, wait.Again = 1, at(30)
	mustHold(t, "SetMark, later", true)(s.SetMark(ctx, b, wait))
	if got := untold(t, s, at(29)); got != "page/c 0-1" {
		t.Errorf("at 29: %q", got)
	}
	if got := untold(t, s, at(30)); got != "page/c 0-1, discord/b 0-1" {
		t.Errorf("at 30: %q", got)
	}
	all, err := s.Untold(ctx, at(30), 10)
	if err != nil || len(all) != 2 {
		t.Fatal(all, err)
	}
	wait.Want = 1
	same(t, "mark", all[1], wait)
	if all, err := s.Untold(ctx, later, 1); err != nil || len(all) != 1 {
		t.Errorf("a limit of one gives %v, %v", all, err)
	}
	mustApply(t, s, r, changes()[1])
	if got := untold(t, s, later); got != "page/c 0-2, slack/a 1-2, discord/b 0-2" {
		t.Errorf("after another deed: %q", got)
	}
	if err := s.DropCard(ctx, "page", "c"); err != nil {
		t.Fatal(err)
	}
	if id, found, err := s.CardOf(ctx, "page", "c"); found || err != nil {
		t.Errorf("a card that was dropped: %q, %v, %v", id, found, err)
	}
	if id, found, err := s.CardOf(ctx, "slack", "a"); !found || err != nil || id != made(1).ID {
		t.Errorf("CardOf = %q, %v, %v", id, found, err)
	}
}

func cardsWith(t *testing.T, s Store) {
	add := func(want record.Added, cards []record.Mark, all ...record.Result) {
		t.Helper()
		got, err := s.AddRecords(t.Context(), all, cards...)
		if err != nil || got[len(got)-1] != want {
			t.Errorf("AddRecords = %v, %v, want %d in the end", got, err, want)
		}
	}
	shows := func(ref, want string) {
		t.Helper()
		if id, found, err := s.CardOf(t.Context(), "slack", ref); id != want || found != (want != "") || err != nil {
			t.Errorf("card %s shows %q, %v, %v, want %q", ref, id, found, err, want)
		}
	}
	card := func(ref string, of record.Result) record.Mark {
		return record.Mark{Surface: "slack", Ref: ref, Record: of.ID}
	}
	add(record.Fresh, []record.Mark{card("a", made(1)), card("b", made(2))}, made(1), made(2))
	shows("a", made(1).ID)
	shows("b", made(2).ID)

	// The card of the record that is replaced shows the next one.
	next := made(3)
	next.Replaces = made(1).ID
	add(record.Fresh, []record.Mark{card("a", next)}, next)
	shows("a", next.ID)
	if got := untold(t, s, later); got != "" {
		t.Errorf("behind: %q", got)
	}

	// No card where a record stood, or its name was taken.
	taken := made(5)
	taken.ID = made(2).ID
	add(record.Already, []record.Mark{card("c", made(4))}, made(4), made(1))
	add(record.Taken, []record.Mark{card("b", made(6)), card("d", made(6))}, made(6), taken)
	shows("b", made(2).ID)
	shows("c", "")
	shows("d", "")

	// All or none.
	bad := card("e\x00", made(7))
	if _, err := s.AddRecords(t.Context(), []record.Result{made(7)}, card("e", made(7)), bad); err == nil {
		t.Error("a card without a text is kept")
	}
	shows("e", "")
	if _, found, err := s.Record(t.Context(), made(7).ID); found || err != nil {
		t.Errorf("the record of a card that failed is there: %v, %v", found, err)
	}
	mustBeSound(t, s)
}

func cardMoves(t *testing.T, s Store) {
	ctx := t.Context()
	next := made(2)
	next.Replaces = made(1).ID
	mustAdd(t, s, record.Fresh, made(1))
	card := record.Mark{Surface: "slack", Ref: "a", Record: made(1).ID, Told: 0}
	if err := s.AddCards(ctx, []record.Mark{card}); err != nil {
		t.Fatal(err)
	}
	mustAdd(t, s, record.Fresh, next)
	card.Record = next.ID
	if err := s.AddCards(ctx, []record.Mark{card}); err != nil {
		t.Fatal(err)
	}
	if id, _, err := s.CardOf(ctx, "slack", "a"); id != next.ID || err != nil {
		t.Errorf("the card shows %q, %v, want %q", id, err, next.ID)
	}
	if got := untold(t, s, later); got != "" {
		t.Errorf("the old record still wants its card: %q", got)
	}
	was := card
	was.Record = made(1).ID
	mustHold(t, "a mark of the old record", false)(s.SetMark(ctx, was, card))
	never := record.Mark{Surface: "slack", Ref: "n", Record: next.ID, Told: -1}
	if err := s.AddCards(ctx, []record.Mark{never}); err != nil {
		t.Fatal(err)
	}
	if got := untold(t, s, later); got != "slack/n -1-0" {
		t.Errorf("a card that shows nothing right: %q", got)
	}
}

func cardMarked(t *testing.T, s Store) {
	ctx := t.Context()
	mustAdd(t, s, record.Fresh, made(1))
	was := record.Mark{Surface: "slack", Ref: "a", Record: made(1).ID}
	if err := s.AddCards(ctx, []record.Mark{was}); err != nil {
		t.Fatal(err)
	}
	is := was
	is.Tries = 3
	var said atomic.Int32
	var wg sync.WaitGroup
	for range 8 {
		wg.Go(func() {
			held, err := s.SetMark(ctx, was, is)
			if err != nil {
				t.Error(err)
			}
			if held {
				said.Add(1)
			}
		})
	}
	wg.Wait()
	if said.Load() != 1 {
		t.Errorf("%d say it, want one", said.Load())
	}
}

func historySound(t *testing.T, s Store) {
	if rep := mustBeSound(t, s); rep.Entries != 0 || rep.Head.Seq != 0 {
		t.Errorf("an empty history has %+v", rep)
	}
	mustAdd(t, s, record.Fresh, made(1), made(2))
	r := mustFind(t, s, made(1).ID)
	for _, c := range changes() {
		r = mustApply(t, s, r, c)
	}
	rep := mustBeSound(t, s)
	if rep.Entries != 8 || rep.Records != 2 || rep.Head.Seq != 8 {
		t.Errorf("report %+v, want 8 entries of 2 records", rep)
	}
	// Each holds the hash of the one before.
	prev := strings.Repeat("0", 64)
	head, err := s.Walk(t.Context(), func(e record.Sealed) error {
		if !strings.Contains(string(e.Body), `"prev":"`+prev+`"`) {
			t.Errorf("entry %d does not hold %s: %s", e.Seq, prev, e.Body)
		}
		prev = hex.EncodeToString(e.Hash)
		return nil
	}, func(record.Stored) error { return nil })
	if err != nil || hex.EncodeToString(head.Hash[:]) != prev {
		t.Errorf("head %x, %v, want %s", head.Hash, err, prev)
	}
}

func historyTouched(t *testing.T, s Store) {
	ctx := t.Context()
	touched := func(after, to int64, limit int, want string) {
		t.Helper()
		ids, last, err := s.Touched(ctx, after, to, limit)
		if got := fmt.Sprint(ids, " ", last); err != nil || got != want {
			t.Errorf("entries after %d up to %d, at most %d: %s, %v; want %s", after, to, limit, got, err, want)
		}
	}
	end := func(want int64) {
		t.Helper()
		if got, err := s.Head(ctx); err != nil || got.Seq != want {
			t.Errorf("the last entry is %d, %v, want %d", got, err, want)
		}
	}
	end(0)
	touched(0, 9, 9, "[] 0")
	one, two := made(1).ID, made(2).ID
	mustAdd(t, s, record.Fresh, made(1), made(2))
	mustApply(t, s, mustFind(t, s, one), changes()[0])
	end(3)
	touched(0, 3, 9, "["+one+" "+two+"] 3")
	touched(0, 3, 2, "["+one+" "+two+"] 2")
	touched(1, 3, 9, "["+two+" "+one+"] 3")
	touched(0, 1, 9, "["+one+"] 1")
	touched(3, 3, 9, "[] 3")
	touched(7, 9, 9, "[] 7")
}

// Write lets several append to one history at once. The stores are on one
// database.
func Write(t *testing.T, stores ...Store) {
	t.Helper()
	const each = 15
	var wg sync.WaitGroup
	for w, s := range stores {
		wg.Go(func() {
			for i := range each {
				m := made(100*w + i)
				mustAdd(t, s, record.Fresh, m)
				if held, err := s.Apply(t.Context(), record.Record{Result: m}, changes()[0]); !held || err != nil {
					t.Errorf("Apply to %s: %v, %v", m.ID, held, err)
				}
			}
		})
	}
	wg.Wait()
	if rep := mustBeSound(t, stores[0]); rep.Entries != 2*each*len(stores) || rep.Head.Seq != int64(rep.Entries) {
		t.Errorf("%d entries, head %d, want %d", rep.Entries, rep.Head.Seq, 2*each*len(stores))
	}
}

func mustPrune(t testing.TB, s Store, before time.Time, want int) {
	t.Helper()
	if n, err := s.Prune(t.Context(), before, later); n != want || err != nil {
		t.Errorf("Prune before %v = %d, %v, want %d", before, n, err, want)
	}
}

func pruned(t *testing.T, s Store) {
	mustPrune(t, s, later, 0)
	for i := range 6 {
		mustAdd(t, s, record.Fresh, made(i))
		mustApply(t, s, mustFind(t, s, made(i).ID), expired(i))
	}
	if err := s.AddCards(t.Context(), []record.Mark{{Surface: "slack", Ref: "a", Record: made(1).ID}}); err != nil {
		t.Fatal(err)
	}
	mustPrune(t, s, at(0), 0)
	mustPrune(t, s, at(2), 2)
	if got := list(t, s, record.Query{}); got != "2 3 4 5" {
		t.Errorf("left: %q", got)
	}
	if _, found, err := s.CardOf(t.Context(), "slack", "a"); found || err != nil {
		t.Errorf("the card of a record that went: %v, %v", found, err)
	}
	if rep := mustBeSound(t, s); rep.Pruned != 4 || rep.Entries != 9 {
		t.Errorf("report %+v, want 9 entries behind 4", rep)
	}
	mustPrune(t, s, at(2), 0)
	mustPrune(t, s, at(4), 2)
	mustAdd(t, s, record.Fresh, made(7))
	if rep := mustBeSound(t, s); rep.Pruned != 8 {
		t.Errorf("report %+v, want those up to 8 gone", rep)
	}
	mustApply(t, s, mustFind(t, s, made(7).ID), expired(7))
	mustPrune(t, s, later, 3)
	mustPrune(t, s, later, 0)
	mustAdd(t, s, record.Fresh, made(1)) // its message may come again
	mustBeSound(t, s)
}

func prunedNot(t *testing.T, s Store) {
	mustAdd(t, s, record.Fresh, made(0), made(1), made(2), made(3))
	mustApply(t, s, mustFind(t, s, made(1).ID), expired(1))
	mustPrune(t, s, later, 0) // the oldest lives
	mustApply(t, s, mustFind(t, s, made(0).ID), expired(1))
	mustPrune(t, s, later, 0) // its last entry lies behind those that live
	mustApply(t, s, mustFind(t, s, made(2).ID), expired(1))
	mustApply(t, s, mustFind(t, s, made(3).ID), expired(1))
	mustPrune(t, s, at(3), 0) // and behind one that is not old
	if got := list(t, s, record.Query{}); got != "0 1 2 3" {
		t.Errorf("left: %q", got)
	}
	mustPrune(t, s, later, 4)
	if rep := mustBeSound(t, s); rep.Records != 0 || rep.Entries != 1 {
		t.Errorf("report %+v, want the pruning alone", rep)
	}
}

// Tampered changes the history and the records by SQL, as somebody with the
// database would, and looks whether that is found. open gives an empty store
// and what runs a statement on its database.
func Tampered(t *testing.T, open func(t *testing.T) (s Store, run func(statement string))) {
	for _, c := range []struct {
		name  string
		run   []string
		wants []string
	}{
		{"nothing", nil, nil},
		{"an entry is changed", []string{"UPDATE history SET body = (SELECT body FROM history WHERE seq = 2) WHERE seq = 3"},
			[]string{"entry 3 (KALOMI-0003) was changed: its hash is another"}},
		{"an entry is changed with its hash", []string{
			"UPDATE history SET body = (SELECT body FROM history WHERE seq = 2), hash = (SELECT hash FROM history WHERE seq = 2), record = 'KALOMI-0002' WHERE seq = 3"},
			[]string{"entry 2 (KALOMI-0002) stands in the place of entry 3"}},
		{"an entry is missing", []string{"DELETE FROM history WHERE seq = 3"}, []string{"entry 3 is missing"}},
		{"two entries are missing", []string{"DELETE FROM history WHERE seq IN (3, 4)"}, []string{"entries 3 to 4 are missing"}},
		{"two entries are swapped", []string{
			"UPDATE history SET seq = 99 WHERE seq = 2", "UPDATE history SET seq = 2 WHERE seq = 3", "UPDATE history SET seq = 3 WHERE seq = 99"},
			[]string{"entry 3 (KALOMI-0003) stands in the place of entry 2", "entry 2 (KALOMI-0002) stands in the place of entry 3"}},
		{"the first is missing", []string{"DELETE FROM history WHERE seq = 1"}, []string{"the entries before 2 are missing, and no retention took them"}},
		{"the last is missing", []string{"DELETE FROM history WHERE seq = 6"}, []string{"the entries after 5 are missing: there were 6"}},
		{"all are missing", []string{"DELETE FROM history"}, []string{"all entries up to 6 are missing"}},
		{"all is emptied, and the head's number with it", []string{"DELETE FROM history", "DELETE FROM record", "UPDATE history_head SET seq = 0"},
			[]string{"the history is empty, and its head has the hash of an entry: all entries were removed"}},
		{"the last is missing with its record, and the head's number", []string{"DELETE FROM history WHERE seq >= 5", "DELETE FROM record WHERE id = 'KALOMI-0005'", "UPDATE history_head SET seq = 4"},
			[]string{"entry 4 is not the one that the head of the history names: it was changed with its hash, or put there later, or what followed was cut off"}},
		{"a record is changed", []string{"UPDATE record SET made = replace(made, '8990', '8960') WHERE id = 'KALOMI-0002'"},
			[]string{"record KALOMI-0002 was changed after it was made"}},
		{"a check is added", []string{"UPDATE record SET live = (SELECT live FROM record WHERE id = 'KALOMI-0001') WHERE id = 'KALOMI-0002'"},
			[]string{"what was done to record KALOMI-0002 is not what the history says"}},
		{"a check is taken away", []string{"UPDATE record SET live = (SELECT live FROM record WHERE id = 'KALOMI-0002') WHERE id = 'KALOMI-0001'"},
			[]string{"what was done to record KALOMI-0001 is not what the history says"}},
		{"a station is changed", []string{"UPDATE record SET station = 'XRUN' WHERE id = 'KALOMI-0003'"},
			[]string{"what record KALOMI-0003 is found by was changed"}},
		{"a thread is changed", []string{"UPDATE record SET thread = 'elsewhere' WHERE id = 'KALOMI-0003'"},
			[]string{"what record KALOMI-0003 is found by was changed"}},
		{"a time is changed", []string{"UPDATE record SET asked = (SELECT asked FROM record WHERE id = 'KALOMI-0004'), expires = (SELECT expires FROM record WHERE id = 'KALOMI-0001') WHERE id = 'KALOMI-0003'"},
			[]string{"what record KALOMI-0003 is found by was changed"}},
		{"a record is hidden from all but one", []string{"UPDATE record SET owner = 'slack:U1' WHERE id = 'KALOMI-0003'"},
			[]string{"what record KALOMI-0003 is found by was changed"}},
		{"a record is put away", []string{"UPDATE record SET over = (1 = 1) WHERE id = 'KALOMI-0003'"},
			[]string{"what record KALOMI-0003 is found by was changed"}},
		{"a record is missing", []string{"DELETE FROM record WHERE id = 'KALOMI-0004'"}, []string{"record KALOMI-0004 is missing"}},
		{"a record is put in", []string{"INSERT INTO record SELECT 'KALOMI-9999', surface, 'other', thread, station, asked, expires, made, rev, over, live, owner FROM record WHERE id = 'KALOMI-0002'"},
			[]string{"record KALOMI-9999 is in no entry of the history"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s, run := open(t)
			mustAdd(t, s, record.Fresh, made(1), made(2), made(3), made(4), made(5))
			mustApply(t, s, mustFind(t, s, made(1).ID), changes()[0])
			for _, q := range c.run {
				run(q)
			}
			rep, err := record.Verify(t.Context(), s)
			if err != nil {
				t.Fatal(err)
			}
			var found []string
			for _, f := range rep.Findings {
				found = append(found, f.Text)
			}
			if (len(found) == 0) != (len(c.wants) == 0) {
				t.Errorf("found %q, want %q", found, c.wants)
			}
			for _, want := range c.wants {
				if !strings.Contains(strings.Join(found, "\n"), want) {
					t.Errorf("found %q, want %q", found, want)
				}
			}
		})
	}
}
