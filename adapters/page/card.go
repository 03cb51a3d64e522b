package page

import (
	"fmt"
	"html/template"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/drawing"
	"firn/bot/present"
	"firn/bot/record"
	"firn/bot/reply"
)

// cardView is a reply as a page shows it.
type cardView struct {
	ID    string
	Ref   string
	Asked string
	Line  string // that asks the same
	By    string
	At    string
	Note  string

	Doc      present.Document
	Title    string          // the text of the first block, which names the card
	About    string          // of the title: what was asked; empty where it is not apart
	Verdict  string          // of the title: the answer
	State    string          // of a base that it is about: below, near, ...
	Digest   bool            // it is about many bases: its headline is one
	Rest     []present.Block // of the short form, behind the title
	Profile  template.HTML   // the approach from the side
	Record   *reply.RecordStatus
	Fix      *fixView
	Chips    *chipsView
	Struck   bool      // its figures hold no more
	Figs     *figsView // in the place of the table: beside what others entered
	Buttons  []buttonView
	More     []buttonView // what is one tap away and has to be asked for
	Pictures []pictureView
	Files    []fileView
	Edited   bool
	Below    []cardView // what follows a post
	Late     string
	Closed   bool
	Page     bool          // it is a page's only one: its name is the page's
	Since    time.Duration // how long ago it was made: how old its weather was is more now
	CSRF     string
	Back     string
}

// fixView is the line to type instead, in a field.
type fixView struct {
	Line, Edits, Deed string
}

// chipsView is what the next message may change of the latest answer.
type chipsView struct{ Line, Deed, Deed2 string }

// buttonView is a form with one button, or a link.
type buttonView struct {
	ID, Label, Text, Href, Deed string
	Copy                        string // an address to hand on, where the browser can
	Primary                     bool
}

type pictureView struct{ Src, Alt string }

// fileView is a file to keep or to print.
type fileView struct{ Href, Name, Alt string }

// Say is the card in a few words, for whoever cannot see it come.
func (v cardView) Say() string {
	switch {
	case v.Record != nil:
		return "Record " + v.Record.ID + " is " + present.StateWord(v.Record.State) + ". " + v.Title
	case len(v.Doc.Short) > 0 && kindOf(v.Doc.Short[0]) == "question":
		return "firn asks: " + v.Title
	}
	return v.Title
}

// kindOf is which part of a document a block is, for the templates.
func kindOf(b present.Block) string {
	switch b.(type) {
	case present.Headline:
		return "headline"
	case present.Stop:
		return "stop"
	case present.Table:
		return "table"
	case present.Call:
		return "call"
	case present.Line:
		return "line"
	case present.Small:
		return "small"
	case present.State:
		return "state"
	case present.Question:
		return "question"
	case present.List:
		return "list"
	case present.Phrases:
		return "phrases"
	case present.Steps:
		return "steps"
	}
	return ""
}

// tones are the classes of a headline.
var tones = map[present.Tone]string{present.Act: " t-act", present.Calm: " t-calm", present.Unsure: " t-unsure"}

// Tone is the headline's class.
func (v cardView) Tone() string {
	switch b := firstOf(v.Doc).(type) {
	case present.Headline:
		return tones[b.Tone]
	case present.Question:
		return " problem"
	}
	return ""
}

// firstOf is the first block of a document; nil: there is none.
func firstOf(d present.Document) present.Block {
	if len(d.Short) == 0 {
		return nil
	}
	return d.Short[0]
}

// named takes the first block of a document for the card's title.
func (v *cardView) named() {
	switch b := firstOf(v.Doc).(type) {
	case present.Headline:
		v.Title = b.Text
	case present.Question:
		v.Title = b.Text
	case present.Line:
		v.Title = b.Text
	}
	v.Rest, v.About, v.Verdict = v.Doc.Short, "", v.Title
	if h, ok := firstOf(v.Doc).(present.Headline); ok && h.Tone != present.Plain && v.State == "" && !v.Digest {
		v.About, v.Verdict = h.Parts()
	}
	if v.Title = strings.TrimSpace(v.Title); v.Title == "" {
		v.Title, v.Verdict = "Answer", "Answer"
	} else if kindOf(v.Rest[0]) != "question" { // whose line to type is still to come
		v.Rest = v.Rest[1:]
	}
}

