package parse

import (
	"slices"

	"firn/engine/procedure"
)

// Labeling is the label that a message gives to one of the altitudes before it.
type Labeling struct {
	At   int // from 0 on
	Slot Altitude
}

// Labelings reads "second FAF, third DA" of n altitudes; none where the message
// says anything else, or means one that is not there.
func (r *Reader) Labelings(text string, n int) []Labeling {
	s, p := clean(text)
	if p != nil || len(text) > MaxBytes {
		return nil
	}
	rd := reading{Reader: r, req: &Request{}, text: s, tokens: lex(s, lowerASCII(s))}
	rd.tag()
	var out []Labeling
	at := -1 // the altitude that waits for its label
	for i := 0; i < len(rd.tokens); i += max(rd.tags[i].n, 1) {
		t := rd.tokens[i]
		if t.kind == sepToken || t.kind == bindToken {
			continue
		}
		pick, words := NoPick, 0
		if t.kind == wordToken {
			pick, words = picked(rd.tokens[i:])
		}
		m := rd.means(i)
		switch {
		case at < 0 && words == 1 && pick >= First && pick <= Last:
			if at = int(pick - First); pick == Last {
				at = n - 1
			}
		case at >= 0 && (m == roleWord || m == lineWord):
			if at >= n || slices.ContainsFunc(out, func(l Labeling) bool { return l.At == at }) {
				return nil
			}
			p := rd.tags[i]
			out, at = append(out, Labeling{at, Altitude{Role: p.role, Label: p.label, Bare: true}}), -1
		case t.kind == wordToken && (rd.isSmall(i) || rd.covered(i) || m == andWord):
		default:
			return nil
		}
	}
	if at >= 0 || slices.ContainsFunc(out, func(l Labeling) bool { return l.Slot.Role == procedure.NoRole }) {
		return nil
	}
	return out
}
