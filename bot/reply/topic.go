package reply

import (
	"cmp"
	"fmt"
	"strings"
)

// ApproachName is what the crew calls the approach; empty where the altitudes
// are of none.
func (r *Reply) ApproachName() string { return cmp.Or(r.FlownAs, r.Procedure) }

// Topic is what a reply is about, in a few words: where, by which approach and at
// which temperature, or where a brief stops. Empty where it is about no field.
func (r *Reply) Topic() string {
	if len(r.Arrivals) > 0 {
		stops := make([]string, len(r.Arrivals))
		for i := range r.Arrivals {
			stops[i] = r.Arrivals[i].Station.Ident
		}
		return "brief " + strings.Join(stops, ", ")
	}
	words := []string{r.Station.Ident}
	if r.Station.Ident == "" {
		if !r.Station.Known || !r.TemperatureC.OK {
			return ""
		}
		words[0] = fmt.Sprintf("field at %.0f ft", r.Station.ElevationFt)
	}
	if name := r.ApproachName(); name != "" {
		words = append(words, name)
	}
	if r.TemperatureC.OK {
		words = append(words, DegreesOf(r.TemperatureC.Value)+" °C")
	}
	return strings.Join(words, " ")
}
