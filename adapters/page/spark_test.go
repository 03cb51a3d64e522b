package page

import (
	"context"
	"log/slog"
	"strings"
	"testing"
	"time"

	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// TestSparks: each base of the board has its day small, drawn once for a
// forecast.
func TestSparks(t *testing.T) {
	at := time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
	asked := map[string]int{}
	p, err := New(slog.New(slog.DiscardHandler), Options{Limits: generous, Day: func(_ context.Context, ident string) (drawing.Drawing, bool) {
		asked[ident]++
		f := &coldwatch.Forecast{Source: "invented", Issued: at, ValidFrom: at, ValidTo: at.Add(12 * time.Hour)}
		switch ident {
		case "XKLD":
			for h := range 12 {
				f.Hourly = append(f.Hourly, coldwatch.Sample{At: at.Add(time.Duration(h) * time.Hour), C: engine.Celsius(-31 + h)})
			}
		case "XRUN":
			f.Minimums = []coldwatch.Sample{{At: at.Add(time.Hour), C: -18}}
		default:
			return nil, false
		}
		d, ok := drawing.DayOf(drawing.Base{Ident: ident}, f, coldwatch.Window{From: at, To: at.Add(12 * time.Hour)}, coldwatch.Line{Restriction: -25, Margin: 3}, at)
		return d, ok
	}})
	if err != nil {
		t.Fatal(err)
	}
	bases := []reply.Cold{
		{Ident: "XKLD", State: "below", LowC: reply.Some(-31), LowAt: at, Issued: at},
		{Ident: "XRUN", State: "near", LowC: reply.Some(-18), LowAt: at, Issued: at},
		{Ident: "XHGH", State: "no-forecast"},
	}
	p.Show(bases, at)
	b := reader(t, p)
	for range 2 {
		page := parse(t, b.get(t, "/board").body)
		for i, want := range []struct{ curves, points, lines int }{{1, 0, 1}, {0, 1, 1}, {0, 0, 0}} {
			var curves, points, lines int
			for _, tile := range page.id("board").all(func(n *node) bool {
				return strings.HasPrefix(n.attrs["class"], "base ") && strings.Contains(n.read(), bases[i].Ident)
			}) {
				curves += len(tile.all(func(n *node) bool { return n.attrs["class"] == "curve" }))
				lines += len(tile.all(func(n *node) bool { return n.attrs["class"] == "limit-line" }))
				for _, s := range tile.all(func(n *node) bool { return n.attrs["class"] == "spark" }) {
					points += len(s.named("circle"))
				}
			}
			if curves != want.curves || points != want.points || lines != want.lines {
				t.Errorf("%s has %d curves, %d points, %d lines, want %+v", bases[i].Ident, curves, points, lines, want)
			}
		}
	}
	bases[0].Issued = at.Add(time.Hour)
	p.Show(bases, at)
	b.get(t, "/board")
	if asked["XKLD"] != 2 || asked["XRUN"] != 1 || asked["XHGH"] != 1 {
		t.Errorf("the days were asked for %v times", asked)
	}
}
