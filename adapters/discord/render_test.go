package discord

import (
	"bytes"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/bwmarrin/discordgo"
	"github.com/rogpeppe/go-internal/txtar"
	"pgregory.net/rapid"

	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

var update = flag.Bool("update", false, "write the golden messages anew; read the difference before you commit it")

// replies are the golden replies that are rendered, those of testdata/reply
// in the repository and an alert of our own.
var replies = []string{"all_segments", "unlabelled", "procedure", "status", "no_sign", "why", "help", "metres", "advisory", "brief", "alert"}

func goldenReply(t *testing.T, name string) reply.Reply {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "reply", name+".txtar")
	if name == "alert" {
		path = filepath.Join("testdata", "alert.reply.txtar")
	}
	a, err := txtar.ParseFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range a.Files {
		if f.Name == "reply.json" {
			var r reply.Reply
			if err := json.Unmarshal(f.Data, &r); err != nil {
				t.Fatal(err)
			}
			return r
		}
	}
	t.Fatalf("%s holds no reply", path)
	return reply.Reply{}
}

// TestGolden renders replies and compares the messages, and what a person
// reads of them.
func TestGolden(t *testing.T) {
	for _, name := range replies {
		t.Run(name, func(t *testing.T) {
			c, key := chat.Message{Reply: goldenReply(t, name)}, ""
			if name == "alert" {
				c.Note, key = "This post is late by 47 min.", markOf(alertKey)
			}
			got := &txtar.Archive{Comment: []byte("A reply on Discord: as it is sent, as it reads, and what lies behind More.\n")}
			m := render(c, key)
			var b bytes.Buffer
			enc := json.NewEncoder(&b)
			enc.SetEscapeHTML(false)
			enc.SetIndent("", "  ")
			if err := enc.Encode(m); err != nil {
				t.Fatal(err)
			}
			got.Files = append(got.Files, txtar.File{Name: "message.json", Data: b.Bytes()}, txtar.File{Name: "message.txt", Data: []byte(source(m))})
			d := present.Of(c.Reply)
			for _, f := range d.More {
				text := source(unfolded(chat.Part{Title: f.Title, Blocks: f.Blocks}))
				got.Files = append(got.Files, txtar.File{Name: "more/" + f.ID + ".txt", Data: []byte(text)})
			}
			path := filepath.Join("testdata", name+".txtar")
			if *update {
				if err := os.WriteFile(path, txtar.Format(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if !bytes.Equal(txtar.Format(got), want) {
				t.Errorf("%s differs; got\n%s", path, txtar.Format(got))
			}
		})
	}
}

// source is a message as it is written, with its parts in reading order.
func source(m message) string {
	var b strings.Builder
	line := func(s string) {
		if s != "" {
			b.WriteString(s + "\n")
		}
	}
	line(m.Content)
	for _, e := range m.Embeds {
		line(e.Title)
		line(e.Description)
		for _, f := range e.Fields {
			line(f.Name + "\n" + f.Value)
		}
		if e.Footer != nil {
			line("(" + e.Footer.Text + ")")
		}
	}
	for _, row := range m.Components {
		for _, c := range row.Components {
			switch c := c.(type) {
			case discordgo.Button:
				line("[" + c.Label + "]")
			case discordgo.SelectMenu:
				for _, o := range c.Options {
					line("⋯ " + o.Label)
				}
			}
		}
	}
	return b.String()
}

func TestEscape(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"XKLD Kaldmoor, elevation 4802 ft.", "XKLD Kaldmoor, elevation 4802 ft."},
		{"−38 °C at 06:00", "−38 °C at 06:00"},
		{"-38", "-38"},
		{"- 38", `\- 38`},
		{"1. one", `1\. one`},
		{"10.5", "10.5"},
		{"10.", `10\.`},
		{":smile: 06:00Z to 07:00Z", `\:smile: 06:00Z to 07:00Z`},
		{"# head", `\# head`},
		{"> quote", `\> quote`},
		{"*b* _i_ ~~s~~ ||h|| `c`", "\\*b\\* \\_i\\_ \\~\\~s\\~\\~ \\|\\|h\\|\\| \\`c\\`"},
		{"<@1> @everyone <#2> </x:3>", `\<\@1\> \@everyone \<\#2\> \</x:3\>`},
		{"[a](https://example.com)", `\[a\](https\://example.com)`},
		{`\*`, `\\\*`},
	} {
		if got := escape(c.in); got != c.want {
			t.Errorf("escape(%q) = %q, want %q", c.in, got, c.want)
		}
	}
}

// What is escaped reads as it was.
func TestEscapeKeepsText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := clean(rapid.String().Draw(t, "text"))
		escaped := escape(s)
		var b strings.Builder
		for i := 0; i < len(escaped); i++ {
			if escaped[i] == '\\' && i+1 < len(escaped) {
				i++
			}
			b.WriteByte(escaped[i])
		}
		if b.String() != s {
			t.Errorf("%q became %q", s, b.String())
		}
	})
}

