package config

import (
	"slices"
	"strings"
	"time"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/airports"
	"firn/bot/strictyaml"
	"firn/engine"
)

func (r *reader) stations(n ast.Node) []Station {
	var all []Station
	if s, ok := n.(*ast.SequenceNode); ok {
		all = make([]Station, 0, len(s.Values))
	}
	lines := map[string]int{}
	r.List(n, "stations", `each station as "- ident: XKLD" with its other keys below`, func(e ast.Node) {
		s, ident := r.station(e)
		if ident != nil {
			t := ident.GetToken()
			if first, twice := lines[s.Ident]; twice {
				r.AddToken(t, "station %s is given twice, first on line %d; remove one of them", s.Ident, first)
			} else {
				lines[s.Ident] = t.Position.Line
			}
		}
		all = append(all, s)
	})
	return all
}

// station gives the node of its ident too, nil when there is no usable one.
func (r *reader) station(n ast.Node) (Station, ast.Node) {
	s := Station{Zone: time.UTC}
	var ident, elevation, source, zoneNode, watch, lat, lon ast.Node
	var place Place
	named := "this station"
	ok := r.Mapping(n, "a station", stationKeys, func(key string, v ast.Node) {
		switch key {
		case "ident":
			ident = v
			if s.Ident = r.ident(v); s.Ident != "" {
				named = "station " + s.Ident
			}
		case "name":
			s.Name = r.Text(v, key)
		case "elevation_ft":
			elevation = v
			s.Elevation = r.elevation(v, key)
		case "restriction_c":
			s.Restriction = r.restriction(v, key)
		case "segments":
			s.Segments = r.segments(v, key)
		case "mountainous":
			s.Mountainous = airports.KnownOf(r.Boolean(v, key))
		case "time_zone":
			zoneNode = v
			s.Zone = r.zone(v, key)
		case "source_elevation_ft":
			source = v
			s.SourceElevation = r.elevation(v, key)
		case "remote":
			s.Remote = r.Boolean(v, key)
		case "radar":
			s.NoRadar = !r.Boolean(v, key)
		case "transition_altitude_ft":
			f, _ := r.Between(v, key, strictyaml.InFeet, 1000, 30000)
			s.Transition = engine.Altitude(f)
		case "request_extra_ft":
			f, _ := r.Between(v, key, strictyaml.InFeet, 0, 3000)
			s.RequestExtra = engine.Feet(f)
		case "lat":
			lat = v
			place.Lat, _ = r.Between(v, key, strictyaml.InDegreesNorth, -90, 90)
		case "lon":
			lon = v
			place.Lon, _ = r.Between(v, key, strictyaml.InDegreesEast, -180, 180)
		case "usual":
			s.Usual = r.usual(v, key)
		case "watch":
			watch = v
			s.Watch = r.watch(v)
		}
	})
	if !ok {
		return s, nil
	}
	if ident == nil {
		r.Add(n, `%s has no ident; add its code, such as "ident: XKLD"`, named)
	}
	if elevation == nil {
		r.Add(n, `%s has no elevation; add it in feet, such as "elevation_ft: 4802"`, named)
	}
	switch {
	case source == nil:
		s.SourceElevation = s.Elevation
	case elevation != nil:
		r.metresTyped(source, s)
	}
	if r.placed(lat, lon, named) {
		s.Place = &place
	}
	if watch != nil && zoneNode == nil {
		r.Add(watch, `%s is watched at a local time but has no time zone; add one, such as "time_zone: America/Edmonton"`, named)
	}
	if s.Ident == "" {
		ident = nil
	}
	return s, ident
}

// usual are the names of procedures.
func (r *reader) usual(n ast.Node, key string) (names []string) {
	r.List(n, key, "[rnav 31]", func(e ast.Node) {
		if name := r.Text(e, key); name != "" {
			names = append(names, name)
		}
	})
	return names
}

