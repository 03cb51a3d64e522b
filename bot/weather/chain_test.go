package weather_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot/testkit/storetest"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

func clock(t *time.Time) func() time.Time { return func() time.Time { return *t } }

func observed(ident string, c engine.Celsius, when time.Time) weather.Observation {
	return weather.Observation{Ident: ident, C: c, At: when, Raw: "METAR " + ident, Received: when}
}

func foreseen(ident string, low engine.Celsius, issued time.Time) weather.Forecast {
	f := weather.Forecast{Ident: ident, Raw: "TAF " + ident, Received: issued}
	f.Issued, f.ValidFrom, f.ValidTo = issued, issued, issued.Add(24*time.Hour)
	f.Minimums = []coldwatch.Sample{{At: issued.Add(6 * time.Hour), C: low}}
	return f
}

func TestChainObservation(t *testing.T) {
	t.Parallel()
	now := noon
	first, second := weathertest.NewMemory("first"), weathertest.NewMemory("second")
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{first, second}, Now: clock(&now)})
	get := func(what string, want engine.Celsius, source string, passed int) {
		t.Helper()
		r, err := chain.Observation(t.Context(), "xkld")
		if err != nil || r.C != want || r.Source != source || len(r.Passed) != passed {
			t.Errorf("%s: got %+v, %v", what, r, err)
		}
	}
	_, err := chain.Observation(t.Context(), "XKLD")
	if !errors.Is(err, weather.ErrNone) || errors.Is(err, weather.ErrStale) {
		t.Errorf("nobody has any: got %v, want ErrNone", err)
	}
	second.Observe(observed("XKLD", -20, noon.Add(-10*time.Minute)))
	get("only the second", -20, "METAR (second)", 1)
	if o, ok := chain.Known("xkld"); !ok || o.C != -20 {
		t.Errorf("known is %+v, %v; want what was last given", o, ok)
	}
	first.Observe(observed("XKLD", -25, noon.Add(-75*time.Minute)))
	if o, _ := chain.Known("XKLD"); o.C != -20 {
		t.Errorf("known is %+v before anybody asked for it", o)
	}
	get("the first, at the limit", -25, "METAR (first)", 0)
	now = noon.Add(time.Minute)
	get("the first is stale", -20, "METAR (second)", 1)
	now = noon.Add(65 * time.Minute)
	get("the second at the limit", -20, "METAR (second)", 1)
	now = noon.Add(66 * time.Minute)
	_, err = chain.Observation(t.Context(), "XKLD")
	if !errors.Is(err, weather.ErrStale) || errors.Is(err, weather.ErrNone) || !strings.Contains(err.Error(), "76 minutes ago") {
		t.Errorf("both stale: got %v, want ErrStale", err)
	}
	for at, want := range map[time.Duration]string{3 * time.Hour: "3 hours ago", 30*24*time.Hour + time.Hour: "30 days ago"} {
		now = noon.Add(at)
		if _, err = chain.Observation(t.Context(), "XKLD"); !strings.Contains(err.Error(), want) {
			t.Errorf("after %v: %v, want %q", at, err, want)
		}
	}
	if o, ok := chain.Known("XKLD"); ok {
		t.Errorf("%+v is known though it is stale", o)
	}
	now = noon
	first.Break(errors.New("down"))
	get("the first fails", -20, "METAR (second)", 1)
	second.Forget("XKLD")
	if _, err = chain.Observation(t.Context(), "XKLD"); errors.Is(err, weather.ErrNone) || !strings.Contains(err.Error(), "down") {
		t.Errorf("one fails, one has none: got %v, want no ErrNone", err)
	}
	h := chain.Health()
	if len(h) != 2 || h[0].Err == nil || !h[0].Failed.Equal(noon) || h[1].Err != nil || !h[1].Worked.Equal(noon) {
		t.Errorf("health: %+v", h)
	}
	// An observation ahead of the clock is not told as fresh.
	second.Observe(observed("XKLD", -20, noon.Add(10*time.Minute)))
	if r, err := chain.Observation(t.Context(), "XKLD"); err != nil || r.Age != -10*time.Minute {
		t.Errorf("ahead of the clock: got %+v, %v", r, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := chain.Observation(ctx, "XKLD"); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
	if _, err := chain.Outlook(ctx, "XKLD"); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: got %v", err)
	}
}

