package parse

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"firn/bot/spelling"
	"firn/engine"
	"firn/engine/procedure"
)

// Places knows the stations.
type Places interface {
	// Place finds a station by its ident or one-word name, in any case.
	Place(word string) (ident string, ok bool)
	// Nearest gives the idents that look most like a word, best first.
	Nearest(word string, n int) []string
}

// Reader reads messages against known stations and rule sets.
type Reader struct {
	places Places
	rules  []string
	named  func(words []string) (n int, ok bool)
}

// NewReader makes a Reader; rules are the ids of the rule sets that a message
// may name.
func NewReader(places Places, rules []string) *Reader {
	return &Reader{places: places, rules: rules}
}

// Named has the reader know the names of records: named says whether words
// begin with one, and how many words it is. It must be called before Parse.
func (r *Reader) Named(named func(words []string) (n int, ok bool)) { r.named = named }

// The temperatures that occur: -89.2 °C is the lowest ever observed, and no
// report has shown more than 57 °C (WMO archive of extremes, from memory).
const (
	coldest, hottest = -90, 60
	// The highest published altitude anyone could mean; flight levels begin
	// below it and are refused by name.
	highest = 60000
)

// Parse reads one message. What was understood is in the Request, also when
// there is a Problem; the Problem is the first in the message.
func (r *Reader) Parse(text string) (Request, *Problem) {
	var req Request
	s, p := clean(text)
	if p != nil {
		return req, p
	}
	metar, s, found, p := cutReport(s)
	if p != nil {
		return req, p
	}
	s = heightsBeside(s)
	rd := reading{Reader: r, req: &req, text: s}
	if found {
		req.Report, req.HasReport = metar, true
		if t := metar.Temperature(); t.OK {
			rd.temperature(t.C, 0, false, token{})
		}
		rd.takeReport(metar.Ident)
	}
	rd.tokens = lex(s, lowerASCII(s))
	if !found && !slices.ContainsFunc(rd.tokens, func(t token) bool { return t.kind != sepToken }) {
		return req, &Problem{Text: "The message is empty.", Try: Example}
	}
	rd.read()
	rd.bind()
	rd.close()
	return req, rd.problem
}

// close leaves in the request only what holds, and what is still open.
func (rd *reading) close() {
	req := rd.req
	if rd.twoTemperatures {
		req.HasTemperature = false
	}
	if rd.twoStations {
		req.Station = ""
	}
	slices.SortStableFunc(rd.open, func(a, b openProblem) int { return a.at - b.at })
	for _, o := range rd.open {
		req.Open = append(req.Open, *o.problem)
	}
	// "rules canada XKLD -38 8200" asks for figures, not for the rule set.
	if req.Verb == Rules && req.Rules != "" && (req.HasTemperature || len(req.Altitudes) > 0) {
		req.Verb = Correct
	}
}

func lowerASCII(s string) string {
	for i := 0; i < len(s); i++ {
		if lowerBit(s[i]) != 0 {
			b := []byte(s)
			for j := i; j < len(b); j++ {
				b[j] |= lowerBit(b[j])
			}
			return string(b)
		}
	}
	return s
}

// reading is one message being read.
type reading struct {
	*Reader
	req      *Request
	text     string
	tokens   []token
	items    []item
	problem  *Problem
	at       int  // where the problem stands
	cold     bool // the message holds a signed temperature
	unsigned bool // a number has been taken for a temperature without its sign
	open     []openProblem

	twoTemperatures, twoStations bool
}

// openProblem is one that no temperature or station in a follow-up mends.
type openProblem struct {
	at      int
	problem *Problem
}

// fail keeps the problem that stands first in the message.
func (rd *reading) fail(at int, p *Problem) {
	if short := abbreviate(p.Word); short != p.Word {
		p.Text, p.Word = strings.ReplaceAll(p.Text, p.Word, short), short
	}
	if rd.problem == nil || at < rd.at {
		rd.problem, rd.at = p, at
	}
}

// refuse is fail for what a temperature or a station in a follow-up would not
// mend: an altitude, a label or a word that would be lost without a word.
func (rd *reading) refuse(at int, p *Problem) {
	rd.fail(at, p)
	rd.open = append(rd.open, openProblem{at, p})
}

// instead is the message with the tokens from i to j written otherwise.
func (rd *reading) instead(i, j int, with string) string {
	return rd.around(rd.tokens[i].start, rd.tokens[j].end, with)
}

func (rd *reading) around(start, end int, with string) string {
	front, rest := rd.text[:start], rd.text[end:]
	switch {
	case with == "": // nor the separator that stood behind it, nor its brackets
		if strings.HasSuffix(front, "(") && strings.HasPrefix(rest, ")") {
			front, rest = front[:len(front)-1], rest[1:]
		}
		rest = strings.TrimLeft(rest, " ,/;|:=.")
	case with[0] == ',':
		front = strings.TrimRight(front, " ,/;|")
		if strings.HasSuffix(with, ":") {
			rest = strings.TrimLeft(rest, " ,/;|")
		}
	}
	if strings.TrimSpace(front) == "" {
		front = ""
	}
	line := strings.Join(strings.Fields(front+" "+with+" "+rest), " ")
	line = strings.Trim(line, " ,/;|")
	if rd.req.HasReport {
		line = rd.withReport(line)
	}
	line = tighten.Replace(line)
	if line == "" {
		return Example
	}
	return line
}

