package page

import (
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strings"
	"time"

	"firn/bot/drawing"
	"firn/bot/reply"
)

// baseView is one base of the board.
type baseView struct {
	Ident, Name  string
	State, Word  string
	Low, LowAt   string
	Restriction  string
	Hours        string
	Source, Note string
	CanAck       bool
	CSRF, Deed   string
	Back         string
	Spark        template.HTML // its day, small
}

// boardView is the board.
type boardView struct {
	At, Age string
	Old     bool // nobody has looked for a while
	Counts  string
	Clock   string
	Tally   []tally
	Bases   []baseView
	Rest    []restView // those behind mostShown
	Shown   int
}

// restView are bases of one state, by ident alone.
type restView struct {
	State, Word string
	Idents      []string
}

// mostShown is how many bases a board shows in full, the coldest first; a
// network has thousands, each with a page of its own. The figure is ours.
const mostShown = 300

// tally is how many bases are in a state.
type tally struct{ State, Text string }

// oldBoard is from when a board is said to be old: the watch looks every
// minute.
const oldBoard = 5 * time.Minute

var stateOrder = []string{"below", "no-forecast", "part-forecast", "near", "clear"}

// stateWords are the board's; the word alone must be enough.
var stateWords = map[string]string{
	"below":         "Below",
	"near":          "Near",
	"clear":         "Clear",
	"part-forecast": "Part forecast",
	"no-forecast":   "No forecast",
}

func stateWord(state string) string {
	if w, ok := stateWords[state]; ok {
		return w
	}
	return state
}

func (p *Page) name(ident string) string {
	return p.names[ident]
}

// both is an instant in a base's time and in UTC.
func both(t time.Time, zone *time.Location) string {
	if zone == time.UTC {
		return t.UTC().Format("Mon 15:04Z")
	}
	return t.In(zone).Format("Mon 15:04") + " local (" + t.UTC().Format("15:04Z") + ")"
}

func (p *Page) baseView(c reply.Cold, now time.Time) baseView {
	zone := p.o.Zone(c.Ident)
	v := baseView{Ident: c.Ident, Name: p.name(c.Ident), State: c.State, Word: stateWord(c.State), Note: c.Note}
	if c.LowC.OK {
		v.Low, v.LowAt = reply.DegreesOf(c.LowC.Value)+" °C", both(c.LowAt, zone)
	}
	v.Restriction = "none published"
	if c.RestrictionC.OK {
		v.Restriction = reply.DegreesOf(c.RestrictionC.Value) + " °C"
	}
	switch {
	case !c.BelowFrom.IsZero():
		v.Hours = both(c.BelowFrom, zone) + " to " + both(c.BelowTo, zone)
	case c.State == "below":
		v.Hours = "not known: the forecast has only its minimum"
	case c.State == "part-forecast":
		v.Hours = "none as far as the forecast goes, " + both(c.CoveredFrom, zone) + " to " + both(c.CoveredTo, zone) + "; not known beyond"
	}
	if !c.SnoozedUntil.IsZero() {
		v.Note = strings.TrimSpace(v.Note + " No reminders until " + both(c.SnoozedUntil, zone) + ".")
	}
	switch {
	case c.Source == "":
		v.Source = "none"
	case c.Issued.IsZero():
		v.Source = c.Source + "; when it was issued is not known"
	default:
		v.Source = fmt.Sprintf("%s, issued %s, %s", c.Source, c.Issued.UTC().Format("2 Jan 15:04Z"), reply.Age(now.Sub(c.Issued)))
	}
	return v
}

// changedStates says which bases are in another state than before.
func changedStates(was, is []reply.Cold) string {
	before := map[string]string{}
	for _, c := range was {
		before[c.Ident] = c.State
	}
	var out []string
	for _, c := range is {
		if b, had := before[c.Ident]; had && b != c.State {
			out = append(out, c.Ident+" is now: "+strings.ToLower(stateWord(c.State))+".")
		}
	}
	return strings.Join(out, " ")
}

// boardNow is the board as it is.
func (p *Page) boardNow() boardView {
	v, all, now := p.tally()
	v.Shown = min(len(all), mostShown)
	v.Bases = make([]baseView, v.Shown)
	small := p.sparksOf(all[:v.Shown])
	for i, c := range all[:v.Shown] {
		v.Bases[i] = p.baseView(c, now)
		v.Bases[i].Spark = small[i]
	}
	for _, c := range all[v.Shown:] {
		if n := len(v.Rest); n == 0 || v.Rest[n-1].State != c.State {
			v.Rest = append(v.Rest, restView{State: c.State, Word: stateWord(c.State)})
		}
		last := &v.Rest[len(v.Rest)-1]
		last.Idents = append(last.Idents, c.Ident)
	}
	return v
}

