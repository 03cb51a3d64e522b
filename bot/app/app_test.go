package app_test

import (
	"context"
	"errors"
	"firn/bot/testkit/sendertest"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/app"
	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// noon is a winter's day at which the base's morning is over an hour ago.
var noon = time.Date(2026, 1, 15, 19, 0, 0, 0, time.UTC)

const oneBase = `
slack: {channels: [C1]}
duty: ["slack:U1"]
stations:
  - {ident: XKLD, elevation_ft: 4802, restriction_c: -25, time_zone: Etc/UTC, watch: {at: "18:00", days: daily, channels: ["slack:C2"]}}
`

// memory is a store without a file.
type memory struct {
	*storetest.Memory
	access.Store
	pages
	down error         // of what is written of records, and of leases
	hang chan struct{} // these wait for it; nil: they do not

	lost atomic.Bool // what would be told of ended checks is, as by a kill before it
}

// pages is what the page keeps.
type pages struct{ *pagestate.Memory }

func newMemory() *memory {
	return &memory{Memory: storetest.NewMemory(time.Now), Store: storetest.NewAccess(), pages: pages{pagestate.NewMemory()}}
}

// Observed is nothing: no test draws a season.
func (m *memory) Observed(context.Context, string, time.Time, time.Time) ([]coldwatch.Sample, error) {
	return nil, nil
}

// Procedures are none.
func (m *memory) Procedures(context.Context, string) ([]approach.Approach, error) { return nil, nil }

// Replace imports nothing.
func (m *memory) Replace(context.Context, string, []string, func(add func(*approach.Approach) error) (approach.Edition, error)) (approach.Replaced, error) {
	return approach.Replaced{}, errors.New("no test imports")
}

// fails is the error of a write.
func (m *memory) fails(ctx context.Context) error {
	if m.hang != nil {
		select {
		case <-m.hang:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return m.down
}

func (m *memory) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	if err := m.fails(ctx); err != nil {
		return nil, err
	}
	return m.Memory.AddRecords(ctx, all, cards...)
}

func (m *memory) AddPosts(ctx context.Context, posts []outbox.Item) (int, error) {
	if m.lost.Load() && strings.HasPrefix(posts[0].Key, "ended/") {
		return 0, errors.New("killed")
	}
	return m.Memory.AddPosts(ctx, posts)
}

func (m *memory) Lease(ctx context.Context, name, holder string, d time.Duration) (bool, error) {
	if err := m.fails(ctx); err != nil {
		return false, err
	}
	return m.Memory.Lease(ctx, name, holder, d)
}

// spoken is what stands on a surface.
type spoken struct {
	at   time.Time
	ref  string
	card chat.Message
	to   string // the address of a post
}

// surface is a chat service in memory.
type surface struct {
	name string
	desk chan chat.Handler

	mu     sync.Mutex
	all    []*spoken
	change chan struct{} // closed and made anew when something changes
	gone   []string      // who belongs to the unit no more
	who    []string      // of whom it was asked
}

func newSurface(name string) *surface {
	return &surface{name: name, desk: make(chan chat.Handler, 1), change: make(chan struct{})}
}

func (s *surface) Name() string { return s.name }
func (s *surface) State() error { return nil }

func (s *surface) Run(ctx context.Context, h chat.Handler) error {
	s.desk <- h
	<-ctx.Done()
	return ctx.Err()
}

func (s *surface) put(ref string, c chat.Message) chat.Ref {
	s.mu.Lock()
	defer s.mu.Unlock()
	defer func() {
		close(s.change)
		s.change = make(chan struct{})
	}()
	for _, m := range s.all {
		if m.ref == ref {
			m.card = c
			return chat.Ref(ref)
		}
	}
	m := &spoken{at: time.Now(), ref: fmt.Sprint("m", len(s.all)+1), card: c}
	s.all = append(s.all, m)
	return chat.Ref(m.ref)
}

func (s *surface) Answer(_ context.Context, _ chat.Event, c chat.Message) (chat.Ref, error) {
	return s.put("", c), nil
}
func (s *surface) Whisper(_ context.Context, _ chat.Event, c chat.Message) error {
	s.put("", c)
	return nil
}
func (s *surface) Change(_ context.Context, ref chat.Ref, c chat.Message) error {
	s.put(string(ref), c)
	return nil
}
func (s *surface) Follow(_ context.Context, _ chat.Ref, c chat.Message) (chat.Ref, error) {
	return s.put("", c), nil
}

// Front shows a person's page, which has the person's id.
func (s *surface) Front(_ context.Context, e chat.Event, c chat.Message) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.all {
		if m.ref == "home of "+e.Person.ID {
			m.card = c
			return nil
		}
	}
	s.all = append(s.all, &spoken{at: time.Now(), ref: "home of " + e.Person.ID, card: c})
	return nil
}

// front is what stands on a person's page.
func (s *surface) front(id string) spoken {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.all {
		if m.ref == "home of "+id {
			return *m
		}
	}
	return spoken{}
}

func (s *surface) Who(_ context.Context, p chat.Person) chat.Person {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.who = append(s.who, p.ID)
	if slices.Contains(s.gone, p.ID) {
		p.Standing = chat.Outsider
	}
	return p
}

// leaves has somebody belong to the unit no more.
func (s *surface) leaves(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.gone = append(s.gone, id)
}
func (s *surface) Open(context.Context, chat.Event, chat.Form) error { return nil }
func (s *surface) Send(_ context.Context, p outbox.Post) (string, error) {
	ref := s.put("", chat.Message{Reply: p.Body})
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.all {
		if m.ref == string(ref) {
			m.to = p.Channel
		}
	}
	return string(ref), nil
}
func (s *surface) Find(context.Context, string, string) (string, bool, error) { return "", false, nil }
func (s *surface) Show([]reply.Cold, time.Time)                               {}
func (s *surface) Changed(pagestate.Change)                                   {}
func (s *surface) Refused() map[string]int64                                  { return nil }

// until waits for a card.
func (s *surface) until(t *testing.T, what string, is func(chat.Message) bool) spoken {
	t.Helper()
	limit := time.After(20 * time.Second)
	for {
		s.mu.Lock()
		i := slices.IndexFunc(s.all, func(m *spoken) bool { return is(m.card) })
		var found spoken
		if i >= 0 {
			found = *s.all[i]
		}
		change := s.change
		s.mu.Unlock()
		if i >= 0 {
			return found
		}
		select {
		case <-change:
		case <-limit:
			t.Fatalf("did not come: %s", what)
		}
	}
}

// source is always as cold.
type source struct{}

func (source) Name() string { return "test" }
func (source) Observation(context.Context, string) (weather.Observation, error) {
	return weather.Observation{}, weather.ErrNone
}
func (source) Forecast(context.Context, string) (weather.Forecast, error) {
	return weather.Forecast{}, weather.ErrNone
}

// meter counts nothing.
type meter struct{ sendertest.Counters }

func (*meter) Answered(string, string, time.Duration) {}
func (*meter) NotKept()                               {}

// door is a front that nobody comes to.
type door struct{ ended chan struct{} }

func (d door) Serve() error                   { <-d.ended; return nil }
func (d door) Shutdown(context.Context) error { close(d.ended); return nil }
func (door) URL() string                      { return "nowhere" }

// rounds calls each round until its context ends.
func rounds(ctx context.Context, _ string, every time.Duration, fn func(context.Context)) (func() error, error) {
	ctx, stop := context.WithCancel(ctx)
	var running sync.WaitGroup
	running.Go(func() {
		for ctx.Err() == nil {
			fn(ctx)
			select {
			case <-ctx.Done():
			case <-time.After(every):
			}
		}
	})
	return func() error { stop(); running.Wait(); return nil }, nil
}

// site is an App that serves in this process.
type site struct {
	*testing.T
	slack *surface
	store app.Store
	from  weather.Source
	text  string // of the configuration
	begun time.Time
	tick  time.Duration
	again chan struct{}
	now   *app.App
	ended chan error
}

func newSite(t *testing.T, store app.Store, from weather.Source) *site {
	return newSlowSite(t, store, from, 20*time.Millisecond)
}

// newSlowSite is a site whose rounds come after each tick.
func newSlowSite(t *testing.T, store app.Store, from weather.Source, tick time.Duration) *site {
	s := &site{
		T: t, slack: newSurface("slack"), store: store, from: from, text: oneBase, begun: time.Now(), tick: tick,
		again: make(chan struct{}), ended: make(chan error, 1),
	}
	ctx, stop := context.WithCancel(t.Context())
	go func() { s.ended <- app.Serve(ctx, s.again, s.open) }()
	t.Cleanup(func() {
		stop()
		if err := <-s.ended; err != nil {
			t.Error(err)
		}
	})
	return s
}

func (s *site) open(_ context.Context, before *app.App) (*app.App, error) {
	cfg, sets, err := app.Configure("site.yaml", []byte(s.text))
	if err != nil {
		return nil, err
	}
	a, err := app.New(app.Parts{
		Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return noon.Add(time.Since(s.begun)) }, Config: cfg, Name: "site.yaml", Rules: sets,
		Store: s.store, Where: "memory", Holder: "this", Sources: []weather.Source{s.from},
		Surfaces: []app.Surface{s.slack}, Page: func(*app.App) (app.Page, error) { return newSurface("page"), nil },
		Wanting: func(config.Surface) string { return "set it up" }, Meter: new(meter), Schedule: rounds,
		Pace: app.Pace{Tick: s.tick}, Before: before,
	})
	if err != nil {
		return nil, err
	}
	if err := a.ChannelsServed(); err != nil {
		a.Close()
		return nil, err
	}
	a.ServeAt(door{make(chan struct{})})
	s.now = a
	return a, nil
}