// tighten takes the spaces from before separators.
var tighten = strings.NewReplacer(" ,", ",", " /", "/", " ;", ";")

// withReport puts the station and temperature of a pasted report in front of
// a line that was typed beside it.
func (rd *reading) withReport(line string) string {
	head := rd.req.Station
	if strings.Contains(" "+strings.ToUpper(line)+" ", " "+head+" ") {
		head = ""
	}
	if rd.req.HasTemperature {
		head += " " + rd.req.TemperatureWord()
	}
	return strings.TrimSpace(head + " " + line)
}

// typed is what was typed from token i to j, with one space for many.
func (rd *reading) typed(i, j int) string {
	s := rd.text[rd.tokens[i].start:rd.tokens[j].end]
	if strings.Contains(s, "  ") {
		s = strings.Join(strings.Fields(s), " ")
	}
	return s
}

func (rd *reading) takeReport(ident string) {
	if ident == "" {
		return
	}
	if known, ok := rd.places.Place(ident); ok {
		rd.req.Station = known
		return
	}
	rd.fail(-1, rd.unknownStation(ident, func(with string) string {
		if rd.req.HasTemperature {
			with += " " + rd.req.TemperatureWord()
		}
		return strings.TrimSpace(with + " " + strings.Trim(strings.Join(strings.Fields(rd.text), " "), " ,/;|"))
	}))
}

func (rd *reading) unknownStation(word string, line func(with string) string) *Problem {
	rd.req.Elsewhere = true
	near := rd.places.Nearest(word, 3)
	upper := strings.ToUpper(word)
	if len(near) == 0 {
		return &Problem{
			Word: word,
			Text: fmt.Sprintf("%s is not a station firn knows; give the field elevation instead of the ident.", upper),
			Try:  line("elev ELEVATION"),
		}
	}
	return &Problem{
		Word: word,
		Text: fmt.Sprintf("%s is not a station firn knows; nearest: %s.", upper, strings.Join(near, ", ")),
		Try:  line(near[0]),
	}
}

// read goes through the tokens once and leaves labels and altitudes as items
// for bind.
func (rd *reading) read() {
	for _, t := range rd.tokens {
		if t.kind == numberToken && (t.sign != 0 || t.unit == celsiusUnit || t.unit == fahrenheitUnit) || t.word == "minus" {
			rd.cold = true
		}
	}
	rd.cold = rd.cold || rd.req.HasTemperature
	rd.items = make([]item, 0, len(rd.tokens))
	for i := 0; i < len(rd.tokens); {
		switch t := rd.tokens[i]; t.kind {
		case sepToken:
			rd.item(item{kind: breakItem, token: i})
			i++
		case bindToken:
			if n := len(rd.items); n > 0 && (rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem) {
				rd.forward()
			} else {
				rd.item(item{kind: breakItem, token: i})
			}
			i++
		case doubtToken:
			rd.doubt(i)
			rd.item(item{kind: breakItem, token: i})
			i++
		case numberToken:
			i = rd.number(i)
		case wordToken:
			i = rd.word(i)
		}
	}
}

func (rd *reading) item(it item) { rd.items = append(rd.items, it) }

// forward ties the label just read to what follows its colon, and parts it
// from what stands before.
func (rd *reading) forward() {
	n := len(rd.items) - 1
	if rd.items[n].kind == fixItem {
		if n == 0 || rd.items[n-1].kind != labelItem {
			return // "WENDL: FAF 8200"
		}
		n--
	}
	rd.items[n].forward = true
	rd.items = slices.Insert(rd.items, n, item{kind: breakItem, token: rd.items[n].token})
}

// doubt refuses what the lexer could read two ways: "- 38", "8400-27".
func (rd *reading) doubt(i int) {
	t := rd.tokens[i]
	typed := rd.typed(i, i)
	word := abbreviate(typed)
	first := strings.IndexAny(typed, "0123456789")
	if k := strings.IndexAny(typed[max(first, 0):], "+-"); first >= 0 && k > 0 {
		before, behind := typed[:first+k], typed[first+k:]
		sign := "minus"
		if behind[0] == '+' {
			sign = "plus"
		}
		rd.refuse(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” could be two numbers, or one and a %s; put a space before the %s.", word, sign, sign),
			Try:  rd.instead(i, i, before+" "+behind[:1]+strings.TrimLeft(behind, "+-")),
		})
		return
	}
	rd.fail(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” could be a dash or a minus; write the minus against the number.", word),
		Try:  rd.instead(i, i, "-"+strings.TrimLeft(typed, "+- ")),
	})
}

