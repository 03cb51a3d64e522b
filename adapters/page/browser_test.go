package page

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"firn/adapters/testkit/headless"
	"firn/adapters/testkit/installed"
	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/reply"
)

// chromium is one real browser for all tests, started for the first that asks.
type chromium struct {
	once sync.Once
	ctx  context.Context
	end  func()
	err  error
}

var shared chromium

// tab gives the browser's first tab; where none is installed the test is
// skipped.
func (c *chromium) tab(t testing.TB) context.Context {
	t.Helper()
	path := installed.Chromium().Need(t)
	c.once.Do(func() { c.ctx, c.end, c.err = headless.Start(path) })
	if c.err != nil {
		t.Fatal(c.err)
	}
	return c.ctx
}

func TestMain(m *testing.M) {
	if address := os.Getenv(childPages); address != "" {
		if err := lookers(address, os.Stdout); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	code := m.Run()
	if shared.end != nil {
		shared.end()
	}
	os.Exit(code)
}

// tab is a tab of a browser of its own: its cookies are nobody else's.
type tab struct {
	testing.TB
	ctx  context.Context
	base string

	mu      sync.Mutex
	dialogs []string
}

func (r *crewRoom) tab(t testing.TB) *tab {
	t.Helper()
	ctx, cancel := chromedp.NewContext(shared.tab(t), chromedp.WithNewBrowserContext())
	ctx, cancelTime := context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(func() { cancelTime(); cancel() })
	b := &tab{TB: t, ctx: ctx, base: r.server.URL}
	if err := chromedp.Do(ctx); err != nil {
		t.Fatal(err)
	}
	// A dialog is a script that ran; it must not hold the tab.
	err := chromedp.Listen(ctx, func(ev any) {
		if d, ok := ev.(*page.EventJavascriptDialogOpening); ok {
			b.mu.Lock()
			b.dialogs = append(b.dialogs, d.Message)
			b.mu.Unlock()
			go chromedp.Call(ctx, page.HandleJavaScriptDialog, page.HandleJavaScriptDialogParams{Accept: true})
		}
	})
	if err != nil {
		t.Fatal(err)
	}
	b.window(1280, 900, false)
	return b
}

// js evaluates a script that gives text.
func (b *tab) js(script string) string {
	b.Helper()
	s, err := chromedp.Run(b.ctx, chromedp.Evaluate[string]("String("+script+")"))
	if err != nil {
		b.Fatalf("%s: %v", script, err)
	}
	return s
}

// do evaluates a script for what it does.
func (b *tab) do(script string) {
	b.Helper()
	if _, err := chromedp.Run(b.ctx, chromedp.Evaluate[chromedp.Void](script)); err != nil {
		b.Fatalf("%s: %v", script, err)
	}
}

// open goes to a page. What the page before was still on its way to, such as the
// answer to a form, can take the place of the first try.
func (b *tab) open(path string) {
	b.Helper()
	err := chromedp.Do(b.ctx, chromedp.Navigate(b.base+path))
	if err != nil && strings.Contains(err.Error(), "net::ERR_ABORTED") {
		err = chromedp.Do(b.ctx, chromedp.Navigate(b.base+path))
	}
	if err != nil {
		b.Fatalf("%s: %v", path, err)
	}
}

// until waits for a script to be true; a navigation on the way is waited out.
func (b *tab) until(what, script string) {
	b.Helper()
	var last error
	for end := time.Now().Add(testPatience); ; time.Sleep(10 * time.Millisecond) {
		got, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("Boolean("+script+")"))
		if got {
			return
		}
		last = err
		if time.Now().After(end) {
			b.Fatalf("not within %v: %s (%s; %v); the page reads:\n%s", testPatience, what, script, last, b.js("document.body.innerText"))
		}
	}
}

func (b *tab) reads(text string) string {
	quoted, _ := json.Marshal(text)
	return "document.readyState === 'complete' && document.body.innerText.includes(" + string(quoted) + ")"
}

