package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/present"
)

// card is the bot's first message in a channel on Slack that has a text.
func (w *world) card(channel, text string) (m slackdouble.Message, ok bool) {
	for _, m := range w.slack.Posted(channel) {
		if strings.Contains(m.Read(), text) {
			return m, true
		}
	}
	return m, false
}

// buttons are the ids of a message's buttons.
func buttons(m slackdouble.Message) (ids []string) {
	for _, b := range m.Buttons() {
		ids = append(ids, b.ID)
	}
	return ids
}

// choose chooses an entry under More of a card on Slack.
func (w *world) choose(user string, card slackdouble.Message, entry string) {
	w.Helper()
	for _, o := range card.Menu() {
		if slices.Contains(strings.Split(o.Value, present.Joined), entry) {
			if _, err := w.slack.Choose(user, card.Channel, card.TS, o.Value); err != nil {
				w.Fatal(err)
			}
			return
		}
	}
	w.Fatalf("no entry %q among %+v", entry, card.Menu())
}

// press presses a button on Slack.
func (w *world) press(user, ts, action string) (deed string) {
	w.Helper()
	deed, err := w.slack.Press(user, slackCrew, ts, action)
	if err != nil {
		w.Fatal(err)
	}
	return deed
}

// confirm says yes to the figures that a press on Slack has shown to a person.
func (w *world) confirm(user, figure string) (deed string) {
	w.Helper()
	id := ""
	w.until("the figures are asked about", func() bool {
		for _, v := range w.slack.Views(user) {
			if v.Callback == "firn_confirm" && v.Open && strings.Contains(v.Read(), figure) {
				id = v.ID
			}
		}
		return id != ""
	})
	deed, err := w.slack.Submit(id, nil)
	if err != nil {
		w.Fatal(err)
	}
	return deed
}

// sayOnSlack says something in the thread of a message there.
func (w *world) sayOnSlack(user, thread, text string) {
	w.Helper()
	if _, err := w.slack.Say(slackdouble.Said{User: user, Channel: slackCrew, Thread: thread, Text: w.slack.Mention() + " " + text}); err != nil {
		w.Fatal(err)
	}
}

// times says how often something is in what Slack's crew reads.
func (w *world) times(text string) int { return strings.Count(w.readable(), text) }

// readable is that, with what stands there for one of them alone.
func (w *world) readable() string {
	var all []string
	for _, m := range append(w.slack.Posted(slackCrew), w.slack.Private()...) {
		all = append(all, m.Read())
	}
	return strings.Join(all, "\n")
}

