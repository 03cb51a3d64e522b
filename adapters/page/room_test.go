package page

import (
	"context"
	"errors"
	"fmt"
	"html"
	"log/slog"
	"maps"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/access"
	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/drawing"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// crewRoom is one: the page with a real desk, bot and record behind it, as
// cmd/firn wires them, and with invented stations.
type crewRoom struct {
	page   *Page
	server *httptest.Server
	book   *record.Book
	store  record.Store
	watch  *watcher
	bot    *bot.Bot
	access *storetest.Access // nil: nobody signs in
	log    *quiet
	room   *places
	stop   func()
}

// places is a store that remembers which conversations there are.
type places struct {
	*pagestate.Memory

	mu   sync.Mutex
	all  map[string]bool
	gone bool // it can be neither read nor written
}

var errGone = errors.New("the database is gone")

// away takes the store away, or gives it back.
func (s *places) away(is bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.gone = is
}

func (s *places) reach() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.gone {
		return errGone
	}
	return nil
}

func (s *places) Since(ctx context.Context, place string, rev int64) ([]pagestate.Entry, int64, error) {
	if err := s.reach(); err != nil {
		return nil, 0, err
	}
	return s.Memory.Since(ctx, place, rev)
}

func (s *places) Entry(ctx context.Context, place, id string) (pagestate.Entry, bool, error) {
	if err := s.reach(); err != nil {
		return pagestate.Entry{}, false, err
	}
	return s.Memory.Entry(ctx, place, id)
}

func (s *places) Edit(ctx context.Context, place, id string, at time.Time, change func(pagestate.Entry, bool) (pagestate.Entry, bool)) error {
	if err := s.reach(); err != nil {
		return err
	}
	s.mu.Lock()
	s.all[place] = true
	s.mu.Unlock()
	return s.Memory.Edit(ctx, place, id, at, change)
}

// find is the reference of a card in whichever conversation.
func (s *places) find(t testing.TB, p *Page, holds func(*entry) bool) chat.Ref {
	t.Helper()
	s.mu.Lock()
	all := slices.Collect(maps.Keys(s.all))
	s.mu.Unlock()
	for _, place := range all {
		cards, _, err := p.cards(t.Context(), place, 0)
		if err != nil {
			t.Fatal(err)
		}
		for _, k := range slices.Backward(cards) {
			if holds(k) {
				return k.ref()
			}
		}
	}
	t.Fatal("no card is like that")
	return ""
}

// Procedures: none are imported.
func (s *places) Procedures(context.Context, string) ([]approach.Approach, error) {
	return nil, s.reach()
}

// waitingBook is a book whose records are written when its store is there again.
type waitingBook struct {
	*record.Book
	room *places
}

func (b waitingBook) Find(ctx context.Context, id string) (record.Record, bool, error) {
	if b.room.reach() != nil {
		<-ctx.Done()
		return record.Record{}, false, ctx.Err()
	}
	return b.Book.Find(ctx, id)
}

// quiet keeps the log, to be looked at.
type quiet struct {
	mu sync.Mutex
	b  strings.Builder
}

func (q *quiet) Write(p []byte) (int, error) {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.b.Write(p)
}

func (q *quiet) text() string {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.b.String()
}

const stationsYAML = `
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, usual: [rnav 31], segments: [initial, intermediate, final, missed], mountainous: true, time_zone: America/Edmonton}
  - {ident: XRUN, name: Runmere, elevation_ft: 4380, restriction_c: -20}
`

// roomOptions change a room before it opens.
type roomOptions struct {
	signIn bool
	proxy  bool
	limits Limits
	duty   []string
	linked [][]string  // accounts of one person
	set    func(*Page) // its pace
}

