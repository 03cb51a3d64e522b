package airportcsv

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"firn/bot/airports"
)

// Open loads a list from its file.
func Open(path string) (*airports.Directory, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return Load(f, path)
}

// Take hands over the rows of a list, and tells report what came of it. given is
// what the list is of, where somebody says so; else it says so itself, or it is
// dated by its file.
func Take(in io.Reader, path string, given airports.Edition, add func(airports.Airport) error, report io.Writer) error {
	e := airports.Edition{Source: filepath.Base(path), Date: given.Date, Until: given.Until}
	by := ""
	if info, err := os.Stat(path); err == nil && e.Date.IsZero() {
		e.Date, by = info.ModTime().UTC().Truncate(24*time.Hour), ", dated by its file"
	}
	undated := e.Date
	sum, err := Read(in, Options{File: path, Edition: e}, add)
	if err != nil {
		return err
	}
	if !sum.Edition.Date.Equal(undated) {
		by = ""
	}
	fmt.Fprintf(report, "%s: %d rows, %s%s; %d left out that are no airfields of 3 or 4 letters and digits, %d could not be read\n", path, sum.Rows, sum.Edition, by, sum.Left, sum.Faulty)
	for _, p := range sum.Problems {
		fmt.Fprintf(report, "  %v\n", p)
	}
	return nil
}
