package page

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/sendertest"
)

// reader is a browser on a page without a desk.
func reader(t *testing.T, p *Page) *browser {
	t.Helper()
	s := httptest.NewServer(p.Handler())
	t.Cleanup(s.Close)
	return newBrowser(s.URL)
}

func empty(t *testing.T) *Page {
	t.Helper()
	p, err := New(slog.New(slog.DiscardHandler), Options{Limits: generous})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestSender(t *testing.T) {
	sendertest.Run(t, func(t *testing.T) sendertest.Surface {
		p := empty(t)
		return sendertest.Surface{
			Sender: p, Channels: []string{"page", "page:two"},
			// The page is one for all channels; what stands on one is told by its
			// posts.
			Text: func(t *testing.T, channel string) string {
				t.Helper()
				var ids []string
				posts, _, err := p.posts(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				for _, o := range posts {
					if o.Channel == channel {
						ids = append(ids, "p-"+o.id)
					}
				}
				all := parse(t, reader(t, p).get(t, "/watch").body)
				var b strings.Builder
				for _, id := range ids {
					b.WriteString(all.id(id).read() + "\n")
				}
				return b.String()
			},
		}
	})
}

// A network's board shows those with something to do in full, the others by
// ident, and under 200 KiB whatever their number.
func TestLargeBoard(t *testing.T) {
	p := empty(t)
	b := reader(t, p)
	at := time.Now().UTC()
	many := func(n int) (all []reply.Cold) {
		for i := range n {
			state := "clear"
			if i%10 == 7 {
				state = "below"
			}
			if i%5 == 3 {
				state = "near"
			}
			all = append(all, reply.Cold{
				Ident: fmt.Sprintf("X%03d", i), State: state, LowC: reply.Some(-20 - float64(i%17)), LowAt: at.Add(time.Hour), RestrictionC: reply.Some(-20),
				BelowFrom: at, BelowTo: at.Add(3 * time.Hour), Source: "TAF (folder)", Issued: at,
			})
		}
		return all
	}
	p.Show(many(1000), at)
	board := parse(t, b.get(t, "/board").body).id("board")
	full := board.all(func(n *node) bool { return n.name == "li" && strings.HasPrefix(n.attrs["class"], "base ") })
	if len(full) != mostShown || !strings.Contains(full[0].read(), "−36") {
		t.Errorf("%d bases in full, the first %q", len(full), full[0].read())
	}
	named := 0
	for _, g := range board.all(func(n *node) bool { return n.attrs["class"] == "idents" }) {
		named += len(g.named("a"))
	}
	if named != 1000-mostShown {
		t.Errorf("%d others by name, want %d", named, 1000-mostShown)
	}
	text := strings.Join(strings.Fields(board.read()), " ")
	for _, want := range []string{"At or below 100", "Near 200", "Clear 700"} {
		if !strings.Contains(text, want) {
			t.Errorf("the board does not say %q", want)
		}
	}
	p.Show(many(10000), at)
	g := b.get(t, "/board")
	if kib := len(g.body) / 1024; kib >= 200 {
		t.Errorf("10000 bases are a page of %d KiB", kib)
	} else {
		t.Logf("10000 bases are a page of %d KiB", kib)
	}
	if g := b.get(t, "/board?base=x9999"); g.url.Path != "/base/X9999" || g.code != http.StatusOK {
		t.Errorf("the last base is found at %s, %d", g.url, g.code)
	}
	p.names["X042"] = "Kaldmoor"
	for typed, want := range map[string]string{"kald": "/base/X042", "x99": "may be X990, X9900, ", "moor": "No base of this ident or name"} {
		if g := b.get(t, "/board?base="+typed); g.url.Path != want && !strings.Contains(g.body, want) {
			t.Errorf("who looks for %s comes to %s: %.300s", typed, g.url, g.body)
		}
	}
	if kib := len(b.get(t, "/").body) / 1024; kib >= 200 {
		t.Errorf("beside 10000 bases the ask page is of %d KiB", kib)
	}
}

func TestBoard(t *testing.T) {
	p := empty(t)
	b := reader(t, p)
	for _, path := range []string{"/", "/board"} {
		if got := parse(t, b.get(t, path).body).read(); !strings.Contains(got, "not been looked at yet") {
			t.Errorf("%s of an empty page does not say so:\n%s", path, got)
		}
	}
	at := time.Now().UTC()
	p.Show([]reply.Cold{
		{Ident: "XSLT", State: "clear", LowC: reply.Some(-2.5), LowAt: at, RestrictionC: reply.Some(-12)},
		{Ident: "XKLD", State: "below", Source: "TAF", Issued: at.Add(-3 * time.Hour), LowC: reply.Some(-31), LowAt: at, RestrictionC: reply.Some(-25), BelowFrom: at, BelowTo: at.Add(time.Hour)},
		{Ident: "XHGH", State: "no-forecast", Note: "<script>alert(1)</script>"},
		{Ident: "XMBL", State: "near", Source: "hourly"},
	}, at)
	page := parse(t, b.get(t, "/board").body)
	got := strings.Join(strings.Fields(page.id("board").read()), " ")
	for _, want := range []string{
		"Looked just now, " + at.Format("15:04Z"), "At or below 1 XKLD", "low −31 " + at.Format("15:04Z"), "line −25", at.Format("15:04Z") + "–" + at.Add(time.Hour).Format("15:04Z"),
		"No forecast 1 XHGH", "low not known", "line none", "Near 1 XMBL", "Clear 1 XSLT",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the board has no %q:\n%s", want, got)
		}
	}
	if order := []int{strings.Index(got, "XKLD"), strings.Index(got, "XHGH"), strings.Index(got, "XMBL"), strings.Index(got, "XSLT")}; !slices.IsSorted(order) {
		t.Errorf("the coldest do not come first: %v", order)
	}
	// A word and a shape for each, so that none is told by its colour alone.
	for _, lamp := range page.id("board").all(func(n *node) bool { return n.name == "h2" || n.attrs["class"] == "is" }) {
		if len(lamp.named("svg")) != 1 || lamp.read() == "" {
			t.Errorf("a state without a shape or a word: %q", lamp.read())
		}
	}
	// What there is to know of one stands on its own page.
	for ident, wants := range map[string][]string{
		"XKLD": {"At or below", "−31 °C", "Line −25 °C", "TAF, issued " + at.Add(-3*time.Hour).Format("2 Jan 15:04Z") + ", 3 h old"},
		"XHGH": {"No forecast", "not known", "<script>alert(1)</script>", "none published"},
		"XMBL": {"Near", "hourly; when it was issued is not known"}, "XSLT": {"Clear", "−2.5 °C"},
	} {
		text := strings.Join(strings.Fields(parse(t, b.get(t, "/base/"+ident).body).id("base").read()), " ")
		for _, want := range wants {
			if !strings.Contains(text, strings.ReplaceAll(want, " °C", "\u00a0°C")) && !strings.Contains(text, want) {
				t.Errorf("%s has no %q:\n%s", ident, want, text)
			}
		}
	}
	// Where a base has a time of its own, the board says whose its hours are.
	const whose = "Hours without Z are each base’s own."
	if strings.Contains(got, whose) {
		t.Errorf("a board of UTC alone says %q", whose)
	}
	p.o.Zone = func(string) *time.Location { return time.FixedZone("invented", -7*3600) }
	if got := parse(t, b.get(t, "/board?wall").body).id("board").read(); !strings.Contains(got, whose) {
		t.Errorf("the board does not say whose its hours are: %s", got)
	}
	p.Show(nil, at.Add(-10*time.Minute))
	if got := parse(t, b.get(t, "/board").body).id("board").read(); !strings.Contains(got, "Not live since") || !strings.Contains(got, "No base is watched") {
		t.Errorf("an old board does not say so: %s", got)
	}
	if g := b.get(t, "/base/XKLD"); g.code != http.StatusNotFound {
		t.Errorf("a base that is not watched any more = %d", g.code)
	}
}

func TestOldPostsMakeRoom(t *testing.T) {
	p := empty(t)
	for i := range pagestate.MostPosts + 5 {
		key := "alert/XKLD/" + time.Date(2026, 1, 1+i, 0, 0, 0, 0, time.UTC).Format(time.DateOnly) + "/1"
		if _, err := p.Send(t.Context(), outbox.Post{Key: key, Channel: "page"}); err != nil {
			t.Fatal(err)
		}
	}
	if posts, _, err := p.posts(t.Context()); err != nil || len(posts) != pagestate.MostPosts {
		t.Errorf("%d posts are kept, %v, want %d", len(posts), err, pagestate.MostPosts)
	}
	if _, found, _ := p.Find(t.Context(), "page", "alert/XKLD/2026-01-01/1"); found {
		t.Error("the oldest post is still there")
	}
}

// TestStoreAway: whoever asks while the database is away has the answer, marked, and
// is told that what is kept does not stand there; afterwards all stands there.
func TestStoreAway(t *testing.T) {
	r := newRoom(t, roomOptions{})
	b := r.open(t, "Anna", access.Ask)
	b.send(t, "/", "/ask", map[string]string{"text": "XRUN -30 7000"})
	const unread = "firn cannot read what it has kept"
	r.room.away(true)
	g := b.get(t, "/")
	if page := parse(t, g.body); g.code != 200 || !strings.Contains(page.read(), unread) {
		t.Fatalf("the page is %d:\n%s", g.code, page.read())
	}
	// Nobody waits there for the record to be written.
	b.c.Timeout = 5 * time.Second
	g = b.send(t, "/", "/ask", map[string]string{"text": "XKLD -38 FAF 8200"})
	if talk := parse(t, g.body).id("talk").read(); g.code != 200 || !strings.Contains(talk, "NOT KEPT") || !strings.Contains(talk, "9000") {
		t.Errorf("the answer is %d:\n%s", g.code, talk)
	}
	for _, path := range []string{"/procedures", "/procedures?station=XKLD"} {
		if page := parse(t, b.get(t, path).body).read(); strings.Contains(page, "are stored") || !strings.Contains(page, "firn cannot read the procedures") {
			t.Errorf("%s says:\n%s", path, page)
		}
	}
	r.room.away(false)
	page := parse(t, b.get(t, "/").body)
	if talk := page.id("talk").read(); strings.Contains(page.read(), unread) || !strings.Contains(talk, "XRUN") || !strings.Contains(talk, "9000") {
		t.Errorf("afterwards there stands:\n%s", page.read())
	}
}

func TestOldTalksMakeRoom(t *testing.T) {
	p := empty(t)
	for i := range mostTopics + 5 {
		e := chat.Event{Place: chat.Place{Channel: fmt.Sprintf("%016x", i)}}
		if _, err := p.Answer(t.Context(), e, chat.Message{}); err != nil {
			t.Fatal(err)
		}
		if len(p.hub.last) > mostTopics {
			t.Fatalf("%d topics are kept", len(p.hub.last))
		}
	}
	e := chat.Event{Place: chat.Place{Channel: "0000000000000009"}}
	for range pagestate.MostCards * 2 {
		if _, err := p.Answer(t.Context(), e, chat.Message{}); err != nil {
			t.Fatal(err)
		}
	}
	if cards, _, err := p.cards(t.Context(), e.Place.Channel, 0); err != nil || len(cards) != pagestate.MostCards {
		t.Errorf("%d cards are kept in one conversation, %v", len(cards), err)
	}
	// Whoever looks after them keeps the conversations bounded.
	p.sweep(t.Context())
	if _, rev, err := p.cards(t.Context(), fmt.Sprintf("%016x", 1), 0); err != nil || rev != 0 {
		t.Errorf("the first conversation is at %d, %v, want it forgotten", rev, err)
	}
	if _, rev, err := p.cards(t.Context(), fmt.Sprintf("%016x", mostTopics+3), 0); err != nil || rev == 0 {
		t.Errorf("a late one is at %d, %v", rev, err)
	}
}

// TestMorning: a morning is one post, with what changed below it, and only the
// latest reminder and the latest word on a base that stand beside it are answered.
func TestMorning(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	n := 0
	post := func(word, ident, under, says string) string {
		n++
		body := reply.Reply{
			Kind: reply.KindDigest, Headline: says, Digest: &reply.Digest{Day: "2026-01-15", Word: word, Under: under},
			Actions: []reply.Action{{ID: "ack", Label: "Seen all", Message: "ack all"}},
		}
		if ident != "" {
			body.Kind, body.Alert = reply.KindAlert, &reply.Cold{Ident: ident, State: "below"}
		}
		ref, err := r.page.Send(t.Context(), outbox.Post{Key: fmt.Sprint("digest/2026-01-15/", n), Channel: "page", Body: body})
		if err != nil || ref == "" {
			t.Fatal(ref, err)
		}
		return "p-" + strings.TrimPrefix(ref, "p/")
	}
	morning := post(reply.DigestMorning, "", "", "3 below: XKLD −31")
	post(reply.DigestBase, "XKLD", "digest/2026-01-15/1", "XKLD moves by 4")
	crossed := post(reply.DigestBase, "XRUN", "", "XRUN crosses")
	early, late := post(reply.DigestReminder, "", "", "Reminder, not seen for 30 min"), post(reply.DigestReminder, "", "", "Reminder, not seen for 1 h")
	gone := post(reply.DigestBase, "XGLN", "digest/2026-01-14/1", "Below what is not there")
	page := parse(t, r.open(t, "", "").get(t, "/watch").body)
	for ref, want := range map[string]int{morning: 1, crossed: 1, early: 0, late: 1, gone: 1} {
		if got := len(page.id(ref).named("button")); got != want {
			t.Errorf("%q has %d buttons, want %d", page.id(ref).read(), got, want)
		}
	}
	if got := page.id(morning).read(); !strings.Contains(got, "XKLD moves by 4") {
		t.Errorf("the morning is %q, without what changed below it", got)
	}
	if page.id("board") != nil {
		t.Error("beside the morning the bases stand once more")
	}
	if got := len(page.id("posts").named("li")); got < 5 {
		t.Errorf("%d posts stand there", got)
	}
}

// TestOvertaken: nobody answers an alert that a later word has changed.
func TestOvertaken(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	first := "p-" + strings.TrimPrefix(r.alert(t, 1, "Cold alert: XKLD."), "p/")
	b := r.open(t, "", "")
	if n := len(parse(t, b.get(t, "/watch").body).id(first).named("button")); n != 2 {
		t.Errorf("the alert has %d buttons, want two", n)
	}
	second := "p-" + strings.TrimPrefix(r.alert(t, 2, "Cold alert, amended: XKLD."), "p/")
	page := parse(t, b.get(t, "/watch").body)
	if n, m := len(page.id(first).named("button")), len(page.id(second).named("button")); n != 0 || m != 2 {
		t.Errorf("the first alert has %d buttons, the second %d; want none and two", n, m)
	}
	if list := page.id("posts").named("li"); len(list) < 2 || list[0].attrs["id"] != second {
		t.Error("the newest does not come first")
	}
}

// TestAddresses: every page answers, and what is not there says so.
func TestAddresses(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	id := recordOf(t, b, goodLine)
	for path, want := range map[string]int{
		"/": 200, "/board": 200, "/base/XKLD": 200, "/base/xkld": 200, "/watch": 200, "/log": 200, "/log?unchecked=1": 200, "/log?station=xkld": 200, "/log?before=x": 200,
		"/procedures": 200, "/procedures?station=XRUN": 200, "/procedure?station=XKLD&name=rnav+31": 200, "/procedure?station=XKLD&name=rnav+31&t=38": 200,
		"/you": 200, "/record/" + id: 200, "/record/" + strings.ToLower(id): 200, "/record/" + id + "/check": 200, "/record/" + id + "/card.pdf": 200, "/record/" + id + "/card.pdf?paper=half-letter": 200,
		"/base/XXXX": 404, "/record/KALOMI-RUTA": 404, "/record/x": 404, "/record/KALOMI-RUTA/check": 404, "/procedure?station=XKLD&name=ils": 404, "/nothing": 404, "/picture/x/0": 404,
		"/assets/x/style.css": 200, "/assets/x/live.js": 200, "/assets/x/icon.svg": 200, "/assets/x/../page.go": 404, "/stations?typed=kal": 200, "/favicon.ico": 204,
	} {
		g := b.get(t, path)
		if g.code != want {
			t.Errorf("%s = %d, want %d", path, g.code, want)
		}
		if strings.HasPrefix(g.head.Get("Content-Type"), "text/html") {
			parse(t, g.body)
		}
		if h := g.head; h.Get("Content-Security-Policy") != policy || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") != "same-origin" {
			t.Errorf("%s has the headers %v", path, h)
		}
		for _, inline := range []string{"<style", " style=", "javascript:", " onclick", " onload"} {
			if strings.Contains(g.body, inline) && g.head.Get("Content-Type") != assetKinds["style.css"] {
				t.Errorf("%s has %q", path, inline)
			}
		}
	}
	if g := b.get(t, "/record/"+id+"/card.pdf?paper=half-letter"); g.head.Get("Content-Type") != "application/pdf" || !strings.Contains(g.body, "half-letter Anna") {
		t.Errorf("the card is %s", g.body)
	}
	if g := b.get(t, "/stations?typed=kal"); !strings.Contains(g.body, `"value":"XKLD"`) {
		t.Errorf("the stations are %s", g.body)
	}
	if g := b.get(t, "/log"); !strings.Contains(g.body, id) || !strings.Contains(g.body, "FAF 8200 → 9000") {
		t.Errorf("the log lacks the record %s:\n%s", id, parse(t, g.body).id("records").read())
	}
	if g := b.get(t, "/log?station=XRUN"); strings.Contains(g.body, id) {
		t.Error("the log of another station has the record")
	}
}

