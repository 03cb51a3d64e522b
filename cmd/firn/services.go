package main

import (
	"context"
	"crypto/rand"
	"fmt"
	"io"
	"log/slog"
	mathrand "math/rand/v2"
	"os"
	"slices"
	"time"

	"firn/adapters/chartyaml"
	"firn/adapters/files"
	"firn/adapters/folder"
	"firn/adapters/health"
	"firn/adapters/httpwx/awc"
	"firn/adapters/httpwx/fetch"
	"firn/adapters/httpwx/nws"
	"firn/adapters/manualobs"
	"firn/adapters/page"
	"firn/adapters/picture"
	"firn/adapters/scheduler"
	"firn/adapters/sqlstore"
	"firn/bot/app"
	"firn/bot/config"
	"firn/bot/weather"
)

// The variables that this package reads itself (product contract).
const (
	envDatabase     = "FIRN_DATABASE_URL"
	envSlackApp     = "FIRN_SLACK_APP_TOKEN"
	envSlackBot     = "FIRN_SLACK_BOT_TOKEN"
	envSlackURL     = "FIRN_SLACK_API_URL"
	envDiscord      = "FIRN_DISCORD_TOKEN"
	envDiscordURL   = "FIRN_DISCORD_API_URL"
	envDiscordShard = "FIRN_DISCORD_SHARD" // "0/2": this process's part of two
)

// opening is what a command may do to the store.
type opening int

const (
	noStore     opening = iota
	toRead              // nothing is written
	mustBeThere         // and of this firn's schema
	mayMake             // where there is none
	mayUpgrade          // and bring an older one up to date: firn serve alone
)

var openings = map[opening]sqlstore.Opening{
	toRead: sqlstore.ToRead, mustBeThere: sqlstore.MustExist, mayMake: sqlstore.MayCreate, mayUpgrade: sqlstore.ToServe,
}

// wanted says what a command needs of the services.
type wanted struct {
	places
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
	*app.App
	log    *slog.Logger
	now    func() time.Time
	loaded *loaded
	store  sqlstore.Opened
	where  string // the store, for people
	page   *page.Page
	meters *health.Meters
	holder string // this process among the replicas
}

// newServices wires everything but the listeners.
func newServices(ctx context.Context, h host, w wanted) (_ *services, err error) {
	s := &services{now: w.now}
	b := health.ThisBuild()
	if w.before != nil {
		s.meters, s.holder = w.before.meters, w.before.holder
	} else {
		s.meters, s.holder = health.NewMeters(b), holder()
	}
	s.log = s.meters.NewLog(h.stderr, w.level, w.form)
	if w.store == mayUpgrade && w.before == nil {
		s.log.Info("firn starts", "version", b.Version, "commit", b.Commit, "calculation", b.Calculation, "go", b.Go)
	}
	if s.loaded, err = w.load(h.stderr); err != nil {
		return nil, err
	}
	if err = s.takeStore(ctx, h, w); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil && w.before == nil {
			s.closeStore()
		}
	}()
	p := app.Parts{
		Log: s.log, Now: w.now, Config: s.loaded.Config, Name: s.loaded.Name, Rules: s.loaded.Rules,
		Where: s.where, Holder: s.holder, SignIn: s.loaded.signIn(),
		Homes:   map[string]string{string(config.OnSlack): slackHome, string(config.OnDiscord): s.loaded.Discord.Guild},
		Wanting: wanting, Meter: s.meters, Schedule: s.schedule, Jitter: mathrand.Float64, Pace: h.pace,
	}
	if w.before != nil {
		p.Before = w.before.App
	}
	if s.store != nil {
		p.Store, p.Page, p.Senders = s.store, s.newPage, s.senders(w.screen)
	}
	if p.Charts, err = s.charts(); err != nil {
		return nil, err
	}
	if w.chat {
		p.Artist = new(picture.Lazy)
		if p.Surfaces, err = s.chat(h); err != nil {
			return nil, err
		}
	}
	if p.Sources, err = s.sources(); err != nil {
		return nil, err
	}
	s.App, err = app.New(p)
	return s, err
}

