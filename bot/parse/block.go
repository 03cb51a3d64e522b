package parse

import (
	"slices"

	"firn/engine/procedure"
)

// bounds are two figures of one label that may be the bounds between which it is
// flown: the token of the first, and the second.
type bounds struct {
	token, last int
	high        Altitude
}

// within is the altitude that two figures bound: a unit or an "agl" behind the second
// is that of the first as well, where that has none. ok is false where they differ.
func within(low, high Altitude) (_ Altitude, ok bool) {
	if low.Bare && !low.Height {
		low.Bare, low.Metric, low.Height = high.Bare, high.Metric, high.Height
	}
	if low.Metric != high.Metric || low.Height != high.Height || low.Feet() > highest {
		return low, false
	}
	low.Value, low.Upper = min(low.Value, high.Value), max(low.Value, high.Value)
	low.Meaning, low.Bare = procedure.Between, low.Bare && high.Bare
	return low, true
}

// block keeps the second of two figures behind a label with nothing but a dash or
// a "to" between them, "IAF 9000-11000", which is asked about: it is no altitude
// of the next label.
func (rd *reading) block(first, last int, a Altitude) bool {
	low := first - 2
	if rd.meaning == procedure.Between || rd.change || low < 0 || !rd.numberAt(low) {
		return false
	}
	dash := func(k int) bool {
		return k >= 0 && k < len(rd.tokens) && rd.tokens[k].kind == sepToken && rd.tokens[k].tight && rd.text[rd.tokens[k].start] == '-'
	}
	switch w := rd.wordAt(first - 1); {
	case dash(first-1) && rd.tokens[first].tight && !dash(last+1) && !dash(low-1):
	case w == "to" || w == "til" || w == "bis":
	default:
		return false
	}
	n := len(rd.items) - 1
	for n > 0 && rd.items[n].kind == breakItem && rd.items[n].token == first-1 {
		n--
	}
	if n < 1 || rd.items[n].kind != numberItem || rd.items[n].token != low || rd.items[n].altitude != len(rd.req.Altitudes)-1 {
		return false
	}
	label := n - 1
	if rd.items[label].kind == fixItem && label > 0 {
		label--
	}
	changed := slices.ContainsFunc([]string{"changed", "raised", "lowered", "moved", "went"}, rd.wrote)
	if changed && rd.wordAt(first-1) == "to" {
		rd.exchanges = append(rd.exchanges, len(rd.req.Altitudes)) // "FAF changed 7400 to 7500"
		return false
	}
	if changed {
		return false
	}
	if it := rd.items[label]; it.kind != labelItem { // "9000-11000 IAF"
		if rd.rowBehind(last + 1) {
			rd.blocks = append(rd.blocks, bounds{low, last, a})
			return true
		}
		return false
	} else if it.elev || it.role.Minimum() || it.role == procedure.Circling {
		return false
	}
	rd.blocks = append(rd.blocks, bounds{low, last, a})
	rd.apart(first)
	return true
}

// rowBehind says that a label or a fix of what may have two bounds stands at i, and no figure
// behind it that would be its own.
func (rd *reading) rowBehind(i int) bool {
	if slices.Contains(atFix, rd.wordAt(i)) && rd.storedFix(rd.wordAt(i+1)) { // "7400-8200 at XIRTU"
		return true
	}
	if rd.means(i) != roleWord {
		return false
	}
	role := rd.tags[i].role
	return !role.Minimum() && role != procedure.Circling && !rd.figureFollows(i+rd.tags[i].n)
}

// blocksAsked asks which of two figures of one label is meant, or whether both
// bound it.
func (rd *reading) blocksAsked() {
	for _, b := range rd.blocks {
		at := slices.IndexFunc(rd.items, func(it item) bool { return it.kind == numberItem && it.token == b.token })
		if at < 0 || rd.items[at].altitude < 0 || rd.items[at].altitude >= len(rd.req.Altitudes) {
			continue
		}
		have := rd.req.Altitudes[rd.items[at].altitude]
		one, other := have.figure(), b.high.figure()
		p := &Problem{Word: rd.typed(b.token, b.last), Text: sayBlock(have.Name(), one, other), Either: true, Choices: two(have, have, b.high, false)}
		if both, ok := within(have, b.high); ok {
			p.Choices = append(p.Choices, Choice{Words: []string{"between", "block", "window", "range"}, Picks: []Pick{Both}, Aside: true, Next: &Request{Altitudes: []Altitude{both}, Instead: true}})
			p.Try = rd.instead(b.token, b.last, "between "+one+" and "+other)
		}
		rd.refuse(rd.tokens[b.token].start, p)
	}
}
