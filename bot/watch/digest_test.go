package watch_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync"
	"testing"
	"time"
	"unicode/utf8"

	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/testclock"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
)

// crew is a channel whose posts have threads and can be changed, on a service
// in memory; printer is one where neither can be.
const (
	crew    = "slack:C1"
	printer = "file:alerts"
	officer = "slack:U01"
)

// fleet is some bases, their store, what their sources say and what stands in
// the channels.
type fleet struct {
	*testing.T
	mu     sync.Mutex // of what stands
	clock  *testclock.Clock
	store  *refusing
	set    watch.Settings
	bases  []config.Station
	says   map[string]engine.Celsius // the low; absent: no forecast
	issued time.Time
	watch  *watch.Watch
	stands map[string]reply.Reply // by channel and reference
	order  []outbox.Item          // as delivered
	edits  int
	down   bool // the service takes no edits
}

// refusing is a store that may take no posts of digests, as if the process were
// killed before them.
type refusing struct {
	*storetest.Memory
	refuse    bool
	meanwhile func() // between what was posted and what is to be
}

func (r *refusing) AddPosts(ctx context.Context, posts []outbox.Item) (int, error) {
	return r.add(ctx, posts, r.Memory.AddPosts)
}

func (r *refusing) AddNext(ctx context.Context, posts []outbox.Item) (int, error) {
	return r.add(ctx, posts, r.Memory.AddNext)
}

func (r *refusing) add(ctx context.Context, posts []outbox.Item, add func(context.Context, []outbox.Item) (int, error)) (int, error) {
	if r.refuse {
		return 0, errors.New("killed")
	}
	return add(ctx, posts)
}

func (r *refusing) Posts(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error) {
	all, err := r.Memory.Posts(ctx, prefix, since)
	if do := r.meanwhile; do != nil {
		r.meanwhile = nil
		do()
	}
	return all, err
}

func newFleet(t *testing.T, lows map[string]engine.Celsius, idents ...string) *fleet {
	s := &fleet{T: t, clock: testclock.New(six.Add(-time.Hour)), says: lows, issued: at(-30), stands: map[string]reply.Reply{}}
	s.store = &refusing{Memory: storetest.NewMemory(s.clock.Now)}
	for _, ident := range idents {
		b := kaldmoor(t)
		w := *b.Watch
		w.Channels = []config.Address{{Surface: config.OnSlack, ID: "C1"}, {Surface: config.OnFile, ID: "alerts"}}
		b.Ident, b.Name, b.Watch = ident, "", &w
		s.bases = append(s.bases, b)
	}
	s.set = watch.Settings{
		Alerts: config.DefaultAlerts, Duty: []config.Address{{Surface: config.OnSlack, ID: "U01"}}, Holder: "a",
		Threads: func(c string) bool { return c == crew },
		Edits:   func(c string) bool { return strings.HasPrefix(c, "slack:") },
		Edit: func(_ context.Context, channel, ref string, r reply.Reply) error {
			if !s.set.Edits(channel) {
				s.Errorf("a post to %s is to be changed, which cannot be", channel)
			}
			if s.down {
				return errors.New("the service does not answer")
			}
			s.mu.Lock()
			defer s.mu.Unlock()
			s.edits++
			s.stands[channel+" "+ref] = r
			return nil
		},
	}
	s.restart()
	return s
}

func (s *fleet) restart() {
	s.watch = watch.New(slog.New(slog.DiscardHandler), s.clock.Now, s.set, s.bases,
		forecasts(func(ident string) ([]weather.Forecast, error) {
			low, ok := s.says[ident]
			if !ok {
				return nil, nil
			}
			return curve(s.issued, low), nil
		}), s.store)
}

// run ticks each minute, and delivers what is due.
func (s *fleet) run(from, to int) {
	s.Helper()
	for m := from; m <= to; m++ {
		s.clock.Set(at(m))
		if got := s.watch.Tick(s.Context()); got.Failed > 0 {
			s.Fatalf("tick at %v failed", at(m))
		}
		s.deliver()
	}
}

// deliver plays the outbox.
func (s *fleet) deliver() {
	s.Helper()
	for {
		claims, err := s.store.Claim(s.Context(), s.clock.Now(), time.Minute, 1000)
		if err != nil {
			s.Fatal(err)
		}
		if len(claims) == 0 {
			return
		}
		for _, c := range claims {
			ref := "r" + c.Key
			if held, err := s.store.Done(s.Context(), c, ref, s.clock.Now()); !held || err != nil {
				s.Fatal(held, err)
			}
			s.stands[c.Channel+" "+ref] = c.Body
			s.order = append(s.order, c.Item)
		}
	}
}

