package slack

import (
	"context"
	"log/slog"
	"net/http"
	"strings"
	"time"

	slackgo "github.com/slack-go/slack"

	"firn/bot/sleep"
)

// Token is a secret of Slack's. It shows itself to nobody: printed, logged or
// encoded it is a placeholder.
type Token string

const hiddenToken = "(hidden)"

// String is a placeholder.
func (Token) String() string { return hiddenToken }

// GoString is a placeholder.
func (Token) GoString() string { return hiddenToken }

// LogValue is a placeholder.
func (Token) LogValue() slog.Value { return slog.StringValue(hiddenToken) }

// MarshalText is a placeholder.
func (Token) MarshalText() ([]byte, error) { return []byte(hiddenToken), nil }

// Options set a Surface up. A zero takes the default.
type Options struct {
	AppToken Token // opens the sockets (xapp-)
	BotToken Token // everything else (xoxb-)
	// APIURL is another server than Slack's, for tests.
	APIURL string
	// Home is what events of the bot's own workspace have as their Place.Home.
	// Default the workspace's id, which is not known before Slack has answered;
	// a fixed word lets the dispatcher be set up before that.
	Home string
	// Sockets is how many connections are held. Slack takes ten of one app in
	// all, and spreads events over them. Default 1; two keep events coming
	// while Slack renews one of them.
	Sockets int
	// Groups are the ids of the user groups that matter (duty officers): a
	// person's membership is asked for only when there are some.
	Groups []string
	// HTTPClient makes the calls. The default keeps connections and gives
	// each call Timeout.
	HTTPClient *http.Client
	// Timeout is for one call. Default 10 s: an attempt of the outbox has 20 s.
	Timeout time.Duration
	// Patience is how long a call without a deadline waits when Slack says
	// that it is asked too often. Default 30 s.
	Patience time.Duration
	// Pace is what is left between two messages to a channel that Slack has
	// said is written to too often. Default 1 s, Slack's documented rate.
	Pace time.Duration
	// Grace is how long work under way may go on when Run ends. Default 5 s.
	Grace time.Duration
	// FirstBackoff and MaxBackoff bound the pauses after a token was refused.
	// Defaults 5 s and 5 min: a token is not mended in less.
	FirstBackoff, MaxBackoff time.Duration
	// FindBack is how far back posts are looked for by their key. Default
	// 72 h: the outbox gives an item up after 24, or after a weekend off.
	FindBack time.Duration
	// Now is the clock; default time.Now. Sleep waits until that has gone on by
	// so much, or the context has ended.
	Now   func() time.Time
	Sleep func(ctx context.Context, d time.Duration) error
}

func (o Options) withDefaults() Options {
	if o.APIURL == "" {
		o.APIURL = slackgo.APIURL
	}
	if !strings.HasSuffix(o.APIURL, "/") {
		o.APIURL += "/" // the library joins by plain concatenation
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.Sleep == nil {
		o.Sleep = sleep.For
	}
	o.Sockets = min(max(o.Sockets, 1), 10)
	or(&o.Timeout, 10*time.Second)
	or(&o.Patience, 30*time.Second)
	or(&o.Pace, time.Second)
	or(&o.Grace, 5*time.Second)
	or(&o.FirstBackoff, 5*time.Second)
	or(&o.MaxBackoff, 5*time.Minute)
	or(&o.FindBack, 72*time.Hour)
	if o.HTTPClient == nil {
		o.HTTPClient = &http.Client{Timeout: o.Timeout, Transport: transport()}
	}
	return o
}

func or(d *time.Duration, other time.Duration) {
	if *d <= 0 {
		*d = other
	}
}
