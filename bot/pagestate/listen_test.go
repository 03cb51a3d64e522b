package pagestate

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"
)

// flaky is a feed that is lost again and again.
type flaky struct {
	lost  int // so often it is not there at all
	began []time.Time
}

func (f *flaky) Follow(ctx context.Context, tell func(Change)) error {
	f.began = append(f.began, time.Now())
	if f.lost > 0 {
		f.lost--
		return errors.New("nobody answers")
	}
	tell(Change{Kind: All})
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(time.Minute):
		return errors.New("the connection was cut")
	}
}

// TestListen: a feed that is lost is followed again, soon at first, and each
// time everything is told.
func TestListen(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var log strings.Builder
		f := &flaky{lost: 7}
		began := time.Now()
		ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
		defer cancel()
		told := 0
		Listen(ctx, slog.New(slog.NewTextHandler(&log, nil)), f, func(c Change) {
			if c.Kind == All {
				told++
			}
		})
		var pauses []time.Duration
		for _, at := range f.began[:8] {
			pauses = append(pauses, at.Sub(began))
			began = at
		}
		want := []time.Duration{0, firstPause, 2 * firstPause, 4 * firstPause, 8 * firstPause, longestPause, longestPause, longestPause}
		if !slices.Equal(pauses, want) {
			t.Errorf("it tried again after %v, want %v", pauses, want)
		}
		if again := f.began[9].Sub(f.began[8]); again != time.Minute+firstPause {
			t.Errorf("after a connection was cut it tried again after %v", again-time.Minute)
		}
		if told != len(f.began)-7 || !strings.Contains(log.String(), "the connection was cut") {
			t.Errorf("everything was told %d times of %d:\n%s", told, len(f.began), log.String())
		}
	})
}

func TestChange(t *testing.T) {
	for _, c := range []Change{{Place, "0123456789abcdef"}, {Place, Thread("0123456789abcdef")}, {Record, "KALOMI-RUTA"}, {Watch, "XKLD"}, {Record, ""}, {All, ""}} {
		if got := Parse(c.String()); got != c {
			t.Errorf("%q is read as %+v", c, got)
		}
	}
	for _, odd := range []string{"", "weather XKLD", "all x"} {
		if got := Parse(odd); got != (Change{Kind: All}) {
			t.Errorf("%q is read as %+v, want any change", odd, got)
		}
	}
}
