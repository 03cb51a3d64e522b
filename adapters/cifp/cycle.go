package cifp

import (
	"fmt"
	"time"
)

// cycleLength is that of every cycle (ICAO Annex 15, AIRAC).
const cycleLength = 28 * 24 * time.Hour

// anyCycle begins a cycle, 2001; all others are whole cycles away. HDR04 of a
// real file says "VOLUME 2609  EFFECTIVE 03 SEP 2026", 87 cycles later.
var anyCycle = time.Date(2020, time.January, 2, 0, 0, 0, 0, time.UTC)

// CycleDates gives the day a cycle of four figures, as 2609, begins and the
// day the next one does. The first two are the year, the others count the
// cycles that begin in it. A number that its year does not have is an error.
func CycleDates(cycle string) (effective, end time.Time, err error) {
	n := 0
	for i := range len(cycle) {
		if cycle[i] < '0' || cycle[i] > '9' || len(cycle) != 4 {
			n = 0
			break
		}
		n = n*10 + int(cycle[i]-'0')
	}
	// ARINC 424 came with two figures of the year; files before 1990 are
	// not to be had.
	year, of := 2000+n/100, n%100
	if year >= 2090 {
		year -= 100
	}
	if of == 0 {
		return effective, end, fmt.Errorf("cycle %q is not four figures, year and number, as 2609", cycle)
	}
	first := anyCycle
	newYear := time.Date(year, time.January, 1, 0, 0, 0, 0, time.UTC)
	if past := newYear.Sub(first); past > 0 {
		first = first.Add((past + cycleLength - 1) / cycleLength * cycleLength)
	} else {
		first = first.Add(past / cycleLength * cycleLength) // towards zero: not before the new year
	}
	effective = first.Add(time.Duration(of-1) * cycleLength)
	if effective.Year() != year {
		return time.Time{}, time.Time{}, fmt.Errorf("cycle %q: %d does not have so many cycles", cycle, year)
	}
	return effective, effective.Add(cycleLength), nil
}