// in are the posts of a channel, each by its headline and, where it stands in a
// thread, an arrow.
func (s *fleet) in(channel string) (list []string) {
	for _, it := range s.order {
		if it.Channel == channel {
			text := it.Body.Headline
			if it.Under() != "" {
				text = "> " + text
			}
			list = append(list, text)
		}
	}
	return list
}

// root is the morning's post of a channel as it stands.
func (s *fleet) root(channel string) reply.Reply { return s.stands[channel+" rdigest/2026-01-15/1"] }

func (s *fleet) wantIn(channel string, want ...string) {
	s.Helper()
	got := s.in(channel)
	if len(got) != len(want) {
		s.Fatalf("%s has %d posts, want %d:\n\t%s", channel, len(got), len(want), strings.Join(got, "\n\t"))
	}
	for i := range want {
		if !strings.HasPrefix(got[i], want[i]) {
			s.Errorf("%s, post %d: %q, want %q", channel, i+1, got[i], want[i])
		}
	}
}

func sections(r reply.Reply) string {
	text := ""
	for _, s := range r.Sections {
		text += s.Title + "\n" + strings.Join(s.Lines, "\n") + "\n"
	}
	return text
}

var idents = []string{"XKLD", "XGLN", "XFRN", "XRUN", "XSLT", "XHGH"} // of XHGH nothing is forecast

// TestDigest: a morning is one post a channel, with a word on each base in its
// thread; it shows who has seen what, and is amended.
func TestDigest(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40, "XFRN": -26, "XRUN": -23, "XSLT": -5}, idents...)
	s.run(-2, 3)
	const head = "3 below: XGLN −40, XKLD −31, XFRN −26; 1 without a forecast; 1 near; 1 clear"
	s.wantIn(crew, head, "> XGLN", "> XKLD", "> XFRN", "> XHGH", "> XRUN")
	s.wantIn(printer, head)
	r := s.root(crew)
	text := sections(r)
	for _, want := range []string{"At or below: 3\nXGLN: −40 at 06:00, line −25, below 06:00–18:00 local. Not seen.", "Without a forecast: 1\nXHGH: ", "Near: 1\nXRUN: −23 at 06:00", "Clear: 1\nXSLT: −5"} {
		if !strings.Contains(text, want) {
			t.Errorf("the digest says\n%s\nwant %q in it", text, want)
		}
	}
	if r.Kind != reply.KindDigest || len(r.Bases) != 6 || r.Bases[0].Ident != "XGLN" {
		t.Errorf("kind %s with bases %+v", r.Kind, r.Bases)
	}
	var labels []string
	for _, a := range r.Actions {
		labels = append(labels, a.Label+"="+a.Message)
	}
	if got := strings.Join(labels, ", "); got != "Seen all=ack XGLN XKLD XFRN XHGH, Seen XGLN=ack XGLN, Seen XKLD=ack XKLD, Seen XFRN=ack XFRN, Seen XHGH=ack XHGH, Snooze 2 h=snooze XGLN XKLD XFRN XHGH 2h" {
		t.Errorf("buttons %s", got)
	}
	for _, it := range s.order[1:] {
		for _, a := range it.Body.Actions {
			if it.Under() != "" && (a.ID == "ack" || a.ID == "snooze") {
				t.Errorf("%s has the button %s, which the post above it has", it.Key, a.Label)
			}
		}
	}

	// Seen one: shown at once, where the post stands, and told nowhere.
	before := len(s.order)
	o, err := s.watch.Acknowledge(t.Context(), "XKLD", "Kari (slack:U1)", crew)
	if err != nil || !o.Done {
		t.Fatal(o, err)
	}
	if got := sections(s.root(crew)); !strings.Contains(got, "XKLD: −31 at 06:00, line −25, below 06:00–18:00 local. Seen by Kari 06:03.") {
		t.Errorf("the digest says\n%s", got)
	}
	s.deliver()
	for _, it := range s.order[before:] {
		if it.Channel == crew {
			t.Errorf("an acknowledgement is told where it shows: %q", it.Body.Facts)
		}
	}

	// A newer forecast: XFRN moves, XRUN crosses, XHGH is known now.
	s.says["XFRN"], s.says["XRUN"], s.says["XHGH"], s.issued = -31, -28, -3, at(25)
	s.run(4, 31)
	posts := s.in(crew)[6:]
	if len(posts) != 4 { // and the reminder
		t.Fatalf("after an amendment there are %q", posts)
	}
	for _, want := range []string{"> XFRN", "XRUN", "> XHGH"} {
		found := false
		for _, p := range posts {
			found = found || strings.HasPrefix(p, want)
		}
		if !found {
			t.Errorf("%q is not among %q", want, posts)
		}
	}
	if got := s.root(crew).Headline; got != "4 below: XGLN −40, XFRN −31, XKLD −31, XRUN −28; 2 clear" {
		t.Errorf("the digest is headed %q", got)
	}
	for m := range 3 {
		if edits := s.edits; m > 0 && edits != s.edits {
			t.Errorf("it is changed without need")
		}
		s.run(32+m, 32+m)
	}
}

