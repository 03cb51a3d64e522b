package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// group goes through the tokens once and puts together what belongs together.
// It leaves labels and altitudes as items for fill, and everything else in the
// request or in the reading.
func (rd *reading) group() {
	rd.items = make([]item, 0, len(rd.tokens)+4)
	rd.taking = rd.takes()
	for i := 0; i < len(rd.tokens); {
		switch t := rd.tokens[i]; t.kind {
		case sepToken:
			rd.apart(i)
			rd.taking = rd.taking && rd.text[t.start] != '\n' && rd.text[t.start] != ';'
			i++
		case bindToken:
			if n := len(rd.items); n > 0 && (rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem) {
				rd.forward()
			} else {
				if n := len(rd.items); n > 0 && rd.items[n-1].kind == numberItem && rd.items[n-1].altitude >= 0 && i > 0 && rd.numberAt(i-1) && rd.numberAt(i+1) && rd.figureFollows(i+1) && rd.text[t.start] == '=' {
					rd.twoFigures(i)
				}
				rd.apart(i)
			}
			i++
		case doubtToken:
			rd.doubt(i)
			rd.apart(i)
			i++
		case clockToken:
			i = rd.clock(i, t.clock, i+1)
		case sightToken:
			rd.sight(i)
			i++
		case numberToken:
			i = rd.number(i)
		case wordToken:
			i = rd.word(i)
		}
	}
}

func (rd *reading) item(it item) { rd.items = append(rd.items, it) }

// apart leaves a break where token i stands.
func (rd *reading) apart(i int) { rd.item(item{kind: breakItem, token: i}) }

// forward ties the label just read to what follows its colon, and parts it
// from what stands before.
func (rd *reading) forward() {
	n := len(rd.items) - 1
	if rd.items[n].kind == fixItem {
		if n == 0 || rd.items[n-1].kind != labelItem {
			return // "WENDL: FAF 10000"
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
			Word: word, Text: sayTwoNumbers(word, sign), Either: true,
			Try: rd.instead(i, i, before+" "+behind[:1]+strings.TrimLeft(behind, "+-")),
		})
		return
	}
	rd.fail(t.start, &Problem{
		Word: word, Text: sayDashOrMinus(word), Either: true,
		Try: rd.instead(i, i, "-"+strings.TrimLeft(typed, "+- ")),
	})
}

// sight is a visibility behind minimums, or a digit that nobody can place.
func (rd *reading) sight(i int) {
	if rd.behindMinimum() {
		rd.notUsed(i, i)
		return
	}
	word := rd.typed(i-1, i)
	rd.refuse(rd.tokens[i].start, &Problem{
		Word: word, Text: sayTwoNumbers(word, "minus"), Either: true,
		Try: rd.instead(i, i, ""),
	})
	rd.apart(i)
}

// behindMinimum says that what was read last is the altitude of minimums.
func (rd *reading) behindMinimum() bool {
	n := len(rd.items)
	if n < 2 || rd.items[n-1].kind != numberItem {
		return false
	}
	for k := n - 2; k >= 0 && rd.items[k].kind != breakItem && rd.items[k].kind != numberItem; k-- {
		if it := rd.items[k]; it.kind == labelItem {
			return it.role.Minimum() || it.role == procedure.Circling
		}
	}
	return false
}

