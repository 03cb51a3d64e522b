package page

import (
	"bufio"
	"context"
	"fmt"
	"net/http"
	"net/http/httptest"
	"net/netip"
	"net/url"
	"strings"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/reply"
)

// raw is a request without a browser's habits.
func raw(t *testing.T, h http.Handler, method, target string, head map[string]string, body string) *httptest.ResponseRecorder {
	t.Helper()
	r := httptest.NewRequest(method, target, strings.NewReader(body))
	r.Host = "127.0.0.1:7470"
	if body != "" {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	for k, v := range head {
		if k == "Host" {
			r.Host = v
			continue
		}
		r.Header.Set(k, v)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, r)
	return w
}

// TestWrongDoor: without a sign-in the page answers this machine alone.
func TestWrongDoor(t *testing.T) {
	h := newRoom(t, roomOptions{limits: generous}).page.Handler()
	for host, want := range map[string]int{
		"127.0.0.1:7470": 200, "localhost": 200, "LOCALHOST:80": 200, "[::1]:7470": 200, "127.8.9.1": 200,
		"firn.example.org": 403, "localhost.example.org": 403, "127.0.0.1.example.org:80": 403, "": 403, "10.0.0.1:7470": 403, "0.0.0.0": 403,
	} {
		if got := raw(t, h, "GET", "/", map[string]string{"Host": host}, "").Code; got != want {
			t.Errorf("as %q = %d, want %d", host, got, want)
		}
	}
	for _, header := range forwarded {
		w := raw(t, h, "GET", "/board", map[string]string{header: "10.0.0.1"}, "")
		if w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "behind_proxy") {
			t.Errorf("with %s = %d", header, w.Code)
		}
	}
	// A proxy that says nothing of itself shows by the page's address in the browser,
	// and by a version of HTTP that no browser speaks.
	for name, c := range map[string]struct {
		head map[string]string
		want int
	}{
		"a page of another name":    {map[string]string{"Sec-Fetch-Site": "same-origin", "Referer": "https://firn.example.org/board"}, 403},
		"a form of another name":    {map[string]string{"Sec-Fetch-Site": "same-origin", "Origin": "https://firn.example.org"}, 403},
		"this page":                 {map[string]string{"Sec-Fetch-Site": "same-origin", "Referer": "http://127.0.0.1:7470/board", "Origin": "http://127.0.0.1:7470"}, 200},
		"a link on somebody's wiki": {map[string]string{"Sec-Fetch-Site": "cross-site", "Referer": "https://wiki.example.org/"}, 200},
	} {
		if got := raw(t, h, "GET", "/board", c.head, "").Code; got != c.want {
			t.Errorf("%s = %d, want %d", name, got, c.want)
		}
	}
	old := httptest.NewRequest("GET", "/board", nil)
	old.Host, old.Proto, old.ProtoMajor, old.ProtoMinor = "127.0.0.1:7470", "HTTP/1.0", 1, 0
	w := httptest.NewRecorder()
	if h.ServeHTTP(w, old); w.Code != http.StatusForbidden || !strings.Contains(w.Body.String(), "behind_proxy") {
		t.Errorf("by HTTP/1.0 = %d", w.Code)
	}
	for listen, want := range map[string]bool{"127.0.0.1:0": true, "localhost:7470": true, "[::1]:0": true, ":7470": false, "0.0.0.0:7470": false, "[::]:7470": false, "10.0.0.1:7470": false, "firn:7470": false} {
		if got := Loopback(listen); got != want {
			t.Errorf("Loopback(%q) = %v", listen, got)
		}
	}
}

