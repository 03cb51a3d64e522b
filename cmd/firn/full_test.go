package main

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
	"firn/cmd/wiring"
)

// fill has a store's file take nothing more, as a full disk does; the file can
// be read. free ends it.
func fill(t *testing.T, file string) (free func()) {
	t.Helper()
	db, err := sql.Open("sqlite", file+"?_pragma=busy_timeout(10000)")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	rows, err := db.Query("SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite_%'")
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for rows.Next() {
		var name string
		if err := rows.Scan(&name); err != nil {
			t.Fatal(err)
		}
		names = append(names, name)
	}
	if rows.Close(); len(names) == 0 {
		t.Fatal("the store has no tables")
	}
	var drop []string
	do := func(query string) {
		t.Helper()
		if _, err := db.ExecContext(context.Background(), query); err != nil {
			t.Errorf("%s: %v", query, err)
		}
	}
	for _, name := range names {
		for _, deed := range []string{"INSERT", "UPDATE"} {
			do(fmt.Sprintf("CREATE TRIGGER full_%s_%s BEFORE %s ON %s BEGIN SELECT RAISE(FAIL, 'database or disk is full'); END", name, deed, deed, name))
			drop = append(drop, fmt.Sprintf("DROP TRIGGER full_%s_%s", name, deed))
		}
	}
	return func() {
		for _, query := range drop {
			do(query)
		}
	}
}

// formField are the fields of the page's first form.
var formField = regexp.MustCompile(`type="hidden" name="(csrf|deed)" value="([^"]*)"`)

// TestFullDisk: what cannot be kept is answered at once on every surface, and
// says that it is not kept; when the disk has room again the cards say so.
func TestFullDisk(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.connected()
	// A store that is full before the alert is written has nothing to acknowledge.
	w.until("the alert stands", func() bool { return alertLine.MatchString(w.onSlack(slackAlerts)) })
	crew := w.discord.Channels()[0]
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	client := &http.Client{Jar: jar, Timeout: time.Minute}
	read := func(res *http.Response, err error) string {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		if err != nil {
			t.Fatal(err)
		}
		return string(body)
	}
	page := read(client.Get(w.page))
	free := fill(t, filepath.Join(w.dir, "data", "firn.db"))

	v := url.Values{"text": {"XKLD -38 FAF 8200, DA 5340"}}
	for _, m := range formField.FindAllStringSubmatch(page, 2) {
		v.Set(m[1], m[2])
	}
	began := time.Now()
	if _, err := w.slack.Say(slackdouble.Said{User: slackKari, Channel: slackCrew, Text: w.slack.Mention() + " XKLD -38 FAF 8200, DA 5340"}); err != nil {
		t.Fatal(err)
	}
	if _, err := w.discord.Say(discorddouble.Say{By: w.discord.People()[0].ID, Channel: crew, Text: w.discord.Mention() + " XKLD -38 FAF 8200, DA 5340"}); err != nil {
		t.Fatal(err)
	}
	answer := read(client.PostForm(w.page+"ask", v))
	if !strings.Contains(answer, "9000") || !strings.Contains(answer, "NOT KEPT") {
		t.Errorf("the page shows no answer that says that it is not kept:\n%.3000s", answer)
	}
	for name, shows := range map[string]func() string{
		"Slack": func() string { return w.onSlack(slackCrew) }, "Discord": func() string { return w.onDiscord(crew) },
	} {
		w.until(name+" has the answer, and that it is not kept", func() bool {
			return strings.Contains(shows(), "9000") && strings.Contains(shows(), "could not be kept")
		})
	}
	// It was given up after 14 s; a machine may be busy.
	if took := time.Since(began); took > 12*time.Second {
		t.Errorf("it was said after %v", took)
	}
	w.until("it is not ready: nothing can be written", func() bool { return strings.Contains(w.ready()["store"], "not written") })
	if is := w.ready()["page"]; !strings.Contains(is, "not kept") {
		t.Errorf("the page is %q, whose answers are not kept", is)
	}
	w.sayOnSlack(slackKari, "", "ack XKLD")
	w.until("a deed is not worked from a table", func() bool { return strings.Contains(w.onSlack(slackCrew), "firn could not do this") })
	for _, command := range [][]string{{"export"}, {"export", "--verify"}, {"access", "list"}} {
		if code, said := w.firn(command...); code != exitAnswered {
			t.Errorf("firn %q = %d, though it only reads:\n%s", command, code, said)
		}
	}
	if code, said := w.firn("access", "add", "anna"); code == exitAnswered || !strings.Contains(said, "disk is full") {
		t.Errorf("firn access add = %d:\n%s", code, said)
	}
	free()
	w.until("it is ready again", func() bool { r := w.ready(); return r["store"] == "ok" && r["page"] == "ok" })
	// The next answer is kept, and so are its cards.
	w.sayOnSlack(slackOdd, "", "XKLD -37 FAF 8200, DA 5340")
	w.until("there is a card that is kept", func() bool {
		for _, m := range w.slack.Posted(slackCrew) {
			if strings.Contains(m.Read(), "−37 °C") && strings.Contains(m.Read(), "not checked") {
				return true
			}
		}
		return false
	})
}