// number says whether a number is a temperature or an altitude, and reads
// the unit behind it. It gives the next token to read.
func (rd *reading) number(i int) int {
	t := rd.tokens[i]
	first := i
	next := i + 1
	if rd.numbersStep(i) {
		return next
	}
	// "10 900": a thousands space, when nothing else can be meant.
	if n := next; n < len(rd.tokens) && t.sign == 0 && t.unit == noUnit && !t.grouped && len(t.word) <= 2 && t.value >= 1 {
		u := rd.tokens[n]
		if u.kind == numberToken && u.sign == 0 && !u.grouped && len(u.word) >= 3 && digitsAt(u.word, 0) == 3 && (u.unit == noUnit || u.unit == feetUnit || u.unit == metreUnit) && u.start == t.end+1 && !strings.Contains(u.word, ".") && !strings.Contains(t.word, ".") {
			whole := t.value*1000 + u.value
			switch {
			case !rd.cold:
				rd.refuse(t.start, &Problem{
					Word: rd.typed(i, n),
					Text: fmt.Sprintf("“%s” could be %.0f, or %s and %s; a temperature has its sign.", rd.typed(i, n), whole, t.word, u.word),
					Try:  rd.instead(i, i, "-"+t.word),
				})
				rd.lost(i, true)
				return n + 1
			case u.value != 0 && rd.notThousands(i):
				try := fmt.Sprintf("%.0f%s", whole, strings.TrimLeft(u.word, "0123456789"))
				if rd.behindElevation() {
					try = rd.typed(i, i) + ", " + rd.typed(n, n)
				}
				rd.refuse(t.start, &Problem{
					Word: rd.typed(i, n),
					Text: fmt.Sprintf("“%s” could be %.0f, or %s and %s; write it without the space, or with a comma between the two.", rd.typed(i, n), whole, t.word, u.word),
					Try:  rd.instead(i, n, try),
				})
				rd.lost(i, true)
				return n + 1
			}
			// A unit belongs to the whole figure.
			t.value, t.unit, t.grouped = whole, u.unit, true
			next = n + 1
		}
	}
	height := false
units:
	for next < len(rd.tokens) && rd.tokens[next].kind == wordToken {
		p, n := match(rd.tokens, next)
		switch p.meaning {
		case feetWord:
			t.unit = feetUnit
		case metreWord:
			if rd.tokens[next].word == "m" && rd.metreOrMinus(i, next) {
				return next + 2
			}
			t.unit = metreUnit
		case celsiusWord:
			t.unit = celsiusUnit
		case fahrenheitWord:
			t.unit = fahrenheitUnit
		case heightWord:
			if t.sign != 0 || height {
				break units
			}
			height = true
		case seaWord:
		default:
			break units
		}
		next += n
	}
	last := next - 1
	elevation := rd.behindElevation()
	refusals := len(rd.open)
	switch {
	case elevation && (t.unit == noUnit || t.unit == feetUnit || t.unit == metreUnit) && !t.grouped && !t.pair:
		// A field may lie at 14 ft, or below the sea.
		rd.altitude(first, last, t, height)
		return next
	case t.unit == celsiusUnit || t.unit == fahrenheitUnit || t.sign != 0:
		rd.readTemperature(first, last, t)
	case t.unit == noUnit && !height && t.value == 0 && (t.word == "0" || t.word == "00" || t.word == "0.0"):
		rd.readTemperature(first, last, t) // zero needs no sign
	case t.unit == noUnit && !height && t.value < 100:
		rd.small(first, last, t)
	default:
		rd.altitude(first, last, t, height)
		return next
	}
	rd.lost(first, len(rd.open) > refusals)
	return next
}

// numbersStep says that the number at i counts a step-down fix: "step 1 7400".
func (rd *reading) numbersStep(i int) bool {
	n := len(rd.items)
	if n == 0 || rd.items[n-1].role != procedure.StepDown || i+1 == len(rd.tokens) {
		return false
	}
	t, next := rd.tokens[i], rd.tokens[i+1]
	return len(t.word) == 1 && next.kind == numberToken && next.sign == 0 && next.value >= 1000
}

