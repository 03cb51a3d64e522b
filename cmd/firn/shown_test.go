package main

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"log/slog"
	"slices"
	"strings"
	"testing"

	"firn/adapters/discord"
	"firn/adapters/page"
	"firn/adapters/slack"
	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
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

// onPage is a card as a page reads with its folds closed, a line a paragraph,
// an item or a row.
func onPage(t *testing.T, c chat.Message) []byte {
	t.Helper()
	p, err := page.New(slog.New(slog.DiscardHandler), page.Options{})
	if err != nil {
		t.Fatal(err)
	}
	html := p.Shown(c)
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