// word reads a word or phrase, and gives the next token to read.
func (rd *reading) word(i int) int {
	p := rd.tags[i]
	if t := rd.tokens[i]; len(t.word) == 1 && strings.Contains("uvwxyz", t.word) && rd.runwayAt(i+1) { // "y 35"
		n := approachName{letter: t.word}
		next := rd.nameFrom(i+1, &n)
		rd.named1(i, next, n)
		return next
	}
	if p.n == 0 {
		return rd.otherWord(i)
	}
	if _, ok := numerals[rd.tokens[i].word]; ok { // "one" is a small word, too
		if next := rd.numberWords(i); next > 0 {
			return next
		}
	}
	next := i + p.n
	switch p.meaning {
	case roleWord, lineWord, onlyLine, elevationWord:
		return rd.label(i)
	case heightWord:
		rd.heightApart(i, next-1)
	case feetWord, metreWord, celsiusWord, fahrenheitWord:
		return rd.unit(i)
	case minusWord, plusWord:
		return rd.spelledSign(i, p.meaning == minusWord)
	case belowWord:
		return rd.below(i)
	case flightLevelWord:
		last := rd.withFigure(next - 1)
		rd.flightLevel(i, last)
		return last + 1
	case kindWord, runwayWord, approachNoun, letterWord:
		return rd.approach(i)
	case heightMinimum:
		// Its height is above the threshold, which nobody has told us.
		last := rd.withFigure(next - 1)
		role := procedure.DecisionAltitude
		if p.label == "MDA" {
			role = procedure.MinimumDescent
		}
		rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, next-1), Text: sayHeightMinimum(rd.typed(i, next-1), role.Phrase())})
		return last + 1
	case assignedWord:
		if k := next; rd.figureFollows(k) {
			for k < len(rd.tokens) && rd.tokens[k].kind != numberToken {
				k++
			}
			last := min(k, len(rd.tokens)-1)
			rd.refuse(rd.tokens[i].start, &Problem{Word: abbreviate(rd.typed(i, last)), Text: sayNotCorrected(abbreviate(rd.typed(i, last)))})
			rd.apart(i)
			return last + 1
		}
		return next
	case notCorrected:
		last := rd.withFigure(next - 1)
		rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, next-1), Text: sayNotCorrected(rd.typed(i, next-1)), Try: rd.instead(i, last, "")})
		return last + 1
	case notLineWord, notWayWord, unclearWord:
		return rd.taken(i)
	case wayWord, viaWord, insideWord, fromWord:
		return rd.way(i)
	case measureWord, categoryWord:
		return rd.measure(i)
	case remoteWord:
		rd.mark(i)
		return rd.measure(i)
	case arriveWord, inWord, dayWord, zoneWord, noonWord:
		return rd.timeWord(i)
	case alternateWord:
		rd.alternate = true
		rd.apart(i)
	case verbWord, paperWord, pictureWord, uncheckedWord, minimumWord, outsideWord:
		return rd.verbWords(i)
	default:
		rd.mark(i)
	}
	return next
}

