package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// way reads how the crew comes in.
func (rd *reading) way(i int) int {
	p := rd.tags[i]
	next := i + p.n
	if p.meaning == viaWord || p.meaning == fromWord {
		for next < len(rd.tokens) && rd.means(next) == small && rd.tags[next].n == 1 && !rd.storedFix(rd.tokens[next].word) && (len(rd.tokens[next].word) != 5 || p.label != "") {
			next++
		}
	}
	word := rd.wordAt(next)
	if p.label == ArcLabel {
		return rd.arc(i, next)
	}
	if p.meaning == viaWord && (word == "arc" || word == "dme" && rd.wordAt(next+1) == "arc") {
		rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, next), Text: sayWhichArc, Either: true, Way: true})
		rd.apart(i)
		return next + 1
	}
	switch p.meaning {
	case wayWord:
		if rd.tokens[i].word == "traffic" && (slices.Contains(otherTraffic, rd.wordAt(i-1)) || strings.HasPrefix(word, "notam")) {
			return next // others' on the way, or no aircraft's
		}
		switch {
		case p.label == "traffic":
			if k := rd.req.Way.Kind; k == InHold || k == InTurn {
				rd.req.Way.In = k
			}
			rd.req.Way.Kind = Traffic
			if rd.storedFix(word) && !rd.figureFollows(next+1) {
				rd.via(word)
				next++
			}
		case rd.req.Way.Kind == Via && rd.req.Way.Fix != "" && p.label != "own":
			rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, next-1), Text: sayTwoWays(rd.req.Way.Fix), Either: true, Way: true})
		case rd.req.Way.Kind != Unsaid:
		case p.label == "own": // nobody vectors; from where is for the chart, or a question
			rd.via("")
		default:
			rd.req.Way = Way{Kind: Vectors}
			next = rd.vectorsTo(next)
		}
	case insideWord:
		if (rd.req.Way.Kind == Vectors || i == 0 && rd.atEndOf(i)) && rd.insideUnnamed(i, &next) {
			break
		}
		word = rd.wordAt(next)
		alone := rd.req.Way.Kind == Unsaid && len(word) == 5 && next < len(rd.tokens) && rd.tags[next].n == 0 &&
			!slices.ContainsFunc(rd.items, func(it item) bool { return it.kind != breakItem })
		known := next < len(rd.tokens) && rd.tags[next].n > 0 && rd.tags[next].label != common && !rd.storedFix(word)
		if !fixLike(word) || known || rd.req.Way.Kind != Vectors && !alone {
			return next
		}
		rd.req.Way = Way{Kind: VectorsInside, Fix: strings.ToUpper(word)}
		next++
	case fromWord:
		n := len(rd.items) - 1
		if n > 0 && rd.items[n].kind == fixItem {
			n--
		}
		labelled := n >= 0 && (rd.items[n].kind == labelItem || rd.items[n].kind == numberItem)
		numbered := labelled && rd.items[n].kind == numberItem && rd.procedureNamed()
		if rd.cameFrom(next) && (!labelled || numbered) || numbered && len(word) == 5 && letters(word) && rd.tags[next].n == 0 {
			rd.via(word)
			next++
			break
		}
		if !fixLike(word) || !labelled || rd.tags[next].n > 0 {
			return i + p.n
		}
		rd.items[n].from = strings.ToUpper(word)
		return next + 1
	default:
		return rd.comesVia(i, next)
	}
	rd.apart(i)
	return next
}

// otherTraffic stand before a traffic that is not told of the way in.
var otherTraffic = []string{"behind", "following", "other", "company", "ship", "ships", "shipping", "boat", "vessel", "road", "rail", "vehicle", "ground"}

// comesVia reads what stands behind via, direct and the like: a fix, an initial
// fix without its name, a turn or a hold.
func (rd *reading) comesVia(i, next int) int {
	p, word := rd.tags[i], rd.wordAt(next)
	if last := rd.assignedAt(i, next); last > 0 {
		return last + 1
	}
	if !rd.directAt(i) && len(word) == 5 && fixLike(word) && rd.asksAt(next) {
		return i + p.n // "how high over XOLMI": no way in
	}
	if rd.afterMissed() { // "missed 10200 direct XORLI"
		if behind := rd.missedFix(next); behind > next {
			return behind
		}
	}
	switch {
	case word == "hold" || word == "holding":
		rd.comesBy(procedure.Hold)
		next = rd.behindItsFix(next + rd.tags[next].n)
	case rd.means(next) == roleWord && rd.tags[next].role == procedure.ProcedureTurn:
		rd.comesBy(procedure.ProcedureTurn)
		next = rd.behindItsFix(next + rd.tags[next].n)
	case rd.means(next) == wayWord:
		return next
	case rd.means(next) == roleWord && rd.tags[next].role == procedure.InitialFix && !rd.figureFollows(next+rd.tags[next].n):
		rd.via("") // it has no name
		next += rd.tags[next].n
	case p.label == "from" && !rd.cameFrom(next):
		return i + p.n
	case fixLike(word) && (rd.tags[next].n == 0 || len(word) == 5 && rd.tags[next].n == 1 && rd.means(next) <= thanks || rd.storedFix(word)):
		if other := rd.orVia(next + 1); other > 0 {
			rd.whichVia(i, strings.ToUpper(word), other)
			return other + 1
		}
		if rd.viaAnother(i, next) {
			return next + 1
		}
		rd.via(word)
		next++
	default:
		return i + p.n
	}
	rd.apart(i)
	return next
}

