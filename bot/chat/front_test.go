package chat_test

import (
	"context"
	"fmt"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/reply"
)

// changes says that something has changed.
func changes(changed chan<- struct{}) {
	select {
	case changed <- struct{}{}:
	default:
	}
}

// TestFrontsKept: a front page that was opened follows what changes, several
// changes at once, and is shown anew only where it is another.
func TestFrontsKept(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		var state atomic.Pointer[string]
		is := func(s string) { state.Store(&s) }
		is("a")
		o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) {
			return reply.Reply{Kind: reply.KindMine, Facts: []string{*state.Load()}}, nil
		}
		ctx, stop := context.WithCancel(t.Context())
		ended, changed := make(chan error, 1), make(chan struct{}, 1)
		go func() { ended <- o.KeepFronts(ctx, changed, fronted{surface: o.slack}) }()
		changes(changed) // nobody has opened one
		time.Sleep(time.Minute)
		o.want(t)
		e := chat.Event{ID: "l1", Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Channel: "D1", Direct: true}, Person: chat.Person{ID: "U1"}}
		o.Handle(t.Context(), fronted{surface: o.slack}, e)
		o.want(t, "front U1: a")
		changes(changed)
		time.Sleep(time.Minute)
		o.want(t, "front U1: a") // nothing is different
		is("b")
		for range 20 {
			changes(changed)
			time.Sleep(50 * time.Millisecond)
		}
		time.Sleep(5 * time.Second)
		o.want(t, "front U1: a", "front U1: b")
		o.clock.Pass(13 * time.Hour) // a shift is over
		is("c")
		changes(changed)
		time.Sleep(time.Minute)
		o.want(t, "front U1: a", "front U1: b")
		stop()
		<-ended
	})
}

// TestFrontsGoOn: a front page that was opened before the configuration was read
// again follows what changes, and what the new configuration changes.
func TestFrontsGoOn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		fronts := chat.NewFronts()
		e := chat.Event{ID: "l1", Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Channel: "D1", Direct: true}, Person: chat.Person{ID: "U1"}}
		o := newOffice(t, chat.Settings{Fronts: fronts})
		o.Handle(t.Context(), fronted{surface: o.slack}, e)
		o.want(t, "front U1: <mine>")
		for _, c := range []struct {
			home string // of the new configuration
			want []string
		}{{"T1", []string{"front U1: by another configuration", "front U1: changed"}}, {"T2", nil}, {"T1", nil}} {
			o = newOffice(t, chat.Settings{Fronts: fronts, Where: map[string]chat.Where{"slack": {Home: c.home}}})
			var text atomic.Pointer[string]
			is := func(s string) { text.Store(&s) }
			is("by another configuration")
			o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) {
				return reply.Reply{Kind: reply.KindMine, Facts: []string{*text.Load()}}, nil
			}
			ctx, stop := context.WithCancel(t.Context())
			ended, changed := make(chan error, 1), make(chan struct{}, 1)
			go func() { ended <- o.KeepFronts(ctx, changed, fronted{surface: o.slack}) }()
			time.Sleep(time.Minute)
			is("changed")
			changes(changed)
			time.Sleep(time.Minute)
			o.want(t, c.want...)
			stop()
			<-ended
		}
	})
}

// TestFrontFlood: whoever opens the front page again and again is shown it no more
// often than a person may ask, and may ask all the same.
func TestFrontFlood(t *testing.T) {
	for _, standing := range []chat.Standing{chat.Member, chat.Outsider} {
		o := newOffice(t, chat.Settings{Burst: 3})
		for n := range 20 {
			o.Handle(t.Context(), fronted{o.slack, &standing}, chat.Event{
				ID: fmt.Sprint("l", n), Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Direct: true}, Person: chat.Person{ID: "U1", Standing: standing},
			})
		}
		if got := len(o.slack.done()); got != 3 {
			t.Errorf("standing %v: the front page is shown %d times, want 3", standing, got)
		}
		before := len(o.slack.done())
		o.clock.Pass(3 * time.Second)
		o.Handle(t.Context(), fronted{o.slack, &standing}, chat.Event{
			ID: "later", Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Direct: true}, Person: chat.Person{ID: "U1", Standing: standing},
		})
		if got := len(o.slack.done()) - before; got != 1 {
			t.Errorf("standing %v: a while later it is shown %d times, want once", standing, got)
		}
		if standing == chat.Member {
			o.take(t, said(1, "a"))
			if got := o.slack.done(); got[len(got)-1] != "answer <a>" {
				t.Errorf("a message then: %q", got)
			}
		}
	}
}

// TestFrontOfWhoLeaves: the front page of somebody who belongs to the unit no more is
// brought up to date once, to say so.
func TestFrontOfWhoLeaves(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		o := newOffice(t, chat.Settings{})
		state, standing := "a", chat.Member
		o.answerer.do = func(context.Context, bot.Message) (reply.Reply, error) {
			return reply.Reply{Kind: reply.KindMine, Facts: []string{state}}, nil
		}
		ctx, stop := context.WithCancel(t.Context())
		ended, changed := make(chan error, 1), make(chan struct{}, 1)
		go func() { ended <- o.KeepFronts(ctx, changed, fronted{o.slack, &standing}) }()
		e := chat.Event{ID: "l1", Kind: chat.HomeOpened, Place: chat.Place{Home: "T1", Channel: "D1", Direct: true}, Person: chat.Person{ID: "U1"}}
		o.Handle(t.Context(), fronted{o.slack, &standing}, e)
		const gone = "front U1: ! firn answers the members of its unit alone: not guests, nor people of other organisations."
		for _, c := range []struct {
			state string
			is    chat.Standing
			want  []string
		}{
			{"b", chat.Member, []string{"front U1: a", "front U1: b"}},
			{"c", chat.Unsure, []string{"front U1: a", "front U1: b"}},
			{"d", chat.Outsider, []string{"front U1: a", "front U1: b", gone}},
			{"e", chat.Member, []string{"front U1: a", "front U1: b", gone}}, // who has come back opens it
		} {
			synctest.Wait()
			state, standing = c.state, c.is
			changes(changed)
			time.Sleep(2 * time.Minute)
			o.want(t, c.want...)
		}
		stop()
		<-ended
	})
}
