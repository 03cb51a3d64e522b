package watch_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/testclock"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// line is a day's alerts, the minute after 06:00 at which each was made, and
// the channels that each went to.
func (s *stage) line(day string) string {
	s.Helper()
	posts := map[string][]string{}
	for _, c := range s.posts() {
		posts[c.Key] = append(posts[c.Key], c.Channel)
	}
	var out []string
	for _, a := range s.day(day).Alerts {
		out = append(out, fmt.Sprintf("%d %s/%v %v", int(a.Made.Sub(six).Minutes()), a.Kind, a.Judgement.State, posts[a.Key()]))
	}
	return strings.Join(out, ", ")
}

var errDown = errors.New("awc: 503 from the service")

func TestTransitions(t *testing.T) {
	cold := curve(at(-30), -30)
	for _, tt := range []struct {
		name string
		do   func(*stage)
		want string
	}{
		{"clear, and silent", func(s *stage) { s.run(-5, 730) }, "0 opened/clear []"},
		{"clear, and said", func(s *stage) {
			s.set.DailyQuiet = true
			s.restart()
			s.run(-5, 730)
		}, "0 opened/clear [page]"},
		{"near is told once", func(s *stage) {
			s.says = curve(at(-30), -23)
			s.run(-5, 730)
		}, "0 opened/near [page]"},
		{"below, repeated, escalated to each on duty, closed with its window", func(s *stage) {
			s.says = cold
			s.run(-5, 725)
		}, "0 opened/below [page], 30 repeated/below [page], 60 escalated/below [slack:U01], 120 escalated/below [discord:42], 720 ended/below [discord:42 page slack:U01]"},
		{"nobody on duty", func(s *stage) {
			s.says, s.set.Duty = cold, nil
			s.restart()
			s.run(0, 200)
		}, "0 opened/below [page], 30 repeated/below [page], 60 escalated/below [page]"},
		{"repeated every ten minutes until it is escalated", func(s *stage) {
			s.says, s.set.Repeat, s.set.Escalate = cold, 10*time.Minute, 30*time.Minute
			s.restart()
			s.run(0, 40)
		}, "0 opened/below [page], 10 repeated/below [page], 20 repeated/below [page], 30 escalated/below [slack:U01]"},
		{"acknowledged", func(s *stage) {
			s.says = cold
			s.run(0, 10)
			s.acknowledge(true)
			s.run(11, 725)
		}, "0 opened/below [page], 720 ended/below [page]"},
		{"acknowledged after the repeat", func(s *stage) {
			s.says = cold
			s.run(0, 40)
			s.acknowledge(true)
			s.run(41, 400)
		}, "0 opened/below [page], 30 repeated/below [page]"},
		{"a change wants its own acknowledgement", func(s *stage) {
			s.says = cold
			s.run(0, 10)
			s.acknowledge(true)
			s.says = curve(at(20), -34)
			s.run(11, 70)
		}, "0 opened/below [page], 30 amended/below [page], 60 repeated/below [page]"},
		{"snoozed for two hours, then repeated, then escalated", func(s *stage) {
			s.says = cold
			s.run(0, 10)
			s.snooze(2*time.Hour, true)
			s.run(11, 200)
		}, "0 opened/below [page], 130 repeated/below [page], 160 repeated/below [page], 190 escalated/below [slack:U01]"},
		{"snoozing holds what only moved, and not what crosses", func(s *stage) {
			s.says = curve(at(-30), -29, -29, -29, -30)
			s.run(0, 10)
			s.snooze(2*time.Hour, true)
			s.says = curve(at(20), -26)
			s.run(11, 100)
			s.says = curve(at(100), -24)
			s.run(101, 125)
		}, "0 opened/below [page], 120 amended/near [page]"},
		{"what only moved is told when the snooze ends", func(s *stage) {
			s.says = curve(at(-30), -29, -29, -29, -30)
			s.run(0, 10)
			s.snooze(time.Hour, true)
			s.says = curve(at(20), -26)
			s.run(11, 100)
		}, "0 opened/below [page], 70 repeated/below [page], 90 amended/below [page]"},
		{"a snooze is of what was known: not of a colder cold later in the day", func(s *stage) {
			s.says = curve(at(-30), -30, -26, -20, -20, -20, -20)
			s.run(0, 10)
			s.snooze(10*time.Hour, true)
			s.says = curve(at(20), -30, -26, -20, -20, -26, -26, -34)
			s.run(11, 40)
			s.snooze(9*time.Hour, true)
			s.run(41, 200)
		}, "0 opened/below [page], 30 amended/below [page]"},
		{"moved by the step exactly", func(s *stage) {
			s.says = cold
			s.run(0, 1)
			s.acknowledge(true)
			s.says = curve(at(20), -33)
			s.run(2, 100)
		}, "0 opened/below [page]"},
		{"turns cold, turns warm, turns cold again", func(s *stage) {
			s.run(0, 20)
			s.says = curve(at(20), -26)
			s.run(21, 50)
			s.says = curve(at(50), -10)
			s.run(51, 80)
			s.says = curve(at(80), -26)
			s.run(81, 100)
		}, "0 opened/clear [], 30 amended/below [page], 60 all-clear/clear [page], 90 amended/below [page]"},
		{"near turns clear", func(s *stage) {
			s.says = curve(at(-30), -10, -10, -23, -10)
			s.run(0, 20)
			s.says = curve(at(20), -10)
			s.run(21, 100)
		}, "0 opened/near [page], 30 all-clear/clear [page]"},
		{"near goes by", func(s *stage) {
			s.says = curve(at(-30), -23, -23, -10)
			s.run(0, 400)
		}, "0 opened/near [page]"},
		{"the cold goes by", func(s *stage) {
			s.says = curve(at(-30), -30, -28, -10)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 400)
		}, "0 opened/below [page], 120 all-clear/clear [page]"},
		{"no forecast, then one that is warm", func(s *stage) {
			s.says, s.err = nil, fmt.Errorf("folder: %w", weather.ErrNone)
			s.run(0, 20)
			s.says, s.err = curve(at(20), -10), nil
			s.run(21, 60)
		}, "0 opened/no-forecast [page], 30 all-clear/clear [page]"},
		{"no forecast, then one that is cold", func(s *stage) {
			s.says = nil
			s.run(0, 20)
			s.says = cold
			s.run(21, 31)
		}, "0 opened/no-forecast [page], 30 amended/below [page]"},
		{"no forecast is repeated and escalated, and ends not known", func(s *stage) {
			s.says = nil
			s.run(0, 725)
		}, "0 opened/no-forecast [page], 30 repeated/no-forecast [page], 60 escalated/no-forecast [slack:U01], 120 escalated/no-forecast [discord:42], 720 ended/no-forecast [discord:42 page slack:U01]"},
		{"the source fails for five minutes", func(s *stage) {
			s.says, s.err = nil, errDown
			s.run(-5, 4)
			s.says, s.err = cold, nil
			s.run(5, 10)
		}, "5 opened/below [page]"},
		{"the source fails for longer", func(s *stage) {
			s.says, s.err = nil, errDown
			s.run(-5, 12)
		}, "10 opened/no-forecast [page]"},
		{"the source panics", func(s *stage) {
			s.watch = watch.New(slog.New(slog.DiscardHandler), s.clock.Now, s.set, []config.Station{s.station},
				forecasts(func(string) ([]weather.Forecast, error) { panic("broken") }), s.store)
			s.run(0, 12)
		}, "10 opened/no-forecast [page]"},
		{"the source fails at a re-check: what was judged stands", func(s *stage) {
			s.says = cold
			s.run(0, 1)
			s.acknowledge(true)
			s.says, s.err = nil, errDown
			s.run(2, 300)
		}, "0 opened/below [page]"},
		{"one source has no temperatures, the other fails for five minutes", func(s *stage) {
			s.says, s.err = noFigures(at(-30)), errDown
			s.run(-5, 4)
			s.says, s.err = cold, nil
			s.run(5, 10)
		}, "5 opened/below [page]"},
		{"one source is cold, the other fails", func(s *stage) {
			s.says, s.err = cold, errDown
			s.run(-5, 10)
		}, "0 opened/below [page]"},
		{"one source has no temperatures, the other fails at a re-check: what was judged stands", func(s *stage) {
			s.says = cold
			s.run(0, 1)
			s.acknowledge(true)
			s.says, s.err = noFigures(at(2)), errDown
			s.run(2, 300)
		}, "0 opened/below [page]"},
		{"the forecast is withdrawn before its low", func(s *stage) {
			s.says = curve(at(-30), -10, -10, -10, -30)
			s.run(0, 1)
			s.acknowledge(true)
			s.says = nil
			s.run(2, 35)
		}, "0 opened/below [page], 30 amended/no-forecast [page]"},
		{"down at 06:00, back at 09:00", func(s *stage) {
			s.says = cold
			s.run(180, 185)
		}, "180 opened/below [page]"},
		{"down at 09:00, the source fails at first", func(s *stage) {
			s.says, s.err = nil, errDown
			s.run(180, 181)
			s.says, s.err = cold, nil
			s.run(182, 185)
		}, "182 opened/below [page]"},
		{"down all day", func(s *stage) {
			s.says = cold
			s.run(721, 725)
		}, ""},
		{"down at the end: closed late", func(s *stage) {
			s.says = cold
			s.run(0, 1)
			s.acknowledge(true)
			s.run(900, 901)
		}, "0 opened/below [page], 900 ended/below [page]"},
		{"restarted every minute", func(s *stage) {
			s.says = cold
			for m := range 130 {
				s.restart()
				s.run(m, m)
			}
		}, "0 opened/below [page], 30 repeated/below [page], 60 escalated/below [slack:U01], 120 escalated/below [discord:42]"},
		{"a channel named twice, and none of its own", func(s *stage) {
			s.says, s.station.Watch.Channels = cold, nil
			s.set.Channels = []config.Address{{Surface: config.OnPage}, {Surface: config.OnConsole}, {Surface: config.OnPage}}
			s.restart()
			s.run(0, 1)
		}, "0 opened/below [console page]"},
		{"no restriction temperature published", func(s *stage) {
			s.says, s.station.Restriction = cold, nil
			s.restart()
			s.run(0, 100)
		}, "0 opened/clear []"},
		{"not on Thursdays", func(s *stage) {
			s.says = cold
			s.station.Watch.Days &^= 1 << time.Thursday
			s.restart()
			s.run(-5, 100)
		}, ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := newStage(t)
			tt.do(s)
			if got := s.line("2026-01-15"); sorted(got) != sorted(tt.want) {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
		})
	}
}