// TestAskAndFix: a bad message says what is wrong, with the line to type
// instead in a field; sent, the answer takes the question's place.
func TestAskAndFix(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	g := b.send(t, "/", "/ask", map[string]string{"text": "XKLD 38 FAF 8200"})
	talk := parse(t, g.body).id("talk")
	var fix *node
	for _, f := range talk.named("form") {
		if f.attrs["class"] == "fix" {
			fix = f
		}
	}
	if fix == nil || !strings.Contains(talk.read(), "Is it -38 or +38?") {
		t.Fatalf("the question is:\n%s", talk.read())
	}
	v := fix.fill()
	if got := v.Get("text"); !strings.HasPrefix(got, "XKLD -38") {
		t.Errorf("the line to type instead is %q", got)
	}
	g = b.post(t, "/ask", v)
	cards := parse(t, g.body).id("talk").named("article")
	if len(cards) != 1 || !strings.Contains(cards[0].read(), "9000") || !strings.Contains(cards[0].read(), "asked at") {
		t.Errorf("%d cards after the line was fixed:\n%s", len(cards), parse(t, g.body).id("talk").read())
	}
	if g.url.Fragment != "" && g.url.Path != "/" {
		t.Errorf("it goes on to %s", g.url)
	}
	// Nothing typed, and too much.
	for text, want := range map[string]string{"  ": "nothing in the line", strings.Repeat("x", longestLine+1): "more than a line"} {
		g := b.send(t, "/", "/ask", map[string]string{"text": text})
		if g.code != http.StatusUnprocessableEntity || !strings.Contains(parse(t, g.body).read(), want) {
			t.Errorf("%.10q = %d", text, g.code)
		}
	}
}

