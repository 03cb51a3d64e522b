package nws

import (
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"firn/adapters/httpwx/fetch"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
)

var noon = time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC)

func serve(t *testing.T, h http.HandlerFunc) (*Source, *atomic.Int32) {
	t.Helper()
	var calls atomic.Int32
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		calls.Add(1)
		h(w, r)
	}))
	t.Cleanup(s.Close)
	src, err := New(Options{
		Options: fetch.Options{BaseURL: strings.Replace(s.URL, "http://", "http://anna:hunter2@", 1), Now: func() time.Time { return noon }},
		Places:  map[string]Place{"XKLD": {46.91634, -113.5}, "XSEA": {0, -0.00001}},
		PlaceOf: func(ident string) (Place, bool) { return Place{46.91634, -113.5}, ident == "XABC" },
	})
	if err != nil {
		t.Fatal(err)
	}
	return src, &calls
}

func write(w http.ResponseWriter, body string) {
	w.Header().Set("Content-Type", "application/geo+json")
	_, _ = io.WriteString(w, body)
}

const hourly = `{"properties":{"updateTime":"2026-01-25T11:00:00+00:00","periods":[
	{"startTime":"2026-01-25T05:00:00-07:00","endTime":"2026-01-25T06:00:00-07:00","temperature":-13,"temperatureUnit":"F"},
	{"startTime":"2026-01-25T06:00:00-07:00","endTime":"2026-01-25T07:00:00-07:00","temperature":{"unitCode":"wmoUnit:degC","value":-31.5}}]}}`

func well(w http.ResponseWriter, r *http.Request) {
	switch r.URL.Path {
	case "/points/46.9163,-113.5":
		// The address is another host's: it is not followed.
		write(w, `{"properties":{"gridId":"MSO","gridX":91,"gridY":"103","forecastHourly":"http://192.0.2.1/evil"}}`)
	case "/gridpoints/MSO/91,103/forecast/hourly":
		write(w, hourly)
	default:
		http.NotFound(w, r)
	}
}

func TestSuite(t *testing.T) {
	t.Parallel()
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		s, _ := serve(t, well)
		broken, _ := serve(t, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) })
		return weathertest.Fixture{
			Source: s, Now: noon, Foreseen: "XKLD", Unknown: "XRUN", RawHas: `"temperature":-13`,
			Broken: broken, Secrets: []string{"hunter2", "anna"},
		}
	})
}

func TestForecast(t *testing.T) {
	t.Parallel()
	s, calls := serve(t, well)
	f, err := s.Forecast(t.Context(), "XKLD")
	if err != nil {
		t.Fatal(err)
	}
	// -13 F is exactly -25 C.
	want := "12:00 -25, 13:00 -31.5"
	var got []string
	for _, h := range f.Hourly {
		got = append(got, fmt.Sprintf("%s %v", h.At.Format("15:04"), float64(h.C)))
	}
	if strings.Join(got, ", ") != want || f.Ident != "XKLD" || f.ValidTo.Format(time.RFC3339) != "2026-01-25T14:00:00Z" || f.Minimums != nil {
		t.Errorf("got %q in %+v, want %q", got, f, want)
	}
	if _, err := s.Forecast(t.Context(), "XKLD"); err != nil || calls.Load() != 2 {
		t.Errorf("the second look: %d requests in all, %v; want 2", calls.Load(), err)
	}
	// Outside the country the service has no point.
	if _, err := s.Forecast(t.Context(), "XSEA"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("no point: got %v, want ErrNone", err)
	}
}

