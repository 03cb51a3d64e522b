package parse

import (
	"fmt"
	"slices"
	"strings"

	"firn/engine/procedure"
)

// flownAsIs is an altitude of a departure, an arrival or a vectoring chart, which
// the crew does not correct.
type flownAsIs struct {
	openProblem
	word  string
	asked bool // a question already, whatever stands beside it
}

// ofFlown stand between the word for such an altitude and its figure: "SID altitude 9000".
var ofFlown = []string{"at", "altitude", "alt", "procedure", "crossing", "restriction", "height", "level", "minimum", "min", "minimums", "minima", "mins", "of", "is", "to"}

// asPublished reads such an altitude, whose word ends before token next, with its
// fix: "STAR XOBEK 12000". Without a figure, or as one of several, it is a
// question; else what stands beside it decides.
func (rd *reading) asPublished(i, next int) int {
	last := next - 1
	for k := next; k < len(rd.tokens) && k < next+4; k++ {
		if rd.numberAt(k) && rd.altitudeAt(k) {
			last = k
			break
		}
		if w := rd.wordAt(k); !slices.Contains(ofFlown, w) && rd.means(k) != feetWord && (len(w) != 5 || !rd.cameFrom(k)) {
			break
		}
	}
	p := &Problem{Word: rd.typed(i, next-1), Text: sayNotCorrected(rd.typed(i, next-1)), Try: rd.instead(i, last, "")}
	asked := last < next || rd.oneOfSeveral(last)
	rd.flown = append(rd.flown, flownAsIs{openProblem{rd.tokens[i].start, p}, rd.typed(i, last), asked})
	if asked {
		rd.refuse(rd.tokens[i].start, p)
	} else {
		rd.apart(i)
	}
	if last++; rd.means(last) == feetWord {
		last++
	}
	return last
}

// besideApproach tells that such an altitude is not corrected, where the message has
// an approach or altitudes that say what they are; alone it is a question. A line to
// type instead holds no altitude without a label, which may be one of them.
func (rd *reading) besideApproach() {
	r := rd.req
	bare := func(a Altitude) bool { return a.Role == procedure.NoRole }
	approach := (r.Procedure != "" || len(r.Altitudes) > 0) && !slices.ContainsFunc(r.Altitudes, bare)
	for _, f := range rd.flown {
		if slices.ContainsFunc(r.Altitudes, bare) {
			f.problem.Try = ""
		}
		if f.asked {
			continue
		}
		if approach && r.Verb == Correct {
			r.NotUsed = append(r.NotUsed, f.word+" (not corrected)")
			continue
		}
		rd.refuse(f.at, f.problem)
	}
}

// climbAsked asks what a climb is of that is all there is: "climb to 9000" is the
// missed approach's only beside an approach, and else may be a departure's, or
// what a controller gives.
func (rd *reading) climbAsked() {
	r := rd.req
	if r.Verb != Correct || r.Procedure != "" || len(r.Altitudes) != 1 || r.Altitudes[0].Role != procedure.MissedHold || !r.HasTemperature {
		return
	}
	for i := range rd.items {
		it := &rd.items[i]
		if it.kind != labelItem || it.label != "" || !strings.HasPrefix(rd.wordAt(it.token), "climb") {
			continue
		}
		last := it.token + rd.tags[it.token].n - 1
		word := rd.typed(it.token, last)
		rd.refuse(rd.tokens[it.token].start, &Problem{Word: word, Text: sayClimb(word), Try: rd.instead(it.token, last, "missed")})
		return
	}
}

func sayLimitAlone(word string) string {
	return fmt.Sprintf("“%s” of which altitude? Write its figure with it, as in “FAF %s 7400”.", word, word)
}
