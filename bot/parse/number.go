package parse

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
)

// number says whether a number is a temperature, an altitude, a time or a
// measurement that is neither, and reads the unit behind it. It gives the next
// token to read.
func (rd *reading) number(i int) int {
	if next := rd.mixedWords(i); next > 0 {
		return next
	}
	if next := rd.noAltitude(i); next > 0 {
		return next
	}
	if next := rd.additive(i); next > 0 {
		return next
	}
	t := rd.tokens[i]
	next := i + 1
	if done, joined, n := rd.joinThousands(i); done {
		return n
	} else if n > next {
		t, next = joined, n
	}
	t, next = rd.decimal(t, next)
	t, height, next, done := rd.units(i, next, t)
	if done {
		return next
	}
	if t.sign == 0 && t.value < 100 && next < len(rd.tokens) && rd.means(next) == belowWord && (t.value != 0 || rd.tags[next].n > 1 || !rd.numberAt(next+1)) { // "0 below 8200" is a bound
		t.sign, t.value = -1, 0-t.value // 38 below
		next += rd.tags[next].n
		rd.req.Change = rd.typed(i, next-1)
	}
	if t.sign == 0 && t.value < 100 && (rd.means(next) == minusWord && rd.minusBehind(next) || rd.underBehind(next)) {
		t.sign, t.value = -1, 0-t.value // 14 minus
		next += rd.tags[next].n
		rd.req.Change = rd.typed(i, next-1)
	}
	if t.sign != 0 && t.value > -100 && t.value < 100 && slices.Contains(moreWords, rd.wordAt(next)) { // minus 3 more
		rd.req.Change = rd.typed(i, next)
	}
	last := next - 1
	elevation := rd.behindElevation()
	refusals := len(rd.open)
	switch {
	case elevation && (t.unit == noUnit || t.unit == feetUnit || t.unit == metreUnit) && !t.grouped && !t.pair:
		// A field may lie at 14 ft, or below the sea.
		rd.altitude(i, last, t, height)
		return next
	case t.unit == celsiusUnit || t.unit == fahrenheitUnit || t.sign != 0:
		next = rd.dewPoint(rd.readTemperature(i, last, t), next)
	case t.unit == noUnit && !height && t.value == 0 && (t.word == "0" || t.word == "00" || t.word == "0.0"):
		rd.readTemperature(i, last, t) // zero needs no sign
	case t.unit == noUnit && !height && t.value < 100:
		rd.small(i, last, t)
	default:
		if end := rd.controllersBehind(next); end > next && !rd.behindLabel() {
			rd.controlled(i, end-1)
			return end
		}
		rd.altitude(i, last, t, height)
		return next
	}
	rd.lost(i, len(rd.open) > refusals)
	return next
}

// joinThousands reads "10 000", when nothing else can be meant, or asks.
func (rd *reading) joinThousands(i int) (done bool, t token, next int) {
	t, next = rd.tokens[i], i+1
	if next == len(rd.tokens) || t.sign != 0 || t.unit != noUnit || t.grouped || len(t.word) > 2 || t.value < 1 || strings.Contains(t.word, ".") {
		return false, t, next
	}
	u := rd.tokens[next]
	if u.kind != numberToken || u.sign != 0 || u.grouped || digitsAt(u.word, 0) != 3 || u.unit != noUnit && u.unit != feetUnit && u.unit != metreUnit || u.start != t.end+1 || strings.Contains(u.word, ".") {
		return false, t, next
	}
	whole := t.value*1000 + u.value
	typed := rd.typed(i, next)
	refuse := func(sign bool, try string) (bool, token, int) {
		rd.refuse(t.start, &Problem{Word: typed, Text: sayThousands(typed, fmt.Sprintf("%.0f", whole), t.word, u.word, sign), Either: true, Try: try})
		rd.lost(i, true)
		return true, t, next + 1
	}
	switch {
	case !rd.cold:
		return refuse(true, rd.instead(i, i, "-"+t.word))
	case u.value != 0 && rd.notThousands(i):
		try := fmt.Sprintf("%.0f%s", whole, strings.TrimLeft(u.word, "0123456789"))
		if rd.behindElevation() {
			try = rd.typed(i, i) + ", " + rd.typed(next, next)
		}
		return refuse(false, rd.instead(i, next, try))
	}
	// A unit belongs to the whole figure.
	t.value, t.unit, t.grouped = whole, u.unit, true
	return false, t, next + 1
}

