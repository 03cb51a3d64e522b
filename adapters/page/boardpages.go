package page

import (
	"cmp"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"firn/bot/drawing"
)

// boardHTML is the board's part, with its buttons or without, made once for all
// streams, and what to say of it to a page of a count.
func (p *Page) boardHTML(acts bool, at uint64) (html, sum, news string) {
	p.boardMade.Lock()
	defer p.boardMade.Unlock()
	count, _ := p.hub.now()
	p.mu.Lock()
	made := p.boardPart[acts]
	if p.news.count > at {
		news = p.news.text
	}
	p.mu.Unlock()
	if made.html != "" && !p.hub.since(topicBoard, made.count) {
		return made.html, made.sum, news
	}
	made.count, made.html = count, p.part("board", p.boardNow(acts))
	made.sum = sumOf(made.html)
	p.mu.Lock()
	p.boardPart[acts] = made
	p.mu.Unlock()
	return made.html, made.sum, news
}

// boardMain is the board with the form that its buttons belong to: the board
// itself is the same for everybody.
type boardMain struct {
	Board      boardView
	Turn       int64 // milliseconds that a page on a wall stands
	Wall, Duty bool
	CSRF, Deed string
}

// boardPage shows every base.
func (p *Page) boardPage(r *request) {
	if typed := strings.TrimSpace(clean(r.FormValue("base"))); typed != "" {
		switch all := p.meant(typed); len(all) {
		case 0:
			r.missing("No such base", "No base of this ident or name is watched.", "To the board", "/board")
		case 1:
			http.Redirect(r.w, r.Request, "/base/"+url.PathEscape(all[0]), http.StatusSeeOther)
		default:
			r.missing("Which base?", fmt.Sprintf("“%s” may be %s.", typed, strings.Join(all[:min(len(all), mostMeant)], ", ")), "To the board", "/board")
		}
		return
	}
	m := boardMain{Turn: p.turn.Milliseconds(), Wall: r.URL.Query().Has("wall"), Duty: r.mayDuty(), CSRF: r.who.csrfToken(), Deed: newID()}
	m.Board = p.boardNow(m.Duty && !m.Wall)
	on := "/board"
	if m.Wall {
		on = "/board?wall"
	}
	r.show("board", frame{Title: "Board", Nav: "board", Live: on, Refresh: true, Wall: m.Wall}, m)
}

// mostMeant is how many bases are named that may be meant; ours.
const mostMeant = 12

// meant are the bases that somebody may mean: the one of an ident, else those whose
// ident or name begins so.
func (p *Page) meant(typed string) (all []string) {
	begins := func(s string) bool { return len(s) >= len(typed) && strings.EqualFold(s[:len(typed)], typed) }
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, b := range p.board {
		switch {
		case strings.EqualFold(b.Ident, typed):
			return []string{b.Ident}
		case begins(b.Ident) || begins(p.names[b.Ident]):
			all = append(all, b.Ident)
		}
	}
	slices.Sort(all)
	return all
}

// baseMain is the page of one base.
type baseMain struct {
	Base    baseView
	Picture template.HTML
	Words   string
	Usual   []procLine // the base's usual procedures
	Procs   []procLine // the others
	NoProcs string
	Results logMain // the latest
}

// fewResults is how many of its results a base's page has; ours.
const fewResults = 5

// base is a base as it is now.
func (r *request) base(ident string) (baseView, bool) {
	p := r.p
	p.mu.Lock()
	i := slices.IndexFunc(p.board, func(b base) bool { return strings.EqualFold(b.Ident, ident) })
	var b base
	if i >= 0 {
		b = p.board[i]
	}
	p.mu.Unlock()
	if i < 0 {
		return baseView{}, false
	}
	v := p.baseView(&b, p.o.Now())
	if v.Hours != "" && !b.BelowFrom.IsZero() && p.o.Day != nil { // where they are two nights, not as one
		if d, ok := p.o.Day(r.Context(), v.Ident); ok {
			if day, is := d.(drawing.Day); is {
				v.Hours = cmp.Or(day.Spells(b.BelowFrom), v.Hours)
			}
		}
	}
	v.CanSee, v.CanQuiet = v.CanSee && r.mayDuty(), v.CanQuiet && r.mayDuty()
	v.CSRF, v.Deed, v.Back = r.who.csrfToken(), newID(), "/base/"+b.Ident
	return v, true
}

// basePage shows one base: its state, the forecast as a picture, its
// procedures.
func (p *Page) basePage(r *request) {
	v, ok := r.base(r.PathValue("ident"))
	if !ok {
		r.missing("No such base", "No base of this ident is watched.", "To the board", "/board")
		return
	}
	m := baseMain{Base: v}
	if p.o.Day != nil && p.o.Pictures != nil {
		if d, ok := p.o.Day(r.Context(), v.Ident); ok {
			m.Picture, m.Words = r.svg(d), d.Alt()
		}
	}
	m.Usual, m.Procs, m.NoProcs = r.usualLines(v.Ident)
	var err error
	if m.Results, err = r.logView(url.Values{"q": {v.Ident}}, fewResults); err != nil {
		r.failed("the results", err)
		return
	}
	m.Results.Query = "" // nobody has looked for it
	for i := range m.Results.Rows {
		m.Results.Rows[i].Numbers = nil // they are on its own page
	}
	title := v.Ident
	if v.Name != "" {
		title += " " + v.Name
	}
	r.show("base", frame{Title: title, Nav: "board", Live: "/base/" + v.Ident}, m)
}
