package main

import (
	"context"
	"fmt"
	"os"

	"firn/adapters/chartyaml"
	"firn/bot/approach"
	"firn/bot/reply"
)

// shelf opens the procedures: those typed from charts, and the imported ones
// where there is a store.
func (s *services) shelf() (*approach.Catalog, error) {
	var typed []approach.Approach
	var unread []approach.Unread
	if path := s.loaded.path(s.loaded.Procedures); path != "" {
		fields := chartyaml.Fields{}
		for i := range s.loaded.Stations {
			fields[s.loaded.Stations[i].Ident] = s.loaded.Stations[i].Elevation
		}
		files := s.loaded.brought(s.loaded.Procedures)
		if files == nil {
			if _, err := os.Stat(path); err != nil {
				return nil, fmt.Errorf("procedures: %w", err)
			}
			files = os.DirFS(path)
		}
		folder, err := chartyaml.ReadFS(files, fields)
		if err != nil {
			return nil, fmt.Errorf("procedures in %s: %w", path, err)
		}
		typed, s.left, s.others = folder.All, folder.Left, folder.Others
		for _, l := range folder.Left {
			s.log.Warn("a file of procedures is left out", "folder", path, "file", l.File, "err", l.Err)
			unread = append(unread, approach.Unread{File: l.File, Ident: l.Ident})
		}
	}
	if s.store == nil {
		return approach.NewCatalog(typed, nil, unread...), nil
	}
	return approach.NewCatalog(typed, s.store, unread...), nil
}

// usual are the procedures of a base that its alerts show. One that is not
// stored, or of which several are meant, is left out and logged.
func (s *services) usual(from *approach.Catalog) func(ident string) []reply.UsualProcedure {
	return func(ident string) (out []reply.UsualProcedure) {
		st, ok := s.loaded.Station(ident)
		if !ok || len(st.Usual) == 0 {
			return nil
		}
		all, err := from.Procedures(context.Background(), ident)
		if err != nil {
			s.log.Error("procedures not read", "base", ident, "err", err)
			return nil
		}
		for _, name := range st.Usual {
			a, one := approach.Find(all, name).One()
			if !one {
				s.log.Warn("usual procedure not stored, or not one alone", "base", ident, "procedure", name)
				continue
			}
			out = append(out, s.bot.Usual(st, a))
		}
		return out
	}
}