func TestChainKeeps(t *testing.T) {
	t.Parallel()
	now := noon
	source, archive := weathertest.NewMemory("one"), storetest.NewMemory(clock(&now))
	options := weather.Options{Sources: []weather.Source{source}, Archive: archive, Now: clock(&now)}
	chain := weather.NewChain(options)
	source.Observe(observed("XKLD", -38, noon))
	source.Expect(foreseen("XKLD", -31, noon))
	for range 2 {
		if _, err := chain.Observation(t.Context(), "XKLD"); err != nil {
			t.Fatal(err)
		}
		if fs, err := chain.Forecasts(t.Context(), "XKLD"); err != nil || len(fs) != 1 {
			t.Fatal(fs, err)
		}
	}
	if o, ok, err := archive.LatestObservation(t.Context(), "XKLD", "METAR (one)"); err != nil || !ok || o.C != -38 {
		t.Errorf("kept %+v, %v, %v", o, ok, err)
	}
	// The source fails, after a restart too.
	source.Break(errors.New("down"))
	now = noon.Add(time.Hour)
	for _, chain := range []*weather.Chain{chain, weather.NewChain(options)} {
		if r, err := chain.Observation(t.Context(), "XKLD"); err != nil || !r.Kept || r.C != -38 || r.Age != time.Hour {
			t.Errorf("while it fails: got %+v, %v", r, err)
		}
		if out, err := chain.Outlook(t.Context(), "XKLD"); err != nil || len(out.Forecasts) != 1 || len(out.Kept) != 1 || len(out.Passed) != 1 {
			t.Errorf("while it fails: got %+v, %v", out, err)
		}
	}
	// A special report without a temperature makes what was observed no older.
	source.Break(weather.ErrNoTemperature)
	for _, chain := range []*weather.Chain{chain, weather.NewChain(options)} {
		for range 2 {
			if r, err := chain.Observation(t.Context(), "XKLD"); err != nil || r.Kept || r.C != -38 || r.Age != time.Hour {
				t.Errorf("no temperature in the newest: got %+v, %v", r, err)
			}
		}
	}
	source.Break(errors.New("down"))
	now = noon.Add(25 * time.Hour)
	if _, err := chain.Forecasts(t.Context(), "XKLD"); err == nil {
		t.Error("a kept forecast that is over was given")
	}
	if _, err := chain.Observation(t.Context(), "XKLD"); !errors.Is(err, weather.ErrStale) {
		t.Errorf("kept too long: got %v, want ErrStale", err)
	}
	// What was cancelled does not come back when the source fails.
	now = noon.Add(2 * time.Hour)
	source.Break(nil)
	source.Forget("XKLD")
	if _, err := chain.Forecasts(t.Context(), "XKLD"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("cancelled: got %v, want ErrNone", err)
	}
	source.Break(errors.New("down"))
	if fs, err := chain.Forecasts(t.Context(), "XKLD"); err == nil {
		t.Errorf("cancelled, then down: got %+v", fs)
	}
}

// A source that fails is told beside what the others have; one that has
// nothing is not.
func TestChainTellsWhoFailed(t *testing.T) {
	t.Parallel()
	now := noon
	first, second := weathertest.NewMemory("first"), weathertest.NewMemory("second")
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{first, second}, Now: clock(&now)})
	first.Expect(foreseen("XKLD", -31, noon))
	if fs, err := chain.Forecasts(t.Context(), "XKLD"); err != nil || len(fs) != 1 {
		t.Errorf("the second has none: %d forecasts, %v", len(fs), err)
	}
	second.Break(errors.New("down"))
	fs, err := chain.Forecasts(t.Context(), "XKLD")
	if len(fs) != 1 || err == nil || errors.Is(err, weather.ErrNone) || !strings.Contains(err.Error(), "second: weather second: XKLD: down") {
		t.Errorf("the second fails: %d forecasts, %v", len(fs), err)
	}
}

