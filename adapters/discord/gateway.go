package discord

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"time"

	"github.com/bwmarrin/discordgo"
	"github.com/gorilla/websocket"

	"firn/bot/chat"
	"firn/bot/sleep"
)

// Codes with which Discord closes the gateway (its reference, "Gateway Close
// Event Codes").
const (
	closeNotAuthenticated = 4003
	closeBadToken         = 4004
	closeBadSequence      = 4007
	closeTimedOut         = 4009
	closeBadShard         = 4010
	closeNeedsShards      = 4011
	closeBadVersion       = 4012
	closeBadIntents       = 4013
	closeNoIntents        = 4014
)

const (
	longestPause = time.Minute
	openLimit    = 45 * time.Second
	steady       = 10 * time.Second // a connection that lasted so long was a good one
)

// Run keeps the connection to Discord and hands what comes to the taker until
// the context ends, and returns its error once every event under way is
// answered, or has had its few seconds. It runs once.
func (s *Surface) Run(ctx context.Context, taker chat.Handler) error {
	if !s.running.CompareAndSwap(false, true) {
		return errors.New("discord: Run was called before")
	}
	work, stop := context.WithCancel(context.WithoutCancel(ctx))
	s.taker, s.work, s.quit = taker, work, ctx
	defer func() {
		s.leave()
		late := time.AfterFunc(s.set.pauses.farewell, stop)
		s.takes.Wait()
		late.Stop()
		stop()
	}()
	k := &gatewaySupervisor{s: s, content: s.set.Mentions}
	for {
		pause := k.connect(ctx)
		if ctx.Err() != nil {
			s.setTrouble(errors.New("firn leaves Discord"))
			return ctx.Err()
		}
		if err := sleep.For(ctx, pause); err != nil {
			return err
		}
	}
}

// leave lets no further event in.
func (s *Surface) leave() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.leaving = true
}

// gatewaySupervisor is the state of Run.
type gatewaySupervisor struct {
	s       *Surface
	gate    *discordgo.Session // with what it needs to resume; nil: begin anew
	content bool               // ask for the message content intent
	fails   int
}

// connect makes one connection, stays while it lasts, and says how long to
// wait before the next. discordgo connects again by itself too, but looks at
// no close code: a refused token would be tried for ever.
func (k *gatewaySupervisor) connect(ctx context.Context) (pause time.Duration) {
	s := k.s
	if k.gate == nil {
		if pause, err := k.admit(ctx); err != nil {
			return k.failed(ctx, err, pause)
		}
		gate, err := k.session(ctx)
		if err != nil {
			return k.failed(ctx, err, 0)
		}
		k.gate = gate
	}
	select {
	case <-s.cut: // of an earlier connection
	default:
	}
	switch err := k.open(ctx); {
	case errors.Is(err, discordgo.ErrWSAlreadyOpen):
		s.setTrouble(nil)
	case err != nil:
		return k.failed(ctx, err, 0)
	}
	since := time.Now()
	select {
	case <-ctx.Done():
		s.leave()
		_ = k.gate.Close() // it has no error to give
		return 0
	case <-s.cut:
	}
	s.setTrouble(errCut)
	s.log.WarnContext(ctx, "discord gateway cut", "after", time.Since(since).Round(time.Second))
	if time.Since(since) > steady {
		k.fails = 0
	}
	k.fails++
	if k.fails == 1 {
		return 0 // discordgo has waited a second already
	}
	return k.backoff()
}

func (k *gatewaySupervisor) backoff() time.Duration {
	return min(k.s.set.pauses.first<<min(k.fails-1, 10), longestPause)
}

// admit asks whether the bot may identify, which Discord counts.
func (k *gatewaySupervisor) admit(ctx context.Context) (pause time.Duration, err error) {
	var info discordgo.GatewayBotResponse
	limited, cancel := context.WithTimeout(ctx, openLimit)
	defer cancel()
	if err := k.s.api.call(limited, request{what: "ask for the gateway", method: http.MethodGet, path: "gateway/bot", bucket: "gateway/bot", repeat: true}, &info); err != nil {
		return 0, err
	}
	if info.Shards > k.s.set.ShardCount {
		k.s.log.WarnContext(ctx, "discord asks for more shards", "configured", k.s.set.ShardCount, "asked", info.Shards)
	}
	if limit := info.SessionStartLimit; limit.Total > 0 && limit.Remaining <= 0 {
		pause = max(time.Duration(limit.ResetAfter)*time.Millisecond, time.Second)
		return pause, sentence(fmt.Sprintf("Discord allows no new connection for %s: the bot has connected too often", pause.Round(time.Second)))
	}
	return 0, nil
}

