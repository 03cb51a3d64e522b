package config

import (
	"cmp"
	"slices"

	"firn/bot/airports"
	"firn/engine"
)

// Near is a station and how far it is, in nautical miles.
type Near struct {
	*Station
	Miles float64
}

// Restricts says that a station is restricted at a temperature: at or below its
// own.
func (s *Station) Restricts(at engine.Celsius) bool {
	const noise = 1e-9 // of a conversion from Fahrenheit
	return s.Restriction != nil && at <= *s.Restriction+noise
}

// Around gives the stations around a place, the nearest first: those of the
// file and of the list, at most n and none farther than within nautical miles;
// cold, where it is given, leaves only those that are restricted at it. more is
// how many there are besides, unplaced those of the file whose place is not
// known.
func (c *Config) Around(p Place, within float64, cold *engine.Celsius, n int) (found []Near, more int, unplaced []string) {
	for i := range c.Stations {
		s := &c.Stations[i]
		if cold != nil && !s.Restricts(*cold) {
			continue
		}
		at, ok := c.Place(s.Ident)
		if !ok {
			unplaced = append(unplaced, s.Ident)
			continue
		}
		if m := airports.Miles(p.Lat, p.Lon, at.Lat, at.Lon); m <= within {
			found = append(found, Near{s, m})
		}
	}
	var listed []airports.Away
	if cold == nil {
		listed = c.Airports.Near(p.Lat, p.Lon, within, n+len(c.Stations))
	} else {
		listed, more = c.Airports.Cold(*cold, p.Lat, p.Lon, within, n+len(c.Stations))
	}
	for i := range listed {
		if !c.Configured(listed[i].Ident) {
			found = append(found, Near{c.listed(&listed[i].Airport), listed[i].Miles})
		}
	}
	slices.SortStableFunc(found, func(a, b Near) int { return cmp.Or(cmp.Compare(a.Miles, b.Miles), cmp.Compare(a.Ident, b.Ident)) })
	if len(found) > n {
		more += len(found) - n
		found = found[:n]
	}
	return found, more, unplaced
}

// RestrictedAt gives the stations anywhere that are restricted at a
// temperature, the file's own first: at most n, and how many there are besides.
func (c *Config) RestrictedAt(cold engine.Celsius, n int) (found []*Station, more int) {
	for i := range c.Stations {
		if c.Stations[i].Restricts(cold) {
			found = append(found, &c.Stations[i])
		}
	}
	listed, more := c.Airports.ColdAnywhere(cold, n+len(c.Stations))
	for i := range listed {
		if !c.Configured(listed[i].Ident) {
			found = append(found, c.listed(&listed[i]))
		}
	}
	if len(found) > n {
		more += len(found) - n
		found = found[:n]
	}
	return found, more
}
