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
	rd.taking = rd.takes()
	for i := 0; i < len(rd.tokens); {
		if next := rd.chartTail(i); next > i {
			tail := rd.typed(i, next-1)
			if strings.Contains(tail, "(") {
				tail += ")" // brackets are no tokens
			}
			rd.req.NotUsed = append(rd.req.NotUsed, tail)
			i = next
			continue
		}
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
			c := t.clock
			c.Unzoned = c.Zone == Local && isDigit(rd.text[t.end-1])
			i = rd.clock(i, c, i+1)
		case sightToken:
			rd.sight(i)
			i++
		case numberToken:
			i = rd.number(i)
		case wordToken:
			if next := rd.pathAngle(i); next > 0 {
				rd.notUsed(i, next-1)
				rd.apart(i)
				i = next
				continue
			}
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
	t, typed := rd.tokens[i], rd.typed(i, i)
	if rd.gluedHours(i) {
		return
	}
	word := abbreviate(typed)
	first := strings.IndexAny(typed, "0123456789")
	if first < 0 { // "-??"
		rd.fail(t.start, &Problem{Word: word, Text: sayHowMany(typed[0] == '-'), Either: true})
		rd.req.Sign = -1
		return
	}
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
	sign := "-"
	if typed[0] == '+' {
		sign = "+" // nobody who writes a plus means minus
	}
	rd.fail(t.start, &Problem{
		Word: word, Text: sayDashOrMinus(word), Either: true,
		Try: rd.instead(i, i, sign+strings.TrimLeft(typed, "+- ")),
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
	if last := rd.position(i); last >= 0 {
		rd.notUsed(i, last)
		rd.apart(i)
		return last + 1
	}
	if last := rd.controllers(i); last >= 0 {
		rd.controlled(i, last)
		return last + 1
	}
	if next := rd.phonetic(i); next > 0 {
		return next
	} else if p.n == 0 {
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
	case notCorrected:
		return rd.asPublished(i, next)
	case notLineWord, stationWord, lineBackWord, notWayWord, unclearWord:
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
	case compensatedWord, sbasWord, remoteWord, additiveWord:
		rd.markEquipment(i)
	case temperatureWord:
		rd.outside = rd.hasVerb && rd.lead == Route && rd.tokens[i].word == "oat"
	case limitWord:
		if m, ok := limits[p.label]; ok {
			rd.limit(i, m)
		}
	case andWord:
		rd.also = rd.also || len(req.Altitudes) == 0
		if rd.meaning != procedure.Between {
			rd.apart(i) // "7400 and the DA 5340"
		}
	case addWord:
		rd.also = true
	case takeWord:
		rd.take(i)
	case notWord:
		rd.not, rd.goneFrom = (!rd.hasVerb || rd.lead != Why) && !rd.labelAlone(i+p.n), i
	case changeWord:
		rd.says(i)
		rd.ordered = rd.ordered || p.label != "apology"
		rd.change = rd.change || p.label == "change"
		req.Swap = req.Swap || slices.Contains(swapWords, p.words[0])
		req.Instead = true
	case insteadWord:
		req.Instead = true
	case straightWord:
		req.StraightIn = len(rd.tokens) <= 4 && !rd.has(lineWord, onlyLine, notLineWord) // else it is talk
	case meridiemWord:
		rd.later = rd.later || p.n > 1 // "in the morning" behind no time
	case sameWord:
		req.Verb = Same
		req.SameAir = req.SameAir || p.label == "temperature"
	case latestWord:
		req.Latest = true
	case thresholdWord:
		rd.threshold = rd.threshold || rd.signFollows(i+p.n)
	case weekdayWord:
		rd.weekday = rd.typed(i, i)
	case yesWord, noWord, forgetWord, repeatWord, undoWord:
		rd.markTalk(p.meaning)
		rd.recalled = rd.recalled || p.meaning == repeatWord && p.label == "before"
		req.Before = req.Before || p.meaning == repeatWord && p.label == "earlier"
	case forecastWord:
		rd.forecast = true
	case coldWord:
		rd.coldAsked = true
	case basesWord:
		rd.bases = true
	case ruleWord:
		rd.rulesSaid(i, p.label)
	case small:
		if rd.fieldAt(i) {
			rd.item(item{kind: labelItem, token: i, elev: true})
			return
		}
		rd.says(i)
		if rd.taking && len(rd.req.Gone) > 0 && slices.Contains(onlyWords, p.words[0]) && rd.figureNext(i+p.n) {
			rd.taking = false // "don't need 8200, just 7400"
		}
		if rd.change && rd.changeTo == 0 && slices.Contains(changesTo, p.words[0]) {
			rd.changeTo = len(req.Altitudes)
		}
	}
}

// rulesSaid keeps which rules are named at i: a set, or those that the unit has
// configured.
func (rd *reading) rulesSaid(i int, id string) {
	switch {
	case slices.Contains(rd.rules, id):
		rd.ruleSet(i, id)
	case id == ownRules:
		rd.req.OwnRules = true
		rd.apart(i)
	default:
		rd.unknown(i)
	}
}

// markEquipment keeps what the aircraft has, and whose altimeter setting it flies by.
func (rd *reading) markEquipment(i int) {
	switch p := rd.tags[i]; p.meaning {
	case compensatedWord:
		rd.req.Compensated = p.label
	case sbasWord:
		rd.req.SBAS = p.label
	case remoteWord:
		rd.req.Remote = p.label
	}
	rd.apart(i)
}

// ruleSet keeps the rule set that is named at i, and asks where it is another one
// than before. One of the authority's own says more than the authority's name.
func (rd *reading) ruleSet(i int, id string) {
	rd.apart(i)
	authority := rd.means(i) == ruleWord && slices.Contains(faaWords, strings.Join(rd.tags[i].words, " "))
	have, ours := rd.req.Rules, strings.HasPrefix(id, "faa-") && strings.HasPrefix(rd.req.Rules, "faa-")
	switch {
	case rd.takenAway(i): // "not icao"
		rd.not = false
		rd.notUsed(i, i)
	case have == "" || ours && rd.authority:
		rd.req.Rules, rd.authority = id, authority
	case have == id || ours && authority:
	default:
		choice := func(id string, words ...string) Choice {
			return Choice{Words: append(words, id), Next: &Request{Rules: id}}
		}
		word := rd.typed(i, i+max(rd.tags[i].n, 1)-1)
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayTwoRules(have, id), Either: true, Choices: []Choice{choice(have), choice(id, strings.Fields(strings.ToLower(word))...)}})
	}
}

