package parse

import (
	"cmp"
	"fmt"
	"strconv"
	"time"
)

// Zone is what a clock's figures are read by.
type Zone uint8

// The zones. Local is that of the place the time is about.
const (
	Local Zone = iota
	UTC
)

// Day is the day that was said with a time: one of the named ones, or a day of
// the month from 1 to 31.
type Day int8

// The days that are no day of the month. Unsaid is the zero value.
const (
	DayUnsaid Day = 0
	Today     Day = -1
	Tomorrow  Day = -2
)

// Clock is a time as it was typed. The zero value says that none was.
type Clock struct {
	Said         bool // hour and minute stand for something, or In does
	Hour, Minute int
	Zone         Zone
	Unzoned      bool // no zone was said: it is UTC, in a thread that of the time before it
	Day          Day
	ends         bool          // typed as 24:00, the end of its day; read as the next one's midnight
	In           time.Duration // from now: "in 2h"; 0 where a time of day was typed
	Later        bool          // In is later than the time that was said before, where one was: "delayed 30 min"
}

// Add is a time that much later; one that passes midnight is on the next day, where
// the day was said.
func (c Clock) Add(d time.Duration) Clock {
	if c.In > 0 {
		c.In += d
		return c
	}
	minutes := c.Hour*60 + c.Minute + int(d/time.Minute)
	c.Hour, c.Minute = minutes/60%24, minutes%60
	for range minutes / (24 * 60) {
		switch {
		case c.Day == Today:
			c.Day = Tomorrow
		case c.Day > 0:
			c.Day++ // of the month
		}
	}
	return c
}

// Instant is the time that is meant: the first such on the clock that is not
// before earliest, unless the day was said. Today and tomorrow are the days of
// the place, of which local is the zone, whatever zone the time is in. A day of
// the month is the next one with that number.
func (c Clock) Instant(now, earliest time.Time, local *time.Location) time.Time {
	if c.In > 0 {
		return now.Add(c.In).Truncate(time.Minute)
	}
	zone := local
	if c.Zone == UTC {
		zone = time.UTC
	}
	y, m, d := now.In(zone).Date()
	at := func(days int) time.Time { return time.Date(y, m, d+days, c.Hour, c.Minute, 0, 0, zone) }
	if c.Day == Today || c.Day == Tomorrow {
		ly, lm, ld := now.In(local).Date()
		if c.Day == Tomorrow {
			ld++
		}
		day := time.Date(ly, lm, ld, 12, 0, 0, 0, local).Format(time.DateOnly)
		for i := -1; i < 3; i++ {
			if t := at(i); t.In(local).Format(time.DateOnly) == day {
				return t
			}
		}
		return at(int(Today - c.Day)) // clocks that go forward leave the hour out
	}
	for i := -1; ; i++ {
		t := at(i)
		if c.Day > 0 && t.Day() != int(c.Day) && i < 62 {
			continue
		}
		if !t.Before(earliest) {
			return t
		}
	}
}

// Latest is the last such time that is not after limit, as of something that
// was observed: with a day of the month the last with that number. local is
// the zone of the place.
func (c Clock) Latest(limit time.Time, local *time.Location) time.Time {
	if c.Zone == UTC {
		local = time.UTC
	}
	y, m, d := limit.In(local).Date()
	for i := 0; ; i-- {
		t := time.Date(y, m, d+i, c.Hour, c.Minute, 0, 0, local)
		if !t.After(limit) && (c.Day <= 0 || t.Day() == int(c.Day) || i < -62) {
			return t
		}
	}
}

// String is the time as a message writes it; empty where none was said.
func (c Clock) String() string {
	s := ""
	switch {
	case !c.Said:
		return s
	case c.In > 0 && c.In%time.Hour == 0:
		return fmt.Sprintf("in %dh", c.In/time.Hour)
	case c.In > 0:
		return fmt.Sprintf("in %dmin", c.In/time.Minute)
	}
	if c.Day > 0 {
		s = fmt.Sprintf("%02d", int(c.Day))
	}
	s += fmt.Sprintf("%02d%02d", c.Hour, c.Minute)
	switch {
	case c.Unzoned:
	case c.Zone == UTC:
		s += "Z"
	default:
		s += " local"
	}
	switch c.Day {
	case Today:
		s += " today"
	case Tomorrow:
		s += " tomorrow"
	}
	return s
}

// Stop is one arrival of a brief.
type Stop struct {
	Station   string // ident as configured
	Procedure string // as crews say it; empty: the usual ones
	At        Clock
	Alternate bool
	By        Terms // the same at every stop of a brief
}

// Terms are what an answer is worked out by where a message says otherwise than
// the configuration: the rule set, what the aircraft has, the line of minimums and
// the way in, as in Request.
type Terms struct {
	Rules, Compensated, SBAS, Remote, Minima string
	Way                                      Way
	Additive                                 float64 // of a single stop: it is its chart's
}

// Terms are those that the request names.
func (r *Request) Terms() Terms {
	return Terms{r.Rules, r.Compensated, r.SBAS, r.Remote, r.Minima, r.Way, r.Additive}
}

// Over are these terms, and of the others what these do not name.
func (t Terms) Over(o Terms) Terms {
	return Terms{cmp.Or(t.Rules, o.Rules), cmp.Or(t.Compensated, o.Compensated), cmp.Or(t.SBAS, o.SBAS), cmp.Or(t.Remote, o.Remote), cmp.Or(t.Minima, o.Minima), cmp.Or(t.Way, o.Way), cmp.Or(t.Additive, o.Additive)}
}

// Request is one that names these terms and nothing else.
func (t Terms) Request() Request {
	return Request{Rules: t.Rules, Compensated: t.Compensated, SBAS: t.SBAS, Remote: t.Remote, Minima: t.Minima, Way: t.Way, Additive: t.Additive}
}

// clockDigits reads 1430, 14:30, 021430 and with a zone behind 1430z, 1430l.
func clockDigits(w string) (c Clock, ok bool) {
	if n := len(w); n > 0 && (w[n-1] == 'z' || w[n-1] == 'l') {
		if w[n-1] == 'z' {
			c.Zone = UTC
		}
		w = w[:n-1]
	}
	if len(w) == 5 && w[2] == ':' {
		w = w[:2] + w[3:]
	} else if len(w) == 4 && w[1] == ':' {
		w = "0" + w[:1] + w[2:]
	}
	if digitsAt(w, 0) != len(w) || len(w) != 4 && len(w) != 6 {
		return c, false
	}
	if len(w) == 6 {
		day, _ := strconv.Atoi(w[:2])
		if day < 1 || day > 31 {
			return c, false
		}
		c.Day, w = Day(day), w[2:]
	}
	c.Hour, _ = strconv.Atoi(w[:2])
	c.Minute, _ = strconv.Atoi(w[2:])
	c.Said = true
	return c, c.Hour < 24 && c.Minute < 60
}

// meridiem reads "2" and "2:30" before am or pm.
func meridiem(digits string, after bool) (Clock, bool) {
	if len(digits) <= 2 {
		digits += ":00"
	}
	c, ok := clockDigits(digits)
	if !ok || c.Hour < 1 || c.Hour > 12 {
		return Clock{}, false
	}
	c.Hour %= 12
	if after {
		c.Hour += 12
	}
	return c, true
}
