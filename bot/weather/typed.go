package weather

import (
	"fmt"
	"strings"
	"time"

	"firn/engine"
)

// TypedSource is what stands in Observation.Source of a typed one. Who typed
// it stands in Raw, before the line.
const TypedSource = "typed by duty officer"

// TypedObservation is what somebody typed, as it is kept: who and the line in
// Raw, when it was typed in Received.
func TypedObservation(who, line, ident string, c engine.Celsius, observed, typed time.Time) Observation {
	raw := strings.Join(strings.Fields(line), " ")
	if who = strings.Join(strings.Fields(who), " "); who != "" {
		raw = who + ": " + raw
	}
	return Observation{Ident: ident, C: c, At: observed.UTC(), Source: TypedSource, Raw: raw, Received: typed.UTC()}
}

// typedAhead is how far ahead of the clock a typed time may be.
const typedAhead = 5 * time.Minute

// TypedTime is the latest instant with this hour and minute in UTC, and on this
// day of the month unless it is 0, that is not after now and the allowance, at
// most three days back; else what is wrong with it, behind "is". now is in UTC.
func TypedTime(day, hour, minute int, now time.Time) (_ time.Time, wrong string) {
	on := func(days int) time.Time {
		return time.Date(now.Year(), now.Month(), now.Day()+days, hour, minute, 0, 0, time.UTC)
	}
	ahead := func(t time.Time) string {
		return fmt.Sprintf("%s ahead of the clock, which shows %s", apart(t.Sub(now)), now.Format("021504Z"))
	}
	for back := -1; back < 4; back++ {
		t := on(-back)
		switch {
		case day != 0 && day != t.Day():
		case !t.After(now.Add(typedAhead)):
			if since := now.Sub(t); since > 72*time.Hour {
				return time.Time{}, "not within the last three days"
			}
			return t, ""
		case day != 0:
			return time.Time{}, ahead(t)
		case t.Sub(now) < now.Sub(on(-back-1)):
			return time.Time{}, ahead(t) + "; for the day before write " + on(-back-1).Format("021504Z")
		}
	}
	for days := 2; days < 4; days++ {
		if t := on(days); day == t.Day() {
			return time.Time{}, ahead(t)
		}
	}
	return time.Time{}, "not within the last three days"
}

// apart is a length of time for people.
func apart(d time.Duration) string {
	m := int((d + time.Minute - 1) / time.Minute)
	if m < 120 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h", m/60)
}
