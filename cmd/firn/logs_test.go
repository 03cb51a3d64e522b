package main

import (
	"fmt"
	"io/fs"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
)

// logLine is what every line of the log is; a value that holds a line break
// or a quote is quoted.
var logLine = regexp.MustCompile(`^time=[^ "]+ level=(DEBUG|INFO|WARN|ERROR) msg=("([^"\\]|\\.)*"|[^ "]+)( [A-Za-z0-9_.]+=("([^"\\]|\\.)*"|[^ "]*))*$`)

// forged is what somebody types who wants a line of their own in the log.
const forged = "time=2026-01-15T06:00:00Z level=ERROR msg=forged"

// TestLogsCannotBeForged types, and drops, what would be a line of the log in
// every place that people reach, while firn logs every step.
func TestLogsCannotBeForged(t *testing.T) {
	w := newWorld(t)
	w.slack.AddUser("U0FORGE", "Forger\n"+forged)
	// A file whose name and whose content are lines of a log.
	for name, text := range map[string]string{
		"a\n" + forged + ".txt":       "METAR XKLD 991253Z " + "\n" + forged + "=\n",
		"TAF " + forged + ".demo.txt": "TAF XKLD {" + forged + "}\n",
	} {
		if err := os.WriteFile(filepath.Join(w.dir, "weather", name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	w.flags = []string{"--log-level", "debug"}
	w.start()
	w.connected()
	for _, text := range []string{
		"XKLD -38 8200\n" + forged, forged, "XKLD\r" + forged + " -38 8200", "obs XKLD -38\n" + forged, "check \n" + forged, "ack XKLD\u2028" + forged, "\x1b[2J" + forged,
	} {
		if _, err := w.slack.Say(slackdouble.Said{User: "U0FORGE", Channel: slackCrew, Text: w.slack.Mention() + " " + text}); err != nil {
			t.Fatal(err)
		}
		if _, err := w.discord.Say(discorddouble.Say{By: w.discord.People()[1].ID, Channel: w.discord.Channels()[0], Text: w.discord.Mention() + " " + text}); err != nil {
			t.Fatal(err)
		}
	}
	// Not one of firn's channels, which is logged.
	w.slack.AddChannel("C0ELSE")
	if _, err := w.slack.Say(slackdouble.Said{User: "U0FORGE", Channel: "C0ELSE", Text: w.slack.Mention() + "\n" + forged}); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{"%0a" + url.PathEscape(forged), "?q=%0a" + url.QueryEscape(forged)} {
		req, err := http.NewRequest(http.MethodGet, w.page+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("User-Agent", forged)
		req.Header.Set("X-Request-Id", forged)
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		res.Body.Close()
	}
	if _, err := w.slack.Say(slackdouble.Said{User: slackOdd, Channel: slackCrew, Text: w.slack.Mention() + " XKLD -38 8200"}); err != nil {
		t.Fatal(err)
	}
	w.until("the last answer", func() bool { return strings.Contains(w.onSlack(slackCrew), "8990") })
	w.until("the folder's problems", func() bool { return strings.Contains(w.said.All(), "weather folder has problems") })
	w.stop()
	for line := range strings.Lines(w.said.All()) {
		if !logLine.MatchString(strings.TrimSuffix(line, "\n")) {
			t.Errorf("not a line of the log: %q", line)
		}
		if strings.HasPrefix(line, forged) {
			t.Errorf("forged: %q", line)
		}
	}
}

// TestMessagesAreNotLogged asks on both services, as people run firn: what
// crews write is theirs.
func TestMessagesAreNotLogged(t *testing.T) {
	w := newWorld(t)
	w.start()
	w.connected()
	for _, text := range []string{"XKLD -38 8200 7400", "XKLD 38 8200 zebra", "zebra zebra"} {
		if _, err := w.slack.Say(slackdouble.Said{User: slackOdd, Channel: slackCrew, Text: w.slack.Mention() + " " + text}); err != nil {
			t.Fatal(err)
		}
	}
	w.until("the answer", func() bool { return strings.Contains(w.onSlack(slackCrew), "8990") })
	w.stop()
	for _, word := range []string{"zebra", "7400"} {
		if strings.Contains(w.said.All(), word) {
			t.Errorf("the log holds %q:\n%s", word, w.said.All())
		}
	}
}

// TestFilesAreTheOwners looks at everything that firn writes, where the
// system would let others read it.
func TestFilesAreTheOwners(t *testing.T) {
	old := syscall.Umask(0o022)
	defer syscall.Umask(old)
	m := newMover(t)
	out := filepath.Join(m.dir, "out")
	if err := os.Mkdir(out, 0o755); err != nil {
		t.Fatal(err)
	}
	cfg := `store: {path: data/firn.db}
page: {listen: "127.0.0.1:0"}
weather: [{kind: folder, path: weather}]
stations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25, time_zone: UTC, watch: {at: "` + begun("UTC") + `", window_hours: 24, channels: ["file:alerts"]}}]
`
	for name, text := range map[string]string{
		"config.yaml":           cfg,
		"weather/base.demo.txt": "TAF XKLD {DDHHMM-30m}Z {DDHH-6h}/{DDHH+24h} 00000KT CAVOK TNM31/{DDHH}Z TNM31/{DDHH+9h}Z\n",
	} {
		if err := os.MkdirAll(filepath.Join(m.dir, filepath.Dir(name)), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(m.dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	w := &world{T: t, dir: m.dir, env: append(os.Environ(), childPlain+"=1")}
	w.start()
	posts := filepath.Join(m.dir, "data", "posts", "alerts.jsonl")
	w.until("the alert", func() bool { _, err := os.Stat(posts); return err == nil })
	for _, args := range [][]string{
		{"backup", filepath.Join(out, "copy.db")},
		{"picture", "-o", filepath.Join(out, "curve.png"), "--kind", "curve", "XKLD", "-38", "8200"},
		{"card", "-o", filepath.Join(out, "card.pdf"), "XKLD", "-38", "8200"},
	} {
		if code, said := m.firn(args...); code != exitAnswered {
			t.Fatalf("%s: exit %d: %s", args[0], code, said)
		}
	}
	look := func(root string) (files int) {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || path == out {
				return err
			}
			info, err := d.Info()
			if err != nil {
				return err
			}
			if info.Mode().Perm()&0o077 != 0 {
				t.Errorf("others may reach %s: %v", path, info.Mode())
			}
			files++
			return nil
		})
		if err != nil {
			t.Error(err)
		}
		return files
	}
	if n := look(filepath.Join(m.dir, "data")); n < 6 { // the folder, the store with three beside it, the posts
		t.Errorf("only %d files below data", n)
	}
	if n := look(out); n != 3 {
		t.Errorf("%d files were made, want 3", n)
	}
	w.stop()
	look(filepath.Join(m.dir, "data"))
}

// TestPathsStayInside names channels, weather files and copies that would lead
// elsewhere.
func TestPathsStayInside(t *testing.T) {
	m := newMover(t)
	for _, channel := range []string{"file:../outside", "file:/tmp/outside", "file:a/b", `file:a\b`, "file:..", "file:.hidden", "file:a\x00b", "file:CON:1"} {
		cfg := fmt.Sprintf("store: {path: data/firn.db}\nweather: [{kind: typed}]\nstations: [{ident: XKLD, elevation_ft: 4802, restriction_c: -25, time_zone: UTC, watch: {at: \"06:00\", channels: [%q]}}]\n", channel)
		if err := os.WriteFile(m.config, []byte(cfg), 0o600); err != nil {
			t.Fatal(err)
		}
		if code, said := m.firn("doctor"); code == exitAnswered {
			t.Errorf("%q is taken: %s", channel, said)
		}
	}
	outside, err := filepath.Glob(filepath.Join(m.dir, "outside*"))
	if err != nil || len(outside) > 0 {
		t.Errorf("made: %q, %v", outside, err)
	}
}

// begun is the hour at which a duty window of 24 hours began that is open now,
// and goes on for long: an alert due within the hour before the next is left to
// that.
func begun(zone string) string {
	in, err := time.LoadLocation(zone)
	if err != nil {
		panic(err)
	}
	return time.Now().In(in).Add(-2 * time.Hour).Format("15:00")
}
