package record_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"pgregory.net/rapid"

	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// shop is a book with everything around it in memory. Its clock is the
// bubble's.
type shop struct {
	version string // of the rule set that recomputes; empty: the record's
	*record.Book
	t     *testing.T
	store *storetest.Memory

	mu      sync.Mutex
	shown   []string // what the cards showed, in order
	fails   map[string]error
	told    map[string]bool // the keys of what was told
	c       engine.Celsius
	at      time.Time // of the observation; zero: there is none
	arrived time.Time
	outlook []weather.Forecast
}

// newShop makes a shop with a store of its own.
func newShop(t *testing.T, change func(*record.Options)) *shop {
	s := &shop{t: t, store: storetest.NewMemory(time.Now), fails: map[string]error{}, told: map[string]bool{}}
	s.Book = s.another(change)
	return s
}

// another is one more replica.
func (s *shop) another(change func(*record.Options)) *record.Book {
	o := record.Options{Settings: set, Cards: s, Teller: s, Observer: s, Forecaster: s, Computer: s}
	if change != nil {
		change(&o)
	}
	b := record.New(slog.New(slog.DiscardHandler), time.Now, s.store, o)
	s.t.Cleanup(b.Close)
	return b
}

func (s *shop) Change(_ context.Context, surface, ref string, c record.Message) error {
	return s.show("change", surface, ref, c, c.Reply.Record.Title())
}

// Outdated keeps what is told once by its key, as the outbox does.
// Ended is told in the tests of bot/app.
func (s *shop) Ended(context.Context, record.Record, *record.Result) error { return nil }

func (s *shop) Outdated(_ context.Context, o record.Outdated) error {
	summary := s.Summary(o)
	s.mu.Lock()
	first := !s.told[o.Key()]
	s.told[o.Key()] = first && s.fails["tell"] == nil || !first
	s.mu.Unlock()
	if !first {
		return nil
	}
	return s.show("tell", o.Base, "", record.Message{Reply: summary}, strings.Join(summary.Facts, " "))
}

func (s *shop) show(what, surface, ref string, c record.Message, text string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.shown = append(s.shown, fmt.Sprintf("%s %s/%s: %s", what, surface, ref, text))
	for _, a := range c.Reply.Actions {
		if a.Whole != "" && a.Message != a.Whole {
			s.t.Errorf("the button %q on a card asks %q alone", a.ID, a.Message)
		}
	}
	return s.fails[what]
}

// saw are what the cards showed since the last call.
func (s *shop) saw() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	out := strings.Join(s.shown, "\n")
	s.shown = nil
	return out
}

func (s *shop) fail(what string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fails[what] = err
}

func (s *shop) Observation(context.Context, string) (weather.Reading, error) {
	if s.at.IsZero() {
		return weather.Reading{}, weather.ErrNone
	}
	return weather.Reading{Observation: weather.Observation{Ident: "XKLD", C: s.c, At: s.at, Source: "METAR (folder)"}, Arrived: s.arrived}, nil
}

func (s *shop) Forecasts(context.Context, string) ([]weather.Forecast, error) {
	if s.outlook == nil {
		return nil, weather.ErrNone
	}
	return s.outlook, nil
}

// Recompute adds ten feet a degree below -38.
func (s *shop) Recompute(_ context.Context, line string, c engine.Celsius) (record.Figures, error) {
	if line == "odd" {
		return record.Figures{}, errors.New("odd")
	}
	f := record.Figures{Required: c <= -25, Numbers: append([]record.Number(nil), result().Numbers...), Version: s.version}
	for i := range f.Numbers {
		f.Numbers[i].CorrectedFt += 10 * float64(-38-c)
	}
	return f, nil
}

// ask makes a result of a message, and shows its card.
func (s *shop) ask(b *record.Book, message string, change func(*record.Result)) record.Record {
	s.t.Helper()
	m := result().Result
	m.Message, m.At = message, time.Now()
	if change != nil {
		change(&m)
	}
	r, err := b.Make(s.t.Context(), m, nil)
	if err != nil {
		s.t.Fatal(err)
	}
	if err := b.Shown(s.t.Context(), "slack", "card-"+message, r.ID); err != nil {
		s.t.Fatal(err)
	}
	return r
}

func (s *shop) do(b *record.Book, id string, d record.Action, done bool, says string) record.Record {
	s.t.Helper()
	r, o, err := b.Do(s.t.Context(), id, d)
	if err != nil || o.Done != done || !strings.Contains(o.Text, says) {
		s.t.Errorf("%s by %v: done %v, %q, %v; want %v, %q", d.Kind, d.By, o.Done, o.Text, err, done, says)
	}
	return r
}

func (s *shop) state(id string, want record.State) record.Record {
	s.t.Helper()
	r, found, err := s.Find(s.t.Context(), id)
	if err != nil || !found {
		s.t.Fatalf("%s: found %v, %v", id, found, err)
	}
	if got := s.State(r); got != want {
		s.t.Errorf("%s is %s, want %s", id, got, want)
	}
	return r
}

func (s *shop) sound() {
	s.t.Helper()
	rep, err := record.Verify(s.t.Context(), s.store)
	if err != nil || len(rep.Findings) > 0 {
		s.t.Errorf("the history: %+v, %v", rep.Findings, err)
	}
}

// look has a book look once. How much it reads is TestRounds'.
func (s *shop) look(want record.Swept) {
	s.t.Helper()
	got := s.Sweep(s.t.Context())
	if got.Read = 0; got != want {
		s.t.Errorf("Look = %+v, want %+v", got, want)
	}
}

var byBo = record.Action{Kind: record.KindChecked, By: bo}

