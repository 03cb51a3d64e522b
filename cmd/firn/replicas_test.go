package main

import (
	"bytes"
	"context"
	"encoding/json"
	"firn/adapters/testkit/process"
	"firn/cmd/wiring"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/http/httputil"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/jackc/pgx/v5"

	"firn/adapters/testkit/headless"
	"firn/adapters/testkit/installed"
)

// serving is one serve process.
type serving struct {
	*testing.T
	cmd  *exec.Cmd
	said *process.Log
	page *url.URL
}

// crew is a configuration with one cold base whose alert goes to the page, and
// the processes that serve it.
type crew struct {
	*testing.T
	dir, database string
}

func newCrew(t *testing.T, database, listener string) *crew {
	t.Helper()
	c := &crew{t, t.TempDir(), database}
	cfg := "weather: [{kind: folder, path: weather}]\npage: {listen: \"127.0.0.1:0\"" + listener + "}\nstore: {path: data/firn.db}\n" +
		"alerts: {digest: false}\n" +
		"stations: [{ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, time_zone: Etc/UTC, watch: {at: \"" + begun("UTC") + "\", days: daily, window_hours: 24, channels: [page]}}]\n"
	wx := "METAR XKLD {DDHHMM-7m}Z 00000KT 9999 FEW040 M29/M33 Q1034\n" +
		"TAF XKLD {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM31/{DDHH}Z TNM31/{DDHH+9h}Z\n"
	if err := os.Mkdir(filepath.Join(c.dir, "weather"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"config.yaml": cfg, "weather/base.demo.txt": wx} {
		if err := os.WriteFile(filepath.Join(c.dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

func (c *crew) start() *serving {
	c.Helper()
	r := &serving{T: c.T}
	c.Cleanup(r.stop)
	r.start(c)
	return r
}

// start starts it, anew after a stop.
func (r *serving) start(c *crew) {
	r.Helper()
	cmd := exec.Command(os.Args[0], "serve", "--config", "config.yaml")
	r.said = process.NewLog()
	cmd.Env, cmd.Dir, cmd.Stderr = append(os.Environ(), childPlain+"=1", childLive+"=700ms", wiring.EnvDatabase+"="+c.database), c.dir, r.said
	if err := cmd.Start(); err != nil {
		r.Fatal(err)
	}
	r.cmd = cmd
	select {
	case <-r.said.Ready():
	case <-time.After(30 * time.Second):
		r.Fatalf("it is not ready:\n%s", r.said.Tail())
	}
	r.page = &url.URL{Scheme: "http", Host: "127.0.0.1:" + readyPage.FindStringSubmatch(r.said.All())[2]}
}

func (r *serving) stop() {
	if r.cmd == nil {
		return
	}
	if err := r.cmd.Process.Signal(os.Interrupt); err != nil {
		r.Errorf("it ended by itself: %v\n%s", err, r.said.Tail())
	}
	if err := r.cmd.Wait(); err != nil {
		r.Errorf("it ended with %v\n%s", err, r.said.Tail())
	}
	r.cmd = nil
}

// link makes one and gives the path by which its person comes in.
func (c *crew) link(name string) string {
	c.Helper()
	var out, log bytes.Buffer
	h := host{stdout: &out, stderr: &log, getenv: func(n string) string { return map[string]string{wiring.EnvDatabase: c.database}[n] }, now: time.Now}
	if code := run(c.Context(), []string{"access", "add", name, "--scope", "duty", "--config", filepath.Join(c.dir, "config.yaml"), "--url", "http://page"}, h); code != exitAnswered {
		c.Fatalf("access add = %d:\n%s", code, log.String())
	}
	return strings.TrimPrefix(strings.TrimSpace(out.String()), "http://page")
}

// turns is a balancer that keeps nobody on one replica: each request goes to
// the next one.
func turns(t *testing.T, all ...*serving) *httptest.Server {
	var n atomic.Int64
	p := &httputil.ReverseProxy{FlushInterval: -1, Rewrite: func(r *httputil.ProxyRequest) {
		r.Out.URL.Scheme, r.Out.URL.Host = "http", all[int(n.Add(1))%len(all)].page.Host
		r.Out.Host = r.In.Host
	}, ErrorHandler: func(w http.ResponseWriter, _ *http.Request, _ error) { w.WriteHeader(http.StatusBadGateway) }}
	s := httptest.NewServer(p)
	t.Cleanup(s.Close)
	return s
}

// visit is somebody's browser without a window.
type visit struct {
	*testing.T
	c    http.Client
	base string
}

func newVisit(t *testing.T, base string) *visit {
	jar, _ := cookiejar.New(nil) // without options it cannot fail
	return &visit{t, http.Client{Jar: jar, Timeout: time.Minute}, base}
}

func (v *visit) do(q *http.Request, err error) string {
	v.Helper()
	if err != nil {
		v.Fatal(err)
	}
	res, err := v.c.Do(q)
	if err != nil {
		v.Fatal(err)
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	if err != nil || res.StatusCode != http.StatusOK {
		v.Fatalf("%s %s = %d, %v:\n%s", q.Method, q.URL, res.StatusCode, err, body)
	}
	return string(body)
}

func (v *visit) get(path string) string {
	v.Helper()
	return v.do(http.NewRequest("GET", v.base+path, nil))
}

// enter comes in by a link, as without a script.
func (v *visit) enter(link string) {
	v.Helper()
	v.post("/enter", url.Values{"link": {link}})
}

func (v *visit) post(path string, form url.Values) string {
	v.Helper()
	q, err := http.NewRequest("POST", v.base+path, strings.NewReader(form.Encode()))
	if err == nil {
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		q.Header.Set("Origin", v.base)
	}
	return v.do(q, err)
}

var (
	markField = regexp.MustCompile(`name="csrf" value="([^"]+)"`)
	cardStart = regexp.MustCompile(`<article`)
	recordRef = regexp.MustCompile(`href="/record/([A-Z]+-[A-Z]+)"`)
	alertForm = regexp.MustCompile(`name="card" value="(p/[0-9a-f]+)"`)
)

// talk is the conversation on a page.
func talk(page string) string {
	_, page, _ = strings.Cut(page, `id="talk"`)
	page, _, _ = strings.Cut(page, "<aside")
	return page
}

func (v *visit) mark() string {
	v.Helper()
	m := markField.FindStringSubmatch(v.get("/"))
	if m == nil {
		v.Fatal("the page has no form")
	}
	return m[1]
}

// window is a real browser on a page.
type window struct {
	*testing.T
	ctx context.Context
}

func newWindow(t *testing.T) *window {
	t.Helper()
	ctx, end, err := headless.Start(installed.Chromium().Need(t))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(end)
	ctx, cancel := context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(cancel)
	return &window{t, ctx}
}

func (w *window) open(address string) {
	w.Helper()
	if err := chromedp.Do(w.ctx, chromedp.Navigate(address)); err != nil {
		w.Fatalf("%s: %v", address, err)
	}
}

// enter opens a link and presses its button.
func (w *window) enter(link string) {
	w.Helper()
	w.open(link)
	w.reads("Come in")
	const press = "document.getElementById('link').value.length === 43 && location.hash === '' && (document.querySelector('main button').click(), true)"
	if pressed, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool](press)); err != nil || !pressed {
		w.Fatalf("the link's secret is not in its field: %v", err)
	}
}

// reads waits until a text stands on the page, and says how long that took.
func (w *window) reads(text string) time.Duration {
	w.Helper()
	quoted, _ := json.Marshal(text)
	began := time.Now()
	for {
		got, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool]("document.readyState === 'complete' && document.body.innerText.includes("+string(quoted)+")"))
		if got {
			return time.Since(began)
		}
		if time.Since(began) > 30*time.Second {
			said, _ := chromedp.Run(w.ctx, chromedp.Evaluate[string]("document.body.innerText"))
			w.Fatalf("%q does not come (%v); the page reads:\n%s", text, err, said)
		}
		time.Sleep(5 * time.Millisecond)
	}
}

// TestPageOnReplicas is the page on two processes over one database, behind a
// balancer that keeps nobody on one of them; a real browser stands open on the
// first, and everything is done through the second.
func TestPageOnReplicas(t *testing.T) {
	t.Parallel()
	pg := startPostgres(t)
	c := newCrew(t, pg.Database(t), ", behind_proxy: true")
	a, b := c.start(), c.start()
	front := turns(t, a, b)

	// A link opens on one replica, and both know who came in.
	w := newWindow(t)
	in := c.link("anna")
	w.enter(front.URL + in)
	w.reads("anna")
	bo := newVisit(t, front.URL)
	bo.enter(c.link("bo"))
	mark := bo.mark()
	form := func(deed, text string) url.Values { return url.Values{"csrf": {mark}, "deed": {deed}, "text": {text}} }

	// A conversation is one, whichever replica gets each of its messages; the
	// same form again, by whichever way, is answered once.
	for i, line := range []string{"XKLD 8200 7400", "-38", "add DA 5340"} {
		bo.post("/ask", form(fmt.Sprint(i), line))
	}
	for range 3 {
		bo.post("/ask", form("2", "add DA 5340"))
	}
	page := talk(bo.get("/"))
	if n := len(cardStart.FindAllString(page, -1)); n != 3 || !strings.Contains(page, "5470") {
		t.Errorf("%d answers, want three, the last with the altitude that was added:\n%s", n, page)
	}

	// What is done through B arrives on a page that is open on A.
	w.enter(a.page.String() + in)
	w.reads("Live.")
	w.open(a.page.String() + "/log")
	w.reads("Live.")
	onB := &visit{t, bo.c, b.page.String()}
	if got := onB.mark(); got != mark {
		t.Error("the replicas have different marks for one browser")
	}
	onB.post("/ask", form("3", "XKLD -38 FAF 8201"))
	t.Logf("a result through B stood on A after %v", w.reads("FAF 8201"))
	id := recordRef.FindStringSubmatch(onB.get("/log"))[1]
	w.open(a.page.String() + "/record/" + id)
	w.reads("Live.")
	cy := newVisit(t, b.page.String())
	cy.enter(c.link("cy"))
	cy.post("/record/"+id+"/check", url.Values{"csrf": {cy.mark()}, "deed": {"1"}, "how": {"confirm"}})
	t.Logf("a check through B stood on A after %v", w.reads("Checked by cy"))
	w.open(a.page.String() + "/watch")
	w.reads("(line −25)")
	w.reads("Live.")
	alert := alertForm.FindStringSubmatch(onB.get("/watch"))
	if alert == nil {
		t.Fatal("B has no alert")
	}
	f := form("4", "ack XKLD")
	f.Set("card", alert[1])
	f.Set("back", "/watch")
	onB.post("/press", f)
	t.Logf("an acknowledgement through B stood on A after %v", w.reads("XKLD is acknowledged by bo"))

	// A process that was stopped is not live within the beats that may be missed,
	// three of 15 s as people run it, and is again when it goes on.
	if err := a.cmd.Process.Signal(syscall.SIGSTOP); err != nil {
		t.Fatal(err)
	}
	goOn := sync.OnceFunc(func() { _ = a.cmd.Process.Signal(syscall.SIGCONT) })
	t.Cleanup(goOn)
	t.Logf("A stopped, and its page said so after %v", w.reads("Not live since"))
	goOn()
	t.Logf("A went on, and its page was live after %v", w.reads("Live."))

	// A replica that hears nothing any more hears again, and of what it missed.
	db, err := pgx.Connect(t.Context(), c.database)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close(context.WithoutCancel(t.Context()))
	var cut int
	if err := db.QueryRow(t.Context(), "SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE datname = current_database() AND application_name LIKE '% listens'").Scan(&cut); err != nil || cut != 2 {
		t.Fatalf("%d replicas listened, %v", cut, err)
	}
	w.open(a.page.String() + "/log")
	onB.post("/ask", form("5", "XKLD -38 FAF 10002"))
	t.Logf("after the connection was cut it took %v", w.reads("FAF 10002"))

	// After a restart of everything the conversation and the posts stand there.
	was := talk(bo.get("/"))
	a.stop()
	b.stop()
	a.start(c)
	b.start(c)
	if is := talk(bo.get("/")); len(cardStart.FindAllString(is, -1)) != len(cardStart.FindAllString(was, -1)) || !strings.Contains(is, "10002") {
		t.Errorf("after a restart the conversation is:\n%s\nwas:\n%s", is, was)
	}
	for range 2 {
		if watched := bo.get("/watch"); strings.Count(watched, "Cold alert: XKLD") != 1 || !strings.Contains(watched, "XKLD is acknowledged by bo") {
			t.Errorf("after a restart the watch reads:\n%s", watched)
		}
	}
	bo.post("/ask", form("5", "XKLD -38 FAF 10002"))
	bo.post("/ask", form("6", "-41"))
	if is := talk(bo.get("/")); strings.Count(is, "<article") != strings.Count(was, "<article")+1 || !strings.Contains(is, "−41\u00a0°C") {
		t.Errorf("after a restart a follow-up is:\n%s", is)
	}
}

// TestPageAfterRestart is the same of one process on SQLite, with a console
// beside it that changes what a page shows.
func TestPageAfterRestart(t *testing.T) {
	t.Parallel()
	c := newCrew(t, "", "")
	a := c.start()
	bo := newVisit(t, a.page.String())
	mark := bo.mark()
	form := url.Values{"csrf": {mark}, "deed": {"1"}, "text": {"XKLD -38 FAF 8200"}}
	id := recordRef.FindStringSubmatch(bo.post("/ask", form))[1]
	stream, err := bo.c.Get(bo.base + "/live?on=" + url.QueryEscape("/record/"+id))
	if err != nil {
		t.Fatal(err)
	}
	defer stream.Body.Close()
	heard := make(chan struct{})
	go func() {
		defer close(heard)
		var all []byte
		for b := make([]byte, 4096); !bytes.Contains(all, []byte("Checked by")); {
			n, err := stream.Body.Read(b)
			if all = append(all, b[:n]...); err != nil {
				t.Errorf("the open page was not told: %v", err)
				return
			}
		}
	}()
	var out bytes.Buffer
	// The page answers before the record is written: another process may look
	// for it too early.
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(50 * time.Millisecond) {
		out.Reset()
		h := host{stdin: strings.NewReader("check " + id + "\n"), stdout: &out, stderr: &out, getenv: func(string) string { return "" }, now: time.Now}
		if code := run(t.Context(), []string{"chat", "--config", filepath.Join(c.dir, "config.yaml")}, h); code != exitAnswered {
			t.Fatalf("chat = %d: %s", code, out.String())
		}
		if !strings.Contains(out.String(), "No record is called") || time.Now().After(end) {
			break
		}
	}
	began := time.Now()
	select {
	case <-heard:
		t.Logf("what the console did was told after %v", time.Since(began))
	case <-time.After(30 * time.Second):
		t.Fatalf("the open page was not told; the console said:\n%s", out.String())
	}
	stream.Body.Close()
	a.stop()
	a.start(c)
	bo.base = a.page.String()
	bo.post("/ask", form)
	if is := talk(bo.get("/")); len(cardStart.FindAllString(is, -1)) != 1 || !strings.Contains(is, id) {
		t.Errorf("after a restart the conversation is:\n%s", is)
	}
}
