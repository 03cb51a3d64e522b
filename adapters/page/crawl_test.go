package page

import (
	"html"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
)

// crawler opens whatever pages link to, each address once.
type crawler struct {
	t     *testing.T
	b     *browser
	seen  map[string]bool
	next  []string
	paths map[string]int // pages by the first part of their path
	ids   map[string]map[string]bool
	names []string // "page#id", to be found in the end
}

// links are the addresses in a page: what it loads, what it leads to, and what
// its forms ask for.
func links(n *node) (out []string) {
	for _, x := range n.all(func(*node) bool { return true }) {
		for _, name := range []string{"href", "src"} {
			if at, has := x.attrs[name]; has {
				out = append(out, at)
			}
		}
		if x.name == "form" && x.attrs["method"] == "get" {
			out = append(out, x.attrs["action"]+"?"+x.fill().Encode())
		}
		if on := x.attrs["data-live"]; on != "" {
			u, err := url.Parse(on)
			if err == nil {
				out = append(out, u.Query().Get("on")) // what the stream is on is a page
			}
		}
	}
	return out
}

func (c *crawler) open(from, at string) {
	base, _ := url.Parse(from)
	u, err := base.Parse(at)
	if err != nil || u.Scheme+u.Host != "" {
		c.t.Errorf("%s leads to %q, which is no address here: %v", from, at, err)
		return
	}
	if id := u.Fragment; id != "" {
		u.Fragment = ""
		c.names = append(c.names, u.String()+"#"+id)
	}
	if here := u.String(); !c.seen[here] {
		c.seen[here] = true
		c.next = append(c.next, here)
	}
}

func (c *crawler) run(first string) {
	c.seen, c.paths, c.ids = map[string]bool{}, map[string]int{}, map[string]map[string]bool{}
	for c.open("/", first); len(c.next) > 0; {
		at := c.next[0]
		c.next = c.next[1:]
		g := c.b.get(c.t, at)
		if g.code != http.StatusOK {
			c.t.Errorf("%s = %d", at, g.code)
			continue
		}
		u, _ := url.Parse(at)
		part, _, _ := strings.Cut(strings.TrimPrefix(u.Path, "/"), "/")
		c.paths[part]++
		if !strings.HasPrefix(g.head.Get("Content-Type"), "text/html") {
			continue
		}
		page := parse(c.t, g.body)
		c.ids[at] = map[string]bool{}
		for _, x := range page.all(func(x *node) bool { return x.attrs["id"] != "" }) {
			c.ids[at][x.attrs["id"]] = true
		}
		for _, link := range links(page) {
			c.open(at, link)
		}
	}
	for _, name := range c.names {
		at, id, _ := strings.Cut(name, "#")
		if !c.ids[at][id] {
			c.t.Errorf("nothing is called %s on %s", id, at)
		}
	}
}

// TestEveryLink: whatever a page leads to or loads is there, for whoever sits
// at this machine and for whoever came in by a link, duty officer or crew; and
// every form is taken.
func TestEveryLink(t *testing.T) {
	for _, by := range []access.Scope{"", access.Duty, access.Ask} { // "": at this machine
		signIn := by != ""
		r := newRoom(t, roomOptions{limits: generous, signIn: signIn})
		b := r.open(t, "anna", by)
		r.alert(t, 1, "Cold alert: XKLD.")
		examples := links(parse(t, b.get(t, "/").body).id("talk"))
		recordOf(t, b, goodLine)
		b.send(t, "/", "/ask", map[string]string{"text": "XKLD 38 8200"}) // a question, with its line to fix
		ref := r.room.find(t, r.page, func(k *entry) bool { return k.Reply.Record != nil })
		if _, err := r.page.Follow(t.Context(), ref, chat.Message{
			Pictures: []chat.Picture{{Name: "profile.png", Alt: "From the side", PNG: []byte("PNG")}},
			Files:    []chat.File{{Name: "card one.pdf", Type: "application/pdf", Alt: "To print", Data: []byte("%PDF-1.4")}},
		}); err != nil {
			t.Fatal(err)
		}
		c := &crawler{t: t, b: b}
		c.run("/")
		for _, part := range []string{"", "board", "base", "watch", "log", "record", "procedures", "procedure", "you", "assets", "picture", "file"} {
			if c.paths[part] == 0 {
				t.Errorf("%s: no link led to /%s", by, part)
			}
		}
		c.sends(by)
		// What an address says arrives as it was meant.
		lines := 0
		for _, at := range examples {
			line := parse(t, b.get(t, at).body).id("text").attrs["value"]
			if strings.ContainsAny(line, "+%") {
				t.Errorf("%s types %q", at, line)
			}
			if strings.Contains(line, " -38 ") {
				lines++
			}
		}
		if lines == 0 {
			t.Errorf("no example of %q types a line with a temperature", examples)
		}
		for at := range c.seen {
			if u, _ := url.Parse(at); u.Path == "/procedure" {
				if g := b.get(t, at); !strings.Contains(g.body, "<h1>"+html.EscapeString(u.Query().Get("station")+" "+u.Query().Get("name"))) {
					t.Errorf("%s is another procedure", at)
				}
			}
		}
	}
}

