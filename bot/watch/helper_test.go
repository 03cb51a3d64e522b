package watch_test

import (
	"context"
	"log/slog"
	"testing"
	"time"

	"firn/bot/airports"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/testclock"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/ruleset"
)

// forecasts is a Forecaster.
type forecasts func(ident string) ([]weather.Forecast, error)

func (f forecasts) Forecasts(_ context.Context, ident string) ([]weather.Forecast, error) {
	return f(ident)
}

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	l, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func rules(t testing.TB) *ruleset.Set {
	t.Helper()
	sets, err := ruleset.Builtin()
	if err != nil {
		t.Fatal(err)
	}
	return sets[0]
}

// six is 06:00 on Thursday 15 January in Edmonton.
var six = time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)

func at(minutes int) time.Time { return six.Add(time.Duration(minutes) * time.Minute) }

func kaldmoor(t testing.TB) config.Station {
	restriction := engine.Celsius(-25)
	return config.Station{
		Ident: "XKLD", Name: "Kaldmoor", Elevation: 4802, SourceElevation: 4802, Restriction: &restriction,
		Segments: []config.Segment{config.Initial, config.Intermediate}, Mountainous: airports.Yes, Zone: zone(t, "America/Edmonton"),
		Watch: &config.Watch{
			At: config.TimeOfDay{Hour: 6}, Days: config.Daily, Window: 12 * time.Hour, Margin: 3,
			Channels: []config.Address{{Surface: config.OnPage}},
		},
	}
}

// curve has a value an hour from 06:00 on; the last one goes on.
func curve(issued time.Time, values ...engine.Celsius) []weather.Forecast {
	f := weather.Forecast{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "hourly forecast", Issued: issued, ValidFrom: six, ValidTo: six.Add(24 * time.Hour)}}
	for i := range 24 {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: six.Add(time.Duration(i) * time.Hour), C: values[min(i, len(values)-1)]})
	}
	return []weather.Forecast{f}
}

// noFigures is a forecast without a temperature, as many are.
func noFigures(issued time.Time) []weather.Forecast {
	all := curve(issued, 0)
	all[0].Hourly = nil
	return all
}

// stage is one base, its store and what its source says.
type stage struct {
	*testing.T
	clock   *testclock.Clock
	store   *storetest.Memory
	station config.Station
	set     watch.Settings
	says    []weather.Forecast
	err     error
	asked   int
	watch   *watch.Watch
}

func newStage(t *testing.T) *stage {
	s := &stage{T: t, clock: testclock.New(six.Add(-time.Hour)), station: kaldmoor(t)}
	s.store = storetest.NewMemory(s.clock.Now)
	s.set = watch.Settings{
		Alerts: aPostABase(),
		Duty:   []config.Address{{Surface: config.OnSlack, ID: "U01"}, {Surface: config.OnDiscord, ID: "42"}},
		Rules:  rules(t), Holder: "a",
	}
	s.says = curve(at(-30), -10)
	s.restart()
	return s
}

// restart makes a new Watch on the same store.
func (s *stage) restart() {
	s.watch = watch.New(slog.New(slog.DiscardHandler), s.clock.Now, s.set, []config.Station{s.station},
		forecasts(func(string) ([]weather.Forecast, error) {
			s.asked++
			return s.says, s.err
		}), s.store)
}

// run ticks every minute from one minute after 06:00 to another, both
// included.
func (s *stage) run(from, to int) {
	s.Helper()
	for m := from; m <= to; m++ {
		s.clock.Set(at(m))
		if got := s.watch.Tick(s.Context()); got.Failed > 0 {
			s.Fatalf("tick at %v failed", at(m))
		}
	}
}

func (s *stage) day(day string) watch.Day {
	s.Helper()
	d, err := s.store.Day(s.Context(), "XKLD", day)
	if err != nil {
		s.Fatal(err)
	}
	return d
}

// posts takes what is in the outbox. A post waits for the one before it in
// its channel, so it claims until nothing is left.
func (s *stage) posts() []outbox.Claim {
	s.Helper()
	var all []outbox.Claim
	for {
		claims, err := s.store.Claim(s.Context(), s.clock.Now().Add(48*time.Hour), time.Minute, 1000)
		if err != nil {
			s.Fatal(err)
		}
		if len(claims) == 0 {
			return all
		}
		for _, c := range claims {
			if held, err := s.store.Done(s.Context(), c, "ref", s.clock.Now()); !held || err != nil {
				s.Fatal(held, err)
			}
		}
		all = append(all, claims...)
	}
}

// aPostABase are alerts without digests, which digest_test.go has.
func aPostABase() config.Alerts {
	a := config.DefaultAlerts
	a.Digest = false
	return a
}
