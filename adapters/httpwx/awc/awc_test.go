package awc

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/adapters/httpwx/fetch"
	"firn/bot/testkit/weathertest"
	"firn/bot/weather"
	"firn/engine"
)

var noon = time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC)

// asked is what the service was asked for, in order.
type asked struct {
	mu   sync.Mutex
	urls []string
}

func (a *asked) add(r *http.Request) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.urls = append(a.urls, r.URL.Path+" "+r.URL.Query().Get("format")+" "+r.URL.Query().Get("ids"))
}

func (a *asked) all() []string {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Clone(a.urls)
}

func serve(t *testing.T, o Options, h http.HandlerFunc) (*Source, *asked) {
	t.Helper()
	var a asked
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a.add(r)
		h(w, r)
	}))
	t.Cleanup(s.Close)
	o.BaseURL = strings.Replace(s.URL, "http://", "http://anna:hunter2@", 1) + o.BaseURL
	if o.Now == nil {
		o.Now = func() time.Time { return noon }
	}
	src, err := New(o)
	if err != nil {
		t.Fatal(err)
	}
	return src, &a
}

func write(w http.ResponseWriter, contentType, body string) {
	w.Header().Set("Content-Type", contentType)
	_, _ = io.WriteString(w, body)
}

// two answers with a METAR and a TAF of XKLD; nothing of the rest.
func two(w http.ResponseWriter, r *http.Request) {
	switch {
	case !strings.Contains(r.URL.Query().Get("ids"), "XKLD"):
		w.WriteHeader(http.StatusNoContent)
	case r.URL.Path == "/api/data/metar":
		write(w, "application/json", `[{"icaoId":"XKLD","obsTime":1769341980,"temp":-38,"rawOb":"METAR XKLD 251153Z 00000KT M38/M42 RMK AO2 T13821422"}]`)
	case r.URL.Path == "/api/data/taf":
		write(w, "application/json", `[{"icaoId":"XKLD","rawTAF":"TAF XKLD 251100Z 2512/2612 24012KT TXM22/2518Z TNM31/2610Z"}]`)
	default:
		w.WriteHeader(400)
	}
}

func TestSuite(t *testing.T) {
	t.Parallel()
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		s, _ := serve(t, Options{Idents: []string{"XKLD", "XRUN"}}, two)
		broken, _ := serve(t, Options{}, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) })
		return weathertest.Fixture{
			Source: s, Now: noon, Observed: "XKLD", Foreseen: "XKLD", Unknown: "XRUN",
			Broken: broken, Secrets: []string{"hunter2", "anna"},
		}
	})
}

func TestSuiteRaw(t *testing.T) {
	t.Parallel()
	weathertest.Run(t, func(t *testing.T) weathertest.Fixture {
		s, a := serve(t, Options{Raw: true}, func(w http.ResponseWriter, r *http.Request) {
			switch {
			case !strings.Contains(r.URL.Query().Get("ids"), "XKLD"):
			case r.URL.Path == "/api/data/metar":
				write(w, "text/plain; charset=utf-8", "XKLD 251153Z 00000KT M38/M42 RMK AO2 T13821422\n")
			default:
				write(w, "text/plain; charset=utf-8", "TAF XKLD 251100Z 2512/2612 24012KT \n  TXM22/2518Z TNM31/2610Z\n")
			}
		})
		t.Cleanup(func() {
			for _, u := range a.all() {
				if !strings.Contains(u, " raw ") {
					t.Errorf("asked for %s", u)
				}
			}
		})
		return weathertest.Fixture{Source: s, Now: noon, Observed: "XKLD", Foreseen: "XKLD", Unknown: "XRUN"}
	})
}

