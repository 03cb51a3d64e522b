package airports

import (
	"cmp"
	"slices"
	"strings"
	"unicode/utf8"

	"firn/bot/spelling"
	"firn/engine"
)

// Search gives the idents of at most n fields that somebody may mean who has
// typed a part: those whose ident begins with it, then those with a name of
// which a word does, then those whose ident or name holds it.
func (d *Directory) Search(typed string, n int) []string {
	typed = strings.TrimSpace(typed)
	if d == nil || n <= 0 || typed == "" || len(typed) > spelling.LongestWord {
		return nil
	}
	upper, lower := strings.ToUpper(typed), strings.ToLower(typed)
	var begin, word, hold []string
	if from, ok := d.starting(upper); ok {
		for i := from; i < len(d.rows) && len(begin) < n && strings.HasPrefix(d.rows[i].is(), upper); i++ {
			begin = append(begin, d.rows[i].is())
		}
	}
	for i := range d.rows {
		if len(begin)+len(word) >= n {
			break
		}
		r := &d.rows[i]
		ident := r.is()
		if strings.HasPrefix(ident, upper) {
			continue
		}
		name := d.foldedOf(r)
		switch at := strings.Index(name, lower); {
		case at == 0 || at > 0 && !letter(name[at-1]):
			word = append(word, ident)
		case len(hold) < n && (at > 0 || strings.Contains(ident, upper)):
			hold = append(hold, ident)
		}
	}
	out := slices.Concat(begin, word, hold)
	return out[:min(n, len(out))]
}

// starting is the first row whose ident may begin with a prefix.
func (d *Directory) starting(prefix string) (int, bool) {
	if len(prefix) > 4 {
		return 0, false
	}
	i, _ := d.search(prefix)
	return i, i < len(d.rows)
}

func letter(c byte) bool { return c >= 'a' && c <= 'z' || c >= '0' && c <= '9' || c >= utf8.RuneSelf }

// shortestName is the shortest word that is looked for in names with a letter
// wrong: too many are near a shorter one. Ours.
const shortestName = 5

// Misspelt gives the idents of at most n fields whose ident is one letter away
// from a word, or whose name has a word that is, the likeliest first. Idents of
// another first letter come last: they are far away on the map too.
func (d *Directory) Misspelt(typed string, n int) []string {
	size := utf8.RuneCountInString(typed)
	if d == nil || n <= 0 || size < 3 || size > spelling.LongestWord || strings.ContainsAny(typed, " ,/") {
		return nil
	}
	type near struct {
		ident string
		far   int
	}
	upper, lower := strings.ToUpper(typed), strings.ToLower(typed)
	var found []near
	for _, ident := range d.oneAway(upper) {
		far := 2
		if ident[0] != upper[0] {
			far = 4
		}
		found = append(found, near{ident, far})
	}
	if size >= shortestName {
		limit := 1
		if size >= 8 {
			limit = 2
		}
		for i := range d.rows {
			r := &d.rows[i]
			if far := nearestWord(d.foldedOf(r), lower, limit); far <= limit {
				found = append(found, near{r.is(), far})
			}
		}
	}
	slices.SortStableFunc(found, func(a, b near) int { return cmp.Or(cmp.Compare(a.far, b.far), cmp.Compare(a.ident, b.ident)) })
	var out []string
	for _, f := range found {
		if len(out) == n {
			break
		}
		if !slices.Contains(out, f.ident) {
			out = append(out, f.ident)
		}
	}
	return out
}

// Slips gives the fields that a word may be a slip of: their ident is one letter
// away and begins alike, where both have four letters, or a word of their name is
// it, or one letter away. Two are enough to know that it is not clear.
func (d *Directory) Slips(word string) (idents []string) {
	size := utf8.RuneCountInString(word)
	if d == nil || size < 3 || len(word) > spelling.LongestWord || strings.ContainsAny(word, " ,/") {
		return nil
	}
	upper, lower := strings.ToUpper(word), strings.ToLower(word)
	for _, ident := range d.oneAway(upper) {
		if len(upper) != len(ident) || upper[0] == ident[0] {
			idents = append(idents, ident)
		}
	}
	if size < shortestName {
		return idents
	}
	for i := range d.rows {
		r := &d.rows[i]
		if nearestWord(d.foldedOf(r), lower, 1) <= 1 && !slices.Contains(idents, r.is()) {
			if idents = append(idents, r.is()); len(idents) > 1 {
				break
			}
		}
	}
	return idents
}

