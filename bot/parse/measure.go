package parse

import (
	"math"
	"strconv"
	"strings"
	"time"
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
	if n := i + 1; (t.word == "4" || t.word == "2") && n < len(rd.tokens) && rd.tokens[n].kind == wordToken && rd.tags[n].n == 0 {
		if _, ok := rd.places.Place(rd.text[rd.tokens[n].start:rd.tokens[n].end]); ok {
			return n // corrections 4 XKLD
		}
	}
	if w := rd.wordAt(i - 1); (w == "awos" || w == "asos") && len(t.word) == 1 { // AWOS 3
		rd.notUsed(i, i)
		return i + 1
	}
	if next := rd.windAt(i); next > 0 {
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if rd.means(i+1) == measureUnit && (t.value < 100 || len(rd.tokens[i+1].word) > 1 && (t.value < 1000 || rd.tags[i+1].label != "distance")) {
		next := i + 1 + rd.tags[i+1].n
		rd.notUsed(i, next-1)
		rd.apart(i)
		return next
	}
	if rd.wordAt(i-1) == "alt" && len(t.word) == 4 && t.value > 2700 && t.value < 3200 && rd.underField(t.value) {
		rd.notUsed(i-1, i) // an altimeter setting: no altitude lies there
		rd.apart(i)
		return i + 1
	}
	if t.unit == noUnit && strings.Contains(t.word, ".") && !t.grouped && t.value > 27 && t.value < 32 && len(t.word) == len("29.92") {
		rd.notUsed(i, i)
		rd.apart(i)
		return i + 1
	}
	return rd.heightBehind(i)
}

// windAt is behind a wind that stands without its name, as in "320/04" and
// "320/04g15"; 0 where there is none.
func (rd *reading) windAt(i int) int {
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
	slash := i > 0 && rd.tokens[i-1].kind == sepToken && rd.tokens[i-1].tight && t.tight && rd.text[rd.tokens[i-1].start] == '/'
	if slash && n > 0 && rd.items[n-1].kind == breakItem {
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
	next := i + 1
	for next < len(rd.tokens) && (rd.means(next) == feetWord || rd.means(next) == heightWord) {
		next += rd.tags[next].n
	}
	label := rd.heightLabel(n)
	switch {
	case minimum && t.value < 3000 && (slash || t.aside || label):
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

// isHeight says that a figure is the height of an altitude above the station's
// field, as near as a runway's end lies.
func (rd *reading) isHeight(altitude, height float64) bool {
	if rd.elevation == nil || rd.req.Station == "" {
		return false
	}
	field, ok := rd.elevation(rd.req.Station)
	return ok && math.Abs(altitude-field-height) <= 60
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
	last, what := -1, p.label
	if p.meaning == remoteWord {
		what = "qnh"
	}
	switch {
	case next == len(rd.tokens):
	case p.label == "letter" || p.meaning == categoryWord:
		if t := rd.tokens[next]; t.kind == wordToken && (rd.means(next) == letterWord || t.word == "zulu" || len(t.word) == 1 && isLetter(t.word[0])) {
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

// category has the altitude behind a category be of the label before it, where
// another category's altitude stands between: "circling cat b 5400 cat c 5600".
func (rd *reading) category(i, next int) {
	n := len(rd.items)
	if n < 2 || rd.items[n-1].kind != numberItem || !rd.figureNext(next) || !rd.behindMinimum() {
		return
	}
	for k := n - 2; k >= 0; k-- {
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
		ok = v > 27 && v < 32 || v > 2700 && v < 3200 || v > 900 && v < 1100
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

// timeNumber reads bare figures that a word beside them says are a time.
func (rd *reading) timeNumber(i int) int {
	t := rd.tokens[i]
	if t.grouped || t.unit != noUnit && !(t.unit == metreUnit && (rd.hasVerb && rd.lead == Snooze || rd.means(i-1) == inWord)) {
		return 0
	}
	brief := rd.hasVerb && rd.lead == Brief
	next := i + 1
	hours := rd.means(next) == clockUnit && rd.tags[next].label == "h" && rd.tokens[next].word == "h" && rd.means(i-1) != inWord
	if rd.hasVerb && rd.lead == Snooze || brief && rd.means(i-1) == inWord || rd.arriving && !hours || rd.means(i-1) == inWord && rd.means(next) == clockUnit {
		if d, n := durationIn(t.word, rd.wordAt(next)); d > 0 {
			if rd.lead == Snooze {
				rd.req.For += d
			} else {
				rd.keepClock(i, Clock{Said: true, In: d})
			}
			return i + n
		}
	}
	zone := rd.means(next) == zoneWord && rd.tokens[next].word != "l"
	said := brief || rd.arriving || t.word[0] == '0' && len(t.word) == 4 && !rd.cold || len(t.word) == 4 && rd.wordAt(next) == "auto" || len(t.word) == 4 && (rd.wordAt(next) == "obs" || rd.wordAt(next) == "observed") || zone && len(t.word) == 4 || rd.means(i-1) == dayWord && len(t.word) == 4 && rd.day != DayUnsaid || rd.means(next) == dayWord && len(t.word) == 4 && len(rd.req.Altitudes) == 0
	if hour, ok := clockDigits(strings.Replace(t.word, ".", ":", 1)); ok && rd.arriving && strings.Contains(t.word, ".") { // kl 14.30
		return rd.clock(i, hour, next)
	}
	if hour := rd.means(next) == clockUnit && rd.tags[next].label == "h"; hour && t.value < 24 && len(t.word) <= 2 && rd.means(i-1) != inWord {
		if rd.day != DayUnsaid || rd.arriving && rd.byClock { // demain 7h, vers 19h
			return rd.clock(i, Clock{Said: true, Hour: int(t.value)}, next+1)
		}
		rd.refuse(t.start, &Problem{Word: rd.typed(i, next), Text: sayArrival(rd.typed(i, next)), Either: true})
		rd.apart(i)
		return next + 1
	}
	minutes := rd.wordAt(next) == "min" || rd.wordAt(next) == "mins"
	if (rd.means(next) == clockUnit || minutes) && t.value < 100 && t.sign == 0 && rd.means(i-1) != inWord && !(rd.hasVerb && rd.lead == Snooze) {
		rd.refuse(t.start, &Problem{Word: rd.typed(i, next), Text: sayArrival(rd.typed(i, next)), Either: true})
		rd.apart(i)
		return next + rd.tags[next].n
	}
	if c, ok := clockDigits(t.word); ok && said && len(t.word) == 4 {
		rd.arriving = false
		return rd.clock(i, c, next)
	}
	if (brief || rd.arriving) && (rd.means(next) == meridiemWord) {
		if c, ok := meridiem(t.word, rd.tags[next].label == "pm"); ok {
			return rd.clock(i, c, next+1)
		}
	}
	if rd.arriving && rd.wordAt(i-1) == "landing" && rd.runwayAt(i) && len(t.word) == 2 && (next == len(rd.tokens) || rd.tokens[next].kind == sepToken) {
		rd.arriving = false
		rd.named1(i, next, approachName{runway: t.word}) // an ATIS: "landing 31"
		return next
	}
	if rd.arriving && t.sign == 0 && t.value < 100 {
		rd.refuse(t.start, &Problem{Word: rd.typed(i, i), Text: sayArrival(rd.typed(i, i)), Either: true})
		rd.arriving = false
		rd.apart(i)
		return next
	}
	return 0
}

func (rd *reading) wordAt(i int) string {
	if i >= 0 && i < len(rd.tokens) && rd.tokens[i].kind == wordToken {
		return rd.tokens[i].word
	}
	return ""
}

// clock keeps a time, with the zone and the day that stand beside it.
func (rd *reading) clock(i int, c Clock, next int) int {
	if m := rd.means(next); m == zoneWord {
		if rd.tags[next].label == "utc" {
			c.Zone = UTC
		}
		next += rd.tags[next].n
	} else if m == meridiemWord && c.Hour <= 12 {
		c.Hour %= 12
		if rd.tags[next].label == "pm" {
			c.Hour += 12
		}
		next += rd.tags[next].n
	}
	if c.Day == DayUnsaid {
		if rd.means(next) == dayWord {
			rd.later = rd.later || rd.tags[next].label == "later"
			c.Day = rd.tags[next].day
			next += rd.tags[next].n
		} else {
			c.Day = rd.day
		}
	}
	rd.day = DayUnsaid
	rd.arriving = false
	rd.keepClock(i, c)
	return next
}

// keepClock gives a time to the stop that is being read.
func (rd *reading) keepClock(i int, c Clock) {
	rd.apart(i)
	rd.clocks = append(rd.clocks, clockAtToken{c, i})
	if n := len(rd.stops); n > 0 {
		switch s := &rd.stops[n-1]; {
		case !s.At.Said:
			s.At = c
		case rd.twoTimes == nil && s.At != c:
			rd.twoTimes = &Problem{Word: rd.typed(i, i), Text: sayTwoTimes(s.Station, s.At.String(), c.String()), Either: true, Try: rd.instead(i, i, "")}
		}
	}
}

// timeWord reads the words that times are said with.
func (rd *reading) timeWord(i int) int {
	p := rd.tags[i]
	next := i + p.n
	switch p.meaning {
	case arriveWord:
		rd.arriving, rd.byClock = true, p.label == "clock"
	case noonWord:
		c, _ := clockDigits(p.label + "00")
		return rd.clock(i, c, next)
	case dayWord:
		rd.day = p.day
		rd.later = rd.later || p.label == "later"
		n, k := len(rd.clocks), len(rd.stops)
		if n == 0 || rd.clocks[n-1].Day != DayUnsaid || rd.clocks[n-1].In > 0 || k > 0 && !rd.stops[k-1].At.Said {
			break // of the time that follows
		}
		rd.clocks[n-1].Day = p.day
		if k > 0 {
			rd.stops[k-1].At.Day = p.day
		}
		rd.day = DayUnsaid
	case inWord:
		for rd.isSmall(next) && rd.tags[next].n > 0 { // in about 50 min
			next += rd.tags[next].n
		}
		if d, end := rd.durationInWords(next); d > 0 {
			rd.keepClock(i, Clock{Said: true, In: d})
			return end
		}
		if d, n := durationIn(rd.figureWord(next), rd.wordAt(next+1)); d > 0 {
			rd.keepClock(i, Clock{Said: true, In: d})
			return next + n
		}
	}
	return next
}

// durationInWords reads "half an hour" and "two hours", and gives the token
// behind it.
func (rd *reading) durationInWords(i int) (time.Duration, int) {
	w := rd.wordAt(i)
	half := w == "half"
	if half {
		i++
		w = rd.wordAt(i)
	}
	v, ok := numerals[w]
	if w == "an" || w == "a" {
		v, ok = 1, true
	}
	if ok {
		i++
	} else if v = 1; !half {
		return 0, 0
	}
	d, _ := durationIn("1", rd.wordAt(i))
	if half {
		d /= 2
	}
	return d * time.Duration(v), i + 1
}

// figureWord is the number at i as typed, with a unit that is tight behind it
// already cut off by the lexer.
func (rd *reading) figureWord(i int) string {
	if i < len(rd.tokens) && rd.tokens[i].sign == 0 {
		return rd.tokens[i].word
	}
	return ""
}

// durationIn reads "2h", "2 hours", "90min", and how many words it is.
func durationIn(first, second string) (time.Duration, int) {
	digits := digitsAt(first, 0)
	if k := digits; k > 0 && k+1 < len(first) && (first[k] == '.' || first[k] == ',') && digitsAt(first, k+1) == 1 {
		digits += 2 // 1.5 h
	}
	if digits == 0 || digits > 3 {
		return 0, 0
	}
	v, err := strconv.ParseFloat(strings.Replace(first[:digits], ",", ".", 1), 64)
	if err != nil {
		return 0, 0
	}
	unit, n := first[digits:], 1
	if unit == "" {
		unit, n = second, 2
	}
	switch unit {
	case "h", "hr", "hrs", "hour", "hours", "timer", "stunden":
		return time.Duration(v * float64(time.Hour)), n
	case "m", "min", "mins", "minutes", "minute":
		return time.Duration(v * float64(time.Minute)), n
	}
	return 0, 0
}
