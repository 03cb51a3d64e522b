package page

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"time"
	"unicode/utf8"

	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/record"
)

// longestLine is of a message, in characters; a pasted report has some hundred.
// The figure is ours.
const longestLine = 4000

// patience is how long a browser is kept waiting: as long as the dispatcher takes at
// most. The answer comes all the same.
const patience = 35 * time.Second

// event is what a form says. Its id comes of the page that it was on and of
// what stands in it: sent twice it is one, and a page that is gone back to may
// ask something else.
func (r *request) event(kind chat.Kind, text string, fields map[string]string) chat.Event {
	sum := sha256.New()
	for _, part := range []string{r.who.key, r.who.person.ID, r.PostForm.Get("deed"), r.PostForm.Get("card"), text, fields[chat.FieldStation], fields[chat.FieldTemperature], fields[chat.FieldAltitudes]} {
		sum.Write([]byte(part))
		sum.Write([]byte{0})
	}
	sum.Write([]byte{byte(kind)})
	return chat.Event{
		ID: hex.EncodeToString(sum.Sum(nil)[:12]), Kind: kind,
		Place:  chat.Place{Channel: r.who.key, Direct: true, Open: true},
		Person: r.who.person, Text: text, Fields: fields, At: r.p.o.Now(), Handle: newCame(), Waits: true, Sole: true,
	}
}

// take hands an event to the dispatcher and waits for what comes of it; false when
// nobody takes it.
func (r *request) take(e chat.Event) bool {
	p := r.p
	p.mu.Lock()
	dispatcher, work := p.dispatcher, p.work
	if dispatcher == nil {
		p.mu.Unlock()
		return false
	}
	p.taking.Add(1)
	p.mu.Unlock()
	done := make(chan struct{})
	go func() {
		defer p.taking.Done()
		defer close(done)
		dispatcher.Handle(context.WithValue(work, deedKey{}, e), p, e)
	}()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	select {
	case <-done:
	case <-e.Handle.(*came).here:
	case <-limit.C:
	case <-r.Context().Done():
	}
	return true
}

// typed is a field as it was typed, as UTF-8.
func (r *request) typed(field string) string {
	return strings.ToValidUTF8(r.PostForm.Get(field), "\uFFFD")
}

// ask answers a line, or changes the answer to one.
func (p *Page) ask(r *request) {
	text := strings.TrimSpace(r.typed("text"))
	switch {
	case text == "":
		r.again(askView{Again: "There is nothing in the line yet. Type a station, the temperature with its sign, and the altitudes."})
		return
	case utf8.RuneCountInString(text) > longestLine:
		r.again(askView{Line: clean(text), Again: "That is more than a line. Leave out what is neither station, temperature, altitudes nor a report."})
		return
	}
	e := r.event(chat.MessagePosted, text, nil)
	e.Message = chat.Ref("m/" + r.who.key + "/" + e.ID)
	if m := messageRef.FindStringSubmatch(r.PostForm.Get("edits")); m != nil && m[1] == r.who.key {
		e.Kind, e.Message = chat.Edited, chat.Ref(m[0])
	}
	if r.stands(e) {
		r.see("/", e)
		return
	}
	if !r.take(e) {
		r.again(askView{Line: clean(text), Again: "firn is starting or stopping. Send it again in a moment."})
		return
	}
	if why := e.Handle.(*came).notTaken(); why != "" {
		r.w.WriteHeader(http.StatusTooManyRequests)
		r.showAsk(askView{Line: clean(text), Again: why})
		return
	}
	r.see("/", e)
}

// stands says that what a form asks was answered before: it was sent again, and
// the process that answered it may be another, or be gone.
func (r *request) stands(e chat.Event) bool {
	id, err := r.p.answered(r.Context(), r.who.key, e.ID)
	if err != nil {
		r.p.log.WarnContext(r.Context(), "not known whether it was answered; answered", "err", err)
	}
	return id != ""
}

// again shows the ask page with what was typed and why it was not sent.
func (r *request) again(v askView) {
	r.w.WriteHeader(http.StatusUnprocessableEntity)
	r.showAsk(v)
}

// see goes on to a page, and there to the card that came of an event.
func (r *request) see(path string, e chat.Event) {
	if card, fix := r.cameOf(e); card != "" {
		where := "#c-"
		if fix {
			where = "#fix-" // in the line that is to be fixed
		}
		path += where + card
	}
	http.Redirect(r.w, r.Request, path, http.StatusSeeOther)
}

// cameOf is the card that came of an event: of one that was sent again, the
// card that it has; of one that had none, the conversation's last.
func (r *request) cameOf(e chat.Event) (id string, fix bool) {
	if id, fix, _ = e.Handle.(*came).get(); id != "" {
		return id, fix
	}
	id, err := r.p.answered(r.Context(), r.who.key, e.ID)
	if err == nil && id == "" && (e.Kind == chat.Pressed || e.Kind == chat.Submitted) {
		id, err = r.p.newest(r.Context(), r.who.key)
	}
	if err != nil {
		r.p.log.ErrorContext(r.Context(), "conversation not read", "err", err)
	}
	if k := r.mine(id); k != nil {
		fix = k.fix()
	}
	return id, fix
}

