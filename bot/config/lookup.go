package config

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"firn/bot/spelling"
)

// Station finds a station by its ident, in upper or lower case: one of the
// file's own, else a field of the list of airports.
func (c *Config) Station(ident string) (*Station, bool) {
	ident = strings.ToUpper(ident)
	if i, ok := c.byIdent[ident]; ok {
		return c.alsoWatched(&c.Stations[i]), true
	}
	found, ok := c.Airports.Find(ident)
	if !ok {
		return nil, false
	}
	a := found // only what is found has to outlive this
	return c.alsoWatched(c.listed(&a)), true
}

// Named finds a station whose name is this single word, in upper or lower
// case. A name that two stations share finds neither.
func (c *Config) Named(word string) (*Station, bool) {
	i, ok := c.byName[strings.ToLower(word)]
	if !ok || i < 0 {
		return nil, false
	}
	return &c.Stations[i], true
}

// Find gives at most n stations that somebody may mean who has typed a part: the
// one of this ident, those whose ident or name begins with it, then those that hold it, then the
// nearest; of each the file's own first. With nothing typed it is the first ones
// of the file.
func (c *Config) Find(typed string, n int) []*Station {
	typed = strings.TrimSpace(typed)
	upper, lower := strings.ToUpper(typed), strings.ToLower(typed)
	var begin, hold []*Station
	exact, whole := c.Station(typed)
	if whole {
		begin = append(begin, exact)
	}
	for i := range c.Stations {
		s := &c.Stations[i]
		switch {
		case whole && s.Ident == exact.Ident:
		case strings.HasPrefix(s.Ident, upper) || strings.HasPrefix(c.folded[i], lower):
			begin = append(begin, s)
		case strings.Contains(s.Ident, upper) || strings.Contains(c.folded[i], lower):
			hold = append(hold, s)
		}
		if len(begin) >= n {
			break
		}
	}
	out := append(begin, hold...)
	for _, ident := range c.Airports.Search(typed, n) {
		if len(out) < n && !c.Configured(ident) && !(whole && ident == exact.Ident) {
			s, _ := c.Station(ident)
			out = append(out, s)
		}
	}
	if len(out) == 0 {
		for _, ident := range c.Nearest(typed, n) {
			if s, ok := c.Station(ident); ok {
				out = append(out, s)
			}
		}
	}
	return out[:min(n, len(out))]
}

// Nearest gives the idents of at most n stations whose ident or name is close
// to the word, the closest first: those of the list of airports, which are one letter away,
// before those of the file that are farther.
func (c *Config) Nearest(word string, n int) []string {
	size := utf8.RuneCountInString(word)
	if n <= 0 || size < 2 || size > spelling.LongestWord {
		return nil
	}
	upper, lower := strings.ToUpper(word), strings.ToLower(word)
	limit := max(1, min(3, size/2))
	type near struct {
		ident string
		far   int // edits, doubled; the name's beginning counts as one
		start int // 0 when the first letter is right
	}
	var found []near
	for i := range c.Stations {
		ident, name := c.Stations[i].Ident, c.folded[i]
		far := 2 * spelling.Distance(upper, ident, limit)
		if name != "" {
			far = min(far, 2*spelling.Distance(lower, name, limit))
			if size >= 3 && strings.HasPrefix(name, lower) {
				far = min(far, 1)
			}
		}
		if far > 2*limit {
			continue
		}
		start := 1
		if ident[0] == upper[0] || strings.HasPrefix(name, lower[:1]) {
			start = 0
		}
		found = append(found, near{ident, far, start})
	}
	slices.SortFunc(found, func(a, b near) int {
		return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.start, b.start), cmp.Compare(a.ident, b.ident))
	})
	var idents, farther []string
	for _, f := range found {
		if f.far <= 2 {
			idents = append(idents, f.ident)
		} else {
			farther = append(farther, f.ident)
		}
	}
	for _, ident := range c.Airports.Misspelt(word, n) {
		if !c.Configured(ident) {
			idents = append(idents, ident)
		}
	}
	idents = append(idents, farther...)
	return idents[:min(n, len(idents))]
}

// index prepares the look-ups.
func (c *Config) index() {
	c.byIdent = make(map[string]int, len(c.Stations))
	c.byName = make(map[string]int, len(c.Stations))
	c.folded = make([]string, len(c.Stations))
	for i := range c.Stations {
		s := &c.Stations[i]
		c.byIdent[s.Ident] = i
		name := strings.ToLower(s.Name)
		c.folded[i] = name
		if name == "" || strings.ContainsAny(name, " \u00a0") {
			continue
		}
		if _, taken := c.byName[name]; taken {
			i = -1
		}
		c.byName[name] = i
	}
}
