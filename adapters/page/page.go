package page

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"firn/bot/access"
	"firn/bot/approach"
	"firn/bot/chat"
	"firn/bot/drawing"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine"
)

// Surface is the channel that a Page serves, and its name as a surface.
const Surface = "page"

// DutyGroup is the group of those who may do what duty officers do: whoever is
// at this machine, and whoever came in by a link with that scope.
const DutyGroup = "duty"

// Records are the results; *record.Book is one.
type Records interface {
	Find(ctx context.Context, id string) (record.Record, bool, error)
	List(ctx context.Context, q record.Query) ([]record.Record, error)
	Viewer(p record.Person) *record.Viewer
	Render(r record.Record) reply.Reply
	State(r record.Record) record.State
	Unchecked(r record.Record) bool
}

// Procedures are the stored ones of a station.
type Procedures interface {
	Procedures(ctx context.Context, ident string) ([]approach.Approach, error)
}

// Pictures draws; adapters/picture does.
type Pictures interface {
	SVG(ctx context.Context, d drawing.Drawing) ([]byte, error)
	PDF(ctx context.Context, c drawing.Kneeboard) ([]byte, error)
}

// Station is one that the page knows.
type Station struct {
	Ident, Name string
	Elevation   engine.Altitude
	Restriction *engine.Celsius // nil: none is published
	Usual       []string        // the procedures that it uses, as crews say them
}

// Options are what a Page is made of. What is nil is not there, and the page
// says so where it would be.
type Options struct {
	Now      func() time.Time                  // nil: time.Now
	Zone     func(ident string) *time.Location // nil: UTC
	Stations []Station

	// Access has the links that people come in by. nil: whoever reaches the
	// listener may do everything, which is right on loopback alone; the page
	// then answers no other name.
	Access access.Store
	// BehindProxy believes X-Forwarded-For, -Proto and -Host.
	BehindProxy bool

	Records    Records
	Procedures Procedures
	Pictures   Pictures
	// Waiting reads what waits for people: of a person those results that they can
	// check, and their own that are out of date, as reply.MineOf makes it. nil: nobody
	// is told.
	Waiting func(ctx context.Context) (of func(ctx context.Context, p chat.Person) (reply.Reply, error), err error)
	// Preview answers a line without keeping it.
	Preview func(ctx context.Context, line string) (reply.Reply, error)
	// Day is a base's forecast against its restriction temperature.
	Day func(ctx context.Context, ident string) (drawing.Drawing, bool)

	// Observed are the latest observations of bases, by ident; Seen is who knows
	// of their alerts.
	Observed func(ctx context.Context, idents []string) map[string]Observed
	Seen     func(ctx context.Context, idents []string) map[string]watch.Seen

	// Beat is between two signs of life to an open page; 0: 15 s.
	Beat time.Duration

	// Room keeps what people are shown. nil: it lasts as long as the process.
	Room pagestate.Store

	Limits Limits
}

// Page is the surface. Safe for use by several goroutines.
type Page struct {
	log *slog.Logger
	o   Options
	hub *hub

	pages  map[string]*template.Template
	parts  *template.Template
	assets map[string]asset
	sum    string // of the assets

	limits  *limiter
	refused refusals
	good    goodLinks
	streams streams
	beat    time.Duration // of the streams
	within  time.Duration // a write of theirs
	looks   time.Duration // between two looks at the weather
	turn    time.Duration // that a page on a wall stands

	postsRead struct {
		sync.Mutex
		rev int64
		all []thread
	}

	names  map[string]string // of the stations, by ident
	logs   logPart
	awaits awaited
	sparks sparks

	mu        sync.Mutex
	board     []base
	at        time.Time          // of the board
	boardMade sync.Mutex         // held while it is made: those who wait want the same
	boardPart map[bool]boardPart // the board as every stream shows it, by whether with buttons
	news      struct {           // which bases are in another state
		count uint64
		text  string
	}

	taking     sync.WaitGroup
	ended      chan struct{} // closed when Run ends, until it runs again
	dispatcher chat.Handler  // nil before Run
	work       context.Context
}

