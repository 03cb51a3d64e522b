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

// board is the team's channels: those of XKLD, and what was posted to them.
type board struct {
	channels []string
	posted   []string
	err      error // the outbox takes nothing
}

func (b *board) Channels(station string) []string {
	if station != "XKLD" {
		return nil
	}
	return b.channels
}

func (b *board) Post(_ context.Context, r record.Record, channels []string) (fresh int, err error) {
	if b.err != nil {
		return 0, b.err
	}
	for _, c := range channels {
		if p := r.ID + "@" + c; !strings.Contains(strings.Join(b.posted, " ")+" ", p+" ") {
			b.posted = append(b.posted, p)
			fresh++
		}
	}
	return fresh, nil
}

func offers(r reply.Reply, action string) (asks string) {
	for _, a := range r.Actions {
		if a.ID == action {
			asks = a.Asks()
		}
	}
	return asks
}

// TestPost shows a result to the team, by its name and without.
func TestPost(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{})
		team := &board{channels: []string{"slack:C1", "discord:5"}} // people ask in slack:C1
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Team: team})
		if out := r.says("u1", "t1", "post"); out.Problem == nil {
			t.Errorf("with nothing to post: %+v", out)
		}
		first := r.says("u1", "t1", "XKLD -38 FAF 8200")
		id := r.name(first)
		if got := offers(first, reply.ActionPost); got != "post "+id {
			t.Errorf("the button asks %q, want to post %s", got, id)
		}
		r.want(r.says("u2", "t1", "post"), reply.KindNotice, id+" goes to the team channel")
		r.want(r.says("u2", "t2", "post "+strings.ToLower(id)), reply.KindNotice, id+" was posted to the team channel before")
		if got := strings.Join(team.posted, " "); got != id+"@discord:5" {
			t.Errorf("posted %q, want %s once, to the channel where it was not asked", got, id)
		}
		for text, word := range map[string]string{"post KALOMI-RUTA": "KALOMI-RUTA", "post " + id + " blah": "blah", "post blah": "blah"} {
			if out := r.says("u2", "t1", text); out.Problem == nil || out.Problem.Word != word {
				t.Errorf("%q: %+v, want a question about %q", text, out.Problem, word)
			}
		}

		other := r.says("u1", "t3", "XRUN -38 8200")
		if got := offers(other, reply.ActionPost); got != "" {
			t.Errorf("where there is no team channel the button asks %q", got)
		}
		if out := r.says("u1", "t3", "post"); out.Problem == nil || !strings.Contains(out.Problem.Text, "no team channel") {
			t.Errorf("where there is no team channel: %+v", out)
		}
		if got := offers(r.says("u1", "t4", "XKLD -38"), reply.ActionPost); got != "" {
			t.Errorf("a state without altitudes offers %q", got)
		}
		team.channels = team.channels[:1]
		here := r.says("u1", "t5", "XKLD -39 8200")
		if got := offers(here, reply.ActionPost); got != "" {
			t.Errorf("in the team channel itself the button asks %q", got)
		}
		r.want(r.says("u1", "t5", "post"), reply.KindNotice, "stands in the team channel already")

		next := r.name(r.says("u1", "t1", "-41"))
		if out := r.says("u1", "t9", "post "+id); out.Problem == nil || out.Problem.Try != "post "+next {
			t.Errorf("one that was replaced: %+v", out.Problem)
		}
		time.Sleep(7 * time.Hour)
		if out := r.says("u1", "t9", "post "+next); out.Problem == nil || out.Problem.Try != "recompute "+next {
			t.Errorf("one that has expired: %+v", out.Problem)
		}
	})
	out, err := newBot(t).Handle(t.Context(), bot.Message{Surface: "console", Text: "post", At: noon})
	if err != nil || out.Problem == nil || !strings.Contains(out.Problem.Text, "results that are kept") {
		t.Errorf("without a record: %+v, %v", out.Problem, err)
	}
}