// overStates are those of records whose figures nobody may fly any more.
var overStates = []string{string(record.Recompute), string(record.Expired), string(record.Replaced)}

// view is a card as a page shows it; r is who reads it.
func (r *request) view(c chat.Message) cardView {
	v := cardView{Doc: present.Of(c.Reply), Record: c.Reply.Record, Note: c.Note, CSRF: r.who.csrfToken(), Closed: c.Closed || !r.canAsk()}
	if c.Reply.Alert != nil {
		v.State = c.Reply.Alert.State
	}
	v.Digest = c.Reply.Kind == reply.KindDigest || c.Reply.Kind == reply.KindWatch
	if k := c.Reply.Record; k != nil {
		v.Struck = slices.Contains(overStates, k.State)
	}
	v.named()
	if c.Reply.Kind == reply.KindNote && v.Title == "Answer" { // thanks: nothing changes
		v.Title, v.Verdict = "Noted.", "Noted."
	}
	if !v.Closed {
		r.controls(&v, c.Reply)
	}
	return v
}

// Shown is a card as a page shows it to somebody who may ask, in HTML.
func (p *Page) Shown(c chat.Message) string {
	r := &request{p: p, who: visitor{scope: access.Ask}}
	return bare(p.part("card", r.view(c)))
}

// acts are the page's own words for what a duty officer does, one on every page.
var acts = map[string]string{"ack": "Seen", "snooze": "Quiet 2 h"}

// controls are what can be done with a card.
func (r *request) controls(v *cardView, c reply.Reply) {
	c.Actions = slices.DeleteFunc(slices.Clone(c.Actions), func(a reply.Action) bool {
		return r.who.person.NoDuty && chat.DutyDeed(a.Asks()) || r.p.done(a.Asks())
	})
	k := present.ControlsOf(c, v.Doc)
	for i, a := range k.Buttons {
		if word, has := acts[a.ID]; has && !(a.ID == "ack" && seesOne(k.Buttons)) {
			a.Label = word
		}
		b := buttonView{ID: a.ID, Label: a.Label, Text: a.Asks(), Deed: newID(), Primary: i == 0 && k.Primary}
		switch {
		case a.ID == chat.ActionEnter && c.Enter != nil:
			b.Href = "/record/" + c.Enter.Record + "/check"
		case a.ID == record.ActionCheck && c.Record != nil:
			b.Href = "/record/" + c.Record.ID + "/check"
		}
		v.Buttons = append(v.Buttons, b)
	}
	for _, e := range k.More {
		i := slices.IndexFunc(c.Actions, func(a reply.Action) bool { return e.Asks != "" && a.Asks() == e.Asks })
		if i < 0 {
			continue // it is folded here
		}
		b := buttonView{ID: c.Actions[i].ID, Label: e.Title, Text: e.Asks, Deed: newID()}
		if e.ID == present.EntryPrint && c.Record != nil { // a browser prints it by itself
			b.Href = "/record/" + c.Record.ID + "/card.pdf"
		}
		v.More = append(v.More, b)
	}
}

// seesOne says that there are buttons for one base of several: that for all is
// called so.
func seesOne(all []reply.Action) bool {
	return slices.ContainsFunc(all, func(a reply.Action) bool { return strings.HasPrefix(a.ID, "ack-") })
}