// boardPart is the board as it was made.
type boardPart struct {
	count     uint64
	html, sum string
}

//go:embed templates/*.html assets/*
var files embed.FS

// asset is a file that pages load.
type asset struct {
	kind string
	data []byte
}

var assetKinds = map[string]string{
	"style.css": "text/css; charset=utf-8",
	"live.js":   "text/javascript; charset=utf-8",
	"icon.svg":  "image/svg+xml",
	// These two are asked for at the top, whose pages they are for.
	"sw.js":                "text/javascript; charset=utf-8",
	"manifest.webmanifest": "application/manifest+json",
}

// pageNames are the templates that are whole pages.
var pageNames = []string{"ask", "board", "base", "watch", "log", "record", "check", "procedures", "procedure", "you", "enter", "plain"}

// New makes an empty Page.
func New(log *slog.Logger, o Options) (*Page, error) {
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Zone == nil {
		o.Zone = func(string) *time.Location { return time.UTC }
	}
	if o.Room == nil {
		o.Room = pagestate.NewMemory()
	}
	o.Limits = o.Limits.withDefaults()
	p := &Page{
		log: slog.New(hungUp{log.Handler()}), o: o, hub: newHub(),
		pages: map[string]*template.Template{}, assets: map[string]asset{},
		limits: newLimiter(o.Now), logs: logPart{byPage: newCache[madePart](mostLogs)}, ended: make(chan struct{}),
		streams: streams{byKey: map[string]int{}}, boardPart: map[bool]boardPart{}, beat: cmp.Or(o.Beat, heartbeat), within: writeWithin, looks: time.Minute, turn: 12 * time.Second,
	}
	spare := pagestate.NewSpare(o.Room)
	spare.Refused = func(ctx context.Context, place string, err error) {
		p.log.ErrorContext(ctx, "page not kept; shown all the same", "err", err)
	}
	p.o.Room = spare
	p.names = make(map[string]string, len(o.Stations))
	for _, s := range o.Stations {
		p.names[s.Ident] = s.Name
	}
	all := sha256.New()
	for name, kind := range assetKinds {
		data, err := files.ReadFile("assets/" + name)
		if err != nil {
			return nil, fmt.Errorf("page: %w", err)
		}
		p.assets[name] = asset{kind, data}
	}
	for _, name := range []string{"icon.svg", "live.js", "style.css"} {
		all.Write(p.assets[name].data)
	}
	p.sum = hex.EncodeToString(all.Sum(nil)[:6])
	var err error
	if p.parts, err = template.New("parts").Funcs(functions).ParseFS(files, "templates/parts.html"); err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	for _, name := range pageNames {
		t, err := template.New(name).Funcs(functions).ParseFS(files, "templates/frame.html", "templates/parts.html", "templates/"+name+".html")
		if err != nil {
			return nil, fmt.Errorf("page: %w", err)
		}
		p.pages[name] = t
	}
	return p, nil
}

// Run lets people do things until the context ends; then it waits for what is
// under way.
func (p *Page) Run(ctx context.Context, dispatcher chat.Handler) error {
	p.mu.Lock()
	if p.dispatcher != nil {
		p.mu.Unlock()
		return errors.New("page: runs already")
	}
	p.dispatcher, p.work = dispatcher, ctx
	select {
	case <-p.ended: // of the run before
		p.ended = make(chan struct{})
	default:
	}
	p.mu.Unlock()
	p.keepTidy(ctx)
	p.mu.Lock()
	p.dispatcher = nil
	close(p.ended) // and with it the streams, which a shutdown would wait for, and those that still come
	p.mu.Unlock()
	p.taking.Wait()
	return ctx.Err()
}

// sweepEvery is how often it is forgotten what is too old to be shown.
const sweepEvery = 10 * time.Minute

// keepTidy sweeps until the context ends.
func (p *Page) keepTidy(ctx context.Context) {
	t := time.NewTicker(sweepEvery)
	defer t.Stop()
	for {
		select {
		case <-t.C:
			p.sweep(ctx)
		case <-ctx.Done():
			return
		}
	}
}