// lost leaves the place of a number that is no altitude: nothing, or that of
// an altitude where one was refused behind its label.
func (rd *reading) lost(token int, refused bool) {
	if n := len(rd.items); refused && n > 0 && rd.items[n-1].kind == labelItem {
		rd.item(item{kind: numberItem, token: token, altitude: -1})
		return
	}
	rd.item(item{kind: breakItem, token: token})
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

// metreOrMinus asks about "8200 m 38", which could be metres or minus.
func (rd *reading) metreOrMinus(i, m int) bool {
	n := m + 1
	if n >= len(rd.tokens) || rd.tokens[n].kind != numberToken || rd.tokens[n].sign != 0 || rd.tokens[n].unit != noUnit || rd.tokens[n].value >= 100 {
		return false
	}
	rd.refuse(rd.tokens[m].start, &Problem{
		Word: rd.typed(m, n),
		Text: fmt.Sprintf("“%s” could be minus %s, or metres and %s.", rd.typed(m, n), rd.tokens[n].word, rd.tokens[n].word),
		Try:  rd.instead(m, n, "-"+rd.tokens[n].word),
	})
	rd.item(item{kind: breakItem, token: i})
	return true
}

func (rd *reading) readTemperature(first, last int, t token) {
	word := rd.typed(first, last)
	magnitude := math.Abs(t.value)
	switch {
	case t.unit == feetUnit || t.unit == metreUnit || magnitude >= 150 || t.grouped:
		altitude := Altitude{Value: magnitude, Metric: t.unit == metreUnit, Bare: t.unit != feetUnit}
		says := "%s has a sign; an altitude has none, and no temperature is that far from zero."
		if t.sign == 0 {
			says = "%s is no temperature that occurs at an airfield; an altitude has no degrees."
		}
		rd.refuse(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf(says, abbreviate(word)),
			Try:  rd.instead(first, last, altitude.figure()),
		})
		return
	case t.sign == 0 && t.value != 0 && (!t.pair || t.value > 0):
		rd.signless(first, last, t)
		return
	}
	c := engine.Celsius(t.value)
	if t.unit == fahrenheitUnit {
		c = engine.Fahrenheit(t.value).Celsius()
	}
	if c < coldest || c > hottest {
		rd.fail(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf("%s is no temperature that occurs at an airfield.", abbreviate(word)),
			Try:  rd.instead(first, last, ""),
		})
		return
	}
	rd.temperature(c, engine.Fahrenheit(t.value), t.unit == fahrenheitUnit, rd.tokens[first])
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
			rd.twoTemperatures = true
			rd.fail(t.start, &Problem{
				Word: rd.text[t.start:t.end],
				Text: fmt.Sprintf("There are two temperatures, %s and %s; which one holds?", req.TemperatureWord(), rd.text[t.start:t.end]),
				Try:  rd.around(t.start, t.end, ""),
			})
		}
		return
	}
	req.Temperature, req.HasTemperature = c, true
	if req.InFahrenheit = inF; inF {
		req.Fahrenheit = f
	}
}

func (rd *reading) signless(first, last int, t token) {
	word := rd.typed(first, last)
	bare := word
	if t.pair {
		bare, _, _ = strings.Cut(word, "/")
	}
	report := rd.fail
	if rd.unsigned { // one sign will not do for both
		report = rd.refuse
	}
	rd.unsigned = true
	report(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("%s has no sign; is it -%s or +%s?", word, bare, bare),
		Try:  rd.instead(first, last, "-"+bare),
	})
}

// small is a number under a hundred without a sign: a temperature whose sign
// was forgotten, or a low altitude.
func (rd *reading) small(first, last int, t token) {
	if !rd.cold && !rd.unsigned {
		rd.signless(first, last, t)
		return
	}
	word := rd.typed(first, last)
	rd.refuse(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("%s could be an altitude or a second temperature; write %s ft if it is an altitude.", word, word),
		Try:  rd.instead(first, last, word+" ft"),
	})
}

func (rd *reading) altitude(first, last int, t token, height bool) {
	a := Altitude{Value: t.value, Metric: t.unit == metreUnit, Bare: t.unit == noUnit, Height: height}
	if a.Feet() > highest || a.Feet() < -highest {
		word := rd.typed(first, last)
		rd.refuse(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf("%s is too high for a published altitude.", abbreviate(word)),
			Try:  rd.instead(first, last, ""),
		})
		rd.lost(first, true)
		return
	}
	rd.req.Altitudes = append(rd.req.Altitudes, a)
	rd.item(item{kind: numberItem, token: first, altitude: len(rd.req.Altitudes) - 1})
}

// abbreviate shortens a word for a sentence.
func abbreviate(word string) string {
	const most = 24
	if len(word) <= most {
		return word
	}
	return strings.ToValidUTF8(word[:most-len("…")], "") + "…"
}