// TestSignIn: beyond this machine nobody is let in without a link, whose
// secret stays in no address and no cookie.
func TestSignIn(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	b := newBrowser(r.server.URL)
	for _, path := range []string{"/", "/board", "/base/XKLD", "/watch", "/log", "/record/KALOMI-RUTA", "/record/KALOMI-RUTA/card.pdf", "/procedures", "/procedure?station=XKLD&name=rnav+31", "/you", "/live?on=%2Fboard", "/stations?typed=x", "/picture/x/0", "/nothing"} {
		g := b.get(t, path)
		if g.code != http.StatusUnauthorized || strings.Contains(g.body, "XKLD") || strings.Contains(g.body, "<nav") {
			t.Errorf("%s without a link = %d", path, g.code)
		}
	}
	for _, path := range []string{"/ask", "/press", "/fields", "/you", "/leave"} {
		if g := b.post(t, path, url.Values{"text": {"XKLD -38 8200"}}); g.code != http.StatusUnauthorized {
			t.Errorf("POST %s without a link = %d", path, g.code)
		}
	}
	secret := r.link(t, "anna", access.Ask)
	other, _ := access.Secret()
	for _, wrong := range []string{other, secret[:42], secret + "x", "x", "", strings.ToUpper(secret)} {
		if g := b.enter(t, wrong); g.code != http.StatusForbidden || !strings.Contains(g.body, "does not open") {
			t.Errorf("a wrong link = %d", g.code)
		}
	}
	if got := strings.Count(r.log.text(), `msg="sign-in refused" why="no good link" from=127.0.0.1`); got != 6 || r.page.Refused()["link"] != 6 {
		t.Errorf("six wrong links are %d lines and counted as %v", got, r.page.Refused())
	}
	// Whoever only looks, as chat services do, uses nothing up and learns nothing.
	for _, method := range []string{"HEAD", "GET"} {
		w := raw(t, r.page.Handler(), method, "/enter", nil, "")
		if w.Code != 200 || w.Header().Get("Set-Cookie") != "" {
			t.Errorf("looking whether the link is there = %d, %v", w.Code, w.Header())
		}
		// A link of before goes on to where its secret is sent to nobody.
		w = raw(t, r.page.Handler(), method, "/enter/"+secret, nil, "")
		if w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/enter#"+secret || w.Header().Get("Set-Cookie") != "" || w.Header().Get("Referrer-Policy") != "no-referrer" {
			t.Errorf("a link of before = %d, %v", w.Code, w.Header())
		}
	}
	// Another site's form signs nobody in.
	if w := raw(t, r.page.Handler(), "POST", "/enter", map[string]string{"Sec-Fetch-Site": "cross-site"}, "link="+secret); w.Code != http.StatusForbidden || w.Header().Get("Set-Cookie") != "" || r.page.Refused()["form"] != 1 {
		t.Errorf("another site's form = %d, %v", w.Code, r.page.Refused())
	}
	// Step by step: the secret is in no address, and is told to nobody.
	step := newBrowser(r.server.URL)
	step.c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	g := step.enter(t, secret)
	if g.code != http.StatusSeeOther || g.head.Get("Location") != "/" || g.head.Get("Cache-Control") != "no-store" {
		t.Errorf("the link = %d, %v", g.code, g.head)
	}
	cookie := g.head.Get("Set-Cookie")
	for _, part := range []string{"firn=", "HttpOnly", "SameSite=Lax", "Path=/"} {
		if !strings.Contains(cookie, part) {
			t.Errorf("the cookie %q lacks %s", strings.ReplaceAll(cookie, secret, "SECRET"), part)
		}
	}
	if strings.Contains(cookie, secret) {
		t.Error("the cookie is the link's secret")
	}
	if page := step.get(t, "/"); page.code != 200 || strings.Contains(page.body, secret) || !strings.Contains(page.body, "anna") {
		t.Errorf("the page after the link = %d", page.code)
	}
	if strings.Contains(r.log.text(), secret) || strings.Contains(r.log.text(), other) {
		t.Error("the log holds a link's secret")
	}
	// The record knows whoever came in by the link's name, whatever name is sent.
	mark := parse(t, step.get(t, "/you").body).form(t, "/leave").fill().Get("csrf")
	step.post(t, "/you", url.Values{"csrf": {mark}, "name": {"bo"}})
	step.c.CheckRedirect = nil
	id := recordOf(t, step, goodLine)
	v := parse(t, step.get(t, "/record/"+id+"/check").body).form(t, "/record/"+id+"/check").fill()
	v.Set("how", "confirm")
	v.Set("name", "bo")
	if g := step.post(t, "/record/"+id+"/check", v); !strings.Contains(parse(t, g.body).read(), "is your own") {
		t.Errorf("whoever computed it checks it under another name:\n%s", parse(t, g.body).read())
	}
	// Signed out, the cookie opens nothing.
	u, _ := url.Parse(r.server.URL)
	old := step.c.Jar.Cookies(u)
	step.send(t, "/you", "/leave", nil)
	again := newBrowser(r.server.URL)
	again.c.Jar.SetCookies(u, old)
	if g := again.get(t, "/board"); g.code != http.StatusUnauthorized {
		t.Errorf("a cookie that was signed out = %d", g.code)
	}
}

