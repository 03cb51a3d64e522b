package app

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"sync"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
)

// Check is one thing that must work before the process is ready. Its error
// is shown to whoever asks, so it must hold no secret.
type Check struct {
	Name string
	Run  func(ctx context.Context) error
}

// Sample is one figure with its labels.
type Sample struct {
	Labels []string // values, in the order of Gauge.Labels
	Value  float64
}

// Gauge is a figure that is read whenever somebody asks for it.
type Gauge struct {
	Name, Help string
	Labels     []string
	Counter    bool // only ever grows
	Read       func(ctx context.Context) ([]Sample, error)
}

// states are the bases' states as of the last look.
type states struct {
	mu     sync.Mutex
	all    []reply.Cold
	at     time.Time
	fronts []reply.MineItem // what front pages show of them
}

// show keeps states, and says whether front pages show something else of them than
// of those before.
func (s *states) show(all []reply.Cold, at time.Time, fronts []reply.MineItem) (changed bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	changed = !slices.EqualFunc(fronts, s.fronts, func(a, b reply.MineItem) bool {
		return a.ID == b.ID && a.Text == b.Text && slices.Equal(a.Actions, b.Actions)
	})
	s.all, s.at, s.fronts = all, at, fronts
	return changed
}

func (s *states) now() ([]reply.Cold, time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.all, s.at
}

// rounds are how long the last one of each kind took: one that takes longer
// than a minute is late for the next.
type rounds struct {
	mu   sync.Mutex
	last map[string]time.Duration
}

func (r *rounds) took(name string, d time.Duration) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.last == nil {
		r.last = map[string]time.Duration{}
	}
	r.last[name] = d
}

func (r *rounds) samples() (out []Sample) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for name, d := range r.last {
		out = append(out, Sample{Labels: []string{name}, Value: d.Seconds()})
	}
	return out
}

// memory goes on when the configuration is read again.
type memory struct {
	mu      sync.Mutex
	tally   watch.Tally // the last tick of this process
	tallied time.Time
	refused bool // the last configuration that was read again
	peers   chat.Peers
	fronts  *chat.Fronts
}

func (m *memory) ticked(t watch.Tally, at time.Time) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.tally, m.tallied = t, at
}

func (m *memory) reread(taken bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.refused = !taken
}

// tallyFresh is how long a tick says what waits, three rounds: then another
// replica has the watch.
const tallyFresh = 3 * time.Minute

// waiting is what the last tick saw of alerts that nobody has acknowledged.
func (m *memory) waiting(now time.Time) (watch.Tally, bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.tally, !m.tallied.IsZero() && now.Sub(m.tallied) < tallyFresh
}

// Checks are what must work before the process is ready. A weather service
// that is down is not among them: the watch then says "no forecast".
func (a *App) Checks() []Check {
	checks := []Check{{Name: "store", Run: a.storeWorks}}
	for _, on := range a.parts.Surfaces {
		checks = append(checks, Check{Name: on.Name(), Run: func(context.Context) error { return on.State() }})
	}
	if a.page != nil {
		checks = append(checks, Check{Name: a.page.Name(), Run: a.pageWorks})
	}
	return checks
}

// pageWorks says whether the page does all that it should: what it shows lies in the
// store.
func (a *App) pageWorks(ctx context.Context) error {
	if err := a.page.State(); err != nil {
		return err
	}
	if a.storeWorks(ctx) != nil {
		return errors.New("what is asked is answered and not kept, and nothing else can be done: see store")
	}
	return nil
}

// written is when something was last written only to see whether it can be.
type written struct {
	mu  sync.Mutex
	at  time.Time
	err error
}

// The figures are ours: whoever asks each second costs one commit in ten.
const (
	writtenEvery = 10 * time.Second
	writtenLimit = 2 * time.Second
)

// storeWorks says whether the store can be read and written: a disk that is
// full can be read.
func (a *App) storeWorks(ctx context.Context) error {
	if _, err := a.outbox.Backlog(ctx); err != nil {
		return err
	}
	if err := a.inPlace(); err != nil {
		return err
	}
	w := &a.probe
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.err != nil || time.Since(w.at) >= writtenEvery {
		limited, cancel := context.WithTimeout(ctx, writtenLimit)
		defer cancel()
		_, w.err = a.parts.Store.Lease(limited, "ready", "all", time.Minute)
		if w.at = time.Now(); limited.Err() != nil {
			w.err = nil // busy: an import keeps the writers waiting
		}
	}
	if w.err != nil {
		return fmt.Errorf("it can be read and not written: %w", w.err)
	}
	return nil
}

// inPlace says that the store is a file that is not at its path any more.
func (a *App) inPlace() error {
	if file, ok := a.parts.Store.(interface{ InPlace() error }); ok {
		return file.InPlace()
	}
	return nil
}

