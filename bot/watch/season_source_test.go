package watch_test

import (
	"context"
	"errors"
	"fmt"
	"time"

	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// lastKept is an archive of one forecast.
type lastKept struct{ f weather.Forecast } // of the first source

func (k *lastKept) SaveForecast(_ context.Context, f weather.Forecast) (bool, error) {
	if f.Source != "made up" {
		return true, nil
	}
	k.f = f
	k.f.Note, k.f.ColderOnly = "", false
	return true, nil
}

func (k *lastKept) LatestForecast(context.Context, string, string) (weather.Forecast, bool, error) {
	return k.f, !k.f.Issued.IsZero(), nil
}

func (k *lastKept) SaveObservation(context.Context, weather.Observation) (bool, error) {
	return false, nil
}

func (k *lastKept) LatestObservation(context.Context, string, string) (weather.Observation, bool, error) {
	return weather.Observation{}, false, nil
}

// Name, Labels and Observation make it a source.
func (s *season) Name() string             { return "made up" }
func (s *season) Labels() (string, string) { return "", "made up" }
func (s *season) Observation(context.Context, string) (weather.Observation, error) {
	return weather.Observation{}, weather.ErrNone
}

// Forecast is what the source makes of the air.
func (s *season) Forecast(context.Context, string) (weather.Forecast, error) {
	now := s.clock.Now()
	f := weather.Forecast{Ident: "XKLD", Raw: now.Format(time.RFC3339) + s.mode, Received: now}
	f.Source = "made up"
	switch s.mode {
	case "fails":
		return f, errors.New("down")
	case "none":
		return f, fmt.Errorf("made up: %w", weather.ErrNone)
	case "minimum":
		return s.minimums(f, 0), nil
	case "garbled":
		f.ColderOnly, f.Note = true, "a newer one cannot be read"
	}
	hours := 48
	if s.mode == "short" {
		hours = s.horizon
	}
	f.Issued = now.Truncate(time.Hour)
	f.ValidFrom, f.ValidTo = f.Issued, f.Issued.Add(time.Duration(hours)*time.Hour)
	for h := range hours {
		at := f.Issued.Add(time.Duration(h) * time.Hour)
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: at, C: s.at(at)})
	}
	return f, nil
}

func (s *season) at(t time.Time) engine.Celsius {
	return s.air[min(max(int(t.Sub(s.start)/time.Hour), 0), len(s.air)-1)]
}

// minimums makes the forecast one of extremes alone.
func (s *season) minimums(f weather.Forecast, bias engine.Celsius) weather.Forecast {
	f.Issued = s.clock.Now().Truncate(6 * time.Hour)
	f.ValidFrom, f.ValidTo = f.Issued, f.Issued.Add(30*time.Hour)
	for half := range 2 {
		from := f.Issued.Add(time.Duration(half) * 15 * time.Hour)
		low := coldwatch.Sample{At: from, C: s.at(from)}
		for h := range 15 {
			if at := from.Add(time.Duration(h) * time.Hour); s.at(at) < low.C {
				low = coldwatch.Sample{At: at, C: s.at(at)}
			}
		}
		low.C += bias
		f.Minimums = append(f.Minimums, low)
	}
	return f
}

// tafSource is another source of the same air, which may see it colder.
type tafSource struct {
	*season
	has  bool
	bias engine.Celsius
}

func (t *tafSource) Name() string             { return "second" }
func (t *tafSource) Labels() (string, string) { return "", "" }
func (t *tafSource) Forecast(context.Context, string) (weather.Forecast, error) {
	f := weather.Forecast{Ident: "XKLD", Received: t.clock.Now()}
	if !t.has {
		return f, fmt.Errorf("second: %w", weather.ErrNone)
	}
	f.Source = "TAF"
	return t.minimums(f, t.bias), nil
}
