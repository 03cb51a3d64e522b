package main

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
)

// phone is how many characters a line of a phone has.
const phone = 42

// showing is a message and what it is in the table. The alert is the watch's
// own, and is waited for.
type showing struct{ name, text string }

var showings = []showing{
	{"three unlabelled altitudes", "XKLD -38 8200 7400 5340"},
	{"a procedure", "XKLD rnav 31 -38"},
	{"the same via XEMBA", "XKLD rnav 31 -38 via XEMBA"},
	{"a question (missing minus)", "XKLD 38 8200 7400 5340"},
	{"status", "XKLD"},
	{"brief", "brief XKLD 1430 XRUN 1515"},
	{"watch", "watch"},
	{"alert", ""},
}

// size is how much of a surface a message takes.
type size struct {
	lines int // of a phone
	bytes int // of blocks, of embeds and what stands beside them, of HTML, of text
	calls int // that posting it took
}

func (s size) String() string {
	if s == (size{}) {
		return "–"
	}
	if s.calls == 0 {
		return fmt.Sprintf("%d, %d", s.lines, s.bytes)
	}
	return fmt.Sprintf("%d, %d, %d", s.lines, s.bytes, s.calls)
}

// shows prints how much room eight messages take on each surface: the program
// runs between the doubles, whichever version of it is given.
func shows(ctx context.Context, args []string, out io.Writer) error {
	flags := flag.NewFlagSet("firn-load shows", flag.ContinueOnError)
	firn := flags.String("firn", "", "the firn program; empty: it is built")
	charts := flags.String("charts", "", "the folder with the procedure; empty: the demo's")
	texts := flags.Bool("texts", false, "print what stands there as well")
	asDeeds := flags.Bool("deeds", false, "print how many calls each deed costs instead")
	if err := flags.Parse(args); err != nil {
		return err
	}
	dir, err := os.MkdirTemp("", "firn-load-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	at, err := root(ctx)
	if err != nil {
		return err
	}
	*charts = cmp.Or(*charts, filepath.Join(at, "cmd", "firn", "demo-procedures"))
	if *firn == "" {
		*firn = filepath.Join(dir, "firn")
		if err := build(ctx, at, *firn, false); err != nil {
			return err
		}
	}
	s := &screen{ctx: ctx, firn: *firn, charts: *charts, dir: dir, out: io.Discard, deeds: *asDeeds}
	if *texts {
		s.out = out
	}
	if s.deeds {
		return s.deedsTable(out)
	}
	defer s.close()
	if err := s.open(); err != nil {
		return err
	}
	// Whoever asks first has to be looked up.
	if _, err := s.onSlack("help"); err != nil {
		return err
	}
	fmt.Fprintln(out, "| message | console: lines, bytes | Slack: lines, bytes, calls | Discord: the same | page: lines, bytes |\n| --- | --- | --- | --- | --- |")
	for _, m := range showings {
		row, err := s.row(m)
		if err != nil {
			return fmt.Errorf("%s: %w", m.name, err)
		}
		fmt.Fprintf(out, "| %s | %s | %s | %s | %s |\n", m.name, row[0], row[1], row[2], row[3])
	}
	return nil
}

// screen is firn between the doubles, and somebody who looks.
type screen struct {
	ctx       context.Context
	firn, dir string
	charts    string
	deeds     bool // many cold bases, and results that are posted to the team
	out       io.Writer
	slack     *slackdouble.Server
	discord   *discorddouble.Server
	cmd       *exec.Cmd
	ended     chan struct{}
	page      string
	browser   *http.Client
}

const (
	shownUser, shownChannel, alertChannel = "U0SHOWS01", "C0SHOWS01", "C0SHOWS02"
	otherUser                             = "U0SHOWS02"
	shownPerson, otherPerson              = "200300400500000001", "200300400500000002"
	shownPlace, alertPlace                = "100200300400000001", "100200300400000002"
)

// shownConfig has two bases of an invented country; one is cold, and its
// morning is now.
func (s *screen) shownConfig() error {
	at := time.Now().UTC()
	config := fmt.Sprintf(`rules: faa-all-segments
page: {listen: "127.0.0.1:0"}
store: {path: data/firn.db}
weather: [{kind: typed}, {kind: folder, path: weather}]
procedures: {path: charts}
slack: {channels: [%s]}
discord: {guild: %q, channels: ["%s"]}
stations:
  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, mountainous: true, time_zone: Africa/Abidjan, watch: {at: %q, days: daily, channels: ["slack:%s", "discord:%s", page]}}
  - {ident: XRUN, name: Runmere, elevation_ft: 2100, restriction_c: -20, mountainous: true, time_zone: Africa/Abidjan, watch: {at: %q, days: daily, channels: [page]}}
`, shownChannel, s.discord.Guild(), shownPlace, at.Format("15:04"), alertChannel, alertPlace, at.Format("15:04"))
	weather := "METAR XKLD {DDHHMM-7m}Z 00000KT 9999 FEW040 M29/M33 Q1031\nTAF XKLD {DDHHMM-30m}Z {DDHH}/{DDHH+30h} 00000KT CAVOK TNM31/{DDHH+9h}Z\n" +
		"METAR XRUN {DDHHMM-7m}Z 00000KT 9999 FEW040 M08/M12 Q1031\nTAF XRUN {DDHHMM-30m}Z {DDHH}/{DDHH+30h} 00000KT CAVOK TNM10/{DDHH+9h}Z\n"
	if s.deeds {
		stations, reports := coldConfig(at)
		weather += reports
		config = strings.Replace(config, "stations:\n", fmt.Sprintf("record: {team_channels: [\"slack:%s\", \"discord:%s\"]}\nstations:\n", shownChannel, shownPlace)+stations, 1)
	}
	charts, err := filepath.Glob(filepath.Join(s.charts, "*.yaml"))
	if err != nil {
		return err
	}
	for _, d := range []string{"weather", "charts"} {
		if err := os.MkdirAll(filepath.Join(s.dir, d), 0o700); err != nil {
			return err
		}
	}
	for _, c := range charts {
		text, err := os.ReadFile(c)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(s.dir, "charts", filepath.Base(c)), text, 0o600); err != nil {
			return err
		}
	}
	return errors.Join(os.WriteFile(filepath.Join(s.dir, "config.yaml"), []byte(config), 0o600),
		os.WriteFile(filepath.Join(s.dir, "weather", "now.demo.txt"), []byte(weather), 0o600))
}

