package fetch_test

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/adapters/httpwx/fetch"
	"firn/bot/testkit/testclock"
)

// newClock is a clock that the test moves.
func newClock() *testclock.Clock {
	return testclock.New(time.Date(2026, time.January, 25, 12, 0, 0, 0, time.UTC))
}

// service counts what it is asked.
type service struct {
	*httptest.Server
	calls atomic.Int32
	clock *testclock.Clock
}

func serve(t *testing.T, h func(w http.ResponseWriter, r *http.Request, call int)) *service {
	s := &service{clock: newClock()}
	s.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h(w, r, int(s.calls.Add(1)))
	}))
	t.Cleanup(s.Close)
	return s
}

func (s *service) client(t *testing.T, change func(*fetch.Options)) *fetch.Client {
	t.Helper()
	o := fetch.Options{BaseURL: s.URL, UserAgent: "firn test", Now: s.clock.Now}
	if change != nil {
		change(&o)
	}
	c, err := fetch.New(o)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

var request = fetch.Request{Path: "/data", Types: []string{"application/json"}, Ceiling: time.Hour}

func get(ctx context.Context, c *fetch.Client, r fetch.Request) (string, error) {
	return fetch.Get(ctx, c, r, func(a fetch.Answer) (string, error) {
		if a.None {
			return "none", nil
		}
		if bytes.Contains(a.Body, []byte("bad")) {
			return "", errors.New("it is bad")
		}
		return string(a.Body), nil
	})
}

func write(w http.ResponseWriter, contentType, body string) {
	w.Header().Set("Content-Type", contentType)
	_, _ = io.WriteString(w, body)
}

// TestMisbehaviour: what a service may do, and what comes of it.
func TestMisbehaviour(t *testing.T) {
	t.Parallel()
	elsewhere := serve(t, func(w http.ResponseWriter, _ *http.Request, _ int) { write(w, "application/json", "stolen") })
	status := func(code int) func(error) bool {
		return func(err error) bool {
			e, ok := errors.AsType[*fetch.StatusError](err)
			return ok && e.Code == code
		}
	}
	is := func(target error) func(error) bool { return func(err error) bool { return errors.Is(err, target) } }
	for _, c := range []struct {
		name   string
		answer http.HandlerFunc
		want   string
		fails  func(error) bool
	}{
		{"well", func(w http.ResponseWriter, _ *http.Request) { write(w, "application/json; charset=utf-8", "ok") }, "ok", nil},
		{"compressed", func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Encoding", "gzip")
			w.Header().Set("Content-Type", "application/json")
			z := gzip.NewWriter(w)
			_, _ = io.WriteString(z, "ok")
			_ = z.Close()
		}, "ok", nil},
		{"no content", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusNoContent) }, "none", nil},
		{"empty body", func(w http.ResponseWriter, _ *http.Request) { write(w, "text/html", " \n") }, "none", nil},
		{"not found", func(w http.ResponseWriter, _ *http.Request) { http.NotFound(w, nil) }, "none", nil},
		{"slow header", func(_ http.ResponseWriter, r *http.Request) { <-r.Context().Done() }, "", is(context.DeadlineExceeded)},
		{"slow body", func(w http.ResponseWriter, r *http.Request) {
			write(w, "application/json", "o")
			w.(http.Flusher).Flush()
			<-r.Context().Done()
		}, "", is(context.DeadlineExceeded)},
		{"truncated", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", "100")
			write(w, "application/json", "ok")
		}, "", is(io.ErrUnexpectedEOF)},
		{"truncated in chunks", func(w http.ResponseWriter, _ *http.Request) {
			write(w, "application/json", "ok")
			w.(http.Flusher).Flush()
			panic(http.ErrAbortHandler)
		}, "", is(io.ErrUnexpectedEOF)},
		{"wrong content type", func(w http.ResponseWriter, _ *http.Request) { write(w, "text/html", "<html>") }, "", is(fetch.ErrUnreadable)},
		{"senseless content type", func(w http.ResponseWriter, _ *http.Request) { write(w, ";;", "ok") }, "", is(fetch.ErrUnreadable)},
		{"unreadable body", func(w http.ResponseWriter, _ *http.Request) { write(w, "application/json", "bad") }, "", is(fetch.ErrUnreadable)},
		{"server error", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(500) }, "", status(500)},
		{"too many requests", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Retry-After", "120")
			w.WriteHeader(429)
		}, "", status(429)},
		{"bad request", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(400) }, "", status(400)},
		{"not modified, unasked", func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(304) }, "", status(304)},
		{"too large", func(w http.ResponseWriter, _ *http.Request) {
			write(w, "application/json", strings.Repeat("x", 1<<16))
			w.(http.Flusher).Flush()
		}, "", is(fetch.ErrTooLarge)},
		{"too large, and says so", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Length", strconv.Itoa(1<<40))
			write(w, "application/json", "x")
		}, "", is(fetch.ErrTooLarge)},
		{"gzip bomb", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Encoding", "gzip")
			w.Header().Set("Content-Type", "application/json")
			z := gzip.NewWriter(w)
			zeros := make([]byte, 1<<20)
			for range 64 {
				if _, err := z.Write(zeros); err != nil {
					return
				}
			}
			_ = z.Close()
		}, "", is(fetch.ErrTooLarge)},
		{"no gzip though it says so", func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Encoding", "gzip")
			write(w, "application/json", "this is not compressed at all")
		}, "", is(gzip.ErrHeader)},
		{"redirect to another host", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, elsewhere.URL+"/data", http.StatusFound)
		}, "", is(fetch.ErrRedirect)},
		{"redirect to another scheme", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "https://"+r.Host+"/data", http.StatusFound)
		}, "", is(fetch.ErrRedirect)},
		{"redirect to a file", func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Location", "file:///etc/hostname")
			w.WriteHeader(302)
		}, "", is(fetch.ErrRedirect)},
		{"redirect on the same host", func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/data" {
				http.Redirect(w, r, "/moved", http.StatusMovedPermanently)
				return
			}
			write(w, "application/json", "ok")
		}, "ok", nil},
		{"redirects without end", func(w http.ResponseWriter, r *http.Request) {
			http.Redirect(w, r, "/data", http.StatusFound)
		}, "", func(err error) bool { return strings.Contains(err.Error(), "redirects") }},
		{"endless header", func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("X-Long", strings.Repeat("x", 1<<20))
		}, "", func(err error) bool { return err != nil }},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := serve(t, func(w http.ResponseWriter, r *http.Request, _ int) { c.answer(w, r) })
			client := s.client(t, func(o *fetch.Options) {
				o.BaseURL = strings.Replace(s.URL, "http://", "http://anna:hunter2@", 1)
				o.MaxBytes = 1 << 12
				if strings.HasPrefix(c.name, "slow") {
					o.Timeout = 50 * time.Millisecond
				}
			})
			got, err := get(t.Context(), client, request)
			if c.fails == nil {
				if err != nil || got != c.want {
					t.Errorf("got %q, %v, want %q", got, err, c.want)
				}
				return
			}
			if err == nil || !c.fails(err) {
				t.Errorf("got %q, %v", got, err)
			}
			if err != nil && (strings.Contains(err.Error(), "hunter2") || strings.Contains(err.Error(), "anna") || strings.Contains(err.Error(), "http://")) {
				t.Errorf("the error repeats the URL: %v", err)
			}
			// A failure is remembered for a while.
			calls := s.calls.Load()
			_, again := get(t.Context(), client, request)
			if again == nil || s.calls.Load() != calls {
				t.Errorf("asked again at once: %v", again)
			}
		})
	}
	if elsewhere.calls.Load() != 0 {
		t.Error("the other host was asked")
	}
}

