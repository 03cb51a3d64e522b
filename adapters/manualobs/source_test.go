package manualobs_test

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"firn/adapters/manualobs"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
)

var noon = time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC)

// down is an archive that fails.
type down struct{ weather.Archive }

func (down) LatestObservation(context.Context, string, string) (weather.Observation, bool, error) {
	return weather.Observation{}, false, errors.New("down")
}

func save(t *testing.T, a weather.Archive, who, line string, c engine.Celsius, observed, now time.Time) {
	t.Helper()
	if _, err := a.SaveObservation(t.Context(), weather.TypedObservation(who, line, "XKLD", c, observed, now)); err != nil {
		t.Fatal(err)
	}
}

func TestSuite(t *testing.T) {
	t.Parallel()
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		a := storetest.NewMemory(func() time.Time { return noon })
		save(t, a, "Anna Berg", "obs XKLD -38 1130Z", -38, noon.Add(-30*time.Minute), noon)
		return weathertest.Fixture{Source: manualobs.New(a), Now: noon, Observed: "XKLD", Unknown: "XRUN", Broken: manualobs.New(down{a})}
	})
}

func TestLatestTyped(t *testing.T) {
	t.Parallel()
	a := storetest.NewMemory(func() time.Time { return noon })
	save(t, a, "Anna Berg", "obs XKLD -38 1130Z", -38, noon.Add(-30*time.Minute), noon)
	save(t, a, "Bo Lind", "obs XKLD -36 1100Z", -36, noon.Add(-time.Hour), noon.Add(time.Minute)) // typed later, observed before
	// A report is none of the typed ones, however new.
	report := weather.Observation{Ident: "XKLD", C: -20, At: noon, Source: "METAR (awc)", Raw: "METAR XKLD", Received: noon}
	if _, err := a.SaveObservation(t.Context(), report); err != nil {
		t.Fatal(err)
	}
	o, err := manualobs.New(a).Observation(t.Context(), "XKLD")
	if err != nil || o.C != -38 || !strings.HasPrefix(o.Raw, "Anna Berg: ") || !o.Received.Equal(noon) {
		t.Errorf("got %+v, %v", o, err)
	}
}
