package bot

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"firn/bot/config"
	"firn/bot/parse"
	"firn/bot/reply"
)

// How many fields an answer names, and how far it looks where nobody says. All
// are ours.
const (
	mostFound  = 20
	nearest    = 8
	coldWithin = 200 // NM
	everywhere = 11000
)

// find answers where fields are and which are restricted.
func (b *Bot) find(req parse.Request, at time.Time) reply.Reply {
	s := req.Search
	switch {
	case s.Text != "":
		return b.byName(s.Text, at)
	case s.Near == "":
		found, more := b.stations.RestrictedAt(req.Temperature, mostFound)
		list := make([]config.Near, len(found))
		for i, st := range found {
			list[i] = config.Near{Station: st, Miles: math.NaN()}
		}
		return b.found(fmt.Sprintf("restricted at %s °C", reply.Degrees(req.Temperature)), list, more, nil, at)
	}
	place, ok := b.stations.Place(s.Near)
	if !ok {
		return b.ask(&parse.Problem{Word: s.Near, Text: fmt.Sprintf("Where %s lies is not known: it needs lat and lon in the configuration, or its line on the list of airports.", s.Near)})
	}
	if !s.Cold {
		within, n := s.Within, mostFound
		if within == 0 {
			within, n = everywhere, nearest+1
		}
		list, more, unplaced := b.stations.Around(place, within, nil, n)
		list = slices.DeleteFunc(list, func(f config.Near) bool { return f.Ident == s.Near })
		what := "near " + s.Near
		if s.Within == 0 {
			more = 0 // they were not asked for
		} else {
			what = fmt.Sprintf("within %.0f NM of %s", s.Within, s.Near)
		}
		return b.found(what, list, more, unplaced, at)
	}
	within := cmp.Or(s.Within, coldWithin)
	list, more, unplaced := b.stations.Around(place, within, &req.Temperature, mostFound)
	return b.found(fmt.Sprintf("restricted at %s °C within %.0f NM of %s", reply.Degrees(req.Temperature), within, s.Near), list, more, unplaced, at)
}

// byName are the fields that a part of a name, or a misspelt one, may mean.
func (b *Bot) byName(text string, at time.Time) reply.Reply {
	var list []config.Near
	for _, st := range b.stations.Find(text, mostFound+1) {
		list = append(list, config.Near{Station: st, Miles: math.NaN()})
	}
	more := 0
	if len(list) > mostFound {
		list, more = list[:mostFound], 1
	}
	r := b.found(fmt.Sprintf("like “%s”", strings.TrimSpace(text)), list, 0, nil, at)
	if more > 0 {
		r.Facts = append(r.Facts, "There are more: type more of the name.")
	}
	return r
}

// found makes the reply: a line a field, and what must be known of the lists.
func (b *Bot) found(what string, list []config.Near, more int, unplaced []string, at time.Time) reply.Reply {
	r := reply.Reply{Kind: reply.KindStations}
	total := len(list) + more
	switch total {
	case 0:
		r.Facts = []string{"No station " + what + " is known."}
	case 1:
		r.Facts = []string{"1 station " + what + "."}
	default:
		r.Facts = []string{fmt.Sprintf("%d stations %s.", total, what)}
	}
	lines := make([]string, 0, len(list)+1)
	for _, f := range list {
		r.Stations = append(r.Stations, fieldOf(f))
		lines = append(lines, fieldLine(f))
		for _, note := range f.ListNotes(at) {
			if f.Restriction != nil { // where none is known its own line says so
				by := f.Listed.RestrictedBy
				note = fmt.Sprintf("The list of restricted airports %s has ended: see the charts' snowflake notes.", by)
				if by.Ends().IsZero() {
					note = fmt.Sprintf("The list of restricted airports %s does not say what day it is of: see the charts' snowflake notes.", by.Source)
				}
				if !slices.Contains(r.Facts, note) {
					r.Facts = append(r.Facts, note)
				}
			}
		}
	}
	if more > 0 {
		lines = append(lines, fmt.Sprintf("and %d more", more))
	}
	if len(lines) > 0 {
		r.Sections = []reply.Section{{Title: "Stations", Lines: lines}}
	}
	if len(unplaced) > 0 {
		r.Facts = append(r.Facts, "Not measured, since where they lie is not known: "+strings.Join(unplaced, ", ")+".")
	}
	if b.stations.Airports.Len() == 0 {
		r.Facts = append(r.Facts, "No list of airports is configured: these are the configured stations alone.")
	}
	return r
}

func fieldOf(f config.Near) reply.Field {
	out := reply.Field{Ident: f.Ident, Name: f.Name, Listed: f.Listed != nil}
	if !f.NoElevation() {
		out.ElevationFt = reply.Some(float64(f.Elevation))
	}
	if f.Restriction != nil {
		out.RestrictionC = reply.Some(float64(*f.Restriction))
	}
	for _, s := range f.Segments {
		out.Segments = append(out.Segments, string(s))
	}
	if !math.IsNaN(f.Miles) {
		out.DistanceNM = reply.Some(math.Round(f.Miles))
	}
	return out
}

// fieldLine is a field in one line.
func fieldLine(f config.Near) string {
	line := strings.TrimSpace(f.Ident + " " + f.Name)
	if !math.IsNaN(f.Miles) {
		line += fmt.Sprintf(", %.0f NM", f.Miles)
	}
	if !f.NoElevation() {
		line += fmt.Sprintf(", %.0f ft", float64(f.Elevation))
	}
	if f.Restriction == nil {
		return line + ", no restriction temperature known"
	}
	line += fmt.Sprintf(", restricted at %s °C", reply.Degrees(*f.Restriction))
	if n := len(f.Segments); n > 0 && n < len(everySegment) {
		names := make([]string, n)
		for i, s := range f.Segments {
			names[i] = string(s)
		}
		line += ": " + strings.Join(names, ", ")
	}
	return line
}
