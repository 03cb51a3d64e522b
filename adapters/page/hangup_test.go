package page

import (
	"context"
	"errors"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"

	"firn/bot/record"
)

// broken is a record whose store does not answer.
type broken struct{ Records }

func (broken) List(ctx context.Context, _ record.Query) ([]record.Record, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return nil, errors.New("the store does not answer")
}

func (broken) Viewer(record.Person) *record.Viewer { return nil }

// TestHungUp: a reader who is gone is no error in the log; a store that does not
// answer is one.
func TestHungUp(t *testing.T) {
	for _, c := range []struct {
		name  string
		level slog.Level
		gone  bool
		want  string
	}{
		{"the store fails", slog.LevelInfo, false, "level=ERROR"},
		{"the reader is gone", slog.LevelDebug, true, "level=DEBUG msg=\"page not made\""},
		{"the reader is gone, and debugging is off", slog.LevelInfo, true, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			var said strings.Builder
			p, err := New(slog.New(slog.NewTextHandler(&said, &slog.HandlerOptions{Level: c.level})), Options{Records: broken{}})
			if err != nil {
				t.Fatal(err)
			}
			ctx, hangUp := context.WithCancel(t.Context())
			if c.gone {
				hangUp()
			}
			defer hangUp()
			p.Handler().ServeHTTP(httptest.NewRecorder(), httptest.NewRequestWithContext(ctx, "GET", "http://127.0.0.1/log", nil))
			got := said.String()
			if c.want == "" && got != "" || !strings.Contains(got, c.want) || c.gone && strings.Contains(got, "ERROR") {
				t.Errorf("the log says %q, want %q", got, c.want)
			}
		})
	}
}