// nearestWord is how far the nearest word of a name is that begins alike; more
// than limit where none is within it.
func nearestWord(name, word string, limit int) int {
	best := limit + 1
	for at := 0; at < len(name); {
		end := at
		for end < len(name) && letter(name[end]) {
			end++
		}
		if w := name[at:end]; w != "" && w[0] == word[0] && len(w) <= spelling.LongestWord && best > 0 {
			best = min(best, spelling.Distance(word, w, limit))
		}
		at = end + 1
	}
	return best
}

// oneAway are the idents one letter away: one wrong, missing, too many, or two
// swapped. They are looked up, not compared: there are some three hundred.
func (d *Directory) oneAway(word string) (idents []string) {
	if len(word) > 5 {
		return nil
	}
	const alphabet = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
	try := func(s string) {
		if _, ok := d.index(s); ok && s != word && !slices.Contains(idents, s) {
			idents = append(idents, s)
		}
	}
	for i := range len(word) + 1 {
		if i < len(word) {
			try(word[:i] + word[i+1:])
			for _, c := range []byte(alphabet) {
				try(word[:i] + string(rune(c)) + word[i+1:])
			}
		}
		if i+1 < len(word) {
			try(word[:i] + word[i+1:i+2] + word[i:i+1] + word[i+2:])
		}
		for _, c := range []byte(alphabet) {
			try(word[:i] + string(rune(c)) + word[i:])
		}
	}
	return idents
}

// Away is a field and how far it is.
type Away struct {
	Airport
	Miles float64 // nautical
}

// Near gives the fields around a place, the nearest first: at most n, and none
// farther than within nautical miles.
func (d *Directory) Near(lat, lon, within float64, n int) []Away {
	return d.around(lat, lon, within, n, func(*row) bool { return true })
}

// Cold gives the restricted fields around a place that are restricted at a
// temperature, the nearest first, at most n; more is how many there are
// besides.
func (d *Directory) Cold(at engine.Celsius, lat, lon, within float64, n int) (found []Away, more int) {
	found = d.around(lat, lon, within, d.Len(), func(r *row) bool {
		return binds(r, at)
	})
	if len(found) > n {
		return found[:n], len(found) - n
	}
	return found, 0
}

// binds says that a field is restricted at a temperature: at or below its own.
// What was converted from Fahrenheit may be off by the last digit.
func binds(r *row, at engine.Celsius) bool {
	return r.flags&restricted != 0 && float64(at)*10 <= float64(r.tenths)+1e-6
}

// ColdAnywhere is Cold of all, in the order of idents.
func (d *Directory) ColdAnywhere(at engine.Celsius, n int) (found []Airport, more int) {
	for i := range d.Len() {
		r := &d.rows[i]
		switch {
		case !binds(r, at):
		case len(found) < n:
			found = append(found, d.at(i))
		default:
			more++
		}
	}
	return found, more
}

func (d *Directory) around(lat, lon, within float64, n int, wanted func(*row) bool) []Away {
	type hit struct {
		i     int
		miles float64
	}
	var hits []hit
	for i := range d.Len() {
		r := &d.rows[i]
		if r.flags&hasPlace == 0 || !wanted(r) {
			continue
		}
		// A degree of latitude is 60 NM: most are out of it without a sine.
		if dlat := (float64(r.lat)/1e6 - lat) * 60; dlat > within || -dlat > within {
			continue
		}
		if m := Miles(lat, lon, float64(r.lat)/1e6, float64(r.lon)/1e6); m <= within {
			hits = append(hits, hit{i, m})
		}
	}
	slices.SortStableFunc(hits, func(a, b hit) int { return cmp.Compare(a.miles, b.miles) })
	out := make([]Away, 0, min(n, len(hits)))
	for _, h := range hits[:min(n, len(hits))] {
		out = append(out, Away{d.at(h.i), h.miles})
	}
	return out
}