// TestRevoked: a revoked link ends what came in by it, the open pages too.
func TestRevoked(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	bo := r.open(t, "bo", access.Ask)
	for _, c := range []struct {
		name string
		beat time.Duration
		told []pagestate.Change // by the store
	}{
		{"at the next beat", 5 * time.Millisecond, nil},
		{"at once, with nothing that comes meanwhile", time.Hour, []pagestate.Change{{Kind: pagestate.Access}, {Kind: pagestate.All}}},
		{"where another process tells of anything", time.Hour, []pagestate.Change{{Kind: pagestate.All}}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r.page.beat = c.beat
			b := r.open(t, "anna", access.Ask)
			if g := b.get(t, "/board"); g.code != 200 {
				t.Fatalf("the board = %d", g.code)
			}
			events, _, stop := stream(t, b, "/board", "", "")
			defer stop()
			others, _, stop := stream(t, bo, "/log?", "", "")
			defer stop()
			next(t, events)
			next(t, others)
			if found, err := r.access.RevokeToken(t.Context(), "anna", time.Now()); !found || err != nil {
				t.Fatal(found, err)
			}
			if g := b.get(t, "/board"); g.code != http.StatusUnauthorized {
				t.Errorf("the board after the link was revoked = %d", g.code)
			}
			for _, is := range c.told {
				r.page.Changed(is)
			}
			select {
			case e, open := <-events:
				if open {
					t.Errorf("the open page goes on with %.100s", e)
				}
			case <-time.After(testPatience):
				t.Error("the open page goes on")
			}
			recordOf(t, bo, goodLine)
			next(t, others) // whoever may stay does
		})
	}
	// A session of somebody who did not come for long ends too.
	b := r.open(t, "cy", access.Ask)
	r.page.o.Now = func() time.Time { return time.Now().Add(SessionLife + time.Hour) }
	if g := b.get(t, "/board"); g.code != http.StatusUnauthorized {
		t.Errorf("the board after two idle months = %d", g.code)
	}
}