// sorted puts the channels of a line in order.
func sorted(line string) string {
	var out strings.Builder
	for part := range strings.SplitSeq(line, "[") {
		inside, rest, found := strings.Cut(part, "]")
		if !found {
			out.WriteString(part)
			continue
		}
		names := strings.Fields(inside)
		slices.Sort(names)
		fmt.Fprintf(&out, "%v%s", names, rest)
	}
	return out.String()
}

func (s *stage) acknowledge(done bool) watch.Outcome {
	s.Helper()
	o, err := s.watch.Acknowledge(s.Context(), "xkld", "R. Holm", "")
	if err != nil || o.Done != done {
		s.Fatalf("Acknowledge: %+v, %v; want done %v", o, err, done)
	}
	return o
}

func (s *stage) snooze(d time.Duration, done bool) watch.Outcome {
	s.Helper()
	o, err := s.watch.Snooze(s.Context(), "XKLD", "R. Holm", d)
	if err != nil || o.Done != done {
		s.Fatalf("Snooze: %+v, %v; want done %v", o, err, done)
	}
	return o
}

// An acknowledgement is told wherever the alert went, but for where it was
// made, and once when two people make it.
func TestAcknowledgementIsTold(t *testing.T) {
	s := newStage(t)
	s.station.Watch.Channels = []config.Address{{Surface: config.OnSlack, ID: "C01"}, {Surface: config.OnDiscord, ID: "77"}, {Surface: config.OnPage}}
	s.restart()
	s.says = curve(at(-30), -30)
	s.run(0, 61) // the first one on duty has been told
	s.posts()
	o, err := s.watch.Acknowledge(t.Context(), "XKLD", "R. Holm (slack:U1)", "slack:C01")
	if err != nil || !o.Done {
		t.Fatalf("Acknowledge = %+v, %v", o, err)
	}
	if o, err := s.watch.Acknowledge(t.Context(), "XKLD", "K. Lund", "discord:77"); err != nil || o.Done {
		t.Fatalf("the second Acknowledge = %+v, %v", o, err)
	}
	if seen, err := s.watch.Seen(t.Context(), "xkld", s.clock.Now()); err != nil || !seen.Open || seen.By != "R. Holm" || seen.At.IsZero() || !seen.Quiet.IsZero() {
		t.Errorf("Seen = %+v, %v", seen, err)
	}
	var got []string
	for _, c := range s.posts() {
		got = append(got, c.Key+" "+c.Channel+" "+strings.Join(c.Body.Facts, " "))
	}
	slices.Sort(got)
	text := " XKLD is acknowledged by R. Holm at 07:01 local (14:01Z). A forecast that changes it is told again."
	want := []string{
		"ack/XKLD/2026-01-15/3 discord:77" + text,
		"ack/XKLD/2026-01-15/3 page" + text,
		"ack/XKLD/2026-01-15/3 slack:U01" + text,
	}
	if !slices.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestAnswers(t *testing.T) {
	s := newStage(t)
	s.says = curve(at(-30), -30)
	step := func(got watch.Outcome, want string) {
		t.Helper()
		if got.Text != want {
			t.Errorf("got  %s\nwant %s", got.Text, want)
		}
	}
	step(s.acknowledge(false), "There is nothing to acknowledge for XKLD.")
	s.run(0, 12)
	step(s.snooze(0, false), "A snooze is from a minute to 24 hours.")
	step(s.snooze(2*time.Hour, true), "XKLD: no reminders until 08:12 local (15:12Z). A forecast that crosses the line, or is colder than what was told, is told all the same.")
	step(s.acknowledge(true), "XKLD is acknowledged by R. Holm at 06:12 local (13:12Z). A forecast that changes it is told again.")
	s.run(13, 14)
	step(s.acknowledge(false), "XKLD is already acknowledged by R. Holm at 06:12 local (13:12Z).")
	s.run(710, 710)
	step(s.snooze(20*time.Hour, true), "XKLD: no reminders until 18:00 local (01:00Z). A forecast that crosses the line, or is colder than what was told, is told all the same.")
	s.run(720, 720)
	step(s.acknowledge(false), "There is nothing to acknowledge for XKLD.")
	step(s.snooze(time.Hour, false), "There is nothing to snooze for XKLD.")
	o, err := s.watch.Acknowledge(t.Context(), "xzzz", "R. Holm", "")
	if err != nil || o.Done || o.Text != "XZZZ is not a base that is watched." || o.Try != "ack XKLD" {
		t.Errorf("an unknown base: %+v, %v", o, err)
	}
}

// TestLateIsSaid holds the due time of posts, from which the outbox tells how
// late they are.
func TestLateIsSaid(t *testing.T) {
	s := newStage(t)
	s.says = curve(at(-30), -30)
	s.run(180, 181)
	for _, c := range s.posts() {
		late := outbox.Post{Late: c.Made.Sub(c.Due)}.Lateness()
		if !c.Due.Equal(six) || late != "late by 3 h" || !strings.Contains(strings.Join(c.Body.Facts, " "), "Late: this was due at 06:00 local (13:00Z) and was made at 09:00 local (16:00Z).") {
			t.Errorf("due %v, %s: %q", c.Due, late, c.Body.Facts)
		}
	}
}

// TestAskedOnce counts the questions to the source.
func TestAskedOnce(t *testing.T) {
	s := newStage(t)
	s.says = curve(at(-30), -30)
	s.run(-60, 719)
	// 06:00, then every half hour up to an hour before the end, and for each of
	// three reminders whether it still answers.
	if want := 1 + 22 + 3; s.asked != want {
		t.Errorf("the source was asked %d times, want %d", s.asked, want)
	}
}

// dying takes nothing that is said any more, as the store of a process that is
// killed before it has written it.
type dying struct{ *storetest.Memory }

func (dying) Open(context.Context, watch.Alert, []outbox.Item) (bool, error) {
	return false, errors.New("killed")
}

// TestWhoIsKilledHoldsNobodyUp: what a process had begun to look at when it was
// killed is looked at by the next one in its first tick.
func TestWhoIsKilledHoldsNobodyUp(t *testing.T) {
	s := newStage(t)
	on := func(holder string, store watch.Store) *watch.Watch {
		set := s.set
		set.Holder = holder
		return watch.New(slog.New(slog.DiscardHandler), s.clock.Now, set, []config.Station{s.station},
			forecasts(func(string) ([]weather.Forecast, error) { return s.says, nil }), store)
	}
	tick := func(w *watch.Watch, seconds int, wrote, failed int) {
		t.Helper()
		s.clock.Set(six.Add(time.Duration(seconds) * time.Second))
		if got := w.Tick(t.Context()); got.Wrote != wrote || got.Failed != failed {
			t.Errorf("%d s after six: wrote %d, %d failed, want %d and %d", seconds, got.Wrote, got.Failed, wrote, failed)
		}
	}
	s.says = curve(at(-30), -30)
	tick(on("a", dying{s.store}), 0, 0, 1)
	b := on("b", s.store)
	tick(b, 1, 1, 0)
	s.says = curve(at(20), -36)
	tick(on("c", dying{s.store}), 1900, 0, 1)
	tick(b, 1901, 1, 0)
	s.says = curve(at(25), -42)
	tick(on("d", s.store), 1902, 0, 0) // b has just looked
}

// TestOneBrokenBase has a store that fails for one base.
func TestOneBrokenBase(t *testing.T) {
	c := testclock.New(at(0))
	store := broken{storetest.NewMemory(c.Now)}
	var stations []config.Station
	for _, ident := range []string{"XBAD", "XAAA", "XCCC"} {
		s := kaldmoor(t)
		s.Ident = ident
		stations = append(stations, s)
	}
	w := watch.New(slog.New(slog.DiscardHandler), c.Now, watch.Settings{Concurrency: 1}, stations,
		forecasts(func(string) ([]weather.Forecast, error) { return curve(at(-1), -30), nil }), store)
	if got, want := w.Tick(t.Context()), (watch.Tally{Bases: 3, Wrote: 2, Failed: 1, Asking: 2, Oldest: at(0)}); got != want {
		t.Errorf("%+v, want %+v", got, want)
	}
}

// TestSourceHangs has a source that answers only when it is told to stop.
func TestSourceHangs(t *testing.T) {
	s := newStage(t)
	s.set.Limit, s.set.Grace = time.Millisecond, time.Minute
	s.watch = watch.New(slog.New(slog.DiscardHandler), s.clock.Now, s.set, []config.Station{s.station}, hanging{}, s.store)
	s.run(0, 3)
	if got, want := s.line("2026-01-15"), "1 opened/no-forecast [page]"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

type hanging struct{}

func (hanging) Forecasts(ctx context.Context, _ string) ([]weather.Forecast, error) {
	<-ctx.Done()
	return nil, ctx.Err()
}

type broken struct{ *storetest.Memory }

func (b broken) Day(ctx context.Context, base, day string) (watch.Day, error) {
	if base == "XBAD" {
		return watch.Day{}, errors.New("disk full")
	}
	return b.Memory.Day(ctx, base, day)
}

func TestStatus(t *testing.T) {
	var stations []config.Station
	for _, ident := range []string{"XRUN", "XKLD", "XHGH"} {
		s := kaldmoor(t)
		s.Ident = ident
		stations = append(stations, s)
	}
	unwatched := kaldmoor(t)
	unwatched.Ident, unwatched.Watch = "XDUL", nil
	stations = append(stations, unwatched)
	w := watch.New(slog.New(slog.DiscardHandler), time.Now, watch.Settings{}, stations,
		forecasts(func(ident string) ([]weather.Forecast, error) {
			switch ident {
			case "XKLD":
				return curve(at(-90), -20, -31.04, -26, -20), nil
			case "XRUN":
				return nil, errDown
			}
			return curve(at(180), -40), nil // not issued yet
		}), nil)
	got, err := w.Status(t.Context(), at(-60))
	if err != nil {
		t.Fatal(err)
	}
	var text []string
	for _, s := range got {
		text = append(text, fmt.Sprintf("%s %s %v %s–%s: %s", s.Ident, s.State, s.LowC.Value, s.BelowFrom.Format("1504"), s.BelowTo.Format("1504"), s.Note))
	}
	want := []string{
		"XHGH no-forecast 0 0000–0000: it is dated 16:00Z 15 Jan, ahead of the clock",
		"XKLD below -31.1 1400–1600: ",
		"XRUN no-forecast 0 0000–0000: the forecast source failed: awc: 503 from the service",
	}
	if !reflect.DeepEqual(text, want) {
		t.Errorf("got  %q\nwant %q", text, want)
	}
}

func TestBegins(t *testing.T) {
	for _, tt := range []struct {
		name, zone, day string
		at              config.TimeOfDay
		want            string // UTC, empty: never
	}{
		{"an ordinary day", "America/Edmonton", "2026-01-15", config.TimeOfDay{Hour: 6}, "2026-01-15 13:00"},
		{"Edmonton skips 02:00 to 03:00", "America/Edmonton", "2026-03-08", config.TimeOfDay{Hour: 2, Minute: 30}, "2026-03-08 09:00"},
		{"Edmonton, the moment itself", "America/Edmonton", "2026-03-08", config.TimeOfDay{Hour: 2}, "2026-03-08 09:00"},
		{"Edmonton, behind it", "America/Edmonton", "2026-03-08", config.TimeOfDay{Hour: 6}, "2026-03-08 12:00"},
		{"Edmonton doubles 01:00 to 02:00", "America/Edmonton", "2026-11-01", config.TimeOfDay{Hour: 1, Minute: 30}, "2026-11-01 07:30"},
		{"Auckland skips", "Pacific/Auckland", "2026-09-27", config.TimeOfDay{Hour: 2, Minute: 30}, "2026-09-26 14:00"},
		{"Auckland doubles", "Pacific/Auckland", "2026-04-05", config.TimeOfDay{Hour: 2, Minute: 30}, "2026-04-04 13:30"},
		{"Santiago skips midnight", "America/Santiago", "2026-09-06", config.TimeOfDay{Hour: 0, Minute: 30}, "2026-09-06 04:00"},
		{"Lord Howe skips half an hour", "Australia/Lord_Howe", "2026-10-04", config.TimeOfDay{Hour: 2, Minute: 15}, "2026-10-03 15:30"},
		{"Apia left out a day", "Pacific/Apia", "2011-12-30", config.TimeOfDay{Hour: 6}, ""},
		{"and went on with the next", "Pacific/Apia", "2011-12-31", config.TimeOfDay{Hour: 6}, "2011-12-30 16:00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			date, err := time.Parse(time.DateOnly, tt.day)
			if err != nil {
				t.Fatal(err)
			}
			got, ok := watch.Begins(date, tt.at, zone(t, tt.zone))
			if text := got.UTC().Format("2006-01-02 15:04"); ok != (tt.want != "") || ok && text != tt.want {
				t.Errorf("%s, %v; want %s", text, ok, tt.want)
			}
		})
	}
}

// TestEnds: a window of a whole day leaves no hour out on the day on which the clocks
// go back, and none is shorter than it is said to be.
func TestEnds(t *testing.T) {
	for _, tt := range []struct {
		name, zone, day string
		at              config.TimeOfDay
		hours           int
		want            string // UTC
	}{
		{"an ordinary day", "America/Edmonton", "2026-01-15", config.TimeOfDay{Hour: 6}, 24, "2026-01-16 13:00"},
		{"the clocks go back in it", "America/Edmonton", "2026-10-31", config.TimeOfDay{Hour: 6}, 24, "2026-11-01 13:00"},
		{"it begins in the hour that comes twice", "America/Edmonton", "2026-11-01", config.TimeOfDay{Hour: 1, Minute: 30}, 24, "2026-11-02 08:30"},
		{"it ends in the hour that comes twice", "America/Edmonton", "2026-10-31", config.TimeOfDay{Hour: 1, Minute: 30}, 24, "2026-11-01 07:30"},
		{"half a day in it", "Europe/Oslo", "2026-10-25", config.TimeOfDay{Hour: 0}, 12, "2026-10-25 11:00"},
		{"a day and a half", "Europe/Oslo", "2026-10-24", config.TimeOfDay{Hour: 6}, 36, "2026-10-25 17:00"},
		{"by half an hour", "Australia/Lord_Howe", "2026-04-04", config.TimeOfDay{Hour: 6}, 24, "2026-04-04 19:30"},
		{"the clocks go forward in it", "America/Edmonton", "2026-03-07", config.TimeOfDay{Hour: 6}, 24, "2026-03-08 13:00"},
		{"its hour is left out on the next day", "America/Edmonton", "2026-03-07", config.TimeOfDay{Hour: 2, Minute: 30}, 24, "2026-03-08 09:30"},
		{"a day is left out", "Pacific/Apia", "2011-12-29", config.TimeOfDay{Hour: 6}, 24, "2011-12-30 16:00"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			date, err := time.Parse(time.DateOnly, tt.day)
			if err != nil {
				t.Fatal(err)
			}
			in := zone(t, tt.zone)
			from, ok := watch.Begins(date, tt.at, in)
			got := watch.Ends(date, from, &config.Watch{At: tt.at, Window: time.Duration(tt.hours) * time.Hour}, in)
			if text := got.UTC().Format("2006-01-02 15:04"); !ok || text != tt.want {
				t.Errorf("it begins %v and ends %s, want %s", from, text, tt.want)
			}
		})
	}
}