func TestNobodyThere(t *testing.T) {
	t.Parallel()
	s := serve(t, nil)
	c := s.client(t, func(o *fetch.Options) { o.BaseURL = strings.Replace(s.URL, "http://", "http://anna:hunter2@", 1) })
	s.Close()
	if _, err := get(t.Context(), c, request); err == nil || strings.Contains(err.Error(), "hunter2") {
		t.Errorf("got %v", err)
	}
}

func TestNewRefuses(t *testing.T) {
	t.Parallel()
	for _, u := range []string{"", "x", "ftp://anna:hunter2@h", "http://", "https://anna:hunter2@h/?key=hunter2", "http://h/#hunter2", "http://anna:hunter2%zz@h", "file:///hunter2"} {
		if _, err := fetch.New(fetch.Options{BaseURL: u}); err == nil || strings.Contains(err.Error(), "hunter2") {
			t.Errorf("%q: got %v", u, err)
		}
	}
}

// TestIdentifies: the request says who asks and what for, below the base's
// path.
func TestIdentifies(t *testing.T) {
	t.Parallel()
	s := serve(t, func(w http.ResponseWriter, r *http.Request, _ int) {
		if r.UserAgent() != "firn test" || r.Header.Get("Accept") != "application/json" || r.URL.Path != "/mirror/data" || r.URL.Query().Get("ids") != "XKLD,XRUN" {
			w.WriteHeader(400)
			return
		}
		write(w, "application/json", "ok")
	})
	c := s.client(t, func(o *fetch.Options) { o.BaseURL += "/mirror/" })
	r := request
	r.Query = map[string][]string{"ids": {"XKLD,XRUN"}}
	if got, err := get(t.Context(), c, r); err != nil || got != "ok" {
		t.Errorf("got %q, %v", got, err)
	}
}