// sends sends every form that is sent by post once as it stands: it is taken,
// or what is missing is said beside it.
func (c *crawler) sends(by access.Scope) {
	c.t.Helper()
	sent := map[string]bool{}
	for at := range c.ids {
		page := parse(c.t, c.b.get(c.t, at).body)
		for _, f := range page.named("form") {
			v, to := f.fill(), f.attrs["action"]
			buttons := append(f.named("button"), page.all(func(n *node) bool { return n.attrs["form"] != "" && n.attrs["form"] == f.attrs["id"] })...)
			if len(buttons) > 0 && buttons[0].attrs["name"] != "" { // of several the first
				v.Set(buttons[0].attrs["name"], buttons[0].attrs["value"])
			}
			if len(buttons) == 0 {
				continue // of the board: all is done
			}
			form := to + " " + v.Get("text") + v.Get("how")
			if f.attrs["method"] != "post" || sent[form] || to == "/leave" {
				continue
			}
			sent[form] = true
			g := c.b.post(c.t, to, v)
			said := parse(c.t, g.body)
			told := said.id("wrong") != nil || said.id("again") != nil || said.id("no-station") != nil
			if g.code != http.StatusOK && (g.code != http.StatusUnprocessableEntity || !told) {
				c.t.Errorf("%s: the form to %s on %s: %d", by, form, at, g.code)
			}
		}
	}
	for _, want := range []string{"/ask ", "/fields ", "/look "} {
		if !sent[want] {
			c.t.Errorf("%s: no form to %s was sent: %v", by, want, sent)
		}
	}
}

// TestOlderLink: the log's link to what is older holds the time and the
// station as they are.
func TestOlderLink(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "", "")
	for range logRows + 1 {
		recordOf(t, r.open(t, "", ""), goodLine) // a long conversation is a long page
	}
	page := parse(t, b.get(t, "/log?q=xkld").body)
	i := slices.IndexFunc(page.named("a"), func(a *node) bool { return strings.TrimSpace(a.read()) == "Older" })
	if i < 0 {
		t.Fatal("there is nothing older")
	}
	u, err := url.Parse(page.named("a")[i].attrs["href"])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := time.Parse(time.RFC3339Nano, u.Query().Get("before")); err != nil || u.Query().Get("q") != "xkld" {
		t.Errorf("older than %v: %v", u, err)
	}
	if rows := parse(t, b.get(t, u.String()).body).id("records").named("li"); len(rows) != 1 {
		t.Errorf("%d results are older, want 1", len(rows))
	}
}

// TestMethods: a page is read or sent to; nothing else reaches it.
func TestMethods(t *testing.T) {
	for _, signIn := range []bool{false, true} {
		h := newRoom(t, roomOptions{limits: generous, signIn: signIn}).page.Handler()
		for _, path := range []string{"/", "/ask", "/board", "/record/KALOMI-RUTA", "/enter", "/nothing", "/assets/x/style.css"} {
			for _, method := range []string{"PUT", "TRACE", "DELETE", "PATCH", "OPTIONS", "CONNECT", "INVENTED"} {
				w := raw(t, h, method, path, nil, "")
				if w.Code != http.StatusMethodNotAllowed || w.Header().Get("Allow") == "" {
					t.Errorf("%s %s = %d, Allow %q", method, path, w.Code, w.Header().Get("Allow"))
				}
			}
		}
	}
}

// TestDegreesStayTogether: a temperature never breaks before its unit, in
// whichever part of a page it stands.
func TestDegreesStayTogether(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	r.alert(t, 1, "Cold alert: XKLD down to −31 °C.", "At or below −25 °C until noon.")
	id := recordOf(t, b, goodLine)
	b.send(t, "/", "/ask", map[string]string{"text": "why " + goodLine})
	shown := 0
	for _, at := range []string{"/", "/board", "/base/XKLD", "/watch", "/log", "/record/" + id, "/record/" + id + "/check", "/procedure?station=XKLD&name=" + url.QueryEscape(approachOf(t).Name)} {
		body := b.get(t, at).body
		shown += strings.Count(body, "\u00a0°C")
		for _, unit := range []string{"°C", "°F"} {
			if i := strings.Index(body, " "+unit); i >= 0 {
				t.Errorf("%s breaks before its unit: %q", at, body[max(0, i-30):i+len(unit)+1])
			}
		}
	}
	if shown < 20 {
		t.Errorf("%d temperatures are shown", shown)
	}
	// What a page gets later is written the same way.
	events, _, stop := stream(t, b, "/watch", "", "")
	defer stop()
	if e := next(t, events); strings.Contains(e, " °C") || !strings.Contains(e, "\u00a0°C") {
		t.Errorf("the stream: %.300s", e)
	}
	// A line with such a space in it is read.
	g := b.send(t, "/", "/ask", map[string]string{"text": "XKLD −38\u00a0°C FAF 8200, DA 5340"})
	if !strings.Contains(parse(t, g.body).id("talk").named("h2")[0].read(), "−38\u00a0°C") {
		t.Errorf("a line with a no-break space: %s", parse(t, g.body).id("talk").named("h2")[0].read())
	}
}

// TestNothingThere: an address of something that is not there says so, and leads
// to where one looks for it; a link for reading leads to what may be read.
func TestNothingThere(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	b := r.open(t, "rita", access.Read)
	for at, want := range map[string]string{
		"/record/KALOMI-RUTA": "/log", "/record/nothing": "/log", "/base/XXXX": "/board", "/board?base=XXXX": "/board", "/procedure?station=XKLD&name=ils+1": "/procedures", "/nothing": "/",
	} {
		g := b.get(t, at)
		first := parse(t, g.body).id("main").named("a")
		if g.code != http.StatusNotFound || len(first) == 0 || first[0].attrs["href"] != want || b.get(t, want).code != http.StatusOK {
			t.Errorf("%s = %d, and does not lead to %s", at, g.code, want)
		}
	}
	var to []string
	for _, a := range parse(t, b.get(t, "/").body).id("main").named("p")[2:] {
		for _, a := range a.named("a") {
			to = append(to, a.attrs["href"])
		}
	}
	for _, want := range []string{"/board", "/watch", "/log", "/procedures"} {
		if !slices.Contains(to, want) {
			t.Errorf("the first page of a link for reading leads to %q, not to %s", to, want)
		}
	}
}