// TestForged: a form that did not come from a page of ours in this browser
// does nothing.
func TestForged(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true})
	b := r.open(t, "anna", access.Duty)
	r.alert(t, 1, "Cold alert: XKLD.")
	bo := r.open(t, "bo", access.Duty)
	good := parse(t, b.get(t, "/watch").body).form(t, "/press").fill()
	theirs := parse(t, bo.get(t, "/watch").body).form(t, "/press").fill()
	send := func(v url.Values, head map[string]string) int {
		t.Helper()
		q, err := http.NewRequest("POST", b.base+"/press", strings.NewReader(v.Encode()))
		if err != nil {
			t.Fatal(err)
		}
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		for k, x := range head {
			q.Header.Set(k, x)
		}
		return b.do(t, q).code
	}
	without := url.Values{"text": good["text"], "card": good["card"], "deed": good["deed"]}
	for _, c := range []struct {
		name string
		v    url.Values
		head map[string]string
	}{
		{"no mark", without, map[string]string{"Sec-Fetch-Site": "same-origin"}},
		{"somebody else's mark", theirs, map[string]string{"Sec-Fetch-Site": "same-origin"}},
		{"from another site", good, map[string]string{"Sec-Fetch-Site": "cross-site"}},
		{"from a sibling site", good, map[string]string{"Sec-Fetch-Site": "same-site"}},
		{"another origin, by an old browser", good, map[string]string{"Origin": "https://elsewhere.example"}},
		{"no origin at all, by an old browser", good, map[string]string{"Origin": "null"}},
	} {
		if code := send(c.v, c.head); code != http.StatusForbidden {
			t.Errorf("%s: %d, want 403", c.name, code)
		}
	}
	if got := r.watch.acknowledged(); len(got) != 0 {
		t.Errorf("forged forms acknowledged %q", got)
	}
	if code := send(good, map[string]string{"Origin": b.base}); code != 200 {
		t.Errorf("an old browser's own form = %d", code)
	}
	if got := r.watch.acknowledged(); len(got) != 1 {
		t.Errorf("acknowledged %q", got)
	}
	// A line on a page that has gone old is not lost.
	g := b.post(t, "/ask", url.Values{"csrf": {"old"}, "text": {goodLine}})
	if g.code != http.StatusForbidden || !strings.Contains(g.body, `value="`+goodLine+`"`) || !strings.Contains(g.body, "Send it again") {
		t.Errorf("a line from an old page = %d", g.code)
	}
	big := parse(t, b.get(t, "/").body).form(t, "/ask").fill()
	big.Set("text", strings.Repeat("x", mostBody+1))
	if g := b.post(t, "/ask", big); g.code != http.StatusRequestEntityTooLarge || !strings.Contains(g.body, "leave out") {
		t.Errorf("a form of %d bytes = %d", mostBody, g.code)
	}
}

// TestProxy: the headers of a proxy are believed where they are configured.
func TestProxy(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous, signIn: true, proxy: true})
	h := r.page.Handler()
	secret := r.link(t, "anna", access.Ask)
	front := map[string]string{"Host": "127.0.0.1:7470", "X-Forwarded-Host": "firn.example.org", "X-Forwarded-Proto": "https", "X-Forwarded-For": "1.1.1.1, 10.2.3.4"}
	front["Origin"] = "https://firn.example.org"
	w := raw(t, h, "POST", "/enter", front, "link="+secret)
	cookie := w.Header().Get("Set-Cookie")
	if w.Code != http.StatusSeeOther || !strings.HasPrefix(cookie, "__Host-firn=") || !strings.Contains(cookie, "Secure") || w.Header().Get("Strict-Transport-Security") == "" {
		t.Fatalf("the link = %d, %v", w.Code, w.Header())
	}
	front["Cookie"], _, _ = strings.Cut(cookie, ";")
	page := raw(t, h, "GET", "/", front, "")
	if page.Code != 200 {
		t.Fatalf("the page = %d", page.Code)
	}
	v := parse(t, page.Body.String()).form(t, "/ask").fill()
	v.Set("text", goodLine)
	front["Origin"] = "https://firn.example.org"
	if w := raw(t, h, "POST", "/ask", front, v.Encode()); w.Code != http.StatusSeeOther {
		t.Errorf("a form through the proxy = %d", w.Code)
	}
	front["Origin"] = "https://elsewhere.example"
	if w := raw(t, h, "POST", "/ask", front, v.Encode()); w.Code != http.StatusForbidden {
		t.Errorf("another site's form through the proxy = %d", w.Code)
	}
	// Who it is counts by what the proxy wrote, not by what the client did.
	q := httptest.NewRequest("GET", "/", nil)
	q.Header.Set("X-Forwarded-For", "1.1.1.1, 10.2.3.4")
	if got := r.page.address(q); got != "10.2.3.4" {
		t.Errorf("the address is %s", got)
	}
	for want, lines := range map[string][]string{
		"10.2.3.5":        {"1.1.1.1", "10.2.3.5"}, // some proxies write a line of their own
		"10.2.3.6":        {"10.2.3.6:50123"},      // some add the port
		"2001:db8::/64":   {"1.1.1.1, [2001:db8::7]:443"},
		"2001:db8:1::/64": {"[2001:db8:1::7]"},
		"192.0.2.1":       {"10.2.3.7", "unknown"}, // what says nothing is no address; httptest's own
	} {
		l := httptest.NewRequest("GET", "/", nil)
		l.Header["X-Forwarded-For"] = lines
		if got := r.page.address(l); got != want {
			t.Errorf("the address of %q is %s, want %s", lines, got, want)
		}
	}
	l := httptest.NewRequest("GET", "/", nil)
	if l.Header["X-Forwarded-Proto"] = []string{"https", "http"}; r.page.secure(l) {
		t.Error("what the client says of the way is believed")
	}
	direct := newRoom(t, roomOptions{limits: generous, signIn: true}).page
	if got := direct.address(q); got != "192.0.2.1" { // httptest's own
		t.Errorf("without a proxy the address is %s", got)
	}
	if direct.secure(q) {
		t.Error("without a proxy a header makes the way secure")
	}
	if a, b := prefix(netip.MustParseAddr("2001:db8::1")), prefix(netip.MustParseAddr("2001:db8::2:3%eth0")); a != b || a != "2001:db8::/64" {
		t.Errorf("addresses of one household count as %s and %s", a, b)
	}
}