func newRoom(t testing.TB, o roomOptions) *crewRoom {
	t.Helper()
	r := &crewRoom{log: &quiet{}, watch: &watcher{}, room: &places{Memory: pagestate.NewMemory(), all: map[string]bool{}}}
	log := slog.New(slog.NewTextHandler(r.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, s := range sets {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("room.yaml", []byte(stationsYAML), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	newBot := func() *bot.Bot {
		b, err := bot.New(log, cfg, sets)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	r.bot = newBot()
	looker := newBot()
	shelf := approach.NewCatalog([]approach.Approach{approachOf(t), unusual(t)}, r.room)
	looker.Use(bot.Ports{Procedures: shelf, Observer: r.watch})
	store := storetest.NewMemory(time.Now)
	r.store = store
	var p *Page
	r.book = record.New(log, time.Now, store, record.Options{
		Settings: record.Settings{Zone: r.bot.Zone, Linked: o.linked, Wrote: func() {
			if p != nil {
				p.Changed(pagestate.Change{Kind: pagestate.Record})
			}
		}},
		Cards: cardsOf{&p},
	})
	r.bot.Use(bot.Ports{Watcher: r.watch, Procedures: shelf, Observations: store, Book: r.book})
	options := Options{
		Zone: r.bot.Zone, Records: waitingBook{r.book, r.room}, Procedures: shelf, Pictures: sketch{}, BehindProxy: o.proxy, Limits: o.limits,
		Preview: func(ctx context.Context, line string) (reply.Reply, error) {
			return looker.Handle(ctx, bot.Message{Surface: Surface, Text: line, At: time.Now()})
		},
		Waiting: func(ctx context.Context) (func(context.Context, chat.Person) (reply.Reply, error), error) {
			of, err := r.bot.Waiting(ctx)
			return func(ctx context.Context, p chat.Person) (reply.Reply, error) {
				return of(ctx, bot.Message{Surface: Surface, Channel: Surface, Person: Surface + ":" + p.ID, User: p.Name, Via: p.Via, Direct: true, At: time.Now()})
			}, err
		},
		Day: dayOf, Room: r.room, Observed: r.watch.observed, Seen: r.watch.seen,
	}
	for i := range cfg.Stations {
		s := &cfg.Stations[i]
		options.Stations = append(options.Stations, Station{s.Ident, s.Name, s.Elevation, s.Restriction, s.Usual})
	}
	if o.signIn {
		r.access = storetest.NewAccess()
		options.Access = r.access
	}
	if p, err = New(log, options); err != nil {
		t.Fatal(err)
	}
	r.page = p
	if o.set != nil {
		o.set(p)
	}
	set := chat.Settings{
		Stations: choices{cfg}, Duty: o.duty, Burst: 1000,
		Named:   func(text string) string { return r.bot.Named(text) },
		Problem: func(line string) *reply.Problem { return r.bot.Problem(context.Background(), line, time.Now()) },
		Shown: func(ctx context.Context, surface string, ref chat.Ref, a reply.Reply, again bool) {
			if a.Record != nil {
				if err := r.book.Shown(ctx, surface, string(ref), a.Record.ID); err != nil {
					t.Errorf("Shown: %v", err)
				}
			}
		},
	}
	desk := chat.New(log, time.Now, r.bot, set)
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { _ = p.Run(ctx, desk) })
	running.Go(func() { _ = r.book.Run(ctx) })
	r.server = httptest.NewServer(p.Handler())
	r.stop = sync.OnceFunc(func() {
		cancel()
		running.Wait()
		desk.Wait()
		r.server.Close()
		r.book.Close()
	})
	t.Cleanup(r.stop)
	eventually(t, "the page runs", func() bool {
		p.mu.Lock()
		defer p.mu.Unlock()
		return p.dispatcher != nil
	})
	p.Show(boardOf(), time.Now())
	return r
}

// cardsOf changes the cards that the page shows.
type cardsOf struct{ p **Page }

func (c cardsOf) Change(ctx context.Context, _, ref string, k record.Message) error {
	return (*c.p).Change(ctx, chat.Ref(ref), chat.Message{Reply: k.Reply, Note: k.Note})
}

// choices offers the stations.
type choices struct{ *config.Config }

func (c choices) Find(typed string, limit int) (out []bot.Offer) {
	for _, s := range c.Config.Find(typed, limit) {
		out = append(out, bot.Offer{Value: s.Ident, Label: strings.TrimSpace(s.Ident + " " + s.Name)})
	}
	return out
}

// watcher remembers who acknowledged what. all but XSLT have alerts.
type watcher struct {
	mu   sync.Mutex
	who  []string
	by   map[string]watch.Seen
	nows map[string]Observed // in the place of those there are

	blind bool // nothing is observed
}

// observed are invented observations: XRUN is at its line, whatever its
// forecast says.
func (w *watcher) observed(context.Context, []string) map[string]Observed {
	w.mu.Lock()
	defer w.mu.Unlock()
	at := time.Now().Add(-3 * time.Minute)
	out := map[string]Observed{
		"XKLD": {C: -29, At: at, Source: "METAR (folder)"},
		"XSLT": {C: -1, At: at, Source: "METAR (folder)"},
		"XHGH": {C: -15, At: at, Source: "typed by duty officer"},
	}
	maps.Copy(out, w.nows)
	return out
}

// Observation is the latest of a station.
func (w *watcher) Observation(ctx context.Context, ident string) (weather.Reading, error) {
	o, has := w.observed(ctx, nil)[ident]
	w.mu.Lock()
	defer w.mu.Unlock()
	if !has || w.blind {
		return weather.Reading{}, weather.ErrNone
	}
	return weather.Reading{Observation: weather.Observation{Ident: ident, C: o.C, At: o.At, Source: o.Source, Received: o.At}, Age: time.Since(o.At)}, nil
}

func (w *watcher) seen(context.Context, []string) map[string]watch.Seen {
	w.mu.Lock()
	defer w.mu.Unlock()
	out := map[string]watch.Seen{"XKLD": {Open: true}, "XHGH": {Open: true}, "XRUN": {Open: true}}
	maps.Copy(out, w.by)
	return out
}

func (w *watcher) Status(context.Context, time.Time) ([]watch.BaseStatus, error) {
	return boardOf(), nil
}

func (w *watcher) Acknowledge(_ context.Context, ident, by, _ string) (watch.Outcome, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.who = append(w.who, ident+" "+by)
	if w.by == nil {
		w.by = map[string]watch.Seen{}
	}
	w.by[ident] = watch.Seen{Open: true, By: by, At: time.Now()}
	return watch.Outcome{Done: true, Text: ident + " is acknowledged by " + by + "."}, nil
}

func (w *watcher) AcknowledgeAll(ctx context.Context, _ []string, by, from string) (watch.Outcome, error) {
	return w.Acknowledge(ctx, "XKLD", by, from)
}

func (w *watcher) SnoozeAll(ctx context.Context, _ []string, by, _ string, d time.Duration) (watch.Outcome, error) {
	return w.Snooze(ctx, "XKLD", by, d)
}

func (w *watcher) Snooze(_ context.Context, ident, _ string, d time.Duration) (watch.Outcome, error) {
	return watch.Outcome{Done: true, Text: fmt.Sprintf("%s is quiet for %v.", ident, d)}, nil
}

// forget has nobody know of anything.
func (w *watcher) forget() {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.by = nil
}

func (w *watcher) acknowledged() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return slices.Clone(w.who)
}

// boardOf has a base in every state.
func boardOf() []reply.Cold {
	at := time.Now().Truncate(time.Hour)
	return []reply.Cold{
		{Ident: "XKLD", State: "below", LowC: reply.Some(-31), LowAt: at, BelowFrom: at, BelowTo: at.Add(3 * time.Hour), RestrictionC: reply.Some(-25), Source: "TAF (folder)", Issued: at.Add(-2 * time.Hour)},
		{Ident: "XRUN", State: "near", LowC: reply.Some(-18.5), LowAt: at, RestrictionC: reply.Some(-20), Source: "TAF (folder)", Issued: at},
		{Ident: "XSLT", State: "clear", LowC: reply.Some(-2), LowAt: at, RestrictionC: reply.Some(-12), Source: "TAF (folder)", Issued: at},
		{Ident: "XHGH", State: "no-forecast", RestrictionC: reply.Some(-18), Note: "no source has a forecast"},
	}
}

// sketch draws a frame with the picture's words.
type sketch struct{}

func (sketch) SVG(_ context.Context, d drawing.Drawing) ([]byte, error) {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 540 200" width="540" height="200" role="img" aria-label="` + html.EscapeString(d.Alt()) + `"><path d="M2 2h536v196H2z" fill="none" stroke="currentColor"/></svg>`), nil
}

func (sketch) PDF(_ context.Context, c drawing.Kneeboard) ([]byte, error) {
	return []byte("%PDF-1.4 " + c.Paper.String() + " " + fmt.Sprint(c.Computed, c.Checked) + " " + c.NotValid), nil
}

// dayOf has no forecast, but a profile can be drawn as well.
func dayOf(context.Context, string) (drawing.Drawing, bool) {
	d, ok := drawing.ProfileOf(reply.Reply{
		Kind: reply.KindCorrection, Station: reply.Station{Ident: "XKLD", ElevationFt: 4802, Known: true}, TemperatureC: reply.Some(-38),
		Altitudes: []reply.Row{{Label: "FAF", PublishedFt: 8200, HeightFt: 3398, CorrectionFt: 800, CorrectedFt: 9000}},
	}, "")
	return d, ok
}

// approachOf is an invented procedure.
func approachOf(t testing.TB) approach.Approach {
	t.Helper()
	title, err := approach.ParseTitle("RNAV 31")
	if err != nil {
		t.Fatal(err)
	}
	a := approach.Approach{
		Ident: "XKLD", Code: "R28", Name: "rnav 31", Title: title, Source: "invented chart",
		Legs: []approach.Leg{
			{Fix: "XADLO", Altitude: 10900, Limit: approach.AtOrAbove, Route: approach.Transition, Role: approach.InitialFix, Initial: true, Transition: "XADLO"},
			{Fix: "XIRTU", Altitude: 7400, Limit: approach.AtOrAbove, Route: approach.FinalRoute, Role: approach.FinalFix},
			{Fix: "XADLO", Altitude: 10200, Limit: approach.AtOrAbove, Route: approach.MissedRoute, Role: approach.MissedHold},
		},
		Minimums: []approach.Minimum{{Name: "LNAV", Role: procedure.MinimumDescent, Altitude: 5460}},
	}
	a.Settle()
	return a
}

// unusual is another of the base, which it does not usually use.
func unusual(t testing.TB) approach.Approach {
	t.Helper()
	title, err := approach.ParseTitle("VOR A")
	if err != nil {
		t.Fatal(err)
	}
	a := approachOf(t)
	a.Code, a.Name, a.Title = "VORA", "vor a", title
	a.Settle()
	return a
}

// open is a browser in the room; behind a sign-in it comes in by a new link.
func (r *crewRoom) open(t testing.TB, name string, scope access.Scope) *browser {
	t.Helper()
	b := newBrowser(r.server.URL)
	if r.access != nil {
		if g := b.enter(t, r.link(t, name, scope)); g.code != 200 {
			t.Fatalf("%s is not let in: %d", name, g.code)
		}
		return b
	}
	if name != "" {
		b.send(t, "/you", "/you", map[string]string{"name": name})
	}
	return b
}

// link makes one.
func (r *crewRoom) link(t testing.TB, name string, scope access.Scope) (secret string) {
	t.Helper()
	secret, hash := access.Secret()
	added, err := r.access.AddToken(t.Context(), access.Token{Name: name, Hash: hash, Scope: scope, Made: time.Now()})
	if err != nil || !added {
		t.Fatalf("no link for %s: %v", name, err)
	}
	return secret
}

// alert posts one.
func (r *crewRoom) alert(t testing.TB, n int, facts ...string) string {
	t.Helper()
	ref, err := r.page.Send(t.Context(), outbox.Post{Key: fmt.Sprintf("alert/XKLD/2026-01-15/%d", n), Channel: "page", Body: reply.Reply{
		Kind: reply.KindAlert, Facts: facts,
		Actions: []reply.Action{{ID: "ack", Label: "Acknowledge", Message: "ack XKLD"}, {ID: "snooze", Label: "Snooze 2 h", Message: "snooze XKLD 2h"}},
	}})
	if err != nil {
		t.Fatal(err)
	}
	return ref
}

const goodLine = "XKLD -38 FAF 8200, DA 5340"

// recordOf asks and gives the name of the record.
func recordOf(t testing.TB, b *browser, line string) string {
	t.Helper()
	g := b.send(t, "/", "/ask", map[string]string{"text": line})
	for _, a := range parse(t, g.body).id("talk").named("a") {
		if id, ok := strings.CutPrefix(a.attrs["href"], "/record/"); ok && !strings.Contains(id, "/") {
			return id
		}
	}
	t.Fatalf("no record of %q:\n%s", line, parse(t, g.body).id("talk").read())
	return ""
}
