package bot_test

import (
	"context"
	"fmt"
	"log/slog"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/present"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
)

// board of bases that are as they are.
type asIs struct {
	bot.Watcher
	all []reply.Cold
}

func (a asIs) Status(context.Context, time.Time) ([]reply.Cold, error) { return a.all, nil }

// TestObservedCold: a base that is observed at or below its line is not clear,
// whatever is forecast.
func TestObservedCold(t *testing.T) {
	for _, tt := range []struct {
		name          string
		state         string
		low, observed float64
		watch, mine   string // of their short forms
	}{
		{"colder than forecast", "clear", -18, -38, "Bases: 1 at or below (1 as observed). XKLD −18 (line −25): BELOW, observed −38 at 11:45Z", "BELOW, observed −38 °C at 11:45, low −18 °C at 14:00, line −25."},
		{"at the line", "near", -23, -25, "Bases: 1 at or below (1 as observed). XKLD −23 (line −25): BELOW, observed −25 at 11:45Z", "BELOW, observed −25 °C at 11:45"},
		{"above it", "clear", -18, -24.9, "Bases: 1 clear.", "no base is at or below its line"},
		{"forecast too", "below", -30, -38, "Bases: 1 at or below. XKLD −30 (line −25): BELOW, lowest at 14:00Z", "BELOW, low −30 °C at 14:00"},
	} {
		b := newBot(t)
		base := reply.Cold{Ident: "XKLD", State: tt.state, LowC: reply.Some(tt.low), LowAt: noon.Add(2 * time.Hour), RestrictionC: reply.Some(-25)}
		b.Use(bot.Ports{Watcher: asIs{all: []reply.Cold{base}}, Observer: latest{weather.Reading{
			Observation: weather.Observation{Ident: "XKLD", C: engine.Celsius(tt.observed), At: noon.Add(-15 * time.Minute)},
		}}})
		for asked, want := range map[string]string{"watch": tt.watch, "mine": tt.mine} {
			r, err := b.Handle(t.Context(), bot.Message{Text: asked, At: noon, Direct: true})
			if err != nil {
				t.Fatal(err)
			}
			var short []string
			for _, b := range present.Of(r).Short {
				switch b := b.(type) {
				case present.Headline:
					short = append(short, b.Text)
				case present.Line:
					short = append(short, b.Text)
				case present.List:
					short = append(short, b.Lines...)
				}
			}
			if text := strings.Join(short, " "); !strings.Contains(text, want) || strings.Contains(text, "observed") != strings.Contains(want, "observed") {
				t.Errorf("%s: %s: %q, want %q", tt.name, asked, text, want)
			}
		}
	}
}

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

		// What somebody disagrees with is its author's to compute again, and a third
		// person's to check.
		disputed := r.name(r.says("anna", "w", "XKLD -38 8000"))
		r.says("cara", "w", "check "+disputed+" 8990")

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
			{"to check", ids(bo.Mine.Check), disputed + " " + others},
			{"its author's", ids(r.directly("anna", "mine").Mine.Again), disputed},
			{"who disagreed", ids(r.directly("cara", "mine").Mine.Check), others},
			{"out of date", ids(bo.Mine.Again), own},
			{"bases", ids(bo.Mine.Bases), "XEST XKLD XGLN"},
			{"the card's author has it not to check", ids(r.directly("anna", "mine").Mine.Check), ""},
			{"nobody else's is out of date", ids(r.directly("cara", "mine").Mine.Again), ""},
		} {
			if tt.got != tt.want {
				t.Errorf("%s: %q, want %q", tt.what, tt.got, tt.want)
			}
		}
		all := strings.Join(append(bo.Facts, linesOf(bo)...), "\n")
		for _, want := range []string{
			"For you: 2 to check, 1 to compute again, 3 at or below or without a forecast.", "By anna at", "Out of date: −45 now, worked at −38.",
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
		for _, a := range duty.Actions {
			acts += a.Message + ";"
		}
		if acts != "ack XEST;ack XKLD;snooze XGLN 2h;ack all;" {
			t.Errorf("on duty one can %q", acts)
		}
		if len(bo.Actions) > 0 {
			t.Errorf("who is not on duty is offered %+v", bo.Actions)
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

// TestHomeOfABusyUnit: what is out of date is on its author's page, however many
// results came after it.
func TestHomeOfABusyUnit(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		own := r.name(r.says("bo", "u", "XKLD -38 8200"))
		if _, _, err := r.book.Do(t.Context(), own, record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Observed: true}}); err != nil {
			t.Fatal(err)
		}
		after := make([]record.Result, 600)
		for i := range after {
			after[i] = record.Result{
				ID: fmt.Sprintf("KALOMI-%03d", i), Version: 1, Surface: "slack", Message: fmt.Sprint("busy", i), Asked: record.Person{Address: "slack:BO", Name: "Bo"},
				At: time.Now().Add(time.Duration(i) * time.Millisecond), Expires: time.Now().Add(time.Hour), Numbers: []record.Number{{PublishedFt: 8200, CorrectedFt: 8990}},
			}
		}
		if _, err := r.store.AddRecords(t.Context(), after); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Minute)
		for who, want := range map[string]string{"bo": own, "anna": ""} {
			var got []string
			for _, it := range r.directly(who, "mine").Mine.Again {
				got = append(got, it.ID)
			}
			if strings.Join(got, " ") != want {
				t.Errorf("out of date for %s: %q, want %q", who, got, want)
			}
		}
	})
}