// fields answers the form beside the line.
func (p *Page) fields(r *request) {
	f := chat.Form{Station: strings.TrimSpace(r.typed(chat.FieldStation)), Temperature: strings.TrimSpace(r.typed(chat.FieldTemperature)), Altitudes: strings.TrimSpace(r.typed(chat.FieldAltitudes))}
	p.mu.Lock()
	dispatcher := p.dispatcher
	p.mu.Unlock()
	if dispatcher == nil {
		r.again(askView{Form: f, Open: true, Again: "firn is starting or stopping. Send it again in a moment."})
		return
	}
	if f.Problems = dispatcher.Check(f); f.Problems != nil {
		r.again(askView{Form: f, Open: true})
		return
	}
	e := r.event(chat.Submitted, "", map[string]string{chat.FieldStation: f.Station, chat.FieldTemperature: f.Temperature, chat.FieldAltitudes: f.Altitudes})
	if r.stands(e) {
		r.see("/", e)
		return
	}
	if !r.take(e) {
		r.again(askView{Form: f, Open: true, Again: "firn is starting or stopping. Send it again in a moment."})
		return
	}
	if why := e.Handle.(*came).notTaken(); why != "" {
		r.w.WriteHeader(http.StatusTooManyRequests)
		r.showAsk(askView{Form: f, Open: true, Again: why})
		return
	}
	if _, _, back := e.Handle.(*came).get(); back != nil {
		r.again(askView{Form: *back, Open: true})
		return
	}
	r.see("/", e)
}

// back are the pages that a press goes back to.
var back = regexp.MustCompile(`^/(board|watch|log|base/[A-Za-z0-9]{1,8}|record/[A-Z]+-[A-Z]+)?$`)

// press does what a button says.
func (p *Page) press(r *request) {
	text := r.typed("text")
	e := r.event(chat.Pressed, text, nil)
	e.Sure = true // the figures stand beside the button
	ref := r.PostForm.Get("card")
	if m := cardRef.FindStringSubmatch(ref); m != nil && m[1] == r.who.key {
		e.Message = chat.Ref(ref)
	}
	if m := postRef.FindStringSubmatch(ref); m != nil {
		k, err := p.card(r.Context(), pagestate.Posts, m[1])
		if err != nil {
			r.failed("the post", err)
			return
		}
		if k != nil {
			e.Message = chat.Ref(ref)
		}
	}
	if text == "" || !r.take(e) {
		r.plain(http.StatusServiceUnavailable, "Not now", "firn is starting or stopping. Go back and press again in a moment.")
		return
	}
	if r.notTaken(e) {
		return
	}
	id, _, _ := e.Handle.(*came).get()
	to := r.PostForm.Get("back")
	if !back.MatchString(to) {
		to = "/"
	}
	switch {
	case to == "/" || id != "" && strings.HasPrefix(text, "recompute "):
		r.see("/", e)
	case id != "":
		http.Redirect(r.w, r.Request, to+"?said="+id+"#said", http.StatusSeeOther)
	case e.Message != "":
		http.Redirect(r.w, r.Request, to+"#c-"+strings.TrimPrefix(string(e.Message), "p/"), http.StatusSeeOther)
	default:
		http.Redirect(r.w, r.Request, to, http.StatusSeeOther)
	}
}

// notTaken says why what a button sent is not taken.
func (r *request) notTaken(e chat.Event) bool {
	why := e.Handle.(*came).notTaken()
	if why != "" {
		r.plain(http.StatusTooManyRequests, "Too much at once", why+" Go back for it.")
	}
	return why != ""
}

// anAltitude is what may be entered in a check: feet, or metres behind an m.
var anAltitude = regexp.MustCompile(`^[0-9]{1,5}(\.[0-9])?m?$`)

// check is a second person's word on a record.
func (p *Page) check(r *request) {
	id, n, ok := record.ReadName([]string{r.PathValue("id")})
	if !ok || n != 1 {
		r.missing("No such record", "No record has this name.", "Look in the log", "/log")
		return
	}
	v := checkView{Entered: r.PostForm["entered"], Name: clean(r.PostForm.Get("name"))}
	refuse := func() {
		r.w.WriteHeader(http.StatusUnprocessableEntity)
		r.showCheck(id, v)
	}
	keep := false // a name is asked once
	if !r.who.linked {
		name, err := properName(v.Name)
		if name == "" {
			for i, typed := range v.Entered {
				v.Entered[i] = clean(typed)
			}
			v.Wrong, v.NoName = "Give your name: the record says who checked.", r.PostForm.Get("how")
			if err != nil {
				v.Wrong = sentence(err)
			}
			refuse()
			return
		}
		r.who.person = atThisMachine(r.who.key, name)
		keep = nameIn(r.Request) == ""
	}
	text := "check " + id
	if r.PostForm.Get("how") == record.Blind {
		for i, typed := range v.Entered {
			figure := strings.ReplaceAll(strings.ReplaceAll(strings.ToLower(strings.TrimSpace(typed)), " ", ""), ",", "")
			figure = strings.TrimSuffix(figure, "ft")
			v.Entered[i] = clean(typed)
			if !anAltitude.MatchString(figure) {
				v.Unread = append(v.Unread, i)
				v.Wrong = "Enter every altitude, in feet as a number; with an m behind it, in metres."
			}
			if !strings.HasSuffix(figure, "m") {
				figure += " ft" // a low one could be a temperature otherwise
			}
			text += " " + figure
		}
		if v.Wrong != "" || len(v.Entered) == 0 {
			refuse()
			return
		}
	}
	e := r.event(chat.Pressed, text, nil)
	e.Sure = true
	if !r.take(e) {
		r.plain(http.StatusServiceUnavailable, "Not now", "firn is starting or stopping. Go back and send it again in a moment.")
		return
	}
	if r.notTaken(e) {
		return
	}
	if keep {
		p.keepName(r, r.who.person.Name)
	}
	to := "/record/" + url.PathEscape(id)
	if card, _, _ := e.Handle.(*came).get(); card != "" {
		to += "?said=" + card + "#said"
	}
	http.Redirect(r.w, r.Request, to, http.StatusSeeOther)
}
