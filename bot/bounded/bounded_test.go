package bounded

import (
	"fmt"
	"testing"
	"time"
)

// TestBounds: the memory is bounded in number and time.
func TestBounds(t *testing.T) {
	now := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	m := New[string, int](3, time.Hour)
	use := func(key string) (fresh bool) {
		m.With(key, now, func() int { return 7 }, func(v *int, isFresh bool) {
			if *v < 7 {
				t.Errorf("%s has %d", key, *v)
			}
			*v++
			fresh = isFresh
		})
		return fresh
	}
	for i, c := range []struct {
		key   string
		pass  time.Duration
		fresh bool
		n     int
	}{
		{"a", 0, true, 1}, {"b", 0, true, 2}, {"a", 0, false, 2}, {"c", 0, true, 3},
		{"d", 0, true, 3}, // b was used longest ago
		{"a", 0, false, 3}, {"b", 0, true, 3},
		{"a", 59 * time.Minute, false, 3},
		{"a", 2 * time.Minute, false, 1}, // the others are over an hour old
		{"a", 61 * time.Minute, true, 1},
	} {
		now = now.Add(c.pass)
		if fresh := use(c.key); fresh != c.fresh || m.Len() != c.n {
			t.Errorf("step %d: %s is fresh %v with %d in all, want %v with %d", i, c.key, fresh, m.Len(), c.fresh, c.n)
		}
	}
	for i := range 1000 {
		use(fmt.Sprint(i))
	}
	if m.Len() != 3 {
		t.Errorf("after a thousand keys it holds %d, want 3", m.Len())
	}
}

// TestLives: a value has the life that it was given, and can be had as the last
// one known after it.
func TestLives(t *testing.T) {
	now := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	m, ever := New[string, int](3, time.Hour), New[string, int](3, 0)
	m.Put("a", 1, now)
	m.PutFor("b", 2, now, time.Minute)
	ever.Put("c", 3, now)
	for _, c := range []struct {
		after time.Duration
		a, b  bool
	}{{0, true, true}, {2 * time.Minute, true, false}, {61 * time.Minute, false, false}} {
		_, a := m.Get("a", now.Add(c.after))
		_, b := m.Get("b", now.Add(c.after))
		if v, ok := ever.Get("c", now.Add(c.after)); a != c.a || b != c.b || !ok || v != 3 {
			t.Errorf("after %v: a %v, b %v, for ever %v %v; want %v, %v, 3 true", c.after, a, b, v, ok, c.a, c.b)
		}
	}
	if v, ok := m.Last("b"); !ok || v != 2 {
		t.Errorf("the last value known is %v, %v, want 2", v, ok)
	}
	m.Drop("b")
	if _, ok := m.Last("b"); ok {
		t.Error("what was dropped is still known")
	}
}