// TestMisbehaviour: what is wrong in an answer is a failure, not an absence.
// The transport's misbehaviour is tested in package fetch.
func TestMisbehaviour(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, point, hourly string }{
		{"point is a list", `[]`, ""},
		{"point without properties", `{}`, ""},
		{"point without a cell", `{"properties":{}}`, ""},
		{"point with a path in it", `{"properties":{"gridId":"../MSO","gridX":1,"gridY":2}}`, ""},
		{"point with a negative cell", `{"properties":{"gridId":"MSO","gridX":-1,"gridY":2}}`, ""},
		{"forecast cut off", "", hourly[:100]},
		{"forecast without properties", "", `{}`},
		{"forecast without its time", "", strings.Replace(hourly, "updateTime", "x", 1)},
		{"a temperature that is a word", "", strings.Replace(hourly, "-13", `"cold"`, 1)},
		{"an unknown unit", "", strings.Replace(hourly, `"F"`, `"K"`, 1)},
		{"an unknown unit code", "", strings.Replace(hourly, "wmoUnit:degC", "wmoUnit:K", 1)},
		{"impossible cold", "", strings.Replace(hourly, "-31.5", "-310", 1)},
		{"times that cannot be read", "", strings.Replace(hourly, "2026-01-25T05:00:00-07:00", "today", 1)},
		{"an end before its start", "", strings.Replace(hourly, `"endTime":"2026-01-25T06`, `"endTime":"2026-01-25T04`, 1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, _ := serve(t, func(w http.ResponseWriter, r *http.Request) {
				switch point := strings.HasPrefix(r.URL.Path, "/points/"); {
				case point && c.point != "":
					write(w, c.point)
				case !point:
					write(w, c.hourly)
				default:
					well(w, r)
				}
			})
			if f, err := s.Forecast(t.Context(), "XKLD"); !errors.Is(err, fetch.ErrUnreadable) || errors.Is(err, weather.ErrNone) {
				t.Errorf("got %+v, %v", f, err)
			}
		})
	}
}

func TestPointByAddress(t *testing.T) {
	t.Parallel()
	got, err := readPoint(fetch.Answer{Body: []byte(`{"properties":{"forecastHourly":"https://example.invalid/gridpoints/MSO/91,103/forecast/hourly"}}`)})
	if err != nil || got != "MSO/91,103" {
		t.Errorf("got %q, %v", got, err)
	}
}

func TestPeriods(t *testing.T) {
	t.Parallel()
	body := func(periods string) fetch.Answer {
		return fetch.Answer{Body: []byte(`{"properties":{"generatedAt":"2026-01-25T11:00:00Z","periods":[` + periods + `]}}`), Received: noon}
	}
	p := func(from, to, rest string) string {
		return fmt.Sprintf(`{"startTime":"2026-01-25T%s:00:00Z","endTime":"2026-01-25T%s:00:00Z",%s}`, from, to, rest)
	}
	for _, c := range []struct{ name, periods, want string }{
		{"none", "", ""},
		{"all null", p("12", "13", `"temperature":null`) + "," + p("13", "14", `"temperature":{"unitCode":"wmoUnit:degC","value":null}`) + "," + p("14", "15", `"x":1`), ""},
		{"a unit that is not said is Fahrenheit", p("12", "13", `"temperature":14`), "12 -10, to 13"},
		{"Celsius beside it", p("12", "13", `"temperature":-14,"temperatureUnit":"C"`), "12 -14, to 13"},
		{"Fahrenheit in an object", p("12", "13", `"temperature":{"unitCode":"unit:degF","value":14}`), "12 -10, to 13"},
		{"a null leaves a gap", p("12", "13", `"temperature":14`) + "," + p("13", "15", `"temperature":null`) + "," + p("15", "16", `"temperature":32`), "12 -10, 15 0, to 16"},
		{"out of order", p("13", "14", `"temperature":32`) + "," + p("12", "13", `"temperature":14`), "12 -10, 13 0, to 14"},
		{"one hour twice: the colder", p("12", "13", `"temperature":32`) + "," + p("12", "13", `"temperature":14`), "12 -10, to 13"},
		{"overlapping, the later colder", p("12", "14", `"temperature":32`) + "," + p("13", "15", `"temperature":14`), "12 0, 13 -10, to 15"},
		{"overlapping, the earlier colder", p("12", "14", `"temperature":14`) + "," + p("13", "15", `"temperature":32`), "12 -10, 13 -10, to 15"},
		{"longer than a step", p("12", "19", `"temperature":14`) + "," + p("19", "20", `"temperature":32`), "12 -10, 15 -10, 18 -10, 19 0, to 20"},
		{"inside a long one", p("12", "19", `"temperature":14`) + "," + p("13", "14", `"temperature":32`), "12 -10, 13 -10, 16 -10, to 19"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			f, err := readHourly(body(c.periods))
			var got []string
			for _, h := range f.Hourly {
				got = append(got, fmt.Sprintf("%s %v", h.At.Format("15"), float64(h.C)))
			}
			if len(got) > 0 {
				got = append(got, "to "+f.ValidTo.Format("15"))
			}
			if err != nil || strings.Join(got, ", ") != c.want {
				t.Errorf("got %q, %v, want %q", got, err, c.want)
			}
		})
	}
}

