package config

import (
	"fmt"
	"strings"
	"time"

	"firn/bot/airports"
)

// Configured says that a station is one of the file's own.
func (c *Config) Configured(ident string) bool {
	_, ok := c.byIdent[strings.ToUpper(ident)]
	return ok
}

// Know gives the configuration the fields of the list of airports. What stands
// under stations comes before it.
func (c *Config) Know(d *airports.Directory) { c.Airports = d }

// listed is a field of the list as a station. Nobody watches it, its altimeter
// setting is its own, and whether there is radar is not known: vectors are taken
// to be given, as at a station that does not say.
func (c *Config) listed(a *airports.Airport) *Station {
	s := &Station{
		Ident: a.Ident, Name: a.Name, Elevation: a.Elevation, SourceElevation: a.Elevation,
		Mountainous: a.Mountainous, Zone: c.Airports.Location(a.Zone), Listed: a,
	}
	if a.Restricted {
		s.Restriction = &a.Restriction
	}
	for _, name := range a.Segments.Names() {
		s.Segments = append(s.Segments, Segment(name))
	}
	if a.HasPlace {
		s.Place = &Place{a.Lat, a.Lon}
	}
	return s
}

// Place is where a station is: as the file says, else as the list of airports
// does.
func (c *Config) Place(ident string) (Place, bool) {
	s, ok := c.Station(ident)
	if ok && s.Place != nil {
		return *s.Place, true
	}
	if a, ok := c.Airports.Find(strings.ToUpper(ident)); ok && a.HasPlace {
		return Place{a.Lat, a.Lon}, true
	}
	return Place{}, false
}

// ListNotes is what people must know of a field that a list knows: whether the
// list that its restriction came from has ended, and that none is known where
// it stands on none. at is now; zero where nobody asks. A station of the file's
// own has none.
func (s *Station) ListNotes(at time.Time) []string {
	if s == nil || s.Listed == nil {
		return nil
	}
	by := s.Listed.RestrictedBy
	switch ends := by.Ends(); {
	case s.Restriction == nil:
		return []string{fmt.Sprintf("No restriction temperature is known for %s: it is on no list of restricted airports that firn has. See the chart's snowflake note.", s.Ident)}
	case !ends.IsZero() && !at.IsZero() && !at.Before(ends):
		return []string{fmt.Sprintf("The list that the restriction of %s came from, %s, ended on %s: see the chart's snowflake note.", s.Ident, by, ends.AddDate(0, 0, -1).Format("2 Jan 2006"))}
	case ends.IsZero():
		return []string{fmt.Sprintf("The list that the restriction of %s came from, %s, does not say what day it is of: see the chart's snowflake note.", s.Ident, by.Source)}
	}
	return nil
}