// TestLimits: too much from one browser slows that one alone.
func TestLimits(t *testing.T) {
	r := newRoom(t, roomOptions{signIn: true, limits: Limits{Reads: 5, ReadEvery: time.Hour, Deeds: 2, DeedEvery: time.Hour, LoginAttempts: 6, LoginAttemptEvery: time.Hour, Entries: 5, EntryEvery: time.Hour}})
	// A good link is no try: a whole crew comes in from one address.
	r.page.o.Limits.Reads = 1000
	for i := range 10 {
		r.open(t, fmt.Sprintf("crew %d", i), access.Ask)
	}
	r.page.o.Limits.Reads = 5
	r.page.limits = newLimiter(time.Now)
	anna, bo := r.open(t, "anna", access.Ask), r.open(t, "bo", access.Ask)
	codes := map[int]int{}
	v := parse(t, anna.get(t, "/").body).form(t, "/ask").fill()
	v.Set("text", "help")
	anna.c.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	for range 4 {
		codes[anna.post(t, "/ask", v).code]++
	}
	if codes[303] != 2 || codes[429] != 2 {
		t.Errorf("four forms: %v", codes)
	}
	codes = map[int]int{}
	var last got
	for range 6 {
		last = anna.get(t, "/board")
		codes[last.code]++
	}
	if codes[429] == 0 || last.head.Get("Retry-After") == "" {
		t.Errorf("six pages: %v", codes)
	}
	if g := bo.get(t, "/board"); g.code != 200 {
		t.Errorf("somebody else = %d", g.code)
	}
	stranger := newBrowser(r.server.URL)
	codes = map[int]int{}
	for range 6 {
		codes[stranger.post(t, "/enter", url.Values{"link": {"x"}}).code]++
	}
	if codes[403] != 6 {
		t.Errorf("six wrong links, after two good ones: %v", codes)
	}
	if g := stranger.post(t, "/enter", url.Values{"link": {"x"}}); g.code != http.StatusTooManyRequests || r.page.Refused()["often"] != 1 || !strings.Contains(r.log.text(), `why="too many tries"`) {
		t.Errorf("a seventh = %d, %v", g.code, r.page.Refused())
	}
	// A good link opens all the same, from the same address; one that was ended does not.
	g := newBrowser(r.server.URL).post(t, "/enter", url.Values{"link": {r.link(t, "eve", access.Read)}})
	ended := r.link(t, "ed", access.Read)
	if _, err := r.access.RevokeToken(t.Context(), "ed", time.Now()); err != nil {
		t.Fatal(err)
	}
	r.page.good = goodLinks{} // a second later
	if e := newBrowser(r.server.URL).post(t, "/enter", url.Values{"link": {ended}}); g.code != 200 || e.code != http.StatusTooManyRequests || r.page.Refused()["often"] != 2 {
		t.Errorf("a good link = %d, an ended one = %d, %v", g.code, e.code, r.page.Refused())
	}
	// Who goes on trying fills neither the log nor, with a good link, the store.
	for range 20 {
		stranger.post(t, "/enter", url.Values{"link": {"x"}})
	}
	if n := strings.Count(r.log.text(), `why="too many tries"`); n != mostTold || r.page.Refused()["often"] != 22 {
		t.Errorf("22 tries too many are told %d times, want %d; %v", n, mostTold, r.page.Refused())
	}
	r.page.limits = newLimiter(time.Now)
	cyd, came := r.link(t, "cyd", access.Read), map[int]int{}
	for range 5 + 3 {
		came[newBrowser(r.server.URL).post(t, "/enter", url.Values{"link": {cyd}}).code]++
	}
	if came[200] != 5 || came[429] != 3 {
		t.Errorf("browsers by one link: %v", came)
	}
	if g := newBrowser(r.server.URL).post(t, "/enter", url.Values{"link": {r.link(t, "dee", access.Read)}}); g.code != 200 {
		t.Errorf("by another link = %d", g.code)
	}
}

