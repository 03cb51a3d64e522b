package slack

import (
	"context"
	"errors"
	"io"
	"log"
	"log/slog"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/sleep"
)

// Name is the first part of this surface's addresses.
const Name = "slack"

// Surface is firn on one Slack workspace. Safe for use by several goroutines.
type Surface struct {
	log   *slog.Logger
	opts  Options
	api   *slackgo.Client
	gates *rateGates
	state state

	profiles *memo[profile]
	groups   *memo[[]string]
	directs  *memo[string] // channel of a person's direct message
	threads  *memo[bool]   // by channel/thread: the bot takes part
	begun    *memo[string] // by channel/ts of an answer: the thread that its event began
	posted   *memo[string] // by ref: the key of the post
	identity atomic.Pointer[identity]
	taker    atomic.Pointer[chat.Handler]
	work     chat.Workers
}

var (
	_ chat.Fronted    = (*Surface)(nil)
	_ chat.Unfolding  = (*Surface)(nil)
	_ chat.Confirming = (*Surface)(nil)
	_ outbox.Threaded = (*Surface)(nil)
)

// identity is who the bot is on Slack.
type identity struct{ user, bot, team string }

// New makes a surface. It calls nobody; Run does.
func New(lg *slog.Logger, o Options) (*Surface, error) {
	switch {
	case o.BotToken == "":
		return nil, errors.New("no Slack bot token: set FIRN_SLACK_BOT_TOKEN")
	case o.AppToken == "":
		return nil, errors.New("no Slack app token: set FIRN_SLACK_APP_TOKEN")
	// Slack's own prefixes: told apart here, the two cannot be set the wrong
	// way round without a word.
	case strings.HasPrefix(string(o.BotToken), "xapp-"):
		return nil, errors.New("FIRN_SLACK_BOT_TOKEN holds the app token (xapp-); the bot token begins with xoxb-")
	case strings.HasPrefix(string(o.AppToken), "xoxb-"):
		return nil, errors.New("FIRN_SLACK_APP_TOKEN holds the bot token (xoxb-); the app token begins with xapp-")
	}
	o = o.withDefaults()
	s := &Surface{
		log: lg, opts: o,
		gates:    newRateGates(o.Now, o.Sleep, o.Pace, o.Patience),
		profiles: newMemo[profile](o.Now, 5000),
		groups:   newMemo[[]string](o.Now, 100),
		directs:  newMemo[string](o.Now, 5000),
		threads:  newMemo[bool](o.Now, 20000),
		begun:    newMemo[string](o.Now, 5000),
		posted:   newMemo[string](o.Now, 5000),
	}
	s.state.now = o.Now
	s.api = slackgo.New(string(o.BotToken),
		slackgo.OptionAppLevelToken(string(o.AppToken)),
		slackgo.OptionAPIURL(o.APIURL),
		slackgo.OptionHTTPClient(doer{o.HTTPClient, o.APIURL}),
		// The library's own lines go nowhere: they are for its developers, and
		// not all of them are careful.
		slackgo.OptionLog(log.New(io.Discard, "", 0)),
	)
	return s, nil
}

// Name is "slack".
func (*Surface) Name() string { return Name }

// me is who the bot is; empty before Slack has said so.
func (s *Surface) me() identity {
	if id := s.identity.Load(); id != nil {
		return *id
	}
	return identity{}
}

// home is the name of a workspace for the dispatcher.
func (s *Surface) home(team string) string {
	if s.opts.Home != "" && (team == "" || team == s.me().team) {
		return s.opts.Home
	}
	return team
}

// Run holds the connections and hands what people do to taker, until the
// context ends; it then waits for the work under way, for Grace. A token that
// Slack refuses does not end it: State says so, and it is tried again, slower
// each time.
func (s *Surface) Run(ctx context.Context, taker chat.Handler) error {
	s.taker.Store(&taker)
	// Work goes on for a moment when everything is being stopped, so that an
	// answer that was worked out is also shown.
	working, stop := context.WithCancel(context.WithoutCancel(ctx))
	defer stop()
	var running sync.WaitGroup
	if s.identify(ctx) {
		running.Go(func() { s.watchToken(ctx) })
		for n := range s.opts.Sockets {
			running.Go(func() { s.keepConnected(ctx, working, n) })
		}
	}
	running.Wait()
	<-ctx.Done()
	s.state.socketsGone()
	done := make(chan struct{})
	go func() { s.work.Wait(); close(done) }()
	select {
	case <-done:
	case <-time.After(s.opts.Grace):
		s.log.WarnContext(ctx, "slack: work under way is cut off")
		stop()
		<-done
	}
	return ctx.Err()
}

