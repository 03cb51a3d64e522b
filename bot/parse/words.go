package parse

import (
	"slices"
	"strconv"
	"strings"

	"firn/bot/spelling"
)

// otherWord reads what is in no table: a station, a rule set, the name of a
// record, a number in words, an approach without its spaces, a fix, or a word
// that is not understood.
func (rd *reading) otherWord(i int) int {
	t := rd.tokens[i]
	if next := rd.station(i); next > 0 {
		return next
	}
	if slices.Contains(rd.rules, t.word) {
		rd.ruleSet(i, t.word)
		return i + 1
	}
	if next := rd.recordName(i); next > 0 {
		return next
	}
	if next := rd.transition(i); next > 0 {
		return next
	}
	if next := rd.numberWords(i); next > 0 {
		return next
	}
	if next := rd.zuluHour(i); next > 0 {
		return next
	}
	if next := rd.hourOrChart(i); next > 0 {
		return next
	}
	if n, ok := fused(t.word); ok && !rd.behindLabel() {
		next := i + 1
		if n.runway == "" || n.letter == "" {
			next = max(next, rd.nameFrom(next, &n))
		}
		rd.named1(i, next, n)
		return next
	}
	if rest, ok := strings.CutPrefix(t.word, "fl"); ok && rest != "" && digitsAt(rest, 0) == len(rest) {
		rd.flightLevel(i, i)
		return i + 1
	}
	if next := rd.printedWord(i); next > 0 {
		return next
	}
	if coded(t.word) {
		if v, err := strconv.Atoi(t.word[1:]); err == nil && (t.word[0] == 'a' || t.word[0] == 'q') { // A2992, Q1013
			rd.setting(float64(v))
		}
		rd.notUsed(i, i)
		rd.apart(i)
		return i + 1
	}
	if strings.IndexByte(t.word, ':') == 2 && isDigit(t.word[0]) {
		rd.refuse(t.start, &Problem{Word: rd.typed(i, i), Text: sayNoClock(rd.typed(i, i)), Either: true})
		rd.apart(i)
		return i + 1
	}
	if bare, minus := strings.CutPrefix(t.word, "-"); slippedFigure(bare) != "" {
		digits := slippedFigure(bare)
		if minus {
			digits = "-" + digits
		}
		p := &Problem{Word: rd.typed(i, i), Text: sayFigureSlip(rd.typed(i, i), digits), Try: rd.instead(i, i, digits), Signed: len(slippedFigure(bare)) < 3}
		p.Choices = []Choice{{Figure: slippedFigure(bare), Words: []string{digits, "yes"}, Line: p.Try}}
		rd.refuse(t.start, p)
		rd.lost(i, true)
		return i + 1
	}
	if rd.isFix(i) {
		if rd.besidesFix(i) { // "6100 past XIRTU"
			return i + 1
		}
		if side, _ := rd.sideOf(i); side >= 0 { // "IF 8200 before XIRTU 7400"
			rd.apart(i)
		}
		n := len(rd.items)
		at := n > 0 && rd.items[n-1].kind == numberItem && (slices.Contains(atFix, rd.wordAt(i-1)) || slices.Contains(untilFix, rd.wordAt(i-1)) && !rd.numberAt(i+1)) && (n < 2 || rd.items[n-2].kind != fixItem)
		if rd.item(item{kind: fixItem, token: i, fix: strings.ToUpper(t.word)}); at { // "8200 at XOLMI 7400 at XIRTU"
			rd.apart(i)
		}
		return i + 1
	}
	return rd.unknown(i)
}

// atFix stand between an altitude and the fix that it is crossed at.
var atFix = []string{"at", "over", "crossing", "by"}

// untilFix stand between an altitude and the fix that it ends at, where it is crossed at
// it: "7400 until XIRTU, then 6100".
var untilFix = []string{"until", "till", "til", "bis", "hasta"}

// station reads a station's ident or name, also with 's behind it.
func (rd *reading) station(i int) int {
	t := rd.tokens[i]
	raw := rd.text[t.start:t.end]
	ident, ok := rd.places.Place(raw)
	if !ok {
		for _, behind := range []string{"'s", "s'"} {
			if cut, has := strings.CutSuffix(t.word, behind); has && !ok {
				ident, ok = rd.places.Place(cut)
			}
		}
	}
	if !ok && raw != t.word {
		ident, ok = rd.places.Place(t.word)
	}
	if !ok || rd.onlyWord(ident, raw, t) {
		return 0
	}
	if rd.not { // "not XKLD"
		rd.not, rd.req.Instead = false, true
		return i + 1
	}
	rd.stationNamed(i, ident)
	return i + 1
}