// orVia is where the other fix stands of "via XADLO or XEMBA" and "via XADLO or via
// XEMBA", with the "or" at i; 0 where there is none.
func (rd *reading) orVia(i int) int {
	if rd.means(i) != orWord && (i >= len(rd.tokens) || rd.tokens[i].kind != sepToken || rd.text[rd.tokens[i].start] != '/') {
		return 0
	}
	at := i + 1
	if rd.means(at) == viaWord {
		at += rd.tags[at].n
	}
	if !rd.cameFrom(at) || rd.figureFollows(at+1) {
		return 0
	}
	return at
}

// whichVia asks which of two fixes the crew comes in by.
func (rd *reading) whichVia(i int, fix string, other int) {
	second := strings.ToUpper(rd.wordAt(other))
	way := func(fix string) Choice {
		return Choice{Words: []string{strings.ToLower(fix)}, Next: &Request{Way: Way{Kind: Via, Fix: fix}}}
	}
	rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(other, other), Text: sayEitherVia(fix, second), Either: true, Way: true, Choices: []Choice{way(fix), way(second)}})
	rd.req.Way = Way{}
	rd.apart(i)
}

// viaAnother says that the fix at next is another one than the crew was said to come
// in by, and is told or asked about: behind an initial fix one that is none only
// stands on the way.
func (rd *reading) viaAnother(i, next int) bool {
	have, fix := rd.req.Way.Fix, strings.ToUpper(rd.wordAt(next))
	if rd.req.Way.Kind != Via || have == "" || have == fix || rd.directAt(i) || rd.has(changeWord, notWord, insteadWord) {
		return false
	}
	if rd.initial(have) && !rd.initial(fix) {
		rd.notUsed(i, next)
		rd.apart(i)
		return true
	}
	if rd.initial(fix) && !rd.initial(have) {
		return false
	}
	rd.whichVia(i, have, next)
	return true
}

// initial says that a fix is an initial one in all stored procedures of the station.
func (rd *reading) initial(fix string) bool {
	if rd.roles == nil || rd.home == "" {
		return false
	}
	role, _, ok := rd.roles(rd.home, fix)
	return ok && role == procedure.InitialFix
}

// assignedAt refuses the altitude that a controller gives with a fix: "direct
// XOLMI at 8200". The result is its last token; 0 where there is none.
func (rd *reading) assignedAt(i, next int) int {
	at := next + 1
	if !rd.directAt(i) || !rd.cameFrom(next) || rd.wordAt(at) != "at" || !rd.figureFollows(at+1) {
		return 0
	}
	last := rd.withFigure(at)
	word := abbreviate(rd.typed(i, last))
	rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayNotCorrected(word)})
	rd.apart(i)
	return last
}

// directAt says that the word at i leads directly to a fix, past those before it.
func (rd *reading) directAt(i int) bool {
	words := rd.tags[i].words
	return strings.HasPrefix(words[0], "dir") || words[0] == "dct" || words[len(words)-1] == "direct"
}

// arc reads an arc, which begins at a fix that is named beside it, or asked for.
func (rd *reading) arc(i, next int) int {
	next = rd.behindFrom(next)
	if rd.cameFrom(next) && !rd.figureFollows(next+1) {
		rd.via(rd.wordAt(next))
		rd.apart(i)
		return next + 1
	}
	if i > 0 && rd.cameFrom(i-1) && rd.req.Way.Fix == strings.ToUpper(rd.wordAt(i-1)) { // via XOPAN arc
		return i + rd.tags[i].n
	}
	rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, i+rd.tags[i].n-1), Text: sayWhichArc, Either: true, Way: true})
	rd.apart(i)
	return i + rd.tags[i].n
}

// behindFrom is behind the word that stands between an arc and its fix.
func (rd *reading) behindFrom(i int) int {
	switch rd.wordAt(i) {
	case "from", "at", "via", "over", "beginning", "starting":
		return i + 1
	}
	return i
}

// via keeps the fix that the crew comes in by.
func (rd *reading) via(word string) {
	if rd.req.Way.Kind != Traffic {
		rd.req.Way.Kind = Via
	}
	rd.req.Way.Fix = strings.ToUpper(word)
}

