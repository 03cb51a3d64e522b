package parse

import (
	"slices"
	"strings"
)

// onlyAsks says that a word for yes stands in a question: "do I need to correct
// this at all", "is that right".
func (rd *reading) onlyAsks() bool {
	asks := slices.Contains([]string{"do", "does", "is", "are", "should", "can", "could", "must", "how", "what", "which", "when", "why"}, rd.wordAt(0))
	for i, t := range rd.tokens {
		switch {
		case rd.means(i) == yesWord && !slices.Contains([]string{"correct", "right", "sure"}, t.word):
			return false
		case t.word == "need" || t.word == "needs" || t.word == "must" || t.word == "should":
			asks = true
		}
	}
	return asks
}

// asksOfLine reads "is that with lpv" and "why is lnav out" as questions about the answer:
// the line is neither chosen nor taken away.
func (rd *reading) asksOfLine() {
	r := rd.req
	asks := slices.Contains([]string{"is", "isn't", "isnt", "are", "was", "does", "er", "ist", "est", "es"}, rd.wordAt(0)) || rd.doubtsLine()
	why := rd.hasVerb && rd.lead == Why || rd.anyVerb && rd.verb == Why
	if !why && !asks || rd.place() || r.HasTemperature || len(r.Altitudes) > 0 || r.Procedure != "" || r.Minima == "" && len(r.Without) == 0 || len(rd.unread) > 0 && !why {
		return
	}
	r.Minima, r.Without = "", nil
	rd.repeated = asks
}

// doubtsLine says that the message asks whether a line is out, by what stands behind the
// line: "lnav/vnav not usable?". "no lnav?" takes it away.
func (rd *reading) doubtsLine() bool {
	if !strings.HasSuffix(strings.TrimSpace(rd.text), "?") || rd.req.Minima != "" {
		return false
	}
	i := rd.first(notLineWord)
	return i >= 0 && rd.longest(goneBefore, i) == 0
}

// arrow says that an arrow, and nothing else, leads from one figure of the message
// to the next.
func (rd *reading) arrow() bool {
	from := -1
	for _, it := range rd.items {
		if it.kind != numberItem {
			continue
		}
		if from >= 0 {
			switch strings.TrimSpace(rd.text[rd.tokens[from].end:rd.tokens[it.token].start]) {
			case "->", "-->", "=>", ">":
				return true
			}
			return false
		}
		from = it.token
	}
	return false
}

// takenUp says that what stands before token i is flown instead of what was taken away.
func (rd *reading) takenUp(i int) bool {
	for k := rd.goneFrom; k+1 < i; k++ {
		if rd.tokens[k].kind == sepToken && slices.Contains(takesUp, rd.wordAt(k+1)) {
			return true
		}
	}
	return false
}

// takesUp begin what is flown instead of what was taken away: "don't fly the DA, use the
// MDA 5460".
var takesUp = []string{"fly", "use", "take", "just", "only", "but", "rather", "flieg", "nimm", "bruk", "prends", "usa"}

// OtherRunway says that an answer names another runway, and not by its number.
func (a Answer) OtherRunway() bool {
	return a.Pick == Other && len(a.Figures) == 0 && slices.ContainsFunc(a.Words, func(w string) bool {
		return slices.Contains([]string{"runway", "rwy", "end", "bane", "rullebane", "piste", "bahn", "pista"}, w)
	})
}

// RemovesNotam says that an answer takes a NOTAM away, and nothing else: "remove that
// NOTAM".
func (a Answer) RemovesNotam() bool {
	notam := func(w string) bool { return w == "notam" || w == "notams" }
	return a.Pick == Drop && !a.Else && !a.Asks && len(a.Figures) == 0 && slices.ContainsFunc(a.Words, notam) &&
		!slices.ContainsFunc(a.Weighty, func(w string) bool { return !notam(w) })
}