// units reads what stands behind the figure t, whose first token is first.
func (rd *reading) units(first, next int, t token) (_ token, height bool, _ int, done bool) {
	for next < len(rd.tokens) && rd.tokens[next].kind == wordToken && rd.tags[next].n > 0 {
		switch rd.tags[next].meaning {
		case feetWord:
			t.unit = feetUnit
		case metreWord:
			if rd.tokens[next].word == "m" && rd.metreOrMinus(first, next) {
				return t, height, next + 2, true
			}
			t.unit = metreUnit
		case celsiusWord:
			if t.unit == noUnit && t.sign == 0 && t.value >= 150 {
				return t, height, next, false
			}
			t.unit = celsiusUnit
		case fahrenheitWord:
			t.unit = fahrenheitUnit
		case heightWord:
			if t.sign != 0 || height {
				return t, height, next, false
			}
			if n := next + 1; rd.heightNext(n, t) {
				if rd.isHeight(t.value, rd.tokens[n].value) || rd.tokens[next].word == "hat" || rd.tokens[next].word == "haa" {
					rd.notUsed(next, n) // DA 5340 HAT 538, MDA 480 agl 435
					return t, height, n + 1, false
				}
				if !rd.underField(t.value) {
					return t, height, next, false // of which of them it is is asked
				}
			}
			height = true
		case seaWord:
		default:
			return t, height, next, false
		}
		next += rd.tags[next].n
	}
	return t, height, next, false
}

// lost leaves the place of a number that is no altitude: nothing, or that of
// an altitude where one was refused behind its label.
func (rd *reading) lost(token int, refused bool) {
	if n := len(rd.items); refused && n > 0 && rd.items[n-1].kind == labelItem {
		rd.item(item{kind: numberItem, token: token, altitude: -1})
		return
	}
	rd.apart(token)
}

// notThousands says that the small number at i, with a space and three digits
// behind it, need not be the thousands of an altitude: a dew point behind a
// temperature is at least as cold, a runway or a step may have a number, and
// few published altitudes lie above 20000 ft.
func (rd *reading) notThousands(i int) bool {
	t := rd.tokens[i]
	if t.value >= 20 || rd.behindElevation() {
		return true
	}
	if n := len(rd.items); n > 0 && rd.items[n-1].kind == labelItem && rd.items[n-1].role == procedure.StepDown {
		return true
	}
	j := i - 1
	if j > 0 && rd.tokens[j].kind == sepToken {
		j--
	}
	if j < 0 || rd.tokens[j].kind != numberToken || rd.tokens[j].sign == 0 {
		return false
	}
	return t.value >= math.Abs(rd.tokens[j].value)
}

// behindElevation says that the word before is "elev", with nothing before it
// that could be the elevation instead.
func (rd *reading) behindElevation() bool {
	n := len(rd.items)
	if n == 0 || !rd.items[n-1].elev {
		return false
	}
	return rd.items[n-1].forward || n == 1 || rd.items[n-2].kind != numberItem
}

// metreOrMinus asks about "10000 m 38", which could be metres or minus.
func (rd *reading) metreOrMinus(i, m int) bool {
	n := m + 1
	if n >= len(rd.tokens) || rd.tokens[n].kind != numberToken || rd.tokens[n].sign != 0 || rd.tokens[n].unit != noUnit || rd.tokens[n].value >= 100 || rd.thousands(n) {
		return false
	}
	rd.refuse(rd.tokens[m].start, &Problem{
		Word: rd.typed(m, n), Text: sayMetresOrMinus(rd.typed(m, n), rd.tokens[n].word), Either: true,
		Try: rd.instead(m, n, "-"+rd.tokens[n].word),
	})
	rd.apart(i)
	return true
}

