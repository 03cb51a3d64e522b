package watch_test

import (
	"bytes"
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/bot/config"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
)

// aged is a store that was made at a time.
type aged struct {
	*storetest.Memory
	born time.Time
}

func (a aged) Born(context.Context) (time.Time, error) { return a.born, nil }

// TestNewStore: nobody has missed what was due before there was a store, and
// what was missed is logged by one start.
func TestNewStore(t *testing.T) {
	for _, c := range []struct {
		name         string
		born         time.Time
		late, missed bool
	}{
		{"made five hours after the morning", at(300), false, true},
		{"made at that morning's hour, and firn was down", at(-1), true, true},
		{"made a month before", six.AddDate(0, -1, 0), true, true},
		{"its clock is ahead of this one", at(400), true, true},
		{"made after the window", at(12*60 + 30), true, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newStage(t)
			s.says = curve(at(-30), -31)
			var log bytes.Buffer
			tick := func(holder string, now time.Time) watch.Tally {
				s.clock.Set(now)
				s.set.Holder = holder
				w := watch.New(slog.New(slog.NewTextHandler(&log, nil)), s.clock.Now, s.set, []config.Station{s.station},
					forecasts(func(string) ([]weather.Forecast, error) { return s.says, nil }), aged{s.store, c.born})
				got := w.Tick(t.Context())
				if got.Failed > 0 {
					t.Errorf("a tick failed: %+v", got)
				}
				return got
			}
			tick("a", at(301))
			if tally := tick("a", at(302)); tally.Asking != 1 || !tally.Oldest.Equal(at(301)) {
				t.Errorf("%+v: nobody has acknowledged it", tally)
			}
			posts := s.posts()
			if len(posts) != 1 || strings.Contains(strings.Join(posts[0].Body.Facts, " "), "Late: this was due") != c.late {
				t.Errorf("posts %+v, want one, late: %v", posts, c.late)
			}
			log.Reset()
			s.store = storetest.NewMemory(s.clock.Now) // in which nobody has said anything
			for _, holder := range []string{"b", "c", "d"} {
				tick(holder, at(13*60))
			}
			want := 0
			if c.missed {
				want = 1
			}
			if n := strings.Count(log.String(), "went by unseen\" base=XKLD day=2026-01-15"); n != want {
				t.Errorf("the log tells %d times that the window went by unseen, want %d\n%s", n, want, &log)
			}
		})
	}
}
