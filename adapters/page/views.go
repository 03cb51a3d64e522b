package page

import (
	"cmp"
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/present"
	"firn/bot/reply"
)

// frame is what every page has around its own.
type frame struct {
	Title   string
	Nav     string // the entry that the page is
	Live    string // what its stream is on; empty: none
	Refresh bool   // without a script it comes again by itself: nothing is typed here
	Said    *cardView
	AskName bool        // nobody has said who did it
	Wall    bool        // it hangs on a wall: no menus
	Latest  string      // the id of the latest answer
	On      *buttonView // of a page with a sentence alone: where else to look

	Sum, At, CSRF, Now string
	Day                string // on paper, which lies about for longer
	Here               string // the page's own address
	Look               string // red: dim, for a dark cockpit
	Beat               int64  // milliseconds without one, after which a page is not live
	Who                string // empty: nobody has a name here
	Linked, In, CanAsk bool
	Main               any
}

func (f *frame) fill(r *request, main any) {
	p := r.p
	f.Sum, f.At, f.Main = p.sum, r.has.String(), main
	now := p.o.Now().UTC()
	f.Now, f.Day = now.Format("15:04Z"), now.Format("Mon, 02 Jan 2006")
	f.Beat, f.Look = int64(beatsMissed*p.beat/time.Millisecond), lookOf(r.Request)
	if f.Here = r.URL.RequestURI(); r.Method != http.MethodGet || !ownPath(f.Here) {
		f.Here = "/"
	}
	f.In, f.Linked, f.CanAsk = r.who.key != "" && r.who.scope != "", r.who.linked, r.canAsk()
	if f.In {
		f.CSRF = r.who.csrfToken()
		f.Who = r.who.person.Name
		if !f.Linked {
			f.Who = nameIn(r.Request)
		}
		if f.Said == nil {
			f.Said = r.said()
		}
		f.AskName = f.Nav != "ask" && r.nameless()
	}
}

// functions are the templates'.
var functions = template.FuncMap{
	"live": func(on string) string { return "/live?on=" + url.QueryEscape(on) },
	"dict": func(pairs ...any) (map[string]any, error) {
		out := map[string]any{}
		for i := 0; i+1 < len(pairs); i += 2 {
			key, ok := pairs[i].(string)
			if !ok {
				return nil, fmt.Errorf("%v is no key", pairs[i])
			}
			out[key] = pairs[i+1]
		}
		return out, nil
	},
	"kind":  kindOf,
	"tenth": func(v float64) string { return fmt.Sprintf("%.1f", v) },
	"word":  stateWord,
	"check": present.StateWord,
	"aged":  aged,
}

// together keeps a unit on the line of its figure, wherever it is shown: the
// space before it is one that does not break.
var together = strings.NewReplacer(" °C", "\u00a0°C", " °F", "\u00a0°F")

// askView is the ask page.
type askView struct {
	Line     string
	Again    string // why what was sent was not taken
	Unread   bool   // the store cannot be read
	Form     chat.Form
	Open     bool // the form
	Deed     string
	Deed2    string
	CSRF     string
	Cards    []cardView // the newest first
	Board    boardView
	Latest   []latestView
	Stations []bot.Offer
	Examples []example
	CanAsk   bool
	AskName  bool // nobody has said who asks
	Mine     *mineView
}

type example struct{ Line, Says string }

// mostChoices is how many stations a page offers at once; the script asks for
// others while somebody types.
const mostChoices = 200

// latestView is one of the watch's last words, in a line.
type latestView struct{ ID, Title string }

// longestTitle is of a word of the watch there, in characters; ours.
const longestTitle = 160

// latestPosts is how many of them stand beside the question.
const latestPosts = 4

// latest are the watch's last words, the newest first.
func (r *request) latest() (out []latestView, err error) {
	all, rev, err := r.p.posts(r.Context())
	if err != nil {
		return nil, err
	}
	r.has.posts = rev
	for _, o := range slices.Backward(all) {
		if len(out) == latestPosts {
			break
		}
		v := cardView{Doc: present.Of(o.c.Reply)}
		v.named()
		title := v.Title
		if short := []rune(title); len(short) > longestTitle {
			title = string(short[:longestTitle]) + "…"
		}
		out = append(out, latestView{o.id, title})
	}
	return out, nil
}

