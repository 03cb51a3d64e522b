package bot_test

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
)

// drawing lets the room's surface show files.
func (r *room) drawing() *room {
	r.bot.Use(bot.Ports{Book: r.book, Observer: r, Pictures: true})
	return r
}

// TestCard asks for the card of a result in every way.
func TestCard(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{}).drawing()
		if out := r.says("u1", "t1", "card"); out.Problem == nil || out.Picture != "" {
			t.Errorf("with nothing before it: %+v", out)
		}
		first := r.says("u1", "t1", "XKLD -38 FAF 8200, DA 5340")
		id := r.name(first)
		var asks string
		for _, a := range first.Actions {
			if a.ID == reply.ActionCard {
				asks = a.Asks()
			}
		}
		if asks != "card "+id {
			t.Errorf("the button asks %q, want the card of %s", asks, id)
		}
		for _, c := range []struct{ thread, text, paper string }{
			{"t1", "card", "a5"}, {"t1", "card letter", "half-letter"}, {"t2", "card " + id, "a5"},
			{"t2", "card " + strings.ToLower(strings.ReplaceAll(id, "-", " ")) + " letter", "half-letter"},
			{"t1", "card XKLD -38 FAF 8200, DA 5340", "a5"}, // the same again makes no second record
		} {
			out := r.says("u2", c.thread, c.text)
			r.want(out, reply.KindNotice, "To print: "+id+" (XKLD −38 °C)", "not checked")
			if out.Picture != "card" || out.PictureOf != id || out.Paper != c.paper || out.Record != nil {
				t.Errorf("%q: picture %q of %q on %q, record %v; want the card of %s on %s", c.text, out.Picture, out.PictureOf, out.Paper, out.Record, id, c.paper)
			}
		}
		r.says("u2", "t1", "check")
		r.want(r.says("u1", "t1", "card"), reply.KindNotice, "A5: checked, with who and when.")

		// With a message it is the answer, and a record of its own.
		out := r.says("u1", "t3", "card XKLD -41 FAF 8200 letter")
		if other := r.name(out); other == id || out.Kind != reply.KindCorrection || out.Picture != "card" || out.PictureOf != other || out.Paper != "half-letter" {
			t.Errorf("%s: %s with picture %q of %q on %q", other, out.Kind, out.Picture, out.PictureOf, out.Paper)
		}
		colder := r.says("u1", "t3", "card -43")
		if colder.Record == nil || colder.Record.Version != 2 || colder.Picture != "card" || colder.PictureOf != colder.Record.ID {
			t.Errorf("a follow-up: %+v, picture of %q", colder.Record, colder.PictureOf)
		}
		if kept, _, err := r.book.Find(t.Context(), colder.Record.ID); err != nil || kept.Reply.Picture != "" {
			t.Errorf("the record holds the picture %q, err %v", kept.Reply.Picture, err)
		}

		if out := r.says("u1", "t4", "card XKLD -38"); out.Problem == nil || out.Problem.Word != "card" {
			t.Errorf("without altitudes: %+v", out.Problem)
		}
		if out := r.says("u1", "t4", "card KALOMI-RUTA"); out.Problem == nil || out.Problem.Word != "KALOMI-RUTA" {
			t.Errorf("of no record: %+v", out.Problem)
		}
		time.Sleep(7 * time.Hour)
		r.want(r.says("u1", "t1", "card"), reply.KindNotice, "expired, so that it prints NOT VALID.")
	})
}

// TestNoFiles: where no file can be shown, it says which surfaces show one, and
// offers a crew nothing to type that is no message.
func TestNoFiles(t *testing.T) {
	plain := newBot(t)
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		for _, text := range []string{"card", "card letter", "picture", "picture curve", "card XKLD -41 FAF 8200 a5", "picture day XKLD", "picture XKLD -41 8200, 7400"} {
			r.says("u1", text, "XKLD -38 FAF 8200")
			noFile(t, text, r.says("u1", text, text))
		}
	})
	for _, text := range []string{"card", "card XKLD -38 8200"} {
		noFile(t, text, askOf(t, plain, text))
	}
	for _, text := range []string{"check", "withdraw", "recompute", "log", "card KALOMI-RUTA"} {
		out, err := plain.Handle(t.Context(), bot.Message{Surface: "console", Text: text, At: noon})
		if err != nil || out.Problem == nil || !strings.Contains(out.Problem.Text, "it works in firn chat, on the page of firn serve, and in Slack and Discord") {
			t.Errorf("%q: %+v, %v", text, out.Problem, err)
		}
	}
}

func noFile(t *testing.T, text string, out reply.Reply) {
	t.Helper()
	if out.Problem == nil || out.Problem.Try != "" || !strings.HasSuffix(out.Problem.Text, "makes a file, and none can be shown here; the crew-room page, Slack and Discord show it.") {
		t.Errorf("%q: %+v", text, out.Problem)
	}
}

// TestEnter: a blind check that is asked for without altitudes says which to
// enter, so that a surface can show a form for them.
func TestEnter(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{Blind: true})
		id := r.name(r.says("u1", "t1", "XKLD -38 FAF 8200, DA 5340"))
		for _, text := range []string{"check", "check " + id + " 9000"} {
			out := r.says("u2", "t1", text)
			if out.Enter == nil || out.Enter.Record != id || strings.Join(out.Enter.Altitudes, ", ") != "FAF 8200, DA 5340" || out.Problem == nil {
				t.Errorf("%q: %+v, %+v", text, out.Enter, out.Problem)
			}
		}
		if out := r.says("u1", "t1", "check"); out.Enter != nil {
			t.Errorf("the author may not check, and is asked to enter %+v", out.Enter)
		}
		out := r.says("u2", "t1", "check "+id+" 9000 5470 ft")
		r.want(out, reply.KindNotice, id+" (XKLD −38 °C) is checked by")
		if out.Enter != nil {
			t.Errorf("it is checked, and asks for %+v", out.Enter)
		}
	})
}
