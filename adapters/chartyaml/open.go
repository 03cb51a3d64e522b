package chartyaml

import (
	"io/fs"
	"log/slog"

	"firn/bot/app"
	"firn/bot/approach"
	"firn/bot/config"
)

// Open reads a folder of procedures for the stations of a configuration. What
// cannot be used is left out and logged; name is the folder's, for the log.
func Open(log *slog.Logger, files fs.FS, name string, stations []config.Station) (c app.Charts, err error) {
	fields := Fields{}
	for i := range stations {
		fields[stations[i].Ident] = stations[i].Elevation
	}
	all, err := ReadFS(files, fields)
	if err != nil {
		return c, err
	}
	c.Typed, c.Others = all.All, all.Others
	for _, l := range all.Left {
		log.Warn("a file of procedures is left out", "folder", name, "file", l.File, "err", l.Err)
		c.Left = append(c.Left, l)
		c.Unread = append(c.Unread, approach.Unread{File: l.File, Ident: l.Ident})
	}
	return c, nil
}
