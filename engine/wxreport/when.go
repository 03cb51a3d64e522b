package wxreport

import "time"

// dayHour is a day of some month and an hour from 0 to 24, as validity and
// temperature groups give them. Hour 24 is 00 of the day after (NWS and WMO
// practice: 0500/0524).
type dayHour struct{ day, hour int }

func (d dayHour) exists() bool { return d.day >= 1 && d.day <= 31 && d.hour <= 24 }

// in is the instant in a month counted from that of ref; false when the month
// has no such day.
func (d dayHour) in(ref time.Time, months, minute int) (time.Time, bool) {
	t := time.Date(ref.Year(), ref.Month()+time.Month(months), d.day, 0, minute, 0, 0, time.UTC)
	if t.Day() != d.day {
		return time.Time{}, false
	}
	return t.Add(time.Duration(d.hour) * time.Hour), true
}

// clockSkew is how far in the future a report may be issued: an observer's
// clock, or one written up before the hour.
const clockSkew = time.Hour

// latest is the latest instant with this day, hour and minute at or before an
// hour after at. Every day up to the 31st comes in one month of any two
// neighbours but February and its own, so four months back are enough.
func latest(d dayHour, minute int, at time.Time) time.Time {
	at = at.UTC()
	limit := at.Add(clockSkew)
	for back := 1; back >= -4; back-- {
		if t, ok := d.in(at, back, minute); ok && !t.After(limit) {
			return t
		}
	}
	return time.Time{}
}

// nearest is the instant with this day and hour that is inside from..to or,
// when none is, the one least far from it. A validity that begins before its
// issue, or a month that turns between the two, needs no other rule.
func nearest(d dayHour, from, to time.Time) time.Time {
	var best time.Time
	least := time.Duration(1<<63 - 1)
	for month := -2; month <= 2; month++ {
		t, ok := d.in(from, month, 0)
		if !ok {
			continue
		}
		away := max(from.Sub(t), t.Sub(to), 0)
		if away < least {
			best, least = t, away
		}
	}
	return best
}
