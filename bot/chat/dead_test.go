package chat_test

import (
	"context"
	"errors"
	"slices"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
)

// TestDeadProcess: a message that another process had is taken when that one
// has died over it, and only then.
func TestDeadProcess(t *testing.T) {
	const hold = 32 * time.Second
	for _, c := range []struct {
		name  string
		event chat.Event
		dies  bool
		want  []string
	}{
		{"it dies", said(1, "a"), true, []string{"answer <a>"}},
		{"it answers", said(1, "a"), false, nil},
		{"it dies over a press, which the person sees", func() chat.Event { e := said(1, "a"); e.Kind = chat.Pressed; return e }(), true, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				began := time.Now()
				var done []string
				o := newOffice(t, chat.Settings{
					Hold: hold,
					Once: func(context.Context, string) (bool, error) {
						return c.dies && time.Since(began) >= hold-time.Second, nil
					},
					Done: func(_ context.Context, id string) { done = append(done, id) },
				})
				o.take(t, c.event)
				o.want(t)
				time.Sleep(hold + time.Second)
				synctest.Wait()
				o.want(t, c.want...)
				if got := len(done); got != len(c.want) {
					t.Errorf("%d events are done, want %d", got, len(c.want))
				}
				o.Wait()
			})
		})
	}
}

// TestDone: a message without an answer is not done, so that another process
// may try; the person reads that the place is full.
func TestDone(t *testing.T) {
	var done []string
	o := newOffice(t, chat.Settings{Done: func(_ context.Context, id string) { done = append(done, id) }})
	o.slack.fail["answer"] = outbox.Busy(errors.New("too much"), time.Minute)
	o.take(t, said(1, "a"))
	o.want(t, "answer failed", "whisper U1: ! Too much is asked here for firn to answer in time; ask again in a minute, or work it from the published table.")
	delete(o.slack.fail, "answer")
	o.take(t, said(2, "b"))
	if want := []string{"slack/e2"}; !slices.Equal(done, want) {
		t.Errorf("done are %q, want %q", done, want)
	}
}
