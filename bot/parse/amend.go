package parse

import (
	"slices"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
)

// Complete says that the request stands alone: it has a place, and altitudes
// or a procedure, and says of itself that it is no change of another.
func (r *Request) Complete() bool {
	return (r.Verb == Correct || r.Verb.Shows()) && (r.Station != "" || r.HasElevation || r.Elsewhere) &&
		(len(r.Altitudes) > 0 || r.Procedure != "")
}

// Signed gives a temperature whose sign was forgotten the sign of a follow-up:
// "minus" behind "38". ok is false where nothing waits for one.
func (r Request) Signed(sign int8) (_ Request, ok bool) {
	if r.Unsigned == 0 || r.HasTemperature || sign == 0 {
		return r, false
	}
	v := r.Unsigned * float64(sign)
	r.Temperature, r.HasTemperature, r.InFahrenheit = engine.Celsius(v), true, r.UnsignedF
	if r.UnsignedF {
		r.Fahrenheit = engine.Fahrenheit(v)
		r.Temperature = r.Fahrenheit.Celsius()
	}
	r.Unsigned = 0
	return r, r.Temperature >= coldest && r.Temperature <= hottest
}

// Amend reads next as a follow-up of r. done says that r had been answered:
// bare altitudes then ask anew with the same station and temperature, while
// before that they complete it.
func (r Request) Amend(next Request, done bool) Request {
	out := r
	out.Altitudes = slices.Clone(r.Altitudes)
	out.Verb, out.Kind = Correct, next.Kind
	if next.Verb.Shows() {
		out.Verb = next.Verb
	}
	out.Gone, out.Also, out.Swap, out.Instead, out.Denied, out.NotUsed = nil, false, false, false, false, next.NotUsed
	out.SettingInHg, out.SettingHPa = next.SettingInHg, next.SettingHPa
	if r.leaves(next) {
		out.Altitudes = nil
	}
	out.amendPlace(next)
	out.amendTemperature(next)
	out.Elsewhere = false
	out.Open = slices.Clone(r.Open)
	if len(out.Open) > 0 && r.settles(out.Open[0], next) {
		out.Open = out.Open[r.retyped(next):]
	}
	if out.Open = append(out.Open, next.Open...); len(out.Open) == 0 {
		out.Open = nil
	}
	out.amendChoices(r.besideLine(next), done)
	out.amendAltitudes(next, done)
	return out
}

// leaves says that next is about another station's altitudes, of which it takes the
// temperature alone from what was before: "XKLD same temp FAF 7400".
func (r Request) leaves(next Request) bool {
	return next.SameAir && next.Station != "" && next.Station != r.Station && len(next.Altitudes) > 0
}

func (r *Request) amendPlace(next Request) {
	if next.Station != "" && next.Station != r.Station {
		r.Station = next.Station
		if r.Way.Fix != "" { // it is the other station's
			r.Way = Way{}
		}
		r.Remote, r.Additive = "", 0
		r.HasElevation = false
		// A report's temperature belongs to its own station.
		if r.HasReport {
			r.HasReport, r.HasTemperature = false, false
		}
	}
	if next.HasElevation {
		r.Elevation, r.HasElevation = next.Elevation, true
		if next.Station == "" && !next.Instead && r.Procedure == "" { // "elev is wrong, 4820": the station stays, and is held against it
			r.Station = ""
		}
	}
}

func (r *Request) amendTemperature(next Request) {
	switch {
	case next.HasTemperature:
		r.Temperature, r.HasTemperature = next.Temperature, true
		r.Fahrenheit, r.InFahrenheit = next.Fahrenheit, next.InFahrenheit
		r.Report, r.HasReport = next.Report, next.HasReport
		r.Unsigned, r.Differ = 0, nil
	case next.Latest:
		r.HasTemperature, r.HasReport, r.InFahrenheit, r.Unsigned, r.Differ = false, false, false, 0, nil
	}
	r.Latest = false
}