// tallyNow is the board without its bases.
func (p *Page) tallyNow() boardView {
	v, _, _ := p.tally()
	return v
}

// tally counts the bases, and gives them in the order of the board.
func (p *Page) tally() (v boardView, all []reply.Cold, now time.Time) {
	p.mu.Lock()
	all, at := slices.Clone(p.board), p.at
	p.mu.Unlock()
	now = p.o.Now()
	if at.IsZero() {
		return v, nil, now
	}
	v.At, v.Age, v.Old = at.UTC().Format("Mon 2 Jan 15:04Z"), reply.Age(now.Sub(at)), now.Sub(at) >= oldBoard
	rank := func(c reply.Cold) int { return slices.Index(stateOrder, c.State) }
	slices.SortStableFunc(all, func(a, b reply.Cold) int { return rank(a) - rank(b) })
	counts := map[string]int{}
	for _, c := range all {
		counts[c.State]++
	}
	var parts []string
	for _, s := range stateOrder {
		if n := counts[s]; n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, strings.ToLower(stateWords[s])))
			v.Tally = append(v.Tally, tally{s, parts[len(parts)-1]})
		}
	}
	v.Counts, v.Clock = strings.Join(parts, ", "), at.UTC().Format("15:04Z")
	return v, all, now
}

// boardHTML is the board's part, made once for all streams, and what to say of
// it to a page of a count.
func (p *Page) boardHTML(at uint64) (html, sum, news string) {
	p.boardMade.Lock()
	defer p.boardMade.Unlock()
	count, _ := p.hub.now()
	p.mu.Lock()
	html, sum, made := p.boardPart.html, p.boardPart.sum, p.boardPart.count
	if p.news.count > at {
		news = p.news.text
	}
	p.mu.Unlock()
	if html != "" && !p.hub.since(topicBoard, made) {
		return html, sum, news
	}
	html = p.part("board", p.boardNow())
	sum = sumOf(html)
	p.mu.Lock()
	p.boardPart.count, p.boardPart.html, p.boardPart.sum = count, html, sum
	p.mu.Unlock()
	return html, sum, news
}

// boardPage shows every base.
func (p *Page) boardPage(r *request) {
	r.show("board", frame{Title: "Cold board", Nav: "board", Live: "/board", Refresh: true}, p.boardNow())
}

// baseMain is the page of one base.
type baseMain struct {
	Base    baseView
	Picture template.HTML
	Words   string
	Procs   []procLine
	NoProcs string
}

// base is a base as it is now.
func (r *request) base(ident string) (baseView, bool) {
	p := r.p
	p.mu.Lock()
	i := slices.IndexFunc(p.board, func(c reply.Cold) bool { return strings.EqualFold(c.Ident, ident) })
	var c reply.Cold
	if i >= 0 {
		c = p.board[i]
	}
	p.mu.Unlock()
	if i < 0 {
		return baseView{}, false
	}
	v := p.baseView(c, p.o.Now())
	v.CanAck = c.State != "clear" && r.canAsk() && !r.who.person.NoDuty
	v.CSRF, v.Deed, v.Back = r.who.csrfToken(), newID(), "/base/"+c.Ident
	return v, true
}

// basePage shows one base: its state, the forecast as a picture, its
// procedures.
func (p *Page) basePage(r *request) {
	v, ok := r.base(r.PathValue("ident"))
	if !ok {
		r.plain(http.StatusNotFound, "No such base", "No base of this ident is watched.")
		return
	}
	m := baseMain{Base: v}
	if p.o.Day != nil && p.o.Pictures != nil {
		if d, ok := p.o.Day(r.Context(), v.Ident); ok {
			m.Picture, m.Words = r.svg(d), d.Alt()
		}
	}
	m.Procs, m.NoProcs = r.procLines(v.Ident)
	title := v.Ident
	if v.Name != "" {
		title += " " + v.Name
	}
	r.show("base", frame{Title: title, Nav: "board", Live: "/base/" + v.Ident}, m)
}

// svg draws a picture; nothing, and a line in the log, when it cannot be.
func (r *request) svg(d drawing.Drawing) template.HTML {
	if r.p.o.Pictures == nil {
		return ""
	}
	data, err := r.p.o.Pictures.SVG(r.Context(), d)
	if err != nil {
		r.p.log.WarnContext(r.Context(), "picture not drawn", "picture", d.Name(), "err", err)
		return ""
	}
	return template.HTML(data) // its texts are escaped by whoever drew it
}
