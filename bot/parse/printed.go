package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// printedFigure is behind a figure that charts, reports and NOTAM print and that is no
// altitude, at token i: a date, the number of a NOTAM, a visibility before the clouds,
// an altimeter setting behind the rest of a report; 0 where there is none.
func (rd *reading) printedFigure(i int) int {
	t, next := rd.tokens[i], i+1
	if t.sign != 0 || t.unit != noUnit || t.grouped {
		return 0
	}
	slash := next+1 < len(rd.tokens) && rd.tokens[next].kind == sepToken && rd.tokens[next].tight && rd.text[rd.tokens[next].start] == '/' && rd.numberAt(next+1) && rd.tokens[next+1].tight
	switch {
	case len(t.word) <= 2 && t.value >= 1 && t.value <= 31 && slices.Contains(months, rd.wordAt(next)): // 25 nov, 25 nov 2026
		return rd.date(i, i, next+1)
	case len(t.word) <= 2 && t.value >= 1 && t.value <= 31 && slices.Contains(months, rd.wordAt(i-1)): // nov 25
		return rd.date(i-1, i, next)
	case slash && len(t.word) == 2 && len(rd.tokens[next+1].word) == 3 && rd.tokens[next+1].word[0] == '0': // !XKLD 11/023
		next += 2
	case len(t.word) <= 2 && t.value <= 15 && clouds(rd.wordAt(next)): // 10 clr
	case rd.settingAt(i):
		if !rd.underField(t.value) {
			rd.settingOr(i)
			return next
		}
		rd.setting(t.value)
	default:
		return 0
	}
	rd.notUsed(i, next-1)
	rd.apart(i)
	return next
}

// date keeps the date from a token on, of which i is the day: a time beside it is asked
// about. It is behind it.
func (rd *reading) date(from, i, next int) int {
	if rd.yearAt(next) {
		next++
	}
	rd.weekday = rd.typed(from, next-1)
	rd.apart(i)
	return next
}

// months are their short names, of which some are words of their own: only a day beside
// them makes a date of them.
var months = strings.Fields("jan feb mar apr may jun jul aug sep sept oct nov dec january february march april june july august september october november december mai juni juli okt des dez")

// yearAt says that a year stands at i, of which an altitude would be far lower than any
// beside a date.
func (rd *reading) yearAt(i int) bool {
	return rd.numberAt(i) && len(rd.tokens[i].word) == 4 && rd.tokens[i].sign == 0 && rd.tokens[i].value >= 2020 && rd.tokens[i].value < 2100
}

// clouds says that a word is the group of a report for the clouds, or for none.
func clouds(w string) bool {
	return w == "clr" || w == "skc" || w == "nsc" || coded(w) && len(w) == 6 && isLetter(w[0]) && w[0] != 'a' && w[0] != 'q'
}

// settingAt says that a figure without a label may be an altimeter setting in
// hundredths of an inch: other groups of a report stand before it.
func (rd *reading) settingAt(i int) bool {
	t := rd.tokens[i]
	if rd.wordAt(i-1) == "alt" || len(t.word) != 4 || t.value < 2750 || t.value > 3150 || rd.labelWaits() || rd.behindElevation() || rd.figureBehindLabel(i) {
		return false
	}
	return slices.ContainsFunc(rd.tokens[:i], func(o token) bool { return o.kind == wordToken && coded(o.word) })
}

// figureBehindLabel says that a label, or a unit, stands behind the figure at i.
func (rd *reading) figureBehindLabel(i int) bool {
	switch rd.means(i + 1) {
	case roleWord, lineWord, feetWord, metreWord, heightWord:
		return true
	}
	return false
}

// settingOr asks whether the figure at i is an altimeter setting or an altitude.
func (rd *reading) settingOr(i int) {
	t := rd.tokens[i]
	word := rd.typed(i, i)
	rd.refuse(t.start, &Problem{Word: word, Text: saySettingOr(word), Either: true, Choices: []Choice{
		{Words: []string{"altimeter", "setting", "qnh", "pressure"}, Picks: []Pick{Drop}, Next: &Request{NotUsed: []string{word}}},
		{Words: []string{"altitude", "alt", "feet", "ft", "hoyde", "hohe", "altitud"}, Next: &Request{Altitudes: []Altitude{{Value: t.value}}}},
	}})
	rd.lost(i, true)
}

// printedWord is behind a word that charts and NOTAM print and that names no altitude,
// at token i: the distance that a fix lies at (D6.2), the categories behind MDA(H) (ABCD),
// the number of a NOTAM (A0123/26); 0 where there is none.
func (rd *reading) printedWord(i int) int {
	t, next := rd.tokens[i], i+1
	n := len(rd.items)
	minimum := n > 0 && (rd.items[n-1].kind == labelItem && (rd.items[n-1].role.Minimum() || rd.items[n-1].role == procedure.Circling))
	switch {
	case dmeFix(t.word):
		rd.notUsed(i, i)
		rd.apart(i)
		return next
	case minimum && len(t.word) > 1 && i > 0 && rd.tokens[i-1].aside && rd.capitals(t) && strings.Contains("ABCDE", rd.text[t.start:t.end]):
		rd.notUsed(i, i)
		return next // the label's altitude is still to come
	case len(t.word) == 5 && isLetter(t.word[0]) && digitsAt(t.word, 1) == 4 && next+1 < len(rd.tokens) && rd.tokens[next].kind == sepToken && rd.tokens[next].tight && rd.numberAt(next+1) && rd.tokens[next+1].tight && len(rd.tokens[next+1].word) == 2:
		rd.notUsed(i, next+1)
		rd.apart(i)
		return next + 2
	}
	return 0
}

// dmeFix says that a word is the distance at which a fix lies: D6, D10.2.
func dmeFix(w string) bool {
	if w == "" || w[0] != 'd' {
		return false
	}
	n := digitsAt(w, 1)
	if n != 1 && n != 2 {
		return false
	}
	rest := w[1+n:]
	return rest == "" || rest[0] == '.' && len(rest) == 2 && isDigit(rest[1])
}

// phonetic reads a station whose ident is said letter by letter, "xray kilo lima
// delta"; 0 where none is.
func (rd *reading) phonetic(i int) int {
	ident, next := []byte(nil), i
	for ; rd.letterOf(next) && len(rd.wordAt(next)) > 3 && len(ident) < 5; next++ {
		w := rd.wordAt(next)
		ident = append(ident, w[0])
	}
	if len(ident) < 3 {
		return 0
	}
	known, ok := rd.places.Place(string(ident))
	if !ok {
		return 0
	}
	if rd.home == "" {
		rd.home = known
	}
	rd.stationNamed(i, known)
	return next
}