func TestBook(t *testing.T) {
	for _, c := range []struct {
		name string
		run  func(*shop)
	}{
		{"a check comes before the record is on the disk", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.do(s.Book, r.ID, byBo, true, "checked by Bo")
			s.state(r.ID, record.Checked)
		}},
		{"a message that comes again is one record", func(s *shop) {
			r, again := s.ask(s.Book, "1", nil), s.ask(s.another(nil), "1", nil)
			if r.ID != again.ID {
				s.t.Errorf("one message is %s and %s", r.ID, again.ID)
			}
			time.Sleep(time.Second)
			if third := s.ask(s.Book, "1", nil); third.ID != r.ID {
				s.t.Errorf("and %s", third.ID)
			}
		}},
		{"the last of a thread", func(s *shop) {
			if _, found, err := s.Last(s.t.Context(), "slack", "C1/1"); found || err != nil {
				s.t.Errorf("in an empty store: %v, %v", found, err)
			}
			s.ask(s.Book, "1", nil)
			time.Sleep(time.Second)
			r := s.ask(s.Book, "2", nil)
			s.ask(s.Book, "3", func(m *record.Result) { m.Thread = "C1/2" })
			last, found, err := s.Last(s.t.Context(), "slack", "C1/1")
			if !found || err != nil || last.ID != r.ID {
				s.t.Errorf("Last = %s, %v, %v; want %s", last.ID, found, err, r.ID)
			}
		}},
		{"no record of that name", func(s *shop) {
			s.do(s.Book, "KALOMI-RUTA", byBo, false, "No record is called KALOMI-RUTA")
		}},
		{"a card is changed when something happens", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.do(s.Book, r.ID, byBo, true, "")
			time.Sleep(time.Second)
			s.look(record.Swept{Told: 1})
			if got, want := s.saw(), "change slack/card-1: Record "+r.ID+": checked"; got != want {
				s.t.Errorf("saw %q, want %q", got, want)
			}
			s.look(record.Swept{})
			s.do(s.Book, r.ID, record.Action{Kind: record.KindWithdrawn, By: bo}, true, "")
			s.do(s.Book, r.ID, record.Action{Kind: record.KindChecked, By: cy}, true, "")
			s.look(record.Swept{Told: 1})
			if got, want := s.saw(), "change slack/card-1: Record "+r.ID+": checked"; got != want {
				s.t.Errorf("after two deeds saw %q, want the last state once: %q", got, want)
			}
		}},
		{"a card that cannot be changed is tried again", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.do(s.Book, r.ID, byBo, true, "")
			time.Sleep(time.Second)
			s.fail("change", errors.New("down"))
			s.look(record.Swept{Failed: 1})
			s.look(record.Swept{}) // not yet
			time.Sleep(10 * time.Second)
			s.look(record.Swept{Failed: 1})
			s.fail("change", nil)
			time.Sleep(20 * time.Second)
			s.look(record.Swept{Told: 1})
			s.fail("change", outbox.Permanent(errors.New("deleted")))
			s.do(s.Book, r.ID, record.Action{Kind: record.KindWithdrawn, By: bo}, true, "")
			s.look(record.Swept{Failed: 1})
			time.Sleep(time.Hour)
			s.look(record.Swept{})
		}},
		{"a restart forgets nothing", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.Book.Close()
			after := s.another(nil)
			s.do(after, r.ID, byBo, true, "")
			if l := after.Sweep(s.t.Context()); l.Told != 1 {
				s.t.Errorf("after a restart: %+v", l)
			}
			if _, err := s.Book.Make(s.t.Context(), result().Result, nil); err == nil {
				s.t.Error("a book that is closed takes a result")
			}
		}},
		{"newer weather changes a figure", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.do(s.Book, r.ID, byBo, true, "")
			time.Sleep(time.Second)
			s.c, s.at = -41, r.At
			s.look(record.Swept{Told: 1}) // no newer than the result
			s.saw()
			time.Sleep(time.Hour)
			s.at = time.Now()
			s.look(record.Swept{Noticed: 1, Told: 1})
			s.state(r.ID, record.Recompute)
			got := s.saw()
			for _, want := range []string{"change slack/card-1: Record " + r.ID + ": recompute", "tell XKLD/: XKLD −41 now: 1 card out of date: " + r.ID + " (−38, Anna).", "FAF 8200: 9000 becomes 9030; DA 5340: 5480 becomes 5510"} {
				if !strings.Contains(got, want) {
					s.t.Errorf("saw %q, want %q in it", got, want)
				}
			}
			s.look(record.Swept{})
			s.do(s.Book, r.ID, record.Action{Kind: record.KindChecked, By: cy}, false, "does not hold any more")
		}},
		{"a forecast changes a figure", func(s *shop) {
			s.ask(s.Book, "1", nil)
			time.Sleep(time.Hour)
			s.outlook = []weather.Forecast{{Ident: "XKLD", Forecast: coldwatch.Forecast{
				Source: "TAF", Issued: time.Now(), Hourly: []coldwatch.Sample{{At: time.Now().Add(time.Hour), C: -44}},
			}}}
			s.look(record.Swept{Noticed: 1, Told: 1})
		}},
		{"two replicas notice", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			time.Sleep(time.Hour)
			s.c, s.at = -41, time.Now()
			other := s.another(nil)
			var wg sync.WaitGroup
			for _, b := range []*record.Book{s.Book, other, s.Book, other} {
				wg.Go(func() { b.Sweep(s.t.Context()) })
			}
			wg.Wait()
			if n := len(s.state(r.ID, record.Recompute).Noticed); n != 1 {
				s.t.Errorf("noticed %d times", n)
			}
			if n := strings.Count(s.saw(), "tell "); n != 1 {
				s.t.Errorf("told %d times", n)
			}
		}},
		{"nine are told once", func(s *shop) {
			var ids []string
			for i := range 9 {
				r := s.ask(s.Book, fmt.Sprint(i), func(m *record.Result) { m.At = m.At.Add(time.Duration(i) * time.Second) })
				ids = append(ids, r.ID)
			}
			time.Sleep(time.Hour)
			s.c, s.at = -45, time.Now()
			s.look(record.Swept{Noticed: 9, Told: 9})
			got := s.saw()
			if n := strings.Count(got, "tell "); n != 1 || !strings.Contains(got, "XKLD −45 now: 9 cards out of date: "+ids[0]+" (−38, Anna), "+ids[1]) {
				s.t.Errorf("told %d times: %s", n, got)
			}
			s.at = time.Now().Add(time.Second) // the same again, typed anew
			s.look(record.Swept{})
		}},
		{"what cannot be told is told after the outage, once", func(s *shop) {
			s.ask(s.Book, "1", nil)
			time.Sleep(time.Hour)
			s.c, s.at = -41, time.Now()
			s.fail("tell", errors.New("down"))
			s.look(record.Swept{Noticed: 1, Told: 1, Failed: 1})
			s.fail("tell", nil)
			s.saw()
			time.Sleep(time.Minute)
			s.look(record.Swept{})
			s.look(record.Swept{})
			if n := strings.Count(s.saw(), "tell "); n != 1 {
				s.t.Errorf("told %d times", n)
			}
		}},
		{"killed before it was told", func(s *shop) {
			s.ask(s.Book, "1", nil)
			time.Sleep(time.Hour)
			s.c, s.at = -41, time.Now()
			dead := s.another(func(o *record.Options) { o.Cards, o.Teller = nil, nil })
			dead.Sweep(s.t.Context())
			time.Sleep(time.Minute)
			s.look(record.Swept{Told: 1})
			if got := s.saw(); strings.Count(got, "tell ") != 1 || !strings.Contains(got, "recompute") {
				s.t.Errorf("saw %q, want the changed card, and that it was told", got)
			}
			time.Sleep(time.Hour)
			s.another(nil).Sweep(s.t.Context())
			if got := s.saw(); strings.Contains(got, "tell ") {
				s.t.Errorf("an hour later it is told again: %s", got)
			}
		}},
		{"a line that cannot be computed again", func(s *shop) {
			s.ask(s.Book, "1", func(m *record.Result) { m.Line = "odd" })
			time.Sleep(time.Hour)
			s.c, s.at = -41, time.Now()
			s.look(record.Swept{Failed: 1})
		}},
		{"it expires by itself", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			time.Sleep(6*time.Hour - time.Second)
			s.look(record.Swept{})
			time.Sleep(time.Second)
			s.do(s.Book, r.ID, byBo, false, "expired")
			s.look(record.Swept{Expired: 1, Told: 1})
			if got := s.saw(); !strings.Contains(got, "expired") {
				s.t.Errorf("saw %q", got)
			}
			s.look(record.Swept{})
			s.state(r.ID, record.Expired)
		}},
		{"the next version", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			s.do(s.Book, r.ID, byBo, true, "")
			next := s.ask(s.Book, "2", func(m *record.Result) { m.Replaces, m.Version = r.ID, 2 })
			if got := s.state(next.ID, record.Unchecked); got.Version != 2 {
				s.t.Errorf("version %d, want 2", got.Version)
			}
			s.state(r.ID, record.Replaced)
			s.do(s.Book, r.ID, record.Action{Kind: record.KindChecked, By: cy}, false, "was replaced by "+next.ID)
			time.Sleep(time.Second)
			s.look(record.Swept{Told: 1})
			if got := s.saw(); !strings.Contains(got, "card-1: Record "+r.ID+": replaced") {
				s.t.Errorf("saw %q", got)
			}
		}},
		{"a question that is deleted", func(s *shop) {
			first := s.ask(s.Book, "C1/1", nil)
			edited := s.ask(s.Book, "C1/1/edited/2", func(m *record.Result) { m.Replaces, m.Version = first.ID, 2 })
			other := s.ask(s.Book, "C1/3", nil)
			after := s.ask(s.Book, "C1/4", func(m *record.Result) { m.Replaces, m.Version = other.ID, 2 })
			time.Sleep(time.Second)
			s.look(record.Swept{Told: 2})
			s.saw()
			for _, id := range []string{"C1/1", "C1/1", "C1/3", "C1/9"} {
				if err := s.Deleted(s.t.Context(), "slack", id); err != nil {
					s.t.Errorf("Deleted(%q) = %v", id, err)
				}
			}
			r := s.state(edited.ID, record.Replaced)
			if s.Unchecked(r) || !r.Replaced.Deleted {
				s.t.Errorf("it still waits for a check, or nobody knows why not: %+v", r.Status)
			}
			s.state(after.ID, record.Unchecked) // somebody's own message asked on
			s.do(s.Book, edited.ID, byBo, false, "its question was deleted")
			s.look(record.Swept{Told: 1})
			if got := s.saw(); !strings.Contains(got, "card-C1/1/edited/2: Record "+edited.ID+": replaced") {
				s.t.Errorf("saw %q", got)
			}
		}},
		{"a card that shows another record, then none", func(s *shop) {
			r := s.ask(s.Book, "1", nil)
			time.Sleep(time.Second)
			next := s.ask(s.Book, "2", func(m *record.Result) { m.Replaces, m.Version = r.ID, 2 })
			if err := s.Shown(s.t.Context(), "slack", "card-1", next.ID); err != nil {
				s.t.Fatal(err)
			}
			time.Sleep(time.Second)
			if on, found, err := s.On(s.t.Context(), "slack", "card-1"); !found || err != nil || on.ID != next.ID {
				s.t.Errorf("On = %s, %v, %v; want %s", on.ID, found, err, next.ID)
			}
			if err := s.Shown(s.t.Context(), "slack", "card-1", ""); err != nil {
				s.t.Fatal(err)
			}
			time.Sleep(time.Second)
			s.do(s.Book, next.ID, byBo, false, "its message became another one")
			if _, found, err := s.On(s.t.Context(), "slack", "card-1"); found || err != nil {
				s.t.Errorf("the card still shows it: %v, %v", found, err)
			}
		}},
		{"a name that is taken", func(s *shop) {
			probe := newShop(s.t, nil)
			id := probe.ask(probe.Book, "1", nil).ID
			other := result().Result
			other.ID, other.Message, other.Text = id, "long ago", "another"
			if _, err := s.store.AddRecords(s.t.Context(), []record.Result{other}); err != nil {
				s.t.Fatal(err)
			}
			r := s.ask(s.Book, "1", nil)
			if r.ID != id {
				s.t.Fatalf("%s, want the name that is taken, %s", r.ID, id)
			}
			time.Sleep(time.Second)
			got, found, err := s.Find(s.t.Context(), id)
			if err != nil || !found || got.ID == id || got.Shown != id || got.Message != "1" {
				s.t.Errorf("Find = %s, first %s, of message %s; %v, %v", got.ID, got.Shown, got.Message, found, err)
			}
			s.Sweep(s.t.Context())
			if got, want := s.saw(), "change slack/card-1: Record "+got.ID+": unchecked"; got != want {
				s.t.Errorf("saw %q, want the new name: %q", got, want)
			}
		}},
		{"the old go", func(s *shop) {
			b := s.another(func(o *record.Options) { o.Settings.Retain = 7 * 24 * time.Hour })
			s.ask(b, "1", nil)
			b.Sweep(s.t.Context())
			time.Sleep(7 * time.Hour)
			if l := b.Sweep(s.t.Context()); l.Expired != 1 || l.Pruned != 0 {
				s.t.Errorf("Look = %+v", l)
			}
			time.Sleep(8 * 24 * time.Hour)
			s.ask(b, "2", nil)
			time.Sleep(time.Second)
			if l := b.Sweep(s.t.Context()); l.Pruned != 1 {
				s.t.Errorf("Look = %+v, want one gone", l)
			}
		}},
		{"text that is no text", func(s *shop) {
			r := s.ask(s.Book, "1", func(m *record.Result) { m.Text = "XKLD \xff -38" })
			if got := s.state(r.ID, record.Unchecked); got.Text != "XKLD \ufffd -38" {
				s.t.Errorf("text %q", got.Text)
			}
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t, nil)
				c.run(s)
				time.Sleep(time.Second)
				s.sound()
			})
		})
	}
}