// fill types into a field as a person does.
func (b *tab) fill(selector, text string) {
	b.Helper()
	b.do("(() => { const f = document.querySelector(" + quote(selector) + "); f.focus(); f.value = ''; })()")
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(text)); err != nil {
		b.Fatal(err)
	}
}

func (b *tab) key(keys string) {
	b.Helper()
	if err := chromedp.Do(b.ctx, chromedp.KeyEvent(keys)); err != nil {
		b.Fatal(err)
	}
}

func quote(s string) string {
	q, _ := json.Marshal(s)
	return string(q)
}

// click presses what a selector finds.
func (b *tab) click(selector string) {
	b.Helper()
	b.until("there is "+selector, "document.querySelector("+quote(selector)+")")
	b.do("document.querySelector(" + quote(selector) + ").click()")
}

func (b *tab) window(w, h int64, mobile bool) {
	b.Helper()
	p := emulation.SetDeviceMetricsOverrideParams{Width: w, Height: h, DeviceScaleFactor: 1, Mobile: mobile}
	if _, err := chromedp.Call(b.ctx, emulation.SetDeviceMetricsOverride, p); err != nil {
		b.Fatal(err)
	}
}

// scheme is light or dark.
func (b *tab) scheme(name string) {
	b.Helper()
	p := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}, {Name: "prefers-reduced-motion", Value: "reduce"}}}
	if _, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, p); err != nil {
		b.Fatal(err)
	}
}

// called gives the name at this machine.
func (b *tab) called(name string) {
	b.Helper()
	b.open("/you")
	b.fill("#name", name)
	b.key(kb.Enter)
	b.until("the name is kept", b.reads(name))
}

// ask types a line and sends it.
func (b *tab) ask(line string) {
	b.Helper()
	b.open("/")
	b.fill("#text", line)
	b.key(kb.Enter)
}

// TestBrowserAsks: a line asked, a bad one fixed, a form with a mistake.
func TestBrowserAsks(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	if got := b.js("document.activeElement.id"); !strings.HasPrefix(got, "c-") {
		t.Errorf("after the answer the focus is on %q, want the card", got)
	}
	b.ask("XKLD 38 FAF 8200")
	b.until("the question is there", b.reads("Is it -38 or +38?"))
	if got := b.js("document.activeElement.value"); !strings.HasPrefix(got, "XKLD -38") {
		t.Errorf("the focus is not on the line to type instead, but on %q", got)
	}
	b.key(kb.Enter)
	b.until("the answer takes the question's place", "document.querySelectorAll('#talk article').length === 2 && !document.querySelector('.fix')")
	// The line is first, the fields are folded; nothing filled in is lost.
	if b.js("document.querySelector('details.fields').open") != "false" {
		t.Error("the fields are open")
	}
	b.do("document.querySelector('details.fields summary').click()")
	b.fill("#station", "XKL")
	b.until("stations are offered", "document.querySelector('#stations option[value=XKLD]')")
	b.fill("#temperature", "38")
	b.fill("#altitudes", "FAF 8200")
	b.do("document.querySelector('.fields button').click()")
	b.until("the mistakes are told", b.reads("Is it -38 or +38?"))
	if got := b.js("document.getElementById('altitudes').value"); got != "FAF 8200" {
		t.Errorf("the altitudes are %q", got)
	}
	b.fill("#station", "XKLD")
	b.fill("#temperature", "-38")
	b.do("document.querySelector('.fields button').click()")
	b.until("the answer is there", "document.querySelectorAll('#talk article').length === 3")
	// The working is a tap away, and on the screen where it was asked for.
	b.click("button[data-action=why]")
	b.until("the working is read", "document.querySelector('.working h3')?.checkVisibility({contentVisibilityAuto: true})")
}