// firn runs a command beside serve.
func (w *world) firn(args ...string) (code int, said string) {
	var out bytes.Buffer
	h := host{stdin: strings.NewReader(""), stdout: &out, stderr: &out, getenv: func(string) string { return "" }, now: time.Now}
	return run(w.Context(), append(args, "--config", filepath.Join(w.dir, "config.yaml")), h), out.String()
}

// TestFullDiskConsole: the console says beside the answer that it is not kept.
func TestFullDiskConsole(t *testing.T) {
	w := newWorld(t)
	t.Chdir(w.dir)
	in, typed := io.Pipe()
	out := &heard{}
	h := host{stdin: in, stdout: out, stderr: io.Discard, getenv: func(string) string { return "" }, now: time.Now}
	ended := make(chan int, 1)
	go func() { ended <- run(t.Context(), []string{"chat", "--config", "config.yaml"}, h) }()
	say := func(line, want string) {
		t.Helper()
		before := len(out.text())
		fmt.Fprintln(typed, line)
		for end := time.Now().Add(10 * time.Second); !strings.Contains(out.text()[before:], want); time.Sleep(10 * time.Millisecond) {
			if time.Now().After(end) {
				t.Fatalf("after %q the console says:\n%s", line, out.text()[before:])
			}
		}
	}
	say("XKLD -38 FAF 8200, DA 5340", "not checked")
	if strings.Contains(out.text(), "could not be kept") {
		t.Errorf("what is kept is not:\n%s", out.text())
	}
	fill(t, filepath.Join(w.dir, "data", "firn.db"))
	say("XKLD -37 FAF 8200, DA 5340", "could not be kept")
	typed.Close()
	if code := <-ended; code != 0 {
		t.Errorf("chat ends with %d", code)
	}
}

// TestChatWithoutStore: where the store cannot be opened as it is now, the crew
// has its figures, and reads beside each that nothing of them is kept.
func TestChatWithoutStore(t *testing.T) {
	t.Parallel()
	var out, errs bytes.Buffer
	h := host{stdin: strings.NewReader("XKLD -38 FAF 8200\nadd DA 5340\nbrief XKLD 1430\n"), stdout: &out, stderr: &errs, now: time.Now, getenv: func(key string) string {
		return map[string]string{wiring.EnvDatabase: "postgres://firn@127.0.0.1:1/firn"}[key]
	}}
	if code := run(t.Context(), []string{"chat"}, h); code != exitAnswered {
		t.Errorf("chat ends with %d", code)
	}
	if n := strings.Count(out.String(), "could not be kept"); n != 3 || !strings.Contains(out.String(), "9000   8200") || !strings.Contains(out.String(), "5470   5340") {
		t.Errorf("it is said %d times, want 3, and both figures:\n%s", n, &out)
	}
	if !strings.Contains(errs.String(), "connection refused") || !strings.Contains(errs.String(), "nothing of it is kept") {
		t.Errorf("why it is so:\n%s", &errs)
	}
}
