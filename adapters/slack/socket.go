package slack

import (
	"context"
	"errors"
	"io"
	"log"
	"net/http"
	"sync"
	"time"

	slackgo "github.com/slack-go/slack"
	"github.com/slack-go/slack/slackevents"
	"github.com/slack-go/slack/socketmode"

	"firn/bot/chat"
	"firn/bot/sleep"
)

// keepConnected keeps one connection up. The library reconnects by itself after a cut
// and when Slack renews the connection, but gives up for good on a refused
// token: then it is begun anew, slower each time.
func (s *Surface) keepConnected(ctx, working context.Context, n int) {
	pause := backoff{first: s.opts.FirstBackoff, most: s.opts.MaxBackoff}
	for ctx.Err() == nil {
		held, err := s.connect(ctx, working)
		if ctx.Err() != nil {
			return
		}
		if held {
			pause.last = 0
		}
		wait := pause.next()
		c := refusedApp(err)
		if c != "" {
			s.state.appRefused(c)
		}
		s.log.ErrorContext(ctx, "slack ended the connection for good", "socket", n, "code", c, "again_in", wait)
		if sleep.For(ctx, wait) != nil {
			return
		}
	}
}

// refusedApp is the code with which the app token was refused, or nothing.
func refusedApp(err error) string {
	if c := code(err); tokenRefusals[c] {
		return c
	}
	var status slackgo.StatusCodeError
	if errors.As(err, &status) && status.Code == http.StatusNotFound {
		return "not found"
	}
	return ""
}

// ack is an acknowledgement that waits its turn, so that the reader of a connection
// never does: the library's own queue is short, and full while it reconnects.
type ack struct {
	envelope string
	payload  any
}

// acksWaiting is more than Slack sends in the 3 s that it allows for one.
const acksWaiting = 8192

// connect runs the library's client until it gives up; held says that there
// was a connection.
func (s *Surface) connect(ctx, working context.Context) (held bool, err error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	client := socketmode.New(s.api, socketmode.OptionLog(log.New(io.Discard, "", 0)))
	l := &socketConn{s: s, working: working, acks: make(chan ack, acksWaiting)}
	var parts sync.WaitGroup
	defer parts.Wait()
	defer cancel()
	parts.Go(func() {
		for {
			select {
			case <-ctx.Done():
				return
			case a := <-l.acks:
				if err := client.AckCtx(ctx, a.envelope, a.payload); err != nil && ctx.Err() == nil {
					s.log.WarnContext(ctx, "slack: acknowledgement not sent", "err", s.withoutTokens(err.Error()))
				}
			}
		}
	})
	parts.Go(func() {
		for {
			select {
			case <-ctx.Done():
				l.down()
				return
			case e := <-client.Events:
				l.take(ctx, e)
			}
		}
	})
	err = client.RunContext(ctx)
	cancel()
	parts.Wait()
	return l.held, err
}

// socketConn is one connection as its reader sees it.
type socketConn struct {
	s       *Surface
	working context.Context
	acks    chan ack
	up      bool
	held    bool
}

func (l *socketConn) down() {
	if l.up {
		l.up = false
		l.s.state.socketDown()
	}
}