// TestConfirm: a check of figures that may be a screen away asks with them
// first, and is made on what the record is then.
func TestConfirm(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		press := func(who, channel, text string, unseen bool) reply.Reply {
			t.Helper()
			r.n++
			address := "slack:" + strings.ToUpper(who)
			out, err := r.bot.Handle(t.Context(), bot.Message{
				Surface: "slack", Thread: "t", Channel: channel, User: who + " (" + address + ")", Person: address,
				ID: "p" + strings.Repeat("i", r.n), Text: text, At: time.Now(), ConfirmFirst: unseen,
			})
			if err != nil {
				t.Fatal(err)
			}
			return out
		}
		first := r.name(r.says("anna", "t", "XKLD -38 FAF 8200, DA 5340"))
		asked := press("bo", "slack:C1", "check "+first, true)
		if asked.Confirm != first || len(asked.Altitudes) != 2 || len(asked.Actions) != 1 || asked.Actions[0].Message != "check "+first+" confirmed" {
			t.Fatalf("asked %+v, want the figures and a button", asked)
		}
		r.want(asked, reply.KindQuestion, "XKLD −38 °C, by anna: do you get the same figures?")
		r.state(first, record.Unchecked)
		// Who may not check is told so, and sees no button.
		if out := press("anna", "slack:C1", "check "+first, true); out.Confirm != "" || len(out.Actions) > 0 {
			t.Errorf("the author is asked: %+v", out)
		}
		// What was replaced meanwhile is not checked by what was shown before.
		next := r.name(r.says("anna", "t", "-41"))
		r.want(press("bo", "slack:C1", "check "+first, false), reply.KindQuestion, "was replaced by "+next)
		r.state(first, record.Replaced)
		r.state(next, record.Unchecked)
		r.want(press("bo", "slack:C1", "check "+next, false), reply.KindNotice, "checked by bo")
		// So it is with weather that came meanwhile.
		third := r.name(r.says("anna", "u", "XKLD -38 8200"))
		press("bo", "slack:C1", "check "+third, true)
		if _, _, err := r.book.Do(t.Context(), third, record.Action{Kind: record.KindRecompute, Noticed: record.Noticed{C: -45, Observed: true, Text: "−45 °C now."}}); err != nil {
			t.Fatal(err)
		}
		if out := press("bo", "slack:C1", "check "+third, false); out.Problem == nil || !strings.Contains(out.Problem.Text, "does not hold any more") {
			t.Errorf("what is out of date is checked: %+v", out)
		}
		// Where checks are blind the figures are not shown.
		r.book = record.New(slog.New(slog.DiscardHandler), time.Now, r.store, record.Options{Settings: record.Settings{BlindChannels: []string{"slack:C1"}}, Computer: r.bot})
		t.Cleanup(r.book.Close)
		r.bot.Use(bot.Ports{Book: r.book})
		blind := r.name(r.says("anna", "v", "XKLD -38 8200"))
		if out := press("bo", "slack:C1", "check "+blind, true); out.Enter == nil || out.Confirm != "" || len(out.Altitudes) > 0 {
			t.Errorf("a blind check shows %+v", out)
		}
	})
}