// TestCheckedTogether is a result from the question to the next version, on
// both services: who may check it and who may not, presses that come twice,
// a restart, and colder weather.
func TestCheckedTogether(t *testing.T) {
	w := newWorld(t)
	crew := w.discord.Channels()[0]
	ada, brun := w.discord.People()[0].ID, w.discord.People()[1].ID
	file := filepath.Join(w.dir, "config.yaml")
	cfg, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	// Kari is Ada on Discord.
	cfg = fmt.Appendf(cfg, "record: {linked: [[\"slack:%s\", \"discord:%s\"]]}\n", slackKari, ada)
	if err := os.WriteFile(file, cfg, 0o600); err != nil {
		t.Fatal(err)
	}
	w.start()
	w.connected()

	w.sayOnSlack(slackKari, "", "XKLD -38 FAF 8200, DA 5340")
	w.until("the result", func() bool { _, ok := w.card(slackCrew, "9000"); return ok })
	card, _ := w.card(slackCrew, "9000")
	if !slices.Contains(buttons(card), "do:check") {
		t.Fatalf("the card's buttons are %q", buttons(card))
	}
	look := func() slackdouble.Message {
		for _, m := range w.slack.Posted(slackCrew) {
			if m.TS == card.TS {
				return m
			}
		}
		t.Fatal("the card is gone")
		return card
	}

	w.press(slackKari, card.TS, "do:check")
	w.until("the author is refused", func() bool { return strings.Contains(w.readable(), "is your own") })
	id := regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`).FindString(w.readable())
	if _, err := w.discord.Say(discorddouble.Say{By: ada, Channel: crew, Text: w.discord.Mention() + " check " + id}); err != nil {
		t.Fatal(err)
	}
	w.until("the author is refused on the other service", func() bool { return strings.Contains(w.onDiscord(crew), id+" (XKLD −38 °C) is your own") })

	w.slack.OpenHome(slackOdd)
	w.slack.OpenHome(slackKari)
	w.until("the front pages are there", func() bool {
		return strings.Contains(w.slack.Home(slackOdd).Read(), "Waiting for your check: 1") && strings.Contains(w.slack.Home(slackOdd).Read(), id) &&
			strings.Contains(w.slack.Home(slackKari).Read(), "For you: ") && !strings.Contains(w.slack.Home(slackKari).Read(), id)
	})
	w.press(slackOdd, card.TS, "do:check")
	deed := w.confirm(slackOdd, "9000")
	w.until("the check", func() bool { return strings.Contains(w.readable(), "is checked by Odd at ") })
	if err := w.slack.Redeliver(deed); err != nil {
		t.Fatal(err)
	}
	w.until("the card says so", func() bool { return !slices.Contains(buttons(look()), "do:check") })
	if _, err := w.discord.Say(discorddouble.Say{By: brun, Channel: crew, Text: w.discord.Mention() + " check " + id}); err != nil {
		t.Fatal(err)
	}
	w.until("the one after is told", func() bool { return strings.Contains(w.onDiscord(crew), "is already checked, by Odd at ") })
	if n := w.times("is checked by Odd"); n != 1 {
		t.Errorf("the check is told %d times, want once", n)
	}

	w.until("the front page follows", func() bool { return !strings.Contains(w.slack.Home(slackOdd).Read(), id) })

	// It gets colder while firn is down.
	w.stop()
	wx := fmt.Sprintf("METAR XKLD %sZ 00000KT 9999 FEW040 M43/M46 Q1034\n", time.Now().UTC().Add(2*time.Minute).Format("021504"))
	if err := os.WriteFile(filepath.Join(w.dir, "weather", "later.txt"), []byte(wx), 0o600); err != nil {
		t.Fatal(err)
	}
	w.start()
	w.connected()
	w.until("the card does not hold any more", func() bool { return strings.Contains(look().Read(), "Out of date: ") })
	w.until("the channel is told", func() bool { return w.times("XKLD −43 now: 1 card out of date: "+id) == 1 })
	w.press(slackOdd, card.TS, "do:recompute")
	w.until("somebody else is asked first", func() bool { return strings.Contains(w.readable(), id+" is by ") })
	w.press(slackKari, card.TS, "do:recompute")
	w.until("the next version", func() bool { return strings.Contains(w.readable(), "9100") })
	w.until("the old card says so", func() bool { return strings.Contains(look().Read(), "Replaced by ") })
	if got := buttons(look()); slices.Contains(got, "do:check") || slices.Contains(got, "do:recompute") {
		t.Errorf("the old card's buttons are %q", got)
	}
	w.sayOnSlack(slackOdd, card.Thread, "check "+id)
	w.until("the old one is refused", func() bool { return strings.Contains(w.readable(), "was replaced by ") })
	time.Sleep(300 * time.Millisecond)
	if n := w.times("card out of date: "); n != 1 {
		t.Errorf("the channel is told %d times, want once", n)
	}

	w.stop()
	var out, errs strings.Builder
	h := host{stdin: strings.NewReader(""), stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: time.Now}
	t.Chdir(w.dir)
	if code := run(t.Context(), []string{"export", "--config", "config.yaml", "--verify"}, h); code != exitAnswered {
		t.Errorf("export: exit %d, %s", code, errs.String())
	}
	rows := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(rows) != 3 || !strings.HasPrefix(rows[1], id+",1,,") || !strings.Contains(rows[1], ",replaced,") || !strings.Contains(rows[1], "slack:"+slackOdd+",20") || !strings.Contains(rows[2], ",2,"+id+",,unchecked,") {
		t.Errorf("exported:\n%s", out.String())
	}
}
