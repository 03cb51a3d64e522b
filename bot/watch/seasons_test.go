package watch_test

import (
	"context"
	"fmt"
	"log/slog"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firn/bot/config"
	"firn/bot/testkit/storetest"
	"firn/bot/testkit/testclock"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

const (
	seasonDays = 30
	seasonTick = time.Hour // also how often the watch looks again
	seasonLine = engine.Celsius(-25)
)

// season is one winter of one base: what the air will be as far as anybody can
// know, what the source makes of it, and what the watch was given.
type season struct {
	*rapid.T
	clock   *testclock.Clock
	store   *storetest.Memory
	station config.Station
	watch   *watch.Watch
	start   time.Time
	days    []seasonDay

	air     []engine.Celsius // an hour, from start on
	mode    string           // of the source, now
	horizon int              // hours of a short forecast
	given   []weather.Forecast
	second  tafSource
	changes []time.Time // of the air or the source
	booted  time.Time
	kept    lastKept
}

// seasonDay is a scheduled day; end is when its window ends or the next begins.
type seasonDay struct {
	name      string
	from, end time.Time
	to        time.Time // of the window
	overtaken bool
}

// seasonPlot is what happens on a UTC day.
type seasonPlot struct {
	mode            string
	horizon         int
	modeAt          int // the hour
	shiftAt, shift  int // the air from then on; by how much
	downAt, down    int // the tick from which on it is down, and for how many
	ackAt, snoozeAt int // ticks
	acks, snoozes   bool
	fallOfNight     int
	taf             bool // the second source has one
	bias            int  // by how much it is colder
}

func drawPlot(t *rapid.T) seasonPlot {
	tick := rapid.IntRange(0, 23)
	return seasonPlot{
		mode:    rapid.SampledFrom([]string{"hourly", "hourly", "hourly", "minimum", "short", "fails", "none", "garbled"}).Draw(t, "mode"),
		horizon: rapid.IntRange(2, 20).Draw(t, "horizon"),
		modeAt:  rapid.IntRange(0, 23).Draw(t, "mode at"),
		shiftAt: rapid.IntRange(0, 23).Draw(t, "shift at"), shift: rapid.SampledFrom([]int{0, 0, 0, -12, -6, -2, 2, 6, 12}).Draw(t, "shift"),
		downAt: tick.Draw(t, "down at"), down: rapid.SampledFrom([]int{0, 0, 0, 0, 1, 3, 10}).Draw(t, "down"),
		acks: rapid.Bool().Draw(t, "acks"), ackAt: tick.Draw(t, "ack at"),
		snoozes: rapid.IntRange(0, 4).Draw(t, "snoozes") == 0, snoozeAt: tick.Draw(t, "snooze at"),
		taf: rapid.IntRange(0, 2).Draw(t, "taf") == 0, bias: rapid.SampledFrom([]int{0, 0, -2, -8, 7}).Draw(t, "bias"),
		fallOfNight: rapid.IntRange(0, 15).Draw(t, "night"),
	}
}

func newSeason(t *rapid.T) *season {
	zones := []string{"America/Denver", "Europe/Oslo", "Pacific/Auckland", "America/Santiago", "Australia/Lord_Howe"}
	where, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
	if err != nil {
		t.Fatal(err)
	}
	restriction := seasonLine
	s := &season{T: t, mode: "hourly"}
	s.second.season = s
	s.start = time.Date(2025, 9, 20, 0, 0, 0, 0, time.UTC).AddDate(0, 0, rapid.IntRange(0, 200).Draw(t, "start"))
	s.clock = testclock.New(s.start)
	s.store = storetest.NewMemory(s.clock.Now)
	s.station = config.Station{Ident: "XKLD", Restriction: &restriction, Zone: where, Watch: &config.Watch{
		At:     config.TimeOfDay{Hour: rapid.IntRange(0, 8).Draw(t, "hour"), Minute: 30 * rapid.IntRange(0, 1).Draw(t, "half")},
		Days:   rapid.SampledFrom([]config.Days{config.Daily, config.Daily &^ (1<<time.Saturday | 1<<time.Sunday)}).Draw(t, "days"),
		Window: time.Duration(rapid.SampledFrom([]int{8, 12, 24, 36}).Draw(t, "window")) * time.Hour,
		Margin: 3, Channels: []config.Address{{Surface: config.OnPage}},
	}}
	s.schedule(where)
	s.restart()
	return s
}

// schedule finds the days; when they begin and end is held by TestWinter, TestBegins and TestEnds.
func (s *season) schedule(where *time.Location) {
	for i := -3; i < seasonDays+3; i++ {
		date := s.start.AddDate(0, 0, i)
		from, ok := watch.Begins(date, s.station.Watch.At, where)
		if !ok || !s.station.Watch.Days.Has(date.Weekday()) {
			continue
		}
		if n := len(s.days); n > 0 && !from.After(s.days[n-1].to) {
			s.days[n-1].end, s.days[n-1].overtaken = from, true
		}
		to := watch.Ends(date, from, s.station.Watch, where)
		s.days = append(s.days, seasonDay{name: date.Format(time.DateOnly), from: from, end: to, to: to})
	}
}

// restart is a new process on the same store.
func (s *season) restart() {
	s.booted = s.clock.Now()
	chain := weather.NewChain(weather.Options{Sources: []weather.Source{s, &s.second}, Archive: &s.kept, Now: s.clock.Now})
	heard := forecasts(func(ident string) ([]weather.Forecast, error) {
		all, err := chain.Forecasts(context.Background(), ident)
		s.given = all
		return all, err
	})
	alerts := aPostABase()
	alerts.Recheck = seasonTick
	set := watch.Settings{Alerts: alerts, Duty: []config.Address{{Surface: config.OnSlack, ID: "U01"}}, Holder: "a"}
	s.watch = watch.New(slog.New(slog.DiscardHandler), s.clock.Now, set, []config.Station{s.station}, heard, s.store)
}

// TestSeasons plays 1000 winters of a base, where .ci/run wants all: no cold that is forecast is silent,
// nothing is said twice, and the last word of every day is true.
func TestSeasons(t *testing.T) {
	for range seasonGroups {
		t.Run("a hundred winters", func(t *testing.T) {
			t.Parallel()
			rapid.Check(t, playSeason)
		})
	}
}

func playSeason(t *rapid.T) {
	s := newSeason(t)
	warm := rapid.IntRange(-26, -12).Draw(t, "warm")
	plots := make([]seasonPlot, seasonDays)
	for i := range plots {
		plots[i] = drawPlot(t)
	}
	for d := range seasonDays + 4 {
		fall := float64(plots[min(d, seasonDays-1)].fallOfNight)
		for h := range 24 {
			s.air = append(s.air, engine.Celsius(float64(warm)-fall/2+fall/2*math.Cos(2*math.Pi*float64(h-20)/24)))
		}
	}
	for day, p := range plots {
		s.live(day, p)
	}
	s.wordsDiffer()
	s.nextDaysClose()
}

// live plays a UTC day.
func (s *season) live(day int, p seasonPlot) {
	for tick := range 24 {
		now := s.start.AddDate(0, 0, day).Add(time.Duration(tick) * seasonTick)
		s.clock.Set(now)
		if tick == p.modeAt {
			s.mode, s.horizon = p.mode, p.horizon
			s.second.has, s.second.bias = p.taf, engine.Celsius(p.bias)
			s.changes = append(s.changes, now)
		}
		if tick == p.shiftAt && p.shift != 0 {
			for i := day*24 + p.shiftAt + 1; i < min(day*24+p.shiftAt+31, len(s.air)); i++ {
				s.air[i] += engine.Celsius(p.shift)
			}
			s.changes = append(s.changes, now)
		}
		if tick >= p.downAt && tick < p.downAt+p.down {
			continue
		}
		if p.down > 0 && tick == p.downAt+p.down {
			s.restart()
		}
		ticks := 1
		if tick%8 == 0 {
			ticks = 2 // the second has nothing to add
		}
		for range ticks {
			if tally := s.watch.Tick(context.Background()); tally.Failed > 0 {
				s.Fatalf("%v: the tick failed", now)
			}
		}
		s.look(now)
		if p.acks && tick == p.ackAt {
			if _, err := s.watch.Acknowledge(context.Background(), "XKLD", "R. Holm", ""); err != nil {
				s.Fatal(err)
			}
		}
		if p.snoozes && tick == p.snoozeAt {
			if _, err := s.watch.Snooze(context.Background(), "XKLD", "R. Holm", 10*time.Hour); err != nil {
				s.Fatal(err)
			}
		}
	}
}

// words are those of a day that are no reminders.
func (s *season) words(day string) (all []watch.Alert) {
	d, err := s.store.Day(context.Background(), "XKLD", day)
	if err != nil {
		s.Fatal(err)
	}
	for _, a := range d.Alerts {
		if a.Kind != watch.Repeated && a.Kind != watch.Escalated {
			all = append(all, a)
		}
	}
	return all
}

// outlook is what was given of the time from now to the window's end.
type outlook struct {
	cold    bool      // at some hour
	warm    bool      // neither cold nor near, as far as it goes
	covered time.Time // by what is not in doubt
	doubt   bool      // all of it is
	old     bool      // of a source that failed long ago
}

func (s *season) ahead(now, to time.Time) outlook {
	o := outlook{warm: true, covered: now, doubt: true}
	for _, f := range s.given {
		o.old = o.old || strings.HasPrefix(f.Note, "source failed") && now.Sub(f.Issued) > weather.KeptFor+seasonTick
		if !f.ColderOnly {
			o.doubt = false
			if f.ValidTo.After(o.covered) {
				o.covered = f.ValidTo
			}
		}
		for _, v := range append(slices.Clone(f.Hourly), f.Minimums...) {
			end := v.At.Add(time.Hour)
			if f.Hourly == nil {
				end = v.At.Add(1)
			}
			if !end.After(now) || !v.At.Before(to) {
				o.warm = o.warm && f.Hourly != nil // a bound
				continue
			}
			o.cold = o.cold || v.C.ColderTenth() <= seasonLine
			o.warm = o.warm && v.C.ColderTenth() > seasonLine+3
		}
	}
	return o
}

// look holds the last word to what the watch was given.
func (s *season) look(now time.Time) {
	for _, d := range s.days {
		if now.Before(d.from) || !now.Before(d.to.Add(24*time.Hour)) {
			continue
		}
		words := s.words(d.name)
		if len(words) == 0 && now.Before(d.from.Add(seasonTick)) {
			continue
		}
		if !now.Before(d.end) {
			s.ended(now, d, words)
			continue
		}
		overtakenSoon := d.overtaken && d.end.Sub(now) < time.Hour
		if len(words) == 0 {
			// A source that fails is asked again for a while after a start.
			if !overtakenSoon && !(s.mode == "fails" && s.booted.Equal(now)) {
				s.Fatalf("%v: %s is not opened", now, d.name)
			}
			continue
		}
		last := words[len(words)-1]
		is := last.Judgement.State
		o := s.ahead(now, d.to)
		said := func(what string) {
			s.Fatalf("%v, %s, %s: %s; last word %s/%v of %v, low %v at %v, below %v to %v, covered to %v; given %+v", now, d.name, s.mode, what,
				last.Kind, is, last.Made, last.Judgement.Low, last.Judgement.LowAt, last.Judgement.BelowFrom, last.Judgement.BelowTo, last.Judgement.CoveredTo, s.given)
		}
		tail := !d.to.Add(-coldwatch.Tail).After(now)
		all := !o.covered.Before(d.to.Add(-coldwatch.Tail))
		switch {
		case d.end.Sub(now) < time.Hour: // nothing is looked up any more
		case o.cold && is != coldwatch.Below:
			said("a cold is silent")
		case o.old:
			said("a forecast that failed long ago counts")
		case len(s.given) == 0 && !tail && is != coldwatch.NoForecast:
			said("nothing is known")
		case o.doubt && !o.cold && !tail && !is.Asks():
			said("what is in doubt is told as warm")
		case len(s.given) > 0 && !tail && !all && !is.Asks():
			said("not all is known")
		case !o.doubt && o.warm && all && is.Asks():
			said("it is over")
		}
	}
}

// ended holds the last word of a day that has ended.
func (s *season) ended(now time.Time, d seasonDay, words []watch.Alert) {
	if len(words) == 0 || d.overtaken || !s.next(d).After(now) { // the next day says it
		return
	}
	last := words[len(words)-1]
	if last.Kind != watch.Ended {
		if last.Judgement.State.Asks() {
			s.Fatalf("%v: %s is left open, %s/%v", now, d.name, last.Kind, last.Judgement.State)
		}
		return
	}
	if !last.Made.Equal(now) || len(s.given) != 1 || s.given[0].ColderOnly {
		return
	}
	for _, v := range s.given[0].Hourly {
		if v.At.After(d.to.Add(-time.Hour)) && !v.At.After(d.to) && (v.C.ColderTenth() <= seasonLine) && last.Judgement.State != coldwatch.Below {
			s.Fatalf("%s ended %v, and it is %v", d.name, last.Judgement.State, v.C)
		}
	}
}

// next is when the day behind another begins.
func (s *season) next(d seasonDay) time.Time {
	for _, o := range s.days {
		if o.from.After(d.from) {
			return o.from
		}
	}
	return s.start.AddDate(1, 0, 0)
}

// wordsDiffer holds that each word of a day says something that the one before
// did not, and that there are no more than there were changes.
func (s *season) wordsDiffer() {
	for _, d := range s.days {
		words := s.words(d.name)
		changes := 3
		for _, c := range s.changes {
			if !c.Before(d.from.Add(-time.Hour)) && c.Before(d.end) {
				changes += 3
			}
		}
		changes += int(s.station.Watch.Window / (2 * time.Hour)) // a short forecast ends
		var told []string
		for i, a := range words {
			told = append(told, fmt.Sprintf("%s %s/%v %v", a.Made.Format("15:04"), a.Kind, a.Judgement.State, a.Judgement.Low))
			if i == 0 || a.Kind == watch.Ended || a.Judgement.State != words[i-1].Judgement.State {
				continue
			}
			was, is := words[i-1].Judgement, a.Judgement
			moved := math.Abs(float64(is.Low-was.Low)) > 3
			hours := was.HoursKnown && is.HoursKnown && (is.BelowTo.Sub(was.BelowTo).Abs() > 2*time.Hour || is.BelowFrom.Sub(was.BelowFrom).Abs() > 2*time.Hour)
			if !moved && !hours && is.CoveredTo.Equal(was.CoveredTo) {
				s.Fatalf("%s says the same twice: %s", d.name, strings.Join(told, ", "))
			}
		}
		if len(words) > changes {
			s.Fatalf("%s has %d words for %d: %s", d.name, len(words), changes, strings.Join(told, ", "))
		}
	}
}

// nextDaysClose holds that a day that begins clear says so after one that was
// left open.
func (s *season) nextDaysClose() {
	posted := map[string]bool{}
	for {
		claims, err := s.store.Claim(context.Background(), s.clock.Now().AddDate(1, 0, 0), time.Minute, 10000)
		if err != nil {
			s.Fatal(err)
		}
		for _, c := range claims {
			posted[c.Key] = true
			if _, err := s.store.Done(context.Background(), c, "ref", s.clock.Now()); err != nil {
				s.Fatal(err)
			}
		}
		if len(claims) == 0 {
			break
		}
	}
	for i, d := range s.days[1:] {
		before, words := s.words(s.days[i].name), s.words(d.name)
		if len(before) == 0 || len(words) == 0 || d.from.Sub(s.days[i].from) > 30*time.Hour {
			continue
		}
		last := before[len(before)-1]
		open := last.Kind != watch.AllClear && last.Judgement.State.Asks()
		if first := words[0]; posted[first.Key()] != (open || first.Judgement.State != coldwatch.Clear) {
			s.Fatalf("%s began %v after %s/%v, posted %v", d.name, first.Judgement.State, last.Kind, last.Judgement.State, posted[first.Key()])
		}
	}
}