// TestBackAndAgain: a page that was gone back to may ask something else, and
// the same again is the same.
func TestBackAndAgain(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "", "")
	v := parse(t, b.get(t, "/").body).form(t, "/ask").fill()
	for _, line := range []string{"XKLD -38 8200", "XKLD -38 8200", "XKLD -39 8200"} {
		v.Set("text", line)
		b.post(t, "/ask", v)
	}
	if n := len(parse(t, b.get(t, "/").body).id("talk").named("article")); n != 2 {
		t.Errorf("%d answers, want two", n)
	}
}

// TestCheckHere: at one machine the second person has a browser of their own,
// and types a name of their own.
func TestCheckHere(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna, bo, cy := r.open(t, "Anna Dahl", ""), r.open(t, "", ""), r.open(t, "", "")
	id := recordOf(t, anna, goodLine)
	check := func(b *browser, fields map[string]string, entered ...string) got {
		t.Helper()
		page := "/record/" + id + "/check"
		v := url.Values{"csrf": {parse(t, b.get(t, "/").body).form(t, "/ask").fill().Get("csrf")}, "deed": {newID()}, "how": {record.Blind}, "entered": entered}
		for k, x := range fields {
			v.Set(k, x)
		}
		return b.post(t, page, v)
	}
	// Whoever asked is told, in any name, also by a form that is made up.
	if g := anna.get(t, "/record/"+id+"/check"); strings.Contains(g.body, "Compare") || !strings.Contains(g.body, "a browser of their own") {
		t.Error("the browser that asked is offered to check")
	}
	for _, c := range []struct {
		name    string
		by      *browser
		fields  map[string]string
		entered []string
		code    int
		want    string
	}{
		{"the browser that asked, in another name", anna, map[string]string{"name": "Bo"}, []string{"9000", "5470"}, 200, "was computed in this browser"},
		{"the browser that asked, confirming", anna, map[string]string{"name": "Kari", "how": record.Confirmed}, nil, 200, "was computed in this browser"},
		{"no name", bo, map[string]string{"name": " "}, []string{"9000", "5470"}, 422, "Give your name"},
		{"a name that tells a story", bo, map[string]string{"name": "Anna at 18:40Z. Checked by Kari"}, []string{"9000", "5470"}, 422, "a name has letters"},
		{"a name that looks like another", bo, map[string]string{"name": "B\u043e"}, []string{"9000", "5470"}, 422, "Cyrillic and Latin"},
		{"an empty figure", bo, map[string]string{"name": "Bo"}, []string{"9000", ""}, 422, "Enter every altitude"},
		{"no figure", bo, map[string]string{"name": "Bo"}, []string{"9000", "<script>"}, 422, "Enter every altitude"},
		{"the author elsewhere", bo, map[string]string{"name": "ANNA  dahl"}, []string{"9000", "5470"}, 200, "is your own"},
		{"the author in wide letters", bo, map[string]string{"name": "Ａｎｎａ-Ｄａｈｌ"}, []string{"9000", "5470"}, 200, "is your own"},
		{"another figure", bo, map[string]string{"name": "Bo"}, []string{"9 000", "7,000 ft"}, 200, "Bo disagrees"},
		{"a third name in the second browser", bo, map[string]string{"name": "Cy", "how": record.Confirmed}, nil, 200, "was checked in this browser, by Bo"},
		{"a third person", cy, map[string]string{"name": "Cy", "how": record.Confirmed}, nil, 200, "is checked by Cy"},
	} {
		g := check(c.by, c.fields, c.entered...)
		text := parse(t, g.body).read()
		if g.code != c.code || !strings.Contains(text, c.want) {
			t.Errorf("%s: %d, want %d and %q:\n%s", c.name, g.code, c.code, c.want, text)
		}
		wrong, ids := "name-own", ""
		if strings.Contains(c.name, "figure") {
			wrong = "own-1"
		}
		for _, field := range parse(t, g.body).all(func(n *node) bool { return n.attrs["aria-invalid"] != "" }) {
			ids += field.attrs["id"]
		}
		if g.code == 422 && ids != wrong {
			t.Errorf("%s: the field that is wrong is %q, want %s", c.name, ids, wrong)
		}
		if g.code == 422 && !strings.Contains(g.body, `value="9000"`) {
			t.Errorf("%s: what was entered is lost", c.name)
		}
	}
	if g := anna.get(t, "/record/"+id); !strings.Contains(parse(t, g.body).read(), "checked") {
		t.Error("the record does not show the check")
	}
	// Who gave a name there is asked no second time, and may take the check back.
	if g := cy.get(t, "/record/"+id); !strings.Contains(g.body, "Withdraw my check") {
		t.Error("whoever checked cannot withdraw")
	}
	if g := anna.get(t, "/record/"+id+"/card.pdf"); !strings.Contains(g.body, "Cy") {
		t.Errorf("the card to print has not who checked: %s", g.body)
	}
}

