package page

import (
	"compress/gzip"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	cdpnet "github.com/chromedp/cdproto/network"
	cdp "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// valve is a way to the page that can be shut: connections stay and nothing
// comes, as of a process that was stopped.
type valve struct {
	net.Listener
	mu   sync.Mutex
	shut bool
	wake *sync.Cond
}

// through listens on a valve before the room.
func (r *crewRoom) through(t *testing.T) *valve {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	v := &valve{Listener: l}
	v.wake = sync.NewCond(&v.mu)
	t.Cleanup(func() { v.turn(false); l.Close() })
	go func() {
		for {
			in, err := l.Accept()
			if err != nil {
				return
			}
			out, err := net.Dial("tcp", r.server.Listener.Addr().String())
			if err != nil {
				in.Close()
				continue
			}
			go v.pass(in, out)
			go v.pass(out, in)
		}
	}()
	return v
}

func (v *valve) pass(from, to net.Conn) {
	defer from.Close()
	defer to.Close()
	b := make([]byte, 4096)
	for {
		n, err := from.Read(b)
		if err != nil {
			return
		}
		v.mu.Lock()
		for v.shut {
			v.wake.Wait()
		}
		v.mu.Unlock()
		if _, err := to.Write(b[:n]); err != nil {
			return
		}
	}
}

func (v *valve) turn(shut bool) {
	v.mu.Lock()
	v.shut = shut
	v.mu.Unlock()
	v.wake.Broadcast()
}

// TestBrowserFrozen: a server that is stopped is not live within the beats
// that may be missed, and is again when it goes on; what was said meanwhile
// comes. The pace is the page's, so much faster.
func TestBrowserFrozen(t *testing.T) {
	if late := beatsMissed * heartbeat; late > 19*time.Second { // and a second until the page looks
		t.Errorf("a page is not live after %v, want 20 s", late)
	}
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) { p.beat = 400 * time.Millisecond }})
	v := r.through(t)
	b := r.tab(t)
	b.base = "http://" + v.Addr().String()
	b.open("/board")
	b.until("it is live", b.reads("Live."))
	v.turn(true)
	b.until("it is not live", b.reads("Not live since"))
	if got := b.js("getComputedStyle(document.querySelector('.base > .is')).backgroundImage"); !strings.Contains(got, "gradient") {
		t.Errorf("the states are not hatched but %s", got)
	}
	if got := b.js("getComputedStyle(document.querySelector('#line')).position + document.body.classList.contains('stale')"); got != "fixedtrue" {
		t.Errorf("the line that says so is %s", got)
	}
	b.do("scrollTo(0, 10000)")
	if got := b.js("(() => { const r = document.querySelector('#line').getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight; })()"); got != "true" {
		t.Error("the line does not stay in sight")
	}
	b.media("print")
	if got := b.js("document.querySelector('#line').checkVisibility() + getComputedStyle(document.querySelector('#line')).position"); got != "truestatic" {
		t.Errorf("on paper the line is %s", got)
	}
	b.media("")
	v.turn(false)
	b.until("it is live again", b.reads("Live.")+" && !document.body.classList.contains('stale')")
	// A watch that has stopped looking is not live either.
	r.page.Show(boardOf(), time.Now().Add(-3*r.page.looks))
	b.until("nobody looks", b.reads("nobody has looked"))
	r.page.Show(boardOf(), time.Now())
	b.until("somebody does", b.reads("Live."))
}

// TestBrowserAway: a proxy that answers in the place of a server that is away
// ends a page's stream for good; when the server is back the page is live again,
// and nobody has loaded it.
func TestBrowserAway(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) { p.beat = 200 * time.Millisecond }})
	var away atomic.Bool
	proxy := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, q *http.Request) {
		if away.Load() {
			w.WriteHeader(http.StatusBadGateway)
			return
		}
		r.page.Handler().ServeHTTP(w, q)
	}))
	t.Cleanup(proxy.Close)
	b := r.tab(t)
	b.base = proxy.URL
	b.open("/board")
	b.until("it is live", b.reads("Live."))
	away.Store(true)
	proxy.CloseClientConnections()
	b.until("its stream has ended", b.reads("reload the page"))
	away.Store(false)
	b.until("it is live again", b.reads("Live.")+" && !document.body.classList.contains('stale')")
}

