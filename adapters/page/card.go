package page

import (
	"fmt"
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
			b := buttonView{ID: a.ID, Label: a.Label, Text: a.Asks(), Deed: newID()}
			if a.ID == record.ActionCheck && c.Reply.Record != nil {
				b.Href = "/record/" + c.Reply.Record.ID + "/check"
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
	name := strings.TrimSpace(a.Label + " " + a.Fix)
	if a.Label == a.Fix {
		name = a.Label
	}
	v := rowView{
		Name: name, Published: published(a.PublishedFt), Height: up(a.HeightFt), Add: up(a.CorrectionFt), Corrected: up(a.CorrectedFt),
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
	v.ID, v.Ref, v.Asked, v.By, v.Edited = k.id, string(k.ref()), k.asked, k.by, k.edited
	v.Back = "/"
	v.Why = strings.HasPrefix(strings.ToLower(k.asked), "why")
	v.At = k.at.UTC().Format("15:04Z")
	if k.fix() && !v.Closed {
		v.Fix = &fixView{Line: v.Problem.Try, Edits: string(k.message), Deed: newID()}
	}
	for i, p := range k.c.Pictures {
		v.Pictures = append(v.Pictures, pictureView{Src: fmt.Sprintf("/picture/%s/%d", k.id, i), Alt: p.Alt})
	}
	return v
}

// cards are those of this browser's conversation that changed after a count,
// the newest last.
func (r *request) cards(after uint64) []cardView {
	r.p.mu.Lock()
	var all []card
	if t := r.p.talks[r.who.key]; t != nil {
		for _, k := range t.cards {
			if k.count > after {
				all = append(all, *k)
			}
		}
	}
	r.p.mu.Unlock()
	out := make([]cardView, len(all))
	for i := range all {
		out[i] = r.cardView(&all[i])
	}
	return out
}

// said is the card of this browser's conversation that an address names: what
// came of a press.
func (r *request) said() *cardView {
	id := r.FormValue("said")
	if id == "" {
		return nil
	}
	r.p.mu.Lock()
	k := r.p.talks[r.who.key].find(id)
	var c card
	if k != nil {
		c = *k
	}
	r.p.mu.Unlock()
	if k == nil {
		return nil
	}
	v := r.cardView(&c)
	v.Back = r.URL.Path
	return &v
}

// postView is a post of the watch.
type postView struct {
	ID   string
	Card cardView
}

// postViews are the posts that changed after a count, the newest last.
func (r *request) postViews(after uint64) []postView {
	p := r.p
	p.mu.Lock()
	type held struct {
		post
		over bool
	}
	var all []held
	for _, o := range p.posts {
		// A later word changes the one before it: nobody answers that any more.
		if over := p.overtaken(o); o.count > after || over && after > 0 {
			h := held{*o, over}
			h.follows = slices.Clone(o.follows)
			all = append(all, h)
		}
	}
	p.mu.Unlock()
	out := make([]postView, len(all))
	for i := range all {
		o := &all[i]
		c := o.c
		c.Closed = c.Closed || o.over
		v := r.view(c)
		v.ID, v.Ref, v.Late, v.Back = o.id, string(o.ref()), o.late, "/watch"
		v.At = both(o.at, time.UTC)
		// Many stand below each other: what one acts on is seen at once.
		if v.Problem == nil && len(v.Lead)+len(v.Parts)+len(v.Cautions) > firstFacts {
			n := min(firstFacts, len(v.Lead))
			v.Folded, v.Lead, v.More = true, v.Lead[:n], v.Lead[n:]
		}
		for _, k := range o.follows {
			b := r.cardView(k)
			b.Closed, b.Fix, b.Buttons = true, nil, nil
			v.Below = append(v.Below, b)
		}
		out[i] = postView{ID: o.id, Card: v}
	}
	return out
}

// pictureFile is a picture of a card of this browser's conversation.
func (p *Page) pictureFile(r *request) {
	n, err := strconv.Atoi(r.PathValue("n"))
	p.mu.Lock()
	var data []byte
	if k := p.talks[r.who.key].find(r.PathValue("card")); err == nil && k != nil && n >= 0 && n < len(k.c.Pictures) {
		data = k.c.Pictures[n].PNG
	}
	p.mu.Unlock()
	if data == nil {
		r.plain(http.StatusNotFound, "No such picture", "There is no picture at this address any more.")
		return
	}
	r.w.Header().Set("Content-Type", "image/png")
	r.w.Write(data)
}

// canAsk says that the reader may do more than read.
func (r *request) canAsk() bool { return r.who.scope.Allows("ask") }
