// Package spelling measures how far a mistyped word is from one that is
// known, for "did you mean".
package spelling

import "unicode/utf8"

// LongestWord bounds the work of one distance: nothing longer is a misspelt
// ident, name or key.
const LongestWord = 64

// Distance counts the insertions, deletions, substitutions and swaps of
// neighbours between two words (the Damerau-Levenshtein distance, optimal
// string alignment). It gives limit+1 for anything farther than limit and for
// words longer than LongestWord.
func Distance(a, b string, limit int) int {
	var ra, rb [LongestWord]rune
	la, lb := runesInto(&ra, a), runesInto(&rb, b)
	if la < 0 || lb < 0 || la-lb > limit || lb-la > limit {
		return limit + 1
	}
	var rows [3][LongestWord + 1]int
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
func runesInto(to *[LongestWord]rune, word string) int {
	if len(word) > LongestWord*utf8.UTFMax {
		return -1
	}
	n := 0
	for _, r := range word {
		if n == LongestWord {
			return -1
		}
		to[n] = r
		n++
	}
	return n
}
