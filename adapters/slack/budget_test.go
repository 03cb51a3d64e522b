package slack

import (
	"encoding/json"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/adapters/testkit/slackdouble"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// phone is how many characters a line of a phone has.
const phone = 42

// wrapped are the lines that a phone makes of a text.
func wrapped(text string) (lines []string) {
	for l := range strings.SplitSeq(text, "\n") {
		if utf8.RuneCountInString(l) <= phone { // also one of a table, with its spaces
			lines = append(lines, l)
			continue
		}
		line := ""
		for _, w := range strings.Fields(l) {
			if line != "" && utf8.RuneCountInString(line)+1+utf8.RuneCountInString(w) > phone {
				lines, line = append(lines, line), ""
			}
			line = strings.TrimSpace(line + " " + w)
		}
		lines = append(lines, line)
	}
	return lines
}

// golden is a golden reply as a crew gets it: with its record and everything that
// can be done with it.
func golden(t *testing.T, name string) chat.Message {
	t.Helper()
	a, err := txtar.ParseFile(filepath.Join("..", "..", "testdata", "reply", name+".txtar"))
	if err != nil {
		t.Fatal(err)
	}
	var r reply.Reply
	for _, f := range a.Files {
		if f.Name == "reply.json" {
			if err := json.Unmarshal(f.Data, &r); err != nil {
				t.Fatal(err)
			}
		}
	}
	r.Record = &reply.RecordStatus{ID: "GOGA-RUTA", State: "unchecked", ValidUntil: time.Date(2026, 1, 15, 17, 54, 0, 0, time.UTC), Lines: []string{"Computed by Anna at 06:12 local (13:12Z)."}}
	for i, act := range r.Actions {
		r.Actions[i].Message = act.Asks()
	}
	line := strings.TrimPrefix(r.Actions[0].Message, "why ")
	r.Actions = append(r.Actions[:1:1],
		reply.Action{ID: "picture", Label: "Picture", Message: "picture " + line},
		reply.Action{ID: reply.ActionCard, Label: "Card", Message: "card GOGA-RUTA"},
		reply.Action{ID: reply.ActionPost, Label: "Post to the team", Message: "post GOGA-RUTA"},
		reply.Action{ID: "check", Label: "Check", Message: "check GOGA-RUTA"},
		reply.Action{ID: "recompute", Label: reply.Again("−29, 61 min old"), Message: "recompute GOGA-RUTA"})
	return chat.Message{Reply: r}
}

// TestBudgets: an answer is one screen of a phone, and no more bytes than it
// needs; a row of its table never wraps.
func TestBudgets(t *testing.T) {
	for _, c := range []struct {
		name         string
		lines, bytes int
	}{
		{"unlabelled", 14, 1800},
		{"procedure", 24, 3600},
	} {
		m := compose(golden(t, c.name))
		blocks, err := json.Marshal(m.blocks)
		if err != nil {
			t.Fatal(err)
		}
		seen := slackdouble.Message{Blocks: blocks}
		lines := wrapped(seen.Read())
		t.Logf("%s: %d lines, %d bytes of blocks\n%s", c.name, len(lines), len(blocks), strings.Join(lines, "\n"))
		if len(lines) > c.lines || len(blocks) > c.bytes {
			t.Errorf("%s: %d lines and %d bytes of blocks, at most %d and %d", c.name, len(lines), len(blocks), c.lines, c.bytes)
		}
		if first, _, _ := strings.Cut(m.text, "\n"); utf8.RuneCountInString(first) > present.NoticeMost || !strings.Contains(first, "→") {
			t.Errorf("%s: a locked screen shows %q", c.name, first)
		}
		var all []map[string]any
		if err := json.Unmarshal(blocks, &all); err != nil {
			t.Fatal(err)
		}
		text, _ := all[0]["text"].(map[string]any)
		words, _ := text["text"].(string)
		table := strings.Split(words, "```")
		if len(table) != 3 {
			t.Fatalf("%s: no table in %s", c.name, words)
		}
		for l := range strings.SplitSeq(strings.Trim(table[1], "\n"), "\n") {
			if n := utf8.RuneCountInString(l); n > 40 {
				t.Errorf("%s: the row %q has %d characters and wraps", c.name, l, n)
			}
		}
		buttons, menu := seen.Buttons(), seen.Menu()
		if len(buttons) != 2 || buttons[0].Label != "Check" || buttons[1].Label != "Post" || len(menu) == 0 || len(menu) > mostOptions {
			t.Errorf("%s: buttons %+v and a menu of %+v, want Check, Post and one of at most five", c.name, buttons, menu)
		}
	}
}