// TestBrowserLive: a second person checks in another browser, and the first
// sees it without doing anything.
func TestBrowserLive(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna, bo := r.tab(t), r.tab(t)
	anna.called("Anna Dahl")
	bo.called("Bo Ek")
	bo.window(390, 844, true)
	bo.open("/")
	bo.until("the page is live", bo.reads("Live."))
	anna.ask(goodLine)
	anna.until("the answer is live", anna.reads("not checked")+" && "+anna.reads("Live."))
	id := anna.js("document.querySelector('#talk .rec a').textContent")
	// What waits for somebody comes by itself, and goes; what is unfolded stays so.
	bo.until("it waits for Bo", bo.reads("For you: 1 to check."))
	bo.click("#yours summary")
	bo.until("it is a way to the record", "document.querySelector('#yours a[href=\"/record/"+id+"\"]').checkVisibility() && "+bo.reads("By Anna Dahl at"))
	bo.fits("what waits", "390")
	third := r.open(t, "Anna Dahl", "")
	second := recordOf(t, third, goodLine)
	bo.until("another one as well", bo.reads("For you: 2 to check.")+" && document.querySelector('#yours').open")
	r.enters(t, "Bo Ek", second, "9000", "5470")
	bo.until("what is checked waits no more", bo.reads("For you: 1 to check."))
	bo.window(1280, 900, false)

	bo.open("/log?unchecked=1")
	bo.click("#records a[href='/record/" + id + "']")
	bo.until("the record is there", bo.reads("From the side"))
	bo.click("a[href='/record/" + id + "/check']")
	bo.until("the check is there", bo.reads("With figures of your own"))
	if bo.js("document.body.innerText.includes('9000')") == "true" {
		t.Error("whoever checks blind reads the answer")
	}
	bo.fill("#name-own", "Bo Ek")
	bo.fill("#own-0", "9000")
	bo.fill("#own-1", "5470")
	bo.key(kb.Enter)
	bo.until("the figures agree", bo.reads("the figures agree"))

	anna.until("it arrives", anna.reads("Checked by Bo Ek"))
	anna.until("the live region says it", "document.getElementById('news').textContent.includes('is checked')")
	if n := anna.js("document.querySelectorAll('#talk article').length"); n != "1" {
		t.Errorf("%s cards, want the one changed", n)
	}
	// Somebody who is typing is not disturbed: the part waits.
	anna.ask("XKLD 39 FAF 8200")
	anna.until("a question is there", anna.reads("Is it -39 or +39?"))
	anna.fill(".fix input[id]", "XKLD -39 FAF 8201")
	p := r.page
	ref := r.room.find(t, p, func(k *entry) bool { return k.Reply.Problem != nil })
	if err := p.Change(t.Context(), ref, chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Changed meanwhile."}}}); err != nil {
		t.Fatal(err)
	}
	p.Changed(pagestate.Change{Kind: pagestate.Record})
	p.Show(boardOf(), time.Now())
	time.Sleep(300 * time.Millisecond)
	if got := anna.js("document.querySelector('.fix input[id]')?.value"); got != "XKLD -39 FAF 8201" {
		t.Errorf("what was being typed is %q now", got)
	}
	anna.do("document.activeElement.blur()")
	anna.until("the part comes afterwards", anna.reads("Changed meanwhile."))
	// The connection goes and comes.
	r.server.CloseClientConnections()
	anna.until("the page comes back", anna.reads("Live."))
	if err := p.Change(t.Context(), ref, chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"After the break."}}}); err != nil {
		t.Fatal(err)
	}
	anna.until("and goes on", anna.reads("After the break."))
}

