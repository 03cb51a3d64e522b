package strictyaml

import (
	"strings"
	"unicode/utf8"

	"firn/bot/spelling"
)

// Suggest picks the choice a word was probably meant to be, or none.
func Suggest(word string, choices []string) (string, bool) {
	w := strings.ToLower(strings.Map(plainSeparator, word))
	limit := max(1, min(3, utf8.RuneCountInString(w)/3))
	best, found := "", false
	least := limit + 1
	for _, c := range choices {
		lc := strings.ToLower(strings.Map(plainSeparator, c))
		d := spelling.Distance(w, lc, limit)
		if d > limit && len(w) >= 3 && (strings.HasPrefix(lc, w) || strings.HasPrefix(w, lc)) {
			d = limit // a part of the word, or the word with an ending
		}
		if d < least {
			best, least, found = c, d, true
		}
	}
	return best, found
}

func plainSeparator(r rune) rune {
	if r == '-' || r == ' ' || r == '/' {
		return '_'
	}
	return r
}
