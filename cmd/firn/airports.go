package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"os"

	"firn/adapters/airportcsv"
	"firn/adapters/cifp"
	"firn/adapters/timezone"
	"firn/bot/airports"
)

// importAirports makes one list of airfields of several.
type importAirports struct {
	Files   []string `arg:"" name:"file" help:"ARINC 424 files (their airport records), CSV lists of airfields, CSV lists of restricted ones."`
	Out     string   `short:"o" required:"" placeholder:"FILE" help:"The list to write, which airports: {path: FILE} in the configuration reads; - for standard output."`
	Partial bool     `help:"Coded files may be excerpts: take them although they are not whole."`
	Date    []string `placeholder:"FILE=DAY" help:"The day a list is of, where it does not say: cold.csv=2026-01-22, or 2026-01-22..2027-01-21 with the first day on which it does not hold any more."`
}

// Help is what kong shows below the flags.
func (importAirports) Help() string {
	return "A CSV list has a header and its columns in any order: ident,name,lat,lon,elevation_ft of airfields, ident,temperature_c,segments of restricted ones; date and until in a column, in a comment (# date: 2026-01-22) or by --date, else a list is dated by its file. Where lists disagree, the table says so: of two elevations the lower is taken, of two restriction temperatures the warmer. The time zone comes from the place."
}

// Run imports.
func (c *importAirports) Run(ctx context.Context, h host) error {
	report := h.stdout
	if c.Out == "-" {
		report = h.stderr
	}
	dates, err := airports.ParseDates(c.Date, c.Files)
	if err != nil {
		return err
	}
	var m airports.Merger
	for _, path := range c.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := c.readList(path, dates[path], &m, report); err != nil {
			return fmt.Errorf("import: nothing is written: %w", err)
		}
	}
	merged := m.Merge()
	zoned, err := airports.PlaceZones(merged.Airports, func() (airports.Zones, error) { return timezone.New() })
	if err != nil {
		return err
	}
	if c.Out == "-" {
		err = airportcsv.Write(h.stdout, merged.Airports)
	} else {
		err = written(c.Out, 0o644, func(out io.Writer) error { return airportcsv.Write(out, merged.Airports) }) // serve is another user
	}
	if err != nil {
		return fmt.Errorf("import: %w", err)
	}
	return merged.Tell(report, c.Out, zoned)
}

// readList reads one file, whichever of the forms it has. One without a single
// airfield was cut off or is another file: what it had before must not go.
func (c *importAirports) readList(path string, given airports.Edition, m *airports.Merger, report io.Writer) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	n := 0
	add := func(a airports.Airport) error {
		n++
		return m.Add(a)
	}
	in := bufio.NewReaderSize(f, 1<<16)
	begin, _ := in.Peek(5) // a file that is shorter is no coded one
	if cifp.Coded(begin) {
		err = cifp.ReadAirports(in, path, c.Partial, given, add, report)
	} else {
		err = airportcsv.Take(in, path, given, add, report)
	}
	if err == nil && n == 0 {
		err = fmt.Errorf("%s: no airfield in it can be read: is it the right file, and whole? If nothing of it is to be taken, leave it out", path)
	}
	return err
}
