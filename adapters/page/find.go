package page

import (
	"regexp"
	"slices"
	"strings"
	"time"

	"firn/bot/record"
)

// find is what the log's one field asks for: a station, a day, or a text, which
// is in a record's name, an approach's or a person's; or the state of what holds still.
type find struct {
	station  string
	from, to time.Time
	state    record.State
	text     string
}

// dayForms are how a day is written: with its year, or in the last year.
var dayForms = []string{time.DateOnly, "2 Jan 2006", "2 January 2006", "02.01.2006", "2 Jan", "2 January", "2.1."}

// anIdent is what may be a station's ident that is not in the configuration.
var anIdent = regexp.MustCompile(`^[A-Z][A-Z0-9]{2,3}$`)

// findOf reads what was typed. A day is one of UTC, as the log's times are.
func findOf(typed string, now time.Time, known func(ident string) bool) find {
	day := func(t time.Time) find { return find{from: t, to: t.AddDate(0, 0, 1)} }
	today := now.UTC().Truncate(24 * time.Hour)
	switch strings.ToLower(typed) {
	case "":
		return find{}
	case "today":
		return day(today)
	case "yesterday":
		return day(today.AddDate(0, 0, -1))
	}
	for _, state := range [...]record.State{record.Disagreed, record.Unchecked, record.Checked, record.Recompute} {
		if strings.EqualFold(typed, state.Word()) || strings.EqualFold(typed, string(state)) {
			return find{state: state}
		}
	}
	for _, form := range dayForms {
		t, err := time.Parse(form, typed)
		if err != nil {
			continue
		}
		if t.Year() == 0 {
			if t = t.AddDate(today.Year(), 0, 0); t.After(today) {
				t = t.AddDate(-1, 0, 0)
			}
		}
		return day(t)
	}
	if ident := strings.ToUpper(typed); known(ident) || typed == ident && anIdent.MatchString(ident) {
		return find{station: ident}
	}
	return find{text: typed}
}

// stationKnown says that the configuration has a station.
func (p *Page) stationKnown(ident string) bool {
	return slices.ContainsFunc(p.o.Stations, func(s Station) bool { return s.Ident == ident })
}
