package reply

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// headlineMost is how long a headline may be, in characters.
const headlineMost = 60

// headline is the station, the procedure, the temperature and the verdict.
func (sc Scene) headline(res ruleset.Result, b Barred, corrects bool) string {
	place := sc.Ident
	if place == "" {
		place = fmt.Sprintf("Field %.0f ft", float64(sc.Elevation))
	}
	t := ", " + Degrees(sc.Temperature.C) + " °C: "
	long, short := sc.word(res, b, corrects)
	unverified := ""
	if sc.Set.Unverified != "" {
		unverified = ", unverified rules"
	}
	name := ""
	if sc.Procedure.Name != "" {
		name = " " + sc.Procedure.Name
	}
	for _, line := range []string{
		place + name + t + long + unverified, place + name + t + short + unverified,
		place + t + long + unverified, place + t + short + unverified,
	} {
		if utf8.RuneCountInString(line) <= headlineMost {
			return line
		}
	}
	return strings.TrimSuffix(place+t, ": ")
}

// word is the verdict, and a shorter one.
func (sc Scene) word(res ruleset.Result, b Barred, corrects bool) (long, short string) {
	switch {
	case sc.Procedure.Standing == ProcedureEnded:
		return "edition ended, do not fly it", "edition ended"
	case b.Whole:
		return "not without compensation", "NA uncompensated"
	case res.Required:
		return required(res.Lines)
	case res.Unknown:
		return "required or not: not known", "not known"
	case corrects:
		return "no correction required", "not required"
	}
	return "no correction required", "no correction"
}

// required says which segments are corrected.
func required(lines []ruleset.Line) (long, short string) {
	segments := []procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}
	var names []string
	all, labelled := true, false
	for _, s := range segments {
		found, left := false, false
		for i := range lines {
			if l := &lines[i]; l.Segment == s && !l.NoAltitude {
				labelled = true
				found = found || l.Required
				left = left || !l.Required && l.Role != procedure.MissedAltitude
			}
		}
		if found {
			names = append(names, s.String())
		}
		all = all && !left
	}
	switch {
	case !labelled:
		return "correct every altitude", "correct"
	case all || len(names) == 0:
		return "correct all segments", "correct"
	}
	return "correct " + strings.Join(names, ", "), "correct some"
}
