package weathertest

import (
	"context"
	"fmt"
	"strings"
	"sync"

	"firn/bot/weather"
)

// Memory is a Source that gives what was put into it. Safe for use by several
// goroutines.
type Memory struct {
	name string

	mu           sync.Mutex
	observations map[string]weather.Observation
	forecasts    map[string]weather.Forecast
	err          error
	calls        int
}

var (
	_ weather.Source   = (*Memory)(nil)
	_ weather.Labelled = (*Memory)(nil)
)

// NewMemory makes an empty source of a name.
func NewMemory(name string) *Memory {
	return &Memory{name: name, observations: map[string]weather.Observation{}, forecasts: map[string]weather.Forecast{}}
}

// Observe puts an observation in, in place of the station's last. An empty
// Source becomes "METAR (name)".
func (m *Memory) Observe(o weather.Observation) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if o.Source == "" {
		o.Source, _ = m.Labels()
	}
	m.observations[o.Ident] = o
}

// Expect puts a forecast in, in place of the station's last. An empty Source
// becomes "TAF (name)".
func (m *Memory) Expect(f weather.Forecast) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if f.Source == "" {
		_, f.Source = m.Labels()
	}
	m.forecasts[f.Ident] = f
}

// Forget takes everything of a station out.
func (m *Memory) Forget(ident string) {
	m.mu.Lock()
	defer m.mu.Unlock()
	delete(m.observations, ident)
	delete(m.forecasts, ident)
}

// Break makes every call fail with an error; nil mends it.
func (m *Memory) Break(err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.err = err
}

// Calls is how often it was asked.
func (m *Memory) Calls() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.calls
}

// Name is the one given.
func (m *Memory) Name() string { return m.name }

// Labels are what stands in Source.
func (m *Memory) Labels() (observation, forecast string) {
	return "METAR (" + m.name + ")", "TAF (" + m.name + ")"
}

// Observation is the one put in.
func (m *Memory) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	return get(ctx, m, m.observations, ident)
}

// Forecast is the one put in.
func (m *Memory) Forecast(ctx context.Context, ident string) (weather.Forecast, error) {
	return get(ctx, m, m.forecasts, ident)
}

func get[T any](ctx context.Context, m *Memory, all map[string]T, ident string) (T, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.calls++
	var zero T
	if err := ctx.Err(); err != nil {
		return zero, err
	}
	if m.err != nil {
		return zero, fmt.Errorf("weather %s: %s: %w", m.name, ident, m.err)
	}
	got, ok := all[strings.ToUpper(ident)]
	if !ok {
		return zero, fmt.Errorf("weather %s: %s: %w", m.name, ident, weather.ErrNone)
	}
	return got, nil
}