func (r *Request) amendChoices(next Request, done bool) {
	if next.Rules != "" || next.OwnRules {
		r.Rules = next.Rules
	}
	if next.Procedure != "" {
		name := next.Procedure
		if len(name) == 1 && r.Procedure != "" {
			name = withLetter(r.Procedure, name)
		}
		if done && name != r.Procedure {
			r.Altitudes = r.Altitudes[:0] // those of another approach
			r.Minima, r.Without, r.Way, r.Additive = "", nil, Way{}, 0
		}
		if line, _, _ := strings.Cut(name, " "); !done && (line == "loc" || line == "ils") && slices.Contains(satelliteLines, r.Minima) {
			r.NotUsed, r.Minima = append(slices.Clone(r.NotUsed), r.Minima), "" // "lnav", and then "loc 12"
		}
		r.Procedure = name
	}
	if next.Compensated != "" {
		r.Compensated = next.Compensated
	}
	if next.SBAS != "" {
		r.SBAS = next.SBAS
	}
	if next.Remote != "" {
		r.Remote = next.Remote
	}
	if next.Additive > 0 {
		r.Additive = next.Additive
	}
	if r.Remote == "no" {
		r.Additive = 0
	}
	if next.Minima != "" && next.Also { // "and circling": of all lines
		r.Minima = ""
		r.Without = slices.DeleteFunc(slices.Clone(r.Without), func(line string) bool { return line == next.Minima })
	} else if next.Minima != "" {
		r.Minima = next.Minima
		r.Without = slices.DeleteFunc(slices.Clone(r.Without), func(line string) bool { return line == next.Minima })
	}
	if next.StraightIn && r.Minima == "circling" { // "straight in again"
		r.Minima, r.Without = "", []string{"circling"}
	}
	for _, line := range next.Without {
		if line == r.Minima {
			r.Minima = ""
		}
		if !slices.Contains(r.Without, line) {
			r.Without = append(slices.Clone(r.Without), line)
		}
	}
	for _, a := range next.Altitudes { // a figure of a line that was left out is not lost
		line := a.line()
		if line == "" || next.Minima != "" {
			continue
		}
		r.Without = slices.DeleteFunc(slices.Clone(r.Without), func(have string) bool { return have == line })
		if r.Minima != line {
			r.Minima = ""
		}
	}
	switch next.Way.Kind {
	case Unsaid:
	case Via, InHold, InTurn:
		if r.Way.Kind == Traffic { // nobody controls there, whichever way it is
			if r.Way.Fix, r.Way.In = next.Way.Fix, Unsaid; next.Way.Kind != Via {
				r.Way.In = next.Way.Kind
			}
			break
		}
		if next.Way == (Way{Kind: Via}) && (r.Way.Kind == Via || r.Way.Kind == InHold || r.Way.Kind == InTurn) { // it says no more
			break
		}
		r.Way = next.Way
	default:
		r.Way = next.Way
	}
}

// satelliteLines are the lines of minimums that an ILS, or a localizer, has not.
var satelliteLines = []string{"lpv", "lp", "gls", "lnav", "lnav/vnav"}

// withLetter is the name of an approach with this letter in place of its own.
func withLetter(name, letter string) string {
	words := strings.Fields(name)
	words = slices.DeleteFunc(words, func(w string) bool { return len(w) == 1 && isLetter(w[0]) })
	at := len(words)
	if at > 0 && isDigit(words[at-1][0]) {
		at--
	}
	return strings.Join(slices.Insert(words, at, letter), " ")
}

func (r *Request) amendAltitudes(next Request, done bool) {
	if i, j, ok := r.swapped(next); ok {
		a, b := &r.Altitudes[i], &r.Altitudes[j]
		a.Value, b.Value, a.Metric, b.Metric, a.Bare, b.Bare, a.Height, b.Height = b.Value, a.Value, b.Metric, a.Metric, b.Bare, a.Bare, b.Height, a.Height
		return
	} else if next.Swap && len(next.Altitudes) == 2 { // "swap 7400 and 7500", of which one is there
		next.Gone, next.Altitudes = next.Altitudes[:1], next.Altitudes[1:]
	}
	also := next.Also || next.Verb == Add
	if len(next.Gone) > 0 {
		if len(next.Gone) == 1 && len(next.Altitudes) == 1 {
			r.Altitudes = exchange(r.Altitudes, next.Gone[0], next.Altitudes[0])
			return
		}
		r.Altitudes = without(r.Altitudes, next.Gone)
		also = true
	}
	if len(next.Altitudes) == 0 {
		return
	}
	if next.Instead && len(r.Altitudes) == 1 && len(next.Altitudes) == 1 && next.Altitudes[0].Role == procedure.NoRole {
		r.Altitudes = exchange(r.Altitudes, r.Altitudes[0], next.Altitudes[0])
		return
	}
	if next.Instead && r.Procedure != "" && !also {
		next.Altitudes = slices.Clone(next.Altitudes)
		for i := range next.Altitudes {
			next.Altitudes[i].Instead = true
		}
	}
	if r.holdsAll(next.Altitudes) && bare(next.Altitudes) && (!bare(r.Altitudes) || len(next.Altitudes) == 1) {
		for _, a := range next.Altitudes { // "7400 it is", "what's 8200 again": what is there already
			have := &r.Altitudes[slices.IndexFunc(r.Altitudes, a.same)]
			*have = a.flownAs(*have)
		}
		return
	}
	if done && bare(next.Altitudes) && !also {
		r.Altitudes = append(r.Altitudes[:0], next.Altitudes...)
		return
	}
	for _, a := range next.Altitudes {
		r.Altitudes = replaceOrAdd(r.Altitudes, a, also || !next.Instead)
	}
}