// TestOnePersonOneLink: however a link's name is written, its person is one,
// and is nobody's second person in another browser.
func TestOnePersonOneLink(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	secret := r.link(t, "anna", access.Ask)
	one, two := newBrowser(r.server.URL), newBrowser(r.server.URL)
	one.enter(t, secret)
	two.enter(t, secret)
	id := recordOf(t, one, goodLine)
	confirm := func(b *browser) string {
		t.Helper()
		v := parse(t, b.get(t, "/record/"+id+"/check").body).form(t, "/record/"+id+"/check").fill()
		v.Set("how", record.Confirmed)
		return parse(t, b.post(t, "/record/"+id+"/check", v).body).read()
	}
	if text := confirm(two); !strings.Contains(text, "is your own") {
		t.Errorf("the same link in another browser checks:\n%s", text)
	}
	// The link ends, and comes again in another spelling: it is the same person.
	if _, err := r.access.RevokeToken(t.Context(), "anna", time.Now()); err != nil {
		t.Fatal(err)
	}
	if text := confirm(r.open(t, "ANNA", access.Ask)); !strings.Contains(text, "is your own") {
		t.Errorf("ANNA checks what anna computed:\n%s", text)
	}
	if text := confirm(r.open(t, "Bo", access.Ask)); !strings.Contains(text, "is checked by Bo") {
		t.Errorf("Bo does not check:\n%s", text)
	}
}