// TestRealAnswers reads the two samples (testdata/README.md). Temperatures
// are those of the raw text, T groups included.
func TestRealAnswers(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, time.July, 21, 2, 10, 0, 0, time.UTC)
	read := func(file string) fetch.Answer {
		data, err := os.ReadFile("../testdata/" + file)
		if err != nil {
			t.Fatal(err)
		}
		return fetch.Answer{Body: data, Received: now}
	}
	metars, err := readJSON("metar", read("awc_metar_sample.json"), now)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		ident string
		c     engine.Celsius
		at    string
	}{{"KBFL", 37.8, "01:54"}, {"KFFZ", 38, "01:54"}, {"KSTS", 23, "01:53"}} { // 38.3 and 23.3 in tenths: the body is colder
		o, err := metars.Observation(c.ident)
		if err != nil || o.C != c.c || o.At.Format("2006-01-02 15:04") != "2026-07-21 "+c.at {
			t.Errorf("%s: got %+v, %v", c.ident, o, err)
		}
	}
	tafs, err := readJSON("taf", read("awc_taf_sample.json"), now)
	if err != nil {
		t.Fatal(err)
	}
	for _, ident := range []string{"KSTS", "KBFL"} {
		f, err := tafs.Forecast(ident)
		if err != nil || f.Issued.Format(time.RFC3339) != "2026-07-20T23:20:00Z" || f.ValidTo.Format(time.RFC3339) != "2026-07-22T00:00:00Z" || len(f.Minimums)+len(f.Maximums)+len(f.Hourly) != 0 {
			t.Errorf("%s: got %+v, %v", ident, f, err)
		}
	}
}

// TestTolerant: fields of other types, missing or senseless; only the raw
// text counts.
func TestTolerant(t *testing.T) {
	t.Parallel()
	const raw = `"rawOb":"METAR XKLD 251153Z M38/M42"`
	for _, c := range []struct {
		name, item string
		at         string // empty: an error that is not ErrNone
	}{
		{"raw alone", `{` + raw + `}`, "2026-01-25"},
		{"time as a string", `{"obsTime":"1769341980",` + raw + `}`, "2026-01-25"},
		{"time as a date", `{"obsTime":"2026-01-25T11:53:00.000Z",` + raw + `}`, "2026-01-25"},
		{"time as a date with a space", `{"obsTime":"2026-01-25 11:53:00.000Z",` + raw + `}`, "2026-01-25"},
		{"time senseless", `{"obsTime":[1],"icaoId":{},"temp":"cold","elev":null,` + raw + `}`, "2026-01-25"},
		{"time null", `{"obsTime":null,` + raw + `}`, "2026-01-25"},
		{"a report of last month", `{"obsTime":1766663580,` + raw + `}`, "2025-12-25"},
		{"a time to come", `{"obsTime":1969341980,` + raw + `}`, "2026-01-25"},
		{"another station's code beside it", `{"icaoId":"XRUN",` + raw + `}`, "2026-01-25"},
		{"another temperature beside it", `{"temp":-10,` + raw + `}`, "2026-01-25"},
		{"no raw text", `{"icaoId":"XKLD","temp":-38}`, ""},
		{"raw text null", `{"icaoId":"XKLD","rawOb":null}`, ""},
		{"raw text unreadable", `{"icaoId":"XKLD","rawOb":"METAR XKLD 999999Z M38/M42"}`, ""},
		{"raw text of nobody", `{"icaoId":"XKLD","rawOb":"hello"}`, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			// A neighbour that is well, and things that are no objects.
			body := `[null,3,"x",[],` + c.item + `,{"rawOb":"METAR XSLT 251150Z 01/M01"}]`
			b, err := readJSON("metar", fetch.Answer{Body: []byte(body), Received: noon}, noon)
			if err != nil {
				t.Fatal(err)
			}
			if o, err := b.Observation("XSLT"); err != nil || o.C != 1 {
				t.Errorf("its neighbour: got %+v, %v", o, err)
			}
			o, err := b.Observation("XKLD")
			if c.at == "" {
				if err == nil || errors.Is(err, weather.ErrNone) {
					t.Errorf("got %+v, %v, want an error", o, err)
				}
				return
			}
			if err != nil || o.C != -38 || o.At.Format(time.DateOnly) != c.at {
				t.Errorf("got %+v, %v, want %s", o, err, c.at)
			}
		})
	}
}

func TestTafDates(t *testing.T) {
	t.Parallel()
	const raw = `"rawTAF":"TAF XKLD 251100Z 2512/2612 TNM31/2610Z"`
	for _, c := range []struct{ item, issued string }{
		{`{` + raw + `}`, "2026-01-25"},
		{`{"issueTime":"2025-12-25T11:00:00.000Z",` + raw + `}`, "2025-12-25"},
		{`{"issueTime":null,"bulletinTime":"2025-12-25 11:00:00Z",` + raw + `}`, "2025-12-25"},
		{`{"validTimeFrom":"1766664000",` + raw + `}`, "2025-12-25"},
	} {
		b, err := readJSON("taf", fetch.Answer{Body: []byte("[" + c.item + "]"), Received: noon}, noon)
		if err != nil {
			t.Fatal(err)
		}
		if f, err := b.Forecast("XKLD"); err != nil || f.Issued.Format(time.DateOnly) != c.issued {
			t.Errorf("%s: got %+v, %v", c.item, f, err)
		}
	}
}

