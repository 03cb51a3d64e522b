package discord

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"sync/atomic"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/outbox"
)

// userAgent has the form that Discord asks for; without it requests may be
// blocked.
const userAgent = "DiscordBot (https://github.com/bwmarrin/discordgo, v" + discordgo.VERSION + ") firn"

// requestLimit is the longest that one request may take.
const requestLimit = 20 * time.Second

// tries is how often a request is made whose repeat can do no harm.
const tries = 3

// api makes requests to Discord through discordgo's own path, which has the
// token and the form.
type api struct {
	base    string
	session *discordgo.Session
	gates   *gates
	refused atomic.Bool // the last request with the token was refused
	pause   time.Duration
}

func newAPI(token, base string, transport http.RoundTripper, by clock) (*api, error) {
	session, err := newSession(token, &http.Client{Timeout: requestLimit, Transport: listener{transport}})
	if err != nil {
		return nil, err
	}
	return &api{base: base, session: session, gates: newGates(by)}, nil
}

// newSession is a discordgo session that neither repeats requests by itself
// (a 502 may hide a post that was stored) nor writes to the standard log.
func newSession(token string, client *http.Client) (*discordgo.Session, error) {
	session, err := discordgo.New("Bot " + token)
	if err != nil {
		return nil, errors.New("discord: the library refuses the bot token: set FIRN_DISCORD_TOKEN")
	}
	session.Client = client
	session.UserAgent = userAgent
	session.MaxRestRetries = 0
	session.ShouldRetryOnRateLimit = false
	session.StateEnabled = false
	session.LogLevel = -1
	return session, nil
}

// request is one call.
type request struct {
	what   string // for errors, in words; the path may hold an interaction's token
	method string
	path   string // below the base
	bucket string // whose rate limit counts; empty: none is shared (interactions)
	spread spread
	body   any
	files  []*discordgo.File
	repeat bool // doing it twice does no harm
}

// call makes a request and reads the answer into out, which may be nil.
func (a *api) call(ctx context.Context, q request, out any) error {
	kind, body, err := q.encode()
	if err != nil {
		return fmt.Errorf("discord: %s: %w", q.what, err)
	}
	for try := 1; ; try++ {
		answer, said, err := a.once(ctx, q, kind, body)
		if err == nil {
			if q.bucket != "" {
				a.refused.Store(false)
			}
			if out == nil {
				return nil
			}
			if err := json.Unmarshal(answer, out); err != nil {
				return &fault{what: q.what, text: "the answer cannot be read", err: err}
			}
			return nil
		}
		f := faultOf(q.what, err)
		if said.refused {
			f = &fault{what: q.what, status: http.StatusTooManyRequests, wait: said.wait}
		}
		if f.status == http.StatusUnauthorized && q.bucket != "" {
			a.refused.Store(true)
		}
		wait := a.pause << (try - 1)
		switch {
		case f.wait > 0: // nothing was done: waiting is safe for every request
			wait, try = f.wait, try-1
		case !q.repeat || !f.unclear() || try >= tries:
			return f
		}
		if !leaves(ctx, wait) {
			if f.wait > 0 {
				return outbox.Busy(f, f.wait)
			}
			return f
		}
		if f.wait > 0 && q.bucket != "" {
			continue // its gate keeps the wait
		}
		if err := a.gates.wait(ctx, wait); err != nil {
			return errors.Join(f, err)
		}
	}
}

func (q request) encode() (kind string, body []byte, err error) {
	switch {
	case len(q.files) > 0:
		return discordgo.MultipartBodyWithJSON(q.body, q.files)
	case q.body != nil:
		body, err = json.Marshal(q.body)
		return "application/json", body, err
	}
	return "", nil, nil
}

// once makes the request once, when its turn has come. Limits are kept by gates:
// discordgo's own wait without regard to the context.
func (a *api) once(ctx context.Context, q request, kind string, body []byte) (answer []byte, said limit, err error) {
	if err := ctx.Err(); err != nil {
		return nil, said, err
	}
	if q.bucket != "" {
		done, short, err := a.gates.pass(ctx, q.bucket, q.spread)
		if short > 0 {
			return nil, limit{refused: true, wait: short}, errSoon
		}
		if err != nil {
			return nil, said, err
		}
		defer done()
	}
	bucket := discordgo.NewRatelimiter().LockBucket("")
	answer, err = a.session.RequestWithLockedBucket(q.method, a.base+q.path, kind, body, bucket, 0, discordgo.WithContext(context.WithValue(ctx, limitKey{}, &said)))
	if q.bucket != "" {
		a.gates.heed(q.bucket, said)
	}
	return answer, said, err
}

// errSoon is that of a request that the context leaves no time for.
var errSoon = errors.New("too many requests")

// redirect sends discordgo's own requests to the server that was configured.
type redirect struct {
	stop context.Context // of Run: a request must not outlast it
	base string
	next http.RoundTripper
}

// RoundTrip makes the request there.
func (r redirect) RoundTrip(q *http.Request) (*http.Response, error) {
	_, path, _ := strings.Cut(strings.TrimPrefix(q.URL.Path, "/api/"), "/")
	at, err := q.URL.Parse(r.base + path)
	if err != nil {
		return nil, err
	}
	at.RawQuery = q.URL.RawQuery
	ctx, cancel := context.WithCancel(q.Context())
	context.AfterFunc(r.stop, cancel)
	q = q.Clone(ctx)
	q.URL, q.Host = at, ""
	return r.next.RoundTrip(q)
}