// TestGivenName: what is no name is sent back with the reason.
func TestGivenName(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "", "")
	for name, want := range map[string]string{
		"Anna at 18:40Z. Checked by Kari": "a name has letters", "\u0410nna": "Cyrillic and Latin", strings.Repeat("a", 41): "40 characters", "<b>": "a name has letters",
	} {
		g := b.send(t, "/you", "/you", map[string]string{"name": name})
		if text := parse(t, g.body).read(); g.code != http.StatusUnprocessableEntity || !strings.Contains(text, want) || !strings.Contains(text, name) {
			t.Errorf("%q = %d, want 422 and %q:\n%s", name, g.code, want, text)
		}
	}
	g := b.send(t, "/you", "/you", map[string]string{"name": " Anna   O'Dahl-Øye "})
	if g.code != 200 || !strings.Contains(parse(t, g.body).read(), "Anna O'Dahl-Øye") {
		t.Errorf("a name = %d:\n%s", g.code, parse(t, g.body).read())
	}
	recordOf(t, b, goodLine)
	if text := parse(t, b.get(t, "/").body).id("talk").read(); !strings.Contains(text, "Computed by Anna O'Dahl-Øye at") {
		t.Errorf("the record says:\n%s", text)
	}
}

// TestNotOfOthers: no form reaches into another's conversation.
func TestNotOfOthers(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna, bo := r.open(t, "Anna", ""), r.open(t, "Bo", "")
	recordOf(t, anna, goodLine)
	card := parse(t, anna.get(t, "/").body).id("talk").named("article")[0]
	var press url.Values
	for _, f := range card.named("form") {
		press = f.fill()
	}
	mine := parse(t, bo.get(t, "/").body).form(t, "/ask").fill()
	press.Set("csrf", mine.Get("csrf"))
	bo.post(t, "/press", press)
	edit := url.Values{"csrf": mine["csrf"], "deed": {"1"}, "text": {"help"}, "edits": {"m/0123456789abcdef/0123456789abcdef01234567"}}
	bo.post(t, "/ask", edit)
	if n := len(parse(t, anna.get(t, "/").body).id("talk").named("article")); n != 1 {
		t.Errorf("Anna's conversation has %d cards, want her one", n)
	}
	id := strings.TrimPrefix(card.attrs["id"], "c-")
	if g := bo.get(t, "/log?said="+id); strings.Contains(g.body, `id="said"`) {
		t.Error("Bo reads a card of Anna's")
	}
}

