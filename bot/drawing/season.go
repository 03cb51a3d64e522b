package drawing

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// Low is the lowest temperature of a local day.
type Low struct {
	Day time.Time // any time of that day, in the base's zone
	C   engine.Celsius
}

// SeasonDay is a day of a season; without a value it is not known, which is
// not warm.
type SeasonDay struct {
	Date  time.Time // midnight UTC of the calendar day: days here are dates
	C     engine.Celsius
	Known bool
	Binds bool
}

// Season is a base's daily lows against its restriction temperature.
type Season struct {
	Heading
	Days    []SeasonDay // every calendar day, in order
	Line    engine.Celsius
	Lowest  SeasonDay
	Bound   int // days at or below
	Unknown int // days without a value
	Longest int // days in a row at or below
	// Lines are what the picture says, a sentence each.
	Lines []string
	foot  []string
}

// longestSeason is how many days a picture takes.
const longestSeason = 400

// SeasonOf draws the daily lows of a base from the first to the last day;
// days without a value stay open. Source names where the lows are from.
func SeasonOf(b Base, lows []Low, restriction engine.Celsius, source string) (Season, bool) {
	if restriction <= coldwatch.NoRestriction || !drawableC(restriction) {
		return Season{}, false
	}
	s := Season{Line: restriction}
	byDay := map[time.Time]engine.Celsius{}
	var from, to time.Time
	for _, l := range lows {
		if !drawableC(l.C) {
			continue
		}
		y, m, d := l.Day.In(b.zone()).Date()
		day := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
		if c, ok := byDay[day]; !ok || l.C < c {
			byDay[day] = l.C
		}
		if from.IsZero() || day.Before(from) {
			from = day
		}
		if to.IsZero() || day.After(to) {
			to = day
		}
	}
	if len(byDay) == 0 || to.Sub(from) > longestSeason*24*time.Hour {
		return Season{}, false
	}
	line, run := coldwatch.Line{Restriction: restriction}, 0
	for day := from; !day.After(to); day = day.AddDate(0, 0, 1) {
		c, known := byDay[day]
		d := SeasonDay{Date: day, C: c, Known: known, Binds: known && line.Of(c) == coldwatch.Below}
		switch {
		case !known:
			s.Unknown++
		case !s.Lowest.Known || c < s.Lowest.C:
			s.Lowest = d
		}
		if run++; !d.Binds {
			run = 0
		} else {
			s.Bound++
		}
		s.Longest = max(s.Longest, run)
		s.Days = append(s.Days, d)
	}
	s.Heading = Heading{
		Kind:  fmt.Sprintf("Season, %s to %s", from.Format("2 Jan 2006"), to.Format("2 Jan 2006")),
		Title: b.title(),
		Sub:   fmt.Sprintf("%s at or below the restriction temperature, %s", days(s.Bound), reply.Celsius(restriction)),
	}
	s.Lines = []string{fmt.Sprintf("Lowest %s on %s.", reply.Celsius(s.Lowest.C), s.Lowest.Date.Format("2 Jan"))}
	if s.Longest > 1 {
		s.Lines = append(s.Lines, fmt.Sprintf("Longest run at or below: %s.", days(s.Longest)))
	}
	if s.Unknown > 0 {
		s.Lines = append(s.Lines, fmt.Sprintf("No value for %s, marked ×: not known is not warm.", days(s.Unknown)))
	}
	if source = clean(source); source == "" {
		source = "not named"
	}
	s.foot = []string{"Lowest temperature of each local day, degrees Celsius.", "Source: " + source + ".", reply.Aid}
	return s, true
}

func days(n int) string {
	if n == 1 {
		return "1 day"
	}
	return fmt.Sprintf("%d days", n)
}

// Name is the file's name.
func (Season) Name() string { return "season" }

// Top is the heading.
func (s Season) Top() Heading { return s.Heading }

// Foot are the lines below.
func (s Season) Foot() []string { return s.foot }

// Alt is the picture in words.
func (s Season) Alt() string {
	parts := append([]string{s.Kind + ".", s.Title + ".", s.Sub + "."}, s.Lines...)
	coldest := slices.Clone(s.Days)
	slices.SortStableFunc(coldest, func(a, b SeasonDay) int {
		switch {
		case a.Binds != b.Binds && a.Binds:
			return -1
		case a.Binds != b.Binds:
			return 1
		case a.C < b.C:
			return -1
		case a.C > b.C:
			return 1
		}
		return 0
	})
	var named []string
	for _, d := range coldest[:min(mostSpoken, s.Bound)] {
		named = append(named, d.Date.Format("2 Jan")+" "+reply.Celsius(d.C))
	}
	if len(named) > 0 {
		parts = append(parts, "Coldest days: "+strings.Join(named, ", ")+".")
	}
	return strings.Join(append(parts, "A planning aid."), " ")
}