// TestRawWhereJSONCannotBeRead also shows that the failed JSON is remembered.
func TestRawWhereJSONCannotBeRead(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ name, contentType, body string }{
		{"a page", "text/html", "<html>"},
		{"cut off", "application/json", `[{"rawOb":"METAR XKLD 2511`},
		{"an object", "application/json", `{"status":"error"}`},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s, a := serve(t, Options{}, func(w http.ResponseWriter, r *http.Request) {
				if r.URL.Query().Get("format") == "json" {
					write(w, c.contentType, c.body)
					return
				}
				write(w, "text/plain", "METAR XKLD 251153Z M38/M42\n")
			})
			for range 2 {
				if o, err := s.Observation(t.Context(), "XKLD"); err != nil || o.C != -38 {
					t.Errorf("got %+v, %v", o, err)
				}
			}
			if got := a.all(); len(got) != 2 {
				t.Errorf("asked %q", got)
			}
		})
	}
	s, _ := serve(t, Options{}, func(w http.ResponseWriter, _ *http.Request) { write(w, "text/plain", "we are down for maintenance\n") })
	if o, err := s.Observation(t.Context(), "XKLD"); err == nil || errors.Is(err, weather.ErrNone) {
		t.Errorf("neither can be read: got %+v, %v", o, err)
	}
}

// TestBatches: ten thousand stations are a hundred requests, in one order
// whatever the order they are asked in.
func TestBatches(t *testing.T) {
	t.Parallel()
	var idents []string
	for i := range 10000 {
		idents = append(idents, "X"+strings.ToUpper(strconv.FormatInt(int64(36*36+i), 36)))
	}
	s, a := serve(t, Options{Idents: append(idents, idents[0], "no ident", strings.ToLower(idents[1]))}, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "application/json")
		_, _ = io.WriteString(w, "[")
		for i, ident := range strings.Split(r.URL.Query().Get("ids"), ",") {
			if i > 0 {
				_, _ = io.WriteString(w, ",")
			}
			fmt.Fprintf(w, `{"icaoId":%[1]q,"rawOb":"METAR %[1]s 251153Z M38/M42"}`, ident)
		}
		_, _ = io.WriteString(w, "]")
	})
	slices.Reverse(idents)
	for _, ident := range idents {
		if o, err := s.Observation(t.Context(), ident); err != nil || o.Ident != ident {
			t.Fatalf("%s: %+v, %v", ident, o, err)
		}
	}
	if n := len(a.all()); n != 100 {
		t.Errorf("%d requests, want 100", n)
	}
	if _, err := s.Observation(t.Context(), "YABC"); err != nil {
		t.Error(err)
	}
	if got := a.all(); got[len(got)-1] != "/api/data/metar json YABC" {
		t.Errorf("a station that is not configured: asked %q", got[len(got)-1])
	}
}

// TestOneBadStationInABatch: the service refuses the whole, or says that it
// is not there; each of the others is asked for alone.
func TestOneBadStationInABatch(t *testing.T) {
	t.Parallel()
	for _, code := range []int{400, 404, 414, 422} {
		s, _ := serve(t, Options{Idents: []string{"XBAD", "XKLD"}}, func(w http.ResponseWriter, r *http.Request) {
			if strings.Contains(r.URL.Query().Get("ids"), "XBAD") {
				w.WriteHeader(code)
				return
			}
			two(w, r)
		})
		if o, err := s.Observation(t.Context(), "XKLD"); err != nil || o.C != -38.2 {
			t.Errorf("%d: got %+v, %v", code, o, err)
		}
		_, err := s.Observation(t.Context(), "XBAD")
		if err == nil || errors.Is(err, weather.ErrNone) != (code == 404) {
			t.Errorf("%d: the bad one: got %v", code, err)
		}
	}
}

// TestOutageIsOneRequest: a batch that fails is not asked for again by each
// of its stations.
func TestOutageIsOneRequest(t *testing.T) {
	t.Parallel()
	s, a := serve(t, Options{Idents: []string{"XKLD", "XRUN", "XSLT"}}, func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(502) })
	for _, ident := range []string{"XKLD", "XRUN", "XSLT"} {
		if _, err := s.Forecast(t.Context(), ident); err == nil || errors.Is(err, weather.ErrNone) {
			t.Errorf("%s: got %v", ident, err)
		}
	}
	if n := len(a.all()); n != 1 {
		t.Errorf("%d requests, want 1", n)
	}
}

