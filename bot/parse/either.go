package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// twoOfOne asks which of two is the final approach fix, or the altitude of one
// line of minimums: there is one of each.
func (rd *reading) twoOfOne() {
	for i, a := range rd.req.Altitudes {
		if a.Role != procedure.FinalFix && !a.Role.Minimum() && a.Role != procedure.Circling {
			continue
		}
		for _, have := range rd.req.Altitudes[:i] {
			if have.SameLabel(a) && !a.same(have) {
				slot := have
				slot.Value, slot.Bare, slot.Metric, slot.Height = 0, true, false, false
				rd.refuse(0, &Problem{Word: rd.labelTyped(i), Text: TwoOf(have.Name(), have.figure(), a.figure()), Either: true, Slot: slot, Choices: two(slot, have, a, false)})
				rd.req.Altitudes = slices.Delete(slices.Clone(rd.req.Altitudes), i, i+1)
				return
			}
		}
	}
}

// twiceAsked asks about an altitude that is typed again beside a line of minimums,
// "but the 5340 is vnav, and not for us": it may be that line's.
func (rd *reading) twiceAsked() {
	for i, a := range rd.req.Altitudes {
		for _, have := range rd.req.Altitudes[:i] {
			if len(rd.req.Without) == 0 && rd.req.Minima == "" || a.Role != procedure.NoRole || !a.same(have) {
				continue
			}
			yes, no := Request{Altitudes: []Altitude{have}}, Request{Gone: []Altitude{have}}
			rd.refuse(0, &Problem{
				Word: a.figure(), Text: sayStandsTwice(a.figure()), Either: true,
				Choices: []Choice{{Words: []string{"yes"}, Next: &yes}, {Words: []string{"no"}, Picks: []Pick{Drop}, Next: &no}},
			})
			rd.req.Altitudes, rd.req.Minima = slices.Delete(slices.Clone(rd.req.Altitudes), i, i+1), ""
			return
		}
	}
}

// altitudePairs are the places of two altitudes with nothing but breaks between them.
func (rd *reading) altitudePairs(yield func(before, k int) bool) {
	for k := 1; k < len(rd.items); k++ {
		before := k - 1
		for before > 0 && rd.items[before].kind == breakItem {
			before--
		}
		first, it := &rd.items[before], &rd.items[k]
		if it.kind != numberItem || first.kind != numberItem || first.altitude < 0 || it.altitude <= first.altitude || it.altitude >= len(rd.req.Altitudes) {
			continue
		}
		if !yield(before, k) {
			return
		}
	}
}

// eitherOf asks which of two altitudes a label has: "FAF 8200 or 8300", "DA 5340,
// maybe 5430", "IF 8200 at 9000".
func (rd *reading) eitherOf() {
	for before, k := range rd.altitudePairs {
		first, it := rd.items[before], rd.items[k]
		labelled := first.altitude
		have, other := rd.req.Altitudes[labelled], rd.req.Altitudes[it.altitude]
		if other.Role != procedure.NoRole && have.Role == procedure.NoRole { // "8200 or 8300 FAF"
			have.Role, have.Label, have.Fix, other.Role = other.Role, other.Label, other.Fix, procedure.NoRole
			labelled = it.altitude
		}
		slashed := have.Role != procedure.NoRole && rd.slashedPair(before, k)
		at := have.Role != procedure.NoRole && labelled == first.altitude && rd.atBetween(first.token, it.token)
		if other.Role != procedure.NoRole || have.same(other) || !slashed && !at && !rd.orBetween(first.token, it.token) {
			continue
		}
		if start := rd.tokens[it.token].start; have.Role == procedure.NoRole { // "8200 or 8300"
			rd.refuse(start, &Problem{Word: other.figure(), Text: sayEither(have.figure(), other.figure()), Either: true, Choices: eitherFigure(have, other)})
			rd.req.Altitudes = slices.Delete(slices.Clone(rd.req.Altitudes), first.altitude, it.altitude+1)
			return
		} else if slashed && (have.Role == procedure.InitialFix || have.Role == procedure.StepDown) {
			rd.refuse(start, &Problem{Word: other.figure(), Text: sayBoth(have.Name(), have.figure(), other.figure()), Either: true, Try: rd.instead(it.token, it.token, have.Name()+" "+rd.typed(it.token, it.token))})
			rd.req.Altitudes = slices.Delete(slices.Clone(rd.req.Altitudes), it.altitude, it.altitude+1)
			return
		}
		slot := have
		slot.Value, slot.Bare, slot.Metric, slot.Height = 0, true, false, false
		rd.refuse(rd.tokens[it.token].start, &Problem{Word: rd.labelTyped(labelled), Text: TwoOf(have.Name(), have.figure(), other.figure()), Either: true, Slot: slot, Choices: two(slot, have, other, false)})
		rd.req.Altitudes = slices.Delete(slices.Clone(rd.req.Altitudes), it.altitude, it.altitude+1)
		return
	}
}