// TestAcknowledge: what comes of it stands below the alert for everybody.
func TestAcknowledge(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, duty: []string{"slack:U1", Surface + ":" + DutyGroup}})
	ref := strings.TrimPrefix(r.alert(t, 1, "Cold alert: XKLD."), "p/")
	b := r.open(t, "Anna", "")
	for _, f := range parse(t, b.get(t, "/watch").body).id("p-" + ref).named("form") {
		if f.named("button")[0].attrs["data-action"] == "ack" {
			g := b.post(t, "/press", f.fill())
			if g.url.Path != "/watch" || !strings.Contains(parse(t, g.body).id("p-"+ref).read(), "XKLD is acknowledged by Anna") {
				t.Errorf("after the press at %s:\n%s", g.url, parse(t, g.body).read())
			}
		}
	}
	if got := r.watch.acknowledged(); !slices.Equal(got, []string{"XKLD Anna (page:anna)"}) {
		t.Errorf("acknowledged %q", got)
	}
	if g := r.open(t, "Bo", "").get(t, "/watch"); !strings.Contains(g.body, "XKLD is acknowledged by Anna") {
		t.Error("nobody else sees it")
	}
	// What has been done cannot be done again.
	again := func(at string) (buttons int) {
		for _, x := range parse(t, b.get(t, at).body).named("button") {
			if a := x.attrs["data-action"] + x.attrs["value"]; a == "ack" || a == "snooze" || strings.Contains(a, "XKLD") {
				buttons++
			}
		}
		return buttons
	}
	for _, at := range []string{"/watch", "/base/XKLD", "/board"} {
		if n := again(at); n != 0 {
			t.Errorf("%s has %d buttons for what has been seen", at, n)
		}
	}
	// Who has not said who they are is asked with what came of it, and comes back.
	nobody := r.open(t, "", "")
	asked := nobody.post(t, "/press", parse(t, nobody.get(t, "/base/XHGH").body).form(t, "/press").fill())
	form := parse(t, asked.body).form(t, "/you").fill()
	form.Set("name", "Cy")
	if named := nobody.post(t, "/you", form); named.url.Path != "/base/XHGH" || named.url.Fragment != "who" || parse(t, named.body).id("who").read() != "Cy" {
		t.Errorf("after the name at %s: %s", named.url, parse(t, named.body).read())
	}
	form.Set("back", "https://elsewhere.example/")
	if named := nobody.post(t, "/you", form); named.url.Path != "/" {
		t.Errorf("a name leads to %s", named.url)
	}
	// On the base's own page, with what comes of it on top.
	g := b.get(t, "/base/XRUN")
	g = b.post(t, "/press", parse(t, g.body).form(t, "/press").fill())
	if g.url.Path != "/base/XRUN" || parse(t, g.body).id("said") == nil || !strings.Contains(parse(t, g.body).id("base").read(), "by Anna") || again("/base/XRUN") != 0 {
		t.Errorf("after the press at %s:\n%s", g.url, parse(t, g.body).read())
	}
}

