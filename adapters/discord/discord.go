package discord

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"net/url"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/bounded"
	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/sleep"
)

// Name is the first part of this surface's addresses.
const Name = "discord"

// apiVersion of Discord that this package speaks.
const apiVersion = "10"

// defaultAPI is where Discord is.
const defaultAPI = "https://discord.com/api/v" + apiVersion + "/"

// Token is a bot token. It shows as stars wherever it is printed.
type Token string

// String hides it.
func (Token) String() string { return "***" }

// GoString hides it from %#v.
func (Token) GoString() string { return "***" }

// LogValue hides it from slog.
func (Token) LogValue() slog.Value { return slog.StringValue("***") }

// MarshalText hides it from encoders.
func (Token) MarshalText() ([]byte, error) { return []byte("***"), nil }

// Options are what the Surface is told.
type Options struct {
	Token Token
	// APIURL is another server that speaks for Discord, with the final slash
	// (http://127.0.0.1:7802/api/v10/); empty: Discord itself. The gateway is
	// where that server says.
	APIURL string
	// Guild is the server whose commands are kept; empty: they are registered
	// for every server the bot is in.
	Guild string
	// Channels are those in which the bot answers. Without Guild a server that has
	// none of them is not the unit's: anybody may add a bot to a server of their own.
	// Empty: every server is.
	Channels []string
	// Mentions asks for the privileged message content intent, so that
	// follow-ups in the bot's threads need no mention.
	Mentions bool
	// ShardID and ShardCount divide the servers between processes. Zero
	// ShardCount: not divided. Direct messages come to shard 0.
	ShardID, ShardCount int

	// The pauses, and the time by which limits are kept, for tests; zero: what
	// Discord asks for, and now.
	pauses pauses
	clock  clock
}

// pauses are how long this package waits for what.
type pauses struct {
	identify time.Duration // between two identifications
	refused  time.Duration // after a refused token
	first    time.Duration // before a second try to connect; doubles
	ack      time.Duration // before an interaction is told that work goes on
	unready  time.Duration // a cut is no matter for /readyz until then
	farewell time.Duration // for answers under way when Run ends
	retry    time.Duration // before a request is made again; doubles
}

func (p pauses) withDefaults() pauses {
	for _, d := range []struct {
		at *time.Duration
		to time.Duration
	}{
		{&p.identify, 5 * time.Second}, // one in 5 s (Discord, gateway, rate limiting)
		{&p.refused, 5 * time.Minute},
		{&p.first, time.Second},
		{&p.ack, 1500 * time.Millisecond}, // of the 3 s that Discord gives
		{&p.unready, 30 * time.Second},
		{&p.farewell, 5 * time.Second},
		{&p.retry, 250 * time.Millisecond},
	} {
		if *d.at == 0 {
			*d.at = d.to
		}
	}
	return p
}

// Surface is firn on Discord. It is safe for concurrent use.
type Surface struct {
	log      *slog.Logger
	set      Options
	api      *api
	at       *conversations
	throttle *identifyThrottle
	began    time.Time // what was said before may have an answer of another process

	self  atomic.Pointer[self]
	taker chat.Handler

	// Of the gateway; see gateway.go.
	mu      sync.Mutex
	trouble error     // nil: connected
	since   time.Time // of the trouble; zero: it was never well
	cut     chan struct{}

	quit     context.Context // of Run
	work     context.Context // of events; ends a little after Run's
	takes    chat.Workers
	leaving  bool // no event is taken any more; under mu
	commands sync.Once
	running  atomic.Bool

	users   recent[string]                    // user id to the channel of direct messages
	guilds  recent[struct{}]                  // in which the bot is, and whose members may write to it
	members *bounded.Map[string, chat.Person] // by user id, as members of the guild
	marks   recent[string]                    // message id to the mark of its outbox key, or nothing
	asked   recent[[]string]                  // record to the altitudes that the form of its check asks for
}

