package chat_test

import (
	"context"
	"errors"
	"slices"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// forgetful shows an answer and loses the service's word for it, so many
// times; then it finds what stands. again are the events that it was asked to
// look for.
type forgetful struct {
	*surface
	lost  int
	again []bool
}

func (s *forgetful) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	ref, err := s.surface.Answer(ctx, e, c)
	s.again = append(s.again, e.Again)
	if s.lost--; s.lost >= 0 {
		return "", errors.New("no answer: EOF")
	}
	return ref, err
}

// TestLostAnswer: a card that stands although the service never said so is
// known in the end. Else it would read "unchecked" for ever.
func TestLostAnswer(t *testing.T) {
	for _, c := range []struct {
		name  string
		event chat.Event
		lost  int
		shown int // cards that became known
		again []bool
	}{
		{"once", said(1, "a"), 1, 1, []bool{false, true}},
		{"three times", said(1, "a"), 3, 1, []bool{false, true, true, true}},
		{"until it is given up", said(1, "a"), 9, 0, []bool{false, true, true, true}},
		{"of an edit", edit(1, 1, "b"), 1, 1, []bool{false, true}},
		{"of a command, which leaves nothing to look for", func() chat.Event { e := said(1, "a"); e.Message = ""; return e }(), 1, 0, []bool{false}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				shown, done := 0, 0
				o := newOffice(t, chat.Settings{
					Shown: func(context.Context, string, chat.Ref, reply.Reply, bool) { shown++ },
					Done:  func(context.Context, string) { done++ },
				})
				s := &forgetful{surface: o.slack, lost: c.lost}
				o.Handle(t.Context(), s, c.event)
				o.Wait()
				if shown != c.shown || done != c.shown || !slices.Equal(s.again, c.again) {
					t.Errorf("%d cards are known and %d events done, tries %v; want %d and %v", shown, done, s.again, c.shown, c.again)
				}
			})
		})
	}
}

// TestLostAnswerIsLeft: where nothing stands, or somebody else sees to it, the
// answer is not tried again.
func TestLostAnswerIsLeft(t *testing.T) {
	lost := errors.New("no answer: EOF")
	edited := func(t *testing.T, o *office) { o.take(t, edit(1, 1, "b")) }
	for _, c := range []struct {
		name string
		err  error
		once bool // another process has it now
		then func(t *testing.T, o *office)
		want []string
	}{
		{"refused for good", outbox.Permanent(lost), false, nil, []string{"answer failed"}},
		{"too much is asked", outbox.Busy(lost, time.Minute), false, nil, []string{"answer failed", "whisper U1: ! Too much is asked here for firn to answer in time; ask again in a minute, or work it from the published table."}},
		{"another process has it", lost, true, nil, []string{"answer failed"}},
		{"the message was edited since", lost, false, edited, []string{"answer failed", "answer <b>"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				var asked atomic.Int32
				o := newOffice(t, chat.Settings{Once: func(context.Context, string) (bool, error) {
					return asked.Add(1) == 1 || !c.once, nil
				}})
				o.slack.fail["answer"] = c.err
				go o.take(t, said(1, "a"))
				synctest.Wait()
				o.slack.mend("answer")
				if c.then != nil {
					c.then(t, o)
				}
				o.Wait()
				o.want(t, c.want...)
			})
		})
	}
}

// TestComesAgainMeanwhile: an event that comes again while it is worked on is
// taken when the first is. A service that was told so before would not send it
// to another process if this one dies.
func TestComesAgainMeanwhile(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		o.answerer.do = func(_ context.Context, m bot.Message) (reply.Reply, error) {
			time.Sleep(5 * time.Second) // of the bubble
			return reply.Reply{Facts: []string{m.Text}}, nil
		}
		began := time.Now()
		go o.take(t, said(1, "a"))
		synctest.Wait()
		o.take(t, said(1, "a"))
		if took := time.Since(began); took != 5*time.Second {
			t.Errorf("the second was taken after %v", took)
		}
		o.Wait()
		o.want(t, "answer a")
		o.take(t, said(1, "a")) // long afterwards
		if took := time.Since(began); took != 5*time.Second {
			t.Errorf("the third was taken after %v", took)
		}
	})
}
