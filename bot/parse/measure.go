package parse

import (
	"slices"
	"strconv"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
)

// noAltitude reads a figure that is neither an altitude nor a temperature: a
// runway, a time, a distance, an altimeter setting, a height in brackets, the
// number of a step. It gives the next token, or 0.
func (rd *reading) noAltitude(i int) int {
	t := rd.tokens[i]
	if rd.numbersStep(i) {
		return i + 1
	}
	if t.sign != 0 || t.pair {
		return 0
	}
	if next := rd.runwayBefore(i); next > 0 {
		return next
	}
	if next := rd.timeNumber(i); next > 0 {
		return next
	}
	if next := rd.printedFigure(i); next > 0 {
		return next
	}
	if n := i + 1; (t.word == "4" || t.word == "2") && n < len(rd.tokens) && rd.tokens[n].kind == wordToken && rd.tags[n].n == 0 {
		if _, ok := rd.places.Place(rd.text[rd.tokens[n].start:rd.tokens[n].end]); ok {
			return n // corrections 4 XKLD
		}
	}
	if w := rd.wordAt(i - 1); (w == "number" || w == "nr") && len(t.word) == 1 && t.unit == noUnit && slices.Contains([]string{"behind", "for", "in", "to", "after", "following"}, rd.wordAt(i+1)) {
		rd.notUsed(i-1, i) // number 2 behind another
		return i + 1
	}
	if w := rd.wordAt(i - 1); (w == "awos" || w == "asos") && len(t.word) == 1 { // AWOS 3
		rd.notUsed(i, i)
		return i + 1
	}
	if t.value > 0 && t.value < 1 && t.unit == noUnit && rd.has(kindWord) && !rd.behindElevation() && rd.means(i+1) != feetWord && rd.means(i+1) != metreWord { // RNP 0.3
		rd.notUsed(i, i)
		return i + 1
	}
	if next := rd.sightAt(i); next > 0 {
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if next := rd.metricSight(i); next > 0 {
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if next := rd.windAt(i); next > 0 {
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if rd.means(i+1) == measureUnit && (t.value < 100 || len(rd.tokens[i+1].word) > 1 && (t.value < 1000 || rd.tags[i+1].label != "distance")) {
		next := i + 1 + rd.tags[i+1].n
		if rd.tags[i+1].label == "pressure" {
			rd.setting(t.value)
		}
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if rd.wordAt(i-1) == "alt" && len(t.word) == 4 && t.value > 2700 && t.value < 3200 && rd.underField(t.value) {
		rd.notUsed(i-1, i) // an altimeter setting: no altitude lies there
		rd.setting(t.value)
		rd.apart(i)
		return i + 1
	}
	if t.unit == noUnit && strings.Contains(t.word, ".") && !t.grouped && t.value > 27 && t.value < 32 && len(t.word) == len("29.92") {
		rd.setting(t.value)
		rd.notUsed(i, i)
		rd.apart(i)
		return i + 1
	}
	return rd.heightBehind(i)
}

// sightAt is behind a visibility that stands without its name, as in "3/4sm" and,
// behind minimums, "1 1/2"; 0 where there is none.
func (rd *reading) sightAt(i int) int {
	digit := func(k int) bool {
		return rd.numberAt(k) && len(rd.tokens[k].word) == 1 && rd.tokens[k].sign == 0
	}
	next := i
	if !digit(next) {
		return 0
	}
	if digit(next+1) && !rd.tokens[next+1].tight {
		next++
	}
	fraction := next+2 < len(rd.tokens) && rd.tokens[next+1].kind == sepToken && rd.tokens[next+1].tight && rd.text[rd.tokens[next+1].start] == '/' && digit(next+2) && rd.tokens[next+2].tight
	if !fraction || rd.tokens[next].value >= rd.tokens[next+2].value {
		return 0
	}
	next += 3
	switch {
	case rd.means(next) == measureUnit:
		return next + rd.tags[next].n
	case rd.behindMinimum():
		return next
	}
	return 0
}

// metricSight is behind a report's ten kilometres and more: 9999, 9999m or 9999 m that no
// label names; 0 where there is none. In feet, with a decimal, or as a bound it is an
// altitude.
func (rd *reading) metricSight(i int) int {
	t := rd.tokens[i]
	if t.kind != numberToken || t.value != 9999 || t.grouped || t.unit == metreUnit && strings.Contains(t.word, ".") ||
		t.unit != noUnit && t.unit != metreUnit || rd.labelWaits() || rd.behindElevation() || rd.takes() || rd.not || rd.meaning == procedure.Between {
		return 0
	}
	switch rd.means(i + 1) {
	case feetWord:
		return 0
	case metreWord:
		return i + 1 + rd.tags[i+1].n
	}
	return i + 1
}

// windAt is behind a wind that stands without its name, as in "320/04" and
// "320/04g15"; 0 where there is none.
func (rd *reading) windAt(i int) int {
	if i+2 < len(rd.tokens) && rd.wordAt(i+1) == "at" && rd.tokens[i].value <= 360 && rd.numberAt(i+2) && len(rd.tokens[i].word) == 3 && len(rd.tokens[i+2].word) <= 2 && rd.tokens[i+2].sign == 0 && rd.tokens[i+2].unit == noUnit {
		return i + 3 // 330 at 4
	}
	if i+2 >= len(rd.tokens) || rd.tokens[i+1].kind != sepToken || rd.text[rd.tokens[i+1].start] != '/' {
		return 0
	}
	t, slash, speed := rd.tokens[i], rd.tokens[i+1], rd.tokens[i+2]
	if t.kind != numberToken || len(t.word) != 3 || t.value > 360 || !slash.tight || !speed.tight || digitsAt(speed.word, 0) != 2 || speed.sign != 0 {
		return 0
	}
	if rest := speed.word[2:]; rest != "" && rest[0] != 'g' && rest != "kt" && rest != "kts" {
		return 0
	}
	if rd.means(i+3) == measureUnit {
		return i + 4
	}
	return i + 3
}

// heightBehind reads the height that charts print behind minimums: 5340/538,
// 5340 (538), DA(H) 5340 538 ft. Brackets behind another altitude are asked
// about.
func (rd *reading) heightBehind(i int) int {
	n := len(rd.items)
	t := rd.tokens[i]
	apart := i > 0 && rd.tokens[i-1].kind == sepToken && rd.tokens[i-1].tight && t.tight
	slash := apart && rd.text[rd.tokens[i-1].start] == '/'
	dash := apart && rd.text[rd.tokens[i-1].start] == '-' // MDA 5460-658
	if (slash || dash) && n > 0 && rd.items[n-1].kind == breakItem {
		n--
	}
	if n == 0 || rd.items[n-1].kind != numberItem || rd.items[n-1].altitude < 0 || t.grouped || t.value < 100 {
		return 0
	}
	before := rd.req.Altitudes[rd.items[n-1].altitude]
	if t.value >= before.Value {
		return 0
	}
	items := rd.items
	rd.items = rd.items[:n]
	minimum := rd.behindMinimum()
	rd.items = items
	next, agl := i+1, false
	for next < len(rd.tokens) && (rd.means(next) == feetWord || rd.means(next) == heightWord) {
		agl = agl || rd.means(next) == heightWord
		next += rd.tags[next].n
	}
	label := rd.heightLabel(n)
	switch {
	case minimum && t.value < 3000 && (slash || t.aside || label || (dash || agl) && rd.isHeight(before.Value, t.value)):
		rd.notUsed(i, next-1)
		return next
	case t.aside && agl && (rd.isHeight(before.Value, t.value) || rd.elevation == nil || rd.home == ""):
		rd.notUsed(i, next-1)
		return next
	case t.aside && !slash && i > 0 && rd.tokens[i-1].kind == numberToken, slash && rd.isHeight(before.Value, t.value):
		word := rd.typed(i, i)
		rd.refuse(t.start, &Problem{Word: word, Text: sayHeightOrAltitude(word), Either: true, Try: rd.instead(i, i, "")})
		rd.apart(i)
		return next
	}
	return 0
}

// heightLabel says that the label of the altitude at item n-1 was DA(H).
func (rd *reading) heightLabel(n int) bool {
	for k := n - 2; k >= 0 && k >= n-3; k-- {
		it := rd.items[k]
		if it.kind != labelItem {
			continue
		}
		next := it.token + rd.tags[it.token].n
		return next < len(rd.tokens) && rd.tokens[next].aside && rd.tokens[next].word == "h"
	}
	return false
}

// measure reads a measurement by its name: QNH 1002, visibility one zero, wind
// 270 at 10, information bravo, category C. A figure that cannot be one is left
// for what it is.
func (rd *reading) measure(i int) int {
	p := rd.tags[i]
	next := i + p.n
	if k := i - 1; p.label == "dew point" && k > 0 { // temp/dew -22/-25
		if rd.tokens[k].kind == sepToken {
			k--
		}
		if rd.means(k) == temperatureWord {
			return next
		}
	}
	for next < len(rd.tokens) && (rd.tokens[next].kind == bindToken || rd.means(next) == small && (rd.tokens[next].word == "is" || rd.tokens[next].word == "at")) {
		next++
	}
	if p.label == "letter" && rd.letterOf(next+1) && rd.wordAt(next) != "" { // atis XSLT charlie
		if behind := rd.station(next); behind > 0 {
			rd.notUsed(i, i)
			rd.notUsed(behind, behind)
			return behind + 1
		}
	}
	last, what := -1, p.label
	if p.meaning == remoteWord {
		what = "qnh"
	}
	switch {
	case next == len(rd.tokens):
	case p.label == "letter" || p.meaning == categoryWord:
		if rd.letterOf(next) {
			last = next
		}
	case rd.tokens[next].word == "calm" || rd.tokens[next].word == "variable":
		last = next
	default:
		last = rd.measured(what, next)
	}
	if last < 0 {
		return i + p.n // a word, and no figure
	}
	if what == "qnh" && p.words[0] != "qfe" {
		rd.setting(rd.measuredValue(next, last))
	}
	if p.meaning == categoryWord {
		rd.category(i, last+1)
	}
	if p.meaning == remoteWord { // what it says is used, its figure is not
		rd.notUsed(next, last)
	} else {
		rd.notUsed(i, last)
	}
	if p.meaning != categoryWord {
		rd.apart(i)
	}
	return last + 1
}

// letterOf says that a letter stands at i, as it is said or written.
func (rd *reading) letterOf(i int) bool {
	w := rd.wordAt(i)
	return w != "" && (rd.means(i) == letterWord || slices.Contains(otherLetters, w) || len(w) == 1 && isLetter(w[0]))
}

// otherLetters are the letters of the radio that name no chart.
var otherLetters = strings.Fields("hotel india juliett juliet kilo lima mike november oscar papa quebec romeo zulu")

// setting keeps an altimeter setting: 1013 hPa, 29.92 or 2992 inches.
func (rd *reading) setting(v float64) {
	switch {
	case v > 2700 && v < 3200:
		rd.req.SettingInHg = engine.InchesOfMercury(v / 100)
	case v > 27 && v < 32:
		rd.req.SettingInHg = engine.InchesOfMercury(v)
	case v > 850 && v < 1100:
		rd.req.SettingHPa = engine.Hectopascals(v)
	}
}

// measuredValue is the figure that stands at tokens i to last, in digits or in
// words; 0 where it cannot be told.
func (rd *reading) measuredValue(i, last int) float64 {
	if rd.tokens[i].kind == numberToken {
		return rd.tokens[i].value
	}
	if v, n := inWords(rd.tokens, i); n > 0 && i+n > last {
		return float64(v)
	}
	var digits []byte // two nine decimal nine two
	var room [longestRun]numeral
	for ; i <= last; i++ {
		for _, n := range wordNumerals(rd.tokens[i].word, false, room[:0]) {
			digits = strconv.AppendInt(digits, int64(n.value), 10)
		}
	}
	v, err := strconv.Atoi(string(digits))
	if err != nil {
		return 0
	}
	return float64(v)
}

// category has the altitude behind a category be of the label before it, where
// another category's altitude stands between: "circling cat b 5400 cat c 5600".
func (rd *reading) category(i, next int) {
	n, all := len(rd.items), rd.items
	for n > 0 && rd.items[n-1].kind == breakItem && rd.tokens[rd.items[n-1].token].kind == sepToken { // cat a 5400, cat c 5600
		n--
	}
	rd.items = rd.items[:n]
	minimum := rd.behindMinimum()
	if rd.items = all; n < 2 || !minimum || !rd.figureNext(next) {
		return
	}
	for k := n - 2; k >= 0 && rd.items[k].kind != breakItem; k-- {
		if it := rd.items[k]; it.kind == labelItem {
			rd.apart(i)
			rd.item(item{kind: labelItem, token: i, role: it.role, label: it.label})
			return
		}
	}
}

// measured is the last token of the figure that stands at token i, with its
// unit; -1 where there is none that can be such a measurement.
func (rd *reading) measured(what string, i int) int {
	if rd.means(i) == minusWord && i+1 < len(rd.tokens) {
		i++
	}
	last := rd.figureEnd(what, i)
	if last < 0 {
		return -1
	}
	next := last + 1
	if what == "wind" || what == "visibility" {
		joint := next
		if joint < len(rd.tokens) && (rd.tokens[joint].word == "at" || rd.tokens[joint].kind == sepToken && rd.tokens[joint].tight) {
			joint++
			if end := rd.figureEnd("speed", joint); end >= 0 {
				last, next = end, end+1
			}
		}
		if what == "wind" && len(rd.tokens[i].word) == 3 && rd.numberAt(next) && len(rd.tokens[next].word) <= 2 && rd.tokens[next].sign == 0 && next == last+1 {
			last, next = next, next+1 // 310 8
		}
		if what == "visibility" && next+2 < len(rd.tokens) && rd.text[rd.tokens[next+1].start] == '/' && rd.numberAt(next) && rd.numberAt(next+2) && rd.tokens[next+2].tight && rd.tokens[next].value < 10 {
			last, next = next+2, next+3 // 1 1/2
		}
		if what == "wind" && (rd.wordAt(next) == "gusting" || rd.wordAt(next) == "gusts" || rd.wordAt(next) == "gust") {
			if end := rd.figureEnd("speed", next+1); end >= 0 {
				last, next = end, end+1
			}
		}
	}
	for next < len(rd.tokens) && (rd.means(next) == measureUnit || rd.means(next) == celsiusWord || rd.means(next) == feetWord || rd.means(next) == metreWord) {
		last = next + rd.tags[next].n - 1
		next = last + 1
	}
	return last
}

// figureEnd is the last token of a figure, in digits or in words.
func (rd *reading) figureEnd(what string, i int) int {
	if i >= len(rd.tokens) {
		return -1
	}
	t := rd.tokens[i]
	if t.kind != numberToken {
		last := -1
		for ; rd.numeral(i); i++ {
			last = i
		}
		return last
	}
	v := t.value
	if v < 0 {
		v = -v
	}
	ok := true
	switch what {
	case "qnh":
		ok = v > 27 && v < 32 || v > 2700 && v < 3200 || v > 850 && v < 1100
	case "wind":
		ok = v <= 360 || rd.means(i+1) == measureUnit || len(t.word) == 5 && v < 36100 && t.sign == 0 // 32004
	case "speed":
		ok = v < 150
	case "visibility":
		ok = v < 10000
	case "dew point", "wind chill":
		ok = v < 100 && t.unit != feetUnit
	}
	if !ok || t.sign < 0 && what != "dew point" && what != "wind chill" {
		return -1
	}
	return i
}

// numeral says that the word at i is a number, or digits, in words.
func (rd *reading) numeral(i int) bool {
	if i < 0 || i >= len(rd.tokens) || rd.tokens[i].kind != wordToken {
		return false
	}
	var room [longestRun]numeral
	w := rd.tokens[i].word
	return w == "decimal" || w == "point" || len(wordNumerals(w, false, room[:0])) > 0
}

// coded says that a word is a group of a report that is no temperature: A2992,
// Q1013, 27010KT, 10SM, FEW020.
func coded(w string) bool {
	n := len(w)
	switch {
	case n == 5 && (w[0] == 'a' || w[0] == 'q') && digitsAt(w, 1) == 4:
		return true
	case n >= 7 && strings.HasSuffix(w, "kt") && digitsAt(w, 0) >= 5:
		return true
	case n >= 3 && digitsAt(w, 0) == n-2 && (strings.HasSuffix(w, "mm") || strings.HasSuffix(w, "cm")): // of snow
		return true
	case n >= 3 && strings.HasSuffix(w, "sm") && digitsAt(strings.TrimPrefix(w, "p"), 0) > 0:
		return true
	case n == 6 && digitsAt(w, 3) == 3:
		switch w[:3] {
		case "few", "sct", "bkn", "ovc":
			return true
		}
	case w == "cavok", w == "skc", w == "clr", w == "nosig", w == "auto", w == "ao1", w == "ao2", w == "rmk":
		return true
	}
	return false
}
