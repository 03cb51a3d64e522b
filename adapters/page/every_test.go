package page

import (
	_ "embed"
	"encoding/json"
	"maps"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"firn/adapters/testkit/installed"
	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/record"
	"firn/bot/reply"
)

//go:embed testdata/axe/axe.min.js
var axe string

// finding is one of axe's.
type finding struct {
	ID, Impact, Help string
	Nodes            []struct {
		HTML           string
		FailureSummary string
	}
}

// everyPage is what an audit and a phone look at, filled.
func everyPage(t testing.TB, r *crewRoom, b *tab) []string {
	t.Helper()
	r.alert(t, 1, "Cold alert: XKLD Kaldmoor. At or below the restriction temperature, −25 °C.", "Lowest −31 °C.")
	r.alert(t, 2, "Cold alert, amended: XKLD Kaldmoor.")
	digest := reply.Reply{Kind: reply.KindDigest, Headline: "1 at or below: XKLD −31", Facts: []string{"Cold watch, Thu 15 Jan."}, Actions: []reply.Action{{ID: "ack", Label: "Acknowledge all", Message: "ack"}, {ID: "snooze", Label: "Snooze 2 h", Message: "snooze 2h"}}}
	for _, ident := range []string{"XKLD", "XHGH", "XRUN"} { // a button for each base
		digest.Actions = append(digest.Actions, reply.Action{ID: "ack " + ident, Label: "Seen " + ident, Message: "ack " + ident})
	}
	if _, err := r.page.Send(t.Context(), outbox.Post{Key: "digest/2026-01-15/1", Channel: "page", Body: digest}); err != nil {
		t.Fatal(err)
	}
	b.called("Anna Dahl")
	b.ask("why XKLD -38 IAF 10200, FAF 8200, step 7400, DA 5340, missed 10200")
	b.until("the answer is there", b.reads("9000"))
	id := b.js("document.querySelector('#talk .rec a').textContent")
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	b.ask("help")
	b.until("the help is there", "document.querySelectorAll('#talk article').length === 3")
	b.ask("XKLD 38 8200")
	b.until("the question is there", b.reads("Is it -38 or +38?"))
	elsewhere := recordOf(t, r.open(t, "Cy", ""), goodLine)
	return append([]string{"/", "/board", "/base/XKLD", "/base/XHGH", "/watch", "/log", "/log?unchecked=1", "/record/" + id, "/record/" + id + "/check", "/record/" + elsewhere + "/check", "/procedures", "/procedure?station=XKLD&name=rnav+31", "/procedure?station=XKLD&name=rnav+31&t=38", "/you", "/nothing"}, recordStates(t, r)...)
}

// screen is one that has no address of its own.
type screen struct {
	name string
	open func()
}

// accessScreens are what people see who come in by links: a link to be sent,
// one that does not open, a session, and what a link for reading shows.
func (r *crewRoom) accessScreens(t testing.TB, b *tab) []screen {
	t.Helper()
	in := func(name string, scope access.Scope, page string) func() {
		secret := r.link(t, name, scope)
		entered := false
		return func() {
			if !entered {
				b.open("/enter")
				b.fill("#link", secret)
				b.key(kb.Enter)
				b.until(name+" is in", "location.pathname === '/' && "+b.reads(name))
				entered = true
			}
			b.open(page)
		}
	}
	refused, _ := access.Secret()
	return []screen{
		{"/enter", func() { b.open("/enter#" + refused) }},
		{"/enter refused", func() {
			b.open("/enter")
			b.fill("#link", refused)
			b.key(kb.Enter)
			b.until("it is refused", b.reads("does not open"))
		}},
		{"/you of a link", in("kari", access.Duty, "/you")},
		{"/ of a link", in("wanda", access.Read, "/")},
	}
}

