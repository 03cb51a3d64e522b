package config

import (
	"maps"
	"slices"
)

// Watched are the stations that are watched: those of the file, then those that
// WatchAlso has been told of, in the order of idents. It is safe beside
// WatchAlso.
func (c *Config) Watched() (all []Station) {
	for i := range c.Stations {
		if s := &c.Stations[i]; s.Watch != nil {
			all = append(all, *s)
		}
	}
	also := c.also.Load()
	if also == nil {
		return all
	}
	for _, ident := range slices.Sorted(maps.Keys(*also)) {
		if s, ok := c.Station(ident); ok && !c.own(ident) {
			all = append(all, *s)
		}
	}
	return all
}

// WatchAlso has stations watched that the file does not watch, by ident, in the
// place of those that were told before. One that the file watches stays the
// file's. The watches must not be changed afterwards.
func (c *Config) WatchAlso(all map[string]*Watch) { c.also.Store(&all) }

// own says that the file watches a station.
func (c *Config) own(ident string) bool {
	i, ok := c.byIdent[ident]
	return ok && c.Stations[i].Watch != nil
}

// alsoWatched is a station with the watch that WatchAlso gave it.
func (c *Config) alsoWatched(s *Station) *Station {
	also := c.also.Load()
	if also == nil || s.Watch != nil || (*also)[s.Ident] == nil {
		return s
	}
	with := *s
	with.Watch = (*also)[s.Ident]
	return &with
}