// failingArchive keeps nothing.
type failingArchive struct{}

var errArchive = errors.New("disk full")

func (failingArchive) SaveObservation(context.Context, weather.Observation) (bool, error) {
	return false, errArchive
}
func (failingArchive) SaveForecast(context.Context, weather.Forecast) (bool, error) {
	return false, errArchive
}
func (failingArchive) LatestObservation(context.Context, string, string) (weather.Observation, bool, error) {
	return weather.Observation{}, false, errArchive
}
func (failingArchive) LatestForecast(context.Context, string, string) (weather.Forecast, bool, error) {
	return weather.Forecast{}, false, errArchive
}

func TestChainOutlivesItsArchive(t *testing.T) {
	t.Parallel()
	now := noon
	source := weathertest.NewMemory("one")
	source.Observe(observed("XKLD", -38, noon))
	source.Expect(foreseen("XKLD", -31, noon))
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{source}, Archive: failingArchive{}, Now: clock(&now)})
	if r, err := chain.Observation(t.Context(), "XKLD"); err != nil || r.C != -38 {
		t.Errorf("got %+v, %v", r, err)
	}
	if fs, err := chain.Forecasts(t.Context(), "XKLD"); err != nil || len(fs) != 1 {
		t.Errorf("got %+v, %v", fs, err)
	}
	source.Break(errors.New("down"))
	if _, err := chain.Observation(t.Context(), "XKLD"); err == nil {
		t.Error("an observation out of nowhere")
	}
}

// slow never answers for one station.
type slow struct {
	*weathertest.Memory
	ident string
}

func (s slow) Observation(ctx context.Context, ident string) (weather.Observation, error) {
	if ident == s.ident {
		<-ctx.Done()
		return weather.Observation{}, ctx.Err()
	}
	return s.Memory.Observation(ctx, ident)
}

func TestSlowStationSpoilsNoOther(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begun := time.Now()
		m := weathertest.NewMemory("slow")
		var idents []string
		for i := range 100 {
			ident := fmt.Sprintf("X%03d", i)
			idents = append(idents, ident)
			m.Observe(observed(ident, -20, begun))
		}
		second := weathertest.NewMemory("second")
		second.Observe(observed("X007", -30, begun))
		chain := weather.NewChain(weather.Options{Sources: []weather.Source{slow{m, "X007"}, second}, Now: time.Now, Limit: 10 * time.Second})
		var got, colder atomic.Int32
		err := weather.Each(t.Context(), idents, 4, func(ctx context.Context, ident string) {
			r, err := chain.Observation(ctx, ident)
			if err != nil {
				t.Errorf("%s: %v", ident, err)
				return
			}
			got.Add(1)
			if r.C == -30 {
				colder.Add(1)
				if len(r.Passed) != 1 || !errors.Is(r.Passed[0].Err, context.DeadlineExceeded) {
					t.Errorf("passed: %+v", r.Passed)
				}
			}
		})
		if err != nil || got.Load() != 100 || colder.Load() != 1 {
			t.Errorf("got %d stations, %d of the second source, %v", got.Load(), colder.Load(), err)
		}
		if d := time.Since(begun); d != 10*time.Second {
			t.Errorf("took %v, want the one limit of 10 s", d)
		}
	})
}