// word reads a word or phrase, and gives the next token to read.
func (rd *reading) word(i int) int {
	if next := rd.chosen(i); next > i {
		return next
	}
	p, n := match(rd.tokens, i)
	if n == 0 {
		return rd.otherWord(i)
	}
	switch p.meaning {
	case filler, seaWord, temperatureWord:
	case feetWord, metreWord, celsiusWord, fahrenheitWord:
		return rd.unknown(i)
	case roleWord:
		rd.item(item{kind: labelItem, token: i, role: p.role, label: p.label})
	case compensatedWord:
		rd.req.Compensated = p.label
		rd.item(item{kind: breakItem, token: i})
	case elevationWord:
		rd.item(item{kind: labelItem, token: i, elev: true})
	case heightWord:
		word, last, with := rd.typed(i, i+n-1), i+n-1, ""
		if last+1 < len(rd.tokens) && rd.tokens[last+1].kind == numberToken {
			last++
			with = rd.typed(last, last) + " " + word
		}
		rd.refuse(rd.tokens[i].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” must stand behind the height that it belongs to.", word),
			Try:  rd.instead(i, last, with),
		})
		rd.item(item{kind: breakItem, token: i})
	case minusWord, plusWord:
		return rd.spelledSign(i, p.meaning == minusWord)
	case flightLevelWord:
		last := i + n - 1
		if last+1 < len(rd.tokens) && rd.tokens[last+1].kind == numberToken {
			last++
		}
		rd.flightLevel(i, last)
		return last + 1
	case procedureWord, runwayWord:
		return rd.procedure(i)
	case heightMinimum:
		// Its height is above the threshold, which nobody has told us.
		rd.refuse(rd.tokens[i].start, &Problem{
			Word: rd.typed(i, i+n-1),
			Text: fmt.Sprintf("%s is a height above the threshold; give the %s, an altitude.", strings.ToUpper(rd.typed(i, i+n-1)), p.role.Phrase()),
			Try:  rd.instead(i, rd.withFigure(i+n-1), p.role.Label()+" nnnn"),
		})
		return rd.withFigure(i+n-1) + 1
	case notCorrected:
		last := rd.withFigure(i + n - 1)
		rd.refuse(rd.tokens[i].start, &Problem{
			Word: rd.typed(i, i+n-1),
			Text: fmt.Sprintf("“%s”: departures, arrivals, vectoring and assigned altitudes are not corrected by the crew; ask air traffic control for the altitude you need.", rd.typed(i, i+n-1)),
			Try:  rd.instead(i, last, ""),
		})
		return last + 1
	case verbWord:
		if p.verb.Shows() || i == 0 || rd.onlyFiller(i) {
			return rd.verb(i, p.verb)
		}
		if p.verb == Rules && i+1 < len(rd.tokens) && slices.Contains(rd.rules, rd.tokens[i+1].word) {
			break // "8200 rules icao"
		}
		return rd.unknown(i)
	case paperWord:
		if rd.req.Verb != Card {
			return rd.unknown(i)
		}
		rd.req.Kind = p.label
		rd.item(item{kind: breakItem, token: i})
		if rd.req.Rest == "" {
			return rd.recordName(i + n) // "card letter KALOMI-RUTA"
		}
	}
	return i + n
}

// onlyFiller says that nothing but small words stands before token i.
func (rd *reading) onlyFiller(i int) bool {
	for j := range i {
		p, n := match(rd.tokens, j)
		if rd.tokens[j].kind == wordToken && (n == 0 || p.meaning != filler) || rd.tokens[j].kind == numberToken {
			return false
		}
	}
	return true
}

func (rd *reading) verb(i int, v Verb) int {
	rd.req.Verb = v
	switch v {
	case Picture:
		// Anywhere else “day” and “curve” are names of fixes.
		if i+1 < len(rd.tokens) && slices.Contains(pictureKinds, rd.tokens[i+1].word) {
			rd.req.Kind = rd.tokens[i+1].word
			return i + 2
		}
		return i + 1
	case Card:
		return rd.recordName(i + 1)
	case Why, Add, Remove, Same, Rules, Help:
		return i + 1
	}
	// The other verbs take words of their own.
	rd.req.Rest = strings.Join(strings.Fields(rd.text[rd.tokens[i].end:]), " ")
	if v == Brief {
		var p *Problem
		if rd.req.Stops, p = rd.stops(rd.req.Rest); p != nil {
			rd.fail(rd.tokens[i].start, p)
		}
	}
	return len(rd.tokens)
}

// pictureKinds are what a picture may show.
var pictureKinds = []string{"profile", "curve", "day"}

// recordName takes the name of a record from token i on, if one stands there,
// and gives the next token to read.
func (rd *reading) recordName(i int) int {
	if rd.named == nil || i == len(rd.tokens) {
		return i
	}
	words := strings.Fields(rd.text[rd.tokens[i].start:])
	for k := range words {
		words[k] = strings.Trim(words[k], ",;:")
	}
	n, ok := rd.named(words)
	if !ok {
		return i
	}
	rd.req.Rest = strings.Join(words[:n], " ")
	for end := rd.tokens[i].start; n > 0; n-- {
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

func (rd *reading) spelledSign(i int, minus bool) int {
	sign := int8(1)
	if minus {
		sign = -1
	}
	n := i + 1
	if n < len(rd.tokens) && rd.tokens[n].kind == numberToken && rd.tokens[n].sign == 0 {
		t := &rd.tokens[n]
		t.sign = sign
		if minus {
			t.value = -t.value
		}
		t.start, t.word = rd.tokens[i].start, strings.ToLower(rd.text[rd.tokens[i].start:t.end])
		return rd.number(n)
	}
	if v, words := inWords(rd.tokens, i+1); words > 0 {
		return rd.words(i, i+words, fmt.Sprintf("%+d", int(sign)*v), rd.fail)
	}
	word := rd.typed(i, i)
	rd.fail(rd.tokens[i].start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” has no figure behind it; write the temperature in figures, as in “-38”.", word),
		Try:  rd.instead(i, i, "-nn"),
	})
	rd.item(item{kind: breakItem, token: i})
	return i + 1
}

// words asks for a number in figures that was written in words.
func (rd *reading) words(first, last int, figure string, refuse func(int, *Problem)) int {
	word := rd.typed(first, last)
	refuse(rd.tokens[first].start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” is a number in words; write it in figures.", word),
		Try:  rd.instead(first, last, figure),
	})
	rd.lost(first, true)
	return last + 1
}