// takeStore opens the store that a command wants, or takes the one that serves
// already.
func (s *services) takeStore(ctx context.Context, h host, w wanted) (err error) {
	switch {
	case w.before != nil:
		s.store, s.where = w.before.store, w.before.where
		if is := s.loaded.StoreFile(); is != w.before.loaded.StoreFile() {
			return fmt.Errorf("the store is another one there, %s: that needs a restart", is)
		}
		return nil
	case w.store == noStore:
		return nil
	}
	at, err := s.loaded.place(h)
	if err != nil {
		return err
	}
	s.where = at.String()
	if s.store, err = at.Open(ctx, openings[w.store]); err != nil {
		return err
	}
	if lite, ok := s.store.(*sqlstore.SQLite); ok {
		if u, done := lite.Upgraded(); done {
			s.log.Info("the store was brought up to date; a copy of it as it was is kept", "store", s.where, "from", u.From, "to", u.To, "copy", u.Copy)
		}
	}
	return nil
}

// close lets go of everything, the store last.
func (s *services) close() {
	s.Close()
	s.closeStore()
}

func (s *services) closeStore() {
	if s.store == nil {
		return
	}
	if err := s.store.Close(); err != nil {
		s.log.Error("store not closed well", "err", err)
	}
}

// schedule has gocron call the rounds.
func (s *services) schedule(ctx context.Context, name string, every time.Duration, fn func(context.Context)) (func() error, error) {
	t, err := scheduler.Start(ctx, s.log, s.store, s.holder, name, every, fn)
	if err != nil {
		return nil, err
	}
	return t.Close, nil
}

// charts reads the procedures that were typed from charts.
func (s *services) charts() (c app.Charts, err error) {
	if s.loaded.Procedures == "" {
		return c, nil
	}
	path := s.loaded.Path(s.loaded.Procedures)
	all, err := s.loaded.Folder(s.loaded.Procedures)
	if err != nil {
		return c, fmt.Errorf("procedures: %w", err)
	}
	if c, err = chartyaml.Open(s.log, all, path, s.loaded.Stations); err != nil {
		err = fmt.Errorf("procedures in %s: %w", path, err)
	}
	return c, err
}

// sources opens the weather in its order. What the duty officer types comes
// first where the configuration does not say otherwise: a person at the field
// knows better than the last report.
func (s *services) sources() (all []weather.Source, err error) {
	list := s.loaded.Weather
	if !slices.ContainsFunc(list, func(w config.Weather) bool { return w.Kind == config.Typed }) {
		list = append([]config.Weather{{Kind: config.Typed}}, list...)
	}
	for _, w := range list {
		src, err := s.source(w)
		if err != nil {
			return all, err
		}
		if src != nil {
			all = append(all, src)
		}
	}
	return all, nil
}

// source opens one; nil: it has nothing to say here.
func (s *services) source(w config.Weather) (src weather.Source, err error) {
	web := fetch.Options{
		Now: s.now, UserAgent: "firn (cold weather altitudes; run by the operator of this address)",
		BaseURL: w.URL, Private: w.Private,
	}
	switch w.Kind {
	case config.Typed:
		if s.store != nil { // else nobody can have typed anything
			src = manualobs.New(s.store)
		}
		return src, nil
	case config.Folder:
		src, err = folder.New(folder.Options{Dir: s.loaded.Path(w.Path), FS: s.loaded.Brought(w.Path), Now: s.now, Log: s.log})
		if err != nil {
			return nil, files.Missing(err) // it names itself
		}
	case config.AWC:
		o := awc.Options{Options: web}
		for i := range s.loaded.Stations {
			o.Idents = append(o.Idents, s.loaded.Stations[i].Ident)
		}
		src, err = awc.New(o)
	case config.NWS:
		o := nws.Options{Options: web, Places: map[string]nws.Place{}, PlaceOf: func(ident string) (nws.Place, bool) {
			p, ok := s.loaded.Place(ident)
			return nws.Place(p), ok
		}}
		for i := range s.loaded.Stations {
			if st := &s.loaded.Stations[i]; st.Place != nil {
				o.Places[st.Ident] = nws.Place(*st.Place)
			}
		}
		src, err = nws.New(o)
	}
	if err != nil {
		return nil, fmt.Errorf("weather %s: %w", w.Kind, err)
	}
	return src, nil
}

// holder names this process: no other has the same.
func holder() string {
	name, err := os.Hostname()
	if err != nil {
		name = "host"
	}
	return fmt.Sprintf("%s/%d/%s", name, os.Getpid(), rand.Text()[:8])
}