// placed says that both halves of a place are given; one alone is a problem.
func (r *reader) placed(lat, lon ast.Node, named string) bool {
	switch {
	case lat != nil && lon == nil:
		r.Add(lat, `%s has a lat and no lon; add it in degrees, west negative, such as "lon: -113.9871"`, named)
	case lon != nil && lat == nil:
		r.Add(lon, `%s has a lon and no lat; add it in degrees, south negative, such as "lat: 46.9163"`, named)
	}
	return lat != nil && lon != nil
}

func (r *reader) ident(n ast.Node) string {
	s, ok := r.Word(n, "ident", "3 or 4 letters or digits, such as XKLD")
	if !ok {
		return ""
	}
	up := strings.ToUpper(strings.TrimSpace(s))
	if !airports.IsIdent(up) {
		r.Add(n, "ident %s must be 3 or 4 letters or digits with at least one letter, such as XKLD", strictyaml.Quote(s))
		return ""
	}
	return up
}

func (r *reader) elevation(n ast.Node, key string) engine.Altitude {
	f, ok := r.Number(n, key, strictyaml.InFeet)
	if !ok {
		return 0
	}
	a := engine.Altitude(f)
	switch tenth := strictyaml.Plain(f / 10); {
	case a > airports.HighestField && a/10 <= airports.HighestField && !strings.Contains(tenth, "."):
		r.Add(n, "%s %s is higher than any airfield (%s ft); is it one digit too many, %s? write whole feet", key, strictyaml.Plain(f), strictyaml.Plain(float64(airports.HighestField)), tenth)
	case a > airports.HighestField:
		r.Add(n, "%s %s is higher than any airfield (%s ft); was it typed in another unit or without its decimal point? write feet", key, strictyaml.Plain(f), strictyaml.Plain(float64(airports.HighestField)))
	case a < airports.LowestField && -a <= airports.HighestField:
		r.Add(n, "%s %s is lower than any airfield (%s ft); is the minus a slip? write %s", key, strictyaml.Plain(f), strictyaml.Plain(float64(airports.LowestField)), strictyaml.Plain(-f))
	case a < airports.LowestField:
		r.Add(n, "%s %s is lower than any airfield (%s ft); write feet above mean sea level", key, strictyaml.Plain(f), strictyaml.Plain(float64(airports.LowestField)))
	default:
		return a
	}
	return 0
}

// metresTyped compares two elevations of one place: when one is the other
// times the feet in a metre, one of them was typed in metres.
func (r *reader) metresTyped(source ast.Node, s Station) {
	low, high := s.Elevation, s.SourceElevation
	lowKey := "elevation_ft"
	if low > high {
		low, high = high, low
		lowKey = "source_elevation_ft"
	}
	const smallest = 100 // below it the two may well differ by chance
	ratio := float64(high/low) * engine.MetresPerFoot
	if low < smallest || ratio < 0.98 || ratio > 1.02 {
		return
	}
	r.Add(source, "%s %s and the other elevation, %s, differ by the feet in a metre: was %s typed in metres? write both in feet",
		lowKey, strictyaml.Plain(float64(low)), strictyaml.Plain(float64(high)), strictyaml.Plain(float64(low)))
}

func (r *reader) restriction(n ast.Node, key string) *engine.Celsius {
	f, ok := r.Number(n, key, strictyaml.InCelsius)
	if !ok {
		return nil
	}
	c := engine.Celsius(f)
	asF := strictyaml.FromFahrenheit(f)
	switch {
	case c > airports.Warmest && -c >= airports.Coldest && asF <= airports.Warmest:
		r.Add(n, "restriction_c %s is warmer than any restriction temperature; if the minus was forgotten write %s, if it is in Fahrenheit write %s", strictyaml.Plain(f), strictyaml.Plain(-f), strictyaml.Plain(float64(asF)))
	case c > airports.Warmest:
		r.Add(n, "restriction_c %s is warmer than any restriction temperature (%s); write degrees Celsius with a sign, such as -25", strictyaml.Plain(f), strictyaml.Plain(float64(airports.Warmest)))
	case c < airports.Coldest && asF >= airports.Coldest:
		r.Add(n, "restriction_c %s is colder than any restriction temperature; if it is in Fahrenheit write %s", strictyaml.Plain(f), strictyaml.Plain(float64(asF)))
	case c < airports.Coldest:
		r.Add(n, "restriction_c %s is colder than any restriction temperature (%s); write degrees Celsius with a sign, such as -25", strictyaml.Plain(f), strictyaml.Plain(float64(airports.Coldest)))
	default:
		return &c
	}
	return nil
}