// Everybody presses at once, some twice, on two replicas: one is told that it
// is done, the others what happened first.
func TestPressRaces(t *testing.T) {
	s := newShop(t, nil)
	other := s.another(nil)
	for round := range 20 {
		r := s.ask(s.Book, fmt.Sprint(round), nil)
		var done, told atomic.Int32
		var wg sync.WaitGroup
		for i, p := range []record.Person{bo, bo, boD, cy, cy, anna, annaD} {
			b := s.Book
			if i%2 == 1 {
				b = other
				if _, found, err := s.Find(t.Context(), r.ID); !found || err != nil {
					t.Fatal(found, err)
				}
			}
			wg.Go(func() {
				_, o, err := b.Do(t.Context(), r.ID, record.Action{Kind: record.KindChecked, By: p})
				switch {
				case err != nil:
					t.Error(err)
				case o.Done:
					done.Add(1)
				case strings.Contains(o.Text, "already checked") || strings.Contains(o.Text, "your own"):
					told.Add(1)
				default:
					t.Errorf("%v is told %q", p, o.Text)
				}
			})
		}
		wg.Wait()
		if done.Load() != 1 || told.Load() != 6 {
			t.Errorf("round %d: done for %d, told %d; want 1 and 6", round, done.Load(), told.Load())
		}
		if n := len(s.state(r.ID, record.Checked).Checks); n != 1 {
			t.Errorf("round %d: %d checks", round, n)
		}
	}
	s.sound()
}