// TestBrowserNotSent: a form that is sent into the void keeps the page, the
// answer and the line, and says so; afterwards it is sent once.
func TestBrowserNotSent(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) { p.beat = 400 * time.Millisecond }})
	v := r.through(t)
	b := r.tab(t)
	b.base = "http://" + v.Addr().String()
	b.called("Anna")
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	v.turn(true)
	b.fill("#text", "XKLD -40 FAF 8200")
	b.key(kb.Enter)
	b.until("it says so", b.reads("Not sent:"))
	if got := b.js("document.activeElement.id + ' ' + document.querySelector('#text').value + ' ' + document.body.innerText.includes('9000')"); got != "unsent XKLD -40 FAF 8200 true" {
		t.Errorf("focus, line and answer are %q", got)
	}
	v.turn(false)
	b.until("it says that it can be sent now", b.reads("Not sent: firn could not be reached. It can be now: try again."))
	b.until("it can be reached", "(fetch('/beat').then((r) => { window.reached = r.ok; }), window.reached)")
	b.do("document.querySelector('.askline').requestSubmit()")
	b.until("it is answered", "document.querySelectorAll('#talk > article').length === 2 && document.querySelector('#talk').innerText.includes('−40')")
}

// TestBrowserKept: the last answer is kept in the browser with its time, and
// comes when the server does not; signing out or another answer replaces it.
func TestBrowserKept(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) { p.beat = 400 * time.Millisecond }})
	b := r.tab(t)
	b.called("Anna")
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	b.until("the worker has the page", "navigator.serviceWorker.controller")
	b.open("/")
	b.until("it is kept", "(caches.match('/').then((r) => r?.text()).then((s) => { window.has = s?.includes('9000'); }), window.has)")
	made := b.js("document.body.dataset.made")
	r.server.Listener.Close() // the streams go on until they are cut
	r.server.CloseClientConnections()
	b.open("/")
	b.until("it comes without a server", b.reads("9000")+" && "+b.reads("Not live. This is how it stood at "+made))
	b.open("/board")
	b.until("in the place of another page it says so", b.reads("9000")+" && "+b.reads("this page cannot be reached. Below is the last answer, as of "+made))
	l, err := net.Listen("tcp", r.server.Listener.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	back := &http.Server{Handler: r.page.Handler(), ReadHeaderTimeout: testPatience}
	go back.Serve(l)
	t.Cleanup(func() { back.Close() })
	b.until("the page itself comes by itself when it can", b.reads("Looked just now")+" && "+b.reads("Live."))
}

// slash presses it: what a driver sends besides, as a letter of its own, no
// keyboard does.
func (b *tab) slash() {
	b.Helper()
	b.do(`document.activeElement.dispatchEvent(new KeyboardEvent("keydown", {key: "/", bubbles: true, cancelable: true}))`)
}

// TestBrowserFocus: after every act the focus is on what came of it, or on what
// is wrong.
func TestBrowserFocus(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	r.alert(t, 1, "Cold alert: XKLD.")
	on := func(what, script string) {
		t.Helper()
		b.until(what, "document.readyState === 'complete' && document.activeElement.matches("+quote(script)+")")
	}
	b.open("/")
	b.slash()
	on("a slash goes to the line", "#text")
	b.ask(goodLine)
	on("an answer", "article")
	b.open("/")
	b.key(kb.Tab + kb.Tab)
	on("the second stop is the way to it", ".skip + .skip")
	b.key(kb.Enter)
	on("the way to the latest answer", "#talk > article:first-child")
	b.click(".named button")
	on("a name is asked once", "#who")
	b.called("Anna")
	on("a name that is kept", "#who")
	b.open("/")
	if b.js("document.querySelector('.named')") != "null" {
		t.Error("the name is asked again")
	}
	b.ask("XKLD 38 FAF 8200")
	on("the line to type instead", ".fix input")
	b.open("/")
	b.do("document.querySelector('details.fields summary').click()")
	b.fill("#station", "nowhere")
	b.do("document.querySelector('.fields button').click()")
	on("the first field that is wrong", "#station[aria-invalid]")
	b.window(390, 844, true)
	b.open("/")
	b.do("document.querySelector('#talk > article:has(.tomore) .tomore').click()")
	on("the first of what is behind More", ".behind *")
	b.window(1280, 900, false)
	b.open("/board")
	b.do("[...document.querySelectorAll('.base button')].find((x) => x.value === 'ack XKLD').click()")
	on("what came of a press", "#said")
	if got := b.js("document.querySelectorAll('button[value*=XKLD]').length + ' ' + document.querySelector('#b-XKLD').innerText.includes('seen by Anna')"); got != "0 true" {
		t.Errorf("after it is seen: buttons and name: %s", got)
	}
	b.open("/watch")
	if got := b.js("document.querySelectorAll('[data-action=ack], [data-action=snooze], button[value*=XKLD]').length"); got != "0" {
		t.Errorf("the watch has %s buttons for what is seen", got)
	}
	b.do("document.querySelector('#look').click()")
	on("the switch of the light", "#look")
	b.until("it is dim and red", "document.documentElement.classList.contains('red')")
	b.do("document.querySelector('#look').click()")
	b.until("and is not", "!document.documentElement.classList.contains('red')")
	// What is wrong with a field is in sight beside it.
	c := r.tab(t)
	c.window(390, 420, true)
	c.open("/record/" + recordOf(t, r.open(t, "Bo", ""), goodLine) + "/check")
	c.fill("#name-own", "Cy")
	c.fill("#own-0", "9000")
	c.do("document.querySelector('form.own').requestSubmit()")
	c.until("the field that is empty", "document.readyState === 'complete' && document.activeElement.matches('#own-1[aria-invalid]')")
	if got := c.js("(() => { const w = document.querySelector('#wrong').getBoundingClientRect(), f = document.activeElement.getBoundingClientRect(); return [w.top >= 0, w.bottom <= f.top, f.bottom <= innerHeight].join(); })()"); got != "true,true,true" {
		t.Errorf("what is wrong is in sight, above its field, and the field is: %s", got)
	}
}

