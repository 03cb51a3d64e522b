package parse

import (
	"fmt"
	"slices"
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
}

// NewReader makes a Reader; rules are the ids of the rule sets that a message
// may name.
func NewReader(places Places, rules []string) *Reader {
	return &Reader{places: places, rules: rules}
}

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
	rd := reading{Reader: r, req: &req, text: s}
	if found {
		rd.takeReport(metar.Ident)
		req.Report, req.HasReport = metar, true
		if t := metar.Temperature(); t.OK {
			rd.temperature(t.C, 0, false, token{})
		}
	}
	rd.tokens = lex(s, lowerASCII(s))
	if len(rd.tokens) == 0 && !found {
		return req, &Problem{Text: "The message is empty.", Try: Example}
	}
	rd.read()
	rd.bind()
	return req, rd.problem
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
	tempWord token
	tempText string
}

// fail keeps the problem that stands first in the message.
func (rd *reading) fail(at int, p *Problem) {
	if rd.problem == nil || at < rd.at {
		rd.problem, rd.at = p, at
	}
}

// instead is the message with the tokens from i to j written otherwise.
func (rd *reading) instead(i, j int, with string) string {
	return rd.around(rd.tokens[i].start, rd.tokens[j].end, with)
}

func (rd *reading) around(start, end int, with string) string {
	rest := rd.text[end:]
	if with == "" { // nor the separator that stood behind it
		rest = strings.TrimLeft(rest, " ,/;|")
	}
	line := strings.Join(strings.Fields(rd.text[:start]+" "+with+" "+rest), " ")
	if rd.req.HasReport {
		line = rd.withReport(line)
	}
	line = strings.TrimRight(line, " ,/;|")
	line = strings.ReplaceAll(line, " ,", ",")
	if line == "" {
		return Example
	}
	return line
}

// withReport puts the station and temperature of a pasted report in front of
// a line that was typed beside it.
func (rd *reading) withReport(line string) string {
	head := rd.req.Station
	if rd.req.HasTemperature {
		head += " " + rd.req.TemperatureWord()
	}
	return strings.TrimSpace(head + " " + line)
}

func (rd *reading) typed(i, j int) string { return rd.text[rd.tokens[i].start:rd.tokens[j].end] }

func (rd *reading) takeReport(ident string) {
	if ident == "" {
		return
	}
	if known, ok := rd.places.Place(ident); ok {
		rd.req.Station = known
		return
	}
	rd.fail(-1, rd.unknownStation(ident, func(with string) string {
		return strings.TrimSpace(with + " " + strings.Join(strings.Fields(rd.text), " "))
	}))
}

func (rd *reading) unknownStation(word string, line func(with string) string) *Problem {
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
			rd.item(item{kind: breakItem})
			return
		}
		n--
	}
	rd.items[n].forward = true
	rd.items = slices.Insert(rd.items, n, item{kind: breakItem, token: rd.items[n].token})
}

// doubt refuses what the lexer could read two ways: "- 38", "8400-27".
func (rd *reading) doubt(i int) {
	t := rd.tokens[i]
	word := rd.typed(i, i)
	a, b, _ := strings.Cut(strings.TrimLeft(word, "-"), "-")
	if b == "" {
		n := strings.TrimSpace(a)
		rd.fail(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” could be a dash or a minus; write the minus against the number.", word),
			Try:  rd.instead(i, i, "-"+n),
		})
		return
	}
	rd.fail(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” could be two numbers, or one and a minus; put a space before the minus.", word),
		Try:  rd.instead(i, i, strings.TrimSpace(a)+" -"+b),
	})
}