// The figure to reach is 10 000 bases within a second.
func BenchmarkStatus10000Bases(b *testing.B) {
	stations := make([]config.Station, 10000)
	for i := range stations {
		s := kaldmoor(b)
		c := engine.Celsius(-i % 40)
		s.Ident, s.Restriction = fmt.Sprintf("X%04d", i), &c
		stations[i] = s
	}
	all := append(curve(at(-30), -20, -30), weather.Forecast{Forecast: coldwatch.Forecast{Source: "TAF", ValidFrom: at(-60), ValidTo: at(1440), Minimums: []coldwatch.Sample{{At: at(60), C: -31}}}})
	w := watch.New(slog.New(slog.DiscardHandler), time.Now, watch.Settings{}, stations,
		forecasts(func(string) ([]weather.Forecast, error) { return all, nil }), nil)
	for b.Loop() {
		if _, err := w.Status(b.Context(), six); err != nil {
			b.Fatal(err)
		}
	}
}

// A tick in which nothing is due, with every base's day open.
func BenchmarkIdleTick50Bases(b *testing.B) {
	c := testclock.New(at(0))
	stations := make([]config.Station, 50)
	for i := range stations {
		stations[i] = kaldmoor(b)
		stations[i].Ident = fmt.Sprintf("X%03d", i)
	}
	w := watch.New(slog.New(slog.DiscardHandler), c.Now, watch.Settings{}, stations,
		forecasts(func(string) ([]weather.Forecast, error) { return curve(at(-30), -10), nil }), storetest.NewMemory(c.Now))
	w.Tick(b.Context())
	for b.Loop() {
		w.Tick(b.Context())
	}
}
