package chartyaml

import (
	"io/fs"
	"log/slog"

	"firn/bot/app"
	"firn/bot/approach"
	"firn/bot/config"
)

// Open reads a folder of procedures for the stations of a configuration and of
// its list of airports. What cannot be used is left out and logged; name is the
// folder's, for the log.
func Open(log *slog.Logger, files fs.FS, name string, cfg *config.Config) (c app.Charts, err error) {
	fields := Fields{}
	for i := range cfg.Stations {
		fields[cfg.Stations[i].Ident] = cfg.Stations[i].Elevation
	}
	all, err := ReadFS(files, fields)
	if err != nil {
		return c, err
	}
	listed := false
	for _, ident := range all.idents {
		if s, ok := cfg.Station(ident); ok && !s.NoElevation() {
			fields[ident], listed = s.Elevation, true
		}
	}
	if listed {
		if all, err = ReadFS(files, fields); err != nil {
			return c, err
		}
	}
	c.Typed, c.Others = all.All, all.Others
	for _, l := range all.Left {
		log.Warn("a file of procedures is left out", "folder", name, "file", l.File, "err", l.Err)
		c.Left = append(c.Left, l)
		c.Unread = append(c.Unread, approach.Unread{File: l.File, Idents: l.Idents})
	}
	return c, nil
}
