package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	mathrand "math/rand/v2"
	"os"
	"path/filepath"
	"time"

	"firn/adapters/chartyaml"
	"firn/adapters/console"
	"firn/adapters/folder"
	"firn/adapters/httpwx/awc"
	"firn/adapters/httpwx/fetch"
	"firn/adapters/httpwx/nws"
	"firn/adapters/jsonl"
	"firn/adapters/manualobs"
	"firn/adapters/page"
	"firn/adapters/postgres"
	"firn/adapters/sqlite"
	"firn/bot"
	"firn/bot/access"
	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/watch"
	"firn/bot/weather"
)

// store is what the work is kept in, whichever database it is.
type store interface {
	watch.Store
	outbox.Queue
	outbox.Adder
	outbox.Lister
	weather.Archive
	approach.Store
	weather.Past
	record.Store
	access.Store
	pagestate.Store
	pagestate.Feed
	Restored(ctx context.Context) error // it was put back from a copy
	Close() error
}

// The variables that this package reads itself (product contract).
const (
	envDatabase     = "FIRN_DATABASE_URL"
	envSlackApp     = "FIRN_SLACK_APP_TOKEN"
	envSlackBot     = "FIRN_SLACK_BOT_TOKEN"
	envSlackURL     = "FIRN_SLACK_API_URL"
	envDiscord      = "FIRN_DISCORD_TOKEN"
	envDiscordURL   = "FIRN_DISCORD_API_URL"
	envDiscordShard = "FIRN_DISCORD_SHARD" // "0/2": this process's part of two
	envFile         = "_FILE"              // behind a secret's name: the file that holds it
)

// The store's file when the configuration names none: in the folder of --data,
// else in this one below the configuration's. Never below the folder that firn
// is started in, or a command from elsewhere would look at another store.
const (
	defaultData  = "firn-data"
	defaultStore = "firn.db"
)

// opening is what a command may do to the store.
type opening int

const (
	noStore     opening = iota
	mustBeThere         // and of this firn's schema
	mayMake             // where there is none
	mayUpgrade          // and bring an older one up to date: firn serve alone
)

// pace is how fast the work goes; tests that kill processes want it faster.
type pace struct {
	tick      time.Duration // zero: a minute
	baseLease time.Duration // the rest zero: the defaults of watch and outbox
	postLease time.Duration
	poll      time.Duration
	backoff   time.Duration // the longest pause between two attempts at a post
	hold      time.Duration // how long an event is this process's own
	limit     time.Duration // for one answer
	// posts is the outbox's clock, nil for the one that all have: leases and
	// attempts are measured by it, which a clock that runs fast would end.
	posts func() time.Time
}

// between is what tests put between the work and what it works with: nil is
// nothing. No flag, variable or file can set it.
type between struct {
	store  func(store) store
	sender func(outbox.Sender) outbox.Sender
}

// wanted says what a command needs of the services.
type wanted struct {
	files
	level  slog.Level
	form   string // of the log: json, else text
	now    func() time.Time
	before *services // that serve already, whose store is gone on with; nil: none
	screen io.Writer // where the console surface posts; nil: nowhere
	store  opening
	chat   bool // the chat services whose tokens are set
}

// services are what the commands share. What a command did not want is nil.
type services struct {
	log        *slog.Logger
	loaded     *loaded
	bot        *bot.Bot
	store      store
	where      string // the store, for people
	sources    []weather.Source
	folders    []*folder.Source
	procedures *approach.Catalog
	left       []chartyaml.Left // files of procedures that could not be used
	others     []string         // and those for other stations
	chain      *weather.Chain
	watch      *watch.Watch
	page       *page.Page
	outbox     *outbox.Outbox
	meters     *meters
	states     states
	rounds     rounds
	stirred    chan struct{} // the bases' states may have changed
	now        func() time.Time
	retired    bool      // nothing is left of bases that are gone
	headOf     string    // the day whose head of the history was logged
	observed   time.Time // when the watched bases were last asked for
	holder     string    // this process among the replicas
	surfaces   []surface
	book       *record.Book
	pace       pace
	borrowed   bool // the store is another's still
	handed     bool // the store is another's now
}

