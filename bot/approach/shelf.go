package approach

import (
	"context"
	"strings"
)

// Shelf is where a station's procedures are looked for: first among those
// typed from charts, which carry minimums, then among the imported ones. One
// that is typed takes the place of an imported one of the same name.
type Shelf struct {
	typed    map[string][]Approach
	imported Source
}

// Source has procedures; a Store is one.
type Source interface {
	Procedures(ctx context.Context, ident string) ([]Approach, error)
}

// NewShelf makes a Shelf; imported may be nil.
func NewShelf(typed []Approach, imported Source) *Shelf {
	s := &Shelf{typed: map[string][]Approach{}, imported: imported}
	for _, a := range typed {
		s.typed[a.Ident] = append(s.typed[a.Ident], a)
	}
	return s
}

// Procedures are those of a station.
func (s *Shelf) Procedures(ctx context.Context, ident string) ([]Approach, error) {
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
