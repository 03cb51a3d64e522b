package weather_test

import (
	"errors"
	"slices"
	"testing"
	"time"

	"firn/bot/testkit/storetest"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
)

// TestNewerAndColderCounts: an hour-old temperature of the first source, such as one
// that was typed, hides no report that came after it and is colder.
func TestNewerAndColderCounts(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name          string
		c             engine.Celsius // of the second
		minutes, ours int            // since they were observed
		fails         error
		kept          bool // the first fails, and was kept
		want          engine.Celsius
		passed        []string
	}{
		{"newer and colder", -41, 5, 60, nil, false, -41, []string{"first"}},
		{"newer and warmer", -10, 5, 60, nil, false, -20, nil},
		{"newer and as cold", -20, 5, 60, nil, false, -20, nil},
		{"older and colder", -41, 61, 60, nil, false, -20, nil},
		{"of the same time", -41, 60, 60, nil, false, -20, nil},
		{"it fails", -41, 5, 60, errors.New("down"), false, -20, nil},
		{"beside what was kept of the first", -41, 5, 60, nil, true, -41, []string{"first"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			now := noon
			first, second := weathertest.NewMemory("first"), weathertest.NewMemory("second")
			chain := weather.NewChain(weather.Options{Sources: []weather.Source{first, second}, Archive: storetest.NewMemory(clock(&now)), Now: clock(&now)})
			first.Observe(observed("XKLD", -20, noon.Add(-time.Duration(tt.ours)*time.Minute)))
			if r, err := chain.Observation(t.Context(), "XKLD"); err != nil || r.C != -20 {
				t.Fatalf("the first alone: %+v, %v", r, err)
			}
			if tt.kept {
				first.Break(errors.New("down"))
			}
			second.Observe(observed("XKLD", tt.c, noon.Add(-time.Duration(tt.minutes)*time.Minute)))
			second.Break(tt.fails)
			r, err := chain.Observation(t.Context(), "xkld")
			var passed []string
			for _, p := range r.Passed {
				passed = append(passed, p.Source)
			}
			if err != nil || r.C != tt.want || !slices.Equal(passed, tt.passed) {
				t.Errorf("%v, passed %v, %v; want %v, %v", r.C, passed, err, tt.want, tt.passed)
			}
			if o, ok := chain.Known("XKLD"); !ok || o.C != tt.want {
				t.Errorf("known is %v, %v", o.C, ok)
			}
		})
	}
}