// newServices wires everything but the listeners.
func newServices(ctx context.Context, h host, w wanted) (_ *services, err error) {
	s := &services{
		now:    w.now,
		holder: holder(), stirred: make(chan struct{}, 1),
		pace: h.pace,
	}
	if w.before != nil {
		s.meters = w.before.meters
	} else {
		s.meters = newMeters()
	}
	s.log = newLog(h, w.level, w.form, s.meters)
	defer func() {
		if err != nil {
			s.close()
		}
	}()
	if w.store == mayUpgrade && w.before == nil {
		b := thisBuild()
		s.log.Info("firn starts", "version", b.Version, "commit", b.Revision, "calculation", b.Engine, "go", b.Go)
	}
	if s.loaded, err = w.load(h.stderr); err != nil {
		return nil, err
	}
	cfg := s.loaded.Config
	if s.bot, err = bot.New(s.log, cfg, s.loaded.sets); err != nil {
		return nil, err
	}
	if w.before != nil {
		s.store, s.where, s.borrowed = w.before.store, w.before.where, true
		s.bot.Continue(w.before.bot)
	} else if w.store != noStore {
		if s.store, s.where, err = openStore(ctx, h, s.loaded, w.store); err != nil {
			return nil, err
		}
		if lite, ok := s.store.(*sqlite.Store); ok {
			if u, done := lite.Upgraded(); done {
				s.log.Info("the store was brought up to date; a copy of it as it was is kept", "store", s.where, "from", u.From, "to", u.To, "copy", u.Copy)
			}
		}
		if h.between.store != nil {
			s.store = h.between.store(s.store)
		}
	}
	if err = s.weather(w.now); err != nil {
		return nil, err
	}
	settings := watch.SettingsOf(cfg, s.bot.Rules())
	settings.Holder, settings.Lease = s.holder, h.pace.baseLease
	procedures, err := s.shelf()
	if err != nil {
		return nil, err
	}
	s.procedures, settings.Usual = procedures, s.usual(procedures)
	settings.Wrote = func() { s.outbox.Kick() }
	s.watch = watch.New(s.log, w.now, settings, cfg.Stations, s.chain, s.store)
	ports := bot.Ports{Watcher: s.watch, Procedures: procedures, StoreShut: s.store == nil, Pictures: w.chat}
	if len(s.sources) > 0 {
		ports.Observer, ports.Forecasts = s.chain, s.chain
	}
	if s.store != nil {
		s.book = s.newBook()
		if s.page, err = s.newPage(procedures); err != nil {
			return nil, err
		}
		senders := map[string]outbox.Sender{
			jsonl.Surface: jsonl.New(s.log, s.posts()),
			page.Surface:  s.page,
		}
		if w.screen != nil {
			senders[string(config.OnConsole)] = console.NewSender(w.screen, console.Style{})
		}
		if w.chat {
			if err = s.openSurfaces(h); err != nil {
				return nil, err
			}
			s.surfaces = append(s.surfaces, s.page)
		}
		for _, on := range s.surfaces {
			senders[on.Name()] = on
		}
		if h.between.sender != nil {
			for surface, sender := range senders {
				senders[surface] = h.between.sender(sender)
			}
		}
		posts := w.now
		if h.pace.posts != nil {
			posts = h.pace.posts
		}
		s.outbox = outbox.New(s.log, posts, s.store, senders, outbox.Settings{
			Meter: s.meters, Jitter: mathrand.Float64, Lease: h.pace.postLease, Poll: h.pace.poll, MaxBackoff: h.pace.backoff,
			Sent: s.posted,
		})
		ports.Observations, ports.Book, ports.Threads, ports.Team = s.store, s.book, threads{s.store}, team{s}
	} else if w.chat {
		if err = s.openSurfaces(h); err != nil { // to try their tokens
			return nil, err
		}
	}
	s.bot.Use(ports)
	return s, nil
}