// number says whether a number is a temperature or an altitude, and reads
// the unit behind it. It gives the next token to read.
func (rd *reading) number(i int) int {
	t := rd.tokens[i]
	first := i
	next := i + 1
	// "10 000": a thousands space, when nothing else can be meant.
	if n := next; n < len(rd.tokens) && t.sign == 0 && t.unit == noUnit && !t.grouped && len(t.word) <= 2 && t.value >= 1 {
		u := rd.tokens[n]
		if u.kind == numberToken && u.sign == 0 && !u.grouped && len(u.word) >= 3 && digitsAt(u.word, 0) == 3 && (u.unit == noUnit || u.unit == feetUnit || u.unit == metreUnit) && u.start == t.end+1 && !strings.Contains(u.word, ".") && !strings.Contains(t.word, ".") {
			whole := t.value*1000 + u.value
			if !rd.cold {
				rd.fail(t.start, &Problem{
					Word: rd.typed(i, n),
					Text: fmt.Sprintf("“%s” could be %.0f ft, or %s and %s; a temperature has its sign.", rd.typed(i, n), whole, t.word, u.word),
					Try:  rd.instead(i, i, "-"+t.word),
				})
				rd.item(item{kind: breakItem, token: i})
				return n + 1
			}
			if u.unit == metreUnit && u.value != 0 {
				// the unit belongs to the whole figure
				whole = t.value*1000 + u.value
			}
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
			height = true
		default:
			break units
		}
		next += n
	}
	last := next - 1
	switch {
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
	rd.item(item{kind: breakItem, token: first})
	return next
}

// metreOrMinus asks about "10000 m 38", which could be metres or minus.
func (rd *reading) metreOrMinus(i, m int) bool {
	n := m + 1
	if n >= len(rd.tokens) || rd.tokens[n].kind != numberToken || rd.tokens[n].sign != 0 || rd.tokens[n].unit != noUnit || rd.tokens[n].value >= 100 {
		return false
	}
	rd.fail(rd.tokens[m].start, &Problem{
		Word: rd.typed(m, n),
		Text: fmt.Sprintf("“%s” could be minus %s, or metres and %s.", rd.typed(m, n), rd.tokens[n].word, rd.tokens[n].word),
		Try:  rd.instead(m, n, "-"+rd.tokens[n].word),
	})
	rd.item(item{kind: breakItem, token: i})
	return true
}

func (rd *reading) readTemperature(first, last int, t token) {
	word := rd.typed(first, last)
	magnitude := t.value
	if magnitude < 0 {
		magnitude = -magnitude
	}
	switch {
	case t.unit == feetUnit || t.unit == metreUnit || magnitude >= 150 || t.grouped:
		rd.fail(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("%s has a sign; an altitude has none, and no temperature is that far from zero.", word),
			Try:  rd.instead(first, last, strings.TrimLeft(word, "+-mM")),
		})
		return
	case t.sign == 0 && t.value != 0 && (!t.pair || t.value > 0):
		rd.unsigned(first, last, t)
		return
	}
	c := engine.Celsius(t.value)
	if t.unit == fahrenheitUnit {
		c = engine.Fahrenheit(t.value).Celsius()
	}
	if c < coldest || c > hottest {
		rd.fail(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("%s is no temperature that occurs at an airfield.", word),
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
			earlier := req.TemperatureWord()
			req.HasTemperature = false
			rd.fail(t.start, &Problem{
				Word: t.word,
				Text: fmt.Sprintf("There are two temperatures, %s and %s; which one holds?", earlier, rd.text[t.start:t.end]),
				Try:  rd.around(t.start, t.end, ""),
			})
		}
		return
	}
	req.Temperature, req.HasTemperature = c, true
	req.Fahrenheit, req.InFahrenheit = f, inF
}

func (rd *reading) unsigned(first, last int, t token) {
	word := rd.typed(first, last)
	bare := word
	if t.pair {
		bare, _, _ = strings.Cut(word, "/")
	}
	rd.fail(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("%s has no sign; is it -%s or +%s?", word, bare, bare),
		Try:  rd.instead(first, last, "-"+bare),
	})
}

// small is a number under a hundred without a sign: a temperature whose sign
// was forgotten, or a low altitude.
func (rd *reading) small(first, last int, t token) {
	if !rd.cold {
		rd.unsigned(first, last, t)
		return
	}
	word := rd.typed(first, last)
	rd.fail(t.start, &Problem{
		Word: word,
		Text: fmt.Sprintf("%s could be an altitude or a second temperature; write %s ft if it is an altitude.", word, word),
		Try:  rd.instead(first, last, word+" ft"),
	})
}