// TestDutyByLink: a link's scope decides who does a duty officer's deeds,
// whether the configuration names duty officers or not.
func TestDutyByLink(t *testing.T) {
	for _, duty := range [][]string{{Surface + ":" + DutyGroup}, {"slack:U1", Surface + ":" + DutyGroup}, nil} {
		r := newRoom(t, roomOptions{limits: generous, signIn: true, duty: duty})
		r.alert(t, 1, "Cold alert: XKLD.")
		people := []struct {
			name  string
			scope access.Scope
			want  string
		}{{"anna", access.Duty, "is acknowledged by anna"}, {"bo", access.Ask, "Only a duty officer"}}
		browsers := make([]*browser, len(people))
		for i, c := range people {
			b := r.open(t, c.name, c.scope)
			browsers[i] = b
			buttons := 0
			for _, at := range []string{"/watch", "/base/XKLD"} {
				for _, f := range parse(t, b.get(t, at).body).named("form") {
					if strings.HasPrefix(f.fill().Get("text"), "ack ") || strings.HasPrefix(f.fill().Get("text"), "snooze ") {
						buttons++
					}
				}
			}
			if (buttons > 0) != (c.scope == access.Duty) {
				t.Errorf("duty %q: %s has %d buttons of duty officers", duty, c.name, buttons)
			}
		}
		for i, c := range people {
			b := browsers[i]
			mark := parse(t, b.get(t, "/").body).form(t, "/ask").fill().Get("csrf")
			for i, line := range []string{"ack XKLD", "Acknowledge XKLD", "snooze XKLD 2h", "obs XKLD -38"} {
				for _, g := range []got{
					b.post(t, "/press", url.Values{"csrf": {mark}, "deed": {newID()}, "text": {line}, "back": {"/"}}),
					b.post(t, "/ask", url.Values{"csrf": {mark}, "deed": {newID()}, "text": {line}}),
				} {
					if text := parse(t, g.body).id("talk").read(); i == 0 && !strings.Contains(text, c.want) || c.scope == access.Ask && strings.Contains(text, "acknowledged") {
						t.Errorf("duty %q: %s reads after %q:\n%s", duty, c.name, line, text)
					}
				}
			}
		}
		for _, who := range r.watch.acknowledged() {
			if who != "XKLD anna (page:anna)" {
				t.Errorf("duty %q: acknowledged %q", duty, who)
			}
		}
		if len(r.watch.acknowledged()) == 0 {
			t.Errorf("duty %q: nobody acknowledged", duty)
		}
	}
	r := newRoom(t, roomOptions{limits: generous, signIn: true, duty: []string{Surface + ":" + DutyGroup}})
	r.alert(t, 1, "Cold alert: XKLD.")
	// Whoever may read sees no buttons and cannot make them up.
	cy := r.open(t, "cy", access.Read)
	page := parse(t, cy.get(t, "/watch").body)
	if n := len(page.id("main").named("button")); n != 0 {
		t.Errorf("a reader has %d buttons", n)
	}
	if strings.Contains(cy.get(t, "/").body, "/ask") {
		t.Error("a reader has a form to ask")
	}
	mark := parse(t, cy.get(t, "/you").body).form(t, "/leave").fill().Get("csrf")
	for _, path := range []string{"/ask", "/press", "/fields", "/record/KALOMI-RUTA/check"} {
		if g := cy.post(t, path, url.Values{"csrf": {mark}, "text": {"XKLD -38 8200"}}); g.code != http.StatusForbidden {
			t.Errorf("a reader's POST %s = %d", path, g.code)
		}
	}
}