// mark keeps what a word says of the whole message, or of the next figure.
func (rd *reading) mark(i int) {
	p, req := rd.tags[i], rd.req
	switch p.meaning {
	case thanks:
		rd.thanked = true
	case compensatedWord:
		req.Compensated = p.label
		rd.apart(i)
	case sbasWord:
		req.SBAS = p.label
		rd.apart(i)
	case remoteWord:
		req.Remote = p.label
		rd.apart(i)
	case temperatureWord:
		rd.outside = rd.hasVerb && rd.lead == Route && rd.tokens[i].word == "oat"
	case limitWord:
		switch p.label {
		case "below":
			rd.limit(i, procedure.AtOrBelow)
		case "between":
			rd.limit(i, procedure.Between)
		}
	case andWord:
		rd.also = rd.also || len(req.Altitudes) == 0
		if rd.meaning != procedure.Between {
			rd.apart(i) // "7400 and the DA 5340"
		}
	case addWord:
		rd.also = true
	case takeWord:
		next := i + p.n
		for rd.isSmall(next) && rd.tags[next].n > 0 {
			next += rd.tags[next].n
		}
		rd.taking, rd.goneFrom = rd.wordAt(next) == "" || rd.tags[next].n > 0 && rd.means(next) != kindWord || rd.numeral(next) || rd.storedFix(rd.wordAt(next)), i
		if rd.means(next) == kindWord && rd.wordAt(next) != "" { // "without GPS"
			word := abbreviate(rd.typed(i, next))
			rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayWhatIsOut(word), Either: true})
		}
	case notWord:
		rd.not, rd.goneFrom = !rd.hasVerb || rd.lead != Why, i
	case changeWord:
		rd.says(i)
		rd.ordered = rd.ordered || p.label != "apology"
		rd.change = rd.change || p.words[0] == "change" || p.words[0] == "replace" || p.words[0] == "swap" || p.words[0] == "exchange" || p.words[0] == "make" && p.n == 1
		req.Instead = true
	case insteadWord:
		req.Instead = true
	case sameWord:
		req.Verb = Same
	case latestWord:
		req.Latest = true
	case thresholdWord:
		next := i + p.n
		for rd.isSmall(next) && rd.tags[next].n > 0 {
			next += rd.tags[next].n
		}
		rd.threshold = rd.threshold || rd.numberAt(next) && rd.tokens[next].sign != 0 || rd.means(next) == minusWord
	case weekdayWord:
		rd.weekday = rd.typed(i, i)
	case yesWord:
		rd.agreed = true
	case noWord:
		rd.declined = true
	case forgetWord:
		rd.forgotten = true
	case repeatWord:
		rd.repeated = true
	case undoWord:
		rd.undone = true
	case forecastWord:
		rd.forecast = true
	case coldWord:
		rd.coldAsked = true
	case basesWord:
		rd.bases = true
	case ruleWord:
		if slices.Contains(rd.rules, p.label) {
			req.Rules = p.label
			rd.apart(i)
		} else {
			rd.unknown(i)
		}
	case small:
		rd.says(i)
		if w := p.words[0]; rd.change && (w == "to" || w == "with" || w == "by" || w == "for") && rd.changeTo == 0 {
			rd.changeTo = len(req.Altitudes)
		}
	}
}

// says marks what "is", "is now" or "should be" says at token i: that the
// altitude behind it is its label's and no other, or stands in place of the
// altitude before it.
func (rd *reading) says(i int) {
	p := rd.tags[i]
	first, last := p.words[0], p.words[len(p.words)-1]
	for _, w := range p.words {
		rd.notam = rd.notam || strings.HasPrefix(w, "notam")
	}
	is := first == "is" || last == "is" || first == "now" || first == "changed" || first == "raised" || first == "lowered"
	if !is && p.meaning != changeWord || !rd.figureFollows(i+p.n) {
		return
	}
	n := len(rd.items)
	for n > 0 && rd.items[n-1].kind == breakItem && rd.items[n-1].token == i {
		n--
	}
	switch {
	case n == 0:
	case rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem && n > 1 && rd.items[n-2].kind == labelItem:
		k := n - 1
		if rd.items[k].kind == fixItem {
			k--
		}
		rd.items[k].is = true
	case rd.items[n-1].kind == numberItem && rd.items[n-1].altitude >= 0 && rd.figureNext(i+p.n) && first == "is" && p.n == 1: // "7400 is 8060"
		rd.twoFigures(i)
	case rd.items[n-1].kind == numberItem && rd.items[n-1].altitude == len(rd.req.Altitudes)-1 && rd.figureNext(i+p.n):
		rd.exchanges = append(rd.exchanges, len(rd.req.Altitudes))
	}
}

// twoFigures asks about "7400 is 8060" and "7400=8060".
func (rd *reading) twoFigures(i int) {
	k := i + 1
	for k < len(rd.tokens) && rd.tokens[k].kind != numberToken {
		k++
	}
	a, b := rd.typed(i-1, i-1), rd.typed(k, k)
	rd.refuse(rd.tokens[i].start, &Problem{Word: b, Text: sayTwoFigures(a, b), Either: true})
}

// figureNext says that the figure of an altitude stands at i, with nothing but
// small words before it.
func (rd *reading) figureNext(i int) bool {
	for i < len(rd.tokens) && rd.isSmall(i) && rd.tags[i].n > 0 {
		i += rd.tags[i].n
	}
	return rd.numberAt(i) && rd.figureFollows(i)
}