// One checks while the author amends: the check is on the old version or
// refused, and never on the new one.
func TestCheckWhileAmended(t *testing.T) {
	s := newShop(t, nil)
	for round := range 20 {
		r := s.ask(s.Book, fmt.Sprint("a", round), nil)
		if _, _, err := s.Find(t.Context(), r.ID); err != nil {
			t.Fatal(err)
		}
		var o record.Outcome
		var next record.Record
		var wg sync.WaitGroup
		wg.Go(func() {
			time.Sleep(time.Duration(round*5) * time.Millisecond)
			var err error
			if _, o, err = s.Do(t.Context(), r.ID, byBo); err != nil {
				t.Error(err)
			}
		})
		wg.Go(func() {
			next = s.ask(s.Book, fmt.Sprint("b", round), func(m *record.Result) { m.Replaces, m.Version = r.ID, 2 })
		})
		wg.Wait()
		s.state(next.ID, record.Unchecked)
		old := s.state(r.ID, record.Replaced)
		if o.Done != (len(old.Checks) == 1) || !o.Done && !strings.Contains(o.Text, "replaced by "+next.ID) {
			t.Errorf("round %d: done %v, %q, %d checks", round, o.Done, o.Text, len(old.Checks))
		}
	}
	s.sound()
}

// slow is a store that fails at first, and refuses some records for ever.
type slow struct {
	record.Store
	calls, fails atomic.Int32
}

func (s *slow) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	if s.calls.Add(1) <= s.fails.Load() {
		return nil, errors.New("down")
	}
	for _, m := range all {
		if m.Text == "bad" {
			return nil, errors.New("bad")
		}
	}
	return s.Store.AddRecords(ctx, all, cards...)
}

func TestBehind(t *testing.T) {
	for _, c := range []struct {
		name  string
		fails int32
		bad   int
		want  int
	}{
		{"all are kept", 0, -1, 1000},
		{"a store that is down for a while", 3, -1, 1000},
		{"one bad record costs no other", 0, 7, 999},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				memory := storetest.NewMemory(time.Now)
				store := &slow{Store: memory}
				store.fails.Store(c.fails)
				b := record.New(slog.New(slog.DiscardHandler), time.Now, store, record.Options{})
				start := time.Now()
				for i := range 1000 {
					m := result().Result
					m.Message = fmt.Sprint(i)
					if i == c.bad {
						m.Text = "bad"
					}
					if _, err := b.Make(t.Context(), m, nil); err != nil {
						t.Fatal(err)
					}
				}
				if d := time.Since(start); d > 0 {
					t.Errorf("a thousand answers waited %v", d)
				}
				b.Close()
				b.Close()
				rep, err := record.Verify(t.Context(), memory)
				if err != nil || len(rep.Findings) > 0 || rep.Records != c.want {
					t.Errorf("%d are kept, want %d: %+v, %v", rep.Records, c.want, rep.Findings, err)
				}
				if n := store.calls.Load(); c.fails == 0 && c.bad < 0 && n > 8 {
					t.Errorf("%d transactions for a thousand, want few", n)
				}
			})
		})
	}
}

