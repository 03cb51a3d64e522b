package ops_test

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"firn/adapters/ops"
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

func handler(t *testing.T, checks []ops.Check, gauges []ops.Gauge) http.Handler {
	t.Helper()
	h, err := ops.Handler(slog.New(slog.DiscardHandler), checks, gauges)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func TestAlive(t *testing.T) {
	// A check that fails makes it unready, not dead.
	h := handler(t, []ops.Check{{Name: "store", Run: func(context.Context) error { return errors.New("away") }}}, nil)
	if code, body := get(t, h, "/healthz"); code != 200 || strings.TrimSpace(body) != "alive" {
		t.Errorf("/healthz = %d %q, want 200 alive", code, body)
	}
}

func TestReady(t *testing.T) {
	var down error
	h := handler(t, []ops.Check{
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
	h := handler(t, nil, []ops.Gauge{
		{Name: "firn_watch_bases", Help: "Bases by state.", Labels: []string{"state"}, Read: func(context.Context) ([]ops.Sample, error) {
			return []ops.Sample{{[]string{"below"}, 2}, {[]string{"clear"}, 7}}, nil
		}},
		{Name: "firn_outbox_waiting", Help: "Posts that wait.", Read: func(context.Context) ([]ops.Sample, error) {
			return nil, errors.New("the store does not answer")
		}},
		{Name: "firn_messages_total", Help: "Messages answered.", Counter: true, Read: func(context.Context) ([]ops.Sample, error) {
			return []ops.Sample{{Value: 3}}, nil
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