// limit says how the altitude is to be flown that follows, or the one before
// where none does.
func (rd *reading) limit(i int, m procedure.Meaning) {
	n := len(rd.req.Altitudes)
	switch {
	case rd.figureFollows(i + rd.tags[i].n):
		rd.meaning = m
	case rd.tags[i].words[0] == "or" && n > 0:
		rd.req.Altitudes[n-1].Meaning = m
	}
}

// heightApart asks where "agl" stands before its height, or alone.
func (rd *reading) heightApart(i, last int) {
	word, with := rd.typed(i, last), ""
	if last+1 < len(rd.tokens) && rd.tokens[last+1].kind == numberToken {
		last++
		with = rd.typed(last, last) + " " + word
	}
	rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayHeightBehind(word), Try: rd.instead(i, last, with)})
	rd.apart(i)
}

// unit is one that stands apart from a figure: "m 38" is a minus.
func (rd *reading) unit(i int) int {
	p, t := rd.tags[i], rd.tokens[i]
	if n := i + 1; p.meaning == metreWord && t.word == "m" && n < len(rd.tokens) && rd.tokens[n].kind == numberToken && rd.tokens[n].sign == 0 && rd.tokens[n].value < 100 {
		return rd.spelledSign(i, true)
	}
	if len(t.word) == 1 || p.meaning == feetWord || p.meaning == metreWord {
		return rd.unknown(i)
	}
	return i + p.n
}

// below is a minus that stands behind its figure, which number has read; what
// is left has no figure, or stands before one.
func (rd *reading) below(i int) int {
	next := i + rd.tags[i].n
	if rd.figureFollows(next) {
		rd.meaning = procedure.AtOrBelow
		return next
	}
	if w := rd.tokens[i].word; (w == "kuldegrader" || w == "minusgrader" || w == "frost") && rd.numberAt(next) && rd.tokens[next].sign == 0 && rd.tokens[next].value < 100 {
		return rd.spelledSign(i, true) // kuldegrader 30
	}
	if rd.numberAt(next) && rd.tokens[next].sign < 0 {
		rd.threshold = true // "is it below -25"
		return next
	}
	if rd.req.Sign == 0 && !rd.req.HasTemperature {
		rd.req.Sign = -1
	}
	return next
}

// withFigure is the last token of a word and the bare figure behind it.
func (rd *reading) withFigure(last int) int {
	if next := last + 1; next < len(rd.tokens) && rd.tokens[next].kind == numberToken && rd.tokens[next].sign == 0 {
		return next
	}
	return last
}

// figureFollows says that the next thing that means something is a figure of
// an altitude: small words, a colon, a fix and what stands in brackets may
// come first.
func (rd *reading) figureFollows(i int) bool {
	for fixes := 0; i < len(rd.tokens); i++ {
		t := rd.tokens[i]
		switch t.kind {
		case numberToken:
			return t.sign == 0 && t.unit != celsiusUnit && t.unit != fahrenheitUnit && (t.value >= 100 || t.unit != noUnit || rd.means(i+1) == feetWord || rd.means(i+1) == heightWord || rd.thousands(i))
		case bindToken, sightToken:
		case wordToken:
			switch {
			case rd.isSmall(i), t.aside, rd.means(i) == limitWord, rd.means(i) == belowWord, rd.means(i) == fromWord:
				i += max(rd.tags[i].n, 1) - 1
			case rd.means(i) == categoryWord:
				i++
			default:
				if _, n := inWords(rd.tokens, i); n > 0 {
					return true
				}
				if fixes++; rd.tags[i].n > 0 || fixes > 1 || !fixLike(t.word) {
					return false
				}
			}
		default:
			return false
		}
	}
	return false
}

// thousands says that the figure at i is the first of "8 200".
func (rd *reading) thousands(i int) bool {
	if i+1 >= len(rd.tokens) {
		return false
	}
	t, u := rd.tokens[i], rd.tokens[i+1]
	return t.value >= 1 && u.kind == numberToken && u.sign == 0 && digitsAt(u.word, 0) == 3 && u.start == t.end+1
}

