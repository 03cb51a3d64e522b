package main

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"firn/adapters/airportcsv"
	"firn/adapters/cifp"
	"firn/adapters/timezone"
	"firn/bot/airports"
)

// importAirports makes one list of airfields of several.
type importAirports struct {
	Files []string `arg:"" name:"file" help:"ARINC 424 files (their airport records), CSV lists of airfields, CSV lists of restricted ones."`
	Out   string   `short:"o" required:"" placeholder:"FILE" help:"The list to write, which airports: {path: FILE} in the configuration reads; - for standard output."`
	Date  []string `placeholder:"FILE=DAY" help:"The day a list is of, where it does not say: cold.csv=2026-01-22, or 2026-01-22..2027-01-21 with the first day on which it does not hold any more."`
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
	dates, err := c.dates()
	if err != nil {
		return err
	}
	var m airports.Merger
	for _, path := range c.Files {
		if err := ctx.Err(); err != nil {
			return err
		}
		if err := readList(path, dates[path], &m, report); err != nil {
			return fmt.Errorf("import: nothing is written: %w", err)
		}
	}
	for path := range dates {
		if !strings.Contains("\x00"+strings.Join(c.Files, "\x00")+"\x00", "\x00"+path+"\x00") {
			return fmt.Errorf("%w: --date names %s, which is none of the files", errUsage, path)
		}
	}
	merged := m.Merge()
	zoned, err := placeZones(merged.Airports)
	if err != nil {
		return err
	}
	if err := c.write(h.stdout, merged.Airports); err != nil {
		return fmt.Errorf("import: %w", err)
	}
	return tellMerged(report, c.Out, merged, zoned)
}

// dates are those of --date, by file.
func (c *importAirports) dates() (map[string]airports.Edition, error) {
	out := map[string]airports.Edition{}
	for _, s := range c.Date {
		path, days, _ := strings.Cut(s, "=")
		from, until, ranged := strings.Cut(days, "..")
		e := airports.Edition{}
		var err error
		if e.Date, err = time.Parse(time.DateOnly, from); err == nil && ranged {
			e.Until, err = time.Parse(time.DateOnly, until)
		}
		if err != nil {
			return nil, fmt.Errorf("%w: --date %q is not FILE=2026-01-22 or FILE=2026-01-22..2027-01-21", errUsage, s)
		}
		out[path] = e
	}
	return out, nil
}

// readList reads one file, whichever of the forms it has.
func readList(path string, given airports.Edition, m *airports.Merger, report io.Writer) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	in := bufio.NewReaderSize(f, 1<<16)
	begin, _ := in.Peek(5)
	if bytes.HasPrefix(begin, []byte("HDR")) || len(begin) == 5 && (begin[0] == 'S' || begin[0] == 'T') && begin[4] >= 'A' && begin[4] <= 'Z' && !bytes.Contains(begin, []byte(",")) {
		return readCoded(path, in, given, m, report)
	}
	e := airports.Edition{Source: filepath.Base(path), Date: given.Date, Until: given.Until}
	by := ""
	if info, err := f.Stat(); err == nil && e.Date.IsZero() {
		e.Date, by = info.ModTime().UTC().Truncate(24*time.Hour), ", dated by its file"
	}
	undated := e.Date
	sum, err := airportcsv.Read(in, airportcsv.Options{File: path, Edition: e}, m.Add)
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

// readCoded reads the airport records of a coded file.
func readCoded(path string, in io.Reader, given airports.Edition, m *airports.Merger, report io.Writer) error {
	var rows []airports.Airport
	sum, err := cifp.Read(in, cifp.Handler{Airport: func(a cifp.Airport) {
		rows = append(rows, airports.Airport{
			Ident: a.Ident, Name: a.Name, Elevation: a.Elevation, HasElevation: a.HasElevation,
			Lat: a.Latitude, Lon: a.Longitude, HasPlace: a.HasPlace,
		})
	}})
	if err != nil {
		return err
	}
	e := airports.Edition{Source: "CIFP " + sum.Cycle, Date: sum.Effective, Until: sum.End, Authority: true}
	if sum.Cycle == "" {
		e.Source = filepath.Base(path)
	}
	if !given.Date.IsZero() {
		e.Date, e.Until = given.Date, given.Until
	}
	left := 0
	for _, a := range rows {
		a.From = e
		if err := m.Add(a); err != nil {
			left++
			fmt.Fprintf(report, "  %s: %v\n", path, err)
		}
	}
	fmt.Fprintf(report, "%s: %d airport records of %d records, %s; %d left out, %d records could not be read\n", path, len(rows)-left, sum.Records, e, left, sum.Malformed)
	return nil
}

// placeZones gives each field without a zone that of its place.
func placeZones(all []airports.Airport) (n int, err error) {
	var zones *timezone.Finder
	for i := range all {
		a := &all[i]
		if a.Zone != "" || !a.HasPlace {
			continue
		}
		if zones == nil {
			if zones, err = timezone.New(); err != nil {
				return n, err
			}
		}
		if a.Zone = zones.At(a.Lat, a.Lon); a.Zone != "" {
			n++
		}
	}
	return n, nil
}

// write puts the list in the place of the one before in one step.
func (c *importAirports) write(stdout io.Writer, all []airports.Airport) (err error) {
	if c.Out == "-" {
		return airportcsv.Write(stdout, all)
	}
	f, err := os.CreateTemp(filepath.Dir(c.Out), ".firn-airports-")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = os.Remove(f.Name())
		}
	}()
	out := bufio.NewWriterSize(f, 1<<16)
	err = cmp.Or(airportcsv.Write(out, all), out.Flush(), f.Chmod(0o644), f.Sync(), f.Close())
	if err != nil {
		return err
	}
	return os.Rename(f.Name(), c.Out)
}

// tellMerged says what came of it, the conflicts as a table.
func tellMerged(w io.Writer, out string, m airports.Merged, zoned int) error {
	placed, restricted := 0, 0
	for i := range m.Airports {
		if m.Airports[i].HasElevation {
			placed++
		}
		if m.Airports[i].Restricted {
			restricted++
		}
	}
	fmt.Fprintf(w, "%s: %d airfields of %d rows, %d with an elevation, %d restricted, %d time zones by place\n", out, len(m.Airports), m.Rows, placed, restricted, zoned)
	if len(m.Placeless) > 0 {
		fmt.Fprintf(w, "restricted, and on no list of airfields, so that firn asks for their elevation: %s\n", strings.Join(m.Placeless, ", "))
	}
	if len(m.Conflicts) == 0 {
		_, err := fmt.Fprintln(w, "no conflicts")
		return err
	}
	fmt.Fprintf(w, "%d conflicts:\n", len(m.Conflicts))
	return airports.WriteConflicts(w, m.Conflicts)
}