// readTemperature takes a figure for a temperature, and says whether it is one.
func (rd *reading) readTemperature(first, last int, t token) bool {
	word := rd.typed(first, last)
	magnitude := math.Abs(t.value)
	switch {
	case t.unit == feetUnit || t.unit == metreUnit || magnitude >= 150 || t.grouped:
		altitude := Altitude{Value: magnitude, Metric: t.unit == metreUnit, Bare: t.unit != feetUnit}
		text := saySignedAltitude(abbreviate(word))
		if t.sign == 0 {
			text = sayAltitudeWithDegrees(abbreviate(word))
		}
		rd.refuse(t.start, &Problem{Word: abbreviate(word), Text: text, Try: rd.instead(first, last, altitude.figure()), Signed: true})
		return false
	case t.sign == 0 && t.value != 0 && (!t.pair || t.value > 0):
		rd.signless(first, last, t)
		return false
	}
	if t.sign < 0 && t.value == 0 && !t.pair && t.word == "-0" {
		rd.fail(t.start, &Problem{Word: word, Text: sayMinusZero(word), Try: rd.instead(first, last, "0")})
		return false
	}
	t.value = math.Round(t.value*100) / 100 // a third decimal reads back as something else
	c := engine.Celsius(t.value)
	if t.unit == fahrenheitUnit {
		c = engine.Fahrenheit(t.value).Celsius()
	}
	if c < coldest || c > hottest {
		rd.fail(t.start, &Problem{Word: abbreviate(word), Text: sayNoTemperature(abbreviate(word))})
		return false
	}
	if rd.not { // "not -38"
		rd.not, rd.req.Instead = false, true
		return true
	}
	if rd.outside {
		rd.outside = false
		rd.req.Outside, rd.req.HasOutside = c, true
		return true
	}
	if rd.goneBy(first, last) {
		rd.bygone = word
		rd.notUsed(first, last)
		return true
	}
	at := rd.tokens[first]
	at.end = rd.tokens[last].end
	rd.temperature(c, engine.Fahrenheit(t.value), t.unit == fahrenheitUnit, at)
	return true
}

// underBehind says that an "under" stands at i and ends what is said: "38 under".
func (rd *reading) underBehind(i int) bool {
	return slices.Contains([]string{"under", "unter", "sous", "bajo"}, rd.wordAt(i)) && rd.means(i) == thresholdWord && (i+1 == len(rd.tokens) || rd.tokens[i+1].kind == sepToken)
}

// dewPoint skips what stands behind a temperature and a slash: "-38/-42".
func (rd *reading) dewPoint(read bool, next int) int {
	if read && rd.wordAt(next) == "over" && rd.numberAt(next+1) && rd.tokens[next+1].sign < 0 && rd.tokens[next+1].value <= rd.tokens[next-1].value {
		rd.notUsed(next, next+1) // m22 over m25
		return next + 2
	}
	if !read || next+1 >= len(rd.tokens) || rd.tokens[next].kind != sepToken || !rd.tokens[next].tight || rd.text[rd.tokens[next].start] != '/' {
		return next
	}
	t := rd.tokens[next+1]
	if t.kind != numberToken || !t.tight || t.unit == feetUnit || t.unit == metreUnit || t.pair || math.Abs(t.value) < math.Abs(rd.tokens[next-1].value) || math.Abs(t.value) >= 100 || t.sign > 0 || t.sign == 0 && len(t.word) != 2 {
		return next
	}
	rd.notUsed(next+1, next+1)
	return next + 2
}

// temperature keeps the temperature, and asks when there are two that differ.
func (rd *reading) temperature(c engine.Celsius, f engine.Fahrenheit, inF bool, t token) {
	req := rd.req
	if req.HasTemperature {
		// A typed whole degree agrees with a report's tenths that round to it.
		if diff := c - req.Temperature; diff > 0.06 || diff < -0.06 {
			if body := req.Report.Body; req.HasReport && body.OK && body.C == c {
				return // the report's own whole degree, typed again
			}
			typed := strings.Join(strings.Fields(rd.text[t.start:t.end]), " ")
			rd.differ(t.start, &Problem{
				Word: typed, Text: sayTwoTemperatures(req.TemperatureWord(), typed), Either: true,
				Try: rd.around(t.start, t.end, ""), Choices: degrees(*req, Request{Temperature: c, HasTemperature: true, Fahrenheit: f, InFahrenheit: inF}),
			})
		}
		return
	}
	req.Temperature, req.HasTemperature = c, true
	if req.InFahrenheit = inF; inF {
		req.Fahrenheit = f
	}
}