// Whatever a reply holds, its message and what lies behind More are within the
// limits.
// A morning of more bases than a message takes shows the coldest, and says where
// the rest is.
func TestLongMorning(t *testing.T) {
	r := reply.Reply{Kind: reply.KindDigest, Headline: "40 below: X00 −45", Facts: []string{"Cold watch, Thu 15 Jan."}}
	for _, title := range []string{"At or below: 40", "Near: 40"} {
		s := reply.Section{Title: title}
		for i := range 40 {
			s.Lines = append(s.Lines, fmt.Sprintf("X%02d Base number %d: −%d at 08:00, line −25, below about 05:30–12:15 local (estimated). Seen by Anna 06:12.", i, i, 45-i/3))
		}
		r.Sections = append(r.Sections, s)
	}
	m := render(chat.Message{Reply: r}, "")
	text := m.Embeds[0].Description
	if n := strings.Count(text, "• X"); n < 20 || n >= 40 || !strings.Contains(text, "\n• X00 ") || !strings.HasSuffix(text, "Seen by Anna 06:12.\n\n"+restBelow) || strings.Contains(text, "Near") {
		t.Errorf("%d bases are shown:\n%s", n, text)
	}
	if len(m.files) != 1 || strings.Count(string(m.files[0].data), "Seen by Anna") != 80 || units(text) > mostDescription+units(restBelow)+2 {
		t.Errorf("%d files, and %d characters", len(m.files), units(text))
	}
}

func TestLimits(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringN(0, 6000, -1), rapid.SampledFrom([]string{"", strings.Repeat("unbroken", 700), strings.Repeat("`", 400), strings.Repeat("𝄞", 2100), "XKLD -38"}))
		list := func(name string) []string { return rapid.SliceOfN(text, 0, 6).Draw(t, name) }
		r := reply.Reply{
			Kind:     rapid.SampledFrom([]reply.Kind{reply.KindAlert, reply.KindCorrection, reply.KindHelp, reply.KindNote}).Draw(t, "kind"),
			Headline: text.Draw(t, "headline"), Facts: list("facts"), Notes: list("notes"), Source: text.Draw(t, "source"),
			Sections: []reply.Section{{Title: text.Draw(t, "title"), Lines: list("lines")}},
			Requests: []reply.Request{{When: text.Draw(t, "when"), Text: text.Draw(t, "request"), Spoken: text.Draw(t, "spoken"), Source: text.Draw(t, "from")}},
			Working:  []reply.Working{{Name: text.Draw(t, "name"), Steps: []reply.Step{{Text: text.Draw(t, "step"), Source: text.Draw(t, "from")}}, Methods: []reply.MethodFigure{{Method: text.Draw(t, "method")}}}},
			Stops:    []reply.Stop{{Text: text.Draw(t, "stop")}}, Cautions: []reply.Caution{{Code: "x", Text: text.Draw(t, "caution")}},
			Record: &reply.RecordStatus{ID: text.Draw(t, "id"), State: "checked", Lines: list("record")},
		}
		for i, l := range list("labels") {
			r.Altitudes = append(r.Altitudes, reply.Row{Label: l, Segment: text.Draw(t, "segment"), PublishedFt: 8200, CorrectedFt: 8300})
			r.Actions = append(r.Actions, reply.Action{ID: fmt.Sprint("a", i%2), Label: l, Message: text.Draw(t, "message")})
		}
		if rapid.Bool().Draw(t, "problem") {
			r.Problem = &reply.Problem{Text: text.Draw(t, "problem text"), Try: text.Draw(t, "try")}
		}
		all := []message{render(chat.Message{Reply: r, Note: text.Draw(t, "note")}, rapid.SampledFrom([]string{"", markOf(alertKey)}).Draw(t, "mark"))}
		for _, f := range present.Of(r).More {
			all = append(all, unfolded(chat.Part{Title: f.Title, Blocks: f.Blocks}))
		}
		for i := range all {
			within(t, &all[i])
		}
	})
}

// within says what a message has too much of.
func within(t *rapid.T, m *message) {
	if units(m.Content) > mostContent {
		t.Errorf("content of %d", units(m.Content))
	}
	total, ids := 0, map[string]bool{}
	for _, e := range m.Embeds {
		if units(e.Title) > 256 || units(e.Description) > 4096 {
			t.Errorf("title of %d, description of %d", units(e.Title), units(e.Description))
		}
		total += units(e.Title) + units(e.Description)
		if e.Footer != nil {
			total += units(e.Footer.Text)
		}
		for _, f := range e.Fields {
			total += units(f.Name) + units(f.Value)
			if units(f.Name) > 256 || units(f.Value) > 1024 {
				t.Errorf("field of %d and %d", units(f.Name), units(f.Value))
			}
		}
		if strings.Count(e.Description, fenceMark)%2 != 0 {
			t.Errorf("a fence is not closed: %q", e.Description)
		}
	}
	if strings.Count(m.Content, fenceMark)%2 != 0 {
		t.Errorf("a fence is not closed: %q", m.Content)
	}
	if total > 6000 {
		t.Errorf("embeds of %d", total)
	}
	if m.Content == "" && len(m.Embeds) == 0 {
		t.Error("an empty message")
	}
	if len(m.Components) > 5 {
		t.Errorf("%d rows", len(m.Components))
	}
	for _, row := range m.Components {
		if len(row.Components) < 1 || len(row.Components) > 5 {
			t.Errorf("a row of %d", len(row.Components))
		}
		for _, c := range row.Components {
			id := ""
			switch c := c.(type) {
			case discordgo.Button:
				id = c.CustomID
				if units(c.Label) < 1 || units(c.Label) > 80 {
					t.Errorf("button %+v", c)
				}
			case discordgo.SelectMenu:
				id = c.CustomID
				if len(c.Options) < 1 || len(c.Options) > 25 || len(row.Components) != 1 {
					t.Errorf("menu %+v", c)
				}
			}
			if id == "" || units(id) > mostCustomID || ids[id] {
				t.Errorf("custom id %q", id)
			}
			ids[id] = true
		}
	}
}
