package weather_test

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"testing"
	"time"

	"firn/bot/testkit/storetest"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
)

// TestNewerThatCannotBeRead has a report behind another, newer one that cannot
// be read.
func TestNewerThatCannotBeRead(t *testing.T) {
	const (
		old = "TAF XKLD 250530Z 2506/2612 24012KT TNM10/2610Z"
		bad = "TAF XKLD 251130Z 2512/2618 24012KT TNMXX/2610Z"
	)
	for _, tt := range []struct {
		name    string
		reports []string
		told    string // empty: nothing
	}{
		{"newer", []string{old, bad}, "a newer TAF of 11:30Z 25 Jan cannot be read: "},
		{"newer, and before it in the file", []string{bad, old}, "a newer TAF of 11:30Z 25 Jan cannot be read: "},
		{"newer, in two lines of a bulletin", []string{"FTUS80 XWBC 251140", old, "TAF\nXKLD 251130Z 2512/2618 24012KT TNMXX/2610Z="}, "a newer TAF of 11:30Z 25 Jan"},
		{"a minimum that no air has", []string{old, strings.ReplaceAll(bad, "TNMXX", "TNM99")}, "a newer TAF of 11:30Z 25 Jan cannot be read: TAF of XKLD is not believed: no air is so cold as −99 °C"},
		{"a minimum that was measured somewhere", []string{bad, strings.ReplaceAll(bad, "TNMXX", "TNM89")}, ""},
		{"older", []string{"TAF XKLD 242330Z 2500/2606 TNMXX/2506Z", old}, ""},
		{"the same again", []string{"TAF XKLD 250530Z 2506/2612 TNMXX/2610Z", old}, ""},
		{"an amendment of the same time", []string{old, "TAF AMD XKLD 250530Z 2506/2612 TNMXX/2610Z"}, "a newer TAF of 05:30Z 25 Jan"},
		{"of no time", []string{old, "TAF XKLD TNMXX"}, "a newer TAF cannot be read: "},
		{"another station's", []string{old, strings.ReplaceAll(bad, "XKLD", "XRUN")}, ""},
	} {
		var text []string
		text = append(text, tt.reports...)
		f, err := board(t, strings.Join(text, "\n")).Forecast("xkld")
		if err != nil || f.ColderOnly != (tt.told != "") || !strings.HasPrefix(f.Note, tt.told) || tt.told == "" && f.Note != "" {
			t.Errorf("%s: %+v, %v; want told %q", tt.name, f, err, tt.told)
		}
	}
	for _, tt := range []struct {
		name    string
		reports []string
		told    string
	}{
		{"no such group", []string{"METAR XKLD 251053Z M37/", "METAR XKLD 251153Z AUTO 2512/2618 30/33"}, "a newer METAR of 11:53Z 25 Jan cannot be read: "},
		{"both minus signs lost", []string{"METAR XKLD 251053Z M30/M33", "METAR XKLD 251153Z 30/33"}, "a newer METAR of 11:53Z 25 Jan cannot be read: METAR of XKLD is not believed: its dew point, 33 °C, is above"},
		{"older", []string{"METAR XKLD 251053Z 30/33", "METAR XKLD 251153Z M30/M33"}, ""},
		{"its temperature has a letter for a figure", []string{"METAR XKLD 251053Z M24/M28", "METAR XKLD 251153Z 24012KT 9999 M3O/M42 Q1034"}, "a newer METAR of 11:53Z 25 Jan cannot be read: METAR of XKLD gives its temperature as M3O/M42"},
		{"its temperature has a minus", []string{"METAR XKLD 251053Z M24/M28", "METAR XKLD 251153Z 24012KT 9999 -38/-42 Q1034"}, "a newer METAR of 11:53Z 25 Jan cannot be read: METAR of XKLD gives its temperature as -38/-42"},
		{"its temperature is cut in two", []string{"METAR XKLD 251053Z M24/M28", "METAR XKLD 251153Z 24012KT 9999 M38 /M42 Q1034"}, "a newer METAR of 11:53Z 25 Jan cannot be read: "},
		{"its temperature cannot be read, its tenths can", []string{"METAR XKLD 251053Z M24/M28", "METAR XKLD 251153Z M3O/M42 RMK T13821422"}, ""},
		{"it has no temperature", []string{"METAR XKLD 251053Z M24/M28", "METAR XKLD 251153Z 24012KT 9999 ///// Q1034 8200/7400 RMK A/B"}, ""},
	} {
		o, err := board(t, strings.Join(tt.reports, "\n")).Observation("XKLD")
		if err != nil || !strings.HasPrefix(o.Newer, tt.told) || tt.told == "" && o.Newer != "" {
			t.Errorf("%s: %+v, %v; want told %q", tt.name, o, err, tt.told)
		}
	}
}

// TestUnreadable says why there is nothing.
func TestUnreadable(t *testing.T) {
	now := noon
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{boarded{board(t, "METAR XKLD 251153Z 30/33")}}, Now: clock(&now)})
	_, err := chain.Observation(t.Context(), "XKLD")
	if got := weather.Unreadable(err); !strings.HasPrefix(got, "the METAR of 11:53Z 25 Jan cannot be read: METAR of XKLD is not believed") {
		t.Errorf("%q of %v", got, err)
	}
	if _, err := chain.Observation(t.Context(), "XRUN"); weather.Unreadable(err) != "" {
		t.Errorf("XRUN: %q", weather.Unreadable(err))
	}
}