// close lets go of everything, the store last.
func (s *services) close() {
	for _, f := range s.folders {
		f.Close()
	}
	if s.book != nil {
		s.book.Close()
	}
	if s.store == nil || s.borrowed || s.handed {
		return
	}
	if err := s.store.Close(); err != nil {
		s.log.Error("store not closed well", "err", err)
	}
}

// posts is the folder of the file surface, beside the store's file.
func (s *services) posts() string {
	return filepath.Join(filepath.Dir(s.loaded.file()), "posts")
}

// openStore opens the PostgreSQL database that the environment names, else
// the file.
func openStore(ctx context.Context, h host, l *loaded, how opening) (s store, where string, err error) {
	url, err := secretOf(h, envDatabase)
	if err != nil {
		return nil, "", err
	}
	if url.set() {
		open := map[opening]func(context.Context, string) (*postgres.Store, error){
			mustBeThere: postgres.OpenThere, mayMake: postgres.OpenOrMake, mayUpgrade: postgres.Open,
		}[how]
		pg, err := open(ctx, url.reveal())
		if err != nil {
			return nil, "", err
		}
		return pg, "PostgreSQL", nil
	}
	open := map[opening]func(context.Context, string) (*sqlite.Store, error){
		mustBeThere: sqlite.OpenThere, mayMake: sqlite.OpenOrMake, mayUpgrade: sqlite.Open,
	}[how]
	lite, err := open(ctx, l.file())
	if err != nil {
		return nil, "", err
	}
	return lite, l.file(), nil
}

// weather opens the sources in their order. What the duty officer types comes
// first where the configuration does not say otherwise: a person at the field
// knows better than the last report.
func (s *services) weather(now func() time.Time) error {
	list := s.loaded.Weather
	if !lists(list, config.Typed) {
		list = append([]config.Weather{{Kind: config.Typed}}, list...)
	}
	web := fetch.Options{Now: now, UserAgent: "firn (cold weather altitudes; run by the operator of this address)"}
	for _, w := range list {
		var src weather.Source
		var err error
		switch w.Kind {
		case config.Typed:
			if s.store == nil {
				continue // nobody can have typed anything
			}
			src = manualobs.New(s.store)
		case config.Folder:
			var f *folder.Source
			f, err = folder.New(folder.Options{Dir: s.loaded.path(w.Path), FS: s.loaded.brought(w.Path), Now: now, Log: s.log})
			if err == nil {
				s.folders = append(s.folders, f)
				src = f
			}
		case config.AWC:
			web := web
			web.BaseURL, web.Private = w.URL, w.Private
			src, err = awc.New(awc.Options{Options: web, Idents: s.idents()})
		case config.NWS:
			web := web
			web.BaseURL, web.Private = w.URL, w.Private
			src, err = nws.New(nws.Options{Options: web, Places: s.places()})
		}
		if err != nil {
			return fmt.Errorf("weather %s: %w", w.Kind, err)
		}
		s.sources = append(s.sources, src)
	}
	var archive weather.Archive
	if s.store != nil {
		archive = s.store
	}
	s.chain = weather.NewChain(weather.Options{Sources: s.sources, Archive: archive, Now: now, Log: s.log, KeptFor: s.loaded.Alerts.Kept})
	return nil
}

func lists(all []config.Weather, k config.WeatherKind) bool {
	for _, w := range all {
		if w.Kind == k {
			return true
		}
	}
	return false
}

func (s *services) idents() []string {
	out := make([]string, len(s.loaded.Stations))
	for i := range s.loaded.Stations {
		out[i] = s.loaded.Stations[i].Ident
	}
	return out
}

func (s *services) places() map[string]nws.Place {
	out := map[string]nws.Place{}
	for i := range s.loaded.Stations {
		if st := &s.loaded.Stations[i]; st.Place != nil {
			out[st.Ident] = nws.Place(*st.Place)
		}
	}
	return out
}

// holder names this process: no other has the same.
func holder() string {
	name, err := os.Hostname()
	if err != nil {
		name = "host"
	}
	return fmt.Sprintf("%s/%d/%s", name, os.Getpid(), rand.Text()[:8])
}