// open starts the doubles and firn, and signs on to the page.
func (s *screen) open() (err error) {
	if s.slack, err = slackdouble.Start(slackdouble.Options{NoEcho: true, Keep: 500, Unchecked: true}); err != nil {
		return err
	}
	s.slack.AddChannel(shownChannel)
	s.slack.AddChannel(alertChannel)
	s.slack.AddUser(shownUser, "Anna")
	s.slack.AddUser(otherUser, "Brun")
	if s.discord, err = discorddouble.Start(discorddouble.Options{
		Token: discordToken, People: []discorddouble.Person{{ID: shownPerson, Name: "Anna"}, {ID: otherPerson, Name: "Brun"}}, Channels: []string{shownPlace, alertPlace}, Keep: 500, AllowContent: true,
	}); err != nil {
		return err
	}
	if err := s.shownConfig(); err != nil {
		return err
	}
	s.cmd = exec.CommandContext(s.ctx, s.firn, "serve", "--config", "config.yaml")
	s.cmd.Dir = s.dir
	s.cmd.Env = append(os.Environ(), "FIRN_SLACK_APP_TOKEN="+s.slack.AppToken(), "FIRN_SLACK_BOT_TOKEN="+s.slack.BotToken(), "FIRN_SLACK_API_URL="+s.slack.URL(),
		"FIRN_DISCORD_TOKEN="+discordToken, "FIRN_DISCORD_API_URL="+s.discord.URL(), "FIRN_DATABASE_URL=")
	log, err := s.cmd.StderrPipe()
	if err != nil {
		return err
	}
	if err := s.cmd.Start(); err != nil {
		return err
	}
	reading := &stage{ended: make(chan struct{})}
	page := make(chan string, 1)
	go reading.read(log, page)
	s.ended = reading.ended
	select {
	case s.page = <-page:
	case <-s.ended:
		return errors.New("firn ended: " + reading.trouble())
	case <-time.After(time.Minute):
		return errors.New("firn is not ready after a minute")
	}
	if !s.slack.Wait(20*time.Second, func() bool { return s.slack.Connections() > 0 && s.discord.Connected() > 0 }) {
		return errors.New("firn does not connect")
	}
	jar, err := cookiejar.New(nil)
	s.browser = &http.Client{Jar: jar, Timeout: 20 * time.Second}
	return err
}

