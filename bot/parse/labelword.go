package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// says marks what "is", "is now" or "should be" says at token i: that the
// altitude behind it is its label's and no other, or stands in place of the
// altitude before it.
func (rd *reading) says(i int) {
	p := rd.tags[i]
	first, last := p.words[0], p.words[len(p.words)-1]
	for _, w := range p.words {
		rd.notam = rd.notam || strings.HasPrefix(w, "notam")
	}
	if m := rd.means(i - 1); m == orWord || slices.Contains(doubting, rd.wordAt(i-1)) {
		return // "8200 or is it 8300"
	}
	if p.meaning == small && strings.HasPrefix(last, "notam") && rd.byNotam(i) {
		rd.exchanges = append(rd.exchanges, len(rd.req.Altitudes))
		return
	}
	is := first == "is" || last == "is" || first == "now" || first == "changed" || first == "raised" || first == "lowered"
	was := (first == "was" || first == "war") && p.n == 1
	if !is && !was && p.meaning != changeWord || !rd.figureFollows(i+p.n) {
		return
	}
	n := len(rd.items)
	for n > 0 && rd.items[n-1].kind == breakItem && rd.items[n-1].token == i {
		n--
	}
	switch {
	case n == 0:
	case was && rd.items[n-1].kind != numberItem:
	case rd.items[n-1].kind == labelItem || rd.items[n-1].kind == fixItem && n > 1 && rd.items[n-2].kind == labelItem:
		k := n - 1
		if rd.items[k].kind == fixItem {
			k--
		}
		rd.items[k].is = true
	case rd.items[n-1].kind == numberItem && rd.items[n-1].altitude >= 0 && rd.figureNext(i+p.n) && (first == "is" && p.n == 1 || was): // "7400 is 8060", "7400 was 7500"
		rd.twoFigures(i)
	case rd.items[n-1].kind == numberItem && rd.items[n-1].altitude == len(rd.req.Altitudes)-1 && rd.figureNext(i+p.n):
		rd.exchanges = append(rd.exchanges, len(rd.req.Altitudes))
	}
}

// byNotam says that the figure behind the word at i stands in place of the one before
// it, which has a label: "MDA says 1760 but NOTAM 1820".
func (rd *reading) byNotam(i int) bool {
	n := len(rd.items)
	for n > 0 && rd.items[n-1].kind == breakItem && rd.items[n-1].token == i {
		n--
	}
	return n > 1 && rd.wordAt(i-1) == "but" && rd.items[n-1].kind == numberItem && rd.items[n-2].kind == labelItem &&
		rd.items[n-1].altitude == len(rd.req.Altitudes)-1 && rd.figureNext(i+rd.tags[i].n)
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
	i = rd.overSmall(i)
	return rd.numberAt(i) && rd.figureFollows(i)
}

// limits are what the words for them say.
var limits = map[string]procedure.Meaning{"above": procedure.AtOrAbove, "below": procedure.AtOrBelow, "between": procedure.Between}

// limit says how the altitude is to be flown that follows, or the one before
// where none does, and of which nothing was said: "7000 at most", "7000 ft (at or
// below)".
func (rd *reading) limit(i int, m procedure.Meaning) {
	n, next := len(rd.req.Altitudes), i+rd.tags[i].n
	switch {
	case rd.figureFollows(next):
		rd.meaning = m
	case n > 0 && m != procedure.Between && rd.req.Altitudes[n-1].Meaning == 0 && (rd.tags[i].words[0] == "or" || !rd.numberAt(next) && rd.behindAltitude(i)):
		rd.req.Altitudes[n-1].Meaning = m
	case rd.means(next) == roleWord && rd.figureFollows(next+rd.tags[next].n): // "at or below IAF 7000"
		rd.meaning = m
	case rd.behindLabel() && rd.labelWaits() && (rd.tags[i].words[0] == "or" || rd.wordAt(i) == "at" && rd.wordAt(i+1) == "or"):
		word := rd.typed(i, next-1) // "make the FAF at or above": nothing says at what
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayLimitAlone(word), Either: true})
	}
}