// bare says that none of these has a label.
func bare(list []Altitude) bool {
	return !slices.ContainsFunc(list, func(a Altitude) bool { return a.Role != procedure.NoRole })
}

// Unclear says which of the earlier altitudes a bare one could stand for,
// where labels would be lost if it asked anew: "its 8000" behind a FAF and a
// DA. Empty: it is clear.
func (r Request) Unclear(next Request) (word string, names []string) {
	if next.Instead && !next.Also && len(next.Gone) == 0 && len(next.Altitudes) == 1 && next.Altitudes[0].anyMinimum() && r.Procedure == "" {
		return r.whichMinimum(next.Altitudes[0])
	}
	if next.Also || next.Swap || next.Verb == Add || r.leaves(next) || len(next.Gone) > 0 || !bare(next.Altitudes) || len(next.Altitudes) == 0 || next.Station != "" || bare(r.Altitudes) && (len(r.Altitudes) < 2 || len(next.Altitudes) > 1 || next.Procedure != "") {
		return "", nil
	}
	if next.Instead && len(r.Altitudes) == 1 || r.holdsAll(next.Altitudes) {
		return "", nil
	}
	for _, have := range r.Altitudes {
		names = append(names, have.Name())
	}
	return next.Altitudes[0].figure(), names
}

// holdsAll says that the request has each of these figures.
func (r Request) holdsAll(list []Altitude) bool {
	return !slices.ContainsFunc(list, func(a Altitude) bool { return !slices.ContainsFunc(r.Altitudes, a.same) })
}

// Second gives the altitude that is there and the one that next adds with the
// same label, where there are two of one. A step-down or an initial fix is one
// of several.
func (r Request) Second(next Request) (have, other Altitude, two bool) {
	denied := next.Denied && slices.ContainsFunc(r.Altitudes, func(h Altitude) bool { return slices.ContainsFunc(next.Altitudes, h.same) }) // "no 10500 is XADLO", which is another's
	if next.Instead && !denied || next.Swap || len(next.Gone) > 0 || r.leaves(next) {
		return have, other, false
	}
	for _, a := range next.Altitudes {
		for _, h := range r.Altitudes {
			one := a.Role != procedure.StepDown && a.Role != procedure.InitialFix || a.Fix != "" && a.Fix == h.Fix
			if a.Role != procedure.NoRole && one && a.labelsSame(h) && !a.same(h) {
				return h, a, true
			}
		}
	}
	return have, other, false
}

// replaceOrAdd amends the altitude with the same label, where there is just
// one such, or labels the unlabelled one of the same figure; a step-down fix
// or one more unlabelled altitude is added. What is there is not added again.
func replaceOrAdd(list []Altitude, a Altitude, add bool) []Altitude {
	at, n := -1, 0
	for i, have := range list {
		if have.same(a) && (have.Role == procedure.NoRole && a.Role != procedure.NoRole) {
			if list[i] = a; a.Meaning == 0 {
				list[i] = have.flownAs(a)
			}
			return list
		}
		if a.Instead && have.same(a) && a.SameLabel(have) {
			list[i] = a.flownAs(have)
			list[i].Instead = true // "faf is 7600", once the chart was held against it
			return list
		}
		if have.same(a) && (a.Role == procedure.NoRole || a.SameLabel(have) && a.Fix == have.Fix) {
			list[i] = a.flownAs(have)
			return list
		}
		if a.Role != procedure.NoRole && a.labelsSame(have) && (a.Fix == "" || have.Fix == "" || have.Fix == a.Fix) {
			at, n = i, n+1
		}
	}
	if n == 1 && !(add && (a.Role == procedure.StepDown || a.Role == procedure.InitialFix)) {
		if a.Fix == "" {
			a.Fix = list[at].Fix
		}
		if a.Meaning == 0 && a.same(list[at]) {
			a = list[at].flownAs(a)
		}
		if a.anyMinimum() {
			a.Role, a.Label = list[at].Role, list[at].Label
		}
		list[at] = a
		return list
	}
	return append(list, a)
}

