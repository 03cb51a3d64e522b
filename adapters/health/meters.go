package health

import (
	"context"
	"log/slog"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"firn/bot/app"
	"firn/bot/outbox"
)

// Collector is figures that are counted as things happen.
type Collector = prometheus.Collector

// Meters count what happens. They go on when the configuration is read again.
type Meters struct {
	answers  *prometheus.CounterVec   // by surface and outcome
	took     *prometheus.HistogramVec // an answer, by surface
	attempts *prometheus.CounterVec   // at a post, by surface and outcome
	lag      *prometheus.HistogramVec // a post, by surface
	errors   prometheus.Counter       // lines of the log
	lost     prometheus.Counter       // records
	build    *prometheus.GaugeVec
}

var _ app.Meter = (*Meters)(nil)

func counter(name, help string, labels ...string) *prometheus.CounterVec {
	return prometheus.NewCounterVec(prometheus.CounterOpts{Name: name, Help: help}, labels)
}

func histogram(name, help string, seconds []float64, labels ...string) *prometheus.HistogramVec {
	return prometheus.NewHistogramVec(prometheus.HistogramOpts{Name: name, Help: help, Buckets: seconds}, labels)
}

// NewMeters makes them. The bounds are ours: an answer is in milliseconds, and a
// post has a minute.
func NewMeters(b Build) *Meters {
	m := &Meters{
		answers:  counter("firn_answers_total", "Messages that were answered, by surface and outcome: answered, question (the message needs fixing) or error.", "surface", "outcome"),
		took:     histogram("firn_answer_seconds", "How long an answer took to make, without its way to the reader.", []float64{0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1, 3, 10}, "surface"),
		attempts: counter("firn_post_attempts_total", "Attempts to deliver a post, by surface and how they ended.", "surface", "outcome"),
		lag:      histogram("firn_post_lag_seconds", "How long after its due time a post was delivered.", []float64{1, 3, 10, 30, 60, 120, 300, 900, 3600}, "surface"),
		errors:   prometheus.NewCounter(prometheus.CounterOpts{Name: "firn_errors_total", Help: "Lines of the log at level ERROR."}),
		lost:     prometheus.NewCounter(prometheus.CounterOpts{Name: "firn_records_not_kept_total", Help: "Results that were shown and could not be kept: they say so."}),
		build:    prometheus.NewGaugeVec(prometheus.GaugeOpts{Name: "firn_build_info", Help: "Which firn this is: always 1."}, []string{"version", "commit", "calculation", "go"}),
	}
	m.build.WithLabelValues(b.Version, b.Commit, b.Calculation, b.Go).Set(1)
	return m
}

// Collectors are all of them, for Handler.
func (m *Meters) Collectors() []Collector {
	return []Collector{m.answers, m.took, m.attempts, m.lag, m.errors, m.lost, m.build}
}

// Attempt counts an attempt at a post.
func (m *Meters) Attempt(surface string, o outbox.Outcome, lag time.Duration) {
	m.attempts.WithLabelValues(surface, string(o)).Inc()
	if o == outbox.Sent || o == outbox.Found {
		m.lag.WithLabelValues(surface).Observe(max(0, lag.Seconds()))
	}
}

// Answered counts a message.
func (m *Meters) Answered(surface, outcome string, took time.Duration) {
	m.took.WithLabelValues(surface).Observe(took.Seconds())
	m.answers.WithLabelValues(surface, outcome).Inc()
}

// NotKept counts a result that was shown and could not be kept.
func (m *Meters) NotKept() { m.lost.Inc() }

// Log is a handler of the log that counts its errors.
func (m *Meters) Log(to slog.Handler) slog.Handler { return counting{to, m.errors} }

type counting struct {
	slog.Handler
	errors prometheus.Counter
}

// Handle counts one line.
func (c counting) Handle(ctx context.Context, r slog.Record) error {
	if r.Level >= slog.LevelError {
		c.errors.Inc()
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
