package page

import (
	"bufio"
	"context"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"firn/bot/pagestate"
	"firn/bot/record"
	"firn/bot/reply"
)

// counted are records of which there is one more with each change.
type counted struct {
	made, read atomic.Int64
}

func (c *counted) List(context.Context, record.Query) ([]record.Record, error) {
	c.read.Add(1)
	var r record.Record
	r.ID, r.Reply.Station.Ident, r.At = "KALOMI-RUTA", "XKLD", time.Date(2026, 1, 15, 6, 0, int(c.made.Load()%60), 0, time.UTC)
	r.Asked.Name = strings.Repeat("N", int(c.made.Load()))
	return []record.Record{r}, nil
}

func (c *counted) Find(context.Context, string) (record.Record, bool, error) {
	return record.Record{}, false, nil
}
func (c *counted) Viewer(record.Person) *record.Viewer { return &record.Viewer{} }
func (c *counted) Render(record.Record) reply.Reply    { return reply.Reply{} }
func (c *counted) State(record.Record) record.State    { return record.Unchecked }
func (c *counted) Unchecked(record.Record) bool        { return true }

// TestLogIsMadeForAll opens the log in several browsers while records come one
// after the other: it is not made for each record and browser, and in the end
// all show the last one.
func TestLogIsMadeForAll(t *testing.T) {
	const browsers, changes = 5, 100
	records := &counted{}
	p, err := New(slog.New(slog.DiscardHandler), Options{Limits: generous, Records: records})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(p.Handler())
	defer server.Close()
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Second)
	defer cancel()
	var open, shown sync.WaitGroup
	for range browsers {
		open.Add(1)
		shown.Go(func() {
			req, err := http.NewRequestWithContext(ctx, http.MethodGet, server.URL+"/live?on=%2Flog", nil)
			if err != nil {
				t.Error(err)
			}
			resp, err := http.DefaultClient.Do(req)
			if err != nil {
				t.Error(err)
				open.Done()
				return
			}
			defer resp.Body.Close()
			lines := bufio.NewScanner(resp.Body)
			lines.Buffer(nil, 1<<20)
			for first := true; lines.Scan(); {
				if strings.HasPrefix(lines.Text(), "data: ") && first {
					first = false
					open.Done()
				}
				if strings.Contains(lines.Text(), strings.Repeat("N", changes)) {
					return
				}
			}
			t.Errorf("the last record is not shown: %v", lines.Err())
		})
	}
	open.Wait()
	pace := time.NewTicker(time.Millisecond)
	defer pace.Stop()
	for range changes {
		<-pace.C
		records.made.Add(1)
		p.Changed(pagestate.Change{Kind: pagestate.Record, ID: "KALOMI-RUTA"})
	}
	shown.Wait()
	if n := records.read.Load(); n > browsers*changes/5 {
		t.Errorf("the log was read %d times for %d changes in %d browsers", n, changes, browsers)
	}
}