// faaWords name the authority, and none of its methods.
var faaWords = []string{"faa", "faa rules", "us rules"}

// signFollows says that a figure with its sign stands at i, or behind small words.
func (rd *reading) signFollows(i int) bool {
	i = rd.overSmall(i)
	return rd.numberAt(i) && rd.tokens[i].sign != 0 || rd.means(i) == minusWord
}

// changesTo stand before what an altitude is changed to.
var changesTo = []string{"to", "with", "by", "for", "til", "med", "auf", "zu", "durch", "mit", "a", "en", "par", "por", "con"}

// labelAlone says that a label stands at i, or behind small words, that has no figure
// behind it: "not the DA, MDA 5460".
func (rd *reading) labelAlone(i int) bool {
	i = rd.overSmall(i)
	return rd.means(i) == roleWord && !rd.figureFollows(i+rd.tags[i].n)
}

// markTalk keeps what a word says of the thread.
func (rd *reading) markTalk(m meaning) {
	switch m {
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
	}
}

// overSmall is the first token from i on that is no small word.
func (rd *reading) overSmall(i int) int {
	for rd.isSmall(i) && rd.tags[i].n > 0 {
		i += rd.tags[i].n
	}
	return i
}

// take begins to take altitudes away, unless what stands behind the word is
// none: "without GPS".
func (rd *reading) take(i int) {
	next := rd.overSmall(i + rd.tags[i].n)
	rd.taking, rd.goneFrom = rd.wordAt(next) == "" || rd.tags[next].n > 0 && rd.means(next) != kindWord || rd.numeral(next) || rd.storedFix(rd.wordAt(next)), i
	if rd.means(next) == kindWord && rd.wordAt(next) != "" {
		word := abbreviate(rd.typed(i, next))
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayWhatIsOut(word), Either: true})
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
	if (p.meaning == celsiusWord || p.meaning == fahrenheitWord) && rd.otherScale(i) {
		return i + p.n
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
	if at := rd.overSmall(next); rd.numberAt(next) && rd.tokens[next].sign < 0 || rd.means(at) == minusWord && rd.minusFollows(at) {
		rd.threshold = true // "is it below -25"
		return next
	}
	if rd.req.Sign == 0 && !rd.req.HasTemperature {
		rd.req.Sign = -1
	}
	return next
}