// moreWords stand behind a figure that changes another.
var moreWords = []string{"more", "mer", "mehr", "weitere", "further", "mas", "colder", "warmer"}

func (rd *reading) signless(first, last int, t token) {
	word := rd.typed(first, last)
	if rd.changedBy(first) {
		rd.refuse(t.start, &Problem{Word: word, Text: sayChangedBy(word), Either: true})
		return
	}
	bare := word
	if t.pair {
		bare, _, _ = strings.Cut(word, "/")
	}
	report := rd.fail
	if rd.unsigned { // one sign will not do for both
		report = rd.refuse
	} else {
		rd.req.Unsigned, rd.req.UnsignedF = math.Abs(t.value), t.unit == fahrenheitUnit
	}
	rd.unsigned = true
	report(t.start, &Problem{Word: word, Text: sayNoSign(bare), Either: true, Try: rd.instead(first, last, "-"+bare), Choices: append(eitherSign(t.value, t.unit == fahrenheitUnit), rd.orRunway(first, last, t)...)})
}

// small is a number under a hundred without a sign: a temperature whose sign
// was forgotten, or a low altitude.
func (rd *reading) small(first, last int, t token) {
	if !rd.cold && !rd.unsigned {
		rd.signless(first, last, t)
		return
	}
	word := rd.typed(first, last)
	if k := first - 1; len(t.word) == 1 && k >= 0 && rd.numberAt(k) && rd.oneDigit(k) && rd.tokens[k].end+1 == t.start { // -3 8, minus 3 8
		both := rd.typed(k, last)
		joined := *rd.req
		c := engine.Celsius(rd.tokens[k].value*10 - t.value)
		if rd.tokens[k].sign > 0 {
			c = engine.Celsius(rd.tokens[k].value*10 + t.value)
		}
		joined.Temperature = c
		rd.differ(rd.tokens[k].start, &Problem{Word: both, Text: sayFigureSlip(both, joined.TemperatureWord()), Either: true, Choices: rightly(*rd.req, joined)})
		return
	}
	if k := first - 1; rd.means(k) == orWord && k > 0 && rd.numberAt(k-1) && rd.tokens[k-1].sign < 0 && rd.tokens[k-1].unit == noUnit && rd.req.HasTemperature && math.Abs(rd.tokens[k-1].value+t.value) <= 15 { // minus 23 or 24
		other := Request{Temperature: engine.Celsius(-t.value), HasTemperature: true}
		rd.differ(t.start, &Problem{Word: word, Text: sayTwoTemperatures(rd.req.TemperatureWord(), "-"+word), Either: true, Choices: degrees(*rd.req, other)})
		return
	}
	if whole := strconv.FormatFloat(t.value*100, 'f', 0, 64); rd.highField() && len(t.word) == 2 && t.value > 36 && !rd.underField(t.value*100) { // 82 said for 8200
		rd.refuse(t.start, &Problem{Word: word, Text: sayFigureSlip(word, whole), Try: rd.instead(first, last, whole), Small: true})
		return
	}
	if rd.onGround(t.value) && len(t.word) == 2 && t.value >= 1 && t.value <= 36 && !strings.ContainsAny(rd.req.Procedure, "0123456789") {
		rd.refuse(t.start, &Problem{Word: word, Text: sayRunway(word), Named: true, Try: rd.instead(first, last, "rwy "+word), Choices: rd.orRunway(first, last, t)})
		return
	}
	if at, ok := dottedClock(t.word); ok && len(t.word) == len("14.30") && rd.wordAt(first-1) == "at" && !rd.behindLabel() { // at 14.30
		at.Unzoned = true
		whole := math.Round(t.value * 1000)
		rd.refuse(t.start, &Problem{Word: word, Text: sayDottedTime(word, strconv.FormatFloat(whole, 'f', 0, 64)), Either: true, At: at, Choices: timeOr(at, whole)})
		return
	}
	if strings.Contains(t.word, ".") && t.value >= 1 && t.value <= 60 && !rd.underField(t.value*1000) { // 8.2 said for 8200
		whole := strconv.FormatFloat(t.value*1000, 'f', 0, 64)
		rd.refuse(t.start, &Problem{Word: word, Text: sayFigureSlip(word, whole), Try: rd.instead(first, last, whole)})
		return
	}
	p := &Problem{Word: word, Text: saySmall(word), Either: true, Small: true}
	if !strings.Contains(word, ".") {
		p.Try = rd.instead(first, last, word+" ft")
	}
	rd.refuse(t.start, p)
}