// withFigure is the last token of a word and the bare figure behind it.
func (rd *reading) withFigure(last int) int {
	if next := last + 1; next < len(rd.tokens) && rd.tokens[next].kind == numberToken && rd.tokens[next].sign == 0 {
		return next
	}
	return last
}

func (rd *reading) flightLevel(first, last int) {
	word := rd.typed(first, last)
	rd.refuse(rd.tokens[first].start, &Problem{
		Word: abbreviate(word),
		Text: fmt.Sprintf("%s is a flight level: it is flown on the standard setting and is not corrected here.", abbreviate(strings.ToUpper(word))),
		Try:  rd.instead(first, last, ""),
	})
	rd.lost(first, true)
}

// procedure reads the name of a stored procedure: "rnp y 31", "vor a", "rwy
// 28". "LOC 5500" is a minimums line, unless altitudes without a label stand
// beside it.
func (rd *reading) procedure(i int) int {
	j := i
	var name []string
	for j < len(rd.tokens) {
		t := rd.tokens[j]
		p, n := match(rd.tokens, j)
		switch {
		case t.kind == wordToken && (p.meaning == procedureWord || p.meaning == runwayWord && n == 1):
			if p.meaning == procedureWord || len(name) == 0 {
				name = append(name, t.word)
			}
		case t.kind == wordToken && len(t.word) == 1 && isLetter(t.word[0]):
			name = append(name, t.word)
		case t.kind == wordToken && runway(t.word):
			name = append(name, t.word)
			rd.req.Procedure = strings.Join(name, " ")
			return j + 1
		case t.kind == numberToken && t.sign == 0 && t.unit == noUnit && !t.grouped && t.value >= 1 && t.value <= 36:
			name = append(name, t.word)
			rd.req.Procedure = strings.Join(name, " ")
			return j + 1
		default:
			if line, ok := minimumsLines[rd.tokens[i].word]; ok && j == i+1 && t.kind == numberToken && t.sign == 0 && t.value >= 100 {
				rd.item(item{kind: labelItem, token: i, role: line.role, label: line.label, approach: true})
				return j
			}
			rd.req.Procedure = strings.Join(name, " ")
			return j
		}
		j++
	}
	rd.req.Procedure = strings.Join(name, " ")
	return j
}

// minimumsLines are the approaches that crews name for their minimums.
var minimumsLines = map[string]struct {
	role  procedure.Role
	label string
}{
	"ils": {procedure.DecisionAltitude, "ILS DA"},
	"loc": {procedure.MinimumDescent, "LOC MDA"},
	"vor": {procedure.MinimumDescent, "VOR MDA"},
	"ndb": {procedure.MinimumDescent, "NDB MDA"},
}

// runway is true of "28l".
func runway(w string) bool {
	n := digitsAt(w, 0)
	return (n == 1 || n == 2) && len(w) == n+1 && strings.IndexByte("lrc", w[n]) >= 0
}

// otherWord reads what is no phrase: a station, a rule set, a fix, or a word
// that is not understood.
func (rd *reading) otherWord(i int) int {
	t := rd.tokens[i]
	if ident, ok := rd.places.Place(t.word); ok {
		if have := rd.req.Station; have != "" && have != ident {
			rd.twoStations = true
			rd.fail(t.start, &Problem{
				Word: rd.typed(i, i),
				Text: fmt.Sprintf("There are two stations, %s and %s; ask for one at a time.", have, ident),
				Try:  rd.instead(i, i, ""),
			})
		} else {
			rd.req.Station = ident
		}
		rd.item(item{kind: breakItem, token: i})
		return i + 1
	}
	if slices.Contains(rd.rules, t.word) {
		rd.req.Rules = t.word
		rd.item(item{kind: breakItem, token: i})
		return i + 1
	}
	if v, words := inWords(rd.tokens, i); words > 0 {
		return rd.words(i, i+words-1, strconv.Itoa(v), rd.refuse)
	}
	if name := fused(t.word); name != "" && !rd.behindLabel() {
		rd.req.Procedure = name
		return i + 1
	}
	if rest, ok := strings.CutPrefix(t.word, "fl"); ok && rest != "" && digitsAt(rest, 0) == len(rest) {
		rd.flightLevel(i, i)
		return i + 1
	}
	if (len(t.word) == 5 || len(t.word) == 3) && letters(t.word) && nearWord(t.word) == "" && phrases[t.word] == nil && t.word != "below" {
		rd.item(item{kind: fixItem, token: i, fix: strings.ToUpper(t.word)})
		return i + 1
	}
	return rd.unknown(i)
}