// askPage is the front page.
func (p *Page) askPage(r *request) {
	v := askView{Line: clean(r.FormValue("line"))}
	if len(v.Line) > longestLine {
		v.Line = ""
	}
	r.showAsk(v)
}

func (r *request) showAsk(v askView) {
	p := r.p
	var unread, err error
	v.Cards, unread = r.cards(0)
	v.Latest, err = r.latest()
	if unread = cmp.Or(unread, err); unread != nil {
		// Who asks has an answer all the same.
		p.log.ErrorContext(r.Context(), "page made without what the store has", "what", "conversation", "err", unread)
		v.Unread = true
	}
	slices.Reverse(v.Cards)
	latest := ""
	if len(v.Cards) > 0 {
		latest = v.Cards[0].ID
		if v.Line == "" && v.Again == "" {
			asked := slices.IndexFunc(v.Cards, func(c cardView) bool { return c.Line != "" || c.Fix != nil })
			if asked >= 0 && v.Cards[asked].Fix == nil {
				v.Line = v.Cards[asked].Line // to be changed
			}
		}
		v.AskName = r.nameless()
	}
	v.Board = p.boardNow(false)
	if !v.Unread {
		v.Mine, _ = r.waiting(true) // which logs what it does not know
	}
	v.CanAsk, v.CSRF, v.Deed, v.Deed2 = r.canAsk(), r.who.csrfToken(), newID(), newID()
	v.Stations = p.choices("", mostChoices)
	ident := "XKLD"
	if len(p.o.Stations) > 0 {
		ident = p.o.Stations[0].Ident
	}
	v.Examples = []example{
		{ident + " -38 8200 7400", "altitudes at a temperature"},
		{ident + " m38 FAF 8200, DA 5340", "with labels, which bring the segment rules"},
		{ident, "is a correction needed here, now?"},
		{"watch", "every base"},
		{"help", "what else there is"},
	}
	r.show("ask", frame{Title: "Ask", Nav: "ask", Live: "/", Latest: latest}, v)
}

// choices are stations to offer.
func (p *Page) choices(typed string, limit int) []bot.Offer {
	p.mu.Lock()
	dispatcher := p.dispatcher
	p.mu.Unlock()
	if dispatcher == nil {
		return nil
	}
	all := dispatcher.Stations(typed, limit)
	out := make([]bot.Offer, len(all))
	for i, c := range all {
		out[i] = bot.Offer{Value: clean(c.Value), Label: clean(c.Label)}
	}
	return out
}

// stationsFound offers stations while somebody types.
func (p *Page) stationsFound(r *request) {
	type choice struct {
		Value string `json:"value"`
		Label string `json:"label"`
	}
	typed := r.FormValue("typed")
	if len(typed) > 80 {
		typed = ""
	}
	out := []choice{}
	for _, c := range p.choices(typed, 30) {
		out = append(out, choice(c))
	}
	r.w.Header().Set("Content-Type", "application/json")
	if err := json.NewEncoder(r.w).Encode(out); err != nil {
		p.log.DebugContext(r.Context(), "stations not written", "err", err)
	}
}

// watchView is what the watch has said.
type watchView struct {
	Board      *boardView // every base, by what is to be done; nil: the morning's post says it
	Posts      []postView // the newest first
	Days       int        // for which they stand
	CSRF, Deed string
	Duty       bool
}

// morningStands is how long a morning's post says how the bases stand: to the next.
const morningStands = 24 * time.Hour

// morning says that a post says how the bases stand, as it does in every channel.
func (p *Page) morning(all []thread) bool {
	return slices.ContainsFunc(all, func(o thread) bool {
		d := o.c.Reply.Digest
		return d != nil && d.Word == reply.DigestMorning && p.o.Now().Sub(o.at) < morningStands
	})
}

func (p *Page) watchPage(r *request) {
	v := watchView{Days: int(pagestate.PostLife.Hours() / 24), Duty: r.mayDuty(), CSRF: r.who.csrfToken(), Deed: newID()}
	var err error
	if v.Posts, err = r.postViews(0, 0); err != nil {
		r.failed("the watch's posts", err)
		return
	}
	slices.Reverse(v.Posts)
	all, _, err := p.posts(r.Context())
	if err != nil {
		r.failed("the watch's posts", err)
		return
	}
	if !p.morning(all) {
		board := p.boardNow(r.mayDuty())
		v.Board = &board
	}
	r.show("watch", frame{Title: "Watch", Nav: "watch", Live: "/watch", Refresh: true}, v)
}
