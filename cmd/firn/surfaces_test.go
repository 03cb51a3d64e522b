package main

import (
	"bytes"
	"encoding/json"
	"firn/adapters/testkit/process"
	"firn/cmd/wiring"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
)

// childPlain makes a child process that is main itself.
const childPlain = "FIRN_TEST_PLAIN"

// childLive is how often such a child gives open pages a sign of life.
const childLive = "FIRN_TEST_LIVE"

// world is firn as a process between both doubles.
type world struct {
	*testing.T
	slack   *slackdouble.Server
	discord *discorddouble.Server
	dir     string
	env     []string
	flags   []string // of serve
	cmd     *exec.Cmd
	said    *process.Log
	page    string // address of the page
}

const (
	slackCrew   = "C0CREW"
	slackAlerts = "C0ALERTS"
	slackKari   = "U0KARI"
	slackOdd    = "U0ODD"
)

// worldZone is the time zone of the bases.
const worldZone = "America/Edmonton"

// newWorld starts both doubles. The configuration has one cold base, whose
// alert goes to both services, and Kari on duty.
func newWorld(t *testing.T) *world {
	w := &world{T: t, dir: t.TempDir()}
	var err error
	if w.slack, err = slackdouble.Start(slackdouble.Options{}); err != nil {
		t.Fatal(err)
	}
	for _, id := range []string{slackCrew, slackAlerts} {
		w.slack.AddChannel(id)
	}
	w.slack.AddUser(slackKari, "Kari")
	w.slack.AddUser(slackOdd, "Odd")
	token := "invented-" + "for-tests"
	if w.discord, err = discorddouble.Start(discorddouble.Options{Token: token}); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		w.stop()
		if err := w.slack.Close(); err != nil {
			t.Error(err)
		}
		w.discord.Close()
		if p := w.slack.Problems(); len(p) > 0 {
			t.Errorf("Slack would have refused: %q", p)
		}
		if p := w.discord.Violations(); len(p) > 0 {
			t.Errorf("Discord would have refused: %q", p)
		}
	})
	w.env = append(os.Environ(), childPlain+"=1",
		wiring.EnvSlackApp+"="+w.slack.AppToken(), wiring.EnvSlackBot+"="+w.slack.BotToken(), wiring.EnvSlackURL+"="+w.slack.URL(),
		wiring.EnvDiscord+"="+token, wiring.EnvDiscordURL+"="+w.discord.URL())
	cfg := fmt.Sprintf(`rules: faa-all-segments
weather: [{kind: folder, path: weather}]
page: {listen: "127.0.0.1:0"}
store: {path: data/firn.db}
slack: {channels: [%s]}
discord: {guild: "%s", channels: ["%s"]}
duty: ["slack:%s", "discord:role:100200300400500701"]
stations:
  - ident: XKLD
    name: Kaldmoor
    elevation_ft: 4802
    restriction_c: -25
    mountainous: true
    time_zone: %s
    watch: {at: "%s", days: daily, window_hours: 24, channels: ["slack:%s", "discord:%s", console, page]}
`, slackCrew, w.discord.Guild(), w.discord.Channels()[0], slackKari, worldZone, begun(worldZone), slackAlerts, w.discord.Channels()[1])
	wx := "METAR XKLD {DDHHMM-7m}Z 00000KT 9999 FEW040 M29/M33 Q1034\n" +
		"TAF XKLD {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM31/{DDHH}Z TNM31/{DDHH+9h}Z\n"
	if err := os.Mkdir(filepath.Join(w.dir, "weather"), 0o700); err != nil {
		t.Fatal(err)
	}
	for name, text := range map[string]string{"config.yaml": cfg, "weather/base.demo.txt": wx} {
		if err := os.WriteFile(filepath.Join(w.dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return w
}

// alsoCold has a base watched besides, below its line; before start.
func (w *world) alsoCold(ident string, line, low int) {
	w.Helper()
	for name, text := range map[string]string{
		"config.yaml": fmt.Sprintf("  - {ident: %s, elevation_ft: 3340, restriction_c: %d, time_zone: %s, watch: {at: \"%s\", days: daily, window_hours: 24, channels: [\"slack:%s\", \"discord:%s\"]}}\n",
			ident, line, worldZone, begun(worldZone), slackAlerts, w.discord.Channels()[1]),
		"weather/base.demo.txt": fmt.Sprintf("TAF %s {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM%02[2]d/{DDHH}Z TNM%02[2]d/{DDHH+9h}Z\n", ident, -low),
	} {
		path := filepath.Join(w.dir, name)
		was, err := os.ReadFile(path)
		if err == nil {
			err = os.WriteFile(path, append(was, text...), 0o600)
		}
		if err != nil {
			w.Fatal(err)
		}
	}
}

var pageAddress = regexp.MustCompile(`("msg":"ready","page":"|msg=ready page=)(http://[^ "]+)`)

// start starts firn and waits until it is ready to listen.
func (w *world) start() {
	w.Helper()
	w.child()
	w.page = pageAddress.FindStringSubmatch(w.said.Tail())[2]
}

// child starts serve as a process of its own.
func (w *world) child() {
	w.Helper()
	w.cmd = exec.Command(os.Args[0], append([]string{"serve", "--config", "config.yaml"}, w.flags...)...)
	w.cmd.Env, w.cmd.Dir = w.env, w.dir
	w.said = process.NewLog()
	w.cmd.Stderr = w.said
	if err := w.cmd.Start(); err != nil {
		w.Fatal(err)
	}
	select {
	case <-w.said.Ready():
	case <-time.After(20 * time.Second):
		w.Fatalf("it is not ready:\n%s", w.said.Tail())
	}
}

// stop ends firn as an operator does.
func (w *world) stop() {
	if w.cmd == nil {
		return
	}
	if err := w.cmd.Process.Signal(os.Interrupt); err != nil {
		w.Errorf("it ended by itself: %v\n%s", err, w.said.Tail())
	}
	if err := w.cmd.Wait(); err != nil {
		w.Errorf("it ended with %v\n%s", err, w.said.Tail())
	}
	w.cmd = nil
}

// ready gives what /readyz says.
func (w *world) ready() map[string]string {
	w.Helper()
	res, err := http.Get(w.page + "readyz")
	if err != nil {
		w.Fatal(err)
	}
	defer res.Body.Close()
	var said map[string]string
	if err := json.NewDecoder(res.Body).Decode(&said); err != nil {
		w.Fatal(err)
	}
	return said
}

// until waits for something.
func (w *world) until(what string, ok func() bool) {
	w.Helper()
	for end := time.Now().Add(20 * time.Second); !ok(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			w.Fatalf("did not come: %s\n%s", what, w.said.Tail())
		}
	}
}

func (w *world) connected() {
	w.Helper()
	w.until("both services are connected", func() bool { r := w.ready(); return r["slack"] == "ok" && r["discord"] == "ok" })
}

// onSlack is everything that the bot shows in a channel there.
// alertLine is how an alert begins, wherever it stands.
var alertLine = regexp.MustCompile(`XKLD [^"]*−[^"]* \(line −25\)`)

func (w *world) onSlack(channel string) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	for _, m := range w.slack.Posted(channel) {
		// It can be encoded.
		_ = enc.Encode(m)
	}
	return b.String()
}