// sheets is how many sheets a page is, of A4 or of Letter, whichever are more.
func (b *tab) sheets() (most int) {
	b.Helper()
	for _, paper := range [][2]float64{{8.27, 11.69}, {8.5, 11}} {
		got, err := chromedp.Call(b.ctx, cdp.PrintToPDF, cdp.PrintToPDFParams{PaperWidth: paper[0], PaperHeight: paper[1], PreferCSSPageSize: new(true)})
		if err != nil {
			b.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(b.ArtifactDir(), fmt.Sprintf("sheets-%d.pdf", time.Now().UnixNano())), got.Data, 0o644); err != nil {
			b.Fatal(err)
		}
		most = max(most, len(regexp.MustCompile(`/Type\s*/Page[^s]`).FindAll(got.Data, -1)))
	}
	return most
}

// smallOnPaper are the words under nine points, of twelve pixels.
const smallOnPaper = `(() => {
	const out = [], all = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
	for (let n; (n = all.nextNode());) {
		const e = n.parentElement;
		if (n.data.trim() && !e.closest("svg, datalist, noscript") && e.checkVisibility() && parseFloat(getComputedStyle(e).fontSize) < 11.99) out.push(getComputedStyle(e).fontSize + " " + n.data.trim().slice(0, 40));
	}
	return out.join("; ");
})()`

// struckOnPaper are the lines of other parts that run through a row of figures,
// which would look struck out.
const struckOnPaper = `(() => {
	const rows = [...document.querySelectorAll(".answer tbody tr")].map((r) => r.getBoundingClientRect());
	return [...document.querySelectorAll(".answer *, .behind")].filter((e) => {
		const s = getComputedStyle(e), r = e.getBoundingClientRect(), at = [];
		if (parseFloat(s.borderTopWidth)) at.push(r.top);
		if (parseFloat(s.borderBottomWidth)) at.push(r.bottom);
		return e.checkVisibility() && !e.closest("table") && at.some((y) => rows.some((q) => y > q.top + 1 && y < q.bottom - 1 && r.left < q.right - 1 && r.right > q.left + 1));
	}).map((e) => e.tagName + "." + e.className).join();
})()`

// large says that on paper nothing of the page is small, no line runs through
// figures, and the sheet has its day.
func (b *tab) large() {
	b.Helper()
	b.window(726, 1055, false) // of A4 without its margins, at 96 to the inch
	defer b.window(1280, 900, false)
	b.media("print")
	defer b.media("")
	if got := b.js(smallOnPaper); got != "" {
		b.Errorf("%s: small on paper: %s", b.js("location.pathname"), got)
	}
	if got := b.js(struckOnPaper); got != "" {
		b.Errorf("%s: on paper a line runs through figures: %s", b.js("location.pathname"), got)
	}
	if today, top := time.Now().UTC().Format("2 Jan 2006"), b.js("document.querySelector('.top').innerText"); !strings.Contains(top, today) {
		b.Errorf("%s: the sheet does not say that it is of %s: %q", b.js("location.pathname"), today, top)
	}
}