// identify asks who the bot is, until it is known or the context ends.
func (s *Surface) identify(ctx context.Context) bool {
	pause := backoff{first: s.opts.FirstBackoff, most: s.opts.MaxBackoff}
	quick := backoff{first: min(time.Second, s.opts.FirstBackoff), most: min(30*time.Second, s.opts.MaxBackoff)}
	for {
		err := s.ask(ctx)
		if err == nil {
			me := s.me()
			s.log.InfoContext(ctx, "slack knows the bot", "team", me.team, "user", me.user)
			return true
		}
		if ctx.Err() != nil {
			return false
		}
		wait := quick.next()
		if tokenRefusals[code(err)] {
			wait = pause.next()
		}
		s.log.ErrorContext(ctx, "slack does not say who the bot is", "err", err, "again_in", wait)
		if sleep.For(ctx, wait) != nil {
			return false
		}
	}
}

// ask calls auth.test.
func (s *Surface) ask(ctx context.Context) error {
	var r *slackgo.AuthTestResponse
	err := s.call(ctx, "auth.test", "", func(ctx context.Context) (err error) {
		r, err = s.api.AuthTestContext(ctx)
		return err
	})
	if err != nil {
		s.state.unreached(err)
		return err
	}
	if r.UserID == "" {
		err := s.quiet("auth.test: Slack names no user", nil)
		s.state.unreached(err)
		return err
	}
	s.identity.Store(&identity{user: r.UserID, bot: r.BotID, team: r.TeamID})
	return nil
}

// watchToken asks again while the bot token is refused, so that State tells
// when it works again though nobody asks anything.
func (s *Surface) watchToken(ctx context.Context) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-s.state.refusal():
		}
		pause := backoff{first: s.opts.FirstBackoff, most: s.opts.MaxBackoff}
		for s.state.botCode() != "" {
			wait := pause.next()
			s.log.ErrorContext(ctx, "slack refuses the bot token", "code", s.state.botCode(), "again_in", wait)
			if sleep.For(ctx, wait) != nil {
				return
			}
			if err := s.ask(ctx); err == nil {
				s.log.InfoContext(ctx, "slack takes the bot token again")
			}
		}
	}
}

// State is nil while the bot can hear and speak, and otherwise a sentence for
// whoever runs it.
func (s *Surface) State() error { return s.state.err() }

// sentence is an error for people to read.
type sentence string

func (s sentence) Error() string { return string(s) }

// state is what is known of the connection.
type state struct {
	now func() time.Time

	mu       sync.Mutex
	bot, app string // the code with which the token is refused
	open     int    // sockets
	lost     time.Time
	ever     bool
	cause    error // why there is no socket
	refused  chan struct{}
}

// flicker is how long a lost connection is not worth a word: Slack renews
// each one every few hours.
const flicker = 10 * time.Second

func (t *state) err() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	switch {
	case t.bot != "":
		return sentence("Slack refuses the bot token (" + t.bot + "): set FIRN_SLACK_BOT_TOKEN")
	case t.app != "":
		return sentence("Slack refuses the app token (" + t.app + "): set FIRN_SLACK_APP_TOKEN")
	case t.open > 0, t.ever && t.now().Sub(t.lost) < flicker:
		return nil
	case t.cause != nil:
		return sentence("Slack is not connected: " + t.cause.Error())
	}
	return sentence("Slack is not connected yet")
}

func (t *state) botWorks() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.bot = ""
}

func (t *state) botRefused(code string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.bot = code
	select {
	case t.signal() <- struct{}{}:
	default:
	}
}

// signal is the channel that tells of a refusal; mu is held.
func (t *state) signal() chan struct{} {
	if t.refused == nil {
		t.refused = make(chan struct{}, 1)
	}
	return t.refused
}

func (t *state) refusal() <-chan struct{} {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.signal()
}

func (t *state) botCode() string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.bot
}

func (t *state) appRefused(code string) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.app = code
}

func (t *state) unreached(err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.cause = err
}

func (t *state) socketUp() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.open++
	t.ever, t.app, t.cause = true, "", nil
}

func (t *state) socketDown() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.open--
	t.lost = t.now()
}

func (t *state) socketsGone() {
	t.mu.Lock()
	defer t.mu.Unlock()
	t.open, t.ever, t.cause = 0, false, errors.New("firn is stopping")
}

// backoff doubles a pause.
type backoff struct{ first, most, last time.Duration }

func (b *backoff) next() time.Duration {
	b.last = min(max(b.first, 2*b.last), b.most)
	return b.last
}
