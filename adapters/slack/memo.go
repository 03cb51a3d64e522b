package slack

import (
	"time"

	"golang.org/x/sync/singleflight"

	"firn/bot/bounded"
)

// memo keeps what was asked of Slack for a while, and no more of it than most
// entries. Askers of the same key share one call.
type memo[V any] struct {
	now   func() time.Time
	kept  *bounded.Map[string, V]
	calls singleflight.Group
}

func newMemo[V any](now func() time.Time, most int) *memo[V] {
	return &memo[V]{now: now, kept: bounded.New[string, V](most, 0)}
}

// get gives what is known, or asks. ask is handed what was known before, and
// says for how long its answer holds.
func (m *memo[V]) get(key string, ask func(old V) (V, time.Duration)) V {
	if v, ok := m.peek(key); ok {
		return v
	}
	v, _, _ := m.calls.Do(key, func() (any, error) {
		if v, ok := m.peek(key); ok { // another call has just ended
			return v, nil
		}
		old, _ := m.kept.Last(key)
		v, holds := ask(old)
		if holds > 0 {
			m.put(key, v, holds)
		}
		return v, nil
	})
	return v.(V)
}

// put keeps a value that was learnt otherwise.
func (m *memo[V]) put(key string, v V, holds time.Duration) { m.kept.PutFor(key, v, m.now(), holds) }

// peek gives what is known.
func (m *memo[V]) peek(key string) (v V, ok bool) { return m.kept.Get(key, m.now()) }
