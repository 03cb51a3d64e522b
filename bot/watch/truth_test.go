package watch_test

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"testing"
	"time"

	"firn/bot/config"
	"firn/bot/reply"
	"firn/bot/testkit/storetest"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// part is a curve of some hours of the window.
func part(issued time.Time, c engine.Celsius, from, to int) []weather.Forecast {
	all := curve(issued, c)
	all[0].Hourly, all[0].ValidTo = all[0].Hourly[from:to], six.Add(time.Duration(to)*time.Hour)
	return all
}

// taf has one minimum, some hours after 06:00, and is valid for a day.
func taf(issued time.Time, hours float64, c engine.Celsius) []weather.Forecast {
	all := noFigures(issued)
	all[0].Source = "TAF"
	all[0].Minimums = []coldwatch.Sample{{At: six.Add(time.Duration(hours * float64(time.Hour))), C: c}}
	return all
}

// TestDaysAreTrue plays days that were told wrong, or not at all.
func TestDaysAreTrue(t *testing.T) {
	for _, tt := range []struct {
		name string
		do   func(*stage)
		want string
		says map[string]string // by number and channel
	}{
		{"a colder bound, where the day began clear", func(s *stage) {
			s.says = taf(at(-30), 1, -10)
			s.run(0, 1)
			s.says = taf(at(20), 13, -30)
			s.run(2, 35)
		}, "0 opened/clear [], 30 amended/below [page]", map[string]string{"2 page": "No colder than −30 °C"}},
		{"a colder bound, where it was below already", func(s *stage) {
			s.says = taf(at(-30), 1, -26)
			s.run(0, 1)
			s.acknowledge(true)
			s.says = taf(at(20), 13, -30)
			s.run(2, 300)
		}, "0 opened/below [page]", nil},
		{"a forecast of two hours", func(s *stage) {
			s.says = part(at(-30), -10, 0, 2)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 125)
		}, "0 opened/part-forecast [page], 120 amended/no-forecast [page]", map[string]string{
			"1 page": "Nothing at or below or near the restriction temperature, −25 °C as far as the forecast goes, to 08:00 local (15:00Z); not known after: this does not mean warm.",
			"2 page": "what was forecast, to 15:00Z 15 Jan, is at its end, and nothing is known of the rest",
		}},
		{"a forecast of six hours, repeated and escalated like none, and one for the rest", func(s *stage) {
			s.says = part(at(-30), -23, 0, 6)
			s.run(0, 100)
			s.says = part(at(100), -23, 1, 12)
			s.run(101, 125)
		}, "0 opened/part-forecast [page], 30 repeated/part-forecast [page], 60 escalated/part-forecast [slack:U01], 120 amended/near [page slack:U01]", map[string]string{
			"1 page": "Near, not at or below, the restriction temperature, −25 °C as far as the forecast goes, to 12:00 local (19:00Z); not known after",
			"2 page": "to 12:00 local (19:00Z); not known after",
		}},
		{"cold, and a forecast of six hours: how far it goes is said", func(s *stage) {
			s.says = part(at(-30), -30, 0, 6)
			s.run(0, 1)
		}, "0 opened/below [page]", map[string]string{
			"1 page": "to 18:00 local (01:00Z). The forecast goes to 12:00 local (19:00Z); not known after.",
		}},
		{"its end is told between two looks", func(s *stage) {
			s.set.Recheck = 6 * time.Hour
			s.restart()
			s.says = part(at(-30), -10, 0, 2)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 125)
		}, "0 opened/part-forecast [page], 120 amended/no-forecast [page]", nil},
		{"the last two hours are not forecast", func(s *stage) {
			s.says = part(at(-30), -10, 0, 10)
			s.run(0, 725)
		}, "0 opened/clear []", nil},
		{"the window ends at −30", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 725)
		}, "0 opened/below [page], 720 ended/below [page]", map[string]string{"2 page": "Watch ended: XKLD Kaldmoor, Thu 15 Jan. Still at or below −25 °C."}},
		{"it ends with a minimum of the morning", func(s *stage) {
			s.says = taf(at(-30), 1, -30)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 725)
		}, "0 opened/below [page], 720 ended/below [page]", map[string]string{"2 page": "It was at or below −25 °C; whether it still is, is not known."}},
		{"it ends with a minimum of the next morning", func(s *stage) {
			s.says = taf(at(-30), 25, -30)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 725)
		}, "0 opened/below [page], 720 ended/below [page]", map[string]string{
			"2 page": "Watch ended: XKLD Kaldmoor, Thu 15 Jan. How cold it is now, is not known.\nNo colder than −30 °C, forecast for Fri 07:00 local (14:00Z), ",
		}},
		{"one source fails, others have nothing", func(s *stage) {
			s.says = nil
			s.err = &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{
				{Source: "typed", Err: weather.ErrNone}, {Source: "folder", Err: weather.ErrNone},
				{Source: "awc", Err: errors.New("weather awc: XKLD: answered with status 503"), Label: "TAF (awc)"},
			}}
			s.run(0, 12)
		}, "10 opened/no-forecast [page]", map[string]string{"1 page": "The forecast source failed: awc: answered with status 503. The restriction"}},
		{"a reminder of what was judged in the middle of the window", func(s *stage) {
			s.says = nil
			s.run(0, 1)
			s.acknowledge(true)
			s.says = part(at(130), -10, 2, 8)
			s.run(131, 185)
		}, "0 opened/no-forecast [page], 131 amended/part-forecast [page], 161 repeated/part-forecast [page]", map[string]string{
			"3 page": "as far as the forecast goes, to 14:00 local (21:00Z); not known after",
		}},
		{"a forecast of last month", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.says[0].Issued = at(-27 * 24 * 60)
			s.run(0, 1)
		}, "0 opened/below [page]", map[string]string{"1 page": "issued Fri 19 Dec 06:00 local (13:00Z), 27 days old"}},
		{"it ends near", func(s *stage) {
			s.says = curve(at(-30), -30, -30, -23)
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 725)
		}, "0 opened/below [page], 720 ended/near [page]", map[string]string{"2 page": "Watch ended: XKLD Kaldmoor, Thu 15 Jan. No longer at or below −25 °C."}},
		{"it ends without a forecast", func(s *stage) {
			s.says = nil
			s.run(0, 1)
			s.acknowledge(true)
			s.run(2, 725)
		}, "0 opened/no-forecast [page], 720 ended/no-forecast [page]", map[string]string{"2 page": "How cold it is, is not known: this does not mean warm."}},
		{"a snooze ends with the all-clear", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 10)
			s.snooze(10*time.Hour, true)
			s.says = curve(at(20), -10)
			s.run(11, 40)
			s.says = curve(at(50), -30)
			s.run(41, 125)
		}, "0 opened/below [page], 30 all-clear/clear [page], 60 amended/below [page], 90 repeated/below [page], 120 escalated/below [slack:U01]", nil},
		{"a snooze ends with a crossing", func(s *stage) {
			s.says = nil
			s.run(0, 10)
			s.snooze(10*time.Hour, true)
			s.says = curve(at(20), -30)
			s.run(11, 95)
		}, "0 opened/no-forecast [page], 30 amended/below [page], 60 repeated/below [page], 90 escalated/below [slack:U01]", nil},
		{"whoever was escalated to hears what comes after", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 65)
			s.acknowledge(true)
			s.says = curve(at(66), -36)
			s.run(66, 95)
			s.acknowledge(true)
			s.says = curve(at(100), -10)
			s.run(96, 125)
		}, "0 opened/below [page], 30 repeated/below [page], 60 escalated/below [slack:U01], 90 amended/below [page slack:U01], 120 all-clear/clear [page slack:U01]", nil},
		{"a source fails for a day: what was judged stands for twelve hours", func(s *stage) {
			s.station.Watch.Window = 24 * time.Hour
			s.restart()
			s.says = curve(at(-30), -30)
			s.run(0, 1)
			s.acknowledge(true)
			s.says, s.err = nil, errDown
			s.run(2, 740)
		}, "0 opened/below [page], 720 amended/no-forecast [page]", map[string]string{"2 page": "The forecast source failed: awc: 503 from the service"}},
		{"the source withdraws it, and another fails", func(s *stage) {
			s.says = curve(at(-30), -10)
			s.run(0, 1)
			s.says, s.err = nil, &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "a", Err: weather.ErrNone, Label: "hourly forecast"}, {Source: "b", Err: errDown, Label: "TAF"}}}
			s.run(2, 35)
		}, "0 opened/clear [], 30 amended/no-forecast [page]", nil},
		{"it fails, and another has nothing", func(s *stage) {
			s.says = curve(at(-30), -10)
			s.run(0, 1)
			s.says, s.err = nil, &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "a", Err: errDown, Label: "hourly forecast"}, {Source: "b", Err: weather.ErrNone, Label: "TAF"}}}
			s.run(2, 35)
		}, "0 opened/clear []", nil},
		{"what was told clear does not stand where a newer one cannot be read", func(s *stage) {
			s.says = taf(at(-30), 1, -18)
			s.run(0, 1)
			var b weather.Board
			_ = b.Add(weather.Report{Text: "TAF AMD XKLD 151310Z 1513/1612 TNM31=", Taf: true}, "folder", at(20), at(20))
			_, broken := b.Forecast("XKLD")
			s.says[0].ColderOnly, s.says[0].Note = true, weather.Unreadable(broken)
			s.err = &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "folder", Err: broken, Label: "TAF", Kept: true}}}
			s.run(2, 35)
			s.says, s.err = taf(at(40), 1, -18), nil
			s.run(36, 65)
			// A source without a label, of which nothing is kept.
			s.says, s.err = nil, &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "folder", Err: broken}}}
			s.run(66, 95)
		}, "0 opened/clear [], 30 amended/no-forecast [page], 60 all-clear/clear [page], 90 amended/no-forecast [page]", map[string]string{"2 page": "TAF of 13:10Z 15 Jan cannot be read"}},
		{"the colder source is lost: the other, no newer, makes no all-clear", func(s *stage) {
			s.says = append(taf(at(-85), 1, -30), curve(at(-90), -18)...)
			s.run(0, 1)
			s.acknowledge(true)
			s.says = s.says[1:]
			s.err = &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "awc", Err: errDown, Label: "TAF", Over: true}}}
			s.run(2, 59)
			s.acknowledge(true)
			s.run(60, 95)
			s.says = curve(at(95), -18) // it looks again
			s.run(96, 130)
		}, "0 opened/below [page], 30 amended/no-forecast [page], 120 all-clear/clear [page]", map[string]string{
			"2 page": "TAF: the source failed, and its last forecast, −30 °C, is too old to count; hourly forecast, no newer than that, says −18 °C.",
		}},
		{"a source has failed since: every word says so", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 1)
			s.says, s.err = nil, errDown
			s.run(2, 65)
		}, "0 opened/below [page], 30 repeated/below [page], 60 escalated/below [slack:U01]", map[string]string{
			"2 page":      "Source failed, forecast of 12:30Z 15 Jan.",
			"3 slack:U01": "Source failed, forecast of 12:30Z 15 Jan.",
		}},
		{"what it was before it failed", func(s *stage) {
			s.says = curve(at(-90), -30)
			s.says[0].Note = weather.FailedNote(at(-90))
			s.err = &weather.Missing{Ident: "XKLD", Passed: []weather.Passed{{Source: "awc", Err: errDown, Kept: true}, {Source: "nws", Err: errDown}}}
			s.run(0, 1)
		}, "0 opened/below [page]", map[string]string{"1 page": "Source failed, forecast of 11:30Z 15 Jan; the source nws failed."}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := newStage(t)
			tt.do(s)
			bodies := map[string]string{}
			posts := map[string][]string{}
			for _, c := range s.posts() {
				if !strings.HasPrefix(c.Key, "alert/") {
					continue
				}
				n := c.Key[strings.LastIndexByte(c.Key, '/')+1:]
				text := strings.Join(c.Body.Facts, "\n")
				for _, k := range c.Body.Cautions {
					text += "\n" + k.Text
				}
				bodies[n+" "+c.Channel] = text
				posts[n] = append(posts[n], c.Channel)
			}
			var out []string
			for _, a := range s.day("2026-01-15").Alerts {
				to := posts[fmt.Sprint(a.Seq)]
				slices.Sort(to)
				out = append(out, fmt.Sprintf("%d %s/%v %v", int(a.Made.Sub(six).Minutes()), a.Kind, a.Judgement.State, to))
			}
			if got := strings.Join(out, ", "); got != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
			for post, want := range tt.says {
				if !strings.Contains(bodies[post], want) {
					t.Errorf("post %s does not say %q:\n%s", post, want, bodies[post])
				}
			}
		})
	}
}