// TestLimiterForgets: a flood of addresses fills no memory, and does not let
// whoever goes on trying begin anew.
func TestLimiterForgets(t *testing.T) {
	now := time.Now()
	l := newLimiter(func() time.Time { return now })
	took := func(key string) bool {
		wait, _ := l.take(key, 2, time.Second)
		return wait == 0
	}
	took("trying")
	took("trying")
	for i := range 2 * mostBuckets {
		if !took(fmt.Sprint("address ", i)) {
			t.Fatalf("address %d is refused", i)
		}
		if i%1000 == 0 && took("trying") {
			t.Fatalf("after %d others who goes on trying is let in", i)
		}
	}
	if n := l.buckets.Len(); n != mostBuckets {
		t.Errorf("%d buckets are kept, want %d", n, mostBuckets)
	}
	now = now.Add(time.Second)
	if !took("trying") || took("trying") {
		t.Error("a second later one more is let in, and one alone")
	}
	if wait, give := l.take("other", 1, time.Second); wait != 0 {
		t.Error("the first waits")
	} else if give(); !took("other") {
		t.Error("what was given back is gone")
	}
}

// stream opens one and gives its events.
func stream(t testing.TB, b *browser, on, at, last string) (events <-chan string, code int, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	q, err := http.NewRequestWithContext(ctx, "GET", b.base+"/live?on="+url.QueryEscape(on)+"&at="+url.QueryEscape(at), nil)
	if err != nil {
		t.Fatal(err)
	}
	if last != "" {
		q.Header.Set("Last-Event-ID", last)
	}
	c := b.c
	c.Timeout = 0
	res, err := c.Do(q)
	if err != nil {
		t.Fatal(err)
	}
	out := make(chan string, 100)
	go func() {
		defer close(out)
		defer res.Body.Close()
		s := bufio.NewScanner(res.Body)
		s.Buffer(nil, 1<<20)
		event := ""
		for s.Scan() {
			if line := s.Text(); line != "" {
				event += line + "\n"
				continue
			}
			if strings.Contains(event, "data: ") {
				out <- event
			}
			event = ""
		}
	}()
	return out, res.StatusCode, cancel
}

// next is the next event.
func next(t testing.TB, events <-chan string) string {
	t.Helper()
	select {
	case e, ok := <-events:
		if !ok {
			t.Fatal("the stream has ended")
		}
		return e
	case <-time.After(testPatience):
		t.Fatal("no event came")
	}
	return ""
}

func markIn(t testing.TB, page string) string {
	t.Helper()
	return parse(t, page).named("body")[0].attrs["data-at"]
}