func TestRender(t *testing.T) {
	r := result()
	k := record.Check{By: bo, At: noon.Add(8 * time.Minute), How: record.Confirmed}
	mountain := time.FixedZone("", -7*3600)
	here := set
	here.Zone = func(string) *time.Location { return mountain }
	disagrees := record.Check{By: bo, At: noon.Add(8 * time.Minute), How: record.Blind, Compared: []record.Compared{record.Compare(r.Numbers[0], 8890), record.Compare(r.Numbers[1], 5480)}}
	for _, c := range []struct {
		name    string
		change  func(*record.Record)
		at      time.Duration
		state   string
		above   string
		lines   string
		actions string
	}{
		{"as it was made", func(*record.Record) {}, time.Minute, "unchecked", "",
			"Computed by Anna at 05:00 local (12:00Z).", "why check recompute"},
		{"checked", func(r *record.Record) { r.Checks = []record.Check{k} }, time.Hour, "checked", "",
			"Computed by Anna at 05:00 local (12:00Z).|Checked by Bo at 05:08 local (12:08Z).", "why recompute"},
		{"withdrawn", func(r *record.Record) { k := k; k.Withdrawn = noon.Add(time.Hour); r.Checks = []record.Check{k} }, time.Hour, "unchecked", "",
			"Computed by Anna at 05:00 local (12:00Z).|Checked by Bo at 05:08 local (12:08Z); withdrawn at 06:00 local (13:00Z).", "why check recompute"},
		{"disagreed", func(r *record.Record) { r.Checks = []record.Check{disagrees} }, time.Hour, "disagreed",
			"Disagreed: KALOMI-RUTA, by Bo. FAF 8200: 8890 entered, 110 ft below the card's 9000.",
			"Computed by Anna at 05:00 local (12:00Z).|Disagreed: Bo at 05:08 local (12:08Z). FAF 8200: 8890 entered, 110 ft below the card's 9000.", "why check latest"},
		{"resolved", func(r *record.Record) { k := k; k.By = cy; r.Checks = []record.Check{disagrees, k} }, time.Hour, "checked", "",
			"Computed by Anna at 05:00 local (12:00Z).|Disagreed, resolved since: Bo at 05:08 local (12:08Z). FAF 8200: 8890 entered, 110 ft below the card's 9000.|Checked by Cy at 05:08 local (12:08Z).", "why recompute"},
		{"no longer true", func(r *record.Record) { r.Noticed = []record.Noticed{{Text: "It is colder."}} }, time.Hour, "recompute",
			"Out of date: It is colder.",
			"Computed by Anna at 05:00 local (12:00Z).|Out of date: It is colder.", "why recompute"},
		{"expired, seen the next day", func(r *record.Record) { r.Checks = []record.Check{k} }, 20 * time.Hour, "expired",
			"Expired: KALOMI-RUTA was valid until 11:00 local (18:00Z).",
			"Computed by Anna at 05:00 local (12:00Z).|Checked by Bo at 05:08 local (12:08Z).|Expired at 11:00 local (18:00Z).", "why recompute"},
		{"replaced", func(r *record.Record) { r.Replaced = &record.Replacement{By: "KALOMI-RUTO", At: noon.Add(time.Hour)} }, 2 * time.Hour, "replaced",
			"Replaced by KALOMI-RUTO.",
			"Computed by Anna at 05:00 local (12:00Z).|Replaced by KALOMI-RUTO at 06:00 local (13:00Z).", "why"},
		{"a second version, on the console", func(r *record.Record) {
			r.Version, r.Replaces, r.Asked, r.Reply.Actions = 2, "KALOMI-RUTO", board, r.Reply.Actions[:1]
		}, time.Minute, "unchecked", "",
			"Computed by the console at 05:00 local (12:00Z).|Version 2, in the place of KALOMI-RUTO.", "why check"},
		{"no altitudes", func(r *record.Record) { r.Numbers, r.Reply.Actions = nil, nil }, time.Minute, "noted", "",
			"Computed by Anna at 05:00 local (12:00Z).", ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := result()
			c.change(&r)
			now := noon.Add(c.at)
			f := record.Render(r, now, here)
			if f.Record.State != c.state {
				t.Errorf("state %q, want %q", f.Record.State, c.state)
			}
			if got := strings.Join(f.Record.Lines, "|"); got != c.lines {
				t.Errorf("lines\n got %s\nwant %s", got, c.lines)
			}
			if got := record.Above(r, now, here); got != c.above {
				t.Errorf("above %q, want %q", got, c.above)
			}
			var ids []string
			for _, a := range f.Actions {
				ids = append(ids, a.ID)
				if a.ID == record.ActionCheck && a.Asks() != "check KALOMI-RUTA" {
					t.Errorf("the button asks %q", a.Asks())
				}
			}
			if got := strings.Join(ids, " "); got != c.actions {
				t.Errorf("actions %q, want %q", got, c.actions)
			}
		})
	}
	// What two people disagree on is looked at: only a colder temperature is the way out.
	for c, want := range map[engine.Celsius]string{-37: "why check latest", -38: "why check latest", -41: "why check recompute"} {
		r, set, ids := result(), here, ""
		r.Checks = []record.Check{disagrees}
		set.Known = func(string) (weather.Observation, bool) { return weather.Observation{C: c, At: noon}, true }
		for _, a := range record.Render(r, noon, set).Actions {
			ids += " " + a.ID
		}
		if ids != " "+want {
			t.Errorf("disagreed at −38, and %v now: actions%s, want %s", c, ids, want)
		}
	}
	if len(r.Reply.Actions) != 2 || r.Reply.Record != nil {
		t.Errorf("the record was changed: %+v", r.Reply)
	}
}