// self is who the bot is there.
type self struct{ user, app string }

var (
	_ chat.Unfolding  = (*Surface)(nil)
	_ outbox.Threaded = (*Surface)(nil)
)

// versionOnce sets discordgo's version of the interface: the gateway's address
// is made with it, and 9 is what it has by default.
var versionOnce sync.Once

// New makes a Surface. It calls nobody yet.
func New(log *slog.Logger, o Options) (*Surface, error) {
	if o.Token == "" {
		return nil, errors.New("discord: no bot token: set FIRN_DISCORD_TOKEN")
	}
	if strings.ContainsAny(string(o.Token), " \t\r\n") {
		return nil, errors.New("discord: the bot token has a space or a line break in it: set FIRN_DISCORD_TOKEN to the token alone")
	}
	if o.APIURL == "" {
		o.APIURL = defaultAPI
	}
	u, err := url.Parse(o.APIURL)
	if err != nil || u.Host == "" || u.Scheme != "http" && u.Scheme != "https" || u.User != nil || u.RawQuery != "" {
		return nil, errors.New("discord: FIRN_DISCORD_API_URL is no address of a server; type it as http://127.0.0.1:7802/api/v10/")
	}
	if !strings.HasSuffix(o.APIURL, "/") {
		o.APIURL += "/"
	}
	if o.ShardCount == 0 {
		o.ShardCount = 1
	}
	if o.ShardID < 0 || o.ShardID >= o.ShardCount {
		return nil, fmt.Errorf("discord: shard %d of %d: the first is 0, the last %d", o.ShardID, o.ShardCount, o.ShardCount-1)
	}
	versionOnce.Do(func() { discordgo.APIVersion = apiVersion })
	o.pauses = o.pauses.withDefaults()
	if o.clock.now == nil {
		o.clock = clock{time.Now, sleep.For}
	}
	s := &Surface{
		log: log, set: o,
		began:   time.Now(),
		at:      newPlaces(),
		trouble: errors.New("not connected to Discord yet"),
		cut:     make(chan struct{}, 1),
		work:    context.Background(),
		users:   remember[string](4096),
		guilds:  remember[struct{}](1000),
		members: bounded.New[string, chat.Person](4096, memberHolds),
		marks:   remember[string](16384),
		asked:   remember[[]string](1024),
	}
	s.throttle = newIdentifyThrottle(o.pauses.identify)
	// Every request goes to one host; the standard two idle connections would
	// be closed and opened all the time.
	transport := http.DefaultTransport.(*http.Transport).Clone()
	transport.MaxIdleConnsPerHost = 64
	if s.api, err = newAPI(string(o.Token), o.APIURL, transport, o.clock); err != nil {
		return nil, err
	}
	s.api.pause = o.pauses.retry
	return s, nil
}

// Name is discord.
func (s *Surface) Name() string { return Name }

// sentence is an error that people read as it is.
type sentence string

// Error is the sentence.
func (s sentence) Error() string { return string(s) }

// What people read of the connection.
const (
	errRefused sentence = "Discord refuses the bot token: set FIRN_DISCORD_TOKEN"
	errCut     sentence = "the connection to Discord is cut"
)

// State is nil while the bot is connected, else a sentence that says what is
// wrong. A cut that is mended at once is no matter.
func (s *Surface) State() error {
	s.mu.Lock()
	trouble, since := s.trouble, s.since
	s.mu.Unlock()
	switch {
	case s.api.refused.Load():
		return errRefused
	case trouble == nil:
		return nil
	case !errors.Is(trouble, errRefused) && !since.IsZero() && time.Since(since) < s.set.pauses.unready:
		return nil
	}
	return trouble
}

// setTrouble notes what is wrong; since is from when, if it was well before.
func (s *Surface) setTrouble(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	switch {
	case err == nil:
		s.since = time.Time{}
	case s.trouble == nil:
		s.since = time.Now()
	}
	s.trouble = err
}
