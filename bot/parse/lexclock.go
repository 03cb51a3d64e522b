package parse

import "strings"

// clockAt reads a time of day at i: 14:30, 1430z, 021430z, 1430L, 2pm; end is
// 0 where there is none. A clock that is not said is one that no clock shows.
func clockAt(text string, i int) (c Clock, end int) {
	n := digitsAt(text, i)
	j := i + n
	switch {
	case (n == 1 || n == 2) && j < len(text) && text[j] == ':' && digitsAt(text, j+1) == 2:
		j += 3
	case (n == 1 || n == 2) && j < len(text) && text[j]|0x20 == 'h' && digitsAt(text, j+1) == 2 && !isAlnumAt(text, j+3): // 14h30
		c, ok := clockDigits(text[i:j] + ":" + text[j+1:j+3])
		if !ok {
			return Clock{}, 0
		}
		return c, j + 3
	case n == 4 || n == 6:
		if j == len(text) || strings.IndexByte("zZlLhH", text[j]) < 0 {
			return c, 0
		}
	case n == 1 || n == 2:
		if j+1 >= len(text) || text[j+1]|0x20 != 'm' || text[j]|0x20 != 'a' && text[j]|0x20 != 'p' {
			return c, 0
		}
	default:
		return c, 0
	}
	digits := text[i:j]
	switch {
	case j+1 < len(text) && text[j+1]|0x20 == 'm' && (text[j]|0x20 == 'a' || text[j]|0x20 == 'p') && n <= 2:
		if c, ok := meridiem(digits, text[j]|0x20 == 'p'); ok && !isAlnumAt(text, j+2) {
			return c, j + 2
		}
		return Clock{}, 0
	case j < len(text) && strings.IndexByte("zZ", text[j]) >= 0:
		c.Zone = UTC
		j++
	case j < len(text) && strings.IndexByte("lLhH", text[j]) >= 0:
		j++
	}
	if isAlnumAt(text, j) {
		return Clock{}, 0
	}
	zone := c.Zone
	c, ok := clockDigits(digits)
	c.Zone = zone
	switch {
	case ok:
		return c, j
	case digits == "24:00" || digits == "2400":
		return Clock{Said: true, Zone: zone, ends: true}, j
	case n == 2 && text[i+n] == ':': // 25:10: no time, and nothing else
		return Clock{}, j
	}
	return Clock{}, 0
}

// sightEnd is where the visibility ends whose first digit stands before i:
// 1, 1/2, 1 1/2.
func sightEnd(text string, i int) int {
	fraction := func(i int) int {
		if i+1 < len(text) && text[i] == '/' && digitsAt(text, i+1) == 1 && !isAlnumAt(text, i+2) {
			return i + 2
		}
		return i
	}
	if end := fraction(i); end > i {
		return end
	}
	if i+1 < len(text) && text[i] == ' ' && digitsAt(text, i+1) == 1 {
		if end := fraction(i + 2); end > i+2 {
			return end
		}
	}
	return i
}

// fold takes the accents from the letters that people type with and without.
func fold(w string) string {
	for i := range len(w) {
		if w[i] >= 0x80 {
			return accents.Replace(w)
		}
	}
	return w
}

var accents = strings.NewReplacer("á", "a", "à", "a", "â", "a", "ä", "a", "å", "a", "Å", "a", "ã", "a", "ç", "c", "é", "e", "è", "e", "ê", "e", "ë", "e",
	"í", "i", "ì", "i", "î", "i", "ï", "i", "ñ", "n", "ó", "o", "ò", "o", "ô", "o", "ö", "o", "õ", "o", "ø", "o", "Ø", "o", "ú", "u", "ù", "u", "û", "u", "ü", "u",
	"ß", "ss", "æ", "ae", "Æ", "ae")
