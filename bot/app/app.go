package app

import (
	"context"
	"io"
	"log/slog"
	"maps"
	"slices"
	"sync/atomic"
	"time"

	"firn/bot"
	"firn/bot/approach"
	"firn/bot/bases"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
)

// App is everything that one configuration makes. Close it in the end.
type App struct {
	parts Parts
	log   *slog.Logger
	now   func() time.Time
	cfg   *config.Config

	bot     *bot.Bot
	looker  *bot.Bot // answers without keeping
	catalog *approach.Catalog
	chain   *weather.Chain
	watch   *watch.Watch
	bases   *bases.Keeper // nil without a store

	// With a store alone.
	book     *record.Book
	page     Page
	outbox   *outbox.Outbox
	surfaces []Surface // the page is the last

	front    Front
	memory   *memory
	states   states
	rounds   rounds
	probe    written
	lookNow  chan struct{} // the bases' states may have changed
	fronts   chan struct{} // what front pages show may have changed
	observed time.Time     // when the watched bases were last asked for
	retired  atomic.Bool   // nothing is left of bases that are gone
	headOf   string        // the day whose head of the history was logged
}

// New makes an App; nothing runs yet.
func New(p Parts) (_ *App, err error) {
	a := &App{
		parts: p, log: p.Log, now: p.Now, cfg: p.Config,
		memory: &memory{fronts: chat.NewFronts()}, lookNow: make(chan struct{}, 1), fronts: make(chan struct{}, 1),
	}
	defer func() {
		if err != nil {
			a.Close()
		}
	}()
	if a.bot, err = bot.New(p.Log, p.Config, p.Rules); err != nil {
		return nil, err
	}
	if a.looker, err = bot.New(p.Log, p.Config, p.Rules); err != nil {
		return nil, err
	}
	if p.Before != nil {
		a.memory = p.Before.memory
		a.bot.Continue(p.Before.bot)
		a.parts.Before = nil // else each would keep all before it
	}
	a.makeWeather()
	a.makeCatalog()
	a.makeWatch()
	ports := bot.Ports{Watcher: a.watch, Procedures: a.catalog, StoreShut: p.Store == nil, Pictures: p.Artist != nil}
	if len(p.Sources) > 0 {
		ports.Observer, ports.Forecasts = a.chain, a.chain
	}
	if p.Store != nil {
		a.makeBases()
	}
	a.looker.Use(bot.Ports{Procedures: a.catalog, Observer: ports.Observer})
	a.surfaces = p.Surfaces
	if p.Store != nil {
		if err = a.keep(); err != nil {
			return nil, err
		}
		ports.Observations, ports.Book, ports.Threads, ports.Team = p.Store, a.book, threads{p.Store}, team{a}
		ports.Bases = a.bases
	}
	a.bot.Use(ports)
	return a, nil
}

// makeWeather puts the sources in a chain; what comes is archived where there
// is a store.
func (a *App) makeWeather() {
	var archive weather.Archive
	if a.parts.Store != nil {
		archive = a.parts.Store
	}
	a.chain = weather.NewChain(weather.Options{Sources: a.parts.Sources, Archive: archive, Now: a.now, Log: a.log, KeptFor: a.cfg.Alerts.Kept})
}

// makeCatalog has the procedures: those typed from charts, and the imported
// ones where there is a store.
func (a *App) makeCatalog() {
	var imported approach.Source
	if a.parts.Store != nil {
		imported = a.parts.Store
	}
	a.catalog = approach.NewCatalog(a.parts.Charts.Typed, imported, a.parts.Charts.Unread...)
}

// makeWatch has the morning watch.
func (a *App) makeWatch() {
	settings := watch.SettingsOf(a.cfg, a.bot.Rules())
	settings.Holder, settings.Lease = a.parts.Holder, a.parts.Pace.BaseLease
	settings.Usual = a.usual
	settings.Wrote, settings.Snoozed, settings.Seen = a.kick, a.snoozed, a.seen
	settings.Edits, settings.Threads, settings.Edit = a.edits, a.threads, a.edit
	a.watch = watch.New(a.log, a.now, settings, a.cfg.Watched(), a.chain, a.parts.Store)
}