func TestLine(t *testing.T) {
	r := result()
	want := "KALOMI-RUTA 12:00Z: XKLD −38 °C, FAF 8200 to 9000; DA 5340 to 5480. Not checked; computed by Anna."
	if got := record.Line(r, noon, set); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	r.Reply.Stops = []reply.Stop{{Code: reply.StopBaro, Text: "Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV."}}
	want = "KALOMI-RUTA 12:00Z: XKLD −38 °C, FAF 8200 to 9000; DA 5340 to 5480. Baro LNAV/VNAV NA below −28 (chart): SBAS, compensation, or LNAV. Not checked; computed by Anna."
	if got := record.Line(r, noon, set); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	r.Reply.Stops, r.Reply.Station = nil, reply.Station{ElevationFt: 4802, Known: true}
	r.Checks = []record.Check{{By: bo, At: noon}}
	want = "KALOMI-RUTA Thu 15 Jan 12:00Z: Field 4802 ft −38 °C, FAF 8200 to 9000; DA 5340 to 5480. Expired; computed by Anna, checked by Bo."
	if got := record.Line(r, noon.AddDate(0, 0, 1), set); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// A brief is held against the observations of its arrivals: it is said once
// when one is at or below the temperature from which on figures change, and
// again when it has gone on by more than the step.
func TestBriefIsHeld(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		arrival := time.Now().Add(100 * time.Minute)
		r := s.ask(s.Book, "1", func(m *record.Result) {
			m.Text, m.Line, m.Numbers = "brief XKLD 1430", "brief XKLD 1430", nil
			m.Reply = reply.Reply{Kind: reply.KindBrief, Arrivals: []reply.Arrival{{
				Station: reply.Station{Ident: "XKLD", Known: true}, At: arrival.UTC(), TemperatureC: reply.Some(-31), RecomputeC: reply.Some(-33),
			}}}
		})
		if !r.Expires.Equal(arrival.Add(time.Hour).UTC().Truncate(time.Microsecond)) {
			t.Errorf("it expires at %v, want an hour after the arrival, %v", r.Expires, arrival.Add(time.Hour))
		}
		step := func(c engine.Celsius, want int, says string) {
			t.Helper()
			time.Sleep(20 * time.Minute)
			s.c, s.at = c, time.Now()
			if l := s.Sweep(t.Context()); l.Noticed != want || l.Failed > 0 {
				t.Errorf("at %v: %+v, want %d noticed", c, l, want)
			}
			if saw := s.saw(); says == "" && strings.Contains(saw, "tell ") || !strings.Contains(saw, says) {
				t.Errorf("at %v the cards showed %q, want %q", c, saw, says)
			}
		}
		step(-32, 0, "")
		step(-33, 1, "tell XKLD/: XKLD: 1 card out of date: "+r.ID+" (brief XKLD, Anna). XKLD is −33 °C (METAR (folder), observed")
		step(-33, 0, "")
		step(-31, 0, "")
		step(-40, 1, "XKLD is −40 °C")
		time.Sleep(2 * time.Hour)
		s.c, s.at = -50, time.Now()
		if l := s.Sweep(t.Context()); l.Noticed != 0 || l.Expired != 1 {
			t.Errorf("after the arrival: %+v, want it expired", l)
		}
		if line := s.Line(r); !strings.Contains(line, "brief XKLD") {
			t.Errorf("its line is %q", line)
		}
	})
}

// TestBriefHoursBegin: what was observed before a brief of a later hour was made counts
// from when the hours around its arrival begin, as it does for a brief made then.
func TestBriefHoursBegin(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		s.c, s.at = -36, time.Now()
		time.Sleep(5 * time.Minute)
		arrival := time.Now().Add(70 * time.Minute)
		s.ask(s.Book, "1", func(m *record.Result) {
			m.Text, m.Line, m.Numbers = "brief XKLD 1430", "brief XKLD 1430", nil
			m.Reply = reply.Reply{Kind: reply.KindBrief, Arrivals: []reply.Arrival{{
				Station: reply.Station{Ident: "XKLD", Known: true}, At: arrival.UTC(), TemperatureC: reply.Some(-31), RecomputeC: reply.Some(-33),
			}}}
		})
		for m := range 13 {
			want := 0
			if m == 10 { // an hour before the arrival; it is said once
				want = 1
			}
			if l := s.Sweep(t.Context()); l.Noticed != want || l.Failed > 0 {
				t.Errorf("%d min after it was made: %+v, want %d noticed", m, l, want)
			}
			time.Sleep(time.Minute)
		}
		if saw := s.saw(); !strings.Contains(saw, "XKLD is −36 °C (METAR (folder), observed") {
			t.Errorf("the cards showed %q", saw)
		}
	})
}

// TestBriefWithoutFiguresIsHeld: a brief without a procedure is held by the temperature
// that it was made with, and one that knew none by the restriction.
func TestBriefWithoutFiguresIsHeld(t *testing.T) {
	for name, tt := range map[string]struct {
		arrival    reply.Arrival
		holds, not engine.Celsius
		says       string
	}{
		"a temperature":    {reply.Arrival{TemperatureC: reply.Some(-31), RestrictionC: reply.Some(-25)}, -31.5, -32, "XKLD is −32 °C (METAR (folder), observed "},
		"none was known":   {reply.Arrival{RestrictionC: reply.Some(-25)}, -24, -25, "at or below the restriction temperature, −25 °C, and the brief knew no temperature: recompute."},
		"nothing to go by": {reply.Arrival{}, -40, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				s := newShop(t, nil)
				tt.arrival.Station, tt.arrival.At = reply.Station{Ident: "XKLD", Known: true}, time.Now().Add(time.Hour).UTC()
				s.ask(s.Book, "1", func(m *record.Result) {
					m.Text, m.Line, m.Numbers = "brief XKLD 1430", "brief XKLD 1430", nil
					m.Reply = reply.Reply{Kind: reply.KindBrief, Arrivals: []reply.Arrival{tt.arrival}}
				})
				sweep := func(c engine.Celsius, want int) {
					t.Helper()
					time.Sleep(20 * time.Minute)
					s.c, s.at = c, time.Now()
					if l := s.Sweep(t.Context()); l.Noticed != want || l.Failed > 0 {
						t.Errorf("at %v: %+v, want %d noticed", c, l, want)
					}
				}
				sweep(tt.holds, 0)
				if tt.says == "" {
					return
				}
				s.saw()
				sweep(tt.not, 1)
				if saw := s.saw(); !strings.Contains(saw, tt.says) {
					t.Errorf("the cards showed %q, want %q", saw, tt.says)
				}
			})
		})
	}
}

