package page

import (
	"html"
	"log/slog"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/sendertest"
)

func utc(string) *time.Location { return time.UTC }

func get(t *testing.T, p *Page) string {
	t.Helper()
	h, err := p.Handler()
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequest("GET", "/", nil))
	if w.Code != 200 {
		t.Fatalf("GET / = %d", w.Code)
	}
	return w.Body.String()
}

func TestSuite(t *testing.T) {
	sendertest.Run(t, func(*testing.T) sendertest.Surface {
		p := New(slog.New(slog.DiscardHandler), utc)
		return sendertest.Surface{
			Sender:   p,
			Channels: []string{"page", "page:two"},
			// The page is one for all channels; what stands on one is told by
			// its posts.
			Text: func(t *testing.T, channel string) string {
				t.Helper()
				only := New(p.log, utc)
				p.mu.Lock()
				for _, o := range p.posts {
					if o.Channel == channel {
						only.posts = append(only.posts, o)
					}
				}
				p.mu.Unlock()
				return html.UnescapeString(get(t, only))
			},
		}
	})
}

func TestBoard(t *testing.T) {
	p := New(slog.New(slog.DiscardHandler), utc)
	if got := get(t, p); !strings.Contains(got, "not been looked at yet") {
		t.Errorf("an empty page does not say so:\n%s", got)
	}
	p.Show([]reply.Cold{{Ident: "XKLD", State: "below"}, {Ident: "XHGH", State: "no-forecast", Note: "<script>alert(1)</script>"}}, time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC))
	got := get(t, p)
	for _, want := range []string{"As of Thu 15 Jan 13:00Z.", "XKLD: BELOW, hours not known.", "XHGH: NO FORECAST; &lt;script&gt;"} {
		if !strings.Contains(got, want) {
			t.Errorf("the page has no %q:\n%s", want, got)
		}
	}
}

func TestOldPostsMakeRoom(t *testing.T) {
	p := New(slog.New(slog.DiscardHandler), utc)
	for i := range kept + 5 {
		key := "alert/XKLD/" + time.Date(2026, 1, 1+i, 0, 0, 0, 0, time.UTC).Format(time.DateOnly) + "/1"
		if _, err := p.Send(t.Context(), outbox.Post{Key: key, Channel: "page"}); err != nil {
			t.Fatal(err)
		}
	}
	if len(p.posts) != kept {
		t.Errorf("%d posts are kept, want %d", len(p.posts), kept)
	}
	if _, found, _ := p.Find(t.Context(), "page", "alert/XKLD/2026-01-01/1"); found {
		t.Error("the oldest post is still there")
	}
}
