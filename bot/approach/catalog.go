package approach

import (
	"context"
	"slices"
	"strings"
)

// Catalog is where a station's procedures are looked for: first among those
// typed from charts, which carry minimums, then among the imported ones. One
// that is typed takes the place of an imported one of the same name.
type Catalog struct {
	typed    map[string][]Approach
	imported Source
	unread   []Unread
}

// Unread is a file of typed procedures that could not be used.
type Unread struct {
	File   string
	Idents []string // the stations that it is for, in capitals; empty where it does not say
}

// Source has procedures; a Store is one.
type Source interface {
	Procedures(ctx context.Context, ident string) ([]Approach, error)
}

// NewCatalog makes a Catalog; imported may be nil.
func NewCatalog(typed []Approach, imported Source, unread ...Unread) *Catalog {
	s := &Catalog{typed: map[string][]Approach{}, imported: imported, unread: unread}
	for _, a := range typed {
		s.typed[a.Ident] = append(s.typed[a.Ident], a)
	}
	return s
}

// Procedures are those of a station.
func (s *Catalog) Procedures(ctx context.Context, ident string) ([]Approach, error) {
	ident = strings.ToUpper(ident)
	all := append([]Approach(nil), s.typed[ident]...)
	if s.imported == nil {
		return all, nil
	}
	found, err := s.imported.Procedures(ctx, ident)
	if err != nil {
		return nil, err
	}
	typed := len(all)
next:
	for _, a := range found {
		for i := range typed {
			if strings.EqualFold(all[i].Name, a.Name) {
				continue next
			}
		}
		all = append(all, a)
	}
	return all, nil
}

// Unread names the files that could not be used: those for a station, and
// those of which nobody knows whether they are.
func (s *Catalog) Unread(ident string) (own, unknown []string) {
	ident = strings.ToUpper(ident)
	for _, u := range s.unread {
		switch {
		case len(u.Idents) == 0:
			unknown = append(unknown, u.File)
		case slices.Contains(u.Idents, ident):
			own = append(own, u.File)
		}
	}
	return own, unknown
}