// atBetween says that nothing but an "at" stands between two figures: "IF 8200 at
// 9000", of a fix that is crossed at another altitude than its own.
func (rd *reading) atBetween(from, to int) bool {
	at := false
	for k := from + 1; k < to; k++ {
		w := rd.wordAt(k)
		at = at || w == "at"
		if w != "" && w != "crossed" && w != "cross" && !rd.isSmall(k) && !rd.covered(k) && rd.means(k) != feetWord {
			return false
		}
	}
	return at
}

// slashedPair says that two figures, and no third, stand at items a and b with
// nothing but a slash between: "FAF 8200/8300" may be a list, or a doubt.
func (rd *reading) slashedPair(a, b int) bool {
	i, j := rd.items[a].token, rd.items[b].token
	slash := func(k int) bool {
		return k > 0 && k < len(rd.tokens) && rd.tokens[k].kind == sepToken && rd.tokens[k].tight && rd.text[rd.tokens[k].start] == '/'
	}
	return j == i+2 && slash(i+1) && rd.tokens[j].tight && !slash(i-1) && !slash(j+1)
}

// orBetween says that nothing but an "or", a "maybe", a "no", a "scratch that" or an
// arrow stands between two tokens. An arrow down leads along the approach, one up to
// what the first is changed to, or corrected.
func (rd *reading) orBetween(from, to int) bool {
	found := rd.tokens[to].value > rd.tokens[from].value && strings.Contains(rd.text[rd.tokens[from].end:rd.tokens[to].start], "->")
	for k := from + 1; k < to; k++ {
		switch w := rd.wordAt(k); {
		case rd.means(k) == forgetWord || rd.means(k) == undoWord:
			found = true
			k += rd.tags[k].n - 1
		case rd.means(k) == orWord, rd.means(k) == noWord, slices.Contains(doubting, w), w == "might", w == "could", rd.means(k) == changeWord && rd.tags[k].label == "apology":
			found = true
		case w != "" && !rd.isSmall(k) && !rd.covered(k) && rd.means(k) != feetWord:
			return false
		}
	}
	return found
}

// doubting are the words of who is not sure of the figure before, or the next.
var doubting = []string{"maybe", "perhaps", "possibly", "kanskje", "muligens", "vielleicht", "peut-etre", "quiza", "quizas", "wait", "oops", "whoops"}

// labelTyped is the label of an altitude of the request as it was typed; empty
// where none was.
func (rd *reading) labelTyped(altitude int) string {
	for _, it := range rd.items {
		if it.kind != labelItem || it.boundTo < 0 || it.boundTo >= len(rd.items) || rd.items[it.boundTo].altitude != altitude {
			continue
		}
		return rd.typed(it.token, it.token+max(rd.tags[it.token].n, 1)-1)
	}
	return ""
}