// TestDigestReminds: repeats and escalations are one post each, and name the
// bases that nobody has seen.
func TestDigestReminds(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40, "XFRN": -26}, "XKLD", "XGLN", "XFRN")
	s.run(-1, 5)
	if o, err := s.watch.Acknowledge(t.Context(), "XKLD", "Kari", ""); err != nil || !o.Done {
		t.Fatal(o, err)
	}
	s.run(6, 70)
	s.wantIn(crew, "3 below", "> XGLN", "> XKLD", "> XFRN", "Reminder, not seen for 30 min: XGLN −40, XFRN −26")
	s.wantIn(officer, "Escalated, not seen for 1 h: XGLN −40, XFRN −26")
	// A button of one post is of the bases that stand on it, not of the whole channel.
	if o, err := s.watch.AcknowledgeAll(t.Context(), []string{"XKLD", "XSLT"}, "Bo", crew); err != nil || o.Done || o.Text != "Already acknowledged: XKLD by Kari at 13:05Z." {
		t.Errorf("of two that are named: %+v, %v", o, err)
	}
	o, err := s.watch.AcknowledgeAll(t.Context(), nil, "Odd", crew)
	if err != nil || !o.Done || !strings.HasPrefix(o.Text, "Acknowledged by Odd: XFRN, XGLN.") {
		t.Fatal(o, err)
	}
	if !strings.HasSuffix(o.Text, ". Already: XKLD by Kari at 13:05Z.") {
		t.Errorf("who has seen a part before is told %q", o.Text)
	}
	// Whoever presses it at the same time learns who was first.
	const first = "Already acknowledged: XFRN, XGLN by Odd at 14:10Z; XKLD by Kari at 13:05Z."
	if o, err := s.watch.AcknowledgeAll(t.Context(), nil, "Bo", crew); err != nil || o.Done || o.Text != first {
		t.Errorf("all is acknowledged twice: %+v, %v", o, err)
	}
	if got := sections(s.root(crew)); strings.Contains(got, "Not seen") || strings.Count(got, "Seen by Odd") != 2 || strings.Count(got, "Seen by Kari") != 1 {
		t.Errorf("the digest says\n%s", got)
	}
	for _, a := range s.root(crew).Actions {
		if a.ID != "snooze" {
			t.Errorf("what everybody has seen has the button %s", a.Label)
		}
	}
	if got := sections(s.stands[officer+" rdigest/2026-01-15/1"]); strings.Count(got, "Seen by Odd") != 2 {
		t.Errorf("whom it was escalated to reads\n%s", got)
	}
	// What is new goes to whoever it was escalated to as well.
	s.says["XGLN"], s.issued = -47, at(85)
	s.run(71, 95)
	if got := s.in(officer); len(got) != 2 || !strings.HasPrefix(got[1], "> XGLN") {
		t.Errorf("the officer reads %q", got)
	}
}

// TestDigestOfOne: what is open of one base alone has buttons for that base: another
// day of the channel, as of bases farther east, stays as it is.
func TestDigestOfOne(t *testing.T) {
	labels := func(r reply.Reply) string {
		var all []string
		for _, a := range r.Actions {
			all = append(all, a.ID+" "+a.Label+"="+a.Message)
		}
		return strings.Join(all, ", ")
	}
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XRUN": -23, "XSLT": -5}, "XKLD", "XRUN", "XSLT")
	s.run(-2, 3)
	if got := labels(s.root(crew)); got != "ack Seen=ack XKLD, snooze Snooze 2 h=snooze XKLD 2h" {
		t.Errorf("one cold base has the buttons %s", got)
	}
	s = newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40}, "XKLD", "XGLN")
	s.run(-2, 3)
	if _, err := s.watch.Acknowledge(t.Context(), "XGLN", "Kari", ""); err != nil {
		t.Fatal(err)
	}
	if got := labels(s.root(crew)); got != "ack Seen XKLD=ack XKLD, snooze Snooze 2 h=snooze XGLN XKLD 2h" {
		t.Errorf("one of two that nobody has seen has the buttons %s", got)
	}
}

