package app

import (
	"math"
	"time"

	"firn/bot/airports"
	"firn/bot/reply"
)

// listFresh is how many days old a list of airports may be: two cycles of 28.
const listFresh = 56

// airports tells of the list of airports: how old each list is that it was made
// of, and where the configuration says otherwise.
func (d *Doctor) airports(a *App) {
	list := a.cfg.Airports
	if list.Len() == 0 {
		return
	}
	d.well("airports", "%s: %d airfields", a.cfg.AirportList, list.Len())
	for _, e := range list.Editions() {
		d.edition(e)
	}
	for i := range a.cfg.Stations {
		s := &a.cfg.Stations[i]
		listed, ok := list.Find(s.Ident)
		if !ok {
			continue
		}
		if apart := math.Abs(float64(listed.Elevation - s.Elevation)); listed.HasElevation && apart > 10 {
			d.Note("airports", "%s: the configuration has it at %.0f ft, %s at %.0f ft; the configuration's counts", s.Ident, float64(s.Elevation), listed.From, float64(listed.Elevation))
		}
		switch {
		case !listed.Restricted:
		case s.Restriction == nil:
			d.Note("airports", "%s: the configuration has no restriction temperature, %s has %s °C; the configuration's counts", s.Ident, listed.RestrictedBy, reply.Degrees(listed.Restriction))
		case *s.Restriction != listed.Restriction:
			d.Note("airports", "%s: the configuration has it restricted at %s °C, %s at %s °C; the configuration's counts", s.Ident, reply.Degrees(*s.Restriction), listed.RestrictedBy, reply.Degrees(listed.Restriction))
		}
	}
}

// edition tells how old one list is.
func (d *Doctor) edition(e airports.Used) {
	what := "airfields"
	if e.Restricts {
		what = "restriction temperatures"
	}
	days := int(d.Now().Sub(e.Date) / (24 * time.Hour))
	switch ends := e.Ends(); {
	case e.Date.IsZero():
		d.Note("airports", "%d %s of %s, which does not say what day it is of: import it with --date", e.Fields, what, e.Source)
	case e.Restricts && !d.Now().Before(ends):
		d.Note("airports", "%d %s of %s, %d days old, which ended on %s: every answer by it says so; import the one in force", e.Fields, what, e.Edition, days, ends.AddDate(0, 0, -1).Format("2 Jan 2006"))
	case !e.Restricts && days > listFresh:
		d.Note("airports", "%d %s of %s, %d days old, more than %d: import a newer one", e.Fields, what, e.Edition, days, listFresh)
	default:
		d.well("airports", "%d %s of %s, %d days old", e.Fields, what, e.Edition, days)
	}
}
