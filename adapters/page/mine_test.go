package page

import (
	"bufio"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"firn/bot/access"
	"firn/bot/record"
	"firn/bot/reply"
)

// TestForYou: who has said their name reads on the first screen what waits for
// them, each line a way to the record with its figures; nobody else does.
func TestForYou(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna, bo, nobody := r.open(t, "Anna", ""), r.open(t, "Bo", ""), r.open(t, "", "")
	id := recordOf(t, anna, goodLine)
	if g := bo.get(t, "/"); !strings.Contains(g.body, "For you: 1 to check") || !strings.Contains(g.body, `href="/record/`+id+`"`) {
		t.Errorf("Bo has nothing to check:\n%s", parse(t, g.body).read())
	}
	// A page that was open when the configuration was read again comes to what is there now.
	events, _, stop := stream(t, newRoom(t, roomOptions{limits: generous}).open(t, "Bo", ""), "/", markIn(t, bo.get(t, "/").body), "")
	defer stop()
	if e := next(t, events); !strings.Contains(e, `"id":"mine"`) || strings.Contains(e, "to check") {
		t.Errorf("what waits by another configuration comes as %.300s", e)
	}
	for name, b := range map[string]*browser{"the author": anna, "nobody": nobody} {
		if g := b.get(t, "/"); strings.Contains(g.body, "For you:") {
			t.Errorf("%s has something to check", name)
		}
	}
	if _, _, err := r.book.Do(t.Context(), id, record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Observed: true}}); err != nil {
		t.Fatal(err)
	}
	if g := anna.get(t, "/"); !strings.Contains(g.body, "For you: 1 to compute again") || !strings.Contains(g.body, "−45 now, worked at −38") {
		t.Errorf("Anna is not told:\n%s", parse(t, g.body).read())
	}
	if g := bo.get(t, "/"); strings.Contains(g.body, "For you:") {
		t.Error("Bo is to check what is out of date")
	}
}

// TestStreamWhileStopping: a page that comes while firn stops, or while another
// configuration takes over, is let go at once, to come to what is there next.
func TestStreamWhileStopping(t *testing.T) {
	p, err := New(slog.New(slog.DiscardHandler), Options{})
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_ = p.Run(ctx, nil)
	server := httptest.NewServer(p.Handler())
	defer server.Close()
	c := http.Client{Timeout: 5 * time.Second}
	res, err := c.Get(server.URL + "/live?on=%2F")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if _, err := io.ReadAll(res.Body); err != nil || res.StatusCode != http.StatusOK {
		t.Errorf("the stream stays open (%d, %v)", res.StatusCode, err)
	}
}