// exchange puts a where gone stands, with its label where a has none.
func exchange(list []Altitude, gone, a Altitude) []Altitude {
	for i, have := range list {
		if !gone.matches(have) {
			continue
		}
		if a.Role == procedure.NoRole {
			a.Role, a.Label, a.Fix, a.From = have.Role, have.Label, have.Fix, have.From
		}
		list[i] = a
		bare := func(other Altitude) bool {
			return other.Role == procedure.NoRole && a.Role != procedure.NoRole && other.same(a)
		}
		return slices.DeleteFunc(list, bare) // the same altitude, before its label
	}
	return replaceOrAdd(list, a, true) // what was gone was never there
}

// flownAs is have flown as a says; unchanged where a says nothing of it.
func (a Altitude) flownAs(have Altitude) Altitude {
	if a.Meaning != 0 {
		have.Meaning, have.Upper = a.Meaning, a.Upper
	}
	return have
}

func (a Altitude) same(b Altitude) bool { return a.Feet() == b.Feet() && a.Height == b.Height }

// line is the line of minimums that the label of an altitude names; empty where it
// names none.
func (a Altitude) line() string {
	if a.Role != procedure.Circling && (!a.Role.Minimum() || a.Label == "" || a.anyMinimum()) {
		return ""
	}
	return chosenLine(phrase{role: a.Role, label: a.Label})
}

// anyMinimum says that an altitude is called a minimum, of no certain kind: "mins 5430".
func (a Altitude) anyMinimum() bool { return a.Role.Minimum() && a.Label == "minimums" }

// SameLabel says that two altitudes have the same label, at whichever fix.
func (a Altitude) SameLabel(b Altitude) bool { return a.Role == b.Role && a.Label == b.Label }

// labelsSame is SameLabel; a minimum of no certain kind has that of each other.
func (a Altitude) labelsSame(b Altitude) bool {
	return a.SameLabel(b) || a.Role.Minimum() && b.Role.Minimum() && (a.anyMinimum() || b.anyMinimum())
}

// whichMinimum is a figure that is said to be a minimum, and those that it may stand
// for, where they are several.
func (r Request) whichMinimum(a Altitude) (word string, names []string) {
	for _, have := range r.Altitudes {
		if have.Role.Minimum() {
			names = append(names, have.Name())
		}
	}
	if len(names) < 2 || r.holdsAll([]Altitude{a}) {
		return "", nil
	}
	return a.figure(), names
}

// matches says that a, as something to take away, means have: by the figure,
// by the label where one is given with it, or, for a label without a figure,
// by the label.
func (a Altitude) matches(have Altitude) bool {
	figure := have.same(a) || a.Value == 0
	label := have.Role == a.Role && (a.Label == "" || a.Label == have.Label) && (a.Fix == "" || a.Fix == have.Fix)
	return figure && (label || a.Role == procedure.NoRole)
}

func without(list, gone []Altitude) []Altitude {
	return slices.DeleteFunc(list, func(have Altitude) bool {
		return slices.ContainsFunc(gone, func(g Altitude) bool { return g.matches(have) })
	})
}

// Missing is the first altitude that next takes away and r has not.
func (r Request) Missing(next Request) (Altitude, bool) {
	for _, g := range next.Gone {
		if g.Value == 0 && r.Procedure == "" && next.Verb == Correct && len(next.Altitudes) == 1 {
			continue // "MDA 5460, not the DA", of which none was typed
		}
		if !slices.ContainsFunc(r.Altitudes, g.matches) {
			return g, true
		}
	}
	return Altitude{}, false
}

// Again is a route with the temperature or the minimum altitude of a follow-up.
func (r Request) Again(next Request) Request {
	r.amendTemperature(next)
	if len(next.Altitudes) == 1 {
		a := next.Altitudes[0]
		a.Role, a.Label, a.Fix = procedure.NoRole, "", ""
		r.Altitudes = []Altitude{a}
	}
	return r
}
