package page

import (
	"context"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/surfacetest"
)

// node is an element of a page: its templates write what an XML reader takes.
type node struct {
	name     string
	attrs    map[string]string
	children []*node
	text     string // of a text node
}

var void = []string{"meta", "link", "input", "img", "br"}

// parse reads a page or a part of one.
func parse(t testing.TB, html string) *node {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(html))
	d.Strict, d.AutoClose, d.Entity = false, void, xml.HTMLEntity
	root := &node{name: "root"}
	at := []*node{root}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Errorf("the page cannot be read: %v", err)
			break
		}
		top := at[len(at)-1]
		switch k := token.(type) {
		case xml.StartElement:
			n := &node{name: k.Name.Local, attrs: map[string]string{}}
			for _, a := range k.Attr {
				n.attrs[a.Name.Local] = a.Value
			}
			top.children = append(top.children, n)
			at = append(at, n)
		case xml.EndElement:
			if len(at) > 1 && top.name == k.Name.Local {
				at = at[:len(at)-1]
			} else {
				t.Errorf("</%s> ends <%s>", k.Name.Local, top.name)
			}
		case xml.CharData:
			top.children = append(top.children, &node{text: string(k)})
		}
	}
	if len(at) != 1 {
		t.Errorf("<%s> is not closed", at[len(at)-1].name)
	}
	return root
}

// all are the elements that hold, in order.
func (n *node) all(holds func(*node) bool) (out []*node) {
	for _, c := range n.children {
		if c.name != "" && holds(c) {
			out = append(out, c)
		}
		out = append(out, c.all(holds)...)
	}
	return out
}

func (n *node) named(name string) []*node {
	return n.all(func(c *node) bool { return c.name == name })
}

func (n *node) id(id string) *node {
	if found := n.all(func(c *node) bool { return c.attrs["id"] == id }); len(found) > 0 {
		return found[0]
	}
	return nil
}

// read is what a person reads: blocks on lines of their own, buttons left out.
func (n *node) read() string {
	var b strings.Builder
	var walk func(n *node)
	walk = func(n *node) {
		if n.name == "" {
			b.WriteString(n.text)
			return
		}
		switch n.name {
		case "button", "svg", "datalist", "option":
			return
		case "a":
			if n.attrs["data-action"] != "" {
				return
			}
		case "input":
			if n.attrs["type"] != "hidden" {
				b.WriteString(" " + n.attrs["value"] + " ")
			}
			return
		}
		inline := slices.Contains([]string{"span", "b", "strong", "a"}, n.name)
		if !inline {
			b.WriteString("\n")
		}
		for _, c := range n.children {
			walk(c)
		}
		if !inline {
			b.WriteString("\n")
		}
	}
	walk(n)
	return strings.TrimSpace(b.String())
}

// fill are the fields of a form as the page has them.
func (n *node) fill() url.Values {
	v := url.Values{}
	for _, f := range n.all(func(c *node) bool { return c.attrs["name"] != "" }) {
		value := f.attrs["value"]
		if f.name == "textarea" {
			value = f.read()
		}
		if f.attrs["type"] != "checkbox" {
			v.Add(f.attrs["name"], value)
		}
	}
	return v
}

// form is the form of an address, the first one.
func (n *node) form(t testing.TB, action string) *node {
	t.Helper()
	for _, f := range n.named("form") {
		if f.attrs["action"] == action {
			return f
		}
	}
	t.Errorf("the page has no form to %s", action)
	return &node{}
}

// browser is one, with its cookies.
type browser struct {
	base string
	c    http.Client
}

func newBrowser(base string) *browser {
	jar, _ := cookiejar.New(nil) // without options it cannot fail
	return &browser{base: base, c: http.Client{Jar: jar, Timeout: time.Minute}}
}

// got is an answer of the page.
type got struct {
	code int
	url  *url.URL
	head http.Header
	body string
}

