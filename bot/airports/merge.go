package airports

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"text/tabwriter"

	"firn/engine"
)

// Two lists disagree where they are farther apart than this. The ten feet are
// the product's, the three miles ours: reference points move by less.
const (
	elevationApart engine.Feet = 10
	placeApart     float64     = 3 // NM
)

// Conflict is what lists disagree about, and what was taken.
type Conflict struct {
	Ident string
	What  string // elevation, place, restriction, segments
	Says  []Said
	Taken string // with why
}

// Said is one list's word.
type Said struct{ Source, Value string }

// Merger makes one list of several. The zero value is empty and ready.
type Merger struct {
	rows map[string][]Airport
	n    int
}

// Add takes a row of a list. The one that holds Restricted alone may have
// nothing else.
func (m *Merger) Add(a Airport) error {
	if err := a.Check(); err != nil {
		return err
	}
	if m.rows == nil {
		m.rows = map[string][]Airport{}
	}
	m.rows[a.Ident] = append(m.rows[a.Ident], a)
	m.n++
	return nil
}

// Merged is what came of it.
type Merged struct {
	Airports  []Airport // in the order of idents
	Rows      int       // that went in
	Conflicts []Conflict
	// Placeless are restricted fields that stand on no list of airports: neither
	// elevation nor place is known of them.
	Placeless []string
}

// Merge gives the one list. The authority's own file comes before others, and
// a newer list before an older one. Of two elevations more than ten feet apart
// the lower is taken, from which heights and corrections come out larger; of two
// restriction temperatures the warmer, which binds first.
func (m *Merger) Merge() Merged {
	out := Merged{Rows: m.n, Airports: make([]Airport, 0, len(m.rows))}
	for ident, rows := range m.rows {
		slices.SortStableFunc(rows, func(a, b Airport) int {
			if a.From.Authority != b.From.Authority {
				if a.From.Authority {
					return -1
				}
				return 1
			}
			return b.From.Date.Compare(a.From.Date)
		})
		one, conflicts := mergeOne(rows)
		one.Ident = ident
		out.Airports = append(out.Airports, one)
		out.Conflicts = append(out.Conflicts, conflicts...)
		if one.Restricted && !one.HasElevation && !one.HasPlace {
			out.Placeless = append(out.Placeless, ident)
		}
	}
	slices.SortFunc(out.Airports, func(a, b Airport) int { return cmp.Compare(a.Ident, b.Ident) })
	slices.Sort(out.Placeless)
	slices.SortStableFunc(out.Conflicts, func(a, b Conflict) int { return cmp.Compare(a.Ident, b.Ident) })
	return out
}

func mergeOne(rows []Airport) (one Airport, conflicts []Conflict) {
	for i := range rows {
		r := &rows[i]
		one.Name = readable(one.Name, r.Name)
		if one.Zone == "" {
			one.Zone = r.Zone
		}
		if one.Mountainous == NotKnown || r.Mountainous == Yes {
			one.Mountainous = cmp.Or(r.Mountainous, one.Mountainous)
		}
		if r.HasPlace && !one.HasPlace {
			one.Lat, one.Lon, one.HasPlace = r.Lat, r.Lon, true
			if !one.HasElevation {
				one.From = r.From
			}
		}
		if r.HasElevation && !one.HasElevation {
			one.Elevation, one.HasElevation, one.From = r.Elevation, true, r.From
		}
	}
	ident := rows[0].Ident
	for _, c := range []*Conflict{elevations(&one, rows), places(&one, rows), restrictions(&one, rows)} {
		if c != nil {
			c.Ident = ident
			conflicts = append(conflicts, *c)
		}
	}
	return one, conflicts
}

// elevations takes the lowest where lists are too far apart.
func elevations(one *Airport, rows []Airport) *Conflict {
	c := Conflict{What: "elevation"}
	lowest, apart := one.Elevation, false
	for i := range rows {
		r := &rows[i]
		if !r.HasElevation {
			continue
		}
		c.Says = append(c.Says, Said{r.From.Source, fmt.Sprintf("%.0f ft", float64(r.Elevation))})
		if math.Abs(float64(r.Elevation-one.Elevation)) > float64(elevationApart) {
			apart = true
		}
		lowest = min(lowest, r.Elevation)
	}
	if !apart {
		return nil
	}
	for i := range rows {
		if rows[i].HasElevation && rows[i].Elevation == lowest {
			one.Elevation, one.From = lowest, rows[i].From
			break
		}
	}
	c.Taken = fmt.Sprintf("%.0f ft, the lower: corrections come out larger", float64(lowest))
	return &c
}

// places tells of one ident at two places: it may be two fields.
func places(one *Airport, rows []Airport) *Conflict {
	c := Conflict{What: "place"}
	far := 0.0
	for i := range rows {
		if r := &rows[i]; r.HasPlace {
			c.Says = append(c.Says, Said{r.From.Source, fmt.Sprintf("%.4f %.4f", r.Lat, r.Lon)})
			far = max(far, Miles(one.Lat, one.Lon, r.Lat, r.Lon))
		}
	}
	if far <= placeApart {
		return nil
	}
	c.Taken = fmt.Sprintf("the first; they are %.0f NM apart: is it one field?", far)
	return &c
}

// restrictions takes the warmest of several, with the segments of all.
func restrictions(one *Airport, rows []Airport) *Conflict {
	c := Conflict{What: "restriction"}
	apart, open := false, false
	for i := range rows {
		r := &rows[i]
		if !r.Restricted {
			continue
		}
		value := fmt.Sprintf("%v °C", float64(r.Restriction))
		c.Says = append(c.Says, Said{r.RestrictedBy.Source, value})
		open = open || r.Segments == 0
		switch {
		case !one.Restricted:
			one.Restriction, one.Restricted, one.RestrictedBy = r.Restriction, true, r.RestrictedBy
		case r.Restriction != one.Restriction:
			apart = true
			if r.Restriction > one.Restriction {
				one.Restriction, one.RestrictedBy = r.Restriction, r.RestrictedBy
			}
		case r.RestrictedBy.Ends().After(one.RestrictedBy.Ends()):
			one.RestrictedBy = r.RestrictedBy
		}
		one.Segments |= r.Segments
	}
	if open {
		one.Segments = 0 // one list leaves them open: none may be left out
	}
	if !apart {
		return nil
	}
	c.Taken = fmt.Sprintf("%v °C, the warmer: it binds first", float64(one.Restriction))
	return &c
}

// WriteConflicts writes them as a table, a line each.
func WriteConflicts(w io.Writer, all []Conflict) error {
	t := tabwriter.NewWriter(w, 0, 4, 2, ' ', 0)
	fmt.Fprintln(t, "ident\twhat\tsaid\ttaken")
	for _, c := range all {
		said := ""
		for i, s := range c.Says {
			if i > 0 {
				said += "; "
			}
			said += s.Value + " (" + s.Source + ")"
		}
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", c.Ident, c.What, said, c.Taken)
	}
	return t.Flush()
}