// recordStates are records in each state but the first; the latest answer of the
// conversation is one that is not kept.
func recordStates(t testing.TB, r *crewRoom) (pages []string) {
	t.Helper()
	const line = "XKLD -38 IAF 10200, IF 8900, FAF 8200, DA 5340"
	for _, state := range []record.State{record.Checked, record.Disagreed, record.Recompute, record.Expired, record.Replaced, "withdrawn"} {
		b := r.open(t, "Cy", "")
		id := recordOf(t, b, line)
		own, entered := r.open(t, "Bo Ek", ""), "9000"
		if state == record.Disagreed {
			entered = "9100"
		}
		do := func(a record.Action) {
			t.Helper()
			k, _, err := r.book.Find(t.Context(), id)
			if err != nil {
				t.Fatal(err)
			}
			a.At = k.At
			if a.Kind == record.KindExpired {
				a.At = k.Expires
			}
			c, o := record.Decide(k, a, record.Settings{})
			if held, err := r.store.Apply(t.Context(), k, c); !o.Done || !held || err != nil {
				t.Fatalf("%s is not %s: %v, %v", id, state, o, err)
			}
		}
		r.checks(t, own, "Bo Ek", id, "11000", "9700", entered, "5470")
		switch state {
		case record.Recompute:
			do(record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Source: "METAR (folder)", Text: "XKLD is −45 °C now", Observed: true}})
		case record.Expired:
			do(record.Action{Kind: record.KindExpired})
		case record.Replaced:
			do(record.Action{Kind: record.KindReplaced, Next: "KALOMI-RUTA"})
		case "withdrawn":
			own.send(t, "/record/"+id, "/press", map[string]string{"text": "withdraw " + id})
			state = record.Unchecked
		}
		k, _, err := r.book.Find(t.Context(), id)
		if err != nil || r.book.State(k) != state {
			t.Errorf("%s is %s, %v, want %s", id, r.book.State(k), err, state)
		}
		pages = append(pages, "/record/"+id)
	}
	return pages
}

// unkept has the latest answer of a conversation say that it is not kept.
func (r *crewRoom) unkept(t testing.TB) {
	t.Helper()
	var stands reply.Reply
	ref := r.room.find(t, r.page, func(k *entry) bool { stands = k.Reply; return len(k.Reply.Altitudes) > 0 && k.Reply.Record != nil })
	if err := r.page.Change(t.Context(), ref, chat.Message{Reply: record.Unkept(stands)}); err != nil {
		t.Fatal(err)
	}
}

// brokenFigures are the figures that stand on two lines: digits with what
// belongs to them, as −38 °C and 10500–11400 in a table.
const brokenFigures = `(() => {
	const out = [], all = document.createTreeWalker(document.querySelector("main"), NodeFilter.SHOW_TEXT);
	for (let n; (n = all.nextNode());) {
		if (!n.parentElement.checkVisibility() || n.parentElement.closest(".hidden, svg")) continue;
		for (const m of n.data.matchAll(/(?<![0-9\p{L}])[−+-]?[0-9]+([.,:][0-9]+)*( °[CF]|Z)?/g)) {
			const r = document.createRange();
			r.setStart(n, m.index);
			r.setEnd(n, m.index + m[0].length);
			if (new Set([...r.getClientRects()].map((b) => Math.round(b.top))).size > 1) out.push(m[0] + " in " + n.data.slice(0, 60));
		}
	}
	return out.join("; ");
})()`

