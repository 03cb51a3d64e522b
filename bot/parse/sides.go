package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// sideWords stand before a label that an altitude lies on one side of, and has not:
// "9400 before the FAF". The first are before it on the way in, the second behind.
var sideWords = [2][]string{
	{"before", "outside", "prior", "ahead", "for", "foer", "utenfor", "vor", "ausserhalb", "avant", "antes", "fuera", "prima"},
	{"after", "inside", "behind", "beyond", "past", "leaving", "etter", "innenfor", "nach", "hinter", "innerhalb", "apres", "despues", "dentro", "dopo"},
}

// sideOf is where the words begin that say on which side of the label at i an altitude
// lies, and which it is; -1 where there are none.
func (rd *reading) sideOf(i int) (from, side int) {
	k := i - 1
	for k > 0 && slices.Contains([]string{"the", "of", "to", "dem", "den", "der", "le", "la", "l", "du", "de", "del", "el", "il", "des", "passing", "crossing"}, rd.wordAt(k)) {
		k--
	}
	word := fold(rd.wordAt(k))
	for side, list := range sideWords {
		switch {
		case k < 0 || word == "" || !slices.Contains(list, word):
		case word == "for" && strings.EqualFold(rd.typed(k, k), word), word == "vor" && k == i-1: // English, and the beacon
		default:
			return k, side
		}
	}
	return -1, 0
}

// besides reads the label at token i that an altitude beside it lies on one side of: of
// one without a label of its own it is asked which it has. It says whether the label is
// none of an altitude.
func (rd *reading) besides(i, next int) bool { return rd.besidesRole(i, next, rd.tags[i].role) }

// besidesFix is besides for a fix, by what the chart has it be.
func (rd *reading) besidesFix(i int) bool {
	role := procedure.NoRole
	if rd.roles != nil && rd.home != "" {
		role, _, _ = rd.roles(rd.home, strings.ToUpper(rd.wordAt(i)))
	}
	return rd.besidesRole(i, i+1, role)
}

func (rd *reading) besidesRole(i, next int, role procedure.Role) bool {
	from, side := rd.sideOf(i)
	if from < 0 || rd.req.Way.Kind == Vectors || rd.req.Way.Kind == VectorsInside {
		return false
	}
	n := len(rd.items)
	for n > 0 && rd.items[n-1].kind == breakItem && rd.items[n-1].token >= from { // the beacon, "vor dem FAF"
		n--
	}
	before, after := n > 0 && rd.items[n-1].kind == numberItem && rd.items[n-1].altitude >= 0, rd.figureNext(next)
	switch labelled := before && (rd.labelBefore() >= 0 || n > 1 && rd.items[n-2].kind == labelItem); {
	case labelled:
		return !after // "step 9400 before the FAF", and not "before the FAF 7400"
	case after && rd.labelWaits():
		return true // "step before the FAF 9400"
	case !before && !after:
		return false
	}
	last, own := next-1, ""
	if before && after {
		last, own = i-1, ","
	}
	at := rd.overSmall(next)
	if before {
		at = rd.items[n-1].token
	}
	p := &Problem{Word: rd.typed(from, next-1), Either: true}
	var names []string
	for _, label := range besideLabels(role, side) {
		names = append(names, label)
		p.Choices = append(p.Choices, Choice{Words: []string{strings.ToLower(label)}, Line: rd.instead(from, last, label+own)})
	}
	p.Text = sayBeside(rd.typed(at, at), p.Word, names)
	rd.refuse(rd.tokens[from].start, p)
	rd.apart(i)
	return !(before && after)
}

// besideLabels are the labels on one side of a role's, in flying order.
func besideLabels(role procedure.Role, side int) []string {
	order := []procedure.Role{procedure.InitialFix, procedure.IntermediateFix, procedure.FinalFix, procedure.DecisionAltitude, procedure.MinimumDescent, procedure.MissedHold}
	at := slices.Index(order, role)
	list := order[:max(at, 0)]
	if side > 0 {
		list = order[at+1:]
	}
	switch {
	case at < 0 && side == 0:
		list = order[:2]
	case at < 0:
		list = order[2:]
	}
	out := make([]string, 0, len(list)+1)
	for _, r := range list {
		out = append(out, r.Label())
	}
	return append(out, procedure.StepDown.Label())
}
