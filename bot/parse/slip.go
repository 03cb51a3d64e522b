package parse

import "firn/bot/spelling"

// shortestSlip is the length from which on a misspelt word is read as the word
// that it looks like: shorter ones look like too many.
const shortestSlip = 6

// slips are the single words of the tables by their length.
var slips = func() map[int][]*phrase {
	m := map[int][]*phrase{}
	for k := range vocabulary {
		if p := &vocabulary[k]; len(p.words) == 1 && len(p.words[0]) >= shortestSlip-2 {
			m[len(p.words[0])] = append(m[len(p.words[0])], p)
		}
	}
	return m
}()

// slipOf is what a long word misspells beyond doubt, where nothing hangs on
// it but that it is read: a small word, a unit, the name of a measurement, a
// day. What names an altitude or an approach, or changes what stands beside
// it, is asked about. It is nil where another word looks as near.
func slipOf(word string) *phrase {
	if len(word) < shortestSlip || !letters(word) {
		return nil
	}
	limit := 1
	if len(word) >= 9 {
		limit = 2
	}
	var best *phrase
	bestFar, unsure := limit+1, false
	for n := len(word) - limit; n <= len(word)+limit; n++ {
		for _, p := range slips[n] {
			far := spelling.Distance(word, p.words[0], limit)
			switch {
			case far > limit || far > bestFar:
			case far < bestFar:
				best, bestFar, unsure = p, far, false
			case best.meaning == small && mayBeMisspelt(p):
				best = p
			case p.meaning == small && mayBeMisspelt(best):
			case best.meaning != p.meaning || best.label != p.label && p.meaning != small:
				unsure = true
			}
		}
	}
	if best == nil || unsure || !mayBeMisspelt(best) {
		return nil
	}
	return best
}

// mayBeMisspelt says that a word may be read though it is misspelt.
func mayBeMisspelt(p *phrase) bool {
	switch p.meaning {
	case small, thanks, celsiusWord, fahrenheitWord, temperatureWord, approachNoun, measureWord, dayWord, weekdayWord, forecastWord, arriveWord, coldWord, pastWord, elevationWord, latestWord:
		return true
	}
	return false
}
