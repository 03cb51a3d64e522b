package discord

import (
	"encoding/json"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// phone is how many characters a line of a phone has.
const phone = 42

// wrapped are the lines that a phone makes of a text.
func wrapped(text string) (lines []string) {
	for l := range strings.SplitSeq(strings.TrimRight(text, "\n"), "\n") {
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

// read is a message as a phone shows it: a line of its own with a fence shows
// nothing.
func read(m discorddouble.Message) string {
	var lines []string
	for l := range strings.SplitSeq(readable(m), "\n") {
		if strings.TrimSpace(l) != "" {
			lines = append(lines, l)
		}
	}
	return strings.Join(lines, "\n")
}

// crewCard is a golden reply as a crew gets it: with its record and everything
// that can be done with it.
func crewCard(t *testing.T, name string) chat.Message {
	t.Helper()
	r := goldenReply(t, name)
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

// TestBudgets: an answer is one screen of a phone, notice and all, and costs two
// calls, of which one begins its thread; a row of its table never wraps.
func TestBudgets(t *testing.T) {
	for _, c := range []struct {
		name  string
		lines int
	}{
		{"unlabelled", 14},
		{"procedure", 24},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{})
			s, k := newSurface(t, options(d)), &clerk{silent: true}
			ready(t, d, s, k)
			wait(t, d, "the commands stand", func() bool { return d.Counts().Registers == 1 })
			question := say(t, d, "one")
			eventually(t, "it is heard", func() bool { return len(k.heard()) == 1 })
			before := d.Counts().Calls
			if _, err := s.Answer(t.Context(), k.heard()[0], crewCard(t, c.name)); err != nil {
				t.Fatal(err)
			}
			calls := d.Counts().Calls - before
			all := d.FromBot(question)
			if len(all) != 1 {
				t.Fatalf("%d messages, want one", len(all))
			}
			m := all[0]
			raw, err := json.Marshal([]any{m.Content, m.Embeds, m.Rows, m.Menus})
			if err != nil {
				t.Fatal(err)
			}
			lines := wrapped(read(m))
			t.Logf("%s: %d lines, %d bytes, %d calls\n%s", c.name, len(lines), len(raw), calls, strings.Join(lines, "\n"))
			if len(lines) > c.lines || calls > 2 {
				t.Errorf("%s: %d lines and %d calls, at most %d and 2", c.name, len(lines), calls, c.lines)
			}
			if notice := unmarked(m.Content); notice != present.Of(crewCard(t, c.name).Reply).Notice || utf8.RuneCountInString(notice) > present.NoticeMost || !strings.Contains(notice, "→") {
				t.Errorf("%s: a locked screen shows %q", c.name, notice)
			}
			table := strings.Split(m.Embeds[0].Description, fenceMark)
			if len(table) != 3 {
				t.Fatalf("%s: no table in %s", c.name, m.Embeds[0].Description)
			}
			for l := range strings.SplitSeq(strings.Trim(table[1], "\n"), "\n") {
				if n := utf8.RuneCountInString(l); n > 40 {
					t.Errorf("%s: the row %q has %d characters and wraps", c.name, l, n)
				}
			}
			const primary = 1 // Discord's number of that style
			if len(m.Rows) != 1 || len(m.Rows[0]) != 2 || m.Rows[0][0].Label != "Check" || m.Rows[0][0].Style != primary || m.Rows[0][1].Label != "Post" || m.Rows[0][1].Style == primary {
				t.Errorf("%s: buttons %+v, want Check, which is primary, and Post", c.name, m.Rows)
			}
			if len(m.Menus) != 1 || m.Menus[0].Placeholder != "More" {
				t.Errorf("%s: menus %+v, want More alone", c.name, m.Menus)
			}
		})
	}
}

// TestStopStands: what forbids stands above the figures in whole, once.
func TestStopStands(t *testing.T) {
	for _, name := range []string{"procedure", "procedure_ar"} {
		c := crewCard(t, name)
		m := render(c, "")
		for _, stop := range c.Reply.Stops {
			text := source(m)
			if n := strings.Count(text, "**"+escape(stop.Text)+"**"); n != 1 {
				t.Errorf("%s: %q stands there %d times, want once:\n%s", name, stop.Text, n, text)
			}
			if at, table := strings.Index(text, "**"+escape(stop.Text)+"**"), strings.Index(text, fenceMark); table >= 0 && at > table {
				t.Errorf("%s: %q stands below the table:\n%s", name, stop.Text, text)
			}
		}
		if len(c.Reply.Stops) == 0 {
			t.Errorf("%s has no stop", name)
		}
	}
}
