// Package bounded keeps a bounded number of values, each for a while: what is
// remembered of events, people, threads and channels. What was used longest ago
// goes first. It has no clock of its own.
package bounded

import (
	"sync"
	"time"

	"github.com/hashicorp/golang-lru/v2/simplelru"
)

// Map is such a memory. Safe for use by several goroutines.
type Map[K comparable, V any] struct {
	life time.Duration

	mu   sync.Mutex
	kept *simplelru.LRU[K, *entry[V]]
}

type entry[V any] struct {
	value V
	until time.Time // zero: for ever
}

func (e *entry[V]) over(now time.Time) bool { return !e.until.IsZero() && e.until.Before(now) }

// New makes a memory of at most most entries, which must be at least one, each
// of which is kept for life after its last With or Put. A life of
// zero is for ever.
func New[K comparable, V any](most int, life time.Duration) *Map[K, V] {
	kept, err := simplelru.NewLRU[K, *entry[V]](most, nil)
	if err != nil {
		panic("bounded: " + err.Error()) // a bound below one is a slip of the program
	}
	return &Map[K, V]{life: life, kept: kept}
}

// With changes the entry of a key in place, which begins as made; fresh says
// that there was none. No other use of the memory goes on meanwhile.
func (m *Map[K, V]) With(key K, now time.Time, made func() V, change func(v *V, fresh bool)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.clear(now)
	e, ok := m.kept.Get(key)
	if ok && e.over(now) {
		ok = false
	}
	if !ok {
		e = &entry[V]{value: made()}
		m.kept.Add(key, e)
	}
	e.until = m.end(now, m.life)
	change(&e.value, !ok)
}

// Get is the value of a key.
func (m *Map[K, V]) Get(key K, now time.Time) (v V, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.kept.Get(key)
	if !ok || e.over(now) {
		return v, false
	}
	return e.value, true
}

// Last is the value of a key though its life may be over.
func (m *Map[K, V]) Last(key K) (v V, ok bool) {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.kept.Peek(key)
	if !ok {
		return v, false
	}
	return e.value, true
}

// Put keeps a value.
func (m *Map[K, V]) Put(key K, v V, now time.Time) { m.PutFor(key, v, now, m.life) }

// PutFor keeps a value for another life than the others have.
func (m *Map[K, V]) PutFor(key K, v V, now time.Time, life time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.kept.Add(key, &entry[V]{value: v, until: m.end(now, life)})
}

// Change changes the value of a key in place, though its life may be over, and
// says whether there is one. Neither its life nor its turn to go changes.
func (m *Map[K, V]) Change(key K, change func(v *V)) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	e, ok := m.kept.Peek(key)
	if ok {
		change(&e.value)
	}
	return ok
}

// Drop forgets a key.
func (m *Map[K, V]) Drop(key K) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.kept.Remove(key)
}

// Keys are the keys, that which was used longest ago first.
func (m *Map[K, V]) Keys() []K {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.kept.Keys()
}

// Len is how many values are kept, some of which may be over.
func (m *Map[K, V]) Len() int {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.kept.Len()
}

func (m *Map[K, V]) end(now time.Time, life time.Duration) time.Time {
	if life == 0 {
		return time.Time{}
	}
	return now.Add(life)
}

// clear lets go what is over at the end that was used longest ago; mu is held.
func (m *Map[K, V]) clear(now time.Time) {
	for {
		_, e, ok := m.kept.GetOldest()
		if !ok || !e.over(now) {
			return
		}
		m.kept.RemoveOldest()
	}
}