func (b *browser) do(t testing.TB, r *http.Request) got {
	t.Helper()
	res, err := b.c.Do(r)
	if err != nil {
		t.Errorf("%s %s: %v", r.Method, r.URL, err)
		return got{url: r.URL}
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil {
		t.Errorf("%s %s: %v", r.Method, r.URL, err)
	}
	return got{res.StatusCode, res.Request.URL, res.Header, string(body)}
}

func (b *browser) get(t testing.TB, path string) got {
	t.Helper()
	r, err := http.NewRequest("GET", b.base+path, nil)
	if err != nil {
		t.Fatal(err)
	}
	return b.do(t, r)
}

// post sends a form as a browser does.
func (b *browser) post(t testing.TB, path string, v url.Values) got {
	t.Helper()
	r, err := http.NewRequest("POST", b.base+path, strings.NewReader(v.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	r.Header.Set("Origin", b.base)
	return b.do(t, r)
}

// enter opens a link as a browser without a script does.
func (b *browser) enter(t testing.TB, secret string) got {
	t.Helper()
	v := parse(t, b.get(t, "/enter").body).form(t, "/enter").fill()
	v.Set("link", b.base+"/enter#"+secret)
	return b.post(t, "/enter", v)
}

// send fills a form of a page in and sends it.
func (b *browser) send(t testing.TB, page string, action string, fields map[string]string) got {
	t.Helper()
	v := parse(t, b.get(t, page).body).form(t, action).fill()
	for k, x := range fields {
		v.Set(k, x)
	}
	return b.post(t, action, v)
}

// patience is how long anything may take; a busy machine needs it.
const testPatience = 20 * time.Second

func eventually(t testing.TB, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(testPatience); !holds(); time.Sleep(3 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("not within %v: %s", testPatience, what)
		}
	}
}

// generous are limits that no test meets by accident.
var generous = Limits{Reads: 1e6, Deeds: 1e6, LoginAttempts: 1e6}

// driver is the browsers' side for the shared suite: three people, each with
// a link and a browser.
type driver struct {
	server *httptest.Server
	store  *storetest.Access
	room   *pagestate.Memory
	now    atomic.Pointer[Page]
	front  atomic.Pointer[http.Handler]
	people []surfacetest.Person
	links  []string
	stop   func()

	mu       sync.Mutex
	browsers []*browser
	deeds    map[string]deedSent
	messages map[string]saidBy
	forms    map[string]*formSent
	refused  []surfacetest.Shown // in the place of an answer
}

type saidBy struct {
	person int
}

type deedSent struct {
	person int
	path   string
	v      url.Values
}

type formSent struct {
	person int
	page   *node
	open   bool
}

var (
	_ surfacetest.Driver = (*driver)(nil)
	_ surfacetest.Poster = (*driver)(nil)
)

func newDriver(t *testing.T) surfacetest.Driver {
	d := &driver{store: storetest.NewAccess(), room: pagestate.NewMemory(), deeds: map[string]deedSent{}, messages: map[string]saidBy{}, forms: map[string]*formSent{}}
	d.server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		(*d.front.Load()).ServeHTTP(w, r)
	}))
	t.Cleanup(d.server.Close)
	for i, name := range []string{"anna", "bo", "cy"} {
		secret, hash := access.Secret()
		scope := access.Ask
		if i == 0 {
			scope = access.Duty
		}
		if _, err := d.store.AddToken(t.Context(), access.Token{Name: name, Hash: hash, Scope: scope, Made: time.Now()}); err != nil {
			t.Fatal(err)
		}
		d.people = append(d.people, surfacetest.Person{ID: name, Name: name})
		d.links = append(d.links, secret)
		d.browsers = append(d.browsers, newBrowser(d.server.URL))
	}
	return d
}

func (d *driver) Traits() surfacetest.Traits {
	return surfacetest.Traits{
		Name: Surface, People: d.people, Groups: []string{DutyGroup}, Secrets: d.links,
		Direct: true, Edits: true, Buttons: true, Forms: true, Private: true, Pictures: true, Waits: true, Open: true, Changes: true,
		// A page has one place, which only those see who came in by a link; its own
		// parts are its front page and what is folded, and firn is its service.
		Lacks: []surfacetest.Power{
			surfacetest.Channels, surfacetest.Closed, surfacetest.Strangers, surfacetest.FrontPage, surfacetest.More, surfacetest.Enters,
			surfacetest.Deletes, surfacetest.OnMessage, surfacetest.Under, surfacetest.Outages,
		},
	}
}

