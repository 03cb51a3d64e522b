package main

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"firn/adapters/health"
	"firn/bot"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
)

// meters count what happens. They go on when the configuration is read again.
type meters struct {
	answers health.Counter   // by surface and outcome
	took    health.Histogram // an answer, by surface
	lag     health.Histogram // a post, by surface
	errors  health.Counter   // lines of the log
	lost    health.Counter   // records
	posts   outbox.Counters

	mu     sync.Mutex
	tally  watch.Tally // the last tick of this process
	tallyd time.Time
}

// The outcomes of a message.
const (
	answered = "answered"
	asked    = "question" // the message needs fixing
	failed   = "error"
)

// The bounds are ours: an answer is in milliseconds, and a post has a minute.
func newMeters() *meters {
	m := &meters{
		answers: health.NewCounter("firn_answers_total", "Messages that were answered, by surface and outcome: answered, question (the message needs fixing) or error.", "surface", "outcome"),
		took:    health.NewHistogram("firn_answer_seconds", "How long an answer took to make, without its way to the reader.", []float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10}, "surface"),
		lag:     health.NewHistogram("firn_post_lag_seconds", "How long after its due time a post was delivered.", []float64{1, 3, 10, 30, 60, 120, 300, 900, 3600}, "surface"),
		errors:  health.NewCounter("firn_errors_total", "Lines of the log at level ERROR."),
		lost:    health.NewCounter("firn_records_not_kept_total", "Results that were shown and could not be kept: they say so."),
	}
	// What has not happened yet is there as zero, so that a rule sees the first.
	m.errors.WithLabelValues()
	m.lost.WithLabelValues()
	return m
}

func (m *meters) collectors() []health.Collector {
	return []health.Collector{m.answers, m.took, m.lag, m.errors, m.lost}
}

// Attempt is told of each attempt at a post.
func (m *meters) Attempt(surface string, o outbox.Outcome, lag time.Duration) {
	m.posts.Attempt(surface, o, lag)
	if o == outbox.Sent || o == outbox.Found {
		m.lag.Took(max(0, lag.Seconds()), surface)
	}
}

func (m *meters) ticked(t watch.Tally, at time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tally, m.tallyd = t, at
}

// ticks are fresh for three rounds: then another replica has them.
const tallyFresh = 3 * time.Minute

// waiting is what the last tick saw of alerts that nobody has acknowledged.
func (m *meters) waiting(now time.Time) (watch.Tally, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.tally, !m.tallyd.IsZero() && now.Sub(m.tallyd) < tallyFresh
}

// metered counts the answers of a bot.
type metered struct {
	inRoom
	m *meters
}

// Handle answers one message.
func (b metered) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	began := time.Now()
	r, err := b.inRoom.Handle(ctx, m)
	b.m.took.Took(time.Since(began).Seconds(), m.Surface)
	switch {
	case err != nil:
		b.m.answers.Add(m.Surface, failed)
	case r.Problem != nil:
		b.m.answers.Add(m.Surface, asked)
	default:
		b.m.answers.Add(m.Surface, answered)
	}
	return r, err
}

// counting is a handler of the log that counts its errors.
type counting struct {
	slog.Handler
	errors health.Counter
}

// Handle counts one line.
func (c counting) Handle(ctx context.Context, r slog.Record) error {
	if r.Level >= slog.LevelError {
		c.errors.Add()
	}
	return c.Handler.Handle(ctx, r)
}

// WithAttrs keeps counting.
func (c counting) WithAttrs(a []slog.Attr) slog.Handler {
	return counting{c.Handler.WithAttrs(a), c.errors}
}

// WithGroup keeps counting.
func (c counting) WithGroup(name string) slog.Handler {
	return counting{c.Handler.WithGroup(name), c.errors}
}
