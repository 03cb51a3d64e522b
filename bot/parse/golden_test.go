package parse

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// breakMark stands for a line break in a golden's message.
const breakMark = "⏎"

// TestCrews reads messages as crews type them. A line with ">" is a message,
// the lines behind it are what is read, or asked.
func TestCrews(t *testing.T) {
	rd := demoReader()
	rd.Named(func(words []string) (string, int, bool) {
		if name := strings.ToUpper(words[0]); name == "KALOMI-RUTA" || name == "MITARA-SOLU" {
			return name, 1, true
		}
		return "", 0, false
	})
	files, err := filepath.Glob("testdata/crews/*.golden")
	if err != nil || len(files) == 0 {
		t.Fatal(files, err)
	}
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			old, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			var b strings.Builder
			for line := range strings.Lines(string(old)) {
				line = strings.TrimRight(line, "\n")
				switch {
				case strings.HasPrefix(line, ">"):
					text := strings.ReplaceAll(strings.TrimPrefix(strings.TrimPrefix(line, ">"), " "), breakMark, "\n")
					req, p := rd.Parse(text)
					if OnDuty(text) != VerbOf(text).OnDuty() {
						t.Errorf("%q: on duty %v by its words, %v by its verb", text, OnDuty(text), VerbOf(text).OnDuty())
					}
					b.WriteString(line + "\n" + reads(req, p))
					if p != nil {
						sound(t, text, p)
						mends(t, rd, text, p)
					}
				case strings.HasPrefix(line, "  "): // what was read before
				default:
					b.WriteString(line + "\n")
				}
			}
			if *update {
				if err := os.WriteFile(file, []byte(b.String()), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			got := strings.Split(b.String(), "\n")
			for i, want := range strings.Split(string(old), "\n") {
				if i >= len(got) || got[i] != want {
					t.Fatalf("line %d: got %q, want %q", i+1, got[min(i, len(got)-1)], want)
				}
			}
			if len(got) != strings.Count(string(old), "\n")+1 {
				t.Fatalf("%d lines, want %d", len(got), strings.Count(string(old), "\n")+1)
			}
		})
	}
}

// reads is a reading in short, each part on a line of its own.
func reads(r Request, p *Problem) string {
	var b strings.Builder
	if p != nil {
		fmt.Fprintf(&b, "  ask  %s\n", p.Text)
		if p.Try != "" {
			fmt.Fprintf(&b, "  try  %s\n", p.Try)
		}
		return b.String()
	}
	what := r.Line()
	switch r.Verb {
	case Correct:
	case Brief, Route, Why, Picture, Card:
	default:
		what = strings.TrimSpace(r.Verb.String() + " " + what)
	}
	fmt.Fprintf(&b, "  read %s\n", what)
	extra := func(name, value string) {
		if value != "" {
			fmt.Fprintf(&b, "       %s: %s\n", name, value)
		}
	}
	extra("record", r.Record)
	extra("at", r.At.String())
	if r.For > 0 {
		extra("for", r.For.String())
	}
	if r.HasReport {
		extra("report", r.Report.Ident)
	}
	for _, g := range r.Gone {
		extra("gone", g.Name())
	}
	if r.Also {
		extra("also", "yes")
	}
	if r.Latest {
		extra("temperature", "the latest")
	}
	if r.Today {
		extra("day", "today")
	}
	if r.Yesterday {
		extra("day", "yesterday")
	}
	if r.Unchecked {
		extra("state", "unchecked")
	}
	extra("not used", strings.Join(r.NotUsed, ", "))
	return b.String()
}