// TestBrowserOneSheet: an answer is one sheet with its figures and its call on
// it, and what is folded, of nine points and more; from the ask page and from
// its record, whatever was asked before, and of nine altitudes.
func TestBrowserOneSheet(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.called("Anna")
	b.ask(goodLine)
	b.until("the answer is there", b.reads("9000"))
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	if n := b.sheets(); n != 1 {
		t.Errorf("the answer is %d sheets", n)
	}
	b.ask("XKLD -38 IAF 10900, IF 9400, FAF 8200, step 7400, step 6500, step 6100, LNAV/VNAV 5340, LNAV 5460, missed 10200")
	b.until("the answer is there", "document.querySelectorAll('#talk > article:first-child .alts tbody tr').length === 9")
	if n := b.sheets(); n != 1 {
		t.Errorf("an answer of nine altitudes is %d sheets", n)
	}
	b.large()
	id := b.js("document.querySelector('#talk .rec a').textContent")
	r.enters(t, "Bo Ek", id, "11700", "10200", "9100", "7560", "6660", "6260", "5470", "5620", "11400")
	said := b.js("document.querySelector('#talk > article').id.slice(2)") // what came of an act stands above the record
	for _, p := range []string{"/", "/record/" + id + "?said=" + said, "/base/XKLD", "/board"} {
		b.open(p)
		if n := b.sheets(); n != 1 {
			t.Errorf("%s is %d sheets", p, n)
		}
		b.large()
	}
	// What its last line says does not stand below it once more, on a sheet of its own.
	b.media("print")
	for p, want := range map[string]string{"/record/" + id: "false", "/board": "true"} {
		b.open(p)
		if got := b.js("document.querySelector('.foot').checkVisibility()"); got != want {
			t.Errorf("on paper %s has its last words below it: %s", p, got)
		}
	}
	b.media("")
	// Where somebody found something else, it is not done again at a warmer temperature
	// by the first button: it is looked at.
	b.window(390, 844, true)
	b.open("/")
	if got := b.js("[...document.querySelectorAll('#talk > article:first-child .acts .strong, #talk > article:first-child .acts [data-action=recompute]')].map((e) => e.dataset.action).join() + ' ' + (document.querySelector('#talk > article:first-child .acts').getBoundingClientRect().height <= 130)"); got != " true" {
		t.Errorf("under what is disagreed the first button, and whether its bar is low: %s", got)
	}
}