// TestStops: whoever asks while firn stops is told, and loses nothing.
func TestStops(t *testing.T) {
	p := empty(t)
	b := reader(t, p)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := p.Run(ctx, nil); err == nil {
		t.Error("Run with a context that has ended gives no error")
	}
	g := b.send(t, "/", "/ask", map[string]string{"text": goodLine})
	if g.code != http.StatusUnprocessableEntity || !strings.Contains(g.body, `value="`+goodLine+`"`) || !strings.Contains(g.body, "starting or stopping") {
		t.Errorf("%d: %s", g.code, parse(t, g.body).read())
	}
}

// TestOneShapeOneMeaning: no two states, verdicts or marks share a shape, and the
// program's own is none of them.
func TestOneShapeOneMeaning(t *testing.T) {
	r := newRoom(t, roomOptions{})
	of := map[string]string{string(r.page.assets["icon.svg"].data): "the program"}
	same := map[string]string{"part-forecast": "no-forecast", "replaced": "expired"} // what is meant is the same
	for _, is := range []string{"below", "near", "clear", "no-forecast", "part-forecast", "unchecked", "checked", "disagreed", "recompute", "expired", "replaced", "stop", "caution"} {
		shape := r.page.part("shape", is)
		if was := of[shape]; was != same[is] {
			t.Errorf("%s has the shape of %q", is, was)
		}
		of[shape] = is
	}
}

// TestLineIsWhole: after a follow-up the line to be changed is the whole
// question; what was typed stays where it says all of it.
func TestLineIsWhole(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	for _, c := range [][2]string{
		{"xkld rnav 31 m38", "xkld rnav 31 m38"},
		{"-45", "XKLD rnav 31 -45"},
		{"add DA 5340", "XKLD rnav 31 -45 DA 5340"},
		{"XKLD -38 8200 7400", "XKLD -38 8200 7400"},
		{"m41", "XKLD -41 8200, 7400"},
		{"xkld thirty eight below 8200", "xkld thirty eight below 8200"},
		{"XKLD 38 8400", ""}, // a question; its line stands in the card
		{"minus", "XKLD -38 8400"},
		{"METAR XKLD 291250Z 00000KT 9999 M38/M42 Q1034 8200", "METAR XKLD 291250Z 00000KT 9999 M38/M42 Q1034 8200"},
	} {
		g := b.send(t, "/", "/ask", map[string]string{"text": c[0]})
		page := parse(t, g.body)
		if got := page.id("text").attrs["value"]; got != c[1] {
			t.Errorf("after %q the line is %q, want %q", c[0], got, c[1])
		}
	}
}
