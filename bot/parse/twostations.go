package parse

import "slices"

// stations asks about two stations where one is meant.
func (rd *reading) stations() {
	if !rd.twoStations || rd.req.Verb == Brief || rd.req.Verb == Log {
		rd.twoStations = false
		return
	}
	first := rd.req.Station
	if v := rd.req.Verb; v == Acknowledge || v == Snooze { // it is done for each
		rd.req.Stops, rd.twoStations = rd.stops, false
		return
	}
	for i, t := range rd.tokens {
		if t.kind != wordToken || rd.tags[i].n > 0 {
			continue
		}
		if ident, ok := rd.places.Place(rd.text[t.start:t.end]); ok && ident != first {
			p := &Problem{Word: rd.typed(i, i), Text: sayTwoStations(first, ident), Choices: between(first, ident)}
			if rd.ofFirst(i, first) {
				if p.Try = rd.offer(rd.around(t.start, t.end, "")); p.Try == "" {
					p.Try = rd.offer(rd.text[:t.start])
				}
			}
			rd.fail(t.start, p)
			return
		}
	}
	rd.fail(-1, &Problem{Text: sayTwoStations(first, "another"), Try: rd.offer(rd.text)})
}

// ofFirst says that the figures are the first station's, and not the second's, which is
// named at token i: some stand between the two, and neither is where one comes from, or
// whose altimeter setting is used.
func (rd *reading) ofFirst(i int, first string) bool {
	at, figures := -1, rd.pasted
	for k := range i {
		if ident, ok := rd.places.Place(rd.typed(k, k)); ok && ident == first && rd.tags[k].n == 0 {
			at, figures = k, false
		}
		figures = figures || rd.tokens[k].kind == numberToken || rd.means(k) == minusWord
	}
	for k := range rd.tokens {
		if p := rd.tags[k]; p.n > 0 && (p.meaning == remoteWord || p.meaning == measureWord && p.label == "qnh") {
			return false
		}
	}
	return figures && (at < 1 || !slices.Contains(awayFrom, rd.wordAt(at-1)))
}

// awayFrom stand before the station that one comes from.
var awayFrom = []string{"from", "dep", "departing", "departed", "leaving", "left", "off", "of", "ex", "ab", "von", "fra", "depuis", "de", "desde"}