func (rd *reading) altitude(first, last int, t token, height bool) {
	a := Altitude{Value: t.value, Metric: t.unit == metreUnit, Height: height}
	if a.Feet() > highest {
		word := rd.typed(first, last)
		rd.fail(t.start, &Problem{
			Word: word,
			Text: fmt.Sprintf("%s is too high for a published altitude.", abbreviate(word)),
			Try:  rd.instead(first, last, ""),
		})
		rd.item(item{kind: breakItem, token: first})
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
	return strings.ToValidUTF8(word[:most], "") + "…"
}

// word reads a word or phrase, and gives the next token to read.
func (rd *reading) word(i int) int {
	p, n := match(rd.tokens, i)
	if n == 0 {
		return rd.otherWord(i)
	}
	switch p.meaning {
	case filler, temperatureWord, runwayWord, feetWord, metreWord, celsiusWord, fahrenheitWord:
		if p.meaning != filler && p.meaning != temperatureWord {
			return rd.unknown(i)
		}
	case roleWord:
		rd.item(item{kind: labelItem, token: i, role: p.role, label: p.label})
	case elevationWord:
		rd.item(item{kind: labelItem, token: i, elev: true})
	case heightWord:
		rd.fail(rd.tokens[i].start, &Problem{
			Word: rd.typed(i, i+n-1),
			Text: fmt.Sprintf("“%s” stands behind the height that it belongs to.", rd.typed(i, i+n-1)),
			Try:  rd.instead(i, i+n-1, ""),
		})
	case minusWord, plusWord:
		return rd.spelledSign(i, p.meaning == minusWord)
	case flightLevelWord:
		last := i + n - 1
		if last+1 < len(rd.tokens) && rd.tokens[last+1].kind == numberToken {
			last++
		}
		rd.flightLevel(i, last)
		return last + 1
	case procedureWord:
		return rd.procedure(i)
	case notCorrected:
		last := i + n - 1
		if last+1 < len(rd.tokens) && rd.tokens[last+1].kind == numberToken && rd.tokens[last+1].sign == 0 {
			last++
		}
		rd.fail(rd.tokens[i].start, &Problem{
			Word: rd.typed(i, i+n-1),
			Text: fmt.Sprintf("“%s”: departures, arrivals, vectoring and assigned altitudes are not corrected by the crew; ask air traffic control for the altitude you need.", rd.typed(i, i+n-1)),
			Try:  rd.instead(i, last, ""),
		})
		return last + 1
	case verbWord:
		if p.verb == Why || i == 0 || rd.onlyFiller(i) {
			return rd.verb(i, p.verb)
		}
		return rd.unknown(i)
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
	case Why, Add, Remove, Same, Rules, Help:
		return i + 1
	}
	// The other verbs take words of their own.
	rd.req.Rest = strings.Join(strings.Fields(rd.text[rd.tokens[i].end:]), " ")
	return len(rd.tokens)
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
	return rd.unknown(i)
}

func (rd *reading) flightLevel(first, last int) {
	word := rd.typed(first, last)
	rd.fail(rd.tokens[first].start, &Problem{
		Word: word,
		Text: fmt.Sprintf("%s is a flight level: it is flown on the standard setting and is not corrected here.", strings.ToUpper(word)),
		Try:  rd.instead(first, last, ""),
	})
	rd.item(item{kind: breakItem, token: first})
}

// procedure reads the name of a stored procedure: "rnp y 28", "vor a". "LOC
// 7300" is a minimums line.
func (rd *reading) procedure(i int) int {
	j := i
	var name []string
	for j < len(rd.tokens) {
		t := rd.tokens[j]
		p, n := match(rd.tokens, j)
		switch {
		case t.kind == wordToken && (p.meaning == procedureWord || p.meaning == runwayWord && n == 1):
			if p.meaning == procedureWord {
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
			if j == i+1 && t.kind == numberToken && t.sign == 0 && t.value >= 100 {
				rd.item(item{kind: labelItem, token: i, role: procedure.MinimumDescent, label: strings.ToUpper(rd.tokens[i].word) + " MDA"})
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
			rd.req.Station = ""
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
	if rest, ok := strings.CutPrefix(t.word, "fl"); ok && rest != "" && digitsAt(rest, 0) == len(rest) {
		rd.flightLevel(i, i)
		return i + 1
	}
	if (len(t.word) == 5 || len(t.word) == 3) && letters(t.word) && !rd.typo(t.word) {
		rd.item(item{kind: fixItem, token: i, fix: strings.ToUpper(t.word)})
		return i + 1
	}
	return rd.unknown(i)
}

func letters(w string) bool {
	for i := 0; i < len(w); i++ {
		if !isLetter(w[i]) {
			return false
		}
	}
	return true
}

// typo says that a word is one slip away from one that is known.
func (rd *reading) typo(word string) bool { return rd.nearWord(word) != "" }

// nearWord finds the known word that a word is one slip away from.
func (rd *reading) nearWord(word string) string {
	if len(word) < 3 {
		return ""
	}
	best := ""
	for known := range phrases {
		if len(known) >= 3 && spelling.Distance(word, known, 1) <= 1 && (best == "" || known < best) {
			best = known
		}
	}
	return best
}

// unknown refuses a word by name, with the nearest that is known.
func (rd *reading) unknown(i int) int {
	t := rd.tokens[i]
	word := rd.typed(i, i)
	rd.item(item{kind: breakItem, token: i})
	if near := rd.nearWord(t.word); near != "" {
		rd.fail(t.start, &Problem{
			Word: abbreviate(word),
			Text: fmt.Sprintf("“%s” is not understood; did you mean “%s”?", abbreviate(word), near),
			Try:  rd.instead(i, i, near),
		})
		return i + 1
	}
	if rd.req.Station == "" && likeIdent(t.word) {
		rd.fail(t.start, rd.unknownStation(word, func(with string) string { return rd.instead(i, i, with) }))
		return i + 1
	}
	rd.fail(t.start, &Problem{
		Word: abbreviate(word),
		Text: fmt.Sprintf("“%s” is not understood.", abbreviate(word)),
		Try:  rd.instead(i, i, ""),
	})
	return i + 1
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
	for k := range items {
		if items[k].kind != fixItem {
			continue
		}
		switch {
		case k > 0 && items[k-1].kind == labelItem && !items[k-1].elev && items[k-1].fix == "":
			items[k-1].fix = items[k].fix
		case k+1 < len(items) && items[k+1].kind == labelItem && !items[k+1].elev:
			items[k+1].fix = items[k].fix
		default:
			rd.unknown(items[k].token)
		}
	}
	items = rd.items[:len(items)]
	if k, doubt, missing := bindLabels(items); doubt || missing {
		rd.unbound(items[k], doubt)
		return
	}
	elevation := -1
	for k := range items {
		it := &items[k]
		if it.kind != labelItem || it.boundTo < 0 {
			continue
		}
		a := &rd.req.Altitudes[items[it.boundTo].altitude]
		if it.elev {
			if elevation >= 0 {
				rd.fail(rd.tokens[it.token].start, &Problem{Word: rd.typed(it.token, it.token), Text: "There are two elevations; which one holds?", Try: rd.instead(it.token, it.token, "")})
				continue
			}
			elevation = items[it.boundTo].altitude
			continue
		}
		a.Role, a.Label, a.Fix = it.role, it.label, it.fix
	}
	if elevation >= 0 {
		e := rd.req.Altitudes[elevation]
		rd.req.Elevation, rd.req.HasElevation = e, true
		rd.req.Altitudes = slices.Delete(rd.req.Altitudes, elevation, elevation+1)
	}
}

func (rd *reading) unbound(it item, doubt bool) {
	word := rd.text[rd.tokens[it.token].start:rd.tokens[it.token].end]
	if doubt {
		rd.fail(rd.tokens[it.token].start, &Problem{
			Word: word,
			Text: fmt.Sprintf("“%s” stands between two altitudes; part them with a comma.", word),
			Try:  rd.instead(it.token, it.token, ", "+word),
		})
		return
	}
	rd.fail(rd.tokens[it.token].start, &Problem{
		Word: word,
		Text: fmt.Sprintf("“%s” has no altitude beside it.", word),
		Try:  rd.instead(it.token, it.token, ""),
	})
}
