package bot

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
)

// visit is a stop with the instant that its time means.
type visit struct {
	parse.Stop
	at time.Time
}

// An arrival may be late, so that it has gone by an hour after its time; the
// times that a message means lie within a week. Ours.
const (
	lateness = time.Hour
	ahead    = 7 * 24 * time.Hour
)

// visits are the stops of a message, each at its instant. A day that was said
// is the base's own. What may be meant otherwise is asked about: an hour that
// the base's clocks skip or have twice, a stop before the one before it.
func (b *Bot) visits(stops []parse.Stop, now time.Time) ([]visit, *parse.Problem) {
	all := make([]visit, len(stops))
	for i := range stops {
		all[i].Stop = stops[i]
	}
	earliest, before := now.Add(-lateness), -1
	for i := range all {
		s := &all[i]
		zone := b.Zone(s.Station)
		s.at = secondOf(s.At, s.At.Instant(now, earliest, zone), earliest, zone)
		problem, fixed := b.oddTime(s, now, zone)
		if problem == nil && before >= 0 {
			problem, fixed = order(&all[before], s, now, zone)
		}
		if problem != nil {
			if problem.Try == "" && fixed.At != s.At {
				problem.Try = briefWith(all, i, fixed)
			}
			return nil, problem
		}
		if !s.Alternate {
			earliest, before = s.at, i
		}
	}
	return all, nil
}

// oddTime asks about a time that has gone by, and one that is none, or two, by
// the base's clocks. fixed is the stop to type instead, the stop itself where
// there is none.
func (b *Bot) oddTime(s *visit, now time.Time, zone *time.Location) (p *parse.Problem, fixed parse.Stop) {
	fixed = s.Stop
	say := func(text string, args ...any) *parse.Problem {
		return &parse.Problem{Word: s.At.String(), Text: fmt.Sprintf(text, args...)}
	}
	switch {
	case s.At.Day != parse.DayUnsaid && s.at.Before(now.Add(-lateness)):
		fixed.At.Day = parse.Tomorrow
		return say("%s at %s has gone by.", s.At, s.Station), fixed
	case s.At.Day > 0 && s.at.Sub(now) > ahead:
		return say("%s at %s has gone by, or is far ahead: the next such day is %s. Say today, tomorrow, or a day of this week.",
			s.At, s.Station, s.at.In(zone).Format("Mon 2 Jan")), fixed
	case s.At.Zone == parse.UTC || s.At.In > 0:
		return nil, fixed
	}
	clock := func(t time.Time) string { return t.UTC().Format("1504Z") }
	there := s.at.In(zone)
	if there.Hour() != s.At.Hour || there.Minute() != s.At.Minute {
		return say("%02d:%02d does not come at %s on %s: the clocks go forward over it. Give the time in UTC.",
			s.At.Hour, s.At.Minute, s.Station, there.Format("Mon 2 Jan")), fixed
	}
	if other, twice := again(s.at, zone); twice {
		first, second := s.at, other
		if second.Before(first) {
			first, second = second, first
		}
		if first.Before(now.Add(-lateness)) {
			return nil, fixed // one is left
		}
		fixed.At = utcClock(first)
		return say("%02d:%02d comes twice at %s on %s, when the clocks go back: %s and %s. Which is it?",
			s.At.Hour, s.At.Minute, s.Station, there.Format("Mon 2 Jan"), clock(first), clock(second)), fixed
	}
	return nil, fixed
}

// justGoneBy is how long after a time has gone by, of which no day was said, it may
// still be the one that is meant. Ours.
const justGoneBy = 4 * time.Hour

// justGone says of such a time that the next day's was taken; empty where it is none.
func (b *Bot) justGone(v visit, now time.Time) string {
	if !v.At.Said || v.At.Day != parse.DayUnsaid || v.At.In > 0 {
		return ""
	}
	zone := b.Zone(v.Station)
	by := v.at.In(clockZone(v.At, zone))
	gone := now.Sub(time.Date(by.Year(), by.Month(), by.Day()-1, by.Hour(), by.Minute(), 0, 0, by.Location()))
	if gone <= lateness || gone > justGoneBy {
		return ""
	}
	return fmt.Sprintf("%s at %s has gone by today: this is %s.", v.At, v.Station, localTime(v.at, now, zone))
}

// secondOf is the time at which the clocks show an hour for the second time, where
// they do and only the first is before earliest; else the time itself.
func secondOf(c parse.Clock, t, earliest time.Time, zone *time.Location) time.Time {
	if c.Zone == parse.UTC || c.In > 0 {
		return t
	}
	there := t.In(zone)
	if c.Day == parse.DayUnsaid { // it was looked for on the next day
		there = time.Date(there.Year(), there.Month(), there.Day()-1, c.Hour, c.Minute, 0, 0, zone)
	}
	other, twice := again(there, zone)
	if other.Before(there) {
		other, there = there, other
	}
	if twice && there.Before(earliest) && !other.Before(earliest) {
		return other
	}
	return t
}

