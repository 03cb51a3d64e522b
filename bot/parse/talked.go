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