func (s *screen) close() {
	end(s.cmd, s.ended)
	if s.slack != nil {
		_ = s.slack.Close()
	}
	if s.discord != nil {
		s.discord.Close()
	}
}

// until waits until something holds.
func (s *screen) until(what string, holds func() bool) error {
	for end := time.Now().Add(90 * time.Second); !holds(); time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) || s.ctx.Err() != nil {
			return errors.New("there is never " + what)
		}
	}
	time.Sleep(700 * time.Millisecond) // what follows an answer follows at once: a picture, a reaction
	return nil
}

// row is how much room a message takes: on the console, Slack, Discord and the
// page.
func (s *screen) row(m showing) (row [4]size, err error) {
	if m.text != "" {
		if row[0], err = s.onConsole(m.text); err != nil {
			return row, err
		}
	}
	for i, on := range []func(string) (size, error){s.onSlack, s.onDiscord, s.onPage} {
		if row[i+1], err = on(m.text); err != nil {
			return row, err
		}
	}
	return row, nil
}

func (s *screen) onConsole(text string) (size, error) {
	cmd := exec.CommandContext(s.ctx, s.firn, "ask", "--config", filepath.Join(s.dir, "config.yaml"), text)
	var out bytes.Buffer
	cmd.Stdout = &out
	var exit *exec.ExitError
	if err := cmd.Run(); err != nil && !errors.As(err, &exit) { // a question ends with 2
		return size{}, err
	}
	return s.size("console", out.String(), out.Len(), 0), nil
}

func (s *screen) onSlack(text string) (size, error) {
	before, channel, ts := s.slack.AllCalls(), alertChannel, ""
	find := func() []slackdouble.Message { return s.slack.Posted(alertChannel) }
	if text != "" {
		var err error
		channel = shownChannel
		if ts, err = s.slack.Say(slackdouble.Said{User: shownUser, Channel: channel, Text: s.slack.Mention() + " " + text}); err != nil {
			return size{}, err
		}
		find = func() []slackdouble.Message {
			return slices.DeleteFunc(s.slack.Thread(channel, ts), func(m slackdouble.Message) bool { return m.User == shownUser })
		}
	}
	if err := s.until("an answer on Slack", func() bool { return len(find()) > 0 }); err != nil {
		return size{}, err
	}
	var read strings.Builder
	total, calls := 0, 0
	for _, m := range find() {
		read.WriteString(m.Read() + "\n")
		total += len(m.Blocks)
		calls++
	}
	if text != "" {
		calls = s.slack.AllCalls() - before
	}
	return s.size("Slack", read.String(), total, calls), nil
}

func (s *screen) onDiscord(text string) (size, error) {
	before := s.discord.Counts().Calls
	find := func() []discorddouble.Message { return s.discord.FromBot(alertPlace) }
	if text != "" {
		id, err := s.discord.Say(discorddouble.Say{By: shownPerson, Channel: shownPlace, Text: s.discord.Mention() + " " + text})
		if err != nil {
			return size{}, err
		}
		find = func() []discorddouble.Message { // in its thread, or as a reply to it
			return append(s.discord.FromBot(id), slices.DeleteFunc(s.discord.FromBot(shownPlace), func(m discorddouble.Message) bool { return m.Reply != id })...)
		}
	}
	if err := s.until("an answer on Discord", func() bool { return len(find()) > 0 }); err != nil {
		return size{}, err
	}
	var read strings.Builder
	total, calls := 0, 0
	for _, m := range find() {
		read.WriteString(readDiscord(m))
		body, err := json.Marshal(map[string]any{"content": m.Content, "embeds": m.Embeds, "components": m.Components()})
		if err != nil {
			return size{}, err
		}
		total += len(body)
		calls++
	}
	if text != "" {
		calls = s.discord.Counts().Calls - before
	}
	return s.size("Discord", read.String(), total, calls), nil
}

