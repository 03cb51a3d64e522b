package chartyaml

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"

	"firn/bot/approach"
	"firn/bot/strictyaml"
)

// Folder is what a folder of procedures holds.
type Folder struct {
	All []approach.Approach
	// Left are the files that cannot be used: one slip of one hand must not take
	// the other procedures away.
	Left []Left
	// Others are files for stations that are not configured, which is no fault.
	Others []string
	idents []string // of the stations of Others
}

// Left is a file that was left out.
type Left struct {
	File   string
	Idents []string // the stations that its text names; empty where none is seen
	Err    error
}

// Error says which file and why.
func (l Left) Error() string { return l.Err.Error() }

// largest is read of one file at most; a procedure has some hundred bytes.
const largest = 1 << 20

// stationLine is the line that names the station, also in a file that is no
// YAML.
var stationLine = regexp.MustCompile(`(?m)^station:[ \t]*["']?([A-Za-z0-9]{3,4})\b`)

// ReadFS reads every .yaml file of a folder, in the order of their names. One
// procedure stands in one file only. The error is the folder's alone.
func ReadFS(folder fs.FS, fields Fields) (f Folder, err error) {
	names, err := fs.Glob(folder, "*.yaml")
	if err != nil {
		return f, fmt.Errorf("typed procedures: %w", err)
	}
	from := map[string]string{}
	for _, name := range names {
		data, err := ordinary(folder, name)
		if err != nil {
			f.Left = append(f.Left, Left{File: name, Err: fmt.Errorf("%s: %w", name, err)})
			continue
		}
		all, others, err := read(name, data, fields, true)
		for _, a := range all {
			key := a.Ident + " " + a.Name
			if first, twice := from[key]; twice {
				err = errors.Join(err, &strictyaml.Problem{File: name, Line: 1, Column: 1, Text: fmt.Sprintf("%s stands in %s already; remove one of them", key, first)})
			}
		}
		if err != nil {
			left := Left{File: name, Err: err}
			for _, m := range stationLine.FindAllSubmatch(data, -1) {
				if ident := strings.ToUpper(string(m[1])); !slices.Contains(left.Idents, ident) {
					left.Idents = append(left.Idents, ident)
				}
			}
			f.Left = append(f.Left, left)
			continue
		}
		for _, ident := range others {
			if other := name + " (" + ident + ")"; !slices.Contains(f.Others, other) { // of several charts
				f.Others = append(f.Others, other)
				f.idents = append(f.idents, ident)
			}
		}
		for _, a := range all {
			from[a.Ident+" "+a.Name] = name
		}
		f.All = slices.Concat(f.All, all)
	}
	return f, nil
}

// ordinary reads an ordinary file, or one that a link leads to: opening a pipe
// waits for whoever writes into it.
func ordinary(folder fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(folder, name)
	switch {
	case err != nil:
		return nil, err
	case !info.Mode().IsRegular():
		return nil, errors.New("it is no ordinary file")
	case info.Size() > largest:
		return nil, fmt.Errorf("it has %d bytes, and a file of procedures has %d at most", info.Size(), largest)
	}
	return fs.ReadFile(folder, name)
}
