package storetest

import (
	"context"
	"testing"
	"time"

	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// RunPast runs the suite of weather.Past over stores that are archives too.
func RunPast(t *testing.T, open func(t *testing.T) interface {
	weather.Archive
	weather.Past
}) {
	s := open(t)
	ctx := t.Context()
	for i, o := range []struct {
		ident, source string
		after         time.Duration
		c             engine.Celsius
	}{
		{"XKLD", "METAR", 2 * time.Hour, -30.5},
		{"XKLD", "METAR", 0, -28},
		{"XKLD", "typed", time.Hour, -31},
		{"XRUN", "METAR", time.Hour, -5},
		{"XKLD", "METAR", 3 * time.Hour, -20},
	} {
		if _, err := s.SaveObservation(ctx, weather.Observation{Ident: o.ident, Source: o.source, At: morning.Add(o.after), C: o.c, Received: at(i)}); err != nil {
			t.Fatal(err)
		}
	}
	got, err := s.Observed(ctx, "XKLD", morning, morning.Add(3*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	same(t, "observed", got, []coldwatch.Sample{{At: morning, C: -28}, {At: morning.Add(time.Hour), C: -31}, {At: morning.Add(2 * time.Hour), C: -30.5}})
	if got, err := s.Observed(ctx, "XSLT", morning, morning.Add(time.Hour)); err != nil || len(got) != 0 {
		t.Errorf("of a station that was never observed: %v, %v", got, err)
	}
	over, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := s.Observed(over, "XKLD", morning, morning.Add(time.Hour)); err == nil {
		t.Error("Observed with a context that has ended succeeded")
	}
}