func (d *driver) Start(t *testing.T, desk chat.Handler) chat.Surface {
	p, err := New(slog.New(slog.DiscardHandler), Options{Access: d.store, Room: d.room, Limits: generous})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_ = p.Run(ctx, desk)
	}()
	eventually(t, "the page runs", func() bool {
		p.mu.Lock()
		defer p.mu.Unlock()
		return p.dispatcher != nil
	})
	h := p.Handler()
	d.now.Store(p)
	d.front.Store(&h)
	d.stop = func() { cancel(); <-ended }
	t.Cleanup(d.stop)
	for i, b := range d.browsers {
		if got := b.get(t, "/board"); got.code != http.StatusOK {
			if in := b.enter(t, d.links[i]); in.code != http.StatusOK || in.url.Path != "/" {
				t.Fatalf("%s is not let in: %d at %s", d.people[i].Name, in.code, in.url.Path)
			}
		}
	}
	return p
}

func (d *driver) Stop(*testing.T) { d.stop() }

func (d *driver) Sender(*testing.T) outbox.Sender { return d.now.Load() }

func (d *driver) person(id string) int {
	return slices.IndexFunc(d.people, func(p surfacetest.Person) bool { return p.ID == id })
}

// sent posts a form of a page and remembers it.
func (d *driver) sent(t *testing.T, person int, path string, v url.Values) (deed string, g got) {
	t.Helper()
	deed = v.Get("deed")
	d.mu.Lock()
	d.deeds[deed] = deedSent{person, path, v}
	d.mu.Unlock()
	g = d.browsers[person].post(t, path, v)
	if g.code == http.StatusTooManyRequests {
		page := parse(t, g.body)
		if again := page.id("again"); again != nil && page.id("text").attrs["value"] == v.Get("text") { // what was sent stands there
			d.mu.Lock()
			d.refused = append(d.refused, surfacetest.Shown{ID: deed, Direct: d.people[person].ID, Text: again.read()})
			d.mu.Unlock()
			return deed, g
		}
	}
	if g.code != http.StatusOK && g.code != http.StatusUnprocessableEntity {
		t.Errorf("POST %s = %d: %s", path, g.code, g.body)
	}
	return deed, g
}

func (d *driver) Say(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	i := d.person(m.By.ID)
	v := parse(t, d.browsers[i].get(t, "/").body).form(t, "/ask").fill()
	for _, f := range parse(t, d.browsers[i].get(t, "/").body).named("form") {
		if strings.Contains(f.attrs["class"], "askline") {
			v = f.fill()
		}
	}
	v.Set("text", m.Text)
	deed, _ := d.sent(t, i, "/ask", v)
	// The message's own name is the page's; whoever edits has it in a card.
	d.mu.Lock()
	defer d.mu.Unlock()
	d.messages[deed] = saidBy{person: i}
	return deed
}

// Edit sends the line to type instead, which stands in a question, with
// another text. A card that is no question has no such form, but the page takes
// the same from one that is kept open.
func (d *driver) Edit(t *testing.T, message, text string) string {
	t.Helper()
	d.mu.Lock()
	was := d.deeds[message]
	d.mu.Unlock()
	v := parse(t, d.browsers[was.person].get(t, "/").body).form(t, "/ask").fill()
	r := &request{p: d.now.Load(), Request: &http.Request{PostForm: was.v}}
	r.who.key = d.key(t, was.person)
	r.who.person.ID = d.people[was.person].ID
	e := r.event(chat.MessagePosted, strings.TrimSpace(was.v.Get("text")), nil)
	v.Set("edits", "m/"+r.who.key+"/"+e.ID)
	v.Set("text", text)
	deed, _ := d.sent(t, was.person, "/ask", v)
	return deed
}

// key is the conversation of a person's browser.
func (d *driver) key(t *testing.T, person int) string {
	t.Helper()
	u, _ := url.Parse(d.server.URL)
	for _, c := range d.browsers[person].c.Jar.Cookies(u) {
		if h, ok := access.HashOf(c.Value); ok && c.Name == "firn" {
			return keyOf(h)
		}
	}
	t.Fatal("the browser has no cookie")
	return ""
}

func (d *driver) Press(t *testing.T, s surfacetest.Shown, action string, by surfacetest.Person) string {
	t.Helper()
	i := d.person(by.ID)
	c := parse(t, d.browsers[i].get(t, "/").body).id(s.ID)
	if c == nil {
		t.Errorf("no card %q", s.ID)
		return ""
	}
	for _, f := range c.named("form") {
		for _, b := range f.named("button") {
			if b.attrs["data-action"] == action {
				deed, _ := d.sent(t, i, f.attrs["action"], f.fill())
				return deed
			}
		}
	}
	t.Errorf("no button %q on card %q", action, s.ID)
	return ""
}

