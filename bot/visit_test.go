package bot_test

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"firn/bot"
	"firn/bot/present"
	"firn/bot/record"
	"firn/engine/coldwatch"
)

// zoned are bases in the mountains of one zone, seven hours behind UTC in winter.
const zoned = `
stations:
  - {ident: XKLD, name: Kaldmor, elevation_ft: 4802, restriction_c: -25, time_zone: America/Edmonton}
  - {ident: XRUN, name: Runsund, elevation_ft: 4380, restriction_c: -20, time_zone: America/Edmonton}
  - {ident: XEST, name: Estvik, elevation_ft: 300, restriction_c: -15, time_zone: America/Winnipeg}
`

// steady has a forecast of one temperature for a week around a time.
func steady(around time.Time) forecasts {
	f := coldwatch.Forecast{Source: "hourly", Issued: around, ValidFrom: around.AddDate(0, 0, -2), ValidTo: around.AddDate(0, 0, 7)}
	for h := range 9 * 24 {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: f.ValidFrom.Add(time.Duration(h) * time.Hour), C: -30})
	}
	return forecasts{"XKLD": {f}, "XRUN": {f}, "XEST": {f}}
}

// Times of a brief, typed on a winter evening at the bases: it is 18:00 there,
// the next day in UTC.
func TestBriefTimes(t *testing.T) {
	now := time.Date(2026, time.January, 16, 1, 0, 0, 0, time.UTC)
	for _, tt := range []struct{ name, text, want string }{ // the arrivals' instants, or ?word and what to type
		{"local, still today", "brief XKLD 1930 local", "16T02:30Z"},
		{"local, gone by", "brief XKLD 1430 local", "16T21:30Z"},
		{"half an hour late", "brief XKLD 1730 local", "16T00:30Z"},
		{"no zone is UTC", "brief XKLD 1430", "16T14:30Z"},
		{"no zone is the other stop's", "brief XKLD 1930 local XRUN 2015", "16T02:30Z 16T03:15Z"},
		{"UTC", "brief XKLD 1430Z", "16T14:30Z"},
		{"UTC as a word", "brief XKLD 1430 UTC", "16T14:30Z"},
		{"zulu", "brief XKLD eta 1430 zulu", "16T14:30Z"},
		{"with the day of the month", "brief XKLD 171430Z", "17T14:30Z"},
		{"each with its day of the month", "brief XKLD 161430Z, XRUN 161530Z XKLD 170030Z", "16T14:30Z 16T15:30Z 17T00:30Z"},
		{"from now", "brief XKLD in 2h", "16T03:00Z"},
		{"today is the base's", "brief XKLD 1930 local today", "16T02:30Z"},
		{"today in UTC is the base's", "brief XKLD 0230Z today", "16T02:30Z"},
		{"tomorrow is the base's", "brief XKLD 1430 local tomorrow", "16T21:30Z"},
		{"tomorrow in UTC is the base's", "brief XKLD 0230Z tomorrow", "17T02:30Z"},
		{"tomorrow stands before its stop", "brief tomorrow XKLD 1430 local", "16T21:30Z"},
		{"tomorrow binds to its own stop", "brief XKLD 1930 local XRUN tomorrow 0815 local", "16T02:30Z 16T15:15Z"},
		{"the second stop is on the first one's day", "brief XKLD tomorrow 1930 local XRUN 2015 local", "17T02:30Z 17T03:15Z"},
		{"after midnight", "brief XKLD 2330 local XRUN 0015 local", "16T06:30Z 16T07:15Z"},
		{"another zone", "brief XKLD 1930 local XEST 2200 local", "16T02:30Z 16T04:00Z"},
		{"late on the same day", "brief XKLD 0800 local XRUN 2130 local", "16T15:00Z 17T04:30Z"},

		{"gone by", "brief XKLD 1430 local today", "?1430 local today: brief XKLD 1430 local tomorrow"},
		{"a day that has gone by", "brief XKLD 141430Z", "?141430Z: "},
		{"the second before the first", "brief XKLD 1930 local XRUN 1915 local", "?1915 local: brief XKLD 1930 local XRUN 1915 local tomorrow"},
		{"the second before the first, by its day", "brief XKLD 1430 local tomorrow XRUN 2000 local today", "?2000 local today: brief XRUN 2000 local today XKLD 1430 local tomorrow"},
		{"the alternate before its stop", "brief XKLD 1930 local alternate XRUN 1915 local", "?1915 local: brief XKLD 1930 local alternate XRUN 1915 local tomorrow"},
	} {
		t.Run(tt.name, func(t *testing.T) { briefTimes(t, now, tt.text, tt.want) })
	}
}

