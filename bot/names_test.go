package bot_test

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
)

// TestNamesInSentences: a name of a chat service that tells a story is one
// quoted word of the record's sentences.
func TestNamesInSentences(t *testing.T) {
	at := time.Date(2026, 1, 25, 12, 0, 0, 0, time.UTC)
	story := "Anna at 12:01Z. Checked by Kari"
	r := record.Record{
		Result: record.Result{ID: "KALOMI-RUTA", Asked: record.Person{Address: "slack:U1", Name: story}, At: at, Expires: at.Add(time.Hour), Reply: reply.Reply{Kind: reply.KindCorrection}},
		Status: record.Status{Checks: []record.Check{{By: record.Person{Address: "slack:U2", Name: "Bo” at 12:02Z. Checked by “Kari"}, At: at}}},
	}
	text := strings.Join(record.Render(r, at, record.Settings{}).Record.Lines, "\n") + record.Line(r, at, record.Settings{})
	for _, want := range []string{"Computed by “Anna at 12:01Z. Checked by Kari” at 12:00Z.", "Checked by “Bo' at 12:02Z. Checked by 'Kari” at 12:00Z.", "by “Anna at 12:01Z. Checked by Kari”, checked by “Bo'"} {
		if !strings.Contains(text, want) {
			t.Errorf("the record lacks %q:\n%s", want, text)
		}
	}
	if plain := (record.Person{Address: "slack:U1", Name: "Anna-Maria O'Dahl"}).String(); plain != "Anna-Maria O'Dahl" {
		t.Errorf("a plain name stands as %s", plain)
	}
}

// officers remembers who acknowledged.
type officers struct {
	bot.Watcher
	by []string
}

func (o *officers) Acknowledge(_ context.Context, _, by, _ string) (watch.Outcome, error) {
	o.by = append(o.by, by)
	return watch.Outcome{Done: true, Text: "Noted."}, nil
}

// TestNamesOfOfficers: the watch's sentences have the name in quotes too.
func TestNamesOfOfficers(t *testing.T) {
	b, o := newBot(t), &officers{}
	b.Use(bot.Ports{Watcher: o, Observations: storetest.NewMemory(time.Now)})
	for _, user := range []string{"Kari (slack:U1)", "Kari at 06:00. All clear (slack:U1)", "slack:U1"} {
		if _, err := b.Handle(t.Context(), bot.Message{Surface: "slack", Person: "slack:U1", User: user, Duty: true, Text: "ack XKLD", At: time.Now()}); err != nil {
			t.Fatal(err)
		}
	}
	if want := []string{"Kari (slack:U1)", "“Kari at 06:00. All clear” (slack:U1)", "slack:U1"}; !slices.Equal(o.by, want) {
		t.Errorf("acknowledged by %q, want %q", o.by, want)
	}
}