func (r *reader) segments(n ast.Node, key string) []Segment {
	var found []Segment
	r.List(n, key, "[initial, intermediate]", func(e ast.Node) {
		s, ok := r.Choice(e, "segment", segments)
		switch {
		case !ok:
		case slices.Contains(found, Segment(s)):
			r.Add(e, "segment %q is given twice; remove one of them", s)
		default:
			found = append(found, Segment(s))
		}
	})
	if s, ok := n.(*ast.SequenceNode); ok && len(s.Values) == 0 {
		r.Add(n, "%q is empty; name the designated segments (%s) or remove the line", key, strictyaml.OneOf(segments))
	}
	return found
}

// zone is a time zone looked up once; nil when there is none of the name.
type zone struct{ location *time.Location }

// exampleZones are suggestions for a misspelt one. The whole list cannot be
// had without opening files.
var exampleZones = []string{
	"UTC", "America/Adak", "America/Anchorage", "America/Argentina/Ushuaia", "America/Boise", "America/Chicago",
	"America/Denver", "America/Edmonton", "America/Fairbanks", "America/Halifax", "America/Iqaluit", "America/Juneau",
	"America/La_Paz", "America/Lima", "America/Los_Angeles", "America/New_York", "America/Nome", "America/Nuuk",
	"America/Phoenix", "America/Punta_Arenas", "America/Regina", "America/Santiago", "America/St_Johns",
	"America/Toronto", "America/Vancouver", "America/Whitehorse", "America/Winnipeg", "America/Yellowknife",
	"Antarctica/McMurdo", "Arctic/Longyearbyen", "Asia/Almaty", "Asia/Kathmandu", "Asia/Novosibirsk", "Asia/Sapporo",
	"Asia/Seoul", "Asia/Tbilisi", "Asia/Tokyo", "Asia/Ulaanbaatar", "Asia/Yakutsk", "Atlantic/Reykjavik",
	"Australia/Hobart", "Australia/Sydney", "Europe/Berlin", "Europe/Helsinki", "Europe/Innsbruck", "Europe/London",
	"Europe/Oslo", "Europe/Paris", "Europe/Rome", "Europe/Stockholm", "Europe/Vienna", "Europe/Zurich",
	"Pacific/Auckland",
}

func (r *reader) zone(n ast.Node, key string) *time.Location {
	s, ok := r.Word(n, key, "a zone such as America/Edmonton")
	if !ok {
		return time.UTC
	}
	z, met := r.zones[s]
	if !met {
		// Abbreviations are refused although some are zones: MST is an hour
		// off all summer where clocks change. "Local" depends on the machine.
		if s == "UTC" || strings.Contains(s, "/") {
			if l, err := time.LoadLocation(s); err == nil {
				z.location = l
			}
		}
		r.zones[s] = z
	}
	if z.location != nil {
		return z.location
	}
	if best, ok := strictyaml.Suggest(s, exampleZones); ok {
		r.Add(n, "unknown time zone %s; did you mean %q?", strictyaml.Quote(s), best)
	} else {
		r.Add(n, "unknown time zone %s; write region and city, such as America/Edmonton or Europe/Oslo", strictyaml.Quote(s))
	}
	return time.UTC
}