// behindAltitude says that nothing but a unit and what separates stands between
// the last altitude and the word at i.
func (rd *reading) behindAltitude(i int) bool {
	for i--; i >= 0; i-- {
		switch {
		case rd.tokens[i].kind == sepToken, rd.means(i) == feetWord, rd.means(i) == metreWord:
		default:
			n := len(rd.items) - 1
			for n >= 0 && rd.items[n].kind == breakItem {
				n--
			}
			return n >= 0 && rd.items[n].kind == numberItem && rd.items[n].altitude == len(rd.req.Altitudes)-1 && rd.items[n].token == i
		}
	}
	return false
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
			case rd.means(i) == addWord && rd.wordAt(i) != "and" && rd.wordAt(i) != "one" && rd.wordAt(i) != "another": // "LNAV/VNAV as well 8420"
				i += rd.tags[i].n - 1
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

// minusFollows says that a figure stands behind the word for minus at i.
func (rd *reading) minusFollows(i int) bool {
	next := i + rd.tags[i].n
	return rd.numberAt(next) && rd.tokens[next].sign == 0 || rd.numeral(next)
}

// withFigure is the last token of a word and the bare figure behind it.
func (rd *reading) withFigure(last int) int {
	if next := last + 1; next < len(rd.tokens) && rd.tokens[next].kind == numberToken && rd.tokens[next].sign == 0 {
		return next
	}
	return last
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
	figure := rd.figureFollows(next) || rd.leastFollows(next)
	n := len(rd.items)
	behind := n > 0 && rd.items[n-1].kind == numberItem && !(n > 1 && rd.items[n-2].elev) && (next == len(rd.tokens) || rd.tokens[next].kind == sepToken || rd.means(next) == roleWord || rd.means(next) == yesWord)
	switch {
	case !figure && p.role != procedure.NoRole && rd.placed(i), p.role != procedure.NoRole && rd.besides(i, next):
		return next
	case rd.atLeast(i) && figure && rd.labelWaits():
		return next // "IF min 6200": at or above, as every altitude is
	case p.label == "minimums" && figure && rd.crossedAt(next):
		return next // "min alt 8200 at XOLMI"
	case p.label == "minimums" && !figure && !behind && rd.namesOnlyLine(next):
		return next // "min for lnav/vnav?"
	case p.role == procedure.MissedHold && n > 0 && rd.items[n-1].kind == labelItem && rd.items[n-1].role == p.role && p.label == "":
		return next // "missed: climb to 10200"
	case p.role != procedure.NoRole && p.label == "" && n > 0 && rd.items[n-1].kind == labelItem && rd.items[n-1].role == p.role && rd.straight(n-1):
		return next // "S-LOC 31 MDA 5460"
	case p.meaning == elevationWord:
		rd.item(item{kind: labelItem, token: i, elev: true})
		return next
	case p.label == ArcLabel && !figure && !behind && (rd.procedureNamed() || rd.cameFrom(rd.behindFrom(next))):
		return rd.arc(i, next)
	case (p.role == procedure.Hold && p.label == "" || p.role == procedure.MissedHold) && !figure && rd.holdsMissed(n, next, p.role):
		return rd.missedFix(next)
	case p.meaning == onlyLine && figure && minimumsLines[p.label].label != "":
		line := minimumsLines[p.label]
		rd.item(item{kind: labelItem, token: i, role: line.role, label: line.label})
		return next
	case p.meaning == onlyLine && figure && p.of != "": // "LNAV mins 5460"
		rd.item(item{kind: labelItem, token: i, role: p.role, label: p.of})
		return next
	case p.meaning == lineWord && !figure && behind && rd.namesLine(*p.phrase):
		return next
	case p.meaning == onlyLine, p.meaning == lineWord && !figure && !behind:
		rd.req.Minima = chosenLine(*p.phrase)
		rd.lineOnly = rd.lineOnly || p.meaning == onlyLine
		rd.apart(i)
		return rd.circledTo(p, next)
	case rd.tokens[i].word == "if" && p.n == 1 && figure && rd.typed(i, i) == "if" && slices.Contains(wondering, rd.wordAt(i-1)):
		return next // "tell me if 8200 needs one"
	case rd.tokens[i].word == "if" && p.n == 1 && !figure && !(rd.means(i-1) == roleWord && (rd.means(next) == roleWord || next == len(rd.tokens))) && !behind && !rd.joined(i, next) && !(i == 1 && rd.hasVerb && rd.lead == Remove) && !(rd.wordAt(i-1) == "the" && (next == len(rd.tokens) || rd.tokens[next].kind == sepToken || rd.wordAt(next) == "back")) && !(next < len(rd.tokens) && rd.tokens[next].kind == sepToken && rd.means(next+1) == roleWord):
		return next // "if it is -38"
	case (p.role == procedure.ProcedureTurn || p.role == procedure.Hold) && !figure && rd.anyWay() &&
		(!behind && (rd.procedureNamed() || i > 0 && (rd.means(i-1) == inWord || rd.tokens[i-1].word == "the") && !rd.asks()) ||
			(!behind || rd.labelBefore() >= 0) && rd.figured(p.role)):
		rd.comesBy(p.role)
		rd.apart(i)
		return rd.behindItsFix(next)
	}
	rd.item(item{kind: labelItem, token: i, role: p.role, label: p.label})
	return next
}

// joined says that the label at i stands directly behind an altitude, and at next a word
// that goes on to another one or to another label: "8200 IF and DA 5340", "8200 IF or
// 9000".
func (rd *reading) joined(i, next int) bool {
	n, at := len(rd.items), next
	if n == 0 || rd.items[n-1].kind != numberItem || rd.items[n-1].altitude < 0 || !slices.Contains(listJoints, rd.wordAt(at)) && rd.means(at) != andWord {
		return false
	}
	for rd.means(at) == andWord || slices.Contains(listJoints, rd.wordAt(at)) || rd.isSmall(at) {
		at += max(rd.tags[at].n, 1)
	}
	return rd.means(at) == roleWord || rd.means(at) == lineWord || rd.means(at) == onlyLine || rd.altitudeAt(at)
}

// wondering stand before an "if" that is no label.
var wondering = []string{"me", "know", "see", "ask", "asks", "asking", "wonder", "wondering", "sure", "what", "even"}

// listJoints stand between two altitudes of a list.
var listJoints = []string{"and", "&", "plus", "then", "with", "or", "og", "und", "et", "y", "e", "so", "deretter", "dann", "puis", "luego", "poi"}

// crossedAt says that a figure stands at i, or behind small words, with the fix that it
// is crossed at.
func (rd *reading) crossedAt(i int) bool {
	i = rd.overSmall(i) + 1
	for rd.means(i) == feetWord {
		i++
	}
	return slices.Contains(atFix, rd.wordAt(i)) && (rd.storedFix(rd.wordAt(i+1)) || len(rd.wordAt(i+1)) == 5 && rd.tags[i+1].n == 0 && rd.capitals(rd.tokens[i+1]))
}

// namesOnlyLine says that a line of minimums stands at i, or behind small words,
// and no altitude of it.
func (rd *reading) namesOnlyLine(i int) bool {
	i = rd.overSmall(i)
	return (rd.means(i) == lineWord || rd.means(i) == onlyLine) && !rd.figureFollows(i+rd.tags[i].n)
}

// circledTo is behind the runway that a circling leads to, which no line has:
// "rnav 31 circling to 13".
func (rd *reading) circledTo(p tag, i int) int {
	at := i + 1
	if rd.means(at) == runwayWord {
		at++
	}
	if p.role != procedure.Circling || rd.wordAt(i) != "to" || !rd.runwayAt(at) || rd.thousands(at) {
		return i
	}
	rd.notUsed(i, at)
	rd.apart(i)
	return at + 1
}

// atLeast says that the word at i is "min", which behind a label says how its
// altitude is flown.
func (rd *reading) atLeast(i int) bool {
	return rd.means(i) == roleWord && rd.tags[i].label == "minimums" && rd.tags[i].n == 1 && strings.HasPrefix(rd.tags[i].words[0], "min")
}

// leastFollows says that "min" and a figure stand at i, perhaps behind a fix.
func (rd *reading) leastFollows(i int) bool {
	if w := rd.wordAt(i); fixLike(w) && rd.tags[i].n == 0 {
		i++
	}
	return rd.atLeast(i) && rd.figureFollows(i+1)
}

// labelWaits says that what was read last is a label, perhaps with its fix,
// whose altitude is still to come.
func (rd *reading) labelWaits() bool {
	kind := func(k int) itemKind {
		if k < 0 {
			return breakItem
		}
		return rd.items[k].kind
	}
	at := len(rd.items) - 1
	if kind(at) == fixItem {
		at--
	}
	if kind(at) != labelItem || rd.items[at].elev || rd.items[at].approach {
		return false
	}
	return kind(at-1) != numberItem || kind(at-2) == labelItem || kind(at-2) == fixItem
}

// holdsMissed takes "hold", or "missed", behind an altitude of the missed
// approach for what that is: "missed 10200 hold", "climb to 10200 missed".
func (rd *reading) holdsMissed(n, next int, role procedure.Role) bool {
	if n < 2 || next < len(rd.tokens) && rd.tokens[next].kind == numberToken {
		return false
	}
	for n > 2 && rd.items[n-1].kind == breakItem && rd.means(rd.items[n-1].token) == andWord { // and hold
		n--
	}
	if rd.items[n-1].kind != numberItem {
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

// afterMissed says that the figure just read is of the missed approach.
func (rd *reading) afterMissed() bool {
	n := len(rd.items)
	return n > 1 && rd.items[n-1].kind == numberItem && rd.items[n-2].kind == labelItem && rd.items[n-2].role == procedure.MissedHold
}

// missedFix is behind the fix that the missed approach holds at, which its label
// gets where it has none: "missed 10200, hold at XORLI".
func (rd *reading) missedFix(i int) int {
	at := i
	switch rd.wordAt(at) {
	case "at", "over", "bei", "ved":
		at++
	}
	word := rd.wordAt(at)
	if !rd.storedFix(word) || rd.figureFollows(at+1) {
		return i
	}
	for k := len(rd.items) - 1; k >= 0; k-- {
		if it := &rd.items[k]; it.kind == labelItem && it.role == procedure.MissedHold {
			if it.fix == "" {
				it.fix = strings.ToUpper(word)
			}
			return at + 1
		}
	}
	return i
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

// moreLabels says that there are more labels than altitudes.
func (rd *reading) moreLabels() bool {
	more := 0
	for _, it := range rd.items {
		switch it.kind {
		case labelItem:
			more++
		case numberItem:
			more--
		}
	}
	return more > 0
}
