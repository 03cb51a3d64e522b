package page

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"sync"
	"time"

	lru "github.com/hashicorp/golang-lru/v2"

	"firn/bot/chat"
	"firn/bot/drawing"
	"firn/bot/record"
	"firn/bot/reply"
)

// longestQuery is of a search in the log, in characters: a name, a base, a day.
const longestQuery = 80

// logRows is how many results a page of the log has.
const logRows = 60

// logMain is the log.
type logMain struct {
	Rows      []logRow
	Query     string
	Unchecked bool
	Older     string // the address of those before; empty: there are none
	None      bool   // there is no record here
	Zone      string
}

// logRow is a result in the log.
type logRow struct {
	ID, State, Station, Temperature, At, By, Checked string
	Numbers                                          []string
}

// logView reads the log that an address asks for, so many rows of it.
func (r *request) logView(q url.Values, rows int) (logMain, error) {
	p := r.p
	v := logMain{Query: strings.TrimSpace(clean(q.Get("q"))), Unchecked: q.Get("unchecked") != ""}
	if v.Query == "" {
		v.Query = strings.TrimSpace(clean(q.Get("station"))) // an older address
	}
	if q := []rune(v.Query); len(q) > longestQuery {
		v.Query = string(q[:longestQuery])
	}
	if p.o.Records == nil {
		v.None = true
		return v, nil
	}
	now := p.o.Now()
	find := findOf(v.Query, now, func(ident string) bool { return p.names[ident] != "" || p.stationKnown(ident) })
	query := record.Query{For: r.viewer(), Station: find.station, From: find.from, To: find.to, Text: find.text, Newest: true, Limit: rows}
	some := v.Unchecked || find.state != ""
	if some {
		query.Live, query.Limit = true, 0 // live ones are some hours' alone
	}
	if before, err := time.Parse(time.RFC3339Nano, q.Get("before")); err == nil {
		query.To = before
	}
	all, err := p.o.Records.List(r.Context(), query)
	if err != nil {
		return v, fmt.Errorf("log: %w", err)
	}
	for _, k := range all {
		if (!v.Unchecked || p.o.Records.Unchecked(k)) && (find.state == "" || p.o.Records.State(k) == find.state) {
			v.Rows = append(v.Rows, p.logRow(k, now))
		}
	}
	if !some && len(all) == rows {
		older := url.Values{"before": {all[len(all)-1].At.Format(time.RFC3339Nano)}}
		if v.Query != "" {
			older.Set("q", v.Query)
		}
		v.Older = "/log?" + older.Encode()
	}
	return v, nil
}

// logPart is the newest part of the log that open pages were given, so that
// one making serves all that are at the same address.
type logPart struct {
	mu     sync.Mutex // held while it is made: those who wait want the same
	byPage *lru.Cache[string, madePart]
}

type madePart struct {
	count uint64
	html  string
}

// mostLogs bounds how many addresses of the log are remembered.
const mostLogs = 100

// logHTML is the part of the log that an address asks for.
func (r *request) logHTML(q url.Values) (string, error) {
	p := r.p
	query := q.Encode() // holds no zero byte, whatever the address has
	p.logs.mu.Lock()
	defer p.logs.mu.Unlock()
	if p.o.Records != nil {
		// Who has accounts elsewhere sees more than the others.
		if v := r.viewer(); len(v.Accounts) > 1 {
			query += "\x00" + strings.Join(v.Accounts, "\x00")
		}
	}
	if made, ok := p.logs.byPage.Get(query); ok && !p.hub.since(topicRecords, made.count) {
		return made.html, nil
	}
	count, _ := p.hub.now()
	v, err := r.logView(q, logRows)
	if err != nil {
		return "", err
	}
	made := madePart{count, p.part("records", v)}
	p.logs.byPage.Add(query, made)
	return made.html, nil
}

func (p *Page) logRow(k record.Record, now time.Time) logRow {
	row := logRow{
		ID: k.ID, State: string(p.o.Records.State(k)), Station: clean(k.Reply.Where()), By: clean(k.Asked.String()),
		Temperature: reply.Celsius(k.Temperature()), At: k.At.UTC().Format("15:04Z"),
	}
	if k.At.UTC().Format(time.DateOnly) != now.UTC().Format(time.DateOnly) {
		row.At = k.At.UTC().Format("2 Jan 15:04Z")
	}
	for _, n := range k.Numbers {
		row.Numbers = append(row.Numbers, clean(strings.TrimSpace(n.Label+" "+published(n.PublishedFt)))+" → "+reply.WholeUp(n.CorrectedFt))
	}
	for _, c := range checkers(k) {
		row.Checked = clean(c.By.String())
	}
	return row
}

// checkers are the checks that stand and agree.
func checkers(k record.Record) (out []record.Check) {
	for _, c := range k.Checks {
		if c.Withdrawn.IsZero() && c.Agrees() {
			out = append(out, c)
		}
	}
	return out
}

