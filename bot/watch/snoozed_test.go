package watch_test

import (
	"context"
	"testing"
	"time"
)

// TestSnoozeIsSeen: while nobody is reminded of a base, its state says until
// when, and whoever shows its alerts is told; when that is over nothing says it.
func TestSnoozeIsSeen(t *testing.T) {
	s := newStage(t)
	var told []string
	s.set.Snoozed = func(_ context.Context, keys, text string) { told = append(told, keys+" "+text) }
	s.says = curve(at(-30), -30)
	s.restart()
	until := func(m int) time.Time {
		t.Helper()
		all, err := s.watch.Status(t.Context(), at(m))
		if err != nil || len(all) != 1 {
			t.Fatalf("status: %+v, %v", all, err)
		}
		return all[0].SnoozedUntil
	}
	s.run(0, 1)
	if u := until(1); !u.IsZero() {
		t.Errorf("snoozed until %v before anybody asked for it", u)
	}
	s.snooze(2*time.Hour, true)
	if u := until(1); !u.Equal(at(121)) {
		t.Errorf("snoozed until %v, want %v", u, at(121))
	}
	if want := "alert/XKLD/2026-01-15/ No reminders until 08:01 local (15:01Z), by R. Holm."; len(told) != 1 || told[0] != want {
		t.Errorf("told %q, want %q", told, want)
	}
	if u := until(121); !u.IsZero() {
		t.Errorf("snoozed until %v when that is over", u)
	}
	s.says = curve(at(-30), -5)
	if u := until(2); !u.IsZero() {
		t.Errorf("a clear base is snoozed until %v", u)
	}
}