// TestRealAnswer reads the sample (testdata/README.md): 18 F at 16:00, six
// hours behind UTC.
func TestRealAnswer(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile("../testdata/nws_hourly_sample.json")
	if err != nil {
		t.Fatal(err)
	}
	f, err := readHourly(fetch.Answer{Body: data, Received: noon})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Hourly) != 12 || f.Issued.Format(time.RFC3339) != "2025-01-08T21:14:02Z" || f.ValidFrom.Format(time.RFC3339) != "2025-01-08T22:00:00Z" ||
		math.Abs(float64(f.Hourly[0].C-engine.Celsius(-70.0/9))) > 1e-12 || f.ValidTo.Sub(f.ValidFrom) != 12*time.Hour {
		t.Errorf("got %+v", f)
	}
}

func TestNew(t *testing.T) {
	t.Parallel()
	for _, p := range []Place{{91, 0}, {0, 181}, {math.NaN(), 0}} {
		if _, err := New(Options{Places: map[string]Place{"XKLD": p}}); err == nil {
			t.Errorf("%v was taken", p)
		}
	}
	if _, err := New(Options{Options: fetch.Options{BaseURL: "hunter2"}}); err == nil || strings.Contains(err.Error(), "hunter2") {
		t.Errorf("got %v", err)
	}
	if s, err := New(Options{}); err != nil || s.Name() != "nws" {
		t.Errorf("got %v, %v", s, err)
	}
}

func FuzzHourly(f *testing.F) {
	data, err := os.ReadFile("../testdata/nws_hourly_sample.json")
	if err != nil {
		f.Fatal(err)
	}
	f.Add(data)
	f.Add([]byte(hourly))
	f.Add([]byte(`{"properties":{"gridId":"MSO","gridX":91,"gridY":1e3,"forecastHourly":"/gridpoints/MSO/91,103/forecast"}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		a := fetch.Answer{Body: data, Received: noon}
		if cell, err := readPoint(a); err == nil && !cellForm.MatchString(cell) {
			t.Errorf("%q: cell %q", data, cell)
		}
		f, err := readHourly(a)
		if err != nil {
			return
		}
		for i, h := range f.Hourly {
			if h.C < -100 || h.C > 100 || i > 0 && !h.At.After(f.Hourly[i-1].At) {
				t.Errorf("%q: %+v", data, f.Hourly)
			}
		}
		if len(f.Hourly) > 0 && (!f.ValidTo.After(f.ValidFrom) || f.Raw == "") {
			t.Errorf("%q: %+v", data, f)
		}
	})
}

// TestAlone: a station that nobody configured has a forecast where its place is
// known.
func TestAlone(t *testing.T) {
	t.Parallel()
	s, calls := serve(t, well)
	f, err := s.Forecast(t.Context(), "xabc")
	if err != nil || f.Ident != "XABC" || len(f.Hourly) != 2 {
		t.Errorf("got %+v, %v", f, err)
	}
	if _, err := s.Forecast(t.Context(), "XQQQ"); !errors.Is(err, weather.ErrNone) {
		t.Errorf("got %v", err)
	}
	if n := calls.Load(); n != 2 {
		t.Errorf("%d requests, want 2", n)
	}
}
