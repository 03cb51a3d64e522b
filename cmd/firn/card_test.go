package main

import (
	"bytes"
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
)

// TestCardFromChat prints a result from both services and from the command
// line, and checks it blind by a form.
func TestCardFromChat(t *testing.T) {
	w := newWorld(t)
	crew := w.discord.Channels()[0]
	brun := w.discord.People()[1].ID
	file := filepath.Join(w.dir, "config.yaml")
	cfg, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, fmt.Appendf(cfg, "record: {checks: blind}\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	w.start()
	w.connected()

	w.sayOnSlack(slackKari, "", "XKLD -38 FAF 8200, DA 5340")
	w.until("the result", func() bool { _, ok := w.card(slackCrew, "9000"); return ok })
	card, _ := w.card(slackCrew, "9000")
	id := regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`).FindString(card.Read())
	if got := buttons(card); !slices.Equal(got, []string{"do:check", "do:post"}) {
		t.Fatalf("the card's buttons are %q", got)
	}
	if n := len(w.slack.Posted(slackCrew)); n != 1 {
		t.Errorf("an answer is %d messages", n)
	}
	w.choose(slackOdd, card, "print")
	files := func(channel string) (all []slackdouble.File) {
		for _, m := range w.slack.Posted(channel) {
			all = append(all, m.Files...)
		}
		return all
	}
	mine := w.slack.Direct(slackOdd)
	w.until("the files on Slack", func() bool { // a picture of the same entry may stand before them
		all := files(mine)
		return len(all) >= 2 && all[len(all)-1].Name == id+".pdf"
	})
	if got := files(slackCrew); len(got) > 0 {
		t.Errorf("in the channel stand %+v, which one person asked for", got)
	}
	got := files(mine)
	for i, name := range []string{id + ".png", id + ".pdf"} {
		if f := got[len(got)-2+i]; f.Name != name || f.Size < 2000 || !strings.Contains(f.Alt, "Not checked") {
			t.Errorf("file %d on Slack is %q of %d bytes, %q", i, f.Name, f.Size, f.Alt)
		}
	}

	// The form: the author is told, the other gets it, and what is no altitude
	// is told beside its field.
	views := func() []slackdouble.View {
		return slices.DeleteFunc(w.slack.Views(slackOdd), func(v slackdouble.View) bool { return v.Callback != "firn_enter" })
	}
	w.press(slackKari, card.TS, "do:check")
	w.until("the author is refused", func() bool { return strings.Contains(w.readable(), "is your own") })
	w.press(slackOdd, card.TS, "do:check")
	w.until("the form is open", func() bool { return len(views()) == 1 })
	form := views()[0]
	if _, err := w.slack.Submit(form.ID, map[string]string{"entered-1": "9000", "entered-2": "high"}); err != nil {
		t.Fatal(err)
	}
	w.until("the second field is refused", func() bool {
		v, _ := w.slack.View(form.ID)
		return v.Open && len(v.Problems) == 1 && strings.Contains(v.Problems["entered-2"], "Enter the corrected altitude")
	})
	if _, err := w.slack.Submit(form.ID, map[string]string{"entered-1": "9000", "entered-2": "5470"}); err != nil {
		t.Fatal(err)
	}
	w.until("the check", func() bool { return strings.Contains(w.readable(), "is checked by Odd at ") })
	if n := w.times("nnnn"); n != 0 {
		t.Errorf("beside the form the line to type is shown %d times", n)
	}

	if _, err := w.discord.Say(discorddouble.Say{By: brun, Channel: crew, Text: w.discord.Mention() + " card " + id + " letter"}); err != nil {
		t.Fatal(err)
	}
	var on discorddouble.Message
	w.until("the files on Discord", func() bool {
		for _, c := range w.discord.AllChannels() {
			for _, m := range w.discord.FromBot(c) {
				if len(m.Attachments) == 2 {
					on = m
				}
			}
		}
		return len(on.Attachments) == 2
	})
	if a, b := on.Attachments[0], on.Attachments[1]; a.Name != id+".png" || b.Name != id+".pdf" || !bytes.HasPrefix(b.Data, []byte("%PDF")) || !strings.Contains(a.Description, "Checked by Odd") {
		t.Errorf("on Discord stand %q and %q, %q", a.Name, b.Name, a.Description)
	}
	w.stop()

	var out, errs strings.Builder
	h := host{stdin: strings.NewReader(""), stdout: &out, stderr: &errs, getenv: func(string) string { return "" }, now: time.Now}
	t.Chdir(w.dir)
	if code := run(t.Context(), []string{"card", "--config", "config.yaml", "-o", "kept.pdf", id}, h); code != exitAnswered || !strings.Contains(out.String(), "Checked by Odd") {
		t.Errorf("card %s: exit %d, %s%s", id, code, out.String(), errs.String())
	}
	if code := run(t.Context(), []string{"card", "--config", "config.yaml", "-o", "none.pdf", "KALOMI-RUTA"}, h); code != exitOther || !strings.Contains(errs.String(), "no record is called KALOMI-RUTA") {
		t.Errorf("card of no record: exit %d, %s", code, errs.String())
	}
}

// TestPostToTheTeam posts a result from one service to the team's channels on
// both: a check there counts, shows on every card, and a restart posts nothing
// again.
func TestPostToTheTeam(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	alerts := w.discord.Channels()[1]
	ada := w.discord.People()[0].ID
	w.start()
	w.connected()

	w.sayOnSlack(slackKari, "", "XKLD -38 FAF 8200, DA 5340")
	w.until("the result", func() bool { _, ok := w.card(slackCrew, "9000"); return ok })
	card, _ := w.card(slackCrew, "9000")
	id := regexp.MustCompile(`[A-Z]{6}-[A-Z]{4}`).FindString(card.Read())
	w.press(slackOdd, card.TS, "do:post")
	w.until("it is told", func() bool { return strings.Contains(w.readable(), id+" goes to the team channel") })
	w.until("the post on Slack", func() bool { _, ok := w.card(slackAlerts, id); return ok })
	posts := func() (all []discorddouble.Message) {
		for _, m := range w.discord.FromBot(alerts) {
			if len(m.Embeds) > 0 && m.Embeds[0].Footer != nil && strings.Contains(m.Embeds[0].Footer.Text, id) {
				all = append(all, m)
			}
		}
		return all
	}
	w.until("the post on Discord", func() bool { return len(posts()) == 1 })
	there, _ := w.card(slackAlerts, id)
	if text := there.Read(); !strings.Contains(text, id+" · not checked") {
		t.Errorf("the post on Slack reads %q", text)
	}

	m := posts()[0]
	check := ""
	for _, row := range m.Rows {
		for _, b := range row {
			if b.Label == "Check" {
				check = b.CustomID
			}
		}
	}
	if _, err := w.discord.Press(alerts, m.ID, ada, check); err != nil {
		t.Fatal(err)
	}
	w.until("the figures are asked about, of one person alone", func() bool {
		for _, m := range w.discord.FromBot(alerts) {
			if m.Only == ada && strings.Contains(m.Content+fmt.Sprint(m.Embeds), "do you get the same figures?") {
				_, err := w.discord.Press(alerts, m.ID, ada, "Check")
				return err == nil
			}
		}
		return false
	})
	checked := func(channel string) func() bool {
		return func() bool {
			m, ok := w.card(channel, id+" · checked")
			return ok && strings.Contains(m.Read(), "Checked by ")
		}
	}
	w.until("the card where it was asked says so", checked(slackCrew))
	w.until("the post on Slack says so", checked(slackAlerts))
	w.until("the post on Discord says so", func() bool {
		m := posts()[0]
		return strings.HasSuffix(m.Content, " Checked.") && strings.Contains(m.Embeds[0].Footer.Text, id+" · ") && strings.Contains(m.Embeds[0].Footer.Text, "Checked by ")
	})

	w.stop()
	w.start()
	w.connected()
	w.sayOnSlack(slackOdd, card.Thread, "post "+id)
	w.until("that it was posted is told", func() bool { return strings.Contains(w.readable(), id+" was posted to the team channel before") })
	time.Sleep(300 * time.Millisecond)
	n := 0
	for _, m := range w.slack.Posted(slackAlerts) {
		if strings.Contains(m.Read(), id+" · ") {
			n++
		}
	}
	if n != 1 || len(posts()) != 1 {
		t.Errorf("it stands %d times on Slack and %d times on Discord, want once each", n, len(posts()))
	}
}