var (
	article = regexp.MustCompile(`(?s)<article.*?</article>`)
	askForm = regexp.MustCompile(`(?s)<form class="askline".*?</form>`)
	fields  = regexp.MustCompile(`<input type="hidden" name="([^"]*)" value="([^"]*)"`)
	folded  = regexp.MustCompile(`(?s)</summary>.*?</details>`)
	unseen  = regexp.MustCompile(`(?s)<svg.*?</svg>|<form.*?</form>|<button.*?</button>|<[a-z0-9]+ class="hidden"[^>]*>[^<]*</[a-z0-9]+>`)
	broken  = regexp.MustCompile(`</(p|li|tr|h2|h3|h4|caption|div|dd|summary|blockquote)>`)
	tags    = regexp.MustCompile(`<[^>]*>`)
)

// onPage is the part of the page that a message made: what is folded is closed,
// and fields and buttons count as bytes alone.
func (s *screen) onPage(text string) (size, error) {
	path := "/"
	if text == "" {
		path = "/watch"
	}
	body, err := s.get(path)
	if err != nil {
		return size{}, err
	}
	isNew := func(a string) bool { return strings.Contains(a, "Duty window") || strings.Contains(a, "below: ") } // a base, or a morning
	if text != "" {
		had := article.FindAllString(body, -1)
		isNew = func(a string) bool { return !slices.Contains(had, a) }
		form := url.Values{"text": {text}}
		for _, f := range fields.FindAllStringSubmatch(askForm.FindString(body), -1) {
			form.Set(f[1], f[2])
		}
		res, err := s.browser.PostForm(s.page+"/ask", form)
		if err != nil {
			return size{}, err
		}
		_ = res.Body.Close()
	}
	part := ""
	err = s.until("an answer on the page", func() bool {
		if body, err = s.get(path); err != nil {
			return true
		}
		all := article.FindAllString(body, -1)
		if i := slices.IndexFunc(all, isNew); i >= 0 {
			part = all[i]
		}
		return part != ""
	})
	if err != nil {
		return size{}, err
	}
	plain := unseen.ReplaceAllString(folded.ReplaceAllString(part, "</summary></details>"), "")
	plain = tags.ReplaceAllString(broken.ReplaceAllString(strings.ReplaceAll(plain, "\n", " "), "\n"), " ")
	return s.size("page", html.UnescapeString(plain), len(part), 0), nil
}

func (s *screen) get(path string) (string, error) {
	res, err := s.browser.Get(s.page + path)
	if err != nil {
		return "", err
	}
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	return string(body), err
}

// size counts the lines that a phone makes of a text.
func (s *screen) size(on, text string, bytes, calls int) size {
	fmt.Fprintf(s.out, "-- %s\n", on)
	n := 0
	for l := range strings.SplitSeq(text, "\n") {
		if strings.TrimSpace(l) == "" {
			continue
		}
		for _, w := range wrapped(l) {
			fmt.Fprintln(s.out, w)
			n++
		}
	}
	return size{n, bytes, calls}
}

// wrapped are the lines that a phone makes of one: a table's keep their spaces.
func wrapped(l string) (lines []string) {
	if utf8.RuneCountInString(strings.TrimRight(l, " ")) <= phone {
		return []string{strings.TrimRight(l, " ")}
	}
	line := ""
	for _, w := range strings.Fields(l) {
		if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > phone {
			lines, line = append(lines, line), ""
		}
		line = strings.TrimSpace(line + " " + w)
	}
	return append(lines, line)
}
