package airports

import (
	"cmp"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"sort"
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

// Builder makes a Directory. The zero value is empty and ready.
type Builder struct {
	rows          []row
	names, folded strings.Builder
	zones         index[string]
	editions      index[Edition]
}

// Add takes a field, which must pass Check.
func (b *Builder) Add(a *Airport) error {
	if err := a.Check(); err != nil {
		return err
	}
	r := row{name: uint32(b.names.Len()), segments: a.Segments}
	copy(r.ident[:], a.Ident)
	name := a.Name[:min(len(a.Name), math.MaxUint8)]
	low := strings.ToLower(name)
	if len(low) != len(name) {
		low = name // the two texts have the same places
	}
	r.nameLen = uint8(len(name))
	b.names.WriteString(name)
	b.folded.WriteString(low)
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
	r.zone, r.from, r.by = b.zones.of(a.Zone), b.editions.of(a.From), b.editions.of(a.RestrictedBy)
	if len(b.zones.all) > math.MaxUint16 || len(b.editions.all) > math.MaxUint16 {
		return fmt.Errorf("a list with %d time zones and %d sources is not one of airfields", len(b.zones.all), len(b.editions.all))
	}
	b.rows = append(b.rows, r)
	return nil
}

// Build gives what was added; none may have come twice. The Builder is used up.
func (b *Builder) Build() (*Directory, error) {
	order := func(x, y row) int { return cmp.Compare(x.key(), y.key()) }
	if !slices.IsSortedFunc(b.rows, order) {
		slices.SortStableFunc(b.rows, order)
	}
	for i := 1; i < len(b.rows); i++ {
		if b.rows[i-1].ident == b.rows[i].ident {
			return nil, fmt.Errorf("%s is there twice", b.rows[i].is())
		}
	}
	return &Directory{rows: slices.Clip(b.rows), names: b.names.String(), folded: b.folded.String(), zones: b.zones.all, editions: b.editions.all}, nil
}

// NewDirectory holds fields; each must pass Check, and none may come twice.
func NewDirectory(all []Airport) (*Directory, error) {
	var b Builder
	for i := range all {
		if err := b.Add(&all[i]); err != nil {
			return nil, err
		}
	}
	return b.Build()
}

// index numbers values; runs of one value are looked up once.
type index[T comparable] struct {
	known map[T]uint16
	all   []T
	last  uint16
}

func (x *index[T]) of(v T) uint16 {
	if len(x.all) > 0 && x.all[x.last] == v {
		return x.last
	}
	i, ok := x.known[v]
	if !ok {
		if x.known == nil {
			x.known = map[T]uint16{}
		}
		i = uint16(len(x.all))
		x.known[v] = i
		x.all = append(x.all, v)
	}
	x.last = i
	return i
}

// key is the ident as a number of the same order.
func (r *row) key() uint32 { return binary.BigEndian.Uint32(r.ident[:]) }

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
	return d.search(ident)
}

// search is where an ident, or the first one that begins with it, stands.
func (d *Directory) search(ident string) (int, bool) {
	var key [4]byte
	copy(key[:], ident)
	at := binary.BigEndian.Uint32(key[:])
	i := sort.Search(len(d.rows), func(i int) bool { return d.rows[i].key() >= at })
	return i, i < len(d.rows) && d.rows[i].key() == at
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