// A result that an older version of a rule set made keeps its answer: that the
// present one has other figures is no news, only the weather is.
func TestOlderVersionKeepsItsAnswer(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		s.version = "2"
		r := s.ask(s.Book, "1", func(m *record.Result) {
			m.Reply.RulesVersion = "1"
			m.Numbers = append([]record.Number(nil), m.Numbers...)
			m.Numbers[0].CorrectedFt += 100 // as version 1 had it
		})
		step := func(c engine.Celsius, want int, says string) {
			t.Helper()
			time.Sleep(20 * time.Minute)
			s.c, s.at = c, time.Now()
			l := s.Sweep(t.Context())
			if saw := s.saw(); l.Noticed != want || l.Failed > 0 || !strings.Contains(saw, says) {
				t.Errorf("at %v: %+v, the cards showed %q, want %d noticed, %q", c, l, saw, want, says)
			}
		}
		step(-38, 0, "")
		if got := s.state(r.ID, record.Unchecked); got.Numbers[0].CorrectedFt != result().Numbers[0].CorrectedFt+100 {
			t.Errorf("its figure is %v, want the one it was made with", got.Numbers[0].CorrectedFt)
		}
		step(-39, 1, "1 card out of date")
	})
}

// A round reads what another process made, what was done, and what stands at
// stations whose weather is not what it was.
func TestRounds(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := newShop(t, nil)
		other := s.another(nil)
		s.c, s.at = -38, time.Now().Add(-time.Hour)
		ask := func(b *record.Book, message string, change func(*record.Result)) record.Record {
			r := s.ask(b, message, change)
			time.Sleep(time.Minute)
			return r
		}
		reads := func(when string, b *record.Book, read, noticed int) {
			t.Helper()
			time.Sleep(time.Minute)
			if l := b.Sweep(t.Context()); l.Read != read || l.Noticed != noticed || l.Failed > 0 {
				t.Errorf("%s: %+v, want %d read, %d noticed", when, l, read, noticed)
			}
		}
		reads("in an empty store", s.Book, 0, 0)
		ask(s.Book, "1", nil)
		reads("a result of its own is new", s.Book, 0, 0)
		ask(other, "2", nil)
		reads("another's is", s.Book, 1, 0)
		reads("nothing is", s.Book, 0, 0)
		s.c, s.at = -41, time.Now()
		reads("it grew colder", s.Book, 2, 2)
		reads("what was said is read once more", s.Book, 2, 0)
		reads("and then no more", s.Book, 0, 0)
		third := ask(s.Book, "3", nil)
		s.do(s.Book, third.ID, byBo, true, "")
		reads("it was checked before the round", s.Book, 0, 0)
		s.do(s.Book, third.ID, record.Action{Kind: record.KindWithdrawn, By: bo}, true, "")
		reads("and withdrawn after it", s.Book, 1, 0)
		ask(s.Book, "4", func(m *record.Result) { m.Measured = s.at.Add(-time.Minute) })
		reads("its own, with a temperature that is older than the observation", s.Book, 1, 1)
		reads("by another that begins", other, 4, 0)
		s.at = time.Time{}
		reads("there is no observation any more", s.Book, 4, 0)
		s.outlook = []weather.Forecast{{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "TAF", Issued: time.Now(), Hourly: []coldwatch.Sample{
			{At: time.Now().Add(time.Hour), C: -50}, {At: time.Now().Add(2 * time.Hour), C: -44},
		}}}}
		reads("a forecast came", s.Book, 4, 4)
		reads("its words are out", s.Book, 4, 0)
		reads("it stands", s.Book, 0, 0)
		time.Sleep(time.Hour)
		reads("its coldest hour is over", s.Book, 4, 0)
		time.Sleep(8 * time.Hour)
		if l := s.Sweep(t.Context()); l.Expired != 4 {
			t.Errorf("%d expired, want 4", l.Expired)
		}
		s.outlook = nil
		reads("all is over", s.Book, 0, 0)
	})
}

// TestRoundsMissNothing: a book that looks each minute notices what one that
// begins anew each minute does, whatever the weather, the questions and the
// deeds.
func TestRoundsMissNothing(t *testing.T) {
	type step struct {
		What          string
		Pause, Old, C int // minutes, minutes, degrees Celsius
	}
	steps := rapid.SliceOfN(rapid.Custom(func(t *rapid.T) step {
		return step{
			rapid.SampledFrom([]string{"ask", "ask", "brief", "observe", "forecast", "check", "silence", "nothing"}).Draw(t, "what"),
			rapid.SampledFrom([]int{1, 10, 90}).Draw(t, "pause"), rapid.IntRange(0, 90).Draw(t, "old"), rapid.IntRange(-60, -30).Draw(t, "c"),
		}
	}), 1, 30)
	rapid.Check(t, func(rt *rapid.T) {
		all := steps.Draw(rt, "steps")
		synctest.Test(t, func(t *testing.T) {
			lasting, anew := newShop(t, nil), newShop(t, nil)
			for n, is := range all {
				time.Sleep(time.Duration(is.Pause) * time.Minute)
				lasting.happen(is.What, fmt.Sprint(n), time.Duration(is.Old)*time.Minute, engine.Celsius(is.C))
				anew.happen(is.What, fmt.Sprint(n), time.Duration(is.Old)*time.Minute, engine.Celsius(is.C))
				time.Sleep(time.Second) // it is written
				got, want := lasting.Sweep(t.Context()), anew.another(nil).Sweep(t.Context())
				if got.Read, want.Read = 0, 0; got != want {
					t.Errorf("step %d of %+v: %+v, a round over all does %+v", n, all, got, want)
					return
				}
			}
		})
		if t.Failed() {
			rt.FailNow()
		}
	})
}

