package parse

import (
	"fmt"
	"slices"

	"firn/engine/procedure"
)

// flownAsIs is an altitude of a departure, an arrival or a vectoring chart, which
// the crew does not correct.
type flownAsIs struct {
	openProblem
	word string
}

// asPublished reads such an altitude, whose word ends before token next, with its
// fix: "STAR XOBEK 12000". Without a figure, or as one of several, it is a
// question; else what stands beside it decides.
func (rd *reading) asPublished(i, next int) int {
	last := next - 1
	for k := next; k < len(rd.tokens) && k < next+3; k++ {
		if rd.numberAt(k) && rd.altitudeAt(k) {
			last = k
			break
		}
		if w := rd.wordAt(k); w != "at" && rd.means(k) != feetWord && (len(w) != 5 || !rd.cameFrom(k)) {
			break
		}
	}
	p := &Problem{Word: rd.typed(i, next-1), Text: sayNotCorrected(rd.typed(i, next-1)), Try: rd.instead(i, last, "")}
	if last < next || rd.oneOfSeveral(last) {
		rd.refuse(rd.tokens[i].start, p)
	} else {
		rd.flown = append(rd.flown, flownAsIs{openProblem{rd.tokens[i].start, p}, rd.typed(i, last)})
		rd.apart(i)
	}
	if last++; rd.means(last) == feetWord {
		last++
	}
	return last
}

// besideApproach tells that such an altitude is not corrected, where the message has
// an approach or altitudes that say what they are; alone it is a question.
func (rd *reading) besideApproach() {
	r := rd.req
	bare := func(a Altitude) bool { return a.Role == procedure.NoRole }
	approach := (r.Procedure != "" || len(r.Altitudes) > 0) && !slices.ContainsFunc(r.Altitudes, bare)
	for _, f := range rd.flown {
		if approach && r.Verb == Correct {
			r.NotUsed = append(r.NotUsed, f.word+" (not corrected)")
			continue
		}
		rd.refuse(f.at, f.problem)
	}
}

func sayLimitAlone(word string) string {
	return fmt.Sprintf("“%s” of which altitude? Write its figure with it, as in “FAF %s 7400”.", word, word)
}
