package watch_test

import (
	"fmt"
	"hash/fnv"
	"log/slog"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"
	"time"

	"firn/bot/config"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/testclock"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// What a base's day is like in the simulated winter, and what must be told of
// it, reminders apart.
var plots = []struct {
	name string
	want string // kinds and states in order
}{
	{"clear", "opened/clear"},
	{"clear", "opened/clear"},
	{"near", "opened/near"},
	{"cold", "opened/below ended/below"},
	{"no forecast", "opened/no-forecast ended/no-forecast"},
	{"turns cold", "opened/clear amended/below ended/below"},
	{"turns warm", "opened/below all-clear/clear"},
	{"colder still", "opened/below amended/below ended/below"},
}

const (
	winterBases  = 50
	winterTick   = 15 * time.Minute
	winterWindow = 8 * time.Hour
)

// winterDay is one scheduled day of one base.
type winterDay struct {
	from time.Time
	plot int
}

type winter struct {
	clock    *testclock.Clock
	stations []config.Station
	days     map[string]map[string]winterDay // by ident and local date
	zones    map[string]*time.Location
}

// newWinter schedules bases in both hemispheres at hours that the clocks skip
// and double among others. When a day begins is found by walking minute by
// minute, not as the watch does it.
func newWinter(t *testing.T, start time.Time) *winter {
	w := &winter{clock: testclock.New(start), days: map[string]map[string]winterDay{}, zones: map[string]*time.Location{}}
	zones := []string{"America/Edmonton", "Europe/Oslo", "Pacific/Auckland", "America/Santiago", "Australia/Lord_Howe"}
	hours := []config.TimeOfDay{{Hour: 6}, {Hour: 2, Minute: 30}, {Hour: 1, Minute: 30}, {Hour: 2}, {Hour: 0, Minute: 30}, {Hour: 3}}
	restriction := engine.Celsius(-25)
	for i := range winterBases {
		s := config.Station{
			Ident: fmt.Sprintf("X%03d", i), Elevation: 3000, SourceElevation: 3000, Restriction: &restriction, Zone: zone(t, zones[i%len(zones)]),
			Watch: &config.Watch{At: hours[i/len(zones)%len(hours)], Days: config.Daily, Window: winterWindow, Margin: 3, Channels: []config.Address{{Surface: config.OnPage}}},
		}
		if i%7 == 0 {
			s.Watch.Days &^= 1<<time.Saturday | 1<<time.Sunday
		}
		w.stations = append(w.stations, s)
		w.zones[s.Ident] = s.Zone
		w.days[s.Ident] = map[string]winterDay{}
		for m := start; m.Before(start.AddDate(0, 0, winterDays)); m = m.Add(time.Minute) {
			l := m.In(s.Zone)
			if l.Hour()*60+l.Minute() < s.Watch.At.Hour*60+s.Watch.At.Minute {
				continue
			}
			date := l.Format(time.DateOnly)
			if _, there := w.days[s.Ident][date]; !there && s.Watch.Days.Has(l.Weekday()) {
				h := fnv.New32()
				fmt.Fprint(h, s.Ident, date)
				w.days[s.Ident][date] = winterDay{m, int(h.Sum32()>>8) % len(plots)}
				if m.After(start) {
					m = m.Add(20 * time.Hour) // not yet tomorrow's hour, whatever the clocks do
				}
			}
		}
	}
	return w
}

// Forecasts has a value an hour from the last full hour on; the plot of the
// local day makes it.
func (w *winter) forecast(ident string) ([]weather.Forecast, error) {
	now := w.clock.Now()
	day := w.days[ident][now.In(w.zones[ident]).Format(time.DateOnly)]
	since := now.Sub(day.from)
	c := engine.Celsius(-10)
	switch plots[day.plot].name {
	case "near":
		c = -23
	case "cold":
		c = -30
	case "no forecast":
		return nil, fmt.Errorf("folder: %w", weather.ErrNone)
	case "turns cold":
		if since >= 3*time.Hour {
			c = -30
		}
	case "turns warm":
		if c = -30; since >= 3*time.Hour {
			c = -10
		}
	case "colder still":
		if c = -30; since >= 3*time.Hour {
			c = -34
		}
	}
	f := weather.Forecast{Ident: ident, Forecast: coldwatch.Forecast{Source: "hourly forecast", Issued: now.Truncate(time.Hour)}}
	for h := range 12 {
		f.Hourly = append(f.Hourly, coldwatch.Sample{At: now.Truncate(time.Hour).Add(time.Duration(h) * time.Hour), C: c})
	}
	return []weather.Forecast{f}, nil
}

// TestWinter runs two winters, so that every zone goes through both changes
// of its clocks; restarts and downtime every few hours, two watches at once
// half of the time.
func TestWinter(t *testing.T) {
	for _, start := range []time.Time{
		time.Date(2026, 1, 5, 11, 0, 0, 0, time.UTC),
		time.Date(2026, 9, 1, 11, 0, 0, 0, time.UTC),
	} {
		t.Run(start.Format("January 2006"), func(t *testing.T) {
			t.Parallel()
			simulate(t, newWinter(t, start), start)
		})
	}
}

func simulate(t *testing.T, w *winter, start time.Time) {
	random := rand.New(rand.NewPCG(1, uint64(start.Unix())))
	store := storetest.NewMemory(w.clock.Now)
	set := watch.Settings{Alerts: aPostABase(), Duty: []config.Address{{Surface: config.OnSlack, ID: "U01"}}}
	processes := 0
	boot := func() *watch.Watch {
		processes++
		set.Holder = fmt.Sprint("process ", processes)
		return watch.New(slog.New(slog.DiscardHandler), w.clock.Now, set, w.stations, forecasts(w.forecast), store)
	}
	running := []*watch.Watch{boot()}
	end := start.AddDate(0, 0, winterDays)
	restart := start
	for now := start; now.Before(end); now = now.Add(winterTick) {
		if !now.Before(restart) {
			now = now.Add(time.Duration(random.IntN(5)) * winterTick) // down
			running = []*watch.Watch{boot()}
			if random.IntN(2) == 0 {
				running = append(running, boot())
			}
			restart = now.Add(time.Duration(2+random.IntN(5)) * time.Hour)
		}
		w.clock.Set(now)
		var wg sync.WaitGroup
		for _, r := range running {
			wg.Go(func() {
				if tally := r.Tick(t.Context()); tally.Failed > 0 {
					t.Errorf("%v: %d bases failed", now, tally.Failed)
				}
			})
		}
		wg.Wait()
		// Every second base is acknowledged by somebody who is quick.
		for i := 0; i < winterBases; i += 2 {
			if now.Sub(start)%(30*time.Minute) != 0 {
				break
			}
			if _, err := running[0].Acknowledge(t.Context(), w.stations[i].Ident, "duty officer", ""); err != nil {
				t.Fatal(err)
			}
		}
	}
	w.check(t, store, start, end)
}

// check counts what was told.
func (w *winter) check(t *testing.T, store *storetest.Memory, start, end time.Time) {
	alerts, cold := 0, 0
	for i, s := range w.stations {
		for date, day := range w.days[s.Ident] {
			if day.from.Equal(start) || day.from.Add(winterWindow+3*time.Hour).After(end) {
				continue // the winter begins or ends in the middle of it
			}
			d, err := store.Day(t.Context(), s.Ident, date)
			if err != nil {
				t.Fatal(err)
			}
			var told []string
			repeats, escalations := 0, 0
			asks := 0 // words that want an acknowledgement
			for _, a := range d.Alerts {
				alerts++
				switch a.Kind {
				case watch.Repeated:
					repeats++
					reminded(t, d, a)
				case watch.Escalated:
					escalations++
					reminded(t, d, a)
				default:
					told = append(told, string(a.Kind)+"/"+a.Judgement.State.String())
				}
				if s := a.Judgement.State; a.Kind != watch.AllClear && a.Kind != watch.Ended && (s == coldwatch.Below || s == coldwatch.NoForecast) && a.Kind != watch.Repeated && a.Kind != watch.Escalated {
					asks++
				}
			}
			if got := strings.Join(told, " "); got != plots[day.plot].want {
				t.Errorf("%s %s, %s: told %s, want %s", s.Ident, date, plots[day.plot].name, got, plots[day.plot].want)
			}
			if asks > 0 {
				cold++
			}
			quick := i%2 == 0
			if repeats > asks || escalations > asks || !quick && escalations != asks {
				t.Errorf("%s %s, %s: %d repeats and %d escalations of %d, acknowledged quickly %v", s.Ident, date, plots[day.plot].name, repeats, escalations, asks, quick)
			}
			if len(d.Alerts) == 0 {
				continue // said above
			}
			late := d.Alerts[0].Made.Sub(day.from)
			if late < 0 || late > 80*time.Minute {
				t.Errorf("%s %s was opened at %v, due at %v", s.Ident, date, d.Alerts[0].Made, day.from)
			}
		}
	}
	b, err := store.Backlog(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%d alerts kept, %d posts, %d base-days that wanted an acknowledgement", alerts, b.Waiting, cold)
}

// reminded holds that nobody is reminded of what was acknowledged.
func reminded(t *testing.T, d watch.Day, reminder watch.Alert) {
	asked := 0
	for _, a := range d.Alerts {
		if a.Seq < reminder.Seq && (a.Kind == watch.Opened || a.Kind == watch.Amended) {
			asked = a.Seq
		}
	}
	for _, k := range d.Acks {
		if k.Seq >= asked && k.At.Before(reminder.Made) {
			t.Errorf("%s %s: %s at %v of what %s acknowledged at %v", reminder.Base, reminder.Day, reminder.Kind, reminder.Made, k.By, k.At)
		}
	}
}