func (w *world) onDiscord(channel string) string {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	for _, id := range w.discord.AllChannels() {
		c, _ := w.discord.Channel(id)
		if id != channel && c.Parent != channel {
			continue
		}
		for _, m := range w.discord.FromBot(id) {
			_ = enc.Encode(m)
		}
	}
	return b.String()
}

// TestBothServices is firn on Slack, Discord, the console and the page at
// once: a question on each, the alert on each, and an acknowledgement on one
// that shows on the others.
func TestBothServices(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.alsoCold("XGLN", -15, -19)
	w.alsoCold("XFRN", -23, -26)
	w.start()
	w.connected()

	if _, err := w.slack.Say(slackdouble.Said{User: slackOdd, Channel: slackCrew, Text: w.slack.Mention() + " XKLD -38 8200"}); err != nil {
		t.Fatal(err)
	}
	w.until("the answer on Slack", func() bool { return strings.Contains(w.onSlack(slackCrew), "8990") })
	crew, alerts := w.discord.Channels()[0], w.discord.Channels()[1]
	ada, brun := w.discord.People()[0].ID, w.discord.People()[1].ID
	if _, err := w.discord.Say(discorddouble.Say{By: brun, Channel: crew, Text: w.discord.Mention() + " XKLD -38 8200"}); err != nil {
		t.Fatal(err)
	}
	w.until("the answer on Discord", func() bool { return strings.Contains(w.onDiscord(crew), "8990") })
	if _, err := w.discord.Command(crew, brun, "ask", map[string]string{"message": "XKLD -38 7400"}); err != nil {
		t.Fatal(err)
	}
	w.until("the answer to a command", func() bool { return strings.Contains(w.onDiscord(crew), "8000") })
	if _, err := w.slack.Command(slackOdd, slackCrew, "XKLD"); err != nil {
		t.Fatal(err)
	}
	w.until("the latest observation", func() bool { return strings.Contains(w.onSlack(slackCrew), "latest observation") })

	// A morning is one post, and a word on each base in its thread.
	w.until("the alert on Slack", func() bool { return alertLine.MatchString(w.onSlack(slackAlerts)) })
	w.until("the alert on Discord", func() bool { return alertLine.MatchString(w.onDiscord(alerts)) })
	w.until("a word on each base on Slack", func() bool { return len(w.slack.Posted(slackAlerts)) == 4 })
	w.until("a word on each base on Discord", func() bool { return strings.Count(w.onDiscord(alerts), "Corrections to expect") == 3 })
	const locked = "3 below: XKLD −31, XGLN −19, XFRN −26"
	both, detail := w.slack.Posted(slackAlerts), slackdouble.Message{}
	for i, m := range both {
		if (m.Thread == both[0].TS) != (i > 0) {
			t.Fatalf("the morning on Slack is %+v", both)
		}
		if alertLine.MatchString(m.Read()) {
			detail = m
		}
	}
	if n := len(w.discord.FromBot(alerts)); !strings.HasPrefix(both[0].Text, locked) || n != 1 || !strings.HasPrefix(w.discord.FromBot(alerts)[0].Content, "**"+locked) || strings.Contains(both[0].Text, "..") {
		t.Fatalf("a locked screen shows %q and, of %d posts, %q, want %q", both[0].Text, n, w.discord.FromBot(alerts)[0].Content, locked)
	}

	// Odd is not on duty; Ada's role on Discord is.
	alert := both[0]
	if _, err := w.slack.Press(slackOdd, slackAlerts, alert.TS, "do:ack"); err != nil {
		t.Fatal(err)
	}
	w.until("the refusal", func() bool {
		for _, m := range w.slack.Private() {
			if strings.Contains(m.Text, "duty officer") {
				return true
			}
		}
		return false
	})
	if strings.Contains(w.onSlack(slackAlerts), "is acknowledged") {
		t.Error("a press without the right acknowledged")
	}
	// What lies behind More is the alert's own, though nothing keeps an alert as
	// a record.
	if _, err := w.slack.Choose(slackOdd, slackAlerts, detail.TS, "expected"); err != nil {
		t.Fatal(err)
	}
	w.until("the corrections to expect", func() bool {
		return slices.ContainsFunc(w.slack.Views(slackOdd), func(v slackdouble.View) bool {
			return strings.Contains(string(v.Blocks), "By height above the field, at −") || strings.Contains(string(v.Blocks), "fly  chart")
		})
	})
	m := w.discord.FromBot(alerts)[0]
	if _, err := w.discord.Press(alerts, m.ID, ada, "Snooze 2 h"); err != nil {
		t.Fatal(err)
	}
	w.until("until when nobody is reminded, on Discord", func() bool {
		return strings.Contains(w.onDiscord(alerts), "Quiet until ")
	})
	w.until("until when nobody is reminded, on Slack", func() bool {
		return strings.Contains(w.slack.Posted(slackAlerts)[0].Read(), "Quiet until ")
	})
	// One base on Discord, the others on Slack.
	seen := func(by string, n int) func() bool {
		return func() bool {
			return strings.Count(w.onDiscord(alerts), "Seen by "+by+" ") == n && strings.Count(w.slack.Posted(slackAlerts)[0].Read(), "Seen by "+by+" ") == n
		}
	}
	if _, err := w.discord.Press(alerts, m.ID, ada, "Seen XGLN"); err != nil {
		t.Fatal(err)
	}
	w.until("who has seen one base, on both", seen("Ada", 1))
	if got := buttons(w.slack.Posted(slackAlerts)[0]); !slices.Equal(got, []string{"do:ack", "do:snooze", "do:ack-XKLD", "do:ack-XFRN"}) {
		t.Errorf("where one of three is seen there are the buttons %q", got)
	}
	if _, err := w.slack.Press(slackKari, slackAlerts, alert.TS, "do:ack"); err != nil {
		t.Fatal(err)
	}
	w.until("who has seen the others, on both", seen("Kari", 2))
	if got := buttons(w.slack.Posted(slackAlerts)[0]); !slices.Equal(got, []string{"do:snooze"}) {
		t.Errorf("what somebody has seen has the buttons %q", got)
	}
	w.until("the acknowledgement on the page", func() bool {
		res, err := http.Get(w.page + "watch")
		if err != nil {
			t.Fatal(err)
		}
		defer res.Body.Close()
		text, err := io.ReadAll(res.Body)
		return err == nil && strings.Contains(string(text), "Seen by Kari ")
	})

	// A restart says nothing twice.
	w.stop()
	w.start()
	w.connected()
	time.Sleep(300 * time.Millisecond)
	// One a line, whatever stands in it besides.
	for name, text := range map[string]string{"Slack": w.onSlack(slackAlerts), "Discord": w.onDiscord(alerts)} {
		n := 0
		for line := range strings.Lines(text) {
			if strings.Contains(line, "Corrections to expect") {
				n++
			}
		}
		if n != 3 {
			t.Errorf("the words on three bases stand %d times on %s", n, name)
		}
	}
	for _, secret := range []string{w.slack.AppToken(), w.slack.BotToken(), "invented-for-tests"} {
		if strings.Contains(w.said.Tail(), secret) {
			t.Error("the log holds a token")
		}
	}
}

// TestRevokedTokens: refused tokens are a sentence on /readyz and in the log,
// and firn goes on with what works.
func TestRevokedTokens(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	w.slack.Revoke(w.slack.BotToken())
	w.discord.Revoke()
	w.start()
	w.until("both refusals", func() bool {
		r := w.ready()
		return strings.Contains(r["slack"], wiring.EnvSlackBot) && strings.Contains(r["discord"], wiring.EnvDiscord)
	})
	if r := w.ready(); r["store"] != "ok" {
		t.Errorf("the rest is not ready: %v", r)
	}
	calls := w.slack.Calls("auth.test") + w.slack.Calls("apps.connections.open") + w.discord.Counts().Identifies
	time.Sleep(time.Second)
	if more := w.slack.Calls("auth.test") + w.slack.Calls("apps.connections.open") + w.discord.Counts().Identifies - calls; more > 2 {
		t.Errorf("%d tries in a second with tokens that are refused", more)
	}
}
