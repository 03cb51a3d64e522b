package parse

import "strings"

// numerals are numbers as people say and dictate them, with the spoken digits
// of ICAO Doc 4444, 12.2.4 (from memory), where they are words of their own.
var numerals = map[string]int{
	"zero": 0, "one": 1, "two": 2, "three": 3, "four": 4, "five": 5, "six": 6, "seven": 7, "eight": 8, "nine": 9,
	"tree": 3, "fower": 4, "fife": 5, "niner": 9,
	"ten": 10, "eleven": 11, "twelve": 12, "thirteen": 13, "fourteen": 14, "fifteen": 15, "sixteen": 16, "seventeen": 17,
	"eighteen": 18, "nineteen": 19, "twenty": 20, "thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "seventy": 70,
	"eighty": 80, "ninety": 90, "hundred": 100, "thousand": 1000, "tousand": 1000,
}

// inWords reads a number that begins at token i in words, "ten thousand" or
// "tree eight", over n tokens; none when it is no more than one word, which
// may be a name.
func inWords(tokens []token, i int) (value, n int) {
	words, group, last := 0, 0, 0
	for ; i < len(tokens) && tokens[i].kind == wordToken; i++ {
		for w := range strings.SplitSeq(tokens[i].word, "-") {
			v, ok := numerals[w]
			switch {
			case !ok || value+group > highest:
				return spoken(value+group, n, words)
			case v >= 100:
				value, group = value+max(group, 1)*v, 0
			case v < 10 && (last < 20 || last > 90 || v == 0): // digit by digit
				group = 10*group + v
			case v < 10: // thirty eight
				group += v
			default: // ten; twelve fifty
				group = 100*group + v
			}
			words, last = words+1, v
		}
		n++
	}
	return spoken(value+group, n, words)
}

func spoken(value, n, words int) (int, int) {
	if words < 2 {
		return 0, 0
	}
	return value, n
}
