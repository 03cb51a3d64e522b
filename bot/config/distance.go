package config

import (
	"strings"
	"unicode/utf8"
)

// longestWord bounds the work of one distance: nothing longer is a misspelt
// ident, name or key.
const longestWord = 64

// distance counts the insertions, deletions, substitutions and swaps of
// neighbours between two words (the Damerau-Levenshtein distance, optimal
// string alignment). It gives limit+1 for anything farther than limit and for
// words longer than longestWord.
func distance(a, b string, limit int) int {
	var ra, rb [longestWord]rune
	la, lb := runesInto(&ra, a), runesInto(&rb, b)
	if la < 0 || lb < 0 || la-lb > limit || lb-la > limit {
		return limit + 1
	}
	var rows [3][longestWord + 1]int
	before, prev, cur := &rows[0], &rows[1], &rows[2]
	for j := range lb + 1 {
		prev[j] = j
	}
	for i := 1; i <= la; i++ {
		cur[0] = i
		least := cur[0]
		for j := 1; j <= lb; j++ {
			cost := 1
			if ra[i-1] == rb[j-1] {
				cost = 0
			}
			d := min(prev[j]+1, cur[j-1]+1, prev[j-1]+cost)
			if i > 1 && j > 1 && ra[i-1] == rb[j-2] && ra[i-2] == rb[j-1] {
				d = min(d, before[j-2]+1)
			}
			cur[j] = d
			least = min(least, d)
		}
		// A swap reaches back two rows, so one row over the limit does not
		// end it yet; two in a row do. prev's least is at most one less.
		if least > limit+1 {
			return limit + 1
		}
		before, prev, cur = prev, cur, before
	}
	return min(prev[lb], limit+1)
}

// runesInto gives the word's length in runes, or -1 when it is too long.
func runesInto(to *[longestWord]rune, word string) int {
	if len(word) > longestWord*utf8.UTFMax {
		return -1
	}
	n := 0
	for _, r := range word {
		if n == longestWord {
			return -1
		}
		to[n] = r
		n++
	}
	return n
}

// suggest picks the choice a word was probably meant to be, or none.
func suggest(word string, choices []string) (string, bool) {
	w := strings.ToLower(strings.Map(plainSeparator, word))
	limit := max(1, min(3, utf8.RuneCountInString(w)/3))
	best, found := "", false
	least := limit + 1
	for _, c := range choices {
		lc := strings.ToLower(strings.Map(plainSeparator, c))
		d := distance(w, lc, limit)
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