// TestBrowserOneScreen: on a phone the line, the verdict, the figures, the call
// and the state of an answer are on one screen, with what can be done in reach
// of a thumb, and sixty bases are a screen and a half on a desk.
func TestBrowserOneScreen(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) { p.turn = 200 * time.Millisecond }})
	b := r.tab(t)
	b.called("Anna")
	b.window(390, 844, true)
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	off := func(parts ...string) string {
		return b.js(`(() => {
		const acts = document.querySelector(".acts").getBoundingClientRect();
		return ["` + strings.Join(parts, `", "`) + `"].filter((s) => {
			const r = document.querySelector(s).getBoundingClientRect();
			return r.top < 0 || r.bottom > acts.top;
		}).concat(acts.bottom > innerHeight || acts.height < 56 ? ["acts"] : []).join();
	})()`)
	}
	if got := off("#glance", "#text", "#talk .title", "#talk .alts", "#talk .call", "#talk .rec"); got != "" {
		t.Errorf("not on the screen: %s", got)
	}
	if got := b.js("document.querySelector('#text').value"); got != "XKLD rnav 31 -38" {
		t.Errorf("the line is %q, not what was asked", got)
	}
	// What the next message may change is a tap away.
	b.do("document.querySelector('.chip summary').click()")
	b.until("its field has the focus", "document.activeElement.matches('.chip input[id^=other]')")
	b.fill(".chip input[id^=other]", "-45")
	b.key(kb.Enter)
	b.until("another temperature, in the line as well", "document.querySelector('#talk > article h2').innerText.includes('−45') && document.querySelector('#text').value === 'XKLD rnav 31 -45'")
	// Nine altitudes have the screen to themselves, also where something waits.
	recordOf(t, r.open(t, "Bo", ""), goodLine)
	b.ask("XKLD -38 IAF 10900, IAF 10500, step 9400, IF 8200, FAF 7400, step 6100, DA 5340, MDA 5460, missed 10200")
	b.until("nine rows", "document.querySelectorAll('#talk > article:first-child tbody tr').length === 9 && document.querySelector('#yours')")
	if got := off("#talk .title", "#talk .alts", "#talk .call"); got != "" {
		t.Errorf("of nine altitudes not on the screen: %s", got)
	}
	// What can be done with an older answer stands with that one: below a newer
	// question it would be taken for its own.
	b.ask("XKLD 38 FAF 8200")
	b.until("it is asked back", "document.querySelector('#talk > article:first-child .fix')")
	if got := b.js("document.elementFromPoint(60, innerHeight - 20).closest('.acts')?.closest('article').innerText ?? ''"); got != "" {
		t.Errorf("below a question stands what belongs to %q", got)
	}
	b.open("/") // on its strip as well it is said of how many nothing is known
	if got := b.js("(() => { const all = document.querySelector('.tallies').getBoundingClientRect(); return document.querySelector('.tally.s-no-forecast').getBoundingClientRect().bottom <= all.bottom + 1 })()"); got != "true" {
		t.Error("on a narrow phone the strip leaves out that nothing is known of a base")
	}
	b.window(1280, 900, false)
	r.page.Show(network(60), time.Now())
	b.open("/board")
	high := b.js("document.documentElement.scrollHeight")
	var h int
	if _, err := fmt.Sscan(high, &h); err != nil || h > 900*3/2 {
		t.Errorf("sixty bases are %s px high, want at most %d", high, 900*3/2)
	}
	t.Logf("sixty bases on a desk: %s px", high)
	for _, n := range []int{60, 12} { // in two columns, and in one
		r.morning(n)
		for _, width := range []int64{320, 768, 1024, 1280, 1920} {
			b.window(width, 900, width < 1000)
			for _, p := range []string{"/board", "/board?wall", "/"} {
				if width < 768 && p == "/board?wall" {
					continue
				}
				b.open(p)
				b.until("all is there", fmt.Sprintf("innerWidth >= %d && document.querySelector('.by')", width))
				if got := b.js(misfits); got != "" {
					t.Errorf("%s of %d bases at %d: %.500s", p, n, width, got)
				}
				if n == 60 && width == 1280 && p == "/board" {
					if _, err := fmt.Sscan(b.js("document.documentElement.scrollHeight"), &h); err != nil || h > 900*7/4 {
						t.Errorf("sixty bases, all observed and some seen, are %d px high", h)
					}
					if got := b.js("[...document.querySelectorAll('.low')].filter((e) => e.innerText.includes('.5')).map((e) => e.getBoundingClientRect().height > 26).join()"); strings.Contains(got, "true") || got == "" {
						t.Errorf("lows with tenths and a time of UTC are on two lines: %s", got)
					}
				}
			}
		}
	}
	b.do("document.querySelector('main').insertAdjacentHTML('beforeend', " + quote("<button>"+string(aged("Again at −29, 62 min old", 0))+"</button>") + ")")
	if got := b.js("document.querySelector('main > button').innerText"); got != "Again at −29, 62 min old" {
		t.Errorf("a temperature and its age on a button: %q", got)
	}
	// On a phone a name is read beside what is estimated.
	r.page.names["XKLD"] = "Fjordholm"
	board := boardOf()
	board[0].Estimated, board[0].LowAt = true, board[0].BelowTo.Add(time.Hour)
	r.watch.forget()
	r.page.Show(board, time.Now())
	b.window(390, 844, true)
	b.open("/board")
	if got := b.js("(() => { const n = document.querySelector('#b-XKLD .name'); return n.scrollWidth <= n.clientWidth + 1 })()"); got != "true" {
		t.Error("the name of a base is cut on a phone")
	}
	b.window(320, 844, true)
	if got := b.js("(() => { const h = document.querySelector('#b-XKLD .hours'); return h.innerText.includes('–') && h.getBoundingClientRect().height < 26; })()"); got != "true" {
		t.Errorf("on a narrow phone the hours %s are on several lines", b.js("document.querySelector('#b-XKLD .hours').innerText"))
	}
	b.window(1280, 900, false)
	r.page.Show(network(60), time.Now())
	// On a wall the pages turn by themselves, and each base has its turn.
	b.open("/board?wall")
	b.until("there are pages", "document.querySelector('#leaf').textContent.startsWith('page ')")
	if got := b.js("getComputedStyle(document.querySelector('.base')).fontSize + document.querySelectorAll('nav').length + / 28px .*Z$/.test(' ' + getComputedStyle(document.querySelector('#clock')).fontSize + ' ' + document.querySelector('#clock').textContent)"); got != "28px0true" {
		t.Errorf("on a wall letters, menus and the clock are %s", got)
	}
	b.do(`window.shown = new Set(); window.cut = ""; setInterval(() => {
		for (const x of document.querySelectorAll(".group > h2")) if (!x.checkVisibility()) window.cut = "no heading: " + x.textContent;
		for (const x of document.querySelectorAll(".bases > .base:not([hidden])")) window.shown.add(x.id);
		for (const x of document.querySelectorAll(".bases > .base:not([hidden]), .group:not([hidden]) > h2")) if (x.getBoundingClientRect().bottom > innerHeight) window.cut = x.innerText;
	}, 10)`)
	b.until("every base that asks for something has its turn", "window.shown.size === document.querySelectorAll('.bases > .base').length")
	if got := b.js("window.cut + '; ' + document.querySelector('#leaf').textContent.split(' of ')[1]"); got != "; 5" {
		t.Errorf("cut on the wall, and pages: %q, want none, and 36 bases on five", got)
	}
	b.scripts(false) // nothing turns: it can be scrolled
	b.open("/board?wall")
	if got := b.js("getComputedStyle(document.body).overflowY"); got != "visible" {
		t.Errorf("without a script a wall's overflow is %s", got)
	}
}