func (rd *reading) altitude(first, last int, t token, height bool) {
	t.value = math.Round(t.value*100) / 100 // a third decimal reads back as thousands
	a := Altitude{Value: t.value, Metric: t.unit == metreUnit, Bare: t.unit == noUnit, Height: height, Meaning: rd.meaning}
	if a.Feet() > highest || a.Feet() < -highest {
		word := rd.typed(first, last)
		rd.refuse(t.start, &Problem{Word: abbreviate(word), Text: sayTooHigh(abbreviate(word)), Try: rd.instead(first, last, "")})
		rd.lost(first, true)
		return
	}
	if rd.wordAt(first-1) == "flight" && a.Bare && !t.grouped && !height {
		word := rd.typed(first, last)
		rd.refuse(t.start, &Problem{Word: word, Text: sayFlightOrAltitude(word), Either: true, Choices: flightOr(a)})
		rd.lost(first, true)
		return
	}
	if (rd.not || rd.taking && !rd.takenUp(first)) && !rd.behindElevation() {
		rd.gone(a, first)
		return
	}
	if rd.block(first, last, a) {
		return
	}
	if rd.meaning == procedure.Between {
		switch n := len(rd.req.Altitudes); {
		case rd.between && rd.items[len(rd.items)-1].kind == labelItem: // "between 7400, DA 5340" has one bound
			rd.meaning, rd.between, a.Meaning = 0, false, 0
		case rd.between && n > 0:
			rd.meaning, rd.between = 0, false
			low := &rd.req.Altitudes[n-1]
			if both, ok := within(*low, a); ok {
				*low = both
			} else {
				rd.refuse(t.start, &Problem{Word: rd.typed(first, last), Text: sayUpperBound(low.figure())})
			}
			return
		default:
			rd.between = true
		}
	} else {
		rd.meaning = 0
	}
	if rd.req.Altitudes == nil {
		rd.req.Altitudes = make([]Altitude, 0, rd.figuresFrom(first))
	}
	rd.req.Altitudes = append(rd.req.Altitudes, a)
	rd.item(item{kind: numberItem, token: first, altitude: len(rd.req.Altitudes) - 1})
}

// figuresFrom is how many figures stand at token i and behind it.
func (rd *reading) figuresFrom(i int) (n int) {
	for ; i < len(rd.tokens); i++ {
		if rd.tokens[i].kind == numberToken {
			n++
		}
	}
	return n
}

// gone keeps an altitude that the message takes away, with its label where one
// stands before it.
func (rd *reading) gone(a Altitude, token int) {
	if n := len(rd.items); n > 0 && rd.items[n-1].kind == labelItem && rd.items[n-1].token > rd.goneFrom {
		a.Role, a.Label = rd.items[n-1].role, rd.items[n-1].label
		rd.items = rd.items[:n-1]
	}
	rd.not = false
	rd.req.Gone = append(rd.req.Gone, a)
}

func (rd *reading) flightLevel(first, last int) {
	word := abbreviate(rd.typed(first, last))
	rd.refuse(rd.tokens[first].start, &Problem{Word: word, Text: sayFlightLevel(word), Try: rd.instead(first, last, "")})
	rd.lost(first, true)
}
