package weathertest

import (
	"context"
	"errors"
	"reflect"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/weather"
)

// Fixture is a source with what the suite must know of it.
type Fixture struct {
	Source weather.Source
	Now    time.Time // of the source's clock

	Observed string // a station with an observation; empty: it never has one
	Foreseen string // a station with a forecast; empty: it never has one
	Unknown  string // a station that it has nothing of
	RawHas   string // what the raw text of both holds; empty: their ident

	// Broken is the same kind of source with something that fails behind it;
	// nil when nothing can fail. Secrets are what no error may hold.
	Broken  weather.Source
	Secrets []string
}

// Run holds a source to what weather.Source promises. open makes a new one
// for each test.
func Run(t *testing.T, open func(t *testing.T) Fixture) {
	for _, c := range []struct {
		name string
		test func(t *testing.T, f Fixture)
	}{
		{"observation is whole", wholeObservation},
		{"forecast is whole", wholeForecast},
		{"idents in any case", anyCase},
		{"the same again", again},
		{"nothing for an unknown station", unknown},
		{"nothing for what is no ident", noIdent},
		{"cancelled context", cancelled},
		{"several at once", several},
		{"failure is no absence and tells no secret", broken},
		{"has a name", named},
	} {
		t.Run(c.name, func(t *testing.T) { c.test(t, open(t)) })
	}
}

func inUTC(t *testing.T, what string, all ...time.Time) {
	t.Helper()
	for _, at := range all {
		if at.IsZero() || at.Location() != time.UTC {
			t.Errorf("%s: %v is not in UTC", what, at)
		}
	}
}

func (f Fixture) raw(ident string) string {
	if f.RawHas != "" {
		return f.RawHas
	}
	return ident
}

func wholeObservation(t *testing.T, f Fixture) {
	if f.Observed == "" {
		return
	}
	o, err := f.Source.Observation(t.Context(), f.Observed)
	if err != nil {
		t.Fatal(err)
	}
	if o.Ident != f.Observed || o.Source == "" || !strings.Contains(o.Raw, f.raw(o.Ident)) {
		t.Errorf("got %+v", o)
	}
	if o.At.After(f.Now.Add(time.Hour)) || o.C < -90 || o.C > 60 {
		t.Errorf("observed %v, %v °C; it is %v", o.At, o.C, f.Now)
	}
	inUTC(t, "observation", o.At, o.Received)
	if l, ok := f.Source.(weather.Labelled); ok {
		if label, _ := l.Labels(); o.Source != label {
			t.Errorf("source %q, label %q", o.Source, label)
		}
	}
}

func wholeForecast(t *testing.T, f Fixture) {
	if f.Foreseen == "" {
		return
	}
	got, err := f.Source.Forecast(t.Context(), f.Foreseen)
	if err != nil {
		t.Fatal(err)
	}
	if got.Ident != f.Foreseen || got.Source == "" || !strings.Contains(got.Raw, f.raw(got.Ident)) {
		t.Errorf("got %+v", got)
	}
	if !got.ValidTo.After(got.ValidFrom) || got.Issued.After(f.Now.Add(time.Hour)) {
		t.Errorf("issued %v, valid %v to %v; it is %v", got.Issued, got.ValidFrom, got.ValidTo, f.Now)
	}
	inUTC(t, "forecast", got.Issued, got.ValidFrom, got.ValidTo, got.Received)
	for i, s := range got.Hourly {
		inUTC(t, "sample", s.At)
		if i > 0 && !s.At.After(got.Hourly[i-1].At) {
			t.Errorf("sample %d at %v comes before the one before it", i, s.At)
		}
	}
	for _, s := range append(append(got.Minimums[:0:0], got.Minimums...), got.Maximums...) {
		inUTC(t, "extreme", s.At)
	}
	if l, ok := f.Source.(weather.Labelled); ok {
		if _, label := l.Labels(); got.Source != label {
			t.Errorf("source %q, label %q", got.Source, label)
		}
	}
}

func anyCase(t *testing.T, f Fixture) {
	if f.Observed != "" {
		if o, err := f.Source.Observation(t.Context(), strings.ToLower(f.Observed)); err != nil || o.Ident != f.Observed {
			t.Errorf("got %+v, %v", o, err)
		}
	}
	if f.Foreseen != "" {
		if got, err := f.Source.Forecast(t.Context(), strings.ToLower(f.Foreseen)); err != nil || got.Ident != f.Foreseen {
			t.Errorf("got %+v, %v", got, err)
		}
	}
}