// stationNamed takes the station that is named at token i.
func (rd *reading) stationNamed(i int, ident string) {
	stop := Stop{Station: ident, Alternate: rd.alternate}
	rd.alternate = false
	if len(rd.stops) == 0 && len(rd.clocks) > 0 { // "1430z XKLD"
		stop.At = rd.clocks[len(rd.clocks)-1].Clock
	}
	if len(rd.stops) == 0 {
		stop.Procedure = rd.req.Procedure
	}
	if have := rd.req.Station; have != "" && have != ident {
		if !rd.hasVerb || rd.lead != Brief {
			rd.twoStations = true
		}
	} else {
		rd.req.Station = ident
	}
	if n := len(rd.stops); n == 0 || rd.stops[n-1].Station != ident {
		rd.stops = append(rd.stops, stop)
	}
	rd.apart(i)
}

// recordName takes the name of a record, where a verb takes one.
func (rd *reading) recordName(i int) int {
	if !rd.hasVerb || !traits[rd.lead].record {
		return 0
	}
	name, n := rd.recordAt(i)
	if n == 0 || rd.req.Record != "" && rd.req.Record != name {
		return 0
	}
	rd.req.Record = name
	rd.apart(i)
	end := rd.tokens[i].start
	for ; n > 0; n-- {
		for i < len(rd.tokens) && (rd.tokens[i].start == end || rd.tokens[i].tight) {
			end = rd.tokens[i].end
			i++
		}
		if i < len(rd.tokens) {
			end = rd.tokens[i].start
		}
	}
	return i
}

// recordAt is the name of a record that is written at i, and of how many words.
func (rd *reading) recordAt(i int) (name string, n int) {
	if rd.named == nil {
		return "", 0
	}
	words := strings.Fields(rd.text[rd.tokens[i].start:])
	words = words[:min(len(words), 3)]
	for k := range words {
		words[k] = strings.Trim(words[k], ",;:.?!")
	}
	name, n, ok := rd.named(words)
	if !ok {
		return "", 0
	}
	return name, n
}

// numberWords reads figures that are written in words.
func (rd *reading) numberWords(i int) int {
	var room [longestRun]numeral
	run := numeralsAt(rd.tokens, i, false, room[:0])
	if len(run) == 0 {
		return 0
	}
	// A small one alone may be another word: "one", and those of other languages.
	if v, english := numerals[rd.tokens[i].word]; len(run) == 1 && (run[0].value >= 100 || run[0].value < 20 && (!english || v == 1)) {
		return 0
	}
	next := run[len(run)-1].next
	if v, ok := digits(run); ok && len(run) == 4 && rd.means(next) == zoneWord {
		if c, ok := clockDigits(strconv.Itoa(10000 + v)[1:]); ok {
			return rd.clock(i, c, next)
		}
	}
	if v, ok := pair(run); ok { // thirty eight
		return rd.spelled(i, next, float64(v), 0)
	}
	if v, ok := digits(run); ok && len(run) == 2 {
		return rd.spelled(i, next, float64(v), 0)
	}
	values, ok := partNumbers(run)
	if !ok {
		word := rd.typed(i, next-1)
		rd.refuse(rd.tokens[i].start, &Problem{Word: abbreviate(word), Text: sayNumberWords(abbreviate(word))})
		rd.lost(i, true)
		return next
	}
	for _, v := range values[:len(values)-1] {
		rd.spelled(i, v.next, float64(v.value), 0)
		i = v.next
	}
	return rd.spelled(i, next, float64(values[len(values)-1].value), 0)
}

// slippedFigure is a figure that was typed with letters for digits: 82oo.
func slippedFigure(w string) string {
	if len(w) < 2 || len(w) > 6 || !isDigit(w[0]) {
		return ""
	}
	out := strings.NewReplacer("o", "0", "l", "1", "i", "1").Replace(w)
	if digitsAt(out, 0) != len(out) {
		return ""
	}
	return out
}

// Mistyped is the figure of a word that was typed with letters for digits; ok is
// false where it is none: "740O".
func Mistyped(word string) (figure string, ok bool) {
	figure = slippedFigure(strings.ToLower(word))
	return figure, figure != "" && figure != word
}