// TestNextDayClosesTheDayBefore has windows of 24 hours, whose days the next
// one takes over from.
func TestNextDayClosesTheDayBefore(t *testing.T) {
	for _, tt := range []struct {
		name string
		do   func(*stage)
		want string
	}{
		{"clear after cold, to whoever was told", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 65)
			s.acknowledge(true)
			s.run(66, 1390)
			s.says = curveFrom(at(1400), -10)
			s.run(1391, 1500)
		}, "1440 opened/clear [page slack:U01]: Since the last word: Thu 15 Jan was forecast at or below the restriction temperature; this day begins clear."},
		{"clear after a cold that was over hours before", func(s *stage) {
			s.says = curve(at(-30), -30, -30, -24)
			s.run(0, 65)
			s.acknowledge(true)
			s.run(66, 1390)
			s.says = curveFrom(at(1400), -10)
			s.run(1391, 1500)
		}, "1440 opened/clear [page slack:U01]: Since the last word: Thu 15 Jan was forecast at or below the restriction temperature; this day begins clear."},
		{"clear after not known", func(s *stage) {
			s.says = nil
			s.run(0, 10)
			s.acknowledge(true)
			s.run(11, 1390)
			s.says = curveFrom(at(1400), -10)
			s.run(1391, 1500)
		}, "1440 opened/clear [page]: Since the last word: Thu 15 Jan ended not known; this day begins clear."},
		{"clear after an all-clear", func(s *stage) {
			s.says = curve(at(-30), -30, -30, -10)
			s.run(0, 10)
			s.acknowledge(true)
			s.run(11, 1390)
			s.says = curveFrom(at(1400), -10)
			s.run(1391, 1500)
		}, "1440 opened/clear []: "},
		{"clear after clear", func(s *stage) {
			s.run(0, 1390)
			s.says = curveFrom(at(1400), -10)
			s.run(1391, 1500)
		}, "1440 opened/clear []: "},
		{"still cold", func(s *stage) {
			s.says = curve(at(-30), -30)
			s.run(0, 10)
			s.acknowledge(true)
			s.run(11, 1390)
			s.says = curveFrom(at(1400), -30)
			s.run(1391, 1441)
		}, "1440 opened/below [page]: "},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := newStage(t)
			s.station.Watch.Window = 24 * time.Hour
			s.restart()
			tt.do(s)
			var to []string
			said := ""
			for _, c := range s.posts() {
				if c.Key != "alert/XKLD/2026-01-16/1" {
					continue
				}
				to = append(to, c.Channel)
				for _, f := range c.Body.Facts {
					if strings.HasPrefix(f, "Since the last word") {
						said = f
					}
				}
			}
			slices.Sort(to)
			var out []string
			for _, a := range s.day("2026-01-16").Alerts {
				out = append(out, fmt.Sprintf("%d %s/%v %v: %s", int(a.Made.Sub(six).Minutes()), a.Kind, a.Judgement.State, to, said))
			}
			if got := strings.Join(out, ", "); got != tt.want {
				t.Errorf("got  %s\nwant %s", got, tt.want)
			}
		})
	}
}

