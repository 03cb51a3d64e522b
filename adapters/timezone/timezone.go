// Package timezone finds the time zone of a place, from the borders that
// github.com/ringsaturn/tzf carries (OpenStreetMap's, ODbL). It takes some 30 MiB
// and most of a second to begin, so that only an import has it: what runs reads
// the zones that the import wrote.
package timezone

import (
	"fmt"
	"time"

	"github.com/ringsaturn/tzf"
)

// Finder finds zones; for one goroutine.
type Finder struct {
	f     tzf.F
	known map[string]bool // whether this machine has the zone
}

// New reads the borders.
func New() (*Finder, error) {
	f, err := tzf.NewDefaultFinder()
	if err != nil {
		return nil, fmt.Errorf("time zones: %w", err)
	}
	return &Finder{f, map[string]bool{}}, nil
}

// At is the zone of a place in degrees, north and east positive; empty where
// there is none that this machine knows, as on the open sea.
func (f *Finder) At(lat, lon float64) string {
	name := f.f.GetTimezoneName(lon, lat)
	known, met := f.known[name]
	if !met {
		_, err := time.LoadLocation(name)
		known = name != "" && err == nil
		f.known[name] = known
	}
	if !known {
		return ""
	}
	return name
}