// TestBrowserWatch: an alert arrives on open pages and is acknowledged.
func TestBrowserWatch(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b, other := r.tab(t), r.tab(t)
	b.called("Anna")
	for _, x := range []*tab{b, other} {
		x.open("/watch")
		x.until("the page is live", x.reads("Live."))
	}
	r.alert(t, 1, "Cold alert: XKLD Kaldmoor. At or below the restriction temperature, −25 °C.", "Lowest −31 °C.")
	for _, x := range []*tab{b, other} {
		x.until("the alert arrives", x.reads("Lowest −31\u00a0°C."))
		x.until("and is said", "document.getElementById('news').textContent.includes('Cold alert')")
	}
	b.click("button[data-action=ack]")
	b.until("it is acknowledged", b.reads("XKLD is acknowledged by Anna"))
	b.until("the focus is on what came of it", "document.activeElement.matches('#posts article') && document.activeElement.innerText.includes('acknowledged')")
	other.until("everybody sees it", other.reads("XKLD is acknowledged by Anna"))
	if got := r.watch.acknowledged(); len(got) != 1 {
		t.Errorf("acknowledged %q", got)
	}
	// Somebody sees the next one in a chat service: no page has a button for it
	// any more, and none is made anew without need.
	r.watch.forget()
	r.page.Show(boardOf(), time.Now())
	r.alert(t, 2, "Cold alert again: XKLD.", "Lowest −33 °C.")
	const buttons = "document.querySelectorAll('#posts [data-action=ack], #posts [data-action=snooze], #board button[value*=XKLD]').length"
	other.until("it can be acknowledged", other.reads("Lowest −33\u00a0°C.")+" && "+buttons+" === 4 && !document.body.innerText.includes('Nothing in the last')")
	if _, err := r.watch.Acknowledge(t.Context(), "XKLD", "Cy", "slack"); err != nil {
		t.Fatal(err)
	}
	r.page.Show(boardOf(), time.Now())
	other.until("the buttons go", buttons+" === 0 && "+other.reads("Lowest −33\u00a0°C."))
	// The morning's post says how the bases stand, and takes the place of what was there.
	if got := b.js("document.querySelectorAll('#board .base').length > 0"); got != "true" {
		t.Error("before the morning's post no base stands there")
	}
	morning := reply.Reply{Kind: reply.KindDigest, Headline: "3 below: XKLD −31", Digest: &reply.Digest{Day: "2026-01-15", Word: reply.DigestMorning}}
	if _, err := r.page.Send(t.Context(), outbox.Post{Key: "digest/2026-01-15/1", Channel: "page", Body: morning}); err != nil {
		t.Fatal(err)
	}
	b.until("the morning stands there alone", b.reads("3 below: XKLD")+" && !document.querySelector('#board')")
	other.open("/board")
	other.until("the board is live", other.reads("Live."))
	changed := boardOf()
	changed[2].State = "below"
	r.page.Show(changed, time.Now())
	other.until("the state changes", "document.querySelectorAll('.b-below').length === 2 && document.getElementById('news').textContent.includes('XSLT is now: at or below')")
}

// TestBrowserKeyboard: everything is reached by keys alone, and one sees
// where one is.
func TestBrowserKeyboard(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.open("/")
	b.key(kb.Tab)
	if got := b.js("document.activeElement.className"); got != "skip" {
		t.Errorf("the first stop is %q, want the way past the head", got)
	}
	if got := b.js("document.activeElement.getBoundingClientRect().left >= 0"); got != "true" {
		t.Error("the way past the head is not seen when it has the focus")
	}
	reachOn := func(b *tab, what, script string) {
		t.Helper()
		for range 80 {
			if b.js(script) == "true" {
				if got := b.js("getComputedStyle(document.activeElement).outlineStyle"); got == "none" {
					t.Errorf("the focus on %s is not seen", what)
				}
				return
			}
			b.key(kb.Tab)
		}
		t.Fatalf("%s is not reached by the Tab key", what)
	}
	reach := func(what, script string) { t.Helper(); reachOn(b, what, script) }
	reach("the line", "document.activeElement.id === 'text'")
	b.key("XKLD 38 FAF 8200" + kb.Enter)
	b.until("the question is there", b.reads("Is it -38 or +38?"))
	b.until("the line to type instead has the focus", "document.activeElement.matches('.fix input[id]')")
	b.key(kb.Enter)
	b.until("the answer is there", b.reads("9000"))
	b.until("it has the focus", "document.activeElement.matches('article')")
	reach("what hands the check on", "document.activeElement.dataset.action === 'checklink'")
	check := b.js("document.activeElement.dataset.copy")
	b.open(check)
	b.until("it is for another browser", b.reads("a browser of their own"))
	c := r.tab(t)
	c.open(check)
	c.until("the check is there", c.reads("With figures of your own"))
	reachOn(c, "the name", "document.activeElement.id === 'name-own'")
	c.key("Bo")
	c.key(kb.Tab)
	c.key("9000" + kb.Enter)
	c.until("it is checked", c.reads("is checked by Bo"))
	reach("the log", "document.activeElement.getAttribute('href') === '/log'")
	b.key(kb.Enter)
	b.until("the log is there", b.reads("Not checked"))
	reach("what is not checked", "document.activeElement.textContent === 'Not checked'")
	b.key(kb.Enter)
	b.until("none waits", "location.search.includes('unchecked=1') && "+b.reads("There are none."))
}

