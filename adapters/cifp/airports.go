package cifp

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"

	"firn/bot/airports"
)

// codedBegin is how many bytes Coded looks at.
const codedBegin = 5

// Coded says that a file that begins so is a coded one, and no list of values.
func Coded(begin []byte) bool {
	return bytes.HasPrefix(begin, []byte("HDR")) ||
		len(begin) >= codedBegin && (begin[0] == 'S' || begin[0] == 'T') && begin[4] >= 'A' && begin[4] <= 'Z' && !bytes.Contains(begin, []byte(","))
}

// ReadAirports hands over the airport records of a coded file, and tells report
// what came of it. given is what the list is of, where somebody says so. One that
// is not whole is refused, unless it is to be a part.
func ReadAirports(in io.Reader, path string, partial bool, given airports.Edition, add func(airports.Airport) error, report io.Writer) error {
	var rows []airports.Airport
	sum, err := Read(in, Handler{Airport: func(a Airport) {
		rows = append(rows, airports.Airport{
			Ident: a.Ident, Name: a.Name, Elevation: a.Elevation, HasElevation: a.HasElevation,
			Lat: a.Latitude, Lon: a.Longitude, HasPlace: a.HasPlace,
		})
	}})
	if err != nil {
		return err
	}
	if err := sum.Whole(); err != nil && !partial {
		return fmt.Errorf("%s is not whole: %w; an excerpt that is meant is taken with --partial", path, err)
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
		if err := add(a); err != nil {
			left++
			fmt.Fprintf(report, "  %s: %v\n", path, err)
		}
	}
	fmt.Fprintf(report, "%s: %d airport records of %d records, %s; %d left out, %d records could not be read\n", path, len(rows)-left, sum.Records, e, left, sum.Malformed)
	return nil
}
