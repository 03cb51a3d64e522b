package bot_test

import (
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
)

// TestHeard: what is said in the bot's thread and not to it is answered where it
// reads whole, and leaves no trace where it does not.
func TestHeard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		hears := func(text string) reply.Reply {
			t.Helper()
			r.n++
			time.Sleep(time.Second)
			out, err := r.bot.Handle(t.Context(), bot.Message{
				Surface: "slack", Thread: "t", User: "bo (slack:BO)", Person: "slack:BO", ID: "heard" + text, Text: text, At: time.Now(), Heard: true,
			})
			if err != nil {
				t.Fatalf("%q: %v", text, err)
			}
			return out
		}
		r.says("anna", "t", "XKLD -38 FAF 8200, DA 5340")
		for _, text := range []string{
			"thanks, will brief at the gate", "ok", "👍", "we are 20 min out", "38", "XKLD looks grim", "8200 was busy", "no", "yes",
			"who has the keys?", "check the wing", "is it cold?", "XZZZ -40 8200",
		} {
			if out := hears(text); out.Kind != reply.KindNote {
				t.Errorf("%q is answered: %s %+v", text, out.Kind, out.Problem)
			}
		}
		out := hears("wx now M39")
		if out.Kind != reply.KindCorrection || out.TemperatureC.Value != -39 || len(out.Altitudes) != 2 || len(out.Notes) != 0 {
			t.Errorf("a whole follow-up is answered by %+v", out)
		}
		// In a thread without an answer stands an alert, which the deeds of duty
		// officers are meant for.
		for _, c := range []struct {
			thread, text string
			duty         bool
			try          string
		}{
			{"alert", "ack", true, "ack all"},
			{"alert", "snooze 2h", true, "snooze all 2h"},
			{"alert", "ack", false, ""},
			{"alert", "ack, thanks", true, ""},
			{"alert", "thanks", true, ""},
			{"alert", "-38", true, ""},
			{"t", "ack", true, ""}, // as much as to say: roger
		} {
			time.Sleep(time.Second)
			out, err := r.bot.Handle(t.Context(), bot.Message{
				Surface: "slack", Thread: c.thread, User: "bo (slack:BO)", Person: "slack:BO", ID: c.thread + c.text, Text: c.text, At: time.Now(), Heard: true, Duty: c.duty,
			})
			switch {
			case err != nil:
				t.Fatalf("%q: %v", c.text, err)
			case c.try == "" && out.Kind != reply.KindNote, c.try != "" && (out.Problem == nil || out.Problem.Try != c.try):
				t.Errorf("%q in the thread of %s: %s %+v, want the line %q", c.text, c.thread, out.Kind, out.Problem, c.try)
			}
		}
		// To the bot the same talk is asked about.
		if out := r.says("anna", "t", "38"); out.Kind != reply.KindQuestion {
			t.Errorf("a question to the bot: %s", out.Kind)
		}
	})
}
