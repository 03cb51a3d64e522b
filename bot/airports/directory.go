package airports

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/engine"
)

// Directory is a list of fields as it is held while firn runs: some forty bytes
// a field and its name twice, so that 20 000 take less than 3 MiB. Safe for
// concurrent use. A nil Directory is an empty one.
type Directory struct {
	rows     []row // in the order of idents
	names    string
	folded   string // names in lower case, at the same places
	zones    []string
	editions []Edition

	places sync.Map // the zones that were asked for, by name: *time.Location
}

// row is a field. Places are in microdegrees, temperatures in tenths.
type row struct {
	lat, lon  int32
	name      uint32
	elevation int16
	tenths    int16
	from, by  uint16
	zone      uint16
	ident     [4]byte // a field of three has a zero behind
	nameLen   uint8
	flags     uint8
	segments  Segments
}

const (
	hasPlace = 1 << iota
	hasElevation
	restricted
	mountainsNo
	mountainsYes
)

// NewDirectory holds fields; each must pass Check, and none may come twice.
func NewDirectory(all []Airport) (*Directory, error) {
	all = slices.Clone(all)
	slices.SortFunc(all, func(a, b Airport) int { return cmp.Compare(a.Ident, b.Ident) })
	d := &Directory{rows: make([]row, 0, len(all))}
	zones, editions := map[string]uint16{}, map[Edition]uint16{}
	var names, folded strings.Builder
	for i := range all {
		a := &all[i]
		if err := a.Check(); err != nil {
			return nil, err
		}
		if i > 0 && all[i-1].Ident == a.Ident {
			return nil, fmt.Errorf("%s is there twice", a.Ident)
		}
		r := row{name: uint32(names.Len()), segments: a.Segments}
		copy(r.ident[:], a.Ident)
		name := a.Name[:min(len(a.Name), math.MaxUint8)]
		low := strings.ToLower(name)
		if len(low) != len(name) {
			low = name // the two texts have the same places
		}
		r.nameLen = uint8(len(name))
		names.WriteString(name)
		folded.WriteString(low)
		if a.HasPlace {
			r.flags |= hasPlace
			r.lat, r.lon = int32(math.Round(a.Lat*1e6)), int32(math.Round(a.Lon*1e6))
		}
		if a.HasElevation {
			r.flags |= hasElevation
			r.elevation = int16(math.Floor(float64(a.Elevation)))
		}
		if a.Restricted {
			r.flags |= restricted
			r.tenths = int16(math.Round(float64(a.Restriction) * 10))
		}
		switch a.Mountainous {
		case Yes:
			r.flags |= mountainsYes
		case No:
			r.flags |= mountainsNo
		}
		r.zone = indexOf(zones, &d.zones, a.Zone)
		r.from = indexOf(editions, &d.editions, a.From)
		r.by = indexOf(editions, &d.editions, a.RestrictedBy)
		d.rows = append(d.rows, r)
	}
	if len(d.zones) > math.MaxUint16 || len(d.editions) > math.MaxUint16 {
		return nil, fmt.Errorf("a list with %d time zones and %d sources is not one of airfields", len(d.zones), len(d.editions))
	}
	d.names, d.folded = names.String(), folded.String()
	return d, nil
}

func indexOf[T comparable](known map[T]uint16, all *[]T, v T) uint16 {
	i, ok := known[v]
	if !ok {
		i = uint16(len(*all))
		known[v] = i
		*all = append(*all, v)
	}
	return i
}

// Len is how many fields it has.
func (d *Directory) Len() int {
	if d == nil {
		return 0
	}
	return len(d.rows)
}

// Find is the field of an ident in capitals.
func (d *Directory) Find(ident string) (Airport, bool) {
	i, ok := d.index(ident)
	if !ok {
		return Airport{}, false
	}
	return d.at(i), true
}

func (d *Directory) index(ident string) (int, bool) {
	if d == nil || len(ident) < 3 || len(ident) > 4 {
		return 0, false
	}
	var key [4]byte
	copy(key[:], ident)
	return slices.BinarySearchFunc(d.rows, key, func(r row, k [4]byte) int {
		return strings.Compare(string(r.ident[:]), string(k[:]))
	})
}

func (r *row) is() string { return strings.TrimRight(string(r.ident[:]), "\x00") }

func (d *Directory) nameOf(r *row) string   { return d.names[r.name : r.name+uint32(r.nameLen)] }
func (d *Directory) foldedOf(r *row) string { return d.folded[r.name : r.name+uint32(r.nameLen)] }

func (d *Directory) at(i int) Airport {
	r := &d.rows[i]
	a := Airport{
		Ident: r.is(), Name: d.nameOf(r), Zone: d.zones[r.zone], From: d.editions[r.from],
		RestrictedBy: d.editions[r.by], Segments: r.segments,
	}
	if r.flags&hasPlace != 0 {
		a.Lat, a.Lon, a.HasPlace = float64(r.lat)/1e6, float64(r.lon)/1e6, true
	}
	if r.flags&hasElevation != 0 {
		a.Elevation, a.HasElevation = engine.Altitude(r.elevation), true
	}
	if r.flags&restricted != 0 {
		a.Restriction, a.Restricted = engine.Celsius(r.tenths)/10, true
	}
	switch {
	case r.flags&mountainsYes != 0:
		a.Mountainous = Yes
	case r.flags&mountainsNo != 0:
		a.Mountainous = No
	}
	return a
}

// Location is a time zone by its name; UTC where there is none of the name.
func (d *Directory) Location(zone string) *time.Location {
	if zone == "" {
		return time.UTC
	}
	if l, ok := d.places.Load(zone); ok {
		return l.(*time.Location)
	}
	l, err := time.LoadLocation(zone)
	if err != nil {
		l = time.UTC
	}
	d.places.Store(zone, l)
	return l
}

// Used is one list that the directory is made of.
type Used struct {
	Edition
	Restricts bool // it is one of restricted fields; else of airports
	Fields    int
}

// Editions are the lists that it is made of, those of airports first, the
// oldest of each first.
func (d *Directory) Editions() []Used {
	if d == nil {
		return nil
	}
	type key struct {
		i         uint16
		restricts bool
	}
	counted := map[key]int{}
	for i := range d.rows {
		r := &d.rows[i]
		if r.flags&(hasElevation|hasPlace) != 0 {
			counted[key{r.from, false}]++
		}
		if r.flags&restricted != 0 {
			counted[key{r.by, true}]++
		}
	}
	out := make([]Used, 0, len(counted))
	for k, n := range counted {
		out = append(out, Used{d.editions[k.i], k.restricts, n})
	}
	slices.SortFunc(out, func(a, b Used) int {
		if a.Restricts != b.Restricts {
			if b.Restricts {
				return -1
			}
			return 1
		}
		return cmp.Or(a.Date.Compare(b.Date), cmp.Compare(a.Source, b.Source))
	})
	return out
}
