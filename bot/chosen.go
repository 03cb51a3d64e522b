package bot

import (
	"slices"
	"strings"
	"unicode"

	"firn/bot/parse"
)

// mostChosen is the longest answer that is taken for a choice, in words: what is
// longer says more.
const mostChosen = 6

// chosen is the line that a message chooses of what the thread was asked; empty
// where it chooses none of it, or more than one. A figure in it must be the one
// that was asked about.
func (q question) chosen(text string) (line string) {
	if len(q.Choices) == 0 {
		return ""
	}
	words := strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) && r != '\'' })
	if len(words) > mostChosen {
		return ""
	}
	for _, w := range words {
		if strings.ContainsAny(w, "0123456789") && w != strings.ToLower(q.Figure) && !q.names(w) {
			return ""
		}
	}
	for _, c := range q.Choices {
		if !slices.ContainsFunc(words, func(w string) bool { return slices.Contains(c.Words, w) }) {
			continue
		}
		if line != "" {
			return ""
		}
		line = c.Line
	}
	return line
}

// names says that a word is one of a choice's.
func (q question) names(word string) bool {
	return slices.ContainsFunc(q.Choices, func(c parse.Choice) bool { return slices.Contains(c.Words, word) })
}
