package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
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
	for _, name := range files {
		t.Run(filepath.Base(name), func(t *testing.T) {
			old, err := os.ReadFile(name)
			if err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			thread := 0
			for line := range strings.Lines(string(old)) {
				line = strings.TrimRight(line, "\n")
				switch {
				case strings.HasPrefix(line, ">"):
					text := strings.ReplaceAll(strings.TrimPrefix(strings.TrimPrefix(line, ">"), " "), "⏎", "\n")
					r := say(fmt.Sprint(name, thread), text)
					b.WriteString(line + "\n  " + inShort(r) + "\n")
					if p := r.Problem; p != nil && p.Try != "" {
						if again := say(fmt.Sprint(name, thread, "offer", text), p.Try); again.Problem != nil && !elsewhere(again.Problem.Text) {
							t.Errorf("%q: the line to type, %q, is not answered: %s", text, p.Try, again.Problem.Text)
						}
					}
				case strings.HasPrefix(line, "  "):
				default:
					if line == "" {
						thread++
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