// fused is the name of a procedure that was written without its spaces, such
// as "rnav31", "rnpy31" or "ils31l"; empty for another word.
func fused(w string) string {
	at := strings.IndexAny(w, "0123456789")
	if at < 2 || len(w)-at > len("31l") {
		return ""
	}
	kind, letter, rwy := w[:at], "", w[at:]
	if !names(kind) {
		if kind, letter = w[:at-1], " "+w[at-1:at]; !names(kind) {
			return ""
		}
	}
	n, err := strconv.Atoi(strings.TrimRight(rwy, "lrc"))
	if err != nil || n < 1 || n > 36 || len(rwy) > 2 && !runway(rwy) {
		return ""
	}
	return kind + letter + " " + rwy
}

// names says that a word begins the name of a procedure.
func names(w string) bool {
	for _, p := range phrases[w] {
		if len(p.words) == 1 && (p.meaning == procedureWord || p.meaning == runwayWord) {
			return true
		}
	}
	return false
}

// behindLabel says that a label, or a fix, waits for its altitude: the word
// may then be a fix of its own.
func (rd *reading) behindLabel() bool {
	n := len(rd.items)
	return n > 0 && (rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem)
}

func letters(w string) bool {
	for i := 0; i < len(w); i++ {
		if !isLetter(w[i]) {
			return false
		}
	}
	return true
}

// nearWord finds the label or command that a word is one slip away from, or
// the beginning of. It offers nothing that would change one short label into
// another: MEA is no slip for MDA.
func nearWord(word string) string {
	if len(word) < 3 {
		return ""
	}
	best, bestFar := "", 2
	for known, list := range phrases {
		if len(known) < 3 || known == word || !offered(list) {
			continue
		}
		far := spelling.Distance(word, known, 1)
		switch {
		case strings.HasPrefix(known, word):
			far = 0
		case far == 1 && len(known) == len(word) && len(word) < 5 && !swapped(word, known):
			continue
		}
		if far < bestFar || far == bestFar && far < 2 && (len(known) < len(best) || len(known) == len(best) && known < best) {
			best, bestFar = known, far
		}
	}
	return best
}

// offered says that a word stands for something on its own.
func offered(list []phrase) bool {
	for _, p := range list {
		if len(p.words) > 1 {
			continue
		}
		switch p.meaning {
		case roleWord, elevationWord, heightWord, minusWord, verbWord:
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

// unknown refuses a word by name, with the nearest that is known.
func (rd *reading) unknown(i int) int {
	t := rd.tokens[i]
	word := rd.typed(i, i)
	rd.item(item{kind: breakItem, token: i})
	switch near := nearWord(t.word); {
	case near != "":
		rd.refuse(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf("“%s” is not understood; did you mean “%s”?", abbreviate(word), near),
			Try:  rd.instead(i, i, near),
		})
	case t.word == "final":
		rd.refuse(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” could be the final approach fix or the minimums; write FAF, DA or MDA.", word),
			Try:  rd.instead(i, i, "FAF"),
		})
	case !rd.namesStation() && (likeIdent(t.word) || letters(t.word) && len(rd.places.Nearest(word, 1)) > 0):
		rd.fail(t.start, rd.unknownStation(word, func(with string) string { return rd.instead(i, i, with) }))
	default:
		rd.refuse(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf("“%s” is not understood.", abbreviate(word)),
			Try:  rd.instead(i, i, ""),
		})
	}
	return i + 1
}

