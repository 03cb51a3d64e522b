package reply

import (
	"cmp"
	"strings"
)

// ApproachName is what the crew calls the approach; empty where the altitudes
// are of none.
func (r *Reply) ApproachName() string { return cmp.Or(r.FlownAs, r.Procedure) }

// Place is the station's ident; of a field without one its elevation.
func (s Station) Place() string {
	if s.Ident != "" {
		return s.Ident
	}
	return "Field " + WholeUp(s.ElevationFt) + " ft"
}

// Where is the place, and the approach where there is one.
func (r *Reply) Where() string {
	return strings.TrimSpace(r.Station.Place() + " " + r.ApproachName())
}

// Topic is what a reply is about, in a few words: where, by which approach and at
// which temperature, or where a brief stops. Empty where it is about no field.
func (r *Reply) Topic() string {
	switch {
	case len(r.Arrivals) > 0:
		stops := make([]string, len(r.Arrivals))
		for i := range r.Arrivals {
			stops[i] = r.Arrivals[i].Station.Ident
		}
		return "brief " + strings.Join(stops, ", ")
	case r.Station.Ident == "" && !(r.Station.Known && r.TemperatureC.OK):
		return ""
	case !r.TemperatureC.OK:
		return r.Where()
	}
	return r.Where() + " " + Celsius(r.TemperatureC.Value)
}