// TestDigestRemindsOnce: bases whose mornings are some minutes apart have one
// reminder, which names them all, and not one each.
func TestDigestRemindsOnce(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40, "XFRN": -26}, "XKLD", "XGLN", "XFRN")
	for i := range s.bases {
		s.bases[i].Watch.At.Minute = 7 * i
	}
	s.set.Escalate = 3 * time.Hour
	s.restart()
	s.run(-1, 80)
	s.wantIn(printer, "1 below", "XGLN", "XFRN", "Reminder, not seen for 30 min: XGLN −40, XKLD −31, XFRN −26", "Reminder, not seen for 1 h: XGLN −40, XKLD −31, XFRN −26")
}

// TestDigestOnce: whatever is cut off where, a morning is one post a channel and
// each alert is told once in each.
func TestDigestOnce(t *testing.T) {
	for _, c := range []struct {
		name string
		run  func(s *fleet)
	}{
		{"two replicas", func(s *fleet) {
			other := &fleet{T: s.T, clock: s.clock, store: s.store, set: s.set, bases: s.bases, says: s.says, issued: s.issued}
			other.set.Holder = "b"
			other.restart()
			for m := -1; m <= 40; m++ {
				s.clock.Set(at(m))
				s.watch.Tick(s.Context())
				other.watch.Tick(s.Context())
				s.deliver()
			}
		}},
		{"a restart each minute", func(s *fleet) {
			for m := -1; m <= 40; m++ {
				s.restart()
				s.run(m, m)
			}
		}},
		{"killed between the alerts and their digest", func(s *fleet) {
			digest := s.set.Digest
			s.run(-1, -1)
			for _, m := range []int{0, 30} {
				s.store.refuse = true
				s.clock.Set(at(m))
				s.watch.Tick(s.Context())
				s.store.refuse = false
				s.restart()
				s.run(m+1, m+9)
			}
			if !digest {
				s.Fatal("digests are off")
			}
			s.run(40, 41)
		}},
		{"a service that takes no edits for a while", func(s *fleet) {
			s.down = true
			s.run(-1, 35)
			s.down = false
			s.run(36, 40)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40, "XSLT": -5}, "XKLD", "XGLN", "XSLT")
			c.run(s)
			told := map[string]int{}
			roots := 0
			for _, it := range s.order {
				if it.Channel != printer {
					continue
				}
				if d := it.Body.Digest; d != nil {
					for _, name := range d.Told {
						told[name]++
					}
					if d.Word == reply.DigestMorning {
						roots++
					}
				}
			}
			if roots != 1 {
				t.Errorf("the morning has %d posts: %q", roots, s.in(printer))
			}
			for _, name := range []string{"XKLD/01-15/1", "XGLN/01-15/1", "XSLT/01-15/1", "XKLD/01-15/2", "XGLN/01-15/2"} {
				if told[name] != 1 {
					t.Errorf("%s is told %d times: %v", name, told[name], told)
				}
			}
			if n := len(s.in(printer)); n != 2 {
				t.Errorf("a morning and its reminder are %d posts: %q", n, s.in(printer))
			}
		})
	}
}

