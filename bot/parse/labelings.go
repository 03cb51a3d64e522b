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
			if at = pick.Place(n); at < 0 {
				return nil
			}
		case at >= 0 && (m == roleWord || m == lineWord):
			if slices.ContainsFunc(out, func(l Labeling) bool { return l.At == at }) {
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

// placing is a label that is given to an altitude by where it stands among those of
// the message.
type placing struct {
	pick  Pick
	token int
	slot  Altitude
}

// placed takes the label at token i for the altitude that a word before it counts:
// "8200 7400 5340, second FAF, last is the DA".
func (rd *reading) placed(i int) bool {
	k := i - 1
	for k > 0 && (rd.tokens[k].kind == bindToken || rd.wordAt(k) == "is" || rd.wordAt(k) == "the" || rd.wordAt(k) == "one") {
		k--
	}
	if k < 0 || rd.tokens[k].kind != wordToken || len(rd.req.Altitudes) == 0 {
		return false
	}
	pick, words := picked(rd.tokens[k:])
	if words != 1 || pick < First || pick > Last {
		return false
	}
	p := rd.tags[i]
	label := p.label
	if p.meaning == onlyLine {
		label = p.of
	}
	rd.placings = append(rd.placings, placing{pick, i, Altitude{Role: p.role, Label: label}})
	rd.apart(i)
	return true
}

// labelPlaced gives the labels that count their altitudes to these.
func (rd *reading) labelPlaced() {
	for _, l := range rd.placings {
		all := rd.req.Altitudes
		at := l.pick.Place(len(all))
		if at < 0 || all[at].Role != procedure.NoRole {
			word := rd.typed(l.token, l.token+rd.tags[l.token].n-1)
			rd.refuse(rd.tokens[l.token].start, &Problem{Word: word, Text: sayLabelAlone(word)})
			continue
		}
		all[at].Role, all[at].Label = l.slot.Role, l.slot.Label
	}
}