// TestLifetimes: the second look is out of memory for exactly as long as the
// answer's headers allow.
func TestLifetimes(t *testing.T) {
	t.Parallel()
	date := func(d time.Duration) string { return newClock().Now().Add(d).Format(http.TimeFormat) }
	for _, c := range []struct {
		name   string
		header map[string]string
		want   time.Duration
	}{
		{"nothing said", nil, time.Minute},
		{"max-age", map[string]string{"Cache-Control": "public, max-age=300"}, 5 * time.Minute},
		{"max-age less Age", map[string]string{"Cache-Control": "max-age=300", "Age": "100"}, 200 * time.Second},
		{"max-age before Expires", map[string]string{"Cache-Control": "MAX-AGE=\"300\"", "Expires": date(time.Hour)}, 5 * time.Minute},
		{"Expires", map[string]string{"Expires": date(10 * time.Minute), "Date": date(0)}, 10 * time.Minute},
		{"Expires by a clock that is behind", map[string]string{"Expires": date(-50 * time.Minute), "Date": date(-time.Hour)}, 10 * time.Minute},
		{"Expires 0", map[string]string{"Expires": "0"}, 10 * time.Second},
		{"max-age beyond numbers", map[string]string{"Cache-Control": "max-age=99999999999999999999"}, time.Minute},
		{"above the ceiling", map[string]string{"Cache-Control": "max-age=9223372036854775807"}, time.Hour},
		{"no-store", map[string]string{"Cache-Control": "no-store, max-age=300"}, 10 * time.Second},
		{"no-cache", map[string]string{"Cache-Control": "no-cache"}, 10 * time.Second},
		{"max-age=0", map[string]string{"Cache-Control": "max-age=0"}, 10 * time.Second},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := serve(t, func(w http.ResponseWriter, _ *http.Request, call int) {
				w.Header()["Date"] = nil // the server's real one is of another year
				for k, v := range c.header {
					w.Header().Set(k, v)
				}
				write(w, "application/json", strconv.Itoa(call))
			})
			client := s.client(t, nil)
			for i, step := range []time.Duration{0, c.want - time.Second, time.Second} {
				s.clock.Pass(step)
				want := "1"
				if i == 2 {
					want = "2"
				}
				if got, err := get(t.Context(), client, request); err != nil || got != want {
					t.Errorf("look %d: got %q, %v, want %q", i+1, got, err, want)
				}
			}
		})
	}
}

func TestConditional(t *testing.T) {
	t.Parallel()
	const modified = "Sun, 25 Jan 2026 11:00:00 GMT"
	s := serve(t, func(w http.ResponseWriter, r *http.Request, call int) {
		w.Header().Set("Cache-Control", "max-age=60")
		asked := r.Header.Get("If-None-Match") + r.Header.Get("If-Modified-Since")
		switch call {
		case 1:
			w.Header().Set("ETag", `"one"`)
			w.Header().Set("Last-Modified", modified)
			write(w, "application/json", "first"+asked)
		case 2:
			w.WriteHeader(304)
			if asked != `"one"`+modified {
				t.Errorf("asked with %q", asked)
			}
		case 3:
			w.WriteHeader(500)
		case 4:
			if asked != `"one"`+modified { // a failure forgets nothing
				t.Errorf("after a failure asked with %q", asked)
			}
			write(w, "application/json", "second")
		default:
			write(w, "application/json", "third"+asked) // no validators any more
		}
	})
	c := s.client(t, nil)
	for i, want := range []string{"first", "first", "", "second", "third"} {
		got, err := get(t.Context(), c, request)
		if got != want || (want == "") != (err != nil) {
			t.Errorf("look %d: got %q, %v, want %q", i+1, got, err, want)
		}
		s.clock.Pass(time.Minute)
	}
}

func TestRetryAfter(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, header string
		code         int
		want         time.Duration // for any request
	}{
		{"seconds", "120", 429, 2 * time.Minute},
		{"a date", newClock().Now().Add(90 * time.Second).Format(http.TimeFormat), 503, 90 * time.Second},
		{"without end", "999999999", 429, time.Hour},
		{"beyond numbers", "9223372036854775807", 503, time.Hour},
		{"429 without it", "", 429, time.Minute},
		{"429 with nonsense", "soon", 429, time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			s := serve(t, func(w http.ResponseWriter, r *http.Request, call int) {
				if call == 2 {
					w.Header().Set("Retry-After", c.header)
					w.WriteHeader(c.code)
					return
				}
				write(w, "application/json", strconv.Itoa(call))
			})
			client := s.client(t, nil)
			other := request
			other.Path = "/other"
			third := request
			third.Path = "/third"
			if _, err := get(t.Context(), client, other); err != nil {
				t.Fatal(err)
			}
			if _, err := get(t.Context(), client, request); err == nil {
				t.Fatal("want a failure")
			}
			s.clock.Pass(min(c.want-time.Second, 50*time.Second))
			// What is fresh is still given, anything else is not asked for.
			if got, err := get(t.Context(), client, other); err != nil || got != "1" {
				t.Errorf("out of memory: got %q, %v", got, err)
			}
			s.clock.Pass(c.want - time.Second - min(c.want-time.Second, 50*time.Second))
			_, err := get(t.Context(), client, third)
			if _, waits := errors.AsType[*fetch.WaitError](err); !waits || s.calls.Load() != 2 {
				t.Errorf("a second before the end: got %v after %d calls", err, s.calls.Load())
			}
			s.clock.Pass(time.Second)
			if got, err := get(t.Context(), client, third); err != nil || got != "3" {
				t.Errorf("at the end: got %q, %v", got, err)
			}
		})
	}
}

