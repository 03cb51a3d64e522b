package bot_test

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
)

// board of bases that are as they are.
type asIs struct {
	bot.Watcher
	all []reply.Cold
}

func (a asIs) Status(context.Context, time.Time) ([]reply.Cold, error) { return a.all, nil }

// TestHome: everybody's front page has what waits for that person alone.
func TestHome(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		now := time.Now()
		cold := func(ident, state string, low float64, at time.Duration) reply.Cold {
			return reply.Cold{Ident: ident, State: state, LowC: reply.Some(low), LowAt: now.Add(at), RestrictionC: reply.Some(-25), Open: state == "below"}
		}
		near, gone, estimated, seen := cold("XRUN", "near", -24, time.Hour), cold("XEST", "below", -44, -time.Hour), cold("XKLD", "below", -31, 8*time.Hour), cold("XGLN", "below", -27, time.Hour)
		estimated.BelowFrom, estimated.BelowTo, estimated.Estimated = now.Add(2*time.Hour), now.Add(9*time.Hour), true
		seen.SeenBy, seen.SeenAt = "Kari", now
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Watcher: asIs{all: []reply.Cold{near, estimated, seen, gone}}})

		others := r.name(r.says("anna", "t", "XKLD -38 FAF 8200, DA 5340"))
		hidden := r.name(r.directly("cara", "XKLD -38 8200"))
		own := r.name(r.says("bo", "u", "XKLD -38 8200"))
		checked := r.name(r.says("anna", "v", "XKLD -38 9000"))
		r.says("cara", "v", "check "+checked)
		if _, _, err := r.book.Do(t.Context(), own, record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Observed: true}}); err != nil {
			t.Fatal(err)
		}

		bo := r.directly("bo", "mine")
		if bo.Kind != reply.KindMine || bo.Mine == nil {
			t.Fatalf("no front page: %+v", bo)
		}
		ids := func(all []reply.MineItem) string {
			var out []string
			for _, it := range all {
				out = append(out, it.ID)
			}
			return strings.Join(out, " ")
		}
		for _, tt := range []struct{ what, got, want string }{
			{"to check", ids(bo.Mine.Check), others},
			{"out of date", ids(bo.Mine.Again), own},
			{"bases", ids(bo.Mine.Bases), "XEST XKLD XGLN"},
			{"the card's author has it not to check", ids(r.directly("anna", "mine").Mine.Check), ""},
			{"nobody else's is out of date", ids(r.directly("anna", "mine").Mine.Again), ""},
		} {
			if tt.got != tt.want {
				t.Errorf("%s: %q, want %q", tt.what, tt.got, tt.want)
			}
		}
		all := strings.Join(append(bo.Facts, linesOf(bo)...), "\n")
		for _, want := range []string{
			"For you: 1 to check, 1 out of date, 3 at or below or without a forecast.", "By anna at", "Out of date: −45 now, worked at −38.",
			"XKLD: BELOW, low −31 °C at", "(estimated)", "XGLN: BELOW, low −27 °C at", "XEST: BELOW, the low is past, line −25", "Seen by Kari",
		} {
			if !strings.Contains(all, want) {
				t.Errorf("%q is not in\n%s", want, all)
			}
		}
		for _, no := range []string{"−44", hidden, "XRUN"} {
			if strings.Contains(all, no) {
				t.Errorf("%q is in\n%s", no, all)
			}
		}
		if got := bo.Mine.Again[0].Actions; len(got) != 1 || got[0].Message != "recompute "+own {
			t.Errorf("what is out of date offers %+v", got)
		}
		for _, it := range bo.Mine.Bases {
			if len(it.Actions) > 0 {
				t.Errorf("%s offers %+v to somebody who is not on duty", it.ID, it.Actions)
			}
		}
		duty, err := r.bot.Home(t.Context(), bot.Message{Surface: "slack", Person: "slack:KARI", Direct: true, Duty: true, At: time.Now()})
		if err != nil {
			t.Fatal(err)
		}
		acts := ""
		for _, it := range duty.Mine.Bases {
			for _, a := range it.Actions {
				acts += a.Message + ";"
			}
		}
		if acts != "ack XEST;ack XKLD;snooze XGLN 2h;" {
			t.Errorf("on duty one can %q", acts)
		}
		// Where others read along nothing of a direct message is told.
		own = r.name(r.directly("dana", "XRUN -38 8200"))
		if _, _, err := r.book.Do(t.Context(), own, record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Observed: true}}); err != nil {
			t.Fatal(err)
		}
		if got := ids(r.directly("dana", "mine").Mine.Again); got != own {
			t.Errorf("alone: %q, want %q", got, own)
		}
		if got := ids(r.says("dana", "w", "mine").Mine.Again); got != "" {
			t.Errorf("before all: %q", got)
		}
	})
}