// session is a discordgo session that carries events and nothing else.
func (k *gatewaySupervisor) session(ctx context.Context) (*discordgo.Session, error) {
	s := k.s
	gate, err := newSession(string(s.set.Token), &http.Client{
		Timeout:   requestLimit,
		Transport: redirect{ctx, s.set.APIURL, s.api.session.Client.Transport},
	})
	if err != nil {
		return nil, err
	}
	gate.Dialer = s.throttle.dialer()
	gate.ShouldReconnectOnError = false
	gate.SyncEvents = true // in order; each handler begins a goroutine where it has to wait
	gate.Compress = false
	gate.ShardID, gate.ShardCount = s.set.ShardID, s.set.ShardCount
	gate.Identify.Compress = false
	gate.Identify.Intents = discordgo.IntentGuilds | discordgo.IntentGuildMessages | discordgo.IntentDirectMessages
	if k.content {
		gate.Identify.Intents |= discordgo.IntentMessageContent
	}
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.Ready) { s.onReady(e) })
	gate.AddHandler(func(*discordgo.Session, *discordgo.Resumed) {
		s.setTrouble(nil)
		s.log.Info("discord gateway resumed")
	})
	gate.AddHandler(func(*discordgo.Session, *discordgo.Disconnect) {
		select {
		case s.cut <- struct{}{}:
		default:
		}
	})
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.GuildCreate) {
		if len(s.set.Channels) == 0 {
			s.guilds.put(e.ID, struct{}{})
		}
		for _, c := range append(e.Channels, e.Threads...) {
			c.GuildID = e.ID // left out in there
			s.seen(c)
		}
	})
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.ChannelCreate) { s.seen(e.Channel) })
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.ThreadCreate) { s.at.add(e.Channel) })
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.MessageCreate) { s.onMessage(e.Message, false) })
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.MessageUpdate) { s.onMessage(e.Message, true) })
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.MessageDelete) { s.onDelete(e.Message) })
	gate.AddHandler(func(_ *discordgo.Session, e *discordgo.InteractionCreate) { s.onInteraction(e.Interaction) })
	return gate, nil
}

// open connects and identifies or resumes. discordgo waits without end for a
// server that says nothing, so the wire is cut under it.
func (k *gatewaySupervisor) open(ctx context.Context) error {
	done := make(chan error, 1)
	go func() { done <- k.gate.Open() }()
	limit := time.NewTimer(openLimit)
	defer limit.Stop()
	select {
	case err := <-done:
		return err
	case <-ctx.Done():
	case <-limit.C:
	}
	k.s.throttle.cut()
	return <-done
}

// failed notes why there is no connection and how long to wait; pause is what
// Discord asked for.
func (k *gatewaySupervisor) failed(ctx context.Context, err error, pause time.Duration) time.Duration {
	if ctx.Err() != nil {
		return 0
	}
	s := k.s
	k.fails++
	if pause == 0 {
		pause = k.backoff()
	}
	var refused *fault
	var transport *url.Error
	var rest *discordgo.RESTError
	if errors.As(err, &transport) || errors.As(err, &rest) {
		err = faultOf("ask for the gateway", err)
	}
	if errors.As(err, &refused) && refused.status == http.StatusUnauthorized {
		err = errRefused
	}
	var closed *websocket.CloseError
	if errors.As(err, &closed) {
		pause, err = k.closed(ctx, closed.Code, pause)
	}
	if errors.Is(err, errRefused) {
		k.gate, pause = nil, s.set.pauses.refused
	}
	var plain sentence
	if errors.As(err, &plain) {
		s.setTrouble(plain)
	} else {
		s.setTrouble(fmt.Errorf("no connection to Discord: %w", err))
	}
	s.log.ErrorContext(ctx, "no connection to discord", "err", err, "again_in", pause)
	return pause
}

// closed is what a close code means.
func (k *gatewaySupervisor) closed(ctx context.Context, code int, pause time.Duration) (time.Duration, error) {
	slow := k.s.set.pauses.refused
	switch code {
	case closeBadToken:
		return slow, errRefused
	case closeNoIntents:
		k.gate = nil
		if k.content {
			// Everything but follow-ups without a mention works all the same.
			k.content = false
			k.s.log.ErrorContext(ctx, "discord does not allow the message content intent: follow-ups need a mention; switch the intent on in Discord's developer portal")
			return k.s.set.pauses.first, errors.New("the message content intent is not allowed")
		}
		return slow, sentence("Discord does not allow the intents of the bot")
	case closeBadShard, closeNeedsShards:
		k.gate = nil
		return slow, sentence(fmt.Sprintf("Discord refuses shard %d of %d: set the number of shards that it asks for", k.s.set.ShardID, k.s.set.ShardCount))
	case closeBadVersion, closeBadIntents:
		k.gate = nil
		return slow, sentence(fmt.Sprintf("Discord refuses what firn says to it (close code %d)", code))
	case closeNotAuthenticated, closeBadSequence, closeTimedOut:
		k.gate = nil // the session cannot be resumed
	}
	return pause, fmt.Errorf("the gateway closed with code %d", code)
}

func (s *Surface) onReady(e *discordgo.Ready) {
	if e.User == nil {
		return
	}
	me := &self{user: e.User.ID, app: e.User.ID}
	if e.Application != nil && e.Application.ID != "" {
		me.app = e.Application.ID
	}
	s.self.Store(me)
	s.setTrouble(nil)
	s.log.Info("connected to discord", "bot", me.user, "guilds", len(e.Guilds), "shard", s.set.ShardID)
	if s.set.ShardID == 0 {
		s.commands.Do(func() { s.take(func(context.Context) { s.keepCommands(s.quit, me.app) }) })
	}
}
