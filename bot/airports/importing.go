package airports

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
)

// ErrDated marks a day that was not typed as one.
var ErrDated = errors.New("usage")

// ParseDates reads days of lists as they are typed: FILE=2026-01-22, or
// FILE=2026-01-22..2027-01-21 with the first day on which the list does not hold
// any more. files are those that may be named.
func ParseDates(all, files []string) (map[string]Edition, error) {
	out := map[string]Edition{}
	known := map[string]bool{}
	for _, f := range files {
		known[f] = true
	}
	for _, s := range all {
		path, days, _ := strings.Cut(s, "=")
		from, until, ranged := strings.Cut(days, "..")
		var e Edition
		var err error
		if e.Date, err = time.Parse(time.DateOnly, from); err == nil && ranged {
			e.Until, err = time.Parse(time.DateOnly, until)
		}
		if err != nil {
			return nil, fmt.Errorf("%w: --date %q is not FILE=2026-01-22 or FILE=2026-01-22..2027-01-21", ErrDated, s)
		}
		if !known[path] {
			return nil, fmt.Errorf("%w: --date names %s, which is none of the files", ErrDated, path)
		}
		out[path] = e
	}
	return out, nil
}

// Zones says in which time zone a place lies; empty: in none that it knows.
type Zones interface{ At(lat, lon float64) string }

// PlaceZones gives each field without a zone that of its place, and says of how
// many it knew one. open is asked when the first is needed.
func PlaceZones(all []Airport, open func() (Zones, error)) (n int, err error) {
	var zones Zones
	for i := range all {
		a := &all[i]
		if a.Zone != "" || !a.HasPlace {
			continue
		}
		if zones == nil {
			if zones, err = open(); err != nil {
				return n, err
			}
		}
		if a.Zone = zones.At(a.Lat, a.Lon); a.Zone != "" {
			n++
		}
	}
	return n, nil
}

// Tell says what came of a merge, its conflicts as a table. out is where the list
// was written, zoned how many time zones are by place.
func (m Merged) Tell(w io.Writer, out string, zoned int) error {
	placed, restricted := 0, 0
	for i := range m.Airports {
		if m.Airports[i].HasElevation {
			placed++
		}
		if m.Airports[i].Restricted {
			restricted++
		}
	}
	fmt.Fprintf(w, "%s: %d airfields of %d rows, %d with an elevation, %d restricted, %d time zones by place\n", out, len(m.Airports), m.Rows, placed, restricted, zoned)
	if len(m.Placeless) > 0 {
		fmt.Fprintf(w, "restricted, and on no list of airfields, so that firn asks for their elevation: %s\n", strings.Join(m.Placeless, ", "))
	}
	if len(m.Conflicts) == 0 {
		_, err := fmt.Fprintln(w, "no conflicts")
		return err
	}
	fmt.Fprintf(w, "conflicts: %d\n", len(m.Conflicts))
	return WriteConflicts(w, m.Conflicts)
}
