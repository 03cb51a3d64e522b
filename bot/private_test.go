package bot_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/record"
	"firn/bot/reply"
)

// directly lets somebody say something in a direct message.
func (r *room) directly(who, text string) reply.Reply {
	r.t.Helper()
	r.n++
	time.Sleep(time.Second)
	address := "slack:" + strings.ToUpper(who)
	out, err := r.bot.Handle(r.t.Context(), bot.Message{
		Surface: "slack", Thread: "D" + who, Channel: "slack:D" + who, Direct: true, Own: true, User: who + " (" + address + ")", Person: address,
		ID: fmt.Sprint(r.n), Text: text, At: time.Now(),
	})
	if err != nil {
		r.t.Fatalf("%q: %v", text, err)
	}
	return out
}

// TestDirectIsOnesOwn: what was asked in a direct message is in nobody else's
// log and answers to nobody else's word for it, until it is posted.
func TestDirectIsOnesOwn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		r := newRoom(t, record.Settings{Linked: [][]string{{"slack:ANNA", "discord:9"}}})
		team := &board{channels: []string{"slack:C1"}}
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Team: team, Pictures: true})
		id := r.name(r.directly("anna", "XKLD -38 FAF 8200"))
		open := r.name(r.says("cara", "t", "XKLD -38 7400"))

		sees := func(out reply.Reply, want bool) {
			t.Helper()
			if got := strings.Contains(strings.Join(append(out.Facts, linesOf(out)...), "\n"), id); got != want {
				t.Errorf("%s is read: %v, want %v: %+v", id, got, want, out)
			}
		}
		for _, text := range []string{"log", "log XKLD", "log today", "log unchecked"} {
			sees(r.directly("anna", text), true)
			sees(r.directly("bo", text), false)
			sees(r.says("bo", "t", text), false)
			// In a channel all read the answer: it has what all may see.
			sees(r.says("anna", "t", text), false)
		}
		for _, verb := range []string{"log ", "check ", "withdraw ", "recompute ", "post ", "card "} {
			if out := r.says("bo", "t", verb+id); out.Problem == nil || !strings.Contains(out.Problem.Text, "No record is called "+id) {
				t.Errorf("%q by another: %+v, want that there is none", verb+id, out)
			}
		}
		sees(r.directly("anna", "log "+id), true)
		if out := r.directly("anna", "card "+id); out.PictureOf != id {
			t.Errorf("the own card: %+v", out)
		}
		elsewhere, err := r.bot.Handle(t.Context(), bot.Message{
			Surface: "discord", Thread: "9", Channel: "discord:9", Direct: true, Person: "discord:9", User: "Anna (discord:9)", ID: "d", Text: "log", At: time.Now(),
		})
		if err != nil {
			t.Fatal(err)
		}
		sees(elsewhere, true)

		// What the outbox did not take is not posted.
		team.err = errors.New("disk full")
		if _, err := r.bot.Handle(t.Context(), bot.Message{
			Surface: "slack", Thread: "Danna", Channel: "slack:Danna", Direct: true, Own: true, User: "anna (slack:ANNA)", Person: "slack:ANNA",
			ID: "refused", Text: "post " + id, At: time.Now(),
		}); err == nil {
			t.Error("a post that the outbox does not take is said to be made")
		}
		team.err = nil
		sees(r.says("bo", "t", "log"), false)

		r.want(r.directly("anna", "post "+id), reply.KindNotice, id+" goes to the team channel")
		sees(r.says("bo", "t", "log"), true)
		r.want(r.says("bo", "t", "check "+id), reply.KindNotice, "checked by bo")
		r.state(id, record.Checked)

		// Who relies on a posted result sees what takes its place.
		next := r.name(r.directly("anna", "-41"))
		r.want(r.says("bo", "t", "log "+next), reply.KindLog, next)
		// What follows one that was not posted stays the own.
		r.directly("dana", "XKLD -38 8200")
		own := r.name(r.directly("dana", "-39"))
		if out := r.says("bo", "t", "log "+own); out.Problem == nil {
			t.Errorf("the next version of a direct result is read: %+v", out)
		}
		r.want(r.says("bo", "t", "log "+open), reply.KindLog, open)

		// On the page everybody's is the crew room's.
		page, err := r.bot.Handle(t.Context(), bot.Message{
			Surface: "page", Thread: "k", Channel: "page", Direct: true, Person: "page:ed", User: "Ed (page:ed)", ID: "p", Text: "XKLD -38 8200", At: time.Now(),
		})
		if err != nil {
			t.Fatal(err)
		}
		r.want(r.says("bo", "t", "log "+r.name(page)), reply.KindLog, r.name(page))
	})
}

func linesOf(out reply.Reply) (all []string) {
	for _, s := range out.Sections {
		all = append(append(all, s.Title), s.Lines...)
	}
	return all
}