// TestBrowserBoardIsTheWorse: the state is the worse of observation and
// forecast, and the low is the one to come, or said to be past.
func TestBrowserBoardIsTheWorse(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	now := time.Now()
	r.watch.mu.Lock()
	r.watch.nows = map[string]Observed{
		"XSLT": {C: -40, At: now.Add(-4 * time.Minute), Source: "METAR (folder)"},    // the forecast is clear
		"XRUN": {C: -40, At: now.Add(-5 * time.Hour), Source: "METAR (folder)"},      // long ago
		"XHGH": {C: -18, At: now.Add(-time.Minute), Source: "typed by duty officer"}, // at its line, without a forecast
		"XKLD": {C: -3, At: now.Add(-10 * time.Minute), Source: "METAR (folder)"},    // the forecast is colder
	}
	r.watch.mu.Unlock()
	all := boardOf()
	all[0].LowAt = now.Add(2 * time.Hour)
	all[1].LowAt = now.Add(-3 * time.Hour)
	r.page.Show(all, now)
	b.open("/board")
	for ident, want := range map[string]string{"XSLT": "below", "XRUN": "near", "XHGH": "below", "XKLD": "below"} {
		if got := b.js("document.querySelector('#b-" + ident + "').className"); got != "base b-"+want {
			t.Errorf("%s is %s, want %s", ident, got, want)
		}
	}
	text := b.js("document.querySelector('#board').innerText.replace(/\\s+/g, ' ')")
	for _, want := range []string{"now −40 4 min", "low −18.5 past", "At or below 3"} {
		if !strings.Contains(strings.ToLower(text), strings.ToLower(want)) {
			t.Errorf("the board has no %q: %s", want, text)
		}
	}
	if strings.Contains(text, "−31 past") {
		t.Error("a low to come is past")
	}
	// Beside the line to ask as well: what is observed is why it is where it is.
	b.open("/")
	if got := b.js("[...document.querySelectorAll('.boardside .now')].filter((e) => e.checkVisibility()).map((e) => e.closest('.base').querySelector('.is').innerText.slice(0, 4) + e.innerText).join().replace(/\\s+/g, ' ')"); !strings.Contains(got, "XHGHnow −18 1 min") || !strings.Contains(got, "XSLTnow −40 4 min") || strings.Contains(got, "XKLD") {
		t.Errorf("beside the line to ask is observed %q", got)
	}
	if got := b.js(misfits); got != "" {
		t.Errorf("beside the line to ask: %s", got)
	}
}