// TestServiceUnavailable without Retry-After stops only what failed.
func TestServiceUnavailable(t *testing.T) {
	t.Parallel()
	s := serve(t, func(w http.ResponseWriter, r *http.Request, call int) {
		if r.URL.Path == "/data" && call == 1 {
			w.WriteHeader(503)
			return
		}
		write(w, "application/json", "ok")
	})
	c := s.client(t, nil)
	if _, err := get(t.Context(), c, request); err == nil {
		t.Error("want a failure")
	}
	other := request
	other.Path = "/other"
	if got, err := get(t.Context(), c, other); err != nil || got != "ok" {
		t.Errorf("got %q, %v", got, err)
	}
	s.clock.Pass(30 * time.Second)
	if got, err := get(t.Context(), c, request); err != nil || got != "ok" {
		t.Errorf("after a while: got %q, %v", got, err)
	}
}

func TestOneAnswerForSeveral(t *testing.T) {
	t.Parallel()
	s := serve(t, func(w http.ResponseWriter, _ *http.Request, _ int) { write(w, "application/json", "ok") })
	c := s.client(t, nil)
	var all sync.WaitGroup
	for range 50 {
		all.Go(func() {
			if got, err := get(t.Context(), c, request); err != nil || got != "ok" {
				t.Errorf("got %q, %v", got, err)
			}
		})
	}
	all.Wait()
	if n := s.calls.Load(); n != 1 {
		t.Errorf("asked %d times", n)
	}
}

func TestConcurrencyIsBounded(t *testing.T) {
	t.Parallel()
	const most = 3
	var now atomic.Int32
	arrived, leave := make(chan struct{}, 10), make(chan struct{})
	s := serve(t, func(w http.ResponseWriter, _ *http.Request, _ int) {
		if n := now.Add(1); n > most {
			t.Errorf("%d at a time", n)
		}
		arrived <- struct{}{}
		<-leave
		now.Add(-1)
		write(w, "application/json", "ok")
	})
	c := s.client(t, func(o *fetch.Options) { o.Concurrent = most })
	var all sync.WaitGroup
	for i := range 10 {
		all.Go(func() {
			r := request
			r.Path = fmt.Sprintf("/%d", i)
			if _, err := get(t.Context(), c, r); err != nil {
				t.Error(err)
			}
		})
	}
	for range most {
		<-arrived
	}
	close(leave)
	all.Wait()
}

func TestCancelledIsNotRemembered(t *testing.T) {
	t.Parallel()
	here := make(chan struct{})
	s := serve(t, func(w http.ResponseWriter, r *http.Request, call int) {
		if call == 1 {
			close(here)
			<-r.Context().Done()
			return
		}
		write(w, "application/json", "ok")
	})
	c := s.client(t, nil)
	ctx, cancel := context.WithCancel(t.Context())
	var all sync.WaitGroup
	all.Go(func() {
		if _, err := get(ctx, c, request); !errors.Is(err, context.Canceled) {
			t.Errorf("got %v, want the context's error", err)
		}
	})
	<-here
	// A second caller stands in line and gets its own answer.
	all.Go(func() {
		if got, err := get(t.Context(), c, request); err != nil || got != "ok" {
			t.Errorf("got %q, %v", got, err)
		}
	})
	cancel()
	all.Wait()
}

func TestMemoryIsBounded(t *testing.T) {
	t.Parallel()
	s := serve(t, func(w http.ResponseWriter, _ *http.Request, _ int) { write(w, "application/json", "ok") })
	c := s.client(t, func(o *fetch.Options) { o.Entries = 4 })
	for i := range 20 {
		r := request
		r.Path = fmt.Sprintf("/%d", i)
		if _, err := get(t.Context(), c, r); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := get(t.Context(), c, fetch.Request{Path: "/19", Types: request.Types, Ceiling: time.Hour}); err != nil || s.calls.Load() != 20 {
		t.Errorf("the last is not remembered: %d calls, %v", s.calls.Load(), err)
	}
}
