package page

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/chat"
	"firn/bot/drawing"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/engine"
	"firn/engine/coldwatch"
)

// TestCounts: what is cold as observed alone is counted so, and a base near its
// line waits for nobody, as in the watch's posts.
func TestCounts(t *testing.T) {
	p := empty(t)
	now := time.Date(2026, 1, 15, 13, 0, 0, 0, time.UTC)
	p.o.Now = func() time.Time { return now }
	one := func(ident, state string, observed engine.Celsius) base {
		b := base{Cold: reply.Cold{Ident: ident, State: state, RestrictionC: reply.Some(-25)}, seen: watch.Seen{Open: true}}
		b.observed.C, b.observed.At = observed, now.Add(-time.Hour)
		return b
	}
	p.board, p.at = []base{one("XKLD", "below", -20), one("XRUN", "below", -26), one("XGLN", "clear", -26), one("XFRN", "near", -20)}, now
	v := p.boardNow(true)
	if len(v.Tally) != 2 || v.Tally[0].Text != "3 at or below (1 as observed)" || v.Tally[1].Text != "1 near" {
		t.Errorf("the strip: %+v", v.Tally)
	}
	if v.Groups[0].Observed != "(1 as observed)" || v.Groups[0].Unseen != 3 || v.Groups[1].Unseen != 0 || v.Groups[1].Bases[0].CanSee {
		t.Errorf("the board: %+v", v.Groups)
	}
}

// TestSeenAll: where one base of a morning can be seen, the button for all says so.
func TestSeenAll(t *testing.T) {
	p := empty(t)
	line := func(ident string) reply.DigestLine {
		return reply.DigestLine{Zone: time.UTC, Asks: true, Cold: reply.Cold{Ident: ident, State: "below", LowC: reply.Some(-31), RestrictionC: reply.Some(-25)}}
	}
	for bases, want := range map[int]string{1: ">Seen<", 2: ">Seen all<"} {
		r := reply.MorningDigest(reply.DigestScene{Day: "2026-01-15", Bases: []reply.DigestLine{line("XKLD"), line("XRUN")}[:bases]})
		if html := p.Shown(chat.Message{Reply: r}); !strings.Contains(html, want) {
			t.Errorf("of %d bases no button %s in %s", bases, want, html)
		}
	}
}

// TestNote: thanks have no empty answer.
func TestNote(t *testing.T) {
	if html := empty(t).Shown(chat.Message{Reply: reply.Reply{Kind: reply.KindNote}}); !strings.Contains(html, ">Noted.<") || strings.Contains(html, "Answer") {
		t.Errorf("thanks are shown as %s", html)
	}
}

// TestBaseTellsEachNight: two cold nights with a warm day between them are not one on
// a base's page, which is also what an open page gets.
func TestBaseTellsEachNight(t *testing.T) {
	from := time.Now().UTC().Truncate(time.Hour)
	night := &coldwatch.Forecast{ValidFrom: from, ValidTo: from.Add(24 * time.Hour)}
	for h, c := range map[int]engine.Celsius{1: -31, 2: -20, 8: -30, 9: -19} {
		night.Hourly = append(night.Hourly, coldwatch.Sample{At: from.Add(time.Duration(h) * time.Hour), C: c})
	}
	slices.SortFunc(night.Hourly, func(a, b coldwatch.Sample) int { return a.At.Compare(b.At) })
	r := newRoom(t, roomOptions{limits: generous, set: func(p *Page) {
		p.o.Day = func(context.Context, string) (drawing.Drawing, bool) {
			return drawing.DayOf(drawing.Base{Ident: "XKLD"}, night, coldwatch.Window{From: from, To: from.Add(12 * time.Hour)}, coldwatch.Line{Restriction: -25}, from)
		}
	}})
	board := boardOf()
	i := slices.IndexFunc(board, func(c reply.Cold) bool { return c.Ident == "XKLD" })
	board[i].BelowFrom, board[i].BelowTo, board[i].Estimated = from.Add(time.Hour), from.Add(9*time.Hour), false
	r.page.Show(board, time.Now())
	text := parse(t, r.open(t, "", "").get(t, "/base/XKLD").body).id("base").read()
	if want := from.Add(2*time.Hour).Format("15:04Z") + "), and "; !strings.Contains(text, want) {
		t.Errorf("it says %s, want %q in it", text, want)
	}
}