// TestBrowserProcedureOpens: a procedure opens at the latest observation, with
// its source and age and an empty field; without one it asks.
func TestBrowserProcedureOpens(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	b.open("/procedure?station=XKLD&name=rnav+31")
	b.until("it is at what is observed", b.reads("−29\u00a0°C: latest observation, METAR (folder), 3 min old"))
	if got := b.js("document.querySelector('#t').value + document.body.innerText.includes('as typed')"); got != "false" {
		t.Errorf("the field and what is typed: %s", got)
	}
	r.watch.mu.Lock()
	r.watch.blind = true
	r.watch.mu.Unlock()
	b.open("/procedure?station=XKLD&name=rnav+31")
	b.until("it asks", b.reads("Nothing is observed at XKLD: give a temperature."))
}

// TestBrowserTwentyStops: a whole job by keys alone: ask, check as a second
// person, print, in under twenty stops of the Tab key.
func TestBrowserTwentyStops(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b, c := r.tab(t), r.tab(t)
	stops := 0
	to := func(b *tab, what, script string) {
		t.Helper()
		for n := 0; b.js(script) != "true"; n++ {
			if n > 40 {
				t.Fatalf("%s is not reached", what)
			}
			b.key(kb.Tab)
			stops++
		}
	}
	b.open("/")
	b.slash()
	b.key(goodLine + kb.Enter)
	b.until("the answer is there", b.reads("9000")+" && document.activeElement.matches('article')")
	to(b, "its record", "document.activeElement.matches('.rec a')")
	b.key(kb.Enter)
	b.until("the record is there", "document.readyState === 'complete' && location.pathname.startsWith('/record/')")
	c.open(b.js("location.pathname") + "/check")
	c.slash()
	stops++ // counted as one: the first field
	c.key("Bo")
	for _, figure := range []string{"9000", "5470"} {
		c.key(kb.Tab)
		stops++
		c.key(figure)
	}
	c.key(kb.Enter)
	c.until("it is checked", c.reads("is checked by Bo"))
	to(c, "the print", "document.activeElement.textContent === 'Print'")
	if got := c.js("document.activeElement.href.endsWith('/card.pdf?paper=a5')"); got != "true" {
		t.Error("it does not print")
	}
	if stops >= 20 {
		t.Errorf("%d stops", stops)
	}
	t.Logf("ask, check and print: %d stops", stops)
}

// TestWeight: an answer's page with its script and its style is under 40 KiB
// when it is compressed.
func TestWeight(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	recordOf(t, b, "XKLD rnav 31 -38")
	page := b.get(t, "/")
	size := func(text string) int {
		var n weighed
		z, _ := gzip.NewWriterLevel(&n, gzip.BestCompression) // the level is one
		_, _ = io.WriteString(z, text)
		_ = z.Close()
		return int(n)
	}
	sum := size(page.body)
	for _, name := range []string{"style.css", "live.js"} {
		sum += size(string(r.page.assets[name].data))
	}
	if sum >= 40<<10 {
		t.Errorf("an answer weighs %d bytes", sum)
	}
	t.Logf("an answer weighs %.1f KiB, its page alone %.1f", float64(sum)/1024, float64(size(page.body))/1024)
}

// weighed counts what is written.
type weighed int

func (w *weighed) Write(p []byte) (int, error) { *w += weighed(len(p)); return len(p), nil }

// BenchmarkPaint prints how long an answer takes to the first paint on the
// loopback, for a browser that has the style and the script and for one that has
// not: the median, and the least, which other work on the machine does not reach.
func BenchmarkPaint(b *testing.B) {
	r := newRoom(b, roomOptions{limits: generous})
	t := r.tab(b)
	t.ask("XKLD rnav 31 -38")
	t.until("the answer is there", t.reads("XIRTU"))
	for _, anew := range []bool{false, true} {
		b.Run(map[bool]string{false: "kept", true: "anew"}[anew], func(b *testing.B) {
			if _, err := chromedp.Call(t.ctx, cdpnet.SetCacheDisabled, cdpnet.SetCacheDisabledParams{CacheDisabled: anew}); err != nil {
				b.Fatal(err)
			}
			var all []float64
			for b.Loop() {
				t.open("/")
				t.until("it is painted", "performance.getEntriesByName('first-contentful-paint').length")
				var ms float64
				if _, err := fmt.Sscan(t.js("performance.getEntriesByName('first-contentful-paint')[0].startTime"), &ms); err != nil {
					b.Fatal(err)
				}
				all = append(all, ms)
			}
			slices.Sort(all)
			b.ReportMetric(all[len(all)/2], "ms-first-paint")
			b.ReportMetric(all[0], "ms-least")
		})
	}
}