func again(t *testing.T, f Fixture) {
	if f.Observed != "" {
		a, err := f.Source.Observation(t.Context(), f.Observed)
		b, err2 := f.Source.Observation(t.Context(), f.Observed)
		if err != nil || err2 != nil || a != b {
			t.Errorf("got %+v, %v, then %+v, %v", a, err, b, err2)
		}
	}
	if f.Foreseen != "" {
		a, err := f.Source.Forecast(t.Context(), f.Foreseen)
		b, err2 := f.Source.Forecast(t.Context(), f.Foreseen)
		if err != nil || err2 != nil || !reflect.DeepEqual(a, b) {
			t.Errorf("got %+v, %v, then %+v, %v", a, err, b, err2)
		}
	}
}

func unknown(t *testing.T, f Fixture) {
	none(t, f, f.Unknown)
	if f.Observed == "" {
		if _, err := f.Source.Observation(t.Context(), f.Foreseen); !errors.Is(err, weather.ErrNone) {
			t.Errorf("observation: got %v, want ErrNone", err)
		}
	}
	if f.Foreseen == "" {
		if _, err := f.Source.Forecast(t.Context(), f.Observed); !errors.Is(err, weather.ErrNone) {
			t.Errorf("forecast: got %v, want ErrNone", err)
		}
	}
}

func noIdent(t *testing.T, f Fixture) {
	for _, ident := range []string{"", " ", "X", "XKLD,XRUN", "../XKLD", "XK D", "X&id=", "ХКLD", "XKLDXKLDXKLD", "\x00\x00\x00\x00", "%58%4B"} {
		none(t, f, ident)
	}
}

func none(t *testing.T, f Fixture, ident string) {
	t.Helper()
	if o, err := f.Source.Observation(t.Context(), ident); !errors.Is(err, weather.ErrNone) {
		t.Errorf("observation of %q: got %+v, %v, want ErrNone", ident, o, err)
	}
	if got, err := f.Source.Forecast(t.Context(), ident); !errors.Is(err, weather.ErrNone) {
		t.Errorf("forecast of %q: got %+v, %v, want ErrNone", ident, got, err)
	}
}

func cancelled(t *testing.T, f Fixture) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, ident := range []string{f.Observed, f.Foreseen, f.Unknown} {
		if _, err := f.Source.Observation(ctx, ident); !errors.Is(err, context.Canceled) || errors.Is(err, weather.ErrNone) {
			t.Errorf("observation of %q: got %v, want the context's error", ident, err)
		}
		if _, err := f.Source.Forecast(ctx, ident); !errors.Is(err, context.Canceled) || errors.Is(err, weather.ErrNone) {
			t.Errorf("forecast of %q: got %v, want the context's error", ident, err)
		}
	}
	// It does not suffer from it.
	wholeObservation(t, f)
	wholeForecast(t, f)
}

func several(t *testing.T, f Fixture) {
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			if f.Observed != "" {
				if o, err := f.Source.Observation(t.Context(), f.Observed); err != nil || o.Ident != f.Observed {
					t.Errorf("got %+v, %v", o, err)
				}
			}
			if f.Foreseen != "" {
				if got, err := f.Source.Forecast(t.Context(), f.Foreseen); err != nil || got.Ident != f.Foreseen {
					t.Errorf("got %+v, %v", got, err)
				}
			}
			if _, err := f.Source.Forecast(t.Context(), f.Unknown); !errors.Is(err, weather.ErrNone) {
				t.Errorf("forecast of %q: got %v, want ErrNone", f.Unknown, err)
			}
		})
	}
	all.Wait()
}

func broken(t *testing.T, f Fixture) {
	if f.Broken == nil {
		return
	}
	check := func(what string, err error) {
		t.Helper()
		if err == nil || errors.Is(err, weather.ErrNone) {
			t.Errorf("%s: got %v, want a failure that is not ErrNone", what, err)
			return
		}
		for _, secret := range f.Secrets {
			if strings.Contains(err.Error(), secret) {
				t.Errorf("%s: the error holds a secret: %v", what, err)
			}
		}
	}
	if f.Observed != "" {
		_, err := f.Broken.Observation(t.Context(), f.Observed)
		check("observation", err)
	}
	if f.Foreseen != "" {
		_, err := f.Broken.Forecast(t.Context(), f.Foreseen)
		check("forecast", err)
	}
}

func named(t *testing.T, f Fixture) {
	if n := f.Source.Name(); n == "" || strings.ToLower(n) != n || strings.Contains(n, " ") {
		t.Errorf("the name is %q", n)
	}
}
