package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/reply"
	"firn/cmd/wiring"
)

// TestThreads talks as crews talk, over the demo region. In testdata/threads a
// blank line begins a thread, a line with ">" is a message, and the line below
// it what comes of it: every line that is offered is sent, in a thread of its
// own, and must be answered.
func TestThreads(t *testing.T) {
	files, err := filepath.Glob("../../testdata/threads/*.golden")
	if err != nil || len(files) == 0 {
		t.Fatalf("no threads: %v", err)
	}
	s, err := wiring.New(t.Context(), host{stderr: &bytes.Buffer{}}.wiring(), wiring.Wanted{Now: func() time.Time { return goldenTime }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	say := func(thread, text string) reply.Reply {
		r, err := s.Bot().Handle(t.Context(), bot.Message{Surface: "console", Thread: thread, Text: text, At: goldenTime, Direct: true, Duty: true})
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	seen := map[string]bool{}
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			old, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			thread, before := 0, []string{}
			for line := range strings.Lines(string(old)) {
				line = strings.TrimRight(line, "\n")
				switch {
				case strings.HasPrefix(line, ">"):
					text := strings.ReplaceAll(strings.TrimPrefix(strings.TrimPrefix(line, ">"), " "), "⏎", "\n")
					r := say(fmt.Sprint(name, thread), text)
					b.WriteString(line + "\n  " + inShort(r) + "\n")
					before = append(before, text)
					if p := r.Problem; p != nil && len(before) < 5 && !seen[shape(p.Text)] { // one question of a kind
						seen[shape(p.Text)] = true
						for k, answer := range answersTo(p) {
							with := fmt.Sprint(name, thread, " answered ", k, " at ", len(before))
							for _, earlier := range before {
								say(with, earlier)
							}
							leadsOn(t, p, answer, say(with, answer))
						}
					}
					if p := r.Problem; p != nil && p.Try != "" {
						if again := say(fmt.Sprint(name, thread, "offer", text), p.Try); again.Problem != nil && !elsewhere(again.Problem.Text) {
							t.Errorf("%q: the line to type, %q, is not answered: %s", text, p.Try, again.Problem.Text)
						}
					}
				case strings.HasPrefix(line, "  "):
				default:
					if line == "" {
						thread, before = thread+1, nil
					}
					b.WriteString(line + "\n")
				}
			}
			if *update {
				if err := os.WriteFile(name, []byte(b.String()), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			got, want := strings.Split(b.String(), "\n"), strings.Split(string(old), "\n")
			for i := range want {
				if i >= len(got) || got[i] != want[i] {
					t.Fatalf("line %d: got %q, want %q", i+1, got[min(i, len(got)-1)], want[i])
				}
			}
			if len(got) != len(want) {
				t.Fatalf("%d lines, want %d", len(got), len(want))
			}
		})
	}
}

// What a question is tried with: its figures, and the labels that it names.
var (
	figureAsked = regexp.MustCompile(`[-+]\d+|\d{3,}`)
	labelAsked  = regexp.MustCompile(`\b(IAF|IF|FAF|DA|MDA|missed|step|circling|LNAV)\b`)
	varies      = regexp.MustCompile(`[-+]?\d+|“[^”]*”|\b(IAF|IF|FAF|DA|MDA|missed|step|X[A-Z]+)\b`)
)

// shape is a question without what differs between those of one kind.
func shape(text string) string {
	words := strings.Fields(varies.ReplaceAllString(text, "_"))
	return strings.Join(words[:min(len(words), 5)], " ")
}

// answersTo are what somebody may say to a question without thinking.
func answersTo(p *reply.Problem) []string {
	out := []string{"yes", "no"}
	for _, re := range []*regexp.Regexp{figureAsked, labelAsked} {
		found := re.FindAllString(p.Text, 2)
		out = append(out, found...)
	}
	if p.Try != "" {
		out = append(out, p.Try)
	}
	return out
}

// leadsOn says that an answer to a question is neither asked the very same again nor
// passed over, and that the offered line is answered.
func leadsOn(t *testing.T, asked *reply.Problem, said string, r reply.Reply) {
	t.Helper()
	question := strings.Contains(asked.Text, "?") && !strings.HasPrefix(asked.Text, "As before: ") && !strings.HasPrefix(asked.Text, "A ") && // those say how to go on
		!strings.HasPrefix(asked.Text, "Then ") && !strings.HasPrefix(asked.Text, "Which do you mean by ")
	switch p := r.Problem; {
	case p != nil && p.Text == asked.Text && question:
		t.Errorf("%q answered by %q: the same is asked", asked.Text, said)
	case r.Kind == reply.KindNote && question:
		t.Errorf("%q answered by %q: nothing comes of it", asked.Text, said)
	case p != nil && said == asked.Try && !elsewhere(p.Text):
		t.Errorf("%q: the line to type, %q, is not answered there: %s", asked.Text, said, p.Text)
	}
}

// elsewhere says that a question is about what only a store has.
func elsewhere(text string) bool {
	return strings.Contains(text, "none are") || strings.Contains(text, "none is open") || strings.Contains(text, "none can be shown")
}

// inShort is a reply on one line: what was answered, or asked.
func inShort(r reply.Reply) string {
	if p := r.Problem; p != nil {
		text := "? " + p.Text
		if p.Try != "" {
			text += " | " + p.Try
		}
		return text
	}
	out := string(r.Kind)
	if r.Station.Ident != "" {
		out += " " + r.Station.Ident
	}
	if r.TemperatureC.OK {
		out += " " + reply.Degrees(r.TemperatureC.Value)
	}
	if r.Procedure != "" {
		out += " " + r.Procedure
	}
	if r.Kind == reply.KindCorrection {
		if r.Rules != "faa-all-segments" {
			out += " " + r.Rules
		}
		out += ":"
		for _, a := range r.Altitudes {
			out += fmt.Sprintf(" %s %.0f→%.0f,", a.Label, a.PublishedFt, a.CorrectedFt)
			if a.State == reply.StateNotUsable {
				out = strings.TrimSuffix(out, ",") + " not usable,"
			}
		}
		out = strings.TrimSuffix(strings.ReplaceAll(out, ":  ", ": "), ",")
		out = strings.ReplaceAll(out, ",  ", ", ")
	}
	for _, base := range r.Bases {
		out += " " + base.Ident
	}
	if len(r.Working) > 0 {
		out += " (with the working)"
	}
	for _, a := range r.Arrivals {
		out += fmt.Sprintf(" %s at %s", a.Station.Ident, a.At.Format("02 15:04Z"))
	}
	if r.Call != nil && r.Call.Way != "vectors" {
		out += " | " + r.Call.Way
	}
	for _, f := range append(r.Facts, r.Notes...) {
		if strings.HasPrefix(f, "Not used") || strings.HasPrefix(f, "With ") || strings.HasPrefix(f, "Worked out") || strings.HasPrefix(f, "From your message") {
			out += " | " + f
		}
	}
	return out
}