// isFix says that an unknown word names a fix: the station's procedures have
// it, it stands directly behind a label, or it has five capital letters and
// stands beside one.
func (rd *reading) isFix(i int) bool {
	t := rd.tokens[i]
	n := len(rd.items)
	behind := n > 0 && rd.items[n-1].kind == labelItem && !rd.items[n-1].elev
	if behind && fixLike(t.word) && !rd.goesOnLabel(n-1, t) && saidByControl[t.word] == 0 && len(phrases[t.word]) == 0 && nearWord(t.word) == "" && (!nearSmall(t.word) || rd.storedFix(t.word)) {
		return true
	}
	if rd.storedFix(t.word) {
		return true
	}
	if !fixLike(t.word) {
		return false
	}
	raw := rd.text[t.start:t.end]
	return len(t.word) == 5 && raw == strings.ToUpper(raw) && nearWord(t.word) == "" && (rd.means(i+1) == roleWord || i+2 < len(rd.tokens) && rd.tokens[i+1].kind == bindToken && rd.means(i+2) == roleWord || n > 0 && rd.items[n-1].kind == numberItem || rd.numberAt(i+1) && rd.tokens[i+1].sign == 0)
}

// goesOnLabel says that the label at item k and the word behind it would be another
// phrase: "step downs".
func (rd *reading) goesOnLabel(k int, t token) bool {
	label := Altitude{Role: rd.items[k].role, Label: rd.items[k].label}
	_, n := match([]token{{word: strings.ToLower(label.lineLabel())}, t}, 0)
	return n > 1
}

// storedFix says that the station's stored procedures have a fix.
func (rd *reading) storedFix(word string) bool {
	return rd.fixes != nil && rd.home != "" && fixLike(word) && rd.fixes(rd.home, strings.ToUpper(word))
}

// behindLabel says that a label, or a fix, waits for its altitude: the word
// may then be a fix of its own.
func (rd *reading) behindLabel() bool {
	n := len(rd.items)
	return n > 0 && (rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem)
}

// unknown keeps a word that is not understood; decide says what becomes of it.
func (rd *reading) unknown(i int) int {
	rd.unread = append(rd.unread, unread{i, len(rd.items)})
	rd.apart(i)
	return i + max(rd.tags[i].n, 1)
}

// nearWord finds the label or command that a word is one slip away from, or
// the beginning of. It offers nothing that would change one short label into
// another: MEA is no slip for MDA.
func nearWord(word string) string {
	if len(word) < 3 {
		return ""
	}
	best, bestFar := "", 2
	for _, known := range offers {
		if known == word {
			continue
		}
		far := spelling.Distance(word, known, 1)
		switch {
		case strings.HasPrefix(known, word):
			far = 0
		case far == 1 && len(known) == len(word) && len(word) < 5 && !swapped(word, known):
			continue
		case far == 1 && len(word) < 4 && phrases[known][0].meaning == verbWord:
			continue // "raw" is no slip of a command
		}
		if far < bestFar || far == bestFar && far < 2 && (len(known) < len(best) || len(known) == len(best) && known < best) {
			best, bestFar = known, far
		}
	}
	return best
}

// nearSmall says that a word is one slip away from a longer one that says
// nothing: "shoud" is no fix.
func nearSmall(word string) bool {
	if len(word) < 4 {
		return false
	}
	return slices.ContainsFunc(slipsOfSmall, func(known string) bool {
		return known != word && (spelling.Distance(word, known, 1) <= 1 || swapped(word, known))
	})
}

// The words that a slip may have been meant for: of all phrases they are few.
var (
	offers       = knownWords(3, offered)
	slipsOfSmall = knownWords(5, func(list []phrase) bool {
		return slices.ContainsFunc(list, func(p phrase) bool { return p.meaning == small && p.label != common || p.meaning == changeWord })
	})
)

// knownWords are the first words of phrases that have at least n bytes.
func knownWords(n int, wanted func([]phrase) bool) []string {
	var words []string
	for known, list := range phrases {
		if len(known) >= n && wanted(list) {
			words = append(words, known)
		}
	}
	slices.Sort(words)
	return words
}

// offered says that a word stands for something on its own.
func offered(list []phrase) bool {
	for _, p := range list {
		if len(p.words) > 1 {
			continue
		}
		switch p.meaning {
		case roleWord, lineWord, elevationWord, heightWord, minusWord, verbWord, kindWord:
			return true
		}
	}
	return false
}

// swapped says that two words of the same length have the same letters.
func swapped(a, b string) bool {
	x, y := []byte(a), []byte(b)
	slices.Sort(x)
	slices.Sort(y)
	return string(x) == string(y)
}

// likeIdent is the shape of a station's ident.
func likeIdent(w string) bool {
	if len(w) < 3 || len(w) > 5 {
		return false
	}
	letter := false
	for i := 0; i < len(w); i++ {
		if !isAlnum(w[i]) {
			return false
		}
		letter = letter || isLetter(w[i])
	}
	return letter
}