// happen has one thing happen in a shop.
func (s *shop) happen(what, message string, old time.Duration, c engine.Celsius) {
	s.t.Helper()
	now := time.Now()
	switch what {
	case "ask":
		s.ask(s.Book, message, func(m *record.Result) { m.Measured = now.Add(-old) })
	case "brief":
		s.ask(s.Book, message, func(m *record.Result) {
			m.Numbers = nil
			m.Reply = reply.Reply{Kind: reply.KindBrief, Arrivals: []reply.Arrival{
				{Station: reply.Station{Ident: "XKLD"}, At: now.Add(old), RecomputeC: reply.Some(float64(c))},
				{Station: reply.Station{Ident: "XTRV"}, At: now.Add(3 * old), RecomputeC: reply.Some(float64(c) + 5)},
			}}
		})
	case "observe":
		s.c, s.at = c, now.Add(-old)
	case "forecast":
		s.outlook = []weather.Forecast{{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "TAF", Issued: now.Add(-old), Hourly: []coldwatch.Sample{
			{At: now.Add(time.Hour), C: c}, {At: now.Add(3 * time.Hour), C: c + 6},
		}}}}
	case "silence":
		s.at, s.outlook = time.Time{}, nil
	case "check":
		all, err := s.List(s.t.Context(), record.Query{Live: true, Limit: 1})
		if err != nil {
			s.t.Error(err)
		}
		for _, r := range all {
			if _, _, err := s.Do(s.t.Context(), r.ID, byBo); err != nil {
				s.t.Error(err)
			}
		}
	}
}

// TestAgain: the button says at which temperature a result would be computed
// anew, as far as that is at hand, and the line above an old card what moved.
func TestAgain(t *testing.T) {
	known := func(ident string) (weather.Observation, bool) {
		return weather.Observation{C: -29, At: noon.Add(time.Minute)}, ident == "XKLD"
	}
	before := func(string) (weather.Observation, bool) {
		return weather.Observation{C: -29, At: noon.Add(-time.Hour), Received: noon.Add(-50 * time.Minute)}, true
	}
	onItsWay := func(string) (weather.Observation, bool) {
		return weather.Observation{C: -29, At: noon.Add(-time.Minute), Received: noon.Add(time.Minute)}, true
	}
	colder := record.Noticed{C: -45, Source: "METAR", Observed: true, Text: "It is colder."}
	forecast := record.Noticed{C: -45, Source: "TAF", Forecast: true, Text: "It will be."}
	moved := record.Noticed{C: -38, Text: "The field's figures changed."}
	for _, c := range []struct {
		name         string
		known        func(string) (weather.Observation, bool)
		noticed      []record.Noticed
		label, above string
	}{
		{"known", known, nil, "Again at −29, 60 min old", ""},
		{"known when another was typed", before, nil, "", ""},
		{"observed before and come since", onItsWay, nil, "Again at −29, 62 min old", ""},
		{"not known", nil, nil, "Again at the latest temperature", ""},
		{"observed", nil, []record.Noticed{colder}, "Again at −45", "Out of date: −45 now, worked at −38."},
		{"observed, and newer since", known, []record.Noticed{colder}, "Again at −29, 60 min old", "Out of date: −45 now, worked at −38."},
		{"forecast", nil, []record.Noticed{forecast}, "Again at the latest temperature", "Out of date: −45 forecast, worked at −38."},
		{"the field", nil, []record.Noticed{moved}, "Again at the latest temperature", "Out of date: The field's figures changed."},
	} {
		r, with := result(), set
		r.Noticed, with.Known = c.noticed, c.known
		at := noon.Add(61 * time.Minute)
		actions := record.Render(r, at, with).Actions
		label := ""
		if i := slices.IndexFunc(actions, func(a reply.Action) bool { return a.ID == record.ActionRecompute }); i >= 0 {
			label = actions[i].Label
		}
		if label != c.label {
			t.Errorf("%s: %+v, want %q", c.name, actions, c.label)
		}
		if got := record.Above(r, at, with); got != c.above {
			t.Errorf("%s: above %q, want %q", c.name, got, c.above)
		}
	}
	brief := result()
	brief.Numbers, brief.Noticed = nil, []record.Noticed{{C: -40, Source: "TAF", Text: "XKLD will be −40 °C."}}
	brief.Reply.Arrivals = []reply.Arrival{{Station: reply.Station{Ident: "XKLD"}}}
	if f := record.Render(brief, noon, set); f.Actions[len(f.Actions)-1].Label != "Brief again" || record.Above(brief, noon, set) != "Out of date: XKLD will be −40 °C." {
		t.Errorf("a brief: %+v, above %q", f.Actions, record.Above(brief, noon, set))
	}
}

// TestArrivesLater: who types a temperature has not seen a report that is on its
// way, though it was observed before; one that had come is no news.
func TestArrivesLater(t *testing.T) {
	for _, own := range []bool{true, false} {
		synctest.Test(t, func(t *testing.T) {
			s := newShop(t, nil)
			time.Sleep(time.Hour)
			observed := time.Now().Add(-7 * time.Minute)
			s.c, s.at, s.arrived = -45, observed, time.Now().Add(-time.Minute)
			known := s.ask(s.Book, "known", nil)
			time.Sleep(time.Minute)
			s.Sweep(t.Context())
			if got := s.saw(); got != "" {
				t.Errorf("a report that had come is told: %s", got)
			}
			from := s.Book
			if !own { // another replica has made it
				from = s.another(nil)
			}
			s.at = observed.Add(-53 * time.Minute)
			on := s.ask(from, "on its way", nil)
			time.Sleep(time.Minute)
			s.at, s.arrived = observed, time.Now()
			s.Sweep(t.Context())
			s.state(on.ID, record.Recompute)
			s.state(known.ID, record.Unchecked)
		})
	}
}
