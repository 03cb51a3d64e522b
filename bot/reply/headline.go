package reply

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// headlineMost is how long a headline may be, in characters.
const headlineMost = 60

// headline is the station, the procedure, the temperature and the verdict.
func (sc *Scene) headline(res ruleset.Result, b Barred, corrects bool) string {
	long, short := sc.word(res, b, corrects)
	var room [256]byte
	line := room[:0]
	for _, w := range [...]struct {
		named bool
		word  string
	}{{true, long}, {true, short}, {false, long}, {false, short}, {false, ""}} {
		line = append(line[:0], Station{Ident: sc.Ident, ElevationFt: float64(sc.Elevation)}.Place()...)
		if name := cmp.Or(sc.Procedure.FlownAs, sc.Procedure.Name); w.named && name != "" {
			line = append(append(line, ' '), name...)
		}
		line = append(appendDegrees(append(line, ", "...), sc.Temperature.C), " °C"...)
		if w.word != "" {
			line = append(append(line, ": "...), w.word...)
		}
		if sc.Set.Unverified != "" {
			line = append(line, ", unverified rules"...)
		}
		if utf8.RuneCount(line) <= headlineMost {
			break
		}
	}
	return string(line)
}

// word is the verdict, and a shorter one.
func (sc *Scene) word(res ruleset.Result, b Barred, corrects bool) (long, short string) {
	switch {
	case sc.Procedure.Standing == ProcedureEnded:
		return "edition ended, do not fly it", "edition ended"
	case sc.Procedure.Standing == ProcedureNotYet:
		return "not yet in force, do not fly it", "not yet in force"
	case b.Age:
		return "the report is too old", "report too old"
	case b.Whole && b.Remote:
		return "NA, remote altimeter source", "NA, remote source"
	case b.Whole && !sc.Guidance.Every:
		return "no line of minimums is usable", "no line usable"
	case b.Whole:
		return "not without compensation", "NA uncompensated"
	case res.Required:
		return sc.required(&res)
	case res.Unknown:
		return "required or not: not known", "not known"
	case res.Rule() >= 0:
		return "none of these; correct " + elsewhere(&res), "none of these"
	case corrects:
		return "no correction required", "not required"
	}
	return "no correction required", "no correction"
}

// byPlace says that a line has no label to tell whether it is corrected.
func byPlace(res *ruleset.Result) bool {
	return slices.ContainsFunc(res.Lines, func(l ruleset.Line) bool { return l.ByPlace })
}

// elsewhere are the segments that the rule set asks for.
func elsewhere(res *ruleset.Result) string {
	var room [len(ruleset.Segments)]string
	names := room[:0]
	for _, s := range ruleset.Segments {
		if res.Asks(s) {
			names = append(names, s.String())
		}
	}
	return strings.Join(names, ", ")
}

// required says which segments are corrected: of a stored procedure those that
// it has, else also those of which nothing was typed.
func (sc *Scene) required(res *ruleset.Result) (long, short string) {
	var room [len(ruleset.Segments)]string
	names := room[:0]
	all, labelled := true, false
	for _, s := range ruleset.Segments {
		there, found, left := false, false, false
		for i := range res.Lines {
			if l := &res.Lines[i]; l.Segment == s && !l.NoAltitude {
				there = true
				asked := l.Required && !l.Lifted()
				found = found || asked
				left = left || !asked && l.Role != procedure.MissedAltitude
			}
		}
		labelled = labelled || there
		typed := sc.Procedure.Name == ""
		if found || typed && !there && res.Asks(s) {
			names = append(names, s.String())
		}
		all = all && !left && (there || !typed || res.Asks(s))
	}
	switch {
	case !labelled && byPlace(res):
		return "correct " + elsewhere(res), "correct some"
	case !labelled:
		return "correct every altitude", "correct"
	case all || len(names) == 0:
		return "correct all segments", "correct"
	}
	return "correct " + strings.Join(names, ", "), "correct some"
}