// curveFrom has a value an hour for a day and a half from its issue on.
func curveFrom(issued time.Time, c engine.Celsius) []weather.Forecast {
	f := weather.Forecast{Ident: "XKLD", Forecast: coldwatch.Forecast{Source: "hourly forecast", Issued: issued}}
	for i := range 36 {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: issued.Truncate(time.Hour).Add(time.Duration(i) * time.Hour), C: c})
	}
	return []weather.Forecast{f}
}

// TestStartBeforeTheHour starts five minutes before the base's hour: the day
// that ends then has nothing more to say.
func TestStartBeforeTheHour(t *testing.T) {
	for _, window := range []time.Duration{24 * time.Hour, 36 * time.Hour} {
		for _, told := range []bool{false, true} {
			s := newStage(t)
			s.station.Watch.Window = window
			s.says = curveFrom(at(-24*60-30), -30)
			s.restart()
			if told { // and then it was down
				s.run(-24*60, -24*60+1)
			}
			s.posts()
			s.says = curveFrom(at(-30), -30)
			s.restart()
			s.run(-5, -1)
			if early := s.posts(); len(early) > 0 {
				t.Errorf("window of %v, told before %v: %s was posted before the hour", window, told, early[0].Key)
			}
			s.run(0, 1)
			if got := s.line("2026-01-15"); got != "0 opened/below [page]" {
				t.Errorf("window of %v: %s", window, got)
			}
		}
	}
}