// TestDigestAtOnce: two replicas that know different things tell each of them
// once, also where one is so slow between looking and writing that the other has
// told a part of it.
func TestDigestAtOnce(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40}, "XKLD", "XGLN")
	s.set.Repeat = 3 * time.Hour
	s.restart()
	s.run(-2, 29)
	slow := &fleet{T: t, clock: s.clock, store: s.store, set: s.set, bases: s.bases, says: map[string]engine.Celsius{"XKLD": -36, "XGLN": -45}, issued: at(20)}
	slow.set.Holder = "b"
	slow.restart()
	// One has looked when the other finds more; the first then writes, and only
	// after what it holds has ended does the second.
	s.says, s.issued = map[string]engine.Celsius{"XKLD": -36, "XGLN": -40}, at(20)
	looked, written, done := make(chan bool), make(chan bool), make(chan bool)
	s.store.meanwhile = func() {
		s.store.meanwhile = func() {
			close(looked)
			<-written
			s.clock.Set(at(34))
		}
		s.clock.Set(at(32)) // what it held of the bases has ended
		go func() {
			defer close(done)
			slow.watch.Tick(t.Context())
		}()
		<-looked
	}
	s.clock.Set(at(30))
	s.watch.Tick(t.Context())
	close(written)
	<-done
	s.says["XGLN"] = -45
	s.run(35, 59)
	told := map[string]int{}
	for _, it := range s.order {
		if d := it.Body.Digest; d != nil && it.Channel == crew && d.Word == reply.DigestBase {
			for _, name := range d.Told {
				told[name]++
			}
		}
	}
	for _, name := range []string{"XKLD/01-15/1", "XGLN/01-15/1", "XKLD/01-15/2", "XGLN/01-15/2"} {
		if told[name] != 1 {
			t.Errorf("%s has a word of its own %d times: %q", name, told[name], s.in(crew))
		}
	}
}

// TestDigestQuiet: a morning without anything cold says nothing, or that there
// is nothing where that is wanted; a base that waits for its source is waited
// for, and not for ever.
func TestDigestQuiet(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -3, "XGLN": -4}, "XKLD", "XGLN")
	s.run(-1, 20)
	s.wantIn(crew)
	s.says["XGLN"], s.issued = -30, at(25)
	s.run(21, 35)
	s.wantIn(crew, "1 below: XGLN −30; 1 clear", "> XGLN")

	s = newFleet(t, map[string]engine.Celsius{"XKLD": -3, "XGLN": -4}, "XKLD", "XGLN")
	s.set.DailyQuiet = true
	s.restart()
	s.run(-1, 20)
	s.wantIn(crew, "None below; 2 clear")
}

// TestDigestLater: a base whose morning begins later is in the same post, and
// told to the channel where somebody has to see it.
func TestDigestLater(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31, "XGLN": -40, "XSLT": -5}, "XKLD", "XGLN", "XSLT")
	for i := 1; i < 3; i++ {
		s.bases[i].Watch.At.Minute = 20
	}
	s.restart()
	s.run(-1, 25)
	s.wantIn(crew, "1 below: XKLD −31", "> XKLD", "XGLN")
	if got := s.root(crew).Headline; got != "2 below: XGLN −40, XKLD −31; 1 clear" {
		t.Errorf("the digest is headed %q", got)
	}
}

// TestDigestOnALockedScreen: the first 150 characters name the coldest, however
// many there are.
func TestDigestOnALockedScreen(t *testing.T) {
	lows := map[string]engine.Celsius{}
	var all []string
	for i := range 30 {
		ident := fmt.Sprintf("X%c%cA", 'A'+i/26, 'A'+i%26)
		lows[ident] = engine.Celsius(-26 - float64(i)/2)
		all = append(all, ident)
	}
	s := newFleet(t, lows, all...)
	s.run(-1, 2)
	head := s.root(printer).Headline
	if n := utf8.RuneCountInString(head); n > 150 || !strings.HasPrefix(head, "30 below: XBDA −40.5, XBCA −40, ") || !strings.HasSuffix(head, "more") {
		t.Errorf("%d characters: %s", n, head)
	}
	if n := len(s.in(printer)); n != 1 {
		t.Errorf("thirty cold bases are %d posts", n)
	}
}

// TestDigestSaysHowFar: a base's line says to when it is forecast where that leaves a
// part of the duty window out, of which a colder hour may come.
func TestDigestSaysHowFar(t *testing.T) {
	s := newFleet(t, map[string]engine.Celsius{"XKLD": -31}, "XKLD")
	for hours, want := range map[time.Duration]string{
		36: "XKLD: −31 at 06:00, line −25, below 06:00–Fri 06:00 local, known to Fri 06:00 local alone. Not seen.",
		26: "XKLD: −31 at 06:00, line −25, below 06:00–Fri 06:00 local. Not seen.", // but for its last two hours
	} {
		s.bases[0].Watch.Window = hours * time.Hour
		s.store = &refusing{Memory: storetest.NewMemory(s.clock.Now)}
		s.restart()
		s.run(-2, 3)
		if text := sections(s.root(crew)); !strings.Contains(text, want) {
			t.Errorf("%v hours: the digest says\n%s\nwant %q in it", hours, text, want)
		}
	}
}