// makeBases has the bases that duty officers have added watched too.
func (a *App) makeBases() {
	a.bases = bases.New(a.parts.Store, bases.Settings{
		Log: a.log, Now: a.now, Config: a.cfg, Watch: a.watch, Served: a.answersIn, Wrote: a.kick,
		Changed: func() { a.retired.Store(false) },
	})
	ctx, cancel := context.WithTimeout(context.Background(), basesWithin)
	defer cancel()
	a.readBases(ctx)
}

// basesWithin is how long the start waits for the added bases; the rounds read
// them again.
const basesWithin = 5 * time.Second

// WatchAlso has bases watched that were read elsewhere, where the App has no store.
func (a *App) WatchAlso(ctx context.Context, all []bases.Base) {
	bases.Watch(ctx, a.log, a.cfg, a.watch, all)
}

// readBases has what any replica was told of bases hold here.
func (a *App) readBases(ctx context.Context) {
	if a.bases == nil {
		return
	}
	if err := a.bases.Refresh(ctx); err != nil {
		a.log.WarnContext(ctx, "added bases not read", "err", err)
	}
}

// kick has the outbox look for posts now.
func (a *App) kick() { a.outbox.Kick() }

// keep makes what needs a store: the record, the page, the outbox.
func (a *App) keep() (err error) {
	p := a.parts
	a.book = a.newBook()
	if p.Page != nil {
		if a.page, err = p.Page(a); err != nil {
			return err
		}
		a.surfaces = append(slices.Clip(a.surfaces), a.page)
	}
	senders := map[string]outbox.Sender{}
	for _, on := range a.surfaces {
		senders[on.Name()] = on
	}
	maps.Copy(senders, p.Senders)
	posts := a.now
	if p.Pace.Posts != nil {
		posts = p.Pace.Posts
	}
	a.outbox = outbox.New(a.log, posts, p.Store, senders, outbox.Settings{
		Meter: p.Meter, Jitter: p.Jitter, Lease: p.Pace.PostLease, Poll: p.Pace.Poll, MaxBackoff: p.Pace.Backoff,
		Sent: a.posted, Root: a.root,
	})
	return nil
}

// Close lets go of everything but the store, which is whose who opened it.
func (a *App) Close() {
	for _, src := range a.parts.Sources {
		if c, ok := src.(io.Closer); ok {
			if err := c.Close(); err != nil {
				a.log.Warn("weather source not closed well", "source", src.Name(), "err", err)
			}
		}
	}
	if a.book != nil {
		a.book.Close()
	}
}

// Bot answers messages.
func (a *App) Bot() *bot.Bot { return a.bot }

// Book is the record; nil without a store.
func (a *App) Book() *record.Book { return a.book }

// Outbox has the posts; nil without a store.
func (a *App) Outbox() *outbox.Outbox { return a.outbox }

// Procedures are the stored ones of a station.
func (a *App) Procedures(ctx context.Context, ident string) ([]approach.Approach, error) {
	return a.catalog.Procedures(ctx, ident)
}

// Preview answers a line for a reader of the page; it leaves nothing in the
// record and in no conversation.
func (a *App) Preview(ctx context.Context, surface, line string) (reply.Reply, error) {
	return a.looker.Handle(ctx, bot.Message{Surface: surface, Text: line, At: a.now()})
}

// Status judges every watched base as of a time.
func (a *App) Status(ctx context.Context, at time.Time) ([]watch.BaseStatus, error) {
	return a.watch.Status(ctx, at)
}

// watched are the idents of the bases that have a watch.
func (a *App) watched() (idents []string) {
	for _, s := range a.cfg.Watched() {
		idents = append(idents, s.Ident)
	}
	return idents
}