// TestFailuresAreForPeople: neither the text of a report nor what a network says is.
func TestFailuresAreForPeople(t *testing.T) {
	now, net := noon, weathertest.NewMemory("net")
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{net, boarded{board(t, "TAF XKLD 251130Z 2512/2618 24012KT TNMXX/2610Z")}}, Now: clock(&now)})
	for _, tt := range []struct {
		err  error
		want string
	}{
		{fmt.Errorf("get /api/data/taf: dial tcp 192.0.2.1:443: connect: %w", syscall.ECONNREFUSED), "net: it does not answer; awc: the TAF of 11:30Z 25 Jan cannot be read: "},
		{fmt.Errorf("no whole answer within 5s: %w", context.DeadlineExceeded), "net: it does not answer; awc: "},
		{errors.New("answered with status 503"), "net: answered with status 503; awc: "},
		{&fs.PathError{Op: "open", Path: "reports", Err: syscall.EACCES}, "net: open reports: permission denied; awc: "},
	} {
		net.Break(tt.err)
		_, err := chain.Forecasts(t.Context(), "XKLD")
		if got := weather.Failures(err); !strings.HasPrefix(got, tt.want) || strings.Contains(got, "24012KT") {
			t.Errorf("%v: %q, want %q", tt.err, got, tt.want)
		}
	}
}

// boarded is a source whose answers are a board's.
type boarded struct{ reports *weather.Board }

func (b boarded) Name() string             { return "awc" }
func (b boarded) Labels() (string, string) { return "METAR (test)", "TAF (test)" }
func (b boarded) Observation(_ context.Context, ident string) (weather.Observation, error) {
	return b.reports.Observation(ident)
}
func (b boarded) Forecast(_ context.Context, ident string) (weather.Forecast, error) {
	return b.reports.Forecast(ident)
}

// TestNewerThanWhatWasKept has a source that gives only its newest report.
func TestNewerThanWhatWasKept(t *testing.T) {
	now := noon
	archive, second := storetest.NewMemory(clock(&now)), weathertest.NewMemory("second")
	chain := func(reports ...string) *weather.Chain {
		return weather.NewChain(weather.Options{Sources: []weather.Source{boarded{board(t, reports...)}, second}, Archive: archive, Now: clock(&now)})
	}
	ctx := t.Context()
	before := chain("TAF XKLD 250530Z 2506/2612 TNM10/2610Z", "METAR XKLD 251053Z M20/M25")
	if _, err := before.Forecasts(ctx, "XKLD"); err != nil {
		t.Fatal(err)
	}
	if _, err := before.Observation(ctx, "XKLD"); err != nil {
		t.Fatal(err)
	}
	after := chain("TAF XKLD 251130Z 2512/2618 TNMXX/2610Z", "METAR XKLD 251153Z 20/25")
	all, err := after.Forecasts(ctx, "XKLD")
	if len(all) != 1 || err == nil || !all[0].ColderOnly || !strings.HasPrefix(all[0].Note, "a newer TAF of 11:30Z 25 Jan cannot be read") {
		t.Errorf("the forecast: %+v, %v", all, err)
	}
	for _, tt := range []struct {
		other engine.Celsius
		want  engine.Celsius
		newer bool
	}{{0, -20, true}, {-15, -20, true}, {-20, -20, false}, {-22, -22, false}} {
		second.Forget("XKLD")
		if tt.other != 0 {
			second.Observe(observed("XKLD", tt.other, noon))
		}
		r, err := after.Observation(ctx, "XKLD")
		if err != nil || r.C != tt.want || (r.Newer != "") != tt.newer {
			t.Errorf("beside %v: %+v, %v; want %v", tt.other, r, err, tt.want)
		}
	}
}

// TestFailingForecastEnds has a source that fails for a day.
func TestFailingForecastEnds(t *testing.T) {
	now := noon
	source, archive := weathertest.NewMemory("one"), storetest.NewMemory(clock(&now))
	options := weather.Options{Sources: []weather.Source{source}, Archive: archive, Now: clock(&now)}
	long := foreseen("XKLD", -31, noon)
	long.ValidTo = noon.Add(72 * time.Hour)
	source.Expect(long)
	chain := weather.NewChain(options)
	if _, err := chain.Forecasts(t.Context(), "XKLD"); err != nil {
		t.Fatal(err)
	}
	source.Break(errors.New("down"))
	nine := options
	nine.KeptFor = 9 * time.Hour
	for _, tt := range []struct {
		options weather.Options
		hours   float64
		want    string // of the note, or of the error
	}{
		{options, 0.5, "source failed, forecast of 12:00Z 25 Jan"},
		{options, 12, "source failed, forecast of 12:00Z 25 Jan"},
		{options, 12.1, "down (and its last forecast, of 12:00Z 25 Jan, is 12 hours old)"},
		{nine, 9.1, "down (and its last forecast, of 12:00Z 25 Jan, is 9 hours old)"},
	} {
		now = noon.Add(time.Duration(tt.hours * float64(time.Hour)))
		all, err := weather.NewChain(tt.options).Forecasts(t.Context(), "XKLD")
		said := ""
		if err != nil {
			said = err.Error()
		}
		if len(all) > 0 {
			said = all[0].Note
		}
		if !strings.HasSuffix(said, tt.want) || (len(all) > 0) != (len(weather.Failing(err)) == 0) {
			t.Errorf("after %v h: %q, failing %v; want %q", tt.hours, said, weather.Failing(err), tt.want)
		}
	}
}