func TestEach(t *testing.T) {
	t.Parallel()
	synctest.Test(t, func(t *testing.T) {
		var now, most, calls atomic.Int32
		idents := make([]string, 50)
		err := weather.Each(t.Context(), idents, 5, func(context.Context, string) {
			calls.Add(1)
			n := now.Add(1)
			for m := most.Load(); n > m && !most.CompareAndSwap(m, n); m = most.Load() {
			}
			<-time.After(time.Second) // fake: lets the others begin
			now.Add(-1)
		})
		if err != nil || calls.Load() != 50 || most.Load() != 5 {
			t.Errorf("%d calls, %d at a time, %v; want 50, 5", calls.Load(), most.Load(), err)
		}
		ctx, cancel := context.WithCancel(t.Context())
		calls.Store(0)
		err = weather.Each(ctx, idents, 1, func(context.Context, string) {
			if calls.Add(1) == 3 {
				cancel()
			}
		})
		if !errors.Is(err, context.Canceled) || calls.Load() > 4 {
			t.Errorf("cancelled in the third: %d calls, %v", calls.Load(), err)
		}
		if err := weather.Each(t.Context(), nil, 0, nil); err != nil {
			t.Errorf("nothing to do: %v", err)
		}
	})
}

// TestDisagreement: what a chain gives, judged: a TAF without temperatures is
// passed by, and of two sources that disagree the colder is used and told.
func TestDisagreement(t *testing.T) {
	t.Parallel()
	now := noon
	civil, hourly, third := weathertest.NewMemory("awc"), weathertest.NewMemory("nws"), weathertest.NewMemory("folder")
	f := foreseen("XKLD", 0, noon)
	f.Minimums = nil
	civil.Expect(f)
	f = foreseen("XKLD", -20, noon)
	f.Source = "hourly forecast"
	hourly.Expect(f)
	third.Expect(foreseen("XKLD", -29, noon))
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{civil, hourly, third}, Now: clock(&now)})
	fs, err := chain.Forecasts(t.Context(), "XKLD")
	if err != nil || len(fs) != 3 {
		t.Fatal(fs, err)
	}
	w := coldwatch.Window{From: noon.Add(time.Hour), To: noon.Add(13 * time.Hour)}
	line := coldwatch.Line{Restriction: -25, Margin: 3}
	var js []coldwatch.Judgement
	for i := range fs {
		js = append(js, coldwatch.Judge(w, line, &fs[i].Forecast))
	}
	j := coldwatch.Choose(w, 5, js...)
	if j.State != coldwatch.Below || j.Low != -29 || j.Source != "TAF (folder)" || !strings.Contains(j.Note, "hourly forecast") {
		t.Errorf("got %+v", j)
	}
}

// TestArrived: a report first comes once, whatever source has it again and
// whenever a process begins.
func TestArrived(t *testing.T) {
	t.Parallel()
	now := noon
	first, second := weathertest.NewMemory("first"), weathertest.NewMemory("second")
	archive := storetest.NewMemory(clock(&now))
	start := func() *weather.Chain {
		return weather.NewChain(weather.Options{Sources: []weather.Source{first, second}, Archive: archive, Now: clock(&now)})
	}
	chain := start()
	report := func(m *weathertest.Memory, when time.Time) {
		o := observed("XKLD", -20, when)
		o.Received = now
		m.Observe(o)
	}
	arrived := func(what string, c *weather.Chain, want time.Time) {
		t.Helper()
		if r, err := c.Observation(t.Context(), "XKLD"); err != nil || !r.Arrived.Equal(want) {
			t.Errorf("%s arrived %v, %v; want %v", what, r.Arrived, err, want)
		}
	}
	report(first, noon.Add(-10*time.Minute))
	arrived("it", chain, noon)
	now = noon.Add(5 * time.Minute)
	report(first, noon.Add(-10*time.Minute)) // asked for again
	arrived("it, asked for again,", chain, noon)
	arrived("it, in another process,", start(), noon)
	first.Forget("XKLD")
	report(second, noon.Add(-12*time.Minute))
	arrived("what is no later, from elsewhere,", chain, noon)
	report(second, noon.Add(2*time.Minute))
	arrived("the next one", chain, now)
}
