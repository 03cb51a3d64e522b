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

// letterAlone takes the letter of an approach where nothing else was said but
// small words: "the y", "zulu".
func (rd *reading) letterAlone() bool {
	letter := ""
	for i := 0; i < len(rd.tokens); i += max(rd.tags[i].n, 1) {
		switch t := rd.tokens[i]; {
		case t.kind == numberToken:
			return false
		case t.kind != wordToken || rd.tags[i].n > 1:
		case rd.means(i) == letterWord:
			letter += rd.tags[i].label
		case t.word == "zulu":
			letter += "z"
		case len(t.word) == 1 && strings.Contains("uvwxyz", t.word):
			if t.word == "y" && len(rd.tokens) == 1 {
				return false // a yes, until a procedure is asked about
			}
			if rd.chatted(i) {
				continue
			}
			letter += t.word
		}
	}
	if len(letter) != 1 {
		return false
	}
	rd.req.Procedure = letter
	rd.unread, rd.agreed = nil, false
	return true
}

// chatted says that the letter at i is a word as people type it: "u there?",
// "y not", "ok y/n".
func (rd *reading) chatted(i int) bool {
	switch rd.tokens[i].word {
	case "u":
		return len(rd.tokens) > 1 && rd.wordAt(i-1) != "the"
	case "y":
		next := i + 1
		if next < len(rd.tokens) && rd.tokens[next].kind == sepToken {
			next++
		}
		return rd.means(next) == notWord || rd.wordAt(next) == "n"
	}
	return false
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