// The clocks of the bases went forward on 8 March 2026 at 02:00 and back on 1
// November at 02:00 (IANA time zone database, America/Edmonton, in winter −7).
func TestBriefClocksChange(t *testing.T) {
	for _, tt := range []struct {
		name, now, text, want string
	}{
		{"an hour that is skipped", "2026-03-08T02:00:00Z", "brief XKLD 0230 local", "?0230 local: "},
		{"the hour after it", "2026-03-08T02:00:00Z", "brief XKLD 0330 local", "08T09:30Z"},
		{"the day before", "2026-03-07T02:00:00Z", "brief XKLD 0230 local", "07T09:30Z"},
		{"an hour that comes twice", "2026-11-01T02:00:00Z", "brief XKLD 0130 local", "?0130 local: brief XKLD 010730Z"},
		{"the first of the two", "2026-11-01T02:00:00Z", "brief XKLD 010730Z", "01T07:30Z"},
		{"the hour after them", "2026-11-01T02:00:00Z", "brief XKLD 0230 local", "01T09:30Z"},
		{"both are to come or may be late", "2026-11-01T08:25:00Z", "brief XKLD 0130 local", "?0130 local: brief XKLD 010730Z"},
		{"the first has gone by", "2026-11-01T08:31:00Z", "brief XKLD 0130 local", "01T08:30Z"},
		{"the second may be late", "2026-11-01T09:29:00Z", "brief XKLD 0130 local", "01T08:30Z"},
		{"the second may be late, of today", "2026-11-01T09:29:00Z", "brief XKLD 0130 local today", "01T08:30Z"},
		{"both have gone by", "2026-11-01T09:31:00Z", "brief XKLD 0130 local", "02T08:30Z"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			now, err := time.Parse(time.RFC3339, tt.now)
			if err != nil {
				t.Fatal(err)
			}
			briefTimes(t, now, tt.text, tt.want)
		})
	}
}

func briefTimes(t *testing.T, now time.Time, text, want string) {
	b := botOf(t, zoned)
	b.Use(bot.Ports{Forecasts: steady(now)})
	r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: text, At: now})
	if err != nil {
		t.Fatal(err)
	}
	var got []string
	for _, a := range r.Arrivals {
		got = append(got, a.At.Format("02T15:04Z"))
	}
	if r.Problem != nil {
		got = []string{"?" + r.Problem.Word + ": " + r.Problem.Try}
	}
	if all := strings.Join(got, " "); all != want {
		t.Errorf("got %q, want %q (%+v)", all, want, r.Problem)
	}
	if r.Problem == nil || r.Problem.Try == "" {
		return
	}
	if r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: r.Problem.Try, At: now}); err != nil || r.Problem != nil {
		t.Errorf("the line to type is asked about: %+v, %v", r.Problem, err)
	}
}

// TestBriefNextDay: a time that has just gone by is the next day's, and that is seen.
func TestBriefNextDay(t *testing.T) {
	for _, tt := range []struct{ now, text, line, note string }{
		{"2026-01-16T09:29:00Z", "brief XKLD 01:30 local", "XKLD 08:30Z, ", ""},
		{"2026-01-16T09:31:00Z", "brief XKLD 01:30 local", "XKLD Sat 08:30Z, ", "0130 local at XKLD has gone by today: this is Sat 17 Jan 01:30 local (08:30Z), tomorrow."},
		{"2026-01-16T12:31:00Z", "brief XKLD 01:30 local", "XKLD Sat 08:30Z, ", ""}, // the next night is meant
		{"2026-01-16T09:31:00Z", "brief XKLD 01:30 local tomorrow", "XKLD Sat 08:30Z, ", ""},
	} {
		now, err := time.Parse(time.RFC3339, tt.now)
		if err != nil {
			t.Fatal(err)
		}
		b := botOf(t, zoned)
		b.Use(bot.Ports{Forecasts: steady(now)})
		r, err := b.Handle(t.Context(), bot.Message{Surface: "console", Text: tt.text, At: now})
		if err != nil {
			t.Fatal(err)
		}
		var lines []string
		for _, block := range present.Of(r).Short {
			lines = append(lines, fmt.Sprintf("%+v", block))
		}
		screen := strings.Join(lines, "\n")
		if said := strings.Contains(strings.Join(r.Notes, "\n"), "has gone by today"); !strings.Contains(screen, tt.line) || said != (tt.note != "") || !strings.Contains(screen, tt.note) {
			t.Errorf("%s: notes %q, want %q; the screen has not %q:\n%s", tt.now, r.Notes, tt.note, tt.line, screen)
		}
	}
}

// A brief that is computed again has the arrivals that it had, without those
// that have gone by.
func TestBriefRecomputedIsOfTheSameArrivals(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		start := time.Now() // 2000-01-01T00:00Z
		r := newRoom(t, record.Settings{})
		r.bot = botOf(t, zoned)
		r.bot.Use(bot.Ports{Book: r.book, Observer: r, Forecasts: steady(start)})
		out := r.says("anna", "t", "brief XKLD 1830 local XRUN 2015") // 17:00 at both
		name := r.name(out)
		want := []time.Time{start.Add(90 * time.Minute), start.Add(3*time.Hour + 15*time.Minute)}
		check := func(when string, want []time.Time) {
			t.Helper()
			out := r.says("anna", "t", "recompute "+name)
			if out.Problem != nil {
				t.Fatalf("%s: it asks %+v", when, *out.Problem)
			}
			name = r.name(out)
			if len(out.Arrivals) != len(want) {
				t.Fatalf("%s: got %d arrivals, want %d", when, len(out.Arrivals), len(want))
			}
			for i, a := range out.Arrivals {
				if !a.At.Equal(want[i]) {
					t.Errorf("%s: arrival %d is at %v, want %v", when, i+1, a.At, want[i])
				}
			}
		}
		check("at once", want)
		time.Sleep(2 * time.Hour)
		check("the first is half an hour late", want)
		time.Sleep(time.Hour)
		check("the first has gone by", want[1:])
		check("and again", want[1:])
		time.Sleep(75 * time.Minute)
		if out := r.says("anna", "t", "recompute "+name); out.Problem == nil || !strings.Contains(out.Problem.Text, "gone by") {
			t.Errorf("all has gone by: got %+v", out)
		}
	})
}