func (d *driver) Redeliver(t *testing.T, deed string) {
	t.Helper()
	d.mu.Lock()
	s, ok := d.deeds[deed]
	d.mu.Unlock()
	if !ok {
		t.Errorf("no deed %q to send again", deed)
		return
	}
	d.browsers[s.person].post(t, s.path, s.v)
}

func (d *driver) OpenForm(t *testing.T, m surfacetest.Said) string {
	t.Helper()
	i := d.person(m.By.ID)
	d.mu.Lock()
	defer d.mu.Unlock()
	id := fmt.Sprint("form ", len(d.forms))
	d.forms[id] = &formSent{i, parse(t, d.browsers[i].get(t, "/").body), true}
	return id
}

func (d *driver) Form(t *testing.T, form string) surfacetest.Form {
	d.mu.Lock()
	defer d.mu.Unlock()
	f := d.forms[form]
	out := surfacetest.Form{Open: f.open, Fields: map[string]string{}, Problems: map[string]string{}}
	shown := f.page.form(t, "/fields")
	for _, name := range []string{chat.FieldStation, chat.FieldTemperature, chat.FieldAltitudes} {
		out.Fields[name] = shown.fill().Get(name)
		if no := shown.id("no-" + name); no != nil {
			out.Problems[name] = no.read()
		}
	}
	return out
}

func (d *driver) Submit(t *testing.T, form string, fields map[string]string) string {
	t.Helper()
	d.mu.Lock()
	f := d.forms[form]
	d.mu.Unlock()
	v := f.page.form(t, "/fields").fill()
	for k, x := range fields {
		v.Set(k, x)
	}
	deed, g := d.sent(t, f.person, "/fields", v)
	d.mu.Lock()
	defer d.mu.Unlock()
	f.page, f.open = parse(t, g.body), g.code == http.StatusUnprocessableEntity
	return deed
}

func (d *driver) Shown(t *testing.T) []surfacetest.Shown {
	d.mu.Lock()
	out := slices.Clone(d.refused)
	d.mu.Unlock()
	for i, b := range d.browsers {
		talk := parse(t, b.get(t, "/").body).id("talk")
		if talk == nil {
			t.Fatal("the page has no conversation")
		}
		for _, c := range talk.named("article") {
			s := surfacetest.Shown{ID: c.attrs["id"], Direct: d.people[i].ID, Text: c.read()}
			s.Edited = len(c.all(func(n *node) bool { return n.attrs["class"] == "edited" })) > 0
			for _, x := range c.all(func(n *node) bool { return n.attrs["data-action"] != "" }) {
				s.Buttons = append(s.Buttons, surfacetest.Button{ID: x.attrs["data-action"], Label: strings.TrimSpace((&node{name: "p", children: x.children}).read())})
			}
			for _, x := range c.named("img") {
				g := b.get(t, x.attrs["src"])
				s.Pictures = append(s.Pictures, surfacetest.Picture{Name: x.attrs["src"], Alt: x.attrs["alt"], Size: len(g.body)})
				if x.attrs["alt"] == "" || g.head.Get("Content-Type") != "image/png" {
					s.Broken = append(s.Broken, "a picture without words, or that does not come")
				}
			}
			for _, x := range c.all(func(n *node) bool {
				return slices.Contains([]string{"script", "style", "iframe", "object", "base"}, n.name)
			}) {
				s.Broken = append(s.Broken, "<"+x.name+">")
			}
			for _, x := range c.named("a") {
				if strings.HasPrefix(x.attrs["href"], "/file/") {
					g := b.get(t, x.attrs["href"])
					s.Files = append(s.Files, surfacetest.File{Name: strings.TrimSpace(x.read()), Size: len(g.body)})
					continue
				}
				if h := x.attrs["href"]; !strings.HasPrefix(h, "/record/") && !strings.HasPrefix(h, "#more-") && x.attrs["class"] != "chip" {
					s.Pings = append(s.Pings, h)
				}
			}
			out = append(out, s)
		}
	}
	return out
}

func TestSurface(t *testing.T) { surfacetest.Run(t, newDriver) }