// again is the other instant at which a zone's clocks show the same day and time.
func again(t time.Time, zone *time.Location) (time.Time, bool) {
	const same = "2006-01-02 15:04"
	for _, by := range []time.Duration{30 * time.Minute, time.Hour, 2 * time.Hour} { // all that clocks go back by
		for _, other := range []time.Time{t.Add(by), t.Add(-by)} {
			if other.In(zone).Format(same) == t.In(zone).Format(same) {
				return other, true
			}
		}
	}
	return t, false
}

// order asks about a stop that lies before the one before it, or would but for
// a day that nobody said.
func order(before, s *visit, now time.Time, zone *time.Location) (p *parse.Problem, fixed parse.Stop) {
	fixed = s.Stop
	text := fmt.Sprintf("%s %s comes before %s %s", s.Station, s.At, before.Station, before.At)
	if s.at.Before(before.at) {
		swapped := []visit{*s, *before}
		return &parse.Problem{Word: s.At.String(), Text: text + ": name the stops in the order in which they are flown.", Try: parse.BriefLine(stopsOf(swapped))}, fixed
	}
	if s.At.Day != parse.DayUnsaid || s.At.In > 0 || s.at.Sub(before.at) < 12*time.Hour {
		return nil, fixed
	}
	if by := clockZone(s.At, zone); s.at.In(by).Format(time.DateOnly) == before.at.In(by).Format(time.DateOnly) {
		return nil, fixed
	}
	fixed.At.Day = dayOf(s.at, s.At, now, zone)
	return &parse.Problem{Word: s.At.String(), Text: text + ", or on the next day: say which day."}, fixed
}

// clockZone is what a typed time is read by.
func clockZone(c parse.Clock, local *time.Location) *time.Location {
	if c.Zone == parse.UTC {
		return time.UTC
	}
	return local
}

// dayOf is the day to say with a time so that it means an instant.
func dayOf(t time.Time, c parse.Clock, now time.Time, local *time.Location) parse.Day {
	switch t.In(local).Format(time.DateOnly) {
	case now.In(local).Format(time.DateOnly):
		return parse.Today
	case now.In(local).AddDate(0, 0, 1).Format(time.DateOnly):
		return parse.Tomorrow
	}
	return parse.Day(t.In(clockZone(c, local)).Day())
}

// utcClock is an instant as a time to type.
func utcClock(t time.Time) parse.Clock {
	t = t.UTC()
	return parse.Clock{Said: true, Hour: t.Hour(), Minute: t.Minute(), Zone: parse.UTC, Day: parse.Day(t.Day())}
}

func stopsOf(visits []visit) []parse.Stop {
	stops := make([]parse.Stop, len(visits))
	for i := range visits {
		stops[i] = visits[i].Stop
	}
	return stops
}

// briefWith is the brief of visits with one of the stops typed otherwise.
func briefWith(visits []visit, i int, fixed parse.Stop) string {
	stops := stopsOf(visits)
	stops[i] = fixed
	return parse.BriefLine(stops)
}

// instantLine is the brief that means these instants, whenever it is read.
func instantLine(visits []visit) string {
	stops := stopsOf(visits)
	for i := range stops {
		stops[i].At = utcClock(visits[i].at)
	}
	return parse.BriefLine(stops)
}

// toCome are the arrivals of a brief that have not gone by, at the instants at
// which they were asked for. stops are those of its line.
func toCome(r record.Record, stops []parse.Stop, now time.Time) []visit {
	var all []visit
	for i, a := range r.Reply.Arrivals {
		v := visit{Stop: parse.Stop{Station: a.Station.Ident, Alternate: a.Alternate}, at: a.At}
		if len(stops) == len(r.Reply.Arrivals) && stops[i].Station == v.Station {
			v.Procedure, v.By = stops[i].Procedure, stops[i].By
		}
		if v.At = utcClock(v.at); !v.at.Before(now.Add(-lateness)) {
			all = append(all, v)
		}
	}
	return all
}

// goneBy says that nothing of a brief is left to compute.
func goneBy(r record.Record) *parse.Problem {
	var idents []string
	for _, a := range r.Reply.Arrivals {
		if !slices.Contains(idents, a.Station.Ident) {
			idents = append(idents, a.Station.Ident)
		}
	}
	return &parse.Problem{Word: r.ID, Text: fmt.Sprintf("The arrivals of %s (%s) have gone by; ask for others with “brief”.", r.ID, strings.Join(idents, ", "))}
}
