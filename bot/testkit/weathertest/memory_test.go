package weathertest_test

import (
	"errors"
	"testing"
	"time"

	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
)

func TestMemory(t *testing.T) {
	now := time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC)
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		m := weathertest.NewMemory("memory")
		m.Observe(weather.Observation{Ident: "XKLD", C: -38, At: now, Raw: "METAR XKLD", Received: now})
		f := weather.Forecast{Ident: "XKLD", Raw: "TAF XKLD", Received: now}
		f.Issued, f.ValidFrom, f.ValidTo = now, now, now.Add(24*time.Hour)
		m.Expect(f)
		failing := weathertest.NewMemory("memory")
		failing.Break(errors.New("broken"))
		return weathertest.Fixture{Source: m, Now: now, Observed: "XKLD", Foreseen: "XKLD", Unknown: "XRUN", Broken: failing}
	})
}
