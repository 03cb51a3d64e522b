package main

import (
	"context"
	"log/slog"
	"os"
	"strings"
	"testing"
	"time"

	"firn/adapters/cifp"
	"firn/bot"
	"firn/bot/approach"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/ruleset"
)

// shelfOf are approaches by their station.
type shelfOf map[string][]approach.Approach

func (s shelfOf) Procedures(_ context.Context, ident string) ([]approach.Approach, error) {
	return s[ident], nil
}

// TestNamesAreRead: every name that is printed for one of the 184 approaches of
// the excerpt is read again as that approach, before and behind the station and
// the temperature, and with each of its ways in.
func TestNamesAreRead(t *testing.T) {
	f, err := os.Open("../../testdata/cifp/sample.txt")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	stored := shelfOf{}
	if _, err := cifp.Read(f, cifp.Handler{Approach: func(a *approach.Approach) error {
		stored[a.Ident] = append(stored[a.Ident], a.Clone())
		return nil
	}}); err != nil {
		t.Fatal(err)
	}
	cfg := &strings.Builder{}
	cfg.WriteString("stations:\n")
	for ident := range stored {
		cfg.WriteString("  - {ident: " + ident + ", elevation_ft: 0, restriction_c: -10, time_zone: UTC}\n")
	}
	b := readerOf(t, cfg.String())
	b.Use(bot.Ports{Procedures: stored})
	said, ways := 0, 0
	for ident, all := range stored {
		for i := range all {
			a := &all[i]
			lines := []string{ident + " " + a.Name + " -20", a.Name + " " + strings.ToLower(ident) + " m20", strings.ToUpper(a.Name) + ", " + ident + " -20"}
			for _, way := range a.Ways() {
				lines = append(lines, ident+" "+a.Name+" via "+strings.ToLower(way)+" -20")
				ways++
			}
			for n, line := range lines {
				r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: line, At: a.Effective})
				if err != nil {
					t.Fatal(err)
				}
				switch {
				case r.Problem != nil && len(a.Points()) > 0:
					t.Errorf("%q: %s", line, r.Problem.Text)
				case r.Problem == nil && r.Procedure != a.Name:
					t.Errorf("%q is read as %q", line, r.Procedure)
				case n > 2 && r.Problem == nil && (r.Call == nil || r.Call.Way != "via"):
					t.Errorf("%q has the call %+v", line, r.Call)
				}
			}
			said++
		}
	}
	if said != 184 || ways < 200 {
		t.Errorf("got %d names and %d ways, want 184 and all theirs", said, ways)
	}
}

func readerOf(t *testing.T, yaml string) *bot.Bot {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	var known config.Known
	for _, s := range sets {
		known.Rules = append(known.Rules, s.ID)
	}
	cfg, err := config.Parse("names.yaml", []byte(yaml), known)
	if err != nil {
		t.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, sets)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// What ask offers to type is never a station that only looks alike.
func TestNoStationAlike(t *testing.T) {
	b := readerOf(t, "stations:\n  - {ident: XSLT, name: Saltvik, elevation_ft: 210}\n  - {ident: XKLD, name: Kaldmor, elevation_ft: 4802}\n")
	for _, tt := range []struct{ text, try string }{
		{"KSLC -20 8200", ""},
		{"KSLT -20 8200", ""},
		{"XMBL -20 8200", ""},
		{"XKDL -20 8200", "XKLD -20 8200"},
		{"XSL -20 8200", "XSLT -20 8200"},
	} {
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: tt.text, At: time.Now()})
		if err != nil || r.Kind != reply.KindQuestion || r.Problem.Try != tt.try {
			t.Errorf("%q: got %+v, %v; want to type %q", tt.text, r.Problem, err, tt.try)
		}
	}
}