// cameFrom says that the word at i is a fix that a crew may come from: the
// station's procedures have it, or it has five letters and is in no table.
func (rd *reading) cameFrom(i int) bool {
	word := rd.wordAt(i)
	return rd.storedFix(word) || len(word) == 5 && letters(word) && rd.tags[i].n == 0 && (rd.home == "" || rd.text[rd.tokens[i].start:rd.tokens[i].end] == strings.ToUpper(word))
}

// transition reads "XEMBA transition" and "XADLO side".
func (rd *reading) transition(i int) int {
	switch rd.wordAt(i + 1) {
	case "transition", "trans", "side", "entry", "ubergang":
		if rd.cameFrom(i) {
			rd.via(rd.tokens[i].word)
			rd.apart(i)
			return i + 2
		}
	}
	return 0
}

// figured says that an altitude of this role has its figure in the message.
func (rd *reading) figured(role procedure.Role) bool {
	for i, t := range rd.tags {
		if t.n > 0 && t.meaning == roleWord && t.role == role && rd.figureFollows(i+t.n) {
			return true
		}
	}
	return false
}

// anyWay says that the way in may be a turn or a hold: none is said, that nobody
// controls, or one from a fix that is not named.
func (rd *reading) anyWay() bool {
	w := rd.req.Way
	return w.Kind == Unsaid || w.Kind == Traffic || w == Way{Kind: Via}
}

// comesBy takes the turn or the hold as the way in; where nobody controls, traffic
// hears of it.
func (rd *reading) comesBy(role procedure.Role) {
	kind := InHold
	if role == procedure.ProcedureTurn {
		kind = InTurn
	}
	if rd.req.Way.Kind == Traffic {
		rd.req.Way.In = kind
		return
	}
	rd.req.Way = Way{Kind: kind}
}

// insideUnnamed reads the intermediate fix by its label: "vectors inside the IF",
// "vectors inside IF". An altitude behind the label is its own. Inside the final
// approach fix nobody is vectored.
func (rd *reading) insideUnnamed(i int, next *int) bool {
	if rd.wordAt(*next) == "the" {
		*next++
	}
	at := *next
	if rd.means(at) != roleWord {
		return false
	}
	figure := rd.figureFollows(at + rd.tags[at].n)
	switch rd.tags[at].role {
	case procedure.IntermediateFix:
		rd.req.Way = Way{Kind: VectorsInside} // its fix has no name
	case procedure.FinalFix:
		rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, at+rd.tags[at].n-1), Text: sayInsideFinal, Either: true, Way: true})
	default:
		return false
	}
	if !figure {
		*next = at + rd.tags[at].n
	}
	return true
}

// atEndOf says that nothing but a label stands behind the word at i, and small words
// before the label: "inside the IF".
func (rd *reading) atEndOf(i int) bool {
	at := i + rd.tags[i].n
	if rd.wordAt(at) == "the" {
		at++
	}
	return rd.means(at) == roleWord && at+rd.tags[at].n == len(rd.tokens)
}

// vectorsTo reads what vectors lead to, "vectors to XOLMI", "vectors to the IF":
// the intermediate fix, which they lead to anyway. It gives the next token.
func (rd *reading) vectorsTo(next int) int {
	if w := rd.wordAt(next); w != "to" && w != "towards" {
		return next
	}
	at := next + 1
	if rd.wordAt(at) == "the" {
		at++
	}
	switch {
	case rd.means(at) == roleWord && rd.tags[at].role == procedure.IntermediateFix:
		if rd.figureFollows(at + rd.tags[at].n) {
			return at
		}
		return at + rd.tags[at].n
	case rd.cameFrom(at) && !rd.figureFollows(at+1):
		rd.req.Way.Fix = strings.ToUpper(rd.wordAt(at))
		return at + 1
	}
	return next
}

// behindItsFix is behind the fix that a hold or a turn is named with, which is
// kept: "hold XIMLO", "in the hold at XIMLO".
func (rd *reading) behindItsFix(i int) int {
	at := i
	switch rd.wordAt(at) {
	case "at", "over", "in", "on", "bei", "ved":
		at++
	}
	if !rd.storedFix(rd.wordAt(at)) || rd.figureFollows(at+1) {
		return i
	}
	rd.req.Way.Fix = strings.ToUpper(rd.wordAt(at))
	return at + 1
}

// asks says that the message asks about what is there.
func (rd *reading) asks() bool {
	return slices.ContainsFunc(rd.tokens, func(t token) bool { return slices.Contains(questionWords, t.word) })
}

// inquires says that the message is a question.
func (rd *reading) inquires() bool {
	return strings.HasSuffix(strings.TrimSpace(rd.text), "?") || slices.Contains(questionWords, rd.wordAt(0)) || rd.wrote("correction")
}

// questionWords are those of a question about an altitude that is there.
var questionWords = []string{"what", "whats", "what's", "which", "how", "when", "where", "is", "does", "do", "correction", "figure", "altitude"}