// take handles one event of the library. It does nothing that waits, and
// leaves the work to goroutines.
func (l *socketConn) take(ctx context.Context, e socketmode.Event) {
	switch e.Type {
	case socketmode.EventTypeConnecting:
		l.down()
	case socketmode.EventTypeHello:
		if !l.up {
			l.up, l.held = true, true
			l.s.state.socketUp()
		}
	case socketmode.EventTypeConnectionError:
		if c, ok := e.Data.(*slackgo.ConnectionErrorEvent); ok {
			l.s.state.unreached(l.s.fault("apps.connections.open", c.ErrorObj))
			l.s.log.WarnContext(ctx, "slack is not reached", "err", l.s.fault("apps.connections.open", c.ErrorObj), "again_in", c.Backoff)
		}
	case socketmode.EventTypeErrorBadMessage:
		// Not acknowledged, so it comes again; a new kind of event that the
		// library cannot read must not stop the others.
		if b, ok := e.Data.(*socketmode.ErrorBadMessage); ok {
			l.s.log.WarnContext(ctx, "slack sent something unreadable", "err", l.s.withoutTokens(b.Cause.Error()))
		}
	case socketmode.EventTypeEventsAPI:
		outer, ok := e.Data.(slackevents.EventsAPIEvent)
		if !ok {
			l.ack(ctx, e, nil)
			return
		}
		l.ackWhen(ctx, e, l.s.event(l.working, outer, e.Request != nil && e.Request.RetryAttempt > 0))
	case socketmode.EventTypeSlashCommand:
		l.ack(ctx, e, nil)
		if c, ok := e.Data.(slackgo.SlashCommand); ok {
			l.s.command(l.working, c)
		}
	case socketmode.EventTypeInteractive:
		if ic, ok := e.Data.(slackgo.InteractionCallback); ok {
			answer, then := l.s.interaction(l.working, ic)
			l.ack(ctx, e, answer)
			if then != nil {
				then()
			}
			return
		}
		l.ack(ctx, e, nil)
	}
}

// ackWithin is how long an acknowledgement waits for the answer. Slack allows
// 3 s; half of it is left for the way.
const ackWithin = 1500 * time.Millisecond

// ackWhen acknowledges an event once it was taken: Slack sends one that was
// not acknowledged again, to another process if this one has died. One that
// takes long is acknowledged before.
func (l *socketConn) ackWhen(ctx context.Context, e socketmode.Event, under *taking) {
	if under == nil {
		l.ack(ctx, e, nil)
		return
	}
	late := time.AfterFunc(ackWithin, func() { l.ack(ctx, e, nil) })
	under.then(func() {
		if late.Stop() {
			l.ack(ctx, e, nil)
		}
	})
}

// taking is an event that is being taken.
type taking struct {
	mu    sync.Mutex
	over  bool
	after func()
}

// then has something done, which does not wait, when the event was taken.
func (t *taking) then(do func()) {
	t.mu.Lock()
	if !t.over {
		t.after = do
		t.mu.Unlock()
		return
	}
	t.mu.Unlock()
	do()
}

func (t *taking) end() {
	t.mu.Lock()
	t.over = true
	do := t.after
	t.mu.Unlock()
	if do != nil {
		do()
	}
}

func (l *socketConn) ack(ctx context.Context, e socketmode.Event, payload any) {
	if e.Request == nil || e.Request.EnvelopeID == "" {
		return
	}
	select {
	case l.acks <- ack{e.Request.EnvelopeID, payload}:
	default: // Slack sends the event again
		l.s.log.ErrorContext(ctx, "slack: too many acknowledgements wait; one is left out")
	}
}

// hand gives an event to the dispatcher, from a goroutine of its own. ready fills in
// what has to be asked for first, and may drop the event.
// It gives what knows when that is over.
func (s *Surface) hand(ctx context.Context, e chat.Event, ready func(context.Context, *chat.Event) bool) *taking {
	taker := s.taker.Load()
	if taker == nil {
		return nil
	}
	e.Sole = !e.Again && !e.Paired // Slack tells one connection
	under := &taking{}
	s.work.Go(func() {
		defer under.end()
		if ready != nil && !ready(ctx, &e) {
			return
		}
		if (*taker).Answers(s, e.Place) { // nothing is asked about strangers
			e.Person = s.person(ctx, e.Person)
		}
		(*taker).Handle(ctx, s, e)
	})
	return under
}

// eventTime is a timestamp of Slack's as a time.
func (s *Surface) eventTime(ts string) time.Time {
	if t := timeOf(ts); !t.IsZero() {
		return t
	}
	return s.opts.Now()
}