// TestLowOfWhatHasGoneBy: a low of the window's first instant is in the window, also
// minutes later, when what is left of it is judged.
func TestLowOfWhatHasGoneBy(t *testing.T) {
	w := watch.New(slog.New(slog.DiscardHandler), time.Now, watch.Settings{}, []config.Station{kaldmoor(t)},
		forecasts(func(string) ([]weather.Forecast, error) {
			all := taf(at(-90), 0, -31)
			all[0].Maximums = []coldwatch.Sample{{At: at(600), C: -19}}
			return all, nil
		}), storetest.NewMemory(time.Now))
	for minutes, past := range map[int]bool{60: false, 299: false, 301: true} { // −25 °C is half way to the maximum
		got, err := w.Status(t.Context(), at(minutes))
		line := reply.BoardLine(got[0], time.UTC)
		if err != nil || got[0].Past != past || strings.Contains(line, "past; how cold it still is, is not known") != past || strings.Contains(line, "hours not known") {
			t.Errorf("at %v: %s", at(minutes), line)
		}
	}
	for minutes, want := range map[int]string{-60: "", 0: "", 5: ", earlier in the window"} {
		got, err := w.Status(context.Background(), at(minutes))
		if err != nil || got[0].LowBeyond() != want || strings.Contains(got[0].Note, "outside the duty window") || (want != "") != strings.Contains(got[0].Note, "was for 13:00Z 15 Jan, earlier in the duty window") {
			t.Errorf("at %v: %q, %+v, %v; want %q", minutes, got[0].LowBeyond(), got[0], err, want)
		}
	}
}

// TestStatusLooksAhead: a source that keeps only the hours to come covers the
// rest of a window that is running.
func TestStatusLooksAhead(t *testing.T) {
	store := storetest.NewMemory(time.Now)
	w := watch.New(slog.New(slog.DiscardHandler), time.Now, watch.Settings{}, []config.Station{kaldmoor(t)},
		forecasts(func(string) ([]weather.Forecast, error) {
			all := curveFrom(at(300), -10) // which begins at 11:00
			all[0].Issued = at(-90)
			return all, nil
		}), store)
	for minutes, want := range map[int]string{-60: "part-forecast", 310: "clear"} {
		got, err := w.Status(context.Background(), at(minutes))
		if err != nil || got[0].State != want {
			t.Errorf("at %v: %+v, %v; want %s", at(minutes), got, err, want)
		}
	}
}