// logPage shows the log.
func (p *Page) logPage(r *request) {
	q := r.URL.Query()
	if name, n, ok := record.ReadName([]string{q.Get("q")}); ok && n == 1 && p.o.Records != nil {
		if _, found, err := r.known(name); err == nil && found {
			http.Redirect(r.w, r.Request, "/record/"+url.PathEscape(name), http.StatusSeeOther)
			return
		}
	}
	v, err := r.logView(q, logRows)
	if err != nil {
		r.failed("the log", err)
		return
	}
	r.has.sum = sumOf(p.part("records", v))
	live := "/log?" + q.Encode()
	if q.Get("before") != "" {
		live = "" // what is past stays
	}
	r.show("log", frame{Title: "Log", Nav: "log", Live: live}, v)
}

// failed says that something could not be read.
func (r *request) failed(what string, err error) {
	r.p.log.ErrorContext(r.Context(), "page not made", "what", what, "err", err)
	r.plain(http.StatusServiceUnavailable, "Not now", "firn cannot read "+what+"; it is logged. Try again in a minute.")
}

// recordMain is the page of a record.
type recordMain struct {
	Card     cardView
	ID       string
	State    string
	When     string       // it was asked
	Acts     []buttonView // the first is what to do next, by its state
	Asked    string
	Profile  template.HTML
	Curve    template.HTML
	PDF      bool
	Withdraw *buttonView
	CSRF     string
}

// viewer is whoever the request is from, as the record knows one.
func (r *request) viewer() *record.Viewer {
	return r.p.o.Records.Viewer(record.Person{Address: Surface + ":" + r.who.person.ID, Via: r.who.person.Via})
}

// known is the record of a name, for whoever may see it.
func (r *request) known(name string) (record.Record, bool, error) {
	k, found, err := r.p.o.Records.Find(r.Context(), name)
	if err != nil || !found || !r.viewer().Sees(k) {
		return record.Record{}, false, err
	}
	return k, true, nil
}

// find is the record that an address names; it has answered when there is none.
func (r *request) find(id string) (record.Record, bool) {
	name, n, ok := record.ReadName([]string{id})
	if !ok || n != 1 || r.p.o.Records == nil {
		r.missing("No such record", "No record has this name.", "Look in the log", "/log")
		return record.Record{}, false
	}
	k, found, err := r.known(name)
	if err != nil {
		r.failed("the record", err)
		return k, false
	}
	if !found {
		r.missing("No such record", record.Missing(name), "Look in the log", "/log")
		return k, false
	}
	return k, true
}

// recordView is a record as it is now.
func (r *request) recordView(id string) (recordMain, bool, error) {
	name, n, ok := record.ReadName([]string{id})
	if !ok || n != 1 || r.p.o.Records == nil {
		return recordMain{}, false, nil
	}
	k, found, err := r.known(name)
	if err != nil || !found {
		return recordMain{}, false, err
	}
	return r.recordMain(k), true, nil
}

func (r *request) recordMain(k record.Record) recordMain {
	face := r.p.o.Records.Render(k)
	c := cleanMessage(chat.Message{Reply: face, Note: record.Above(k, r.p.o.Now(), record.Settings{Zone: r.p.o.Zone})})
	v := recordMain{Card: r.view(c), Asked: clean(k.Text), CSRF: r.who.csrfToken()}
	v.Card.ID, v.Card.Page, v.Card.Back = "record", true, "/record/"+k.ID
	v.Card.Asked, v.Card.By, v.Card.At = v.Asked, clean(k.Asked.String()), k.At.UTC().Format("Mon 2 Jan 15:04Z")
	v.ID, v.State, v.When = k.ID, string(r.p.o.Records.State(k)), both(k.At, r.p.o.Zone(k.Station()))
	if v.Card.Figs = figsOf(&k, v.Card.Doc); v.Card.Figs != nil && len(v.Card.Figs.Differ) > 0 && v.State == string(record.Disagreed) {
		v.Card.Note = "Disagreed: what differs stands first." // by whom, and how far
	}
	// What can be done stands above, and the first of it is what to do next.
	v.Card.Since = r.p.o.Now().Sub(k.At)
	v.Acts, v.Card.Buttons = v.Card.Buttons, nil
	own := r.computed(k)
	if own {
		v.Acts = ownButtons(v.Acts)
	}
	v.Card.More = slices.DeleteFunc(v.Card.More, func(b buttonView) bool { return b.ID == reply.ActionCard || b.ID == "picture" }) // both are on the page
	_, v.PDF = drawing.KneeboardOf(k.Reply, r.p.standing(k))
	v.PDF = v.PDF && r.p.o.Pictures != nil
	if v.PDF && (v.State == string(record.Checked) || own && v.State == string(record.Unchecked)) {
		for i := range v.Acts {
			v.Acts[i].Primary = false
		}
		v.Acts = append([]buttonView{{ID: reply.ActionCard, Label: "Print", Href: "/record/" + k.ID + "/card.pdf?paper=a5", Primary: true}}, v.Acts...)
	}
	if k.Replaced != nil && k.Replaced.By != "" {
		v.Acts = append([]buttonView{{ID: "next", Label: "To " + k.Replaced.By, Href: "/record/" + k.Replaced.By, Primary: true}}, v.Acts...)
	}
	if r.canAsk() {
		for _, check := range checkers(k) {
			if check.By.Address == Surface+":"+r.who.person.ID {
				v.Withdraw = &buttonView{Label: "Withdraw my check", Text: "withdraw " + k.ID, Deed: newID()}
			}
		}
	}
	return v
}