func TestBaseURL(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"", "/", "/api", "/api/data", "/api/data/"} {
		s, a := serve(t, Options{Options: fetch.Options{BaseURL: path}}, two)
		if _, err := s.Observation(t.Context(), "XKLD"); err != nil {
			t.Errorf("%q: %v, asked %q", path, err, a.all())
		}
	}
	if _, err := New(Options{Options: fetch.Options{BaseURL: "hunter2"}}); err == nil || strings.Contains(err.Error(), "hunter2") {
		t.Errorf("got %v", err)
	}
	if s, err := New(Options{}); err != nil || s.Name() != "awc" {
		t.Errorf("got %v, %v", s, err)
	}
}

// TestAlone: a station that nobody configured is asked for alone, and again
// when its next report is due, never sooner than the service says; several new
// ones in a row are asked for at a pace.
func TestAlone(t *testing.T) {
	t.Parallel()
	now := noon // the report is of 11:53
	s, a := serve(t, Options{Options: fetch.Options{Now: func() time.Time { return now }}, Idents: []string{"XKLD"}, Alone: 4}, func(w http.ResponseWriter, r *http.Request) {
		ident := r.URL.Query().Get("ids")
		w.Header().Set("Cache-Control", "max-age=60")
		write(w, "application/json", fmt.Sprintf(`[{"icaoId":%[1]q,"rawOb":"METAR %[1]s 251153Z M38/M42"}]`, ident))
	})
	for _, c := range []struct {
		after time.Duration
		calls int
	}{
		{0, 1}, {9 * time.Minute, 1}, // nothing newer is due
		{11 * time.Minute, 2},                // but a special report may have come
		{54 * time.Minute, 3},                // it was due a minute ago
		{54*time.Minute + 30*time.Second, 3}, // as often as the service says
		{56 * time.Minute, 4},
	} {
		now = noon.Add(c.after)
		if o, err := s.Observation(t.Context(), "XABC"); err != nil || o.C != -38 {
			t.Fatalf("after %v: got %+v, %v", c.after, o, err)
		}
		if got := a.all(); len(got) != c.calls || got[0] != "/api/data/metar json XABC" {
			t.Errorf("after %v: asked %q, want %d", c.after, got, c.calls)
		}
	}
	now = noon.Add(2 * time.Hour)
	before := len(a.all())
	var wait *fetch.WaitError
	for i := range 12 {
		if _, err := s.Observation(t.Context(), fmt.Sprintf("XA%02d", i)); errors.As(err, &wait) {
			break
		}
	}
	if n := len(a.all()) - before; wait == nil || !wait.Paced || n != 3 {
		t.Errorf("%d new stations in a row, then %v; half a minute's are let through at once", n, wait)
	}
	if _, err := s.Observation(t.Context(), "XKLD"); err != nil {
		t.Errorf("a configured one waits for no pace: %v", err)
	}
}

func FuzzAnswer(f *testing.F) {
	for _, file := range []string{"awc_metar_sample.json", "awc_taf_sample.json"} {
		data, err := os.ReadFile("../testdata/" + file)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(`[null,3,{"icaoId":1,"rawOb":"METAR KSTS 210154Z M38/M42","obsTime":-1e99},{"rawTAF":"TAF KSTS NIL"}]`))
	f.Add([]byte("METAR KSTS 210154Z M38/M42=\nTAF\nKSTS 210154Z 2102/2202\n TNM31/2210Z\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		now := time.Date(2026, time.July, 21, 2, 10, 0, 0, time.UTC)
		for _, what := range []string{"metar", "taf"} {
			for _, read := range []func(string, fetch.Answer, time.Time) (*answer, error){readJSON, readRaw} {
				b, err := read(what, fetch.Answer{Body: data, Received: now}, now)
				if err != nil {
					continue
				}
				if o, err := b.Observation("KSTS"); err == nil && (o.Ident != "KSTS" || o.At.After(now.Add(time.Hour)) || o.C < -100 || o.C > 100 || o.Raw == "") {
					t.Errorf("%q: %+v", data, o)
				}
				if f, err := b.Forecast("KSTS"); err == nil && (f.Ident != "KSTS" || !f.ValidTo.After(f.ValidFrom) || f.Raw == "") {
					t.Errorf("%q: %+v", data, f)
				}
			}
		}
	})
}
