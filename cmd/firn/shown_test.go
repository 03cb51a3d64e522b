package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"log/slog"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/adapters/console"
	"firn/adapters/discord"
	"firn/adapters/page"
	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/reply"
)

// onSlack is a card as a person reads it on Slack; the first line is the
// notification's.
func onSlack(t *testing.T, c chat.Message) []byte {
	t.Helper()
	text, blocks, err := slack.Shown(c)
	if err != nil {
		t.Fatal(err)
	}
	first, _, _ := strings.Cut(text, "\n")
	m := slackdouble.Message{Text: text, Blocks: blocks}
	lines := []string{"(" + first + ")", m.Read()}
	for _, b := range m.Buttons() {
		lines = append(lines, "["+b.Label+"]")
	}
	for _, o := range m.Menu() {
		lines = append(lines, "⋯ "+o.Label)
	}
	return []byte(strings.Join(lines, "\n") + "\n")
}

// onDiscord is a card as it is written on Discord: the content, which is what
// a notification shows, and what stands in embeds.
func onDiscord(t *testing.T, c chat.Message) []byte {
	t.Helper()
	sent, err := discord.Shown(c)
	if err != nil {
		t.Fatal(err)
	}
	var m struct {
		Content string
		Embeds  []struct {
			Title, Description string
			Footer             struct{ Text string }
		}
		Components []struct {
			Components []struct {
				Label   string
				Options []struct{ Label string }
			}
		}
	}
	if err := json.Unmarshal(sent, &m); err != nil {
		t.Fatal(err)
	}
	lines := []string{m.Content}
	for _, e := range m.Embeds {
		lines = append(lines, e.Title, e.Description, e.Footer.Text)
	}
	for _, row := range m.Components {
		for _, c := range row.Components {
			if c.Label != "" {
				lines = append(lines, "["+c.Label+"]")
			}
			for _, o := range c.Options {
				lines = append(lines, "⋯ "+o.Label)
			}
		}
	}
	lines = slices.DeleteFunc(lines, func(s string) bool { return s == "" })
	return []byte(strings.Join(lines, "\n") + "\n")
}

// aged is the part of a sentence that grows older on an open page.
var aged = regexp.MustCompile(`<span class="old"[^>]*>([^<]*)</span>`)

// onPage is a card as a page reads with its folds closed, a line a paragraph,
// an item or a row.
func onPage(t *testing.T, c chat.Message) []byte {
	t.Helper()
	p, err := page.New(slog.New(slog.DiscardHandler), page.Options{})
	if err != nil {
		t.Fatal(err)
	}
	html := aged.ReplaceAllString(p.Shown(c), "$1")
	d := xml.NewDecoder(strings.NewReader(html))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var out bytes.Buffer
	var line []string
	folded, pressed := 0, false
	end := func() {
		text := strings.Join(strings.Fields(strings.Join(line, " ")), " ")
		if line = nil; text != "" {
			out.WriteString(text + "\n")
		}
	}
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("%v in\n%s", err, html)
		}
		switch e := token.(type) {
		case xml.StartElement:
			switch e.Name.Local {
			case "details":
				folded++
			case "summary":
				folded--
				line = append(line, "⋯")
			case "button":
				end()
				pressed = true
			}
		case xml.EndElement:
			switch e.Name.Local {
			case "details":
				folded--
			case "summary":
				end()
				folded++
			case "button":
				pressed = false
				end()
			case "p", "li", "tr", "h2", "h3", "h4", "caption", "form":
				end()
			}
		case xml.CharData:
			text := strings.TrimSpace(string(e))
			if folded > 0 || text == "" {
				continue
			}
			if pressed {
				text = "[" + text + "]"
			}
			line = append(line, text)
		}
	}
	end()
	return out.Bytes()
}

// TestOneDigest: a channel's morning has the same words on every surface.
func TestOneDigest(t *testing.T) {
	at := goldenTime
	line := func(ident, state string, low float64) reply.DigestLine {
		return reply.DigestLine{Asks: state == "below", Zone: time.UTC, Cold: reply.Cold{
			Ident: ident, State: state, LowC: reply.Some(low), LowAt: at, RestrictionC: reply.Some(-20),
		}}
	}
	r := reply.MorningDigest(reply.DigestScene{Day: "2026-01-25", Bases: []reply.DigestLine{line("XKLD", "below", -31), line("XFRN", "near", -18), line("XGLN", "below", -24)}})
	var screen bytes.Buffer
	if err := console.Render(&screen, r, console.Style{}); err != nil {
		t.Fatal(err)
	}
	c := chat.Message{Reply: r}
	want := append([]string{r.Headline}, r.Facts...)
	for _, s := range r.Sections {
		want = append(append(want, s.Title), s.Lines...)
	}
	if len(want) != 7 {
		t.Fatalf("the digest says %q", want)
	}
	for name, shown := range map[string][]byte{"console": screen.Bytes(), "page": onPage(t, c), "slack": onSlack(t, c), "discord": onDiscord(t, c)} {
		text := strings.Join(strings.Fields(string(shown)), " ")
		for _, w := range want {
			if !strings.Contains(text, w) {
				t.Errorf("%s does not say %q: %s", name, w, text)
			}
		}
	}
}
