package chat

import (
	"fmt"
	"testing"
	"time"
)

// TestRemembered: the memory is bounded in number and time.
func TestRemembered(t *testing.T) {
	now := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	m := remember[int](time.Hour, 3)
	use := func(key string) (fresh bool) {
		m.with(key, now, func() int { return 7 }, func(v *int, isFresh bool) {
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
		if fresh := use(c.key); fresh != c.fresh || m.len() != c.n {
			t.Errorf("step %d: %s is fresh %v with %d in all, want %v with %d", i, c.key, fresh, m.len(), c.fresh, c.n)
		}
	}
	for i := range 1000 {
		use(fmt.Sprint(i))
	}
	if m.len() != 3 || len(m.byKey) != 3 {
		t.Errorf("after a thousand keys it holds %d and %d, want 3", m.len(), len(m.byKey))
	}
}
