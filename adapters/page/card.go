package page

import (
	"fmt"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine"
)

// cardView is a reply as a page shows it.
type cardView struct {
	ID    string
	Ref   string
	Asked string
	By    string
	At    string
	Title string
	Note  string
	reply.Reply
	Lead     []fact // what the title does not say already
	More     []fact // what of it is folded away
	Folded   bool   // all but the title, the first facts and the buttons
	Rows     []rowView
	Parts    []partView // the sections; the altitudes of a brief as tables
	Fix      *fixView
	Buttons  []buttonView
	Pictures []pictureView
	Files    []fileView
	Edited   bool
	Below    []cardView // what follows a post
	Late     string
	Closed   bool
	Why      bool // the working was asked for: it is unfolded
	Page     bool // it is a page's only one: its title is the page's
	Mark     string
	Back     string
}

// fact is a sentence; a strong one must not be missed.
type fact struct {
	Text   string
	Strong bool
}

// partView is a section.
type partView struct {
	Title string
	Lines []string
	Rows  []rowView
}

// rowView is one altitude.
type rowView struct {
	Name, Published, Height, Add, Corrected string
	UpperPublished, UpperCorrected          string
	Segment, Meaning, Why                   string
	Required, Report                        bool
}

// fixView is the line to type instead, in a field.
type fixView struct {
	Line, Edits, Deed string
}

// buttonView is a form with one button, or a link.
type buttonView struct {
	ID, Label, Text, Href, Deed string
}

type pictureView struct{ Src, Alt string }

// fileView is a file to keep or to print.
type fileView struct{ Href, Name, Alt string }

// Say is the card in a few words, for whoever cannot see it come.
func (v cardView) Say() string {
	switch {
	case v.Record != nil:
		return "Record " + v.Record.ID + " is " + v.Record.State + ". " + v.Title
	case v.Problem != nil:
		return "firn asks: " + v.Problem.Text
	}
	return v.Title
}

// titles are what a card without a fact of its own is called.
var titles = map[reply.Kind]string{
	reply.KindHelp: "Help", reply.KindRules: "Rule sets", reply.KindLog: "Record",
	reply.KindWatch: "The bases", reply.KindBrief: "Brief", reply.KindRoute: "En route", reply.KindNotice: "Noted",
	reply.KindQuestion: "This line needs fixing", reply.KindError: "Not answered",
}

// longestTitle is of a fact that is a title, ours.
const longestTitle = 160

// firstFacts are those of a post that are not folded away.
const firstFacts = 2

// verdict begins the sentence that says what the rule asks for.
const verdict = "Correction required"

// place is a station in a title.
func place(s reply.Station) string {
	if name := strings.TrimSpace(s.Ident + " " + s.Name); name != "" {
		return name
	}
	return fmt.Sprintf("Field at %.0f ft", s.ElevationFt)
}

// view is a card as a page shows it; r is who reads it.
func (r *request) view(c chat.Card) cardView {
	v := cardView{Reply: c.Reply, Note: c.Note, Mark: r.who.mark(), Closed: c.Closed || !r.canAsk()}
	facts := c.Reply.Facts
	v.Title = titles[c.Reply.Kind]
	switch {
	case c.Reply.Problem != nil:
		if v.Title == "" {
			v.Title = titles[reply.KindQuestion]
		}
	case c.Reply.Kind == reply.KindBrief:
	case c.Reply.Station.Known && c.Reply.TemperatureC.OK && c.Reply.Alert == nil:
		v.Title = place(c.Reply.Station) + ", " + reply.DegreesOf(c.Reply.TemperatureC.Value) + " °C"
	case len(facts) > 0 && strings.TrimSpace(facts[0]) != "" && len([]rune(facts[0])) <= longestTitle:
		v.Title, facts = facts[0], facts[1:]
	case v.Title == "" && len(facts) == 0:
		v.Title = "No answer"
	case v.Title == "":
		v.Title = "Answer"
	}
	for _, f := range facts {
		v.Lead = append(v.Lead, fact{f, strings.HasPrefix(f, verdict)})
	}
	for i := range c.Reply.Altitudes {
		row := row(&c.Reply.Altitudes[i])
		// What the verdict has said is not said again on every line.
		if whose, rule, two := strings.Cut(row.Why, "; "); two && slices.ContainsFunc(v.Lead, func(f fact) bool { return f.Strong && strings.Contains(f.Text, rule) }) {
			row.Why = whose
		}
		v.Rows = append(v.Rows, row)
	}
	v.Parts = parts(c.Reply)
	if !v.Closed {
		for _, a := range c.Reply.Actions {
			if r.who.person.NoDuty && chat.DutyDeed(a.Asks()) {
				continue
			}
			b := buttonView{ID: a.ID, Label: a.Label, Text: a.Asks(), Deed: newID()}
			switch {
			case a.ID == chat.ActionEnter && c.Reply.Enter != nil:
				b.Href = "/record/" + c.Reply.Enter.Record + "/check"
			case c.Reply.Record == nil:
			case a.ID == record.ActionCheck:
				b.Href = "/record/" + c.Reply.Record.ID + "/check"
			case a.ID == reply.ActionCard: // a browser prints it by itself
				b.Href = "/record/" + c.Reply.Record.ID + "/card.pdf"
			}
			v.Buttons = append(v.Buttons, b)
		}
	}
	return v
}