// published is a figure as it was typed.
func published(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// profile draws the approach of a reply from the side, where it has one.
func (r *request) profile(c reply.Reply) template.HTML {
	if d, ok := drawing.ProfileOf(c, c.ApproachName()); ok {
		d.Beside = true
		return r.svg(d)
	}
	return ""
}

// cardView is a card of a conversation.
func (r *request) cardView(k *entry) cardView {
	v := r.view(k.c)
	v.ID, v.Ref, v.Asked, v.By, v.Edited = k.id, string(k.ref()), k.Asked, k.By, k.Edited
	v.Back = "/"
	// Of a record that is still to be written nobody waits here to be told whose it is.
	if c := k.c.Reply.Record; c != nil && !v.Closed && !k.unkept && r.ownResult(c.ID) {
		v.Buttons = ownButtons(v.Buttons)
	}
	v.At, v.Line, v.Since = k.at.UTC().Format("15:04Z"), k.line(), r.p.o.Now().Sub(k.at)
	if k.fix() && !v.Closed {
		v.Fix = &fixView{Line: k.c.Reply.Problem.Try, Edits: string(k.Message), Deed: newID()}
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
// revision, the newest last; with an error those alone that the store did not take.
func (r *request) cards(after int64) ([]cardView, error) {
	all, rev, err := r.p.cards(r.Context(), r.who.key, after)
	if err == nil {
		r.has.talk = rev
	}
	out := make([]cardView, len(all))
	for i, k := range all {
		out[i] = r.cardView(k)
	}
	// What was done with an answer, such as posting it, asks nothing of its own:
	// the answer is still what the next message changes.
	last := len(all) - 1
	for last > 0 && out[last].Line == "" && out[last].Fix == nil {
		last--
	}
	if last >= 0 {
		out[last].Chips = chipsOf(all[last], out[last].Closed)
	}
	// The latest answer has its picture beside it; drawn for each, a long
	// conversation would be slow and large.
	for i := len(all) - 1; i >= 0; i-- {
		if out[i].Profile = r.profile(all[i].c.Reply); out[i].Profile != "" {
			break
		}
	}
	return out, err
}

// chipsOf are those of the latest answer; nil where there is nothing to change.
func chipsOf(k *entry, closed bool) *chipsView {
	if a := &k.c.Reply; closed || k.Asked == "" || a.Problem != nil || a.Kind != reply.KindCorrection || len(a.Altitudes) == 0 {
		return nil
	}
	return &chipsView{Line: k.line(), Deed: newID(), Deed2: newID()}
}

// line is what to type for the same again: the answer says it; of what is none it
// is what was typed. Empty where there is none, as below a button.
func (k *entry) line() string {
	switch {
	case k.c.Reply.Line != "":
		return k.c.Reply.Line
	case k.Message != "":
		return k.Asked
	}
	return ""
}

// mine is a card of this browser's conversation; nil when there is none, or none
// can be read.
func (r *request) mine(id string) *entry {
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
	if strings.HasPrefix(v.Back, "/record/") {
		v.Buttons = nil // the record below has them
	}
	return &v
}

// postView is a post of the watch.
type postView struct {
	ID   string
	Card cardView
	New  bool // its words, and not its buttons alone
}

// postViews are the posts that changed after a revision, and those whose
// buttons did after a count, the newest last. A later word changes the one
// before it.
func (r *request) postViews(after int64, count uint64) ([]postView, error) {
	all, rev, err := r.p.posts(r.Context())
	if err != nil {
		return nil, err
	}
	r.has.posts = rev
	out := []postView{}
	for _, o := range all {
		if max(o.rev, o.over) <= after && !r.p.pressedElsewhere(o.c.Reply, count) {
			continue
		}
		c := o.c
		c.Closed = c.Closed || o.over > 0
		v := r.view(c)
		v.ID, v.Ref, v.Late, v.Back = o.id, string(o.ref()), o.Late, "/watch"
		v.At, v.Since = both(o.at, time.UTC), r.p.o.Now().Sub(o.at)
		for _, k := range o.below {
			b := r.cardView(k)
			b.Closed, b.Fix, b.Buttons, b.More = true, nil, nil, nil
			v.Below = append(v.Below, b)
		}
		out = append(out, postView{ID: o.id, Card: v, New: max(o.rev, o.over) > after})
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