// TestBrowserNoScript: asking, fixing, checking and reading need no script.
func TestBrowserNoScript(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	plain := func() *tab {
		b := r.tab(t)
		if _, err := chromedp.Call(b.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
			t.Fatal(err)
		}
		return b
	}
	b := plain()
	b.open("/")
	b.fill("#text", "XKLD 38 FAF 8200")
	b.key(kb.Enter)
	b.until("the question is there", b.reads("Is it -38 or +38?"))
	b.do("document.querySelector('.fix button').click()")
	b.until("the answer is there", b.reads("9000"))
	b.do("document.querySelector('details.fields summary').click()")
	b.fill("#station", "XRUN")
	b.fill("#temperature", "-38")
	b.fill("#altitudes", "FAF 6200")
	b.do("document.querySelector('.fields button').click()")
	b.until("the form is answered", b.reads("XRUN -38 FAF 6200"))
	b.open("/log")
	b.until("the log has both", "document.querySelectorAll('#records .row').length === 2")
	c := plain()
	c.open("/log")
	c.click("#records .rec a")
	c.click("a[href$='/check']")
	c.until("the check is there", c.reads("With figures of your own"))
	c.fill("#name-own", "Bo")
	c.fill("#own-0", "1")
	c.key(kb.Enter)
	c.until("it is compared", c.reads("Bo disagrees"))
	for _, p := range []string{"/watch", "/procedures", "/base/XKLD", "/board"} {
		b.open(p)
		b.until(p+" reads", "document.querySelector('h1')")
	}
	// Nobody is asked to reload by hand: what changes comes again by itself.
	b.until("the board comes again", "document.querySelector('noscript')?.innerHTML.includes('refresh') ?? document.querySelector('meta[http-equiv=refresh]')")
}