// namesStation says that a station or an elevation stands somewhere in the
// message, or a word was refused as one: any other word is none.
func (rd *reading) namesStation() bool {
	if rd.req.Station != "" || rd.req.Elsewhere {
		return true
	}
	for _, t := range rd.tokens {
		if t.kind != wordToken {
			continue
		}
		if _, ok := rd.places.Place(t.word); ok {
			return true
		}
		for _, p := range phrases[t.word] {
			if p.meaning == elevationWord {
				return true
			}
		}
	}
	return false
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

// bind gives the altitudes their labels and fixes.
func (rd *reading) bind() {
	items := rd.items
	for k := range items {
		items[k].boundTo = -1
	}
	for _, trouble := range bindLabels(items, rd.req.Verb != Remove) {
		if trouble.doubt || rd.req.Verb != Remove {
			rd.unbound(items[trouble.item], trouble.doubt)
		}
	}
	for k := range items {
		if items[k].kind == fixItem {
			rd.bindFix(k)
		}
	}
	items = rd.items[:len(items)] // behind them are breaks of refused words
	elevation := -1
	for k := range items {
		it := &items[k]
		if it.kind != labelItem {
			continue
		}
		if it.boundTo < 0 {
			if rd.req.Verb == Remove && !it.elev { // "remove DA"
				rd.req.Altitudes = append(rd.req.Altitudes, Altitude{Role: it.role, Label: it.label, Fix: it.fix, Bare: true})
			}
			continue
		}
		number := &items[it.boundTo]
		if number.altitude < 0 {
			continue // refused
		}
		if !it.elev {
			a := &rd.req.Altitudes[number.altitude]
			a.Role, a.Label, a.Fix = it.role, it.label, it.fix
			continue
		}
		if elevation >= 0 {
			first, last := min(it.token, number.token), max(it.token, number.token)
			rd.refuse(rd.tokens[it.token].start, &Problem{Word: rd.typed(it.token, it.token), Text: "There are two elevations; which one holds?", Try: rd.instead(first, last, "")})
			continue
		}
		elevation = number.altitude
	}
	rd.bindApproach(items)
	rd.units()
	if elevation >= 0 {
		e := rd.req.Altitudes[elevation]
		rd.req.Elevation, rd.req.HasElevation = e, true
		if rd.req.Altitudes = slices.Delete(rd.req.Altitudes, elevation, elevation+1); len(rd.req.Altitudes) == 0 {
			rd.req.Altitudes = nil
		}
	}
}

// bindFix gives the fix at k to the label beside it, or to that of the
// altitude beside it. Where two could have it, the one that has the fix
// between itself and its altitude does.
func (rd *reading) bindFix(k int) {
	items := rd.items
	word := rd.typed(items[k].token, items[k].token)
	before, after := rd.labelAt(k-1), rd.labelAt(k+1)
	switch {
	case before >= 0 && after >= 0 && before != after && items[before].boundTo == k+1:
		after = -1
	case before >= 0 && after >= 0 && before != after && items[after].boundTo == k-1:
		before = -1
	}
	switch {
	case before >= 0 && after >= 0 && before != after:
		rd.refuse(rd.tokens[items[k].token].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” stands between two labels; part them with a comma.", word),
			Try:  rd.instead(items[k].token, items[k].token, ", "+word),
		})
	case before >= 0:
		items[before].fix = items[k].fix
	case after >= 0:
		items[after].fix = items[k].fix
	case k > 0 && items[k-1].kind == numberItem || k+1 < len(items) && items[k+1].kind == numberItem:
		rd.refuse(rd.tokens[items[k].token].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” could be a fix, but no label stands beside it; write IAF, IF, FAF or step with it.", word),
			Try:  rd.instead(items[k].token, items[k].token, ""),
		})
	default:
		rd.unknown(items[k].token)
	}
}

// labelAt is the label at i, or that of the altitude at i, which has no fix
// yet; -1 when there is none.
func (rd *reading) labelAt(i int) int {
	if i < 0 || i >= len(rd.items) {
		return -1
	}
	at := -1
	switch rd.items[i].kind {
	case labelItem:
		at = i
	case numberItem:
		at = slices.IndexFunc(rd.items, func(it item) bool { return it.kind == labelItem && it.boundTo == i })
	}
	if at >= 0 && (rd.items[at].elev || rd.items[at].fix != "") {
		return -1
	}
	return at
}

// bindApproach asks about "ILS 8200 7400": the name of the approach, or the
// minimums of its line?
func (rd *reading) bindApproach(items []item) {
	for k := range items {
		if !items[k].approach || items[k].boundTo < 0 {
			continue
		}
		for _, a := range rd.req.Altitudes {
			if a.Role != procedure.NoRole {
				continue
			}
			word := rd.typed(items[k].token, items[k].token)
			rd.refuse(rd.tokens[items[k].token].start, &Problem{
				Word: word,
				Text: fmt.Sprintf("“%s” could name the approach or its minimums; write %s for the minimums, or leave it out.", word, items[k].label),
				Try:  rd.instead(items[k].token, items[k].token, ""),
			})
			return
		}
	}
}

// units asks where metres and altitudes without a unit stand side by side.
func (rd *reading) units() {
	if !slices.ContainsFunc(rd.req.Altitudes, func(a Altitude) bool { return a.Metric }) {
		return
	}
	for k := range rd.items {
		it := &rd.items[k]
		if it.kind != numberItem || it.altitude < 0 || !rd.req.Altitudes[it.altitude].Bare {
			continue
		}
		word := rd.typed(it.token, it.token)
		rd.refuse(rd.tokens[it.token].start, mixed(word, rd.instead(it.token, it.token, word+likelyUnit(rd.req.Altitudes[it.altitude].Value))))
		return
	}
}

func (rd *reading) unbound(it item, doubt bool) {
	word := rd.text[rd.tokens[it.token].start:rd.tokens[it.token].end]
	if doubt && lonely(rd.items) { // commas are there already
		rd.refuse(rd.tokens[it.token].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” stands between two altitudes; put a colon between it and its own.", word),
			Try:  rd.instead(it.token, it.token, ", "+word+":"),
		})
		return
	}
	if doubt {
		rd.refuse(rd.tokens[it.token].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” stands between two altitudes; part them with a comma.", word),
			Try:  rd.instead(it.token, it.token, ", "+word),
		})
		return
	}
	rd.refuse(rd.tokens[it.token].start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” has no altitude beside it.", word),
		Try:  rd.instead(it.token, it.token, ""),
	})
}