// misfits are what is wrong with a page at its width: it is wider, something
// that is pressed is too small for gloves, a word of a button, hours on a wall or a
// figure break.
const misfits = `(() => {
	const out = [], wide = document.documentElement.scrollWidth;
	if (wide !== innerWidth) out.push("it is " + wide + " wide: " + [...document.querySelectorAll("main *")].filter((e) => e.getBoundingClientRect().right > innerWidth + 1).slice(0, 3).map((e) => e.tagName + "." + e.className).join());
	// Links within a sentence are as high as its line, as they must be.
	if (innerWidth < 400) for (const e of document.querySelectorAll("a, button, summary, input:not([type=hidden]), textarea")) {
		const r = e.getBoundingClientRect();
		if (!e.checkVisibility() || r.width === 0 || e.classList.contains("skip") || e.closest("p:not(.who):not(.rec):not(.buttons)") && e.tagName === "A" && !e.classList.contains("button") && !e.closest(".glance")) continue;
		if (e.type === "checkbox" ? e.parentElement.getBoundingClientRect().height < 44 : r.height < 44 || r.width < 44) out.push("too small for gloves: " + e.tagName + " " + (e.textContent || e.id) + " " + r.width + "x" + r.height);
	}
	for (const e of document.querySelectorAll("button, .button, .wall .hours")) for (const n of e.childNodes) for (const m of (n.data ?? "").matchAll(/\S+/g)) {
		const r = document.createRange();
		r.setStart(n, m.index);
		r.setEnd(n, m.index + m[0].length);
		if (new Set([...r.getClientRects()].map((b) => Math.round(b.top))).size > 1) out.push("broken: " + m[0]);
	}
	for (const row of document.querySelectorAll(".base")) {
		const box = (e) => { const r = document.createRange(); r.selectNodeContents(e); return r.getBoundingClientRect(); }, shown = (e) => e.checkVisibility();
		const cells = [...row.querySelectorAll(".cell, .deeds")].filter((c) => shown(c) && c.textContent.trim()).map(box).concat([...row.querySelectorAll(".is, .spark")].filter(shown).map((e) => e.getBoundingClientRect()));
		if (cells.some((c, i) => cells.slice(i + 1).some((d) => c.right > d.left + 1 && d.right > c.left + 1 && c.bottom > d.top + 1 && d.bottom > c.top + 1))) out.push("cells overlap: " + row.innerText.replace(/\s+/g, " "));
		if (cells.some((c) => c.right > row.getBoundingClientRect().right + 1)) out.push("out of its row: " + cells.map((c) => Math.round(c.right)).join() + " " + row.innerText.replace(/\s+/g, " "));
	}
	const broken = ` + brokenFigures + `;
	if (broken) out.push("figures break: " + broken);
	return out.join("; ");
})()`

// TestBrowserEveryPage opens every page, with records in each state, on phones
// and desks: nothing is wider than its screen, all that is pressed is large
// enough for gloves, no figure and no button's word breaks, at twice the letters
// neither, and axe-core finds nothing, light, dark and dim red; elsewhere than in
// .ci/run it looks at phones alone, since it takes longest.
func TestBrowserEveryPage(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.tab(t)
	pages := append(everyPage(t, r, b), "/board?wall", "/log?q=bo", "/#unkept")
	b.ask("XKLD rnav 31 -38")
	b.until("the answer is there", b.reads("XIRTU"))
	r.enters(t, "Bo Ek", recordOf(t, r.open(t, "Cy", ""), goodLine), "9000", "5470")
	checked, links := 0, map[string]string{}
	for _, p := range pages {
		checked += b.audits(p, links, func() {
			if p == "/#unkept" {
				r.unkept(t)
			}
			b.open(p)
			if p == "/board" { // with a base open
				b.click("#b-XKLD .is")
				b.until("its base is open", "document.querySelector('.panel')")
			}
		})
	}
	delete(links, "/nothing")            // its own
	delete(links, "/record/KALOMI-RUTA") // invented, to replace another
	b.follow(links)
	// Without a script all is unfolded, and the style is the same.
	b.scripts(false)
	for _, p := range pages[:len(pages)-1] {
		b.window(1280, 900, false)
		b.open(p)
		b.fits(p, "1280 without a script")
		if b.window(320, 740, true); p != "/board?wall" {
			b.fits(p, "320 without a script")
		}
	}
	b.scripts(true)
	// Who comes in by a link: there is little on these.
	in := newRoom(t, roomOptions{limits: generous, signIn: true})
	c := in.tab(t)
	for _, s := range in.accessScreens(t, c) {
		c.window(1280, 900, false)
		s.open()
		c.fits(s.name, "1280")
		c.window(320, 740, true)
		c.fits(s.name, "320")
		c.do(axe)
		checked += c.audit(s.name, "")
	}
	t.Logf("axe-core looked %d times, at %d pages", checked, len(pages))
}

