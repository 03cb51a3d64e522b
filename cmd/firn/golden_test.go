package main

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/adapters/console"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
	"firn/cmd/wiring"
)

var update = flag.Bool("update", false, "write the golden replies anew; read the difference before you commit it")

// TestGoldenReplies answers the messages of testdata/reply and compares the
// last reply of each file with its JSON form and its look on the console, on
// Slack, on Discord and on a page, where what is one tap away is its title. A
// file holds a message a line: those before the last are the thread.
func TestGoldenReplies(t *testing.T) {
	files, err := filepath.Glob("../../testdata/reply/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatalf("no golden replies: %v", err)
	}
	for _, name := range files {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txtar"), func(t *testing.T) {
			a, err := txtar.ParseFile(name)
			if err != nil {
				t.Fatal(err)
			}
			got := answerGolden(t, a)
			if *update {
				if err := os.WriteFile(name, txtar.Format(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			for i, f := range got.Files {
				if i >= len(a.Files) || a.Files[i].Name != f.Name {
					t.Fatalf("%s has no %s; run with -update", name, f.Name)
				}
				if !bytes.Equal(a.Files[i].Data, f.Data) {
					t.Errorf("%s of %s differs; got\n%s\nwant\n%s", f.Name, name, f.Data, a.Files[i].Data)
				}
			}
		})
	}
}

// goldenTime is when the golden messages come: 37 minutes after the reports
// in them.
var goldenTime = time.Date(2026, 1, 25, 12, 30, 0, 0, time.UTC)

func answerGolden(t *testing.T, a *txtar.Archive) *txtar.Archive {
	t.Helper()
	out := &txtar.Archive{Comment: a.Comment}
	path, dir := "", t.TempDir()
	var lines []string
	for _, f := range a.Files {
		switch f.Name {
		case "config.yaml":
			path = filepath.Join(dir, "config.yaml")
			if err := os.WriteFile(path, f.Data, 0o600); err != nil {
				t.Fatal(err)
			}
		case "messages.txt":
			lines = strings.Split(strings.TrimRight(string(f.Data), "\n"), "\n")
		default:
			if !strings.Contains(f.Name, "/") {
				continue
			}
			// Weather and charts, as the configuration names them.
			name := filepath.Join(dir, f.Name)
			if err := makeFile(name, f.Data); err != nil {
				t.Fatal(err)
			}
		}
		out.Files = append(out.Files, f)
	}
	s, err := wiring.New(t.Context(), host{stderr: &bytes.Buffer{}}.wiring(), wiring.Wanted{Places: wiring.Places{Config: path}, Now: func() time.Time { return goldenTime }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	var asJSON, asText bytes.Buffer
	var last reply.Reply
	for i, line := range lines {
		r, err := s.Bot().Handle(t.Context(), bot.Message{Surface: "console", Thread: "golden", Text: line, At: goldenTime})
		if err != nil {
			t.Fatal(err)
		}
		if i < len(lines)-1 {
			continue
		}
		last = r
		enc := json.NewEncoder(&asJSON)
		enc.SetEscapeHTML(false)
		enc.SetIndent("", "  ")
		if err := enc.Encode(r); err != nil {
			t.Fatal(err)
		}
		if err := console.Render(&asText, r, console.Style{}); err != nil {
			t.Fatal(err)
		}
	}
	out.Files = append(out.Files,
		txtar.File{Name: "reply.json", Data: asJSON.Bytes()},
		txtar.File{Name: "console.txt", Data: asText.Bytes()},
		txtar.File{Name: "slack.txt", Data: onSlack(t, chat.Message{Reply: last})},
		txtar.File{Name: "discord.txt", Data: onDiscord(t, chat.Message{Reply: last})},
		txtar.File{Name: "page.txt", Data: onPage(t, chat.Message{Reply: last})},
	)
	return out
}

func makeFile(name string, data []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o700); err != nil {
		return err
	}
	return os.WriteFile(name, data, 0o600)
}

// TestConsoleWidth holds every golden line to 72 columns.
func TestConsoleWidth(t *testing.T) {
	files, err := filepath.Glob("../../testdata/reply/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatalf("no golden replies: %v", err)
	}
	for _, name := range files {
		a, err := txtar.ParseFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range a.Files {
			if f.Name != "console.txt" {
				continue
			}
			for i, line := range strings.Split(string(f.Data), "\n") {
				if n := len([]rune(line)); n > console.Width {
					t.Errorf("%s, console.txt line %d has %d columns, want at most %d: %s", name, i+1, n, console.Width, line)
				}
			}
		}
	}
}
