package main

import (
	"bytes"
	"crypto/tls"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"firn/adapters/testkit/slackdouble"
)

// hangUp has serve read its configuration again, and waits for what it says.
func (w *world) hangUp(want string) {
	w.Helper()
	before := strings.Count(w.said.All(), want)
	if err := w.cmd.Process.Signal(syscall.SIGHUP); err != nil {
		w.Fatal(err)
	}
	w.until(want, func() bool { return strings.Count(w.said.All(), want) > before })
}

// change writes the configuration anew.
func (w *world) change(old, is string) {
	w.Helper()
	path := filepath.Join(w.dir, "config.yaml")
	data, err := os.ReadFile(path)
	if err != nil {
		w.Fatal(err)
	}
	text := strings.Replace(string(data), old, is, 1)
	if text == string(data) {
		w.Fatalf("no %q in\n%s", old, data)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		w.Fatal(err)
	}
}

// TestReload: a hangup has serve go on with the configuration as it is then,
// on the same address, and what cannot be right leaves everything as it was.
func TestReload(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.connected()
	ask := func(text, want string) {
		t.Helper()
		ts, err := w.slack.Say(slackdouble.Said{User: slackOdd, Channel: slackCrew, Text: w.slack.Mention() + " " + text})
		if err != nil {
			t.Fatal(err)
		}
		w.until(want, func() bool { return strings.Contains(w.onSlack(slackCrew), want) })
		// Else it would be sent again to who comes next, and be counted there too.
		w.until("it is acknowledged", func() bool { return len(w.slack.Acks(slackCrew+"/"+ts)) > 0 })
	}
	ask("XKLD -38 8200", "8990")

	ask("XKLD 38 8200", "-38 or +38")
	figures := func(want ...string) {
		t.Helper()
		for _, line := range want {
			w.until("the figure "+line, func() bool {
				res, err := http.Get(w.page + "metrics")
				if err != nil {
					return false
				}
				defer res.Body.Close()
				data, err := io.ReadAll(res.Body)
				return err == nil && strings.Contains(string(data), "\n"+line)
			})
		}
	}
	counted := []string{
		`firn_build_info{calculation="`, `firn_answers_total{outcome="answered",surface="slack"} 1`, `firn_answers_total{outcome="question",surface="slack"} 1`,
		`firn_answer_seconds_count{surface="slack"} 2`, `firn_post_lag_seconds_bucket{surface="slack",le="60"} 2`, "firn_records_not_kept_total 0", "firn_alerts_unacknowledged 1", "firn_alerts_unacknowledged_seconds ",
	}
	figures(append(counted, "firn_errors_total 0", "firn_reload_failed 0")...)

	w.change("elevation_ft: 4802", "elevaton_ft: 4802")
	w.hangUp("the configuration as it is now is not taken; the one before stays")
	if !strings.Contains(w.said.All(), "did you mean") {
		t.Errorf("it does not say why:\n%s", w.said.Tail())
	}
	figures("firn_reload_failed 1")
	w.change("elevaton_ft: 4802", "elevation_ft: 4900")
	reads := func(want bool) {
		t.Helper()
		const not = "none of the 1 firn serve on this store has this configuration, with its charts and its list of airports, as it is now"
		if said, _ := w.doctor(); strings.Contains(said, not) == want || !strings.Contains(said, "ok     serve     1 firn serve") {
			t.Errorf("doctor says of serve's configuration that it is this one: %v, want %v\n%s", !want, want, said)
		}
	}
	reads(false)
	w.change("data/firn.db", "data/other.db")
	w.hangUp("that needs a restart")
	w.change("data/other.db", "data/firn.db")
	w.until("the page is there all the time", func() bool { return w.status(w.page) == http.StatusOK })

	if !strings.Contains(w.onSlack(slackAlerts), "ack XKLD") {
		t.Error("the alert has no button")
	}
	w.hangUp("msg=ready")
	if got := pageAddress.FindAllStringSubmatch(w.said.All(), -1); len(got) != 2 || got[1][2] != w.page {
		t.Errorf("the page's addresses: %q", got)
	}
	w.connected()
	w.until("the changed figure on the card", func() bool {
		return strings.Contains(w.onSlack(slackCrew), "the elevation of XKLD is 4900 ft now, and 4802 ft was taken")
	})
	reads(true)
	// Those of before, too; the changed elevation is told in the channel and to who asked.
	counted[4] = `firn_post_lag_seconds_bucket{surface="slack",le="60"} 4`
	figures(append(counted, "firn_errors_total 2", "firn_reload_failed 0")...)
	ask("XRUN -38 8200", "I don't know the station XRUN")

	// The base goes: so do its results.
	w.change("ident: XKLD", "ident: XRUN")
	w.hangUp("msg=ready")
	w.connected()
	ask("XKLD -38 8200 7400", "I don't know the station XKLD")
	w.until("the alert without its buttons", func() bool {
		said := w.onSlack(slackAlerts)
		return strings.Contains(said, "XKLD is not watched any more.") && !strings.Contains(said, "Seen XKLD") &&
			strings.Contains(w.onDiscord(w.discord.Channels()[1]), "XKLD is not watched any more.")
	})
	w.until("what became of its result", func() bool {
		return strings.Contains(w.onSlack(slackCrew), "XKLD is no station here any more")
	})
	if n := strings.Count(w.said.All(), "level=ERROR"); n != 2 {
		t.Errorf("%d errors in the log, want the two configurations that were refused:\n%s", n, w.said.All())
	}
	if n := w.discord.Counts().Identifies; n != 3 {
		t.Errorf("Discord was connected to %d times, want 3", n)
	}
}

