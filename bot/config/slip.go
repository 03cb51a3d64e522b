package config

import (
	"slices"
	"strings"
	"unicode/utf8"

	"firn/bot/spelling"
)

// Slip is the station that a word misspells: one letter wrong, missing, too
// many or two swapped, and no other station is as near. A whole ident of four
// letters that begins otherwise is another field's, which only looks alike, and
// so is whatever is farther off: nobody's line may be put in its place.
func (c *Config) Slip(word string) (ident string, ok bool) {
	upper, lower := strings.ToUpper(word), strings.ToLower(word)
	if n := utf8.RuneCountInString(word); n < 3 || n > spelling.LongestWord {
		return "", false
	}
	for i := range c.Stations {
		s := &c.Stations[i]
		near := spelling.Distance(upper, s.Ident, 1) <= 1 && (len(upper) != len(s.Ident) || upper[0] == s.Ident[0])
		if name := c.folded[i]; !near && name != "" {
			near = spelling.Distance(lower, name, 1) <= 1
		}
		switch {
		case near && ok:
			return "", false
		case near:
			ident, ok = s.Ident, true
		}
	}
	return c.slipOfList(word, ident, ok)
}

// slipOfList is Slip where the list of airports has fields that are as near.
func (c *Config) slipOfList(word, own string, ok bool) (string, bool) {
	near := slices.DeleteFunc(c.Airports.Slips(word), c.Configured)
	switch {
	case len(near) == 0:
		return own, ok
	case ok || len(near) > 1:
		return "", false
	}
	return near[0], true
}
