package main

import (
	"context"
	"sync"
	"time"

	"firn/adapters/health"
	"firn/bot/config"
	"firn/bot/reply"
)

// states are the bases' states as of the last look.
type states struct {
	mu  sync.Mutex
	all []reply.Cold
	at  time.Time
}

func (s *states) show(all []reply.Cold, at time.Time) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.all, s.at = all, at
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

func (r *rounds) samples() (out []health.Sample) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for name, d := range r.last {
		out = append(out, health.Sample{Labels: []string{name}, Value: d.Seconds()})
	}
	return out
}

// checks are what must work before the process is ready. A weather service
// that is down is not among them: the watch then says "no forecast".
func (s *services) checks() []health.Check {
	checks := []health.Check{
		{Name: "store", Run: func(ctx context.Context) error {
			_, err := s.outbox.Backlog(ctx)
			return err
		}},
	}
	for _, on := range s.surfaces {
		checks = append(checks, health.Check{Name: on.Name(), Run: func(context.Context) error { return on.State() }})
	}
	return checks
}

// gauges are the figures that a duty engineer would be woken for.
func (s *services) gauges() []health.Gauge {
	backlog := func(name, help string, read func(waiting int, oldest time.Time, givenUp int) float64) health.Gauge {
		return health.Gauge{Name: name, Help: help, Read: func(ctx context.Context) ([]health.Sample, error) {
			b, err := s.outbox.Backlog(ctx)
			if err != nil {
				return nil, err
			}
			return []health.Sample{{Value: read(b.Waiting, b.Oldest, b.GivenUp)}}, nil
		}}
	}
	return []health.Gauge{
		backlog("firn_posts_waiting", "Posts that wait to be delivered.", func(n int, _ time.Time, _ int) float64 { return float64(n) }),
		backlog("firn_posts_oldest_seconds", "How long ago the oldest waiting post was due.", func(_ int, oldest time.Time, _ int) float64 {
			if oldest.IsZero() {
				return 0
			}
			return max(0, s.now().Sub(oldest).Seconds())
		}),
		backlog("firn_posts_given_up", "Posts that were given up; they stay in the store.", func(_ int, _ time.Time, n int) float64 { return float64(n) }),
		{
			Name: "firn_post_attempts_total", Help: "Attempts to deliver a post, by surface and how they ended.",
			Labels: []string{"surface", "outcome"}, Counter: true,
			Read: func(context.Context) (out []health.Sample, _ error) {
				for k, n := range s.meters.posts.Snapshot() {
					out = append(out, health.Sample{Labels: []string{k.Surface, string(k.Outcome)}, Value: float64(n)})
				}
				return out, nil
			},
		},
		{
			Name: "firn_build_info", Help: "Which firn this is: always 1.", Labels: []string{"version", "commit", "calculation", "go"},
			Read: func(context.Context) ([]health.Sample, error) {
				b := thisBuild()
				return []health.Sample{{Labels: []string{b.Version, b.Revision, b.Engine, b.Go}, Value: 1}}, nil
			},
		},
		{
			Name: "firn_alerts_unacknowledged", Help: "Bases whose cold alert nobody has acknowledged, as the replica saw it that has the watch; absent on the others.",
			Read: func(context.Context) ([]health.Sample, error) {
				t, fresh := s.meters.waiting(s.now())
				if !fresh {
					return nil, nil
				}
				return []health.Sample{{Value: float64(t.Asking)}}, nil
			},
		},
		{
			Name: "firn_alerts_unacknowledged_seconds", Help: "How long the oldest of these alerts has waited.",
			Read: func(context.Context) ([]health.Sample, error) {
				t, fresh := s.meters.waiting(s.now())
				if !fresh || t.Asking == 0 {
					return nil, nil
				}
				return []health.Sample{{Value: max(0, s.now().Sub(t.Oldest).Seconds())}}, nil
			},
		},
		{
			Name: "firn_bases", Help: "Watched bases by state.", Labels: []string{"state"},
			Read: func(context.Context) (out []health.Sample, _ error) {
				counts := map[string]int{"below": 0, "near": 0, "clear": 0, "part-forecast": 0, "no-forecast": 0}
				all, _ := s.states.now()
				for _, b := range all {
					counts[b.State]++
				}
				for state, n := range counts {
					out = append(out, health.Sample{Labels: []string{state}, Value: float64(n)})
				}
				return out, nil
			},
		},
		{
			Name: "firn_forecast_age_seconds", Help: "Age of the forecast in use, by base; absent where there is none.", Labels: []string{"base"},
			Read: func(context.Context) (out []health.Sample, _ error) {
				all, _ := s.states.now()
				for _, b := range all {
					if !b.Issued.IsZero() {
						out = append(out, health.Sample{Labels: []string{b.Ident}, Value: s.now().Sub(b.Issued).Seconds()})
					}
				}
				return out, nil
			},
		},
		{
			Name: "firn_looked_seconds", Help: "How long ago the bases were last looked at; absent before the first look.",
			Read: func(context.Context) ([]health.Sample, error) {
				_, at := s.states.now()
				if at.IsZero() {
					return nil, nil
				}
				return []health.Sample{{Value: s.now().Sub(at).Seconds()}}, nil
			},
		},
		{
			Name: "firn_round_seconds", Help: "How long the last round took: watch writes alerts, record holds results against newer weather, look judges the bases for the page.",
			Labels: []string{"round"},
			Read:   func(context.Context) ([]health.Sample, error) { return s.rounds.samples(), nil },
		},
		{
			Name: "firn_sign_ins_refused_total", Help: "Tries to come in to the page that were refused: by a link that is not good, by too many tries from one address, by a form of another page.",
			Labels: []string{"why"}, Counter: true,
			Read: func(context.Context) (out []health.Sample, _ error) {
				for why, n := range s.page.Refused() {
					out = append(out, health.Sample{Labels: []string{why}, Value: float64(n)})
				}
				return out, nil
			},
		},
		{
			Name: "firn_surface_up", Help: "1 while the chat service is connected.", Labels: []string{"surface"},
			Read: func(context.Context) (out []health.Sample, _ error) {
				for _, on := range s.surfaces {
					up := 1.0
					if on.State() != nil {
						up = 0
					}
					out = append(out, health.Sample{Labels: []string{on.Name()}, Value: up})
				}
				return out, nil
			},
		},
		{
			Name: "firn_weather_source_up", Help: "1 when the source's last answer was one, 0 when it failed.", Labels: []string{"source"},
			Read: func(context.Context) (out []health.Sample, _ error) {
				for _, h := range s.chain.Health() {
					if h.Worked.IsZero() && h.Failed.IsZero() {
						continue
					}
					up := 1.0
					if h.Failed.After(h.Worked) {
						up = 0
					}
					out = append(out, health.Sample{Labels: []string{h.Source}, Value: up})
				}
				return out, nil
			},
		},
	}
}

// missing says what a surface needs.
func missing(on config.Surface) string {
	switch on {
	case config.OnSlack:
		return "set " + envSlackBot + " and " + envSlackApp
	case config.OnDiscord:
		return "set " + envDiscord
	}
	return "name another channel"
}