// TestBrowserEnter: a link's secret goes from the address into its field, and
// is sent by the button; without a script the link is pasted.
func TestBrowserEnter(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	secret := r.link(t, "anna", access.Ask)
	b := r.tab(t)
	b.open("/enter#" + secret)
	b.until("the secret is in its field", "document.querySelector('#link').value === "+quote(secret)+" && location.href.endsWith('/enter') && document.activeElement.matches('main button')")
	b.key(kb.Enter)
	b.until("it is in", b.reads("anna")+" && location.pathname === '/' && location.hash === ''")
	c := r.tab(t)
	if _, err := chromedp.Call(c.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	c.open("/enter#" + secret)
	c.fill("#link", r.server.URL+"/enter#"+secret)
	c.key(kb.Enter)
	c.until("it is in", c.reads("anna")+" && location.pathname === '/'")
}

// scripts are what would run if text were not shown as text.
var scripts = []string{
	`<script>hit=1</script>`, `"><img src=x onerror=hit=1>`, `'><svg onload=hit=1>`, `</textarea><script>hit=1</script>`,
	`</title><script>alert(1)</script>`, `javascript:hit=1`, `{{.}}<iframe srcdoc="<script>parent.hit=1</script>">`, "`${hit=1}`", `<style>*{display:none}</style>`, `&lt;script&gt;hit=1&lt;/script&gt;`,
}

// attacks are all of them in one text, which leaves whatever it may stand in,
// and the one that must be a whole address.
var attacks = []string{strings.Join(scripts, " "), "javascript:hit=1"}

// TestBrowserInjection: scripts tried in every field, address and reply.
func TestBrowserInjection(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.called("Anna")
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	id := b.js("document.querySelector('#talk .rec a').textContent")
	asked, second := b, r.tab(t)
	sound := func(where string) {
		t.Helper()
		b.until(where+" is there", "document.readyState === 'complete' && document.querySelector('main')")
		if got := b.js("typeof hit"); got != "undefined" {
			t.Errorf("%s: a script ran", where)
			b.do("delete window.hit")
		}
		if got := b.js(`[...document.querySelectorAll("script, iframe, object, embed, style, base, img[src=x], [onerror], [onload], [onclick], a[href^='javascript']")].filter((e) => !e.matches("head script[src^='/assets/']")).map((e) => e.outerHTML).join()`); got != "" {
			t.Errorf("%s: foreign markup %s", where, got)
		}
		if b.js("getComputedStyle(document.querySelector('main')).display") == "none" {
			t.Errorf("%s: a style took hold", where)
		}
	}
	for i, s := range attacks {
		b.open("/")
		b.do("document.querySelector('#text').value = " + quote(s) + "; document.querySelector('.askline').requestSubmit()")
		b.until("it is answered", fmt.Sprintf("location.hash.length > 3 && document.querySelectorAll('#talk article').length >= %d", min(i+1, 2)))
		sound("the line " + s)
		b.do(`(() => { document.querySelector("#station").value = ` + quote(s) + `; document.querySelector("#temperature").value = ` + quote(s) + `; document.querySelector("#altitudes").value = ` + quote(s) + `; document.querySelector("details.fields form").requestSubmit(); })()`)
		b.until("the form is sent back", "document.querySelector('#no-station')")
		sound("the fields " + s)
		if got := b.js("document.querySelector('#altitudes').value"); got != s {
			t.Errorf("the altitudes came back as %q, want %q", got, s)
		}
		b = second
		b.open("/record/" + id + "/check")
		b.do(`(() => { const f = document.querySelector("form.own"); f.querySelector("[name=name]").value = ` + quote(s) + `; f.querySelectorAll("[name=entered]").forEach((e) => { e.value = ` + quote(s) + `; }); f.requestSubmit(); })()`)
		b.until("the check is sent back", "document.querySelector('#wrong')")
		sound("the check " + s)
		b = asked
		for _, p := range []string{"/?line=", "/log?station=", "/log?before=", "/log?said=", "/procedures?station=", "/procedure?station=XKLD&name=rnav+31&t=", "/procedure?station=XKLD&name=", "/record/", "/base/"} {
			b.open(p + strings.NewReplacer("%", "%25", "/", "%2F", "#", "%23", "&", "%26", "{", "%7B", "}", "%7D", "<", "%3C", ">", "%3E", `"`, "%22", "`", "%60", " ", "%20", "$", "%24", "=", "%3D").Replace(s))
			sound(p + s)
		}
		b.open("/you")
		b.do("document.querySelector('#name').value = " + quote(s) + "; document.querySelector('main form').requestSubmit()")
		b.until("the name is sent back", "document.querySelector('#wrong') && document.querySelector('#name').value")
		sound("the name " + s)
		// What comes by way of replies, weather and posts, and arrives live.
		b.open("/watch")
		b.until("the page is live", b.reads("Live."))
		body := reply.Reply{
			Kind: reply.Kind(s), Station: reply.Station{Ident: s, Name: s, Known: true}, TemperatureSource: s, Rules: s, Unverified: s,
			Facts: []string{s, "after " + fmt.Sprint(i)}, Source: s, Problem: &reply.Problem{Word: s, Text: s, Try: s},
			Altitudes: []reply.Row{{Label: s, Fix: s, Segment: s, Meaning: s, Why: s}}, Requests: []reply.Request{{When: s, Text: s, Spoken: s + s, Source: s}},
			Cautions: []reply.Caution{{Code: reply.CautionCode(s), Text: s}}, Working: []reply.Working{{Name: s, Methods: []reply.MethodFigure{{Method: s}}, Steps: []reply.Step{{Text: s, Source: s}}}},
			Sections: []reply.Section{{Title: s, Lines: []string{s}}}, Record: &reply.RecordStatus{ID: s, State: s, Lines: []string{s}}, Actions: []reply.Action{{ID: s, Label: s, Message: s}},
		}
		if _, err := r.page.Send(t.Context(), outbox.Post{Key: fmt.Sprintf("%s/%d", s, i), Channel: s, Body: body}); err != nil {
			t.Fatal(err)
		}
		b.until("the post arrives", b.reads("after "+fmt.Sprint(i)))
		sound("a post of " + s)
		r.page.Show([]reply.Cold{{Ident: s, State: s, Source: s, Note: s}}, time.Now())
		b.open("/board")
		sound("the board of " + s)
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.dialogs) > 0 {
		t.Errorf("scripts opened dialogs: %q", b.dialogs)
	}
}

// TestBrowserDark: the dark page is dark, and the light one light.
func TestBrowserDark(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	verdict := func() string {
		return b.js("(() => { const s = getComputedStyle(document.querySelector('.verdict')); return s.backgroundColor + ' ' + s.borderTopStyle; })()")
	}
	ground := func() string { return b.js("getComputedStyle(document.body).backgroundColor") }
	b.scheme("light")
	if got := ground(); got != "rgb(255, 255, 255)" {
		t.Errorf("the light ground is %s", got)
	}
	b.scheme("dark")
	if got := ground(); got != "rgb(12, 16, 20)" {
		t.Errorf("the dark ground is %s", got)
	}
	// A bar of light blinds in the dark.
	const outline = "rgba(0, 0, 0, 0) solid"
	if got := verdict(); got != outline {
		t.Errorf("in the dark the verdict is %s, want an outline", got)
	}
	b.scheme("light")
	b.do("document.documentElement.classList.add('red')")
	if got := verdict(); got != outline {
		t.Errorf("in dim red the verdict is %s, want an outline", got)
	}
}

// TestBrowserPrint: on paper there is what is read, and nothing to press.
func TestBrowserPrint(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	b.open("/record/" + b.js("document.querySelector('#talk .rec a').textContent"))
	b.media("print")
	const pressed = `[...document.querySelectorAll("nav, form, button, .button, .skip")].filter((e) => e.getBoundingClientRect().width > 0).map((e) => e.outerHTML).join()`
	if got := b.js(pressed); got != "" {
		t.Errorf("on paper there is %s", got)
	}
	if got := b.js("document.querySelector('.alts').getBoundingClientRect().width > 0"); got != "true" {
		t.Error("the altitudes are not on paper")
	}
	// What is folded on the screen is on paper.
	if got := b.js("document.querySelectorAll('.fold:not([open])').length > 2 && " + foldsRead); got != "true" {
		t.Errorf("of %s folds some are not on paper", b.js("document.querySelectorAll('.fold').length"))
	}
	r.morning(12)
	b.open("/board")
	b.until("somebody has seen one", "document.querySelector('.by')")
	if got := b.js(pressed); got != "" {
		t.Errorf("on the paper of the board there is %s", got)
	}
	b.window(726, 1055, false) // of A4 without its margins, at 96 to the inch
	if got := b.js("[...document.querySelectorAll('.base')].filter((r) => r.getBoundingClientRect().height > 60).map((r) => r.innerText.replace(/\\s+/g, ' ')).join('; ')"); got != "" {
		t.Errorf("on the paper of the board a base has more than three lines: %s", got)
	}
	r.page.names["XKLD"] = "Tarnwhistle am Fjord"
	r.page.Show(boardOf(), time.Now())
	b.open("/board")
	if got := b.js("[...document.querySelectorAll('.base .name')].filter((n) => n.checkVisibility() && n.scrollWidth > n.clientWidth + 1 && getComputedStyle(n).overflow !== 'visible').map((n) => n.innerText).join()"); got != "" {
		t.Errorf("on the paper of the board names are cut: %s", got)
	}
	if got := b.js(misfits); got != "" {
		t.Errorf("on the paper of the board: %s", got)
	}
	b.window(1280, 900, false)
	b.open("/base/XKLD") // its picture, and not the same in words on a second sheet
	if got := b.js("document.querySelector('.drawn svg').getBoundingClientRect().width > 0 && ![...document.querySelectorAll('.drawn details')].some((e) => e.checkVisibility())"); got != "true" {
		t.Error("on the paper of a base the picture is not there, or in words as well")
	}
}

// foldsRead says that what lies in every fold is read: open, or printed.
const foldsRead = "[...document.querySelectorAll('.fold > :not(summary)')].every((e) => e.checkVisibility())"

// TestBrowserFolds: the short answer is on the screen and the rest a tap away;
// without a script all of it is read; the approach stands beside the answer on
// a wide screen, and on a phone is a tap away as well.
func TestBrowserFolds(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	read := func(selector string) string {
		return b.js("document.querySelector(" + quote("#talk article "+selector) + ").checkVisibility()")
	}
	for _, part := range []string{".title", ".alts", ".call", ".rec", ".side svg"} {
		if read(part) != "true" {
			t.Errorf("%s is not on the screen", part)
		}
	}
	if got := b.js("document.querySelectorAll('.fold:not(.side)').length > 2 && document.querySelectorAll('.fold:not(.side)[open]').length === 0"); got != "true" {
		t.Error("the rest is not folded")
	}
	beside := "(() => { const a = document.querySelector('.short').getBoundingClientRect(), p = document.querySelector('.side').getBoundingClientRect(); return p.left >= a.right && Math.abs(p.top - a.top) < 20; })()"
	if b.js(beside) != "true" {
		t.Error("the approach is not beside the answer")
	}
	b.do("document.querySelector('.behind summary').click()")
	b.until("a tap unfolds", "document.querySelector('.behind .request').checkVisibility()")
	// What changes leaves open what was.
	var stands reply.Reply
	ref := r.room.find(t, r.page, func(k *entry) bool { stands = k.Reply; return k.Reply.Record != nil })
	old := b.js("document.querySelector('#talk article').id")
	if err := r.page.Change(t.Context(), ref, chat.Message{Reply: stands, Note: "Changed meanwhile."}); err != nil {
		t.Fatal(err)
	}
	b.until("it changes", b.reads("Changed meanwhile."))
	if b.js("document.querySelector('#talk article').id") != old || b.js("document.querySelector('.behind details').open && !document.querySelectorAll('.behind details')[1].open") != "true" {
		t.Error("what was unfolded is folded again, or more is unfolded")
	}
	b.window(390, 844, true)
	b.open("/")
	b.until("the approach is folded", "!document.querySelector('.side').open")
	c := r.tab(t)
	if _, err := chromedp.Call(c.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	c.ask("XKLD rnav 31 -38")
	c.until("the answer is there", c.reads("XIRTU"))
	if got := c.js("document.querySelectorAll('.fold').length > 2 && " + foldsRead); got != "true" {
		t.Error("without a script some of the answer is folded")
	}
}

// TestVendored: what is kept of others has its licence beside it.
func TestVendored(t *testing.T) {
	names, err := filepath.Glob("testdata/axe/*")
	if err != nil || !slices.Contains(names, "testdata/axe/LICENSE") {
		t.Errorf("axe-core is kept as %q, %v", names, err)
	}
}
