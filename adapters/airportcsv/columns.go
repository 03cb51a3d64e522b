package airportcsv

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"firn/bot/airports"
	"firn/bot/record"
	"firn/engine"
)

// columns are the names of a column, in lower case, firn's own first. Open data
// and authorities have others for the same.
var columns = map[string]string{
	"ident": ident, "icao": ident, "icao_code": ident, "airport": ident,
	"name": name, "airport_name": name,
	"lat": lat, "latitude": lat, "latitude_deg": lat,
	"lon": lon, "long": lon, "longitude": lon, "longitude_deg": lon,
	"elevation_ft": elevation, "elevation": elevation,
	"time_zone": zone, "timezone": zone,
	"mountainous": mountainous,
	"source":      source, "date": date, "until": until,
	"temperature_c": temperature, "temp_c": temperature, "restriction_c": temperature,
	"segments": segments,
	"initial":  "initial", "intermediate": "intermediate", "final": "final", "missed": "missed",
	"restriction_source": bySource, "restriction_date": byDate, "restriction_until": byUntil,
	"type": kind,
}

// firn's own names of the columns, in the order in which they are written.
const (
	ident       = "ident"
	name        = "name"
	lat         = "lat"
	lon         = "lon"
	elevation   = "elevation_ft"
	zone        = "time_zone"
	mountainous = "mountainous"
	source      = "source"
	date        = "date"
	until       = "until"
	temperature = "restriction_c"
	segments    = "segments"
	bySource    = "restriction_source"
	byDate      = "restriction_date"
	byUntil     = "restriction_until"
	kind        = "type" // of open data: heliports and what is closed are no airfields
)

var written = []string{ident, name, lat, lon, elevation, zone, mountainous, source, date, until, temperature, segments, bySource, byDate, byUntil}

// noAirfield are kinds of open data that no aeroplane approaches.
var noAirfield = map[string]bool{"closed": true, "heliport": true, "balloonport": true}

// set puts a cell into a field. The error says what cannot be meant.
func set(a *airports.Airport, column, cell string) (err error) {
	switch column {
	case ident:
		a.Ident = strings.ToUpper(cell)
		if !airports.IsIdent(a.Ident) {
			return fmt.Errorf("%.12q is not 3 or 4 letters and digits with a letter among them, such as XKLD", cell)
		}
	case name:
		a.Name = clean(cell)
	case lat:
		a.Lat, err = between(cell, "degrees north", -90, 90)
		a.HasPlace = true
	case lon:
		a.Lon, err = between(cell, "degrees east", -180, 180)
		a.HasPlace = true
	case elevation:
		var ft float64
		ft, err = between(cell, "feet", float64(airports.LowestField), float64(airports.HighestField))
		a.Elevation, a.HasElevation = engine.Altitude(math.Floor(ft)), true // down: heights come out larger
	case zone:
		a.Zone = cell
		if _, err = time.LoadLocation(cell); err != nil || cell == "Local" {
			return fmt.Errorf("%.40q is no time zone, such as America/Denver", cell)
		}
	case mountainous:
		a.Mountainous, err = truth(cell)
	case source:
		a.From.Source = clean(cell)
	case date:
		a.From.Date, err = day(cell)
	case until:
		a.From.Until, err = day(cell)
	case temperature:
		var c float64
		c, err = between(cell, "degrees Celsius with a sign", float64(airports.Coldest), float64(airports.Warmest))
		a.Restriction, a.Restricted = engine.Celsius(c), true
	case segments:
		a.Segments, err = segmentList(cell)
	case bySource:
		a.RestrictedBy.Source = clean(cell)
	case byDate:
		a.RestrictedBy.Date, err = day(cell)
	case byUntil:
		a.RestrictedBy.Until, err = day(cell)
	default: // a column of its own for a segment
		var is airports.Known
		if is, err = truth(cell); err == nil && is == airports.Yes {
			s, _ := airports.SegmentOf(column)
			a.Segments |= s
		}
	}
	return err
}

// clean takes control characters out of words that people read, and what keeps
// spreadsheets from running them.
func clean(s string) string {
	return strings.TrimSpace(strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(record.Uncell(s), "?")))
}

func between(cell, unit string, low, high float64) (float64, error) {
	v, err := strconv.ParseFloat(strings.Replace(cell, "−", "-", 1), 64)
	switch {
	case err != nil || math.IsNaN(v):
		return 0, fmt.Errorf("%.20q is not a plain number of %s", cell, unit)
	case v < low || v > high:
		return 0, fmt.Errorf("%v is outside %v to %v %s", v, low, high, unit)
	}
	return v, nil
}

func day(cell string) (time.Time, error) {
	t, err := time.Parse(time.DateOnly, cell)
	if err != nil {
		return t, fmt.Errorf("%.20q is not a day such as 2026-01-22", cell)
	}
	return t, nil
}

func truth(cell string) (airports.Known, error) {
	switch strings.ToLower(cell) {
	case "true", "yes", "y", "x", "1":
		return airports.Yes, nil
	case "false", "no", "n", "0":
		return airports.No, nil
	}
	return airports.NotKnown, fmt.Errorf("%.20q is neither true nor false", cell)
}

func segmentList(cell string) (all airports.Segments, err error) {
	if strings.EqualFold(cell, "all") {
		return airports.AllSegments, nil
	}
	for _, w := range strings.FieldsFunc(strings.ToLower(cell), func(r rune) bool { return strings.ContainsRune(" ;|+/,", r) }) {
		s, ok := airports.SegmentOf(w)
		if !ok {
			return 0, fmt.Errorf("%.20q is no segment: initial, intermediate, final, missed or all", w)
		}
		all |= s
	}
	return all, nil
}