// TestStreamBetweenBeats: a stream outlives the time that a write may take, over
// HTTP/2 too, where the end of that time is the end of the stream whether anything is
// being written or not.
func TestStreamBetweenBeats(t *testing.T) {
	p, err := New(slog.New(slog.DiscardHandler), Options{Beat: 400 * time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	p.within = 300 * time.Millisecond
	server := httptest.NewUnstartedServer(p.Handler())
	server.EnableHTTP2 = true
	server.StartTLS()
	defer server.Close()
	c := server.Client()
	c.Timeout = testPatience
	res, err := c.Get(server.URL + "/live?on=%2Fboard")
	if err != nil {
		t.Fatal(err)
	}
	defer res.Body.Close()
	if res.ProtoMajor != 2 {
		t.Fatalf("the stream comes by %s", res.Proto)
	}
	s, beat := bufio.NewScanner(res.Body), false
	for !beat && s.Scan() {
		beat = s.Text() == "event: beat"
	}
	if !beat {
		t.Errorf("the stream ended before its first beat: %v", s.Err())
	}
}

// TestPrivateRecord: a record of somebody's direct message is, at every address,
// as one that was never made.
func TestPrivateRecord(t *testing.T) {
	r := newRoom(t, roomOptions{limits: generous})
	anna := r.open(t, "Anna", "")
	kept := r.private(t)
	const unknown = "KALOMI-RUTA"
	for _, path := range []string{"/record/NAME", "/record/NAME/check", "/record/NAME/card.pdf"} {
		is, never := anna.get(t, strings.Replace(path, "NAME", kept.ID, 1)), anna.get(t, strings.Replace(path, "NAME", unknown, 1))
		a, b := strings.ReplaceAll(parse(t, is.body).read(), kept.ID, "NAME"), strings.ReplaceAll(parse(t, never.body).read(), unknown, "NAME")
		if is.code != http.StatusNotFound || is.code != never.code || a != b || !strings.Contains(a, "No such record") {
			t.Errorf("%s: %d and %d:\n%s\nand of one that was never made:\n%s", path, is.code, never.code, a, b)
		}
	}
	for _, path := range []string{"/", "/log", "/log?unchecked=1", "/log?q=" + kept.ID, "/log?q=Kari", "/log?q=XKLD", "/log?q=" + strings.Repeat("XKLD", 2000)} {
		if g := anna.get(t, path); g.code != http.StatusOK || len(g.body) > 20000 || strings.Contains(g.body, "/record/"+kept.ID) || strings.Contains(g.body, "8990") {
			t.Errorf("%s has it", path)
		}
	}
}

// private is a record of Kari's direct message on Slack.
func (r *crewRoom) private(t *testing.T) record.Record {
	t.Helper()
	kept, err := r.book.Make(t.Context(), record.Result{
		Surface: "slack", Message: "1", Channel: "slack:D1", Direct: true, Asked: record.Person{Address: "slack:U1", Name: "Kari"}, At: time.Now(),
		Text: "XKLD -38 8200", Line: "XKLD -38 8200", Numbers: []record.Number{{PublishedFt: 8200, CorrectedFt: 8990}},
		Reply: reply.Reply{Kind: reply.KindCorrection, Headline: "XKLD, −38 °C", Altitudes: []reply.Row{{PublishedFt: 8200, CorrectedFt: 8990}}},
	}, nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := r.book.Written(t.Context()); err != nil {
		t.Fatal(err)
	}
	return kept
}

// TestLinkedPrivateRecord: whoever is known to have asked it by another account
// sees it. Nobody else does who opens the part of the log that was made for
// them, by whatever address, nor who types the name where names are typed.
func TestLinkedPrivateRecord(t *testing.T) {
	linked := [][]string{{"slack:U1", "page:kari"}}
	r := newRoom(t, roomOptions{limits: generous, signIn: true, linked: linked})
	kari, bo := r.open(t, "Kari", access.Read), r.open(t, "Bo", access.Read)
	kept := r.private(t)
	log := func(b *browser, on string) string {
		events, _, stop := stream(t, b, on, "", "")
		defer stop()
		return next(t, events)
	}
	if e := log(kari, "/log?"); !strings.Contains(e, kept.ID) {
		t.Errorf("Kari has her own as %.300s", e)
	}
	for _, on := range []string{"/log?", "/log?\x00page:kari\x00slack:U1\x00page:kari", "/log?\x00page:kari\x00slack:U1", "/log?q=\x00page:kari\x00slack:U1\x00page:kari"} {
		if e := log(bo, on); strings.Contains(e, kept.ID) || !strings.Contains(e, "records") {
			t.Errorf("%q gives Bo %.300s", on, e)
		}
	}

	r = newRoom(t, roomOptions{limits: generous, linked: linked})
	kept = r.private(t)
	typed := r.open(t, "Kari", "")
	for _, path := range []string{"/log", "/record/" + kept.ID} {
		if g := typed.get(t, path); strings.Contains(g.body, "8200") {
			t.Errorf("whoever types Kari's name is shown it at %s", path)
		}
	}
	if g := typed.send(t, "/", "/ask", map[string]string{"text": "log"}); strings.Contains(g.body, kept.ID) {
		t.Error("whoever types Kari's name is told of it")
	}
}
