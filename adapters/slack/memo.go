package slack

import (
	"sync"
	"time"
)

// memo keeps what was asked of Slack for a while, and no more of it than most
// entries. Askers of the same key wait for one call.
type memo[V any] struct {
	now  func() time.Time
	most int

	mu   sync.Mutex
	kept map[string]*kept[V]
}

type kept[V any] struct {
	once  sync.Mutex // held while it is asked for
	value V
	until time.Time
}

func newMemo[V any](now func() time.Time, most int) *memo[V] {
	return &memo[V]{now: now, most: most, kept: map[string]*kept[V]{}}
}

// get gives what is known, or asks. ask is handed what was known before, and
// says for how long its answer holds.
func (m *memo[V]) get(key string, ask func(old V) (V, time.Duration)) V {
	m.mu.Lock()
	k := m.kept[key]
	if k == nil {
		m.room()
		k = &kept[V]{}
		m.kept[key] = k
	}
	m.mu.Unlock()
	k.once.Lock()
	defer k.once.Unlock()
	if k.until.After(m.now()) {
		return k.value
	}
	v, d := ask(k.value)
	k.value, k.until = v, m.now().Add(d)
	return v
}

// put keeps a value that was learnt otherwise.
func (m *memo[V]) put(key string, v V, d time.Duration) {
	k := &kept[V]{value: v, until: m.now().Add(d)}
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.kept[key] == nil {
		m.room()
	}
	m.kept[key] = k
}

// peek gives what is known.
func (m *memo[V]) peek(key string) (v V, ok bool) {
	m.mu.Lock()
	k := m.kept[key]
	m.mu.Unlock()
	if k == nil {
		return v, false
	}
	k.once.Lock()
	defer k.once.Unlock()
	return k.value, k.until.After(m.now())
}

// room leaves out any entries when there are too many: what is left out is
// asked for again.
func (m *memo[V]) room() {
	for key := range m.kept {
		if len(m.kept) < m.most {
			return
		}
		delete(m.kept, key)
	}
}
