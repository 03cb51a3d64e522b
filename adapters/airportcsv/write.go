package airportcsv

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"firn/bot/airports"
	"firn/bot/record"
)

// Write writes a list that Load reads, and that no spreadsheet runs. It does not flush to disk.
func Write(w io.Writer, all []airports.Airport) error {
	if _, err := fmt.Fprintln(w, "# airfields, as firn import airports writes them; not for navigation"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	if err := out.Write(written); err != nil {
		return err
	}
	for i := range all {
		if err := out.Write(cells(&all[i])); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func cells(a *airports.Airport) []string {
	c := make([]string, len(written))
	for i, col := range written {
		c[i] = cell(a, col)
	}
	return c
}

func cell(a *airports.Airport, col string) string {
	listed := a.HasElevation || a.HasPlace
	switch {
	case col == ident:
		return a.Ident
	case col == name:
		return record.Cell(a.Name)
	case col == lat && a.HasPlace:
		return degrees(a.Lat)
	case col == lon && a.HasPlace:
		return degrees(a.Lon)
	case col == elevation && a.HasElevation:
		return strconv.FormatFloat(float64(a.Elevation), 'f', -1, 64)
	case col == zone:
		return a.Zone
	case col == mountainous && a.Mountainous != airports.NotKnown:
		return strconv.FormatBool(a.Mountainous == airports.Yes)
	case col == source && listed:
		return record.Cell(a.From.Source)
	case col == date && listed:
		return dayOf(a.From.Date)
	case col == until && listed:
		return dayOf(a.From.Until)
	case !a.Restricted:
	case col == temperature:
		return strconv.FormatFloat(float64(a.Restriction), 'f', -1, 64)
	case col == segments:
		return strings.Join(a.Segments.Names(), " ")
	case col == bySource:
		return record.Cell(a.RestrictedBy.Source)
	case col == byDate:
		return dayOf(a.RestrictedBy.Date)
	case col == byUntil:
		return dayOf(a.RestrictedBy.Until)
	}
	return ""
}

func degrees(f float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(f, 'f', 6, 64), "0"), ".")
}

func dayOf(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.DateOnly)
}