func (p *Page) sweep(ctx context.Context) {
	now := p.o.Now()
	err := p.o.Room.Sweep(ctx, now.Add(-pagestate.TalkLife), now.Add(-pagestate.PostLife), pagestate.MostPlaces)
	if err != nil && ctx.Err() == nil {
		p.log.WarnContext(ctx, "old conversations not forgotten", "err", err)
	}
}

// State is nil: a page that is served is up.
func (p *Page) State() error { return nil }

// over is closed when the run that goes on now, or is to come, ends.
func (p *Page) over() <-chan struct{} {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.ended
}

// Changed brings the open pages up to date, whoever made the change.
func (p *Page) Changed(c pagestate.Change) {
	switch {
	case c.Kind == pagestate.Place && c.ID != "":
		if pagestate.Shown(c.ID) {
			p.hub.changed(c.ID)
		}
	case c.Kind == pagestate.Record:
		p.hub.changed(topicRecords)
	case c.Kind == pagestate.Access:
		p.hub.changed(topicAccess)
	case c.Kind == pagestate.Watch: // the board comes by Show, the posts by their place
	default:
		p.hub.changed(topicAll)
	}
}

// Handler serves everything.
func (p *Page) Handler() http.Handler {
	mux := http.NewServeMux()
	get := func(pattern string, h func(*request)) { mux.HandleFunc("GET "+pattern, p.guarded(access.Read, h)) }
	post := func(pattern string, h func(*request)) {
		mux.HandleFunc("POST "+pattern, p.guarded(access.Ask, h))
	}
	get("/{$}", p.askPage)
	get("/board", p.boardPage)
	get("/base/{ident}", p.basePage)
	get("/watch", p.watchPage)
	get("/log", p.logPage)
	get("/record/{id}", p.recordPage)
	get("/record/{id}/check", p.checkPage)
	get("/record/{id}/card.pdf", p.cardPDF)
	get("/procedures", p.proceduresPage)
	get("/procedure", p.procedurePage)
	get("/picture/{card}/{n}", p.pictureFile)
	get("/file/{card}/{n}", p.file)
	get("/stations", p.stationsFound)
	get("/you", p.youPage)
	get("/live", p.live)
	post("/ask", p.ask)
	post("/fields", p.fields)
	post("/press", p.press)
	post("/record/{id}/check", p.check)
	mux.HandleFunc("POST /look", p.guarded(access.Read, p.look))
	mux.HandleFunc("GET /beat", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
	mux.HandleFunc("GET /icon.svg", p.rooted("icon.svg"))
	mux.HandleFunc("GET /sw.js", p.rooted("sw.js"))
	mux.HandleFunc("GET /manifest.webmanifest", p.rooted("manifest.webmanifest"))
	mux.HandleFunc("POST /you", p.guarded(access.Read, p.you))
	mux.HandleFunc("POST /leave", p.guarded(access.Read, p.leave))
	mux.HandleFunc("GET /enter", p.enterPage)
	mux.HandleFunc("POST /enter", p.enter)
	mux.HandleFunc("GET /enter/{secret}", p.oldLink)
	mux.HandleFunc("GET /assets/{sum}/{name}", p.asset)
	mux.HandleFunc("GET /favicon.ico", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) })
	mux.HandleFunc("/", p.guarded(access.Read, func(r *request) {
		r.plain(http.StatusNotFound, "Nothing here", "There is no page at this address.")
	}))
	return p.headers(mux)
}

// asset serves a file; its address changes with what is in it.
func (p *Page) asset(w http.ResponseWriter, r *http.Request) {
	a, ok := p.assets[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", a.kind)
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	w.Write(a.data)
}

// rooted serves a file whose address stays, so that a browser asks whether it
// has changed.
func (p *Page) rooted(name string) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", p.assets[name].kind)
		w.Header().Set("Cache-Control", "no-cache")
		w.Write(p.assets[name].data)
	}
}

// part renders one of the parts that pages are made of.
func (p *Page) part(name string, data any) string {
	var b bytes.Buffer
	if err := p.parts.ExecuteTemplate(&b, name, data); err != nil {
		p.log.Error("part of the page not rendered", "part", name, "err", err)
		return ""
	}
	return together.Replace(b.String())
}