// ownFigures asks about a figure that is said to be the corrected one of the altitude
// before it: "FAF 7400, I get 8000", "7400 (8000 corrected)".
func (rd *reading) ownFigures() {
	last := -1
	for k, it := range rd.items { // "is 8000 right for FAF 7400"
		if it.kind != numberItem || it.altitude < 0 || it.altitude >= len(rd.req.Altitudes) {
			continue
		}
		if last >= 0 {
			first := rd.items[last]
			own, of := rd.req.Altitudes[first.altitude], rd.req.Altitudes[it.altitude]
			if own.Role == procedure.NoRole && own.Feet() > of.Feet() && rd.ownBefore(first.token, it.token) {
				rd.ownFigure(first, own, of)
				return
			}
		}
		last = k
	}
	for before, k := range rd.altitudePairs {
		first, it := rd.items[before], rd.items[k]
		have, own := rd.req.Altitudes[first.altitude], rd.req.Altitudes[it.altitude]
		if own.Role != procedure.NoRole || own.Feet() <= have.Feet() || !rd.ownBetween(first.token, it.token) {
			continue
		}
		rd.ownFigure(it, own, have)
		return
	}
}

// ownFigure asks whether the figure at an item is another published one, or somebody's own
// for an altitude, and leaves it out.
func (rd *reading) ownFigure(it item, own, of Altitude) {
	rd.refuse(rd.tokens[it.token].start, &Problem{Word: own.figure(), Text: sayTwoFigures(of.figure(), own.figure()), Either: true, Choices: []Choice{
		{Words: []string{"published", "another", "chart", "charted", "other", "one"}, Next: &Request{Altitudes: []Altitude{own}}},
		{Words: []string{"own", "mine", "my", "ours", "corrected"}, Next: &Request{}},
	}})
	rd.req.Altitudes = slices.Delete(slices.Clone(rd.req.Altitudes), it.altitude, it.altitude+1)
}

// ownBefore says that the words before the figure at from, or behind it, make it one's
// own for the figure at to: "I get 8000 for 7400", "is 8000 right for FAF 7400".
func (rd *reading) ownBefore(from, to int) bool {
	own, is := false, rd.wordAt(from-1) == "is"
	for n := 1; n <= 3 && from-n >= 0; n++ {
		own = own || rd.longest(ownFigures, from-n) == n
	}
	stands := false
	for k := from + 1; k < to; k++ {
		switch w := rd.wordAt(k); {
		case w == "for":
			stands = true
		case w == "right" || w == "correct":
			own = own || is
		case rd.means(k) != roleWord && rd.means(k) != feetWord && !rd.isSmall(k) && !rd.covered(k):
			return false
		}
	}
	return own && stands
}

// ownBetween says that nothing but words for a figure of one's own stand between two
// tokens, or behind the second where it stands in brackets.
func (rd *reading) ownBetween(from, to int) bool {
	found, apart := false, false
	for k := from + 1; k < to; k++ {
		switch n := rd.longest(ownFigures, k); {
		case n > 0:
			found = found || n > 1 || !apart || rd.means(k) == verbWord // "7400 corrected, 8200"
			k += n - 1
		case rd.tokens[k].kind == sepToken:
			apart = true
		case !rd.isSmall(k) && !rd.covered(k) && rd.means(k) != feetWord:
			return false
		}
	}
	return found || rd.tokens[to].aside && rd.wordAt(to+1) == "corrected"
}

// ownFigures are words before the figure that somebody has worked out.
var ownFigures = wordList("i get", "i got", "we get", "we got", "i have", "we have", "i make it", "we make it", "corrected", "corrected to", "corrected is", "corrected it is", "corrects to", "becomes", "check", "checks", "crosscheck", "cross check", "xcheck", "x check", "double check", "verify",
	"ich komme auf", "wir kommen auf", "korrigiert", "jeg far", "vi far", "korrigert", "corrige", "je trouve", "on trouve", "corregido", "me da", "nos da")
