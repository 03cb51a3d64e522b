package wiring

import (
	"context"
	"crypto/rand"
	"errors"
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
	EnvDatabase     = "FIRN_DATABASE_URL"
	EnvSlackApp     = "FIRN_SLACK_APP_TOKEN"
	EnvSlackBot     = "FIRN_SLACK_BOT_TOKEN"
	EnvSlackURL     = "FIRN_SLACK_API_URL"
	EnvDiscord      = "FIRN_DISCORD_TOKEN"
	EnvDiscordURL   = "FIRN_DISCORD_API_URL"
	EnvDiscordShard = "FIRN_DISCORD_SHARD" // "0/2": this process's part of two
)

// Opening is what a command may do to the store.
type Opening int

const (
	NoStore   Opening = iota
	ToRead            // nothing is written
	MustExist         // and of this firn's schema
	MayCreate         // where there is none
	ToServe           // and bring an older one up to date: firn serve alone
)

// openings are what the store calls them.
var openings = map[Opening]sqlstore.Opening{
	ToRead: sqlstore.ToRead, MustExist: sqlstore.MustExist, MayCreate: sqlstore.MayCreate, ToServe: sqlstore.ToServe,
}

// Wanted says what a command needs of the services.
type Wanted struct {
	Places
	Level  slog.Level
	Form   string // of the log: json, else text
	Now    func() time.Time
	Before *Services // that serve already, whose store is gone on with; nil: none
	Screen io.Writer // where the console surface posts; nil: nowhere
	Store  Opening
	Chat   bool // the chat services whose tokens are set
	// Left is told of each part that cannot be had, and New goes on without it;
	// nil: New ends with the first.
	Left func(error)
}

// without says what New ends with for a part that cannot be had.
func (w Wanted) without(err error) error {
	if err == nil || w.Left == nil {
		return err
	}
	w.Left(err)
	return nil
}

// Services are what the commands share. What a command did not want is nil.
type Services struct {
	*app.App
	Log    *slog.Logger
	Now    func() time.Time
	Loaded *Loaded
	Store  sqlstore.Opened
	Where  string // the store, for people
	page   *page.Page
	pace   app.Pace
	meters *health.Meters
	holder string // this process among the replicas
}

// New wires everything but the listeners.
func New(ctx context.Context, h Host, w Wanted) (_ *Services, err error) {
	s := &Services{Now: w.Now, pace: h.Pace}
	b := health.ThisBuild()
	if w.Before != nil {
		s.meters, s.holder = w.Before.meters, w.Before.holder
	} else {
		s.meters, s.holder = health.NewMeters(b), holder()
	}
	s.Log = s.meters.NewLog(h.Stderr, w.Level, w.Form)
	if w.Store == ToServe && w.Before == nil {
		s.Log.Info("firn starts", "version", b.Version, "commit", b.Commit, "calculation", b.Calculation, "go", b.Go)
	}
	if s.Loaded, err = w.load(h); err != nil {
		return nil, err
	}
	if err = s.takeStore(ctx, h, w); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil && w.Before == nil {
			s.unmakeStore()
		}
	}()
	p := app.Parts{
		Log: s.Log, Now: w.Now, Config: s.Loaded.Config, Name: s.Loaded.Name, Rules: s.Loaded.Rules,
		Where: s.Where, Holder: s.holder, SignIn: s.Loaded.SignIn(),
		Homes:   map[string]string{string(config.OnSlack): slackHome, string(config.OnDiscord): s.Loaded.Discord.Guild},
		Wanting: wanting, Meter: s.meters, Schedule: s.schedule, Jitter: mathrand.Float64, Pace: h.Pace,
	}
	if w.Before != nil {
		p.Before = w.Before.App
	}
	if s.Store != nil {
		p.Digest, p.Edited = s.Loaded.Digest()
		p.Store, p.Page = s.Store, s.newPage
	}
	if s.Store != nil || w.Chat { // doctor looks at channels without a store too
		p.Senders = s.senders(w.Screen)
	}
	p.Charts, err = s.charts()
	if err = w.without(err); err != nil {
		return nil, err
	}
	if w.Chat {
		p.Artist = new(picture.Lazy)
		if p.Surfaces, err = s.surfaces(h, w); err != nil {
			return nil, err
		}
	}
	if p.Sources, err = s.sources(w); err != nil {
		return nil, err
	}
	s.App, err = app.New(p)
	return s, err
}

// takeStore opens the store that a command wants, or takes the one that serves
// already.
func (s *Services) takeStore(ctx context.Context, h Host, w Wanted) (err error) {
	switch {
	case w.Before != nil:
		s.Store, s.Where = w.Before.Store, w.Before.Where
		if is := s.Loaded.StoreFile(); is != w.Before.Loaded.StoreFile() {
			return fmt.Errorf("the store is another one there, %s: that needs a restart", is)
		}
		return nil
	case w.Store == NoStore:
		return nil
	}
	at, err := s.Loaded.StoreAt(h)
	if err != nil {
		return err
	}
	s.Where = at.String()
	if s.Store, err = at.Open(ctx, openings[w.Store]); err != nil {
		return err
	}
	if w.Screen == nil { // else serve logs it, and doctor has a line on it
		fmt.Fprintln(h.Stderr, "firn: the store is", s.Where)
	}
	if lite, ok := s.Store.(*sqlstore.SQLite); ok {
		if u, done := lite.Upgraded(); done {
			s.Log.Info("the store was brought up to date; a copy of it as it was is kept", "store", s.Where, "from", u.From, "to", u.To, "copy", u.Copy)
		}
	}
	return nil
}

