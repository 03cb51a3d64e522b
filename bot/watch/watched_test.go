package watch_test

import (
	"log/slog"
	"testing"
	"time"

	"firn/bot/config"
	"firn/bot/watch"
)

// TestWatchOthers: what is watched may change while it runs.
func TestWatchOthers(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 1, 15, 12, 0, 0, 0, time.UTC)
	base := func(ident string, hour int) config.Station {
		return config.Station{Ident: ident, Zone: time.UTC, Watch: &config.Watch{At: config.TimeOfDay{Hour: hour}, Days: config.Daily, Window: time.Hour}}
	}
	w := watch.New(slog.New(slog.DiscardHandler), func() time.Time { return at }, watch.Settings{}, []config.Station{base("XKLD", 6), {Ident: "XMBL"}}, nil, nil)
	next := func() (text string) {
		for _, n := range w.Next(at) {
			text += n.Ident + n.At.Format(" 15:04 ")
		}
		return text
	}
	if got := next(); got != "XKLD 06:00 " {
		t.Errorf("at first: %q", got)
	}
	w.Watch([]config.Station{base("XRUN", 5), base("XKLD", 7)})
	if got := next(); got != "XKLD 07:00 XRUN 05:00 " {
		t.Errorf("then: %q", got)
	}
	w.Watch(nil)
	if got := next(); got != "" {
		t.Errorf("and nothing: %q", got)
	}
}