// status is what an address answers.
func (w *world) status(url string) int {
	res, err := http.Get(url)
	if err != nil {
		return 0
	}
	res.Body.Close()
	return res.StatusCode
}

// TestCertificate: the pair is read before firn is ready, and again when it is
// renewed, without a word.
func TestCertificate(t *testing.T) {
	m := newMover(t)
	// The key as systemd hands it over, the certificate beside the configuration.
	m.env["CREDENTIALS_DIRECTORY"] = m.dir
	w := &world{T: t, dir: m.dir, env: append(os.Environ(), childPlain+"=1", "CREDENTIALS_DIRECTORY="+m.dir)}
	cfg := "page: {listen: '127.0.0.1:0', tls_cert: page.crt, tls_key: $CREDENTIALS_DIRECTORY/page.key}\nstore: {path: data/firn.db}\nstations: [{ident: XKLD, elevation_ft: 4802}]\n"
	if err := os.WriteFile(m.config, []byte(cfg), 0o600); err != nil {
		t.Fatal(err)
	}
	emptyStore(t, m.file())
	first := certificate(t, m.dir)
	if code, said := m.firn("doctor"); code != exitAnswered || !strings.Contains(said, "note   page      the certificate "+filepath.Join(m.dir, "page.crt")+" ends ") {
		t.Errorf("doctor: exit %d\n%s", code, said)
	}
	m.env["CREDENTIALS_DIRECTORY"] = ""
	if code, said := m.firn("doctor"); code != exitOther || !strings.Contains(said, "key $CREDENTIALS_DIRECTORY/page.key: ") || !strings.Contains(said, "LoadCredential") {
		t.Errorf("doctor where nothing was handed over: exit %d\n%s", code, said)
	}
	m.env["CREDENTIALS_DIRECTORY"] = m.dir
	var late bytes.Buffer
	h := host{stdout: &late, stderr: &late, getenv: func(name string) string { return m.env[name] }, now: func() time.Time { return time.Now().Add(2 * time.Hour) }}
	if code := run(t.Context(), []string{"doctor", "--config", m.config}, h); code != exitOther || !strings.Contains(late.String(), "page.crt ended ") {
		t.Errorf("doctor of a certificate that has ended: exit %d\n%s", code, &late)
	}
	w.child()
	address := regexp.MustCompile(`msg=ready page=https://([^/ ]+)/`).FindStringSubmatch(w.said.All())[1]
	trusted := func(pool *tls.Config) bool {
		c, err := tls.Dial("tcp", address, pool)
		if err != nil {
			return false
		}
		c.Close()
		return true
	}
	if !trusted(&tls.Config{RootCAs: first}) {
		t.Error("its certificate is not the one in the file")
	}
	key, err := os.ReadFile(filepath.Join(m.dir, "page.key"))
	if err != nil {
		t.Fatal(err)
	}
	second := certificate(t, m.dir)
	w.until("the renewed certificate", func() bool { return trusted(&tls.Config{RootCAs: second}) })
	// A key of another certificate: the one that is served stays.
	if err := os.WriteFile(filepath.Join(m.dir, "page.key"), key, 0o644); err != nil {
		t.Fatal(err)
	}
	w.until("a pair that does not match", func() bool {
		return trusted(&tls.Config{RootCAs: second}) && strings.Contains(w.said.All(), "the page's new certificate is not taken")
	})
	w.stop()
	if code, said := m.firn("doctor"); code != exitOther || !strings.Contains(said, "WRONG  page") || !strings.Contains(said, "private key does not match") {
		t.Errorf("doctor of a pair that does not match: exit %d\n%s", code, said)
	}
	if code, said := m.firn("serve"); code != exitOther || strings.Contains(said, "msg=ready") || !strings.Contains(said, "private key does not match") {
		t.Errorf("serve with a pair that does not match: exit %d\n%s", code, said)
	}
	certificate(t, m.dir)
	if err := os.Chmod(filepath.Join(m.dir, "page.key"), 0o644); err != nil {
		t.Fatal(err)
	}
	if code, said := m.firn("doctor"); code != exitOther || !strings.Contains(said, "others on this machine may reach the key") {
		t.Errorf("doctor of a key that all may read: exit %d\n%s", code, said)
	}
}