// KnowBases has the bases that duty officers have added watched too, of a store
// that is there; nothing of it stays open. A store that cannot be read is logged.
func (s *Services) KnowBases(ctx context.Context, h Host) {
	at, err := s.Loaded.StoreAt(h)
	if err != nil {
		s.Log.WarnContext(ctx, "added bases not read", "err", err)
		return
	}
	store, err := at.Open(ctx, sqlstore.ToRead)
	_, old := errors.AsType[sqlstore.OldError](err)
	switch {
	case old || errors.Is(err, sqlstore.ErrNone):
		if s.Loaded.Configured() { // else it is the demo's, which is tried without one
			fmt.Fprintf(h.Stderr, "firn: bases that were added are not among these: %v\n", err)
		}
		return
	case err != nil:
		s.Log.WarnContext(ctx, "added bases not read", "err", err)
		return
	}
	fmt.Fprintln(h.Stderr, "firn: the store is", at)
	all, err := store.Bases(ctx)
	if err = errors.Join(err, store.Close()); err != nil {
		s.Log.WarnContext(ctx, "added bases not read", "err", err)
		return
	}
	s.WatchAlso(ctx, all)
}

// Close lets go of everything, the store last.
func (s *Services) Close() {
	s.App.Close()
	s.CloseStore()
}

// CloseStore lets go of the store alone, where there is one.
func (s *Services) CloseStore() {
	if s.Store == nil {
		return
	}
	if err := s.Store.Close(); err != nil {
		s.Log.Error("store not closed well", "err", err)
	}
}

// unmakeStore lets go of the store of what will not serve: one that was made for
// that is no more.
func (s *Services) unmakeStore() {
	lite, ok := s.Store.(*sqlstore.SQLite)
	if !ok {
		s.CloseStore()
		return
	}
	if err := lite.Unmake(); err != nil {
		s.Log.Error("store not closed well", "err", err)
	}
}

// schedule has gocron call the rounds.
func (s *Services) schedule(ctx context.Context, name string, every time.Duration, fn func(context.Context)) (func() error, error) {
	t, err := scheduler.Start(ctx, s.Log, s.Store, name, every, fn)
	if err != nil {
		return nil, err
	}
	return t.Close, nil
}

// charts reads the procedures that were typed from charts.
func (s *Services) charts() (c app.Charts, err error) {
	if s.Loaded.Procedures == "" {
		return c, nil
	}
	path := s.Loaded.Path(s.Loaded.Procedures)
	all, err := s.Loaded.Folder(s.Loaded.Procedures)
	if err != nil {
		return c, fmt.Errorf("procedures: %w", err)
	}
	if c, err = chartyaml.Open(s.Log, all, path, s.Loaded.Config); err != nil {
		err = fmt.Errorf("procedures in %s: %w", path, err)
	}
	return c, err
}

// sources opens the weather in its order. What the duty officer types comes
// first where the configuration does not say otherwise: a person at the field
// knows better than the last report.
func (s *Services) sources(of Wanted) (all []weather.Source, err error) {
	list := s.Loaded.Weather
	if !slices.ContainsFunc(list, func(w config.Weather) bool { return w.Kind == config.Typed }) {
		list = append([]config.Weather{{Kind: config.Typed}}, list...)
	}
	for _, w := range list {
		src, err := s.source(w)
		switch {
		case err != nil:
			if err := of.without(err); err != nil {
				return all, err
			}
		case src != nil:
			all = append(all, src)
		}
	}
	return all, nil
}

// source opens one; nil: it has nothing to say here.
func (s *Services) source(w config.Weather) (src weather.Source, err error) {
	web := fetch.Options{
		Now: s.Now, UserAgent: "firn (cold weather altitudes; run by the operator of this address)",
		BaseURL: w.URL, Private: w.Private,
	}
	switch w.Kind {
	case config.Typed:
		if s.Store != nil { // else nobody can have typed anything
			src = manualobs.New(s.Store)
		}
		return src, nil
	case config.Folder:
		src, err = folder.New(folder.Options{Dir: s.Loaded.Path(w.Path), FS: s.Loaded.Brought(w.Path), Now: s.Now, Log: s.Log})
		if err != nil {
			return nil, files.Missing(err) // it names itself
		}
	case config.AWC:
		o := awc.Options{Options: web}
		for i := range s.Loaded.Stations {
			o.Idents = append(o.Idents, s.Loaded.Stations[i].Ident)
		}
		src, err = awc.New(o)
	case config.NWS:
		o := nws.Options{Options: web, Places: map[string]nws.Place{}, PlaceOf: func(ident string) (nws.Place, bool) {
			p, ok := s.Loaded.Place(ident)
			return nws.Place(p), ok
		}}
		for i := range s.Loaded.Stations {
			if st := &s.Loaded.Stations[i]; st.Place != nil {
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
