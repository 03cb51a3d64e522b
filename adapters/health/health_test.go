package health_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"firn/adapters/health"
	"firn/bot/app"
	"firn/bot/outbox"
)

func get(t *testing.T, h http.Handler, path string) (int, string) {
	t.Helper()
	s := httptest.NewServer(h)
	defer s.Close()
	r, err := http.Get(s.URL + path)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return r.StatusCode, string(body)
}

func handler(t *testing.T, checks []app.Check, gauges []app.Gauge) http.Handler {
	t.Helper()
	h, err := health.Handler(slog.New(slog.DiscardHandler), checks, gauges)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestAlive(t *testing.T) {
	// A check that fails makes it unready, not dead.
	h := handler(t, []app.Check{{Name: "store", Run: func(context.Context) error { return errors.New("away") }}}, nil)
	if code, body := get(t, h, "/healthz"); code != 200 || strings.TrimSpace(body) != "alive" {
		t.Errorf("/healthz = %d %q, want 200 alive", code, body)
	}
}

func TestReady(t *testing.T) {
	var down error
	h := handler(t, []app.Check{
		{Name: "store", Run: func(context.Context) error { return down }},
		{Name: "clock", Run: func(context.Context) error { return nil }},
	}, nil)
	if code, body := get(t, h, "/readyz"); code != 200 || strings.TrimSpace(body) != `{"clock":"ok","store":"ok"}` {
		t.Errorf("/readyz = %d %s, want 200 and both ok", code, body)
	}
	down = errors.New("the store does not answer")
	if code, body := get(t, h, "/readyz"); code != 503 || !strings.Contains(body, `"store":"the store does not answer"`) {
		t.Errorf("/readyz = %d %s, want 503 naming the store", code, body)
	}
}

func TestMetrics(t *testing.T) {
	h := handler(t, nil, []app.Gauge{
		{Name: "firn_watch_bases", Help: "Bases by state.", Labels: []string{"state"}, Read: func(context.Context) ([]app.Sample, error) {
			return []app.Sample{{Labels: []string{"below"}, Value: 2}, {Labels: []string{"clear"}, Value: 7}}, nil
		}},
		{Name: "firn_outbox_waiting", Help: "Posts that wait.", Read: func(context.Context) ([]app.Sample, error) {
			return nil, errors.New("the store does not answer")
		}},
		{Name: "firn_messages_total", Help: "Messages answered.", Counter: true, Read: func(context.Context) ([]app.Sample, error) {
			return []app.Sample{{Value: 3}}, nil
		}},
	})
	code, body := get(t, h, "/metrics")
	if code != 200 {
		t.Fatalf("/metrics = %d, want 200", code)
	}
	for _, want := range []string{`firn_watch_bases{state="below"} 2`, `firn_watch_bases{state="clear"} 7`, "firn_messages_total 3", "# TYPE firn_messages_total counter", "go_goroutines"} {
		if !strings.Contains(body, want) {
			t.Errorf("/metrics lacks %q", want)
		}
	}
	// A figure that cannot be read is missing, not zero.
	if strings.Contains(body, "firn_outbox_waiting") {
		t.Error("/metrics shows firn_outbox_waiting, which could not be read")
	}
}

func TestNoOtherPage(t *testing.T) {
	if code, _ := get(t, handler(t, nil, nil), "/"); code != 404 {
		t.Errorf("/ = %d, want 404", code)
	}
}

// TestInside: which check fails and what the figures are is told on this
// machine alone.
func TestInside(t *testing.T) {
	var down error
	h := handler(t, []app.Check{{Name: "store", Run: func(context.Context) error { return down }}}, []app.Gauge{
		{Name: "firn_bases", Help: "Bases.", Read: func(context.Context) ([]app.Sample, error) { return []app.Sample{{Value: 7}}, nil }},
	})
	ask := func(path, from, host string, head map[string]string) (int, string) {
		r := httptest.NewRequest("GET", path, nil)
		r.RemoteAddr, r.Host = from, host
		for k, v := range head {
			r.Header.Set(k, v)
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		return w.Code, w.Body.String()
	}
	for _, c := range []struct {
		from, host string
		head       map[string]string
		inside     bool
	}{
		{"127.0.0.1:4000", "127.0.0.1:7470", nil, true},
		{"127.0.0.1:4000", "localhost:7470", nil, true},
		{"[::1]:4000", "[::1]:7470", nil, true},
		{"[::ffff:127.0.0.1]:4000", "localhost", nil, true},
		{"10.1.2.3:4000", "10.1.2.4:7470", nil, false},
		{"10.1.2.3:4000", "localhost", nil, false},
		{"127.0.0.1:4000", "firn.example.org", nil, false},
		{"127.0.0.1:4000", "localhost", map[string]string{"X-Forwarded-For": "10.1.2.3"}, false},
		{"127.0.0.1:4000", "localhost", map[string]string{"Forwarded": "for=10.1.2.3"}, false},
		{"pipe", "localhost", nil, false},
	} {
		for _, d := range []error{nil, errors.New("the store at 10.9.9.9 does not answer")} {
			down = d
			code, body := ask("/readyz", c.from, c.host, c.head)
			want, status := "ready\n", 200
			if d != nil {
				want, status = "not ready\n", 503
			}
			if tells := strings.Contains(body, "store"); code != status || tells != c.inside || !c.inside && body != want {
				t.Errorf("/readyz from %s to %s with %v = %d %q", c.from, c.host, c.head, code, body)
			}
			code, body = ask("/metrics", c.from, c.host, c.head)
			if tells := strings.Contains(body, "firn_bases") || strings.Contains(body, "go_goroutines"); code != 200 || tells != c.inside || !c.inside && strings.Contains(body, "firn_ready 1") != (d == nil) {
				t.Errorf("/metrics from %s to %s with %v = %d %q", c.from, c.host, c.head, code, body)
			}
		}
	}
}

// TestMeters: what is counted as it happens stands in the figures, with zero
// for what has not happened yet.
func TestMeters(t *testing.T) {
	m := health.NewMeters(health.Build{Version: "v1"})
	m.Answered("page", app.Answered, 500*time.Millisecond)
	m.Answered("page", app.Question, 5*time.Second)
	m.Attempt("slack", outbox.Retried, time.Second)
	m.Attempt("slack", outbox.Sent, 2*time.Second)
	h, err := health.Handler(slog.New(slog.DiscardHandler), nil, nil, m.Collectors()...)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{
		"firn_records_not_kept_total 0", "firn_errors_total 0", `firn_build_info{calculation="",commit="",go="",version="v1"} 1`,
		`firn_answers_total{outcome="answered",surface="page"} 1`, `firn_answers_total{outcome="question",surface="page"} 1`,
		`firn_answer_seconds_bucket{surface="page",le="1"} 1`, `firn_answer_seconds_bucket{surface="page",le="10"} 2`, `firn_answer_seconds_sum{surface="page"} 5.5`,
		`firn_post_attempts_total{outcome="retried",surface="slack"} 1`, `firn_post_lag_seconds_count{surface="slack"} 1`,
	} {
		if _, body := get(t, h, "/metrics"); !strings.Contains(body, want) {
			t.Errorf("no %q in the figures", want)
		}
	}
	m.NotKept()
	slog.New(m.Log(slog.NewTextHandler(io.Discard, nil))).With("a", 1).WithGroup("g").Error("wrong")
	for _, want := range []string{"firn_records_not_kept_total 1", "firn_errors_total 1"} {
		if _, body := get(t, h, "/metrics"); !strings.Contains(body, want) {
			t.Errorf("no %q in the figures", want)
		}
	}
	if _, err := health.Handler(slog.New(slog.DiscardHandler), nil, nil, append(m.Collectors(), m.Collectors()...)...); err == nil {
		t.Error("two figures of one name")
	}
}
