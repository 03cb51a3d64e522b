package page

import (
	"context"
	_ "embed"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"slices"
	"sync"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
)

// Surface is the channel that a Page serves.
const Surface = "page"

// kept is how many posts the page shows: two days of many bases.
const kept = 200

// Page is what the page shows. Safe for use by several goroutines.
type Page struct {
	log  *slog.Logger
	zone func(ident string) *time.Location

	mu    sync.Mutex
	posts []post // newest last
	board []reply.Cold
	at    time.Time // of the board
}

type post struct {
	Key, Channel, Late string
	Reply              reply.Reply
}

// New makes an empty Page; zone gives a base's local time.
func New(log *slog.Logger, zone func(ident string) *time.Location) *Page {
	return &Page{log: log, zone: zone}
}

// Send puts a post on the page. One that is there is not put there again.
func (p *Page) Send(ctx context.Context, o outbox.Post) (ref string, err error) {
	if err := ctx.Err(); err != nil {
		return "", err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.find(o.Channel, o.Key) {
		return o.Key, nil
	}
	p.posts = append(p.posts, post{o.Key, o.Channel, o.Lateness(), o.Body})
	if len(p.posts) > kept {
		p.posts = slices.Delete(p.posts, 0, len(p.posts)-kept)
	}
	return o.Key, nil
}

// Find looks for a post on the page. A new process has a new page.
func (p *Page) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	if err := ctx.Err(); err != nil {
		return "", false, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if !p.find(channel, key) {
		return "", false, nil
	}
	return key, true, nil
}

func (p *Page) find(channel, key string) bool {
	return slices.ContainsFunc(p.posts, func(o post) bool { return o.Key == key && o.Channel == channel })
}

// Show puts the bases' states on the page, as of a time.
func (p *Page) Show(all []reply.Cold, at time.Time) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.board, p.at = all, at
}

//go:embed page.html
var source string

// content is what the template is given.
type content struct {
	At    string
	Bases []string
	Posts []post
}

// Handler serves the page.
func (p *Page) Handler() (http.Handler, error) {
	t, err := template.New("page").Parse(source)
	if err != nil {
		return nil, fmt.Errorf("page: %w", err)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Type", "text/html; charset=utf-8")
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'; base-uri 'none'; form-action 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if err := t.Execute(w, p.content()); err != nil {
			p.log.DebugContext(r.Context(), "page not written", "err", err)
		}
	}), nil
}

func (p *Page) content() content {
	p.mu.Lock()
	defer p.mu.Unlock()
	var c content
	if !p.at.IsZero() {
		c.At = p.at.UTC().Format("Mon 2 Jan 15:04Z")
	}
	for _, b := range p.board {
		c.Bases = append(c.Bases, reply.BoardLine(b, p.zone(b.Ident)))
	}
	c.Posts = slices.Clone(p.posts)
	slices.Reverse(c.Posts)
	return c
}