// fits says what is wrong with a page at its width.
func (b *tab) fits(p, how string) {
	b.Helper()
	if got := b.js(misfits); got != "" {
		b.Errorf("%s, %s: %s", p, how, got)
	}
}

// follow has the browser follow links, each of which stands on a page.
func (b *tab) follow(links map[string]string) {
	b.Helper()
	all, _ := json.Marshal(slices.Sorted(maps.Keys(links)))
	b.do("window.dead = null; (async () => { const dead = []; for (const at of " + string(all) + ") { const r = await fetch(at); await r.arrayBuffer(); if (!r.ok) dead.push(at); } window.dead = dead; })()")
	b.until("all links are followed", "window.dead")
	for _, at := range strings.Fields(b.js("window.dead.join(' ')")) {
		b.Errorf("%s has a link to %s, which does not answer", links[at], at)
	}
	if len(links) < 20 {
		b.Errorf("only %d links", len(links))
	}
}

// audits opens a page and looks at it at every width and in every light; it notes
// where its links lead, and those within it lead somewhere.
func (b *tab) audits(p string, links map[string]string, open func()) (looks int) {
	b.Helper()
	b.window(390, 844, true)
	b.scheme("light")
	open()
	const here = `[...document.querySelectorAll("a[href]")].filter((a) => a.origin === location.origin)`
	if lost := b.js(here + `.filter((a) => a.hash && a.pathname === location.pathname && !document.getElementById(a.hash.slice(1))).map((a) => a.hash).join()`); lost != "" {
		b.Errorf("%s: nothing is at %s", p, lost)
	}
	for _, at := range strings.Fields(b.js(here + `.map((a) => a.pathname + a.search).join(" ")`)) {
		links[at] = p
	}
	b.do("document.querySelectorAll('details').forEach((d) => { d.open = true; }); document.querySelectorAll('.behind').forEach((d) => { d.hidden = false; })")
	b.do(axe)
	looks += b.audit(p+" on a phone", "")
	if p != "/board?wall" { // none is as small as a phone
		b.fits(p, "390")
		b.do("document.documentElement.style.fontSize = '200%'")
		b.fits(p, "390 in letters of 200 %")
		if got := b.js(brokenFigures); got != "" {
			b.Errorf("%s, a phone, letters of 200%%: figures break: %s", p, got)
		}
		b.do("document.documentElement.style.fontSize = ''")
		b.window(320, 740, true)
		b.fits(p, "320")
		b.window(640, 740, true) // a screen of 1280 at 200 % is 640 wide
		b.fits(p, "640")
		b.do("document.documentElement.style.fontSize = '200%'")
		if got := b.js(brokenFigures); got != "" {
			b.Errorf("%s, letters of 200%%: figures break: %s", p, got)
		}
		b.do("document.documentElement.style.fontSize = ''")
	}
	b.window(1920, 900, false)
	b.fits(p, "1920")
	b.window(1280, 900, false)
	b.fits(p, "1280")
	if os.Getenv(installed.All) != "1" {
		return looks
	}
	looks += b.audit(p+" on a desk", "")
	b.scheme("dark")
	looks += b.audit(p+" on a desk, dark", "color-contrast")
	b.scheme("light")
	b.do("document.documentElement.classList.add('red')")
	return looks + b.audit(p+" on a desk, red", "color-contrast")
}

// audit has axe-core look at a page as it is, by all rules or by one.
func (b *tab) audit(what, rule string) (looks int) {
	b.Helper()
	only := ""
	if rule != "" {
		only = ", runOnly: [" + quote(rule) + "]"
	}
	found, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](`axe.run(document, {resultTypes: ["violations"]`+only+`}).then((r) => JSON.stringify(r.violations))`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatal(err)
	}
	var all []finding
	if err := json.Unmarshal([]byte(found), &all); err != nil {
		b.Fatal(err)
	}
	for _, f := range all {
		for _, n := range f.Nodes[:min(len(f.Nodes), 2)] {
			b.Errorf("%s: %s (%s): %s\n%.300s\n%s", what, f.ID, f.Impact, f.Help, n.HTML, n.FailureSummary)
		}
	}
	return 1
}
