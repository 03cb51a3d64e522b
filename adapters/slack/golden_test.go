package slack

import (
	"bytes"
	"encoding/json"
	"flag"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/txtar"

	"firn/adapters/testkit/slackdouble"
	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/reply"
	"firn/engine/coldwatch"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

var update = flag.Bool("update", false, "write the golden renderings anew; read the difference before you commit it")

// at is when the golden messages come.
var at = time.Date(2026, 1, 15, 13, 30, 0, 0, time.UTC)

func sets(t *testing.T) []*ruleset.Set {
	t.Helper()
	all, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// ask asks a real bot.
func ask(t *testing.T, text string) reply.Reply {
	t.Helper()
	all := sets(t)
	var ids []string
	for _, s := range all {
		ids = append(ids, s.ID)
	}
	cfg, err := config.Parse("test.yaml", []byte("stations:\n  - {ident: XKLD, name: Kaldmoor, elevation_ft: 4802, restriction_c: -25, segments: [initial, intermediate, final, missed], mountainous: true}\n"), config.Known{Rules: ids})
	if err != nil {
		t.Fatal(err)
	}
	b, err := bot.New(slog.New(slog.DiscardHandler), cfg, all)
	if err != nil {
		t.Fatal(err)
	}
	r, err := b.Handle(t.Context(), bot.Message{Surface: "slack", Thread: "golden", Text: text, At: at})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func coldAlert(t *testing.T) reply.Reply {
	t.Helper()
	return reply.Alert(reply.AlertScene{
		Base: reply.Scene{Ident: "XKLD", Name: "Kaldmoor", Elevation: 4802, Source: 4802, Restriction: -25, Restricted: true, Set: sets(t)[0]},
		Zone: time.UTC, Segments: []procedure.Segment{procedure.Initial, procedure.Final}, Mountainous: true, Margin: 3, Kind: "opened", Day: "2026-01-15",
		Window: coldwatch.Window{From: at, To: at.Add(12 * time.Hour)},
		Judgement: coldwatch.Judgement{
			State: coldwatch.Below, Low: -31, LowAt: at.Add(2 * time.Hour), BelowFrom: at, BelowTo: at.Add(5 * time.Hour), HoursKnown: true,
			Restriction: -25, Source: "TAF XKLD", Issued: at.Add(-2 * time.Hour),
		},
		Due: at, Now: at,
	})
}

// TestGolden shows cards as Slack gets them and as a person reads them.
// checked is an answer with a record that somebody has checked.
func checked(r reply.Reply) reply.Reply {
	r.Record = &reply.RecordStatus{ID: "KALOMI-RUTA", Version: 1, State: "checked", Lines: []string{
		"Computed by Anna at 06:12 local (13:12Z).", "Checked by Bo <@U1> at 06:20 local (13:20Z): confirmed.",
	}}
	return r
}

func TestGolden(t *testing.T) {
	for _, c := range []struct {
		name string
		card chat.Message
	}{
		{"correction", chat.Message{Reply: ask(t, "XKLD -38 IAF 10200 IF 9200 FAF 8200 step 7400 DA 5340 missed 10200")}},
		{"metres", chat.Message{Reply: ask(t, "XKLD -38 2500m 2250m")}},
		{"status", chat.Message{Reply: ask(t, "XKLD -38")}},
		{"question", chat.Message{Reply: ask(t, "XKLD 38 8200")}},
		{"why", chat.Message{Reply: ask(t, "why XKLD -38 FAF 8200 step 7400 DA 5340")}},
		{"help", chat.Message{Reply: ask(t, "help")}},
		{"checked", chat.Message{Reply: checked(ask(t, "XKLD -38 8200"))}},
		{"alert", chat.Message{Reply: coldAlert(t), Note: "late by 47 min"}},
		{"alert_closed", chat.Message{Reply: coldAlert(t), Closed: true}},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := &txtar.Archive{Comment: []byte("What Slack gets, and what a person reads.\n")}
			m := compose(c.card)
			blocks, err := json.Marshal(m.blocks)
			if err != nil {
				t.Fatal(err)
			}
			var pretty bytes.Buffer
			enc := json.NewEncoder(&pretty)
			enc.SetEscapeHTML(false)
			enc.SetIndent("", "  ")
			if err := enc.Encode(json.RawMessage(blocks)); err != nil {
				t.Fatal(err)
			}
			seen := slackdouble.Message{Text: m.text, Blocks: blocks}
			read := seen.Read() + "\n"
			for _, b := range seen.Buttons() {
				read += "[" + b.Label + "]\n"
			}
			for _, o := range seen.Menu() {
				read += "⋯ " + o.Label + "\n"
			}
			got.Files = append(got.Files,
				txtar.File{Name: "blocks.json", Data: pretty.Bytes()},
				txtar.File{Name: "read.txt", Data: []byte(read)},
				txtar.File{Name: "notified.txt", Data: []byte(m.text + "\n")})
			name := filepath.Join("testdata", c.name+".txtar")
			if *update {
				if err := os.WriteFile(name, txtar.Format(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(name)
			if err != nil {
				t.Fatalf("%v; run with -update", err)
			}
			if g := txtar.Format(got); !bytes.Equal(g, want) {
				t.Errorf("%s differs; got\n%s", name, g)
			}
		})
	}
}

// What matters is never told by colour alone, and stands in the text that a
// notification shows.
func TestWordsForWhatMatters(t *testing.T) {
	m := compose(chat.Message{Reply: ask(t, "XKLD -38 FAF 8200 DA 5340")})
	blocks, err := json.Marshal(m.blocks)
	if err != nil {
		t.Fatal(err)
	}
	read := slackdouble.Message{Blocks: blocks}.Read()
	for _, text := range []string{"correct all segments", "9000"} {
		if !strings.Contains(read, text) {
			t.Errorf("the card does not say %q: %s", text, read)
		}
	}
	if first := m.text[:min(len(m.text), 150)]; !strings.Contains(first, "8200→9000") || !strings.Contains(first, "5340→5470") {
		t.Errorf("a locked screen does not show the figures: %s", first)
	}
}