// TestLive: a page gets what changes, and after a break what it lacks.
func TestLive(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	b := r.open(t, "Anna", "")
	at := markIn(t, b.get(t, "/").body)
	events, code, stop := stream(t, b, "/", at, "")
	if code != 200 {
		t.Fatalf("the stream = %d", code)
	}
	id := recordOf(t, b, goodLine)
	e := next(t, events)
	if !strings.Contains(e, id) || !strings.Contains(e, `"into":"talk"`) {
		t.Errorf("the answer came as %.300s", e)
	}
	last := ""
	for line := range strings.Lines(e) {
		if n, ok := strings.CutPrefix(line, "id: "); ok {
			last = strings.TrimSpace(n)
		}
	}
	stop()
	// Another person checks while the connection is down.
	c := r.open(t, "Bo", "")
	v := parse(t, c.get(t, "/record/"+id+"/check").body).form(t, "/record/"+id+"/check").fill()
	v.Set("how", "confirm")
	c.post(t, "/record/"+id+"/check", v)
	eventually(t, "the card is changed", func() bool {
		return strings.Contains(parse(t, b.get(t, "/").body).id("talk").read(), "Checked by Bo")
	})
	events, _, stop = stream(t, b, "/", at, last)
	defer stop()
	if e := next(t, events); !strings.Contains(e, "Checked by Bo") || !strings.Contains(e, `"say":"Record `+id+` is checked`) {
		t.Errorf("after the break came %.300s", e)
	}
	// What changed while no stream was open comes at once.
	at = markIn(t, b.get(t, "/").body)
	p := r.page
	ref := r.room.find(t, p, func(k *entry) bool { return k.Reply.Record != nil })
	if err := p.Change(t.Context(), ref, chat.Message{Reply: reply.Reply{Facts: []string{"In the break."}}}); err != nil {
		t.Fatal(err)
	}
	between, _, stop1 := stream(t, b, "/", at, "")
	defer stop1()
	if e := next(t, between); !strings.Contains(e, "In the break.") {
		t.Errorf("what changed in between came as %.300s", e)
	}
	// A page of another process lacks everything.
	events, _, stop2 := stream(t, b, "/board", "OTHERS.99", "")
	defer stop2()
	if e := next(t, events); !strings.Contains(e, `"id":"board"`) {
		t.Errorf("after a restart came %.300s", e)
	}
	// One that is up to date gets nothing until something changes.
	at = markIn(t, b.get(t, "/record/"+id).body)
	events, _, stop3 := stream(t, b, "/record/"+id, at, "")
	defer stop3()
	// The record may still tell of what was done before the page was made.
	for quiet := false; !quiet; {
		select {
		case <-events:
		case <-time.After(300 * time.Millisecond):
			quiet = true
		}
	}
	r.page.Show(boardOf(), time.Now())
	select {
	case e := <-events:
		t.Errorf("a minute that changed nothing came as %.300s", e)
	case <-time.After(200 * time.Millisecond):
	}
}

// TestLiveEnds: a shutdown does not wait for open pages, and nobody opens
// without end.
func TestLiveEnds(t *testing.T) {
	r := newRoom(t, roomOptions{limits: Limits{Reads: 1e6, Deeds: 1e6, Streams: 2}})
	b := r.open(t, "", "")
	b.get(t, "/")
	var all []<-chan string
	for range 2 {
		events, code, stop := stream(t, b, "/board", "", "")
		defer stop()
		if code != 200 {
			t.Fatalf("the stream = %d", code)
		}
		next(t, events) // a page without a mark lacks everything
		all = append(all, events)
	}
	_, code, stop := stream(t, b, "/board", "", "")
	if stop(); code != http.StatusServiceUnavailable {
		t.Errorf("a third stream of one browser = %d", code)
	}
	began := time.Now()
	r.stop()
	for _, events := range all {
		for range events {
		}
	}
	if took := time.Since(began); took > testPatience/2 {
		t.Errorf("the room closed after %v", took)
	}
	if r.page.streams.all != 0 || len(r.page.streams.byKey) != 0 {
		t.Errorf("%d streams are still counted", r.page.streams.all)
	}
}