// one is a figure without labels; there is none where there is false.
func one(name, help string, read func() (float64, bool)) Gauge {
	return Gauge{Name: name, Help: help, Read: func(context.Context) ([]Sample, error) {
		v, there := read()
		if !there {
			return nil, nil
		}
		return []Sample{{Value: v}}, nil
	}}
}

// several is a figure with a label.
func several(name, help, label string, read func() []Sample) Gauge {
	return Gauge{Name: name, Help: help, Labels: []string{label}, Read: func(context.Context) ([]Sample, error) { return read(), nil }}
}

// is says yes as a figure.
func is(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// Gauges are the figures that a duty engineer would be woken for, beside those
// that the Meter counts.
func (a *App) Gauges() []Gauge {
	all := append(a.postGauges(), a.baseGauges()...)
	return append(all,
		several("firn_surface_up", "1 while the chat service is connected.", "surface", func() (out []Sample) {
			for _, on := range a.surfaces {
				out = append(out, Sample{Labels: []string{on.Name()}, Value: is(on.State() == nil)})
			}
			return out
		}),
		several("firn_weather_source_up", "1 when the source's last answer was one, 0 when it failed.", "source", func() (out []Sample) {
			for _, h := range a.chain.Health() {
				if !h.Worked.IsZero() || !h.Failed.IsZero() {
					out = append(out, Sample{Labels: []string{h.Source}, Value: is(!h.Failed.After(h.Worked))})
				}
			}
			return out
		}),
		several("firn_round_seconds", "How long the last round took: watch writes alerts, record holds results against newer weather, look judges the bases for the page.", "round", a.rounds.samples),
		Gauge{
			Name: "firn_sign_ins_refused_total", Help: "Tries to come in to the page that were refused: by a link that is not good, by too many tries from one address, by a form of another page.",
			Labels: []string{"why"}, Counter: true,
			Read: func(context.Context) (out []Sample, _ error) {
				for why, n := range a.page.Refused() {
					out = append(out, Sample{Labels: []string{why}, Value: float64(n)})
				}
				return out, nil
			},
		},
	)
}

// postGauges are those of the outbox.
func (a *App) postGauges() []Gauge {
	backlog := func(name, help string, read func(b outbox.Backlog) float64) Gauge {
		return Gauge{Name: name, Help: help, Read: func(ctx context.Context) ([]Sample, error) {
			b, err := a.outbox.Backlog(ctx)
			if err != nil {
				return nil, err
			}
			return []Sample{{Value: read(b)}}, nil
		}}
	}
	return []Gauge{
		backlog("firn_posts_waiting", "Posts that wait to be delivered.", func(b outbox.Backlog) float64 { return float64(b.Waiting) }),
		backlog("firn_posts_oldest_seconds", "How long ago the oldest waiting post was due.", func(b outbox.Backlog) float64 {
			if b.Oldest.IsZero() {
				return 0
			}
			return max(0, a.now().Sub(b.Oldest).Seconds())
		}),
		backlog("firn_posts_given_up", "Posts that were given up; they stay in the store.", func(b outbox.Backlog) float64 { return float64(b.GivenUp) }),
	}
}

// baseGauges are those of the watch.
func (a *App) baseGauges() []Gauge {
	return []Gauge{
		one("firn_alerts_unacknowledged", "Bases whose cold alert nobody has acknowledged, as the replica saw it that has the watch; absent on the others.", func() (float64, bool) {
			t, fresh := a.memory.waiting(a.now())
			return float64(t.Asking), fresh
		}),
		one("firn_alerts_unacknowledged_seconds", "How long the oldest of these alerts has waited.", func() (float64, bool) {
			t, fresh := a.memory.waiting(a.now())
			return max(0, a.now().Sub(t.Oldest).Seconds()), fresh && t.Asking > 0
		}),
		several("firn_bases", "Watched bases by state.", "state", func() (out []Sample) {
			counts := map[string]int{"below": 0, "near": 0, "clear": 0, "part-forecast": 0, "no-forecast": 0}
			all, _ := a.states.now()
			for _, b := range all {
				counts[b.State]++
			}
			for state, n := range counts {
				out = append(out, Sample{Labels: []string{state}, Value: float64(n)})
			}
			return out
		}),
		several("firn_forecast_age_seconds", "Age of the forecast in use, by base; absent where there is none.", "base", func() (out []Sample) {
			all, _ := a.states.now()
			for _, b := range all {
				if !b.Issued.IsZero() {
					out = append(out, Sample{Labels: []string{b.Ident}, Value: a.now().Sub(b.Issued).Seconds()})
				}
			}
			return out
		}),
		one("firn_looked_seconds", "How long ago the bases were last looked at; absent before the first look.", func() (float64, bool) {
			_, at := a.states.now()
			return a.now().Sub(at).Seconds(), !at.IsZero()
		}),
		one("firn_reload_failed", "1 when the configuration, as it was last read again, was refused: what serves is older than the file.", func() (float64, bool) {
			a.memory.mu.Lock()
			defer a.memory.mu.Unlock()
			return is(a.memory.refused), true
		}),
	}
}