// recordPage shows a record.
func (p *Page) recordPage(r *request) {
	k, ok := r.find(r.PathValue("id"))
	if !ok {
		return
	}
	v := r.recordMain(k)
	r.has.sum = sumOf(p.part("recordcard", v))
	if p.o.Pictures != nil {
		v.Profile = r.profile(k.Reply)
		if d, ok := drawing.CurveOf(k.Reply); ok {
			v.Curve = r.svg(d)
		}
	}
	r.show("record", frame{Title: k.ID, Nav: "log", Live: "/record/" + k.ID}, v)
}

// standing is what a printed card says of a record.
func (p *Page) standing(k record.Record) drawing.Standing {
	return drawing.StandingOf(k, p.o.Now(), p.o.Zone)
}

// cardPDF is a record's card to print and clip to the kneeboard.
func (p *Page) cardPDF(r *request) {
	k, ok := r.find(r.PathValue("id"))
	if !ok {
		return
	}
	s := p.standing(k)
	if paper, ok := drawing.ParsePaper(r.FormValue("paper")); ok {
		s.Paper = paper
	}
	c, ok := drawing.KneeboardOf(k.Reply, s)
	if !ok || p.o.Pictures == nil {
		r.plain(http.StatusNotFound, "No card", "This record has no altitudes to print.")
		return
	}
	data, err := p.o.Pictures.PDF(r.Context(), c)
	if err != nil {
		p.log.WarnContext(r.Context(), "card not drawn", "record", k.ID, "err", err)
		r.plain(http.StatusInternalServerError, "No card", "This card cannot be drawn on one page; print the page instead.")
		return
	}
	r.w.Header().Set("Content-Type", "application/pdf")
	r.w.Header().Set("Content-Disposition", `inline; filename="`+k.ID+`.pdf"`)
	r.w.Write(data)
}

// checkView is the page on which a second person checks.
type checkView struct {
	ID, State, Place, Temperature, Source, By, At string
	Numbers                                       []checkNumber
	Entered                                       []string
	Name                                          string // typed on this machine
	AskName                                       bool
	Wrong                                         string
	NoName                                        string // how it was checked, where the name is what is wrong
	Unread                                        []int  // those of Entered that are no altitude
	Over                                          string // why it cannot be checked any more
	Card                                          cardView
	CSRF, Deed, Deed2                             string
}

// checkNumber is an altitude to work out: published, and nothing of the answer.
type checkNumber struct {
	Name, Published, Entered string
	Wrong                    bool
}

// checkPage shows what is asked of the second person and, folded away, the
// card: whoever works blind does not see it.
func (p *Page) checkPage(r *request) {
	if !r.canAsk() {
		r.onlyForReading()
		return
	}
	r.showCheck(r.PathValue("id"), checkView{})
}

func (r *request) showCheck(id string, v checkView) {
	p := r.p
	k, ok := r.find(id)
	if !ok {
		return
	}
	v.ID, v.State = k.ID, string(p.o.Records.State(k))
	at := k.Reply.Station
	if v.Place = clean(strings.TrimSpace(at.Place() + " " + at.Name)); at.Ident != "" {
		v.Place += ", elevation " + reply.WholeUp(at.ElevationFt) + " ft"
	}
	v.Temperature, v.Source = reply.Celsius(k.Temperature()), clean(k.Reply.TemperatureSource)
	v.By, v.At = clean(k.Asked.String()), k.At.UTC().Format("Mon 2 Jan 15:04Z")
	for i, n := range k.Numbers {
		c := checkNumber{Name: clean(n.Label), Published: published(n.PublishedFt), Wrong: slices.Contains(v.Unread, i)}
		if i < len(v.Entered) {
			c.Entered = v.Entered[i]
		}
		v.Numbers = append(v.Numbers, c)
	}
	if !r.who.linked {
		v.AskName = true
		if name := nameIn(r.Request); v.Name == "" && Surface+":"+atThisMachine(r.who.key, name).ID != k.Asked.Address {
			v.Name = name
		}
	}
	if here := r.who.person.Via; here != "" && here == k.Asked.Via {
		v.Over = "It was computed in this browser: somebody else checks it in a browser of their own."
	}
	if !p.o.Records.Unchecked(k) {
		v.Over = "This record is " + v.State + "."
	}
	v.Card = r.recordMain(k).Card
	v.Card.Buttons, v.Card.More, v.Card.Closed = nil, nil, true
	v.CSRF, v.Deed, v.Deed2 = r.who.csrfToken(), newID(), newID()
	r.show("check", frame{Title: "Check " + k.ID, Nav: "log"}, v)
}