// label leaves a label as an item: of an altitude, of the elevation, or of a
// line of minimums, which without an altitude is the line that is chosen.
func (rd *reading) label(i int) int {
	p := rd.tags[i]
	next := i + p.n
	for p.role.Minimum() && next < len(rd.tokens) && rd.tokens[next].aside && rd.tokens[next].word == "h" { // DA(H)
		next++
	}
	figure := rd.figureFollows(next)
	n := len(rd.items)
	behind := n > 0 && rd.items[n-1].kind == numberItem && !(n > 1 && rd.items[n-2].elev) && (next == len(rd.tokens) || rd.tokens[next].kind == sepToken || rd.means(next) == roleWord)
	switch {
	case p.meaning == elevationWord:
		rd.item(item{kind: labelItem, token: i, elev: true})
		return next
	case p.label == ArcLabel && !figure && !behind && (rd.procedureNamed() || rd.cameFrom(rd.behindFrom(next))):
		return rd.arc(i, next)
	case (p.role == procedure.Hold && p.label == "" || p.role == procedure.MissedHold) && !figure && rd.holdsMissed(n, next, p.role):
		return next
	case p.meaning == onlyLine && figure && minimumsLines[p.label].label != "":
		line := minimumsLines[p.label]
		rd.item(item{kind: labelItem, token: i, role: line.role, label: line.label})
		return next
	case p.meaning == lineWord && !figure && behind && rd.namesLine(*p.phrase):
		return next
	case p.meaning == onlyLine, p.meaning == lineWord && !figure && !behind:
		rd.req.Minima = chosenLine(*p.phrase)
		rd.apart(i)
		return next
	case rd.tokens[i].word == "if" && p.n == 1 && !figure && !behind && !(next < len(rd.tokens) && rd.tokens[next].kind == sepToken && rd.means(next+1) == roleWord):
		return next // "if it is -38"
	case (p.role == procedure.ProcedureTurn || p.role == procedure.Hold) && !figure && rd.anyWay() &&
		(!behind && p.label != LieuLabel && (rd.procedureNamed() || i > 0 && (rd.means(i-1) == inWord || rd.tokens[i-1].word == "the") && !rd.asks()) ||
			(!behind || rd.labelled() >= 0) && rd.figured(p.role)):
		rd.comesBy(p.role)
		rd.apart(i)
		return next
	}
	rd.item(item{kind: labelItem, token: i, role: p.role, label: p.label})
	return next
}

// holdsMissed takes "hold", or "missed", behind an altitude of the missed
// approach for what that is: "missed 10200 hold", "climb to 10200 missed".
func (rd *reading) holdsMissed(n, next int, role procedure.Role) bool {
	if n < 2 || rd.items[n-1].kind != numberItem || next < len(rd.tokens) && rd.tokens[next].kind == numberToken {
		return false
	}
	k := n - 2
	if rd.items[k].kind == fixItem && k > 0 {
		k--
	}
	if it := &rd.items[k]; it.kind == labelItem && it.role == procedure.MissedHold {
		if role == procedure.Hold {
			it.label = MissedHoldLabel
		}
		return true
	}
	return false
}

// procedureNamed says that a stored procedure is named in the message.
func (rd *reading) procedureNamed() bool {
	return rd.req.Procedure != "" || rd.has(kindWord, runwayWord)
}

// FixLike says that a word has the shape of a fix's name.
func FixLike(word string) bool { return fixLike(strings.ToLower(word)) }

// fixLike is the shape of a fix or a beacon.
func fixLike(w string) bool {
	return len(w) >= 2 && len(w) <= 5 && len(w) != 4 && letters(w)
}

func letters(w string) bool {
	for i := 0; i < len(w); i++ {
		if !isLetter(w[i]) {
			return false
		}
	}
	return true
}