// parts are the sections of a reply.
func parts(r reply.Reply) (out []partView) {
	plans := map[string][]reply.Row{}
	for _, a := range r.Arrivals {
		for _, p := range a.Procedures {
			plans[a.Station.Ident+" "+p.Name] = p.Altitudes
		}
	}
	for _, s := range r.Sections {
		v := partView{Title: s.Title, Lines: s.Lines}
		for i := range plans[s.Title] {
			row := row(&plans[s.Title][i])
			row.Why, _, _ = strings.Cut(row.Why, "; ")
			v.Rows = append(v.Rows, row)
		}
		out = append(out, v)
	}
	return out
}

// row is one altitude; what is flown is rounded up to the foot.
func row(a *reply.Row) rowView {
	v := rowView{
		Name: a.Name(), Published: published(a.PublishedFt), Height: up(a.HeightFt), Add: up(a.CorrectionFt), Corrected: up(a.CorrectedFt),
		Segment: a.Segment, Meaning: strings.ReplaceAll(a.Meaning, "-", " "), Why: a.Why, Required: a.Required, Report: a.Report,
	}
	if a.PublishedM > 0 {
		v.Published = published(a.PublishedM) + " m"
		v.Corrected = up(a.CorrectedM) + " m (" + v.Corrected + " ft)"
	}
	if a.UpperPublishedFt > 0 {
		v.UpperPublished, v.UpperCorrected = published(a.UpperPublishedFt), up(a.UpperCorrectedFt)
	}
	return v
}

func up(v float64) string { return fmt.Sprintf("%.0f", engine.UpToFoot(v)) }

// published is a figure as it was typed.
func published(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// cardView is a card of a conversation.
func (r *request) cardView(k *card) cardView {
	v := r.view(k.c)
	v.ID, v.Ref, v.Asked, v.By, v.Edited = k.id, string(k.ref()), k.Asked, k.By, k.Edited
	v.Back = "/"
	v.Why = strings.HasPrefix(strings.ToLower(k.Asked), "why")
	v.At = k.at.UTC().Format("15:04Z")
	if k.fix() && !v.Closed {
		v.Fix = &fixView{Line: v.Problem.Try, Edits: string(k.Message), Deed: newID()}
	}
	for i, p := range k.c.Pictures {
		v.Pictures = append(v.Pictures, pictureView{Src: fmt.Sprintf("/picture/%s/%d", k.id, i), Alt: p.Alt})
	}
	for i, f := range k.c.Files {
		v.Files = append(v.Files, fileView{Href: fmt.Sprintf("/file/%s/%d", k.id, i), Name: f.Name, Alt: f.Alt})
	}
	return v
}

// cards are those of this browser's conversation that changed after a
// revision, the newest last.
func (r *request) cards(after int64) ([]cardView, error) {
	all, rev, err := r.p.cards(r.Context(), r.who.key, after)
	if err != nil {
		return nil, err
	}
	r.has.talk = rev
	out := make([]cardView, len(all))
	for i, k := range all {
		out[i] = r.cardView(k)
	}
	return out, nil
}

// mine is a card of this browser's conversation; nil when there is none, or none
// can be read.
func (r *request) mine(id string) *card {
	if id == "" || r.who.key == "" {
		return nil
	}
	k, err := r.p.card(r.Context(), r.who.key, id)
	if err != nil {
		r.p.log.ErrorContext(r.Context(), "card not read", "err", err)
	}
	return k
}

// said is the card of this browser's conversation that an address names: what
// came of a press.
func (r *request) said() *cardView {
	k := r.mine(r.FormValue("said"))
	if k == nil {
		return nil
	}
	v := r.cardView(k)
	v.Back = r.URL.Path
	return &v
}

// postView is a post of the watch.
type postView struct {
	ID   string
	Card cardView
}

// postViews are the posts that changed after a revision, the newest last. A
// later word changes the one before it.
func (r *request) postViews(after int64) ([]postView, error) {
	all, rev, err := r.p.posts(r.Context())
	if err != nil {
		return nil, err
	}
	r.has.posts = rev
	out := []postView{}
	for _, o := range all {
		if max(o.rev, o.over) <= after {
			continue
		}
		c := o.c
		c.Closed = c.Closed || o.over > 0
		v := r.view(c)
		v.ID, v.Ref, v.Late, v.Back = o.id, string(o.ref()), o.Late, "/watch"
		v.At = both(o.at, time.UTC)
		// Many stand below each other: what one acts on is seen at once.
		if v.Problem == nil && len(v.Lead)+len(v.Parts)+len(v.Cautions) > firstFacts {
			n := min(firstFacts, len(v.Lead))
			v.Folded, v.Lead, v.More = true, v.Lead[:n], v.Lead[n:]
		}
		for _, k := range o.below {
			b := r.cardView(k)
			b.Closed, b.Fix, b.Buttons = true, nil, nil
			v.Below = append(v.Below, b)
		}
		out = append(out, postView{ID: o.id, Card: v})
	}
	return out, nil
}

// attached is the n-th file that goes with a card of this browser's
// conversation; nil when there is none.
func (r *request) attached(id string, n int) []byte {
	data, found, err := r.p.o.Room.File(r.Context(), r.who.key, id, n)
	if err != nil {
		r.p.log.ErrorContext(r.Context(), "file not read", "err", err)
	}
	if !found {
		return nil
	}
	return data
}

// pictureFile is a picture of a card of this browser's conversation.
func (p *Page) pictureFile(r *request) {
	id := r.PathValue("card")
	n, err := strconv.Atoi(r.PathValue("n"))
	k := r.mine(id)
	var data []byte
	if err == nil && k != nil && n >= 0 && n < len(k.Pictures) {
		data = r.attached(id, n)
	}
	if data == nil {
		r.plain(http.StatusNotFound, "No such picture", "There is no picture at this address any more.")
		return
	}
	r.w.Header().Set("Content-Type", "image/png")
	r.w.Write(data)
}

// file is a file of a card of this browser's conversation.
func (p *Page) file(r *request) {
	id := r.PathValue("card")
	n, err := strconv.Atoi(r.PathValue("n"))
	k := r.mine(id)
	var f keptFile
	var data []byte
	// Only what firn makes: a browser runs nothing in it.
	if err == nil && k != nil && n >= 0 && n < len(k.Files) && k.Files[n].Type == "application/pdf" {
		f, data = k.Files[n], r.attached(id, len(k.Pictures)+n)
	}
	if data == nil {
		r.plain(http.StatusNotFound, "No such file", "There is no file at this address any more.")
		return
	}
	r.w.Header().Set("Content-Type", f.Type)
	r.w.Header().Set("Content-Disposition", mime.FormatMediaType("inline", map[string]string{"filename": f.Name}))
	r.w.Write(data)
}

// canAsk says that the reader may do more than read.
func (r *request) canAsk() bool { return r.who.scope.Allows("ask") }
