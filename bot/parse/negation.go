package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// Words that take the thing away which stands behind them, and those that say
// of the thing before them that it is out of service. What is in both may be
// meant for either side.
var (
	goneBefore = wordList("no", "not", "not the", "without", "wo", "w/o", "lost", "lose", "losing", "loss of", "failed", "inop", "unable", "dont", "don't", "doesn't", "doesnt",
		"do not", "does not", "haven't", "havent", "hasn't", "hasnt", "can't", "cant", "cannot", "never", "except", "excluding", "rather than", "instead of", "isn't", "isnt", "wasn't", "no longer", "nor", "lacking",
		"kein", "keine", "keinen", "ohne", "nicht", "uten", "ikke", "ingen", "sans", "pas de", "pas", "aucun", "ni", "sin", "senza", "ningun", "sem", "non", "u/s", "out of", "minus the", "leave out", "forget the", "cancel", "cancel the", "drop", "drop the", "kill", "kill the", "remove", "remove the", "delete", "delete the", "lose the", "skip", "skip the", "ditch the", "scrap the", "fjern", "stryk", "ta bort", "ta vekk", "utan", "oublie", "oublie la", "oublie le", "vergiss", "vergiss die", "glem", "olvida", "olvida la", "entferne", "streiche", "enleve", "supprime", "quita", "quitar", "togli")
	outOfService = []string{"inop", "inoperative", "u/s", "unserviceable", "out", "out of service", "ots", "oos", "failed", "fail", "fails", "failing", "failure", "failed us", "has failed",
		"flagged", "is flagged", "unavailable", "not available", "not received", "not being received", "can't be received", "not avail", "unavail", "down", "lost", "offline", "off line", "not working", "doesn't work",
		"doesnt work", "not functioning", "isn't working", "isnt working", "isn't available", "isnt available", "broken", "dead", "kaputt", "defekt", "defekte",
		"nede", "ute av drift", "ausgefallen", "nicht verfugbar", "ikke tilgjengelig", "en panne", "hors service", "ute", "borte", "hs", "indisponible", "fuera de servicio",
		"no disponible", "outage", "outages", "ausfall", "panne", "fallo"}
	broken     = wordList(outOfService...)
	goneBehind = wordList(append([]string{"n/a", "na", "off", "gone", "missing", "nope", "no", "none", "negative", "unusable", "not usable", "not authorized", "not authorised", "not auth", "not approved",
		"not installed", "not fitted", "not equipped", "not aboard", "not on board", "not in use", "disabled", "deactivated", "nil", "nei", "nein", "non", "not allowed",
		"prohibited", "not permitted"}, outOfService...)...)
	glideslope = wordList("glideslope", "glide slope", "gs", "g/s", "glidepath", "glide path", "gp", "gleitpfad", "gleitweg", "glidebane", "senda de planeo", "senda", "sentiero", "pente")
	radarWords = wordList("radar", "radar service", "radar vectors", "radarservice")
	compBox    = wordList("comp", "compensation", "temperature compensation", "baro comp", "compensator", "kompensation", "temperaturkompensation", "kompensasjon", "temperaturkompensasjon", "compensacion", "compensacion de temperatura", "compensazione")
)

// wordTable are words, and runs of them, by the first.
type wordTable map[string][][]string

func wordList(list ...string) wordTable {
	out := wordTable{}
	for _, s := range list {
		words := strings.Fields(strings.ReplaceAll(fold(s), "/", " / "))
		out[words[0]] = append(out[words[0]], words)
	}
	return out
}

// longest is how many tokens the longest of a table is that begins at i; 0
// for none.
func (rd *reading) longest(list wordTable, i int) int {
	n := 0
	if i < 0 || i >= len(rd.tokens) {
		return 0
	}
	if t := &rd.tokens[i]; t.word == "/" && !t.tight {
		return 0
	}
	for _, words := range list[rd.tokens[i].word] {
		if len(words) > n && begins(rd.tokens[i+1:], words[1:]) {
			n = len(words)
		}
	}
	return n
}

// negate puts a thing together with the word beside it that takes it away:
// "no sbas", "temp comp u/s", "lpv not available", "not via XADLO". Where the
// word could mean the thing on either side, it is asked about.
func (rd *reading) negate() {
	why := rd.hasVerb && rd.lead == Why
	for i := 0; i < len(rd.tokens); i++ {
		n, without := rd.thing(i)
		if n == 0 {
			continue
		}
		if lack := i - 2; rd.hasIt(i) && lack >= 0 && rd.fitting(lack) && rd.tags[lack].n == 2 { // "compensated no sbas yes"
			i += n - 1
			continue
		}
		from, both := rd.takenBefore(i)
		if why && (from < 0 || rd.means(from) != takeWord || !slices.Contains(withouts, rd.wordAt(from))) {
			continue // "why is LNAV/VNAV not usable" takes nothing away
		}
		to := i + n
		if from < 0 && without.meaning == notWayWord && rd.wordAt(to) == "no" {
			if next, _ := rd.thingAt(to + 1); next > 0 { // "vectors no vnav"
				i += n - 1
				continue
			}
		}
		if from < 0 {
			to, both = rd.takenBehind(to)
			if to > i+n && without.meaning == notLineWord && rd.askedOut(i, to) {
				for k := i + n; k < to; k++ {
					rd.tags[k] = tag{smallPhrase, 1}
				}
				i = to - 1
				continue
			}
		}
		if from < 0 && to < 0 {
			to, without = rd.givenBack(i+n, without)
		}
		switch {
		case from < 0 && to < 0:
			i += n - 1
			continue
		case without.meaning == stationWord && (both || !rd.isOut(without.label, from, i, i+n, to)):
			i += n - 1
			continue
		case both:
			without = phrase{meaning: unclearWord}
		case without.meaning == notLineWord && without.label == "loc" && rd.isOut("loc", from, i, i+n, to):
			without = phrase{meaning: stationWord, label: "loc"}
		}
		if from < 0 {
			from = i
		}
		if to < i+n {
			to = i + n
		}
		gone := without // what is kept of it, so that the rest need not be
		gone.words = []string{rd.tokens[from].word}
		for k := from; k < to; k++ {
			rd.tags[k] = tag{unknownPhrase, 0}
		}
		rd.tags[from] = tag{&gone, to - from}
		i = to - 1
	}
}

// askedOut says that the words from the line of minimums at i on ask whether it is out, or
// when: "is LNAV/VNAV NA at -30", "when does vnav become NA".
func (rd *reading) askedOut(i, to int) bool {
	for k := i + 1; k < to; k++ {
		if w := rd.wordAt(k); w == "become" || w == "becomes" || w == "get" || w == "go" {
			return true
		}
	}
	if i--; rd.wordAt(i) == "the" || rd.wordAt(i) == "baro" {
		i--
	}
	return slices.Contains([]string{"is", "are", "ist", "er", "est"}, rd.wordAt(i)) && (i == 0 || rd.inquires())
}

// withouts take away also what is asked about: "why XKLD -38 without LNAV".
var withouts = []string{"without", "w/o", "uten", "utan", "ohne", "sans", "sin", "senza"}

// givenBack is the token behind the words that say of the thing before token i that it
// is there again, and what that says; -1 and the thing's lack for none.
func (rd *reading) givenBack(i int, without phrase) (to int, _ phrase) {
	line := without.meaning == notLineWord
	if !line && (without.meaning != compensatedWord || without.label != "no") {
		return -1, without
	}
	if to = rd.restored(i); to < 0 && !line && slices.Contains(aboard, rd.wordAt(i)) {
		to = i + 1 // "comp yes"
	}
	if to < 0 {
		return to, without
	}
	if line {
		without.meaning = lineBackWord
	} else {
		without.label = "yes"
	}
	return to, without
}

// aboard say of what stands before them that the aircraft has it, and that it works.
var aboard = []string{"yes", "on", "available", "avail", "installed", "fitted", "active", "working", "works", "ok", "ja", "oui", "si", "an", "paa", "pa"}

// restored is the token behind the words that say of a line before token i that
// it is there again; -1 for none.
func (rd *reading) restored(i int) int {
	for ; i < len(rd.tokens) && rd.tokens[i].kind == wordToken; i += max(rd.tags[i].n, 1) {
		switch rd.tokens[i].word {
		case "doch", "likevel":
			if next := i + 1; slices.Contains([]string{"mit", "med", "wieder"}, rd.wordAt(next)) {
				return next + 1
			}
			return i + 1
		case "back", "restored", "returns", "returned", "repaired", "fixed", "tilbake", "zuruck", "revenu", "retabli":
			if rd.tags[i].n > 1 { // back to latest
				return -1
			}
			if next := i + 1; slices.Contains([]string{"up", "on", "again", "online", "working", "now"}, rd.wordAt(next)) {
				return next + 1
			}
			return i + 1
		case "up", "ok", "working", "works", "online", "funker", "geht", "funciona", "marche":
			if next := i + 1; slices.Contains([]string{"again", "now", "igjen", "wieder", "otra", "encore"}, rd.wordAt(next)) {
				return next + 1
			}
		}
		if !rd.isSmall(i) && !slices.Contains(goneLinks, rd.tokens[i].word) {
			return -1
		}
	}
	return -1
}

// thing is what an aircraft or an approach may have or lack, from token i on,
// and the phrase for its lack; n is 0 for everything else.
func (rd *reading) thing(i int) (n int, without phrase) {
	if rd.tokens[i].kind != wordToken {
		return 0, without
	}
	p := rd.tags[i]
	next := i + max(p.n, 1)
	if n := rd.longest(glideslope, i); n > 0 && n >= p.n && !rd.figureFollows(i+n) {
		return n, phrase{meaning: notLineWord, label: "ils"}
	}
	if n := rd.longest(radarWords, i); n > 0 && n >= p.n {
		return n, phrase{meaning: notWayWord}
	}
	if rd.tokens[i].word == "raim" {
		return 1, phrase{meaning: unclearWord}
	}
	if n := rd.longest(compBox, i); n > 0 && n >= p.n {
		return n, phrase{meaning: compensatedWord, label: "no"}
	}
	switch {
	case p.n == 0:
	case p.label == "yes" && (p.meaning == compensatedWord || p.meaning == sbasWord || p.meaning == remoteWord):
		return p.n, phrase{meaning: p.meaning, label: "no"}
	case p.meaning == additiveWord:
		return p.n, phrase{meaning: unclearWord} // "no additive": the altimeter is still another place's, or not
	case p.meaning == remoteWord:
		return p.n, phrase{meaning: remoteWord, label: "yes"} // no local setting
	case p.meaning == sbasWord, p.meaning == compensatedWord:
		// "sbas no lnav": whose is the no?
		if last := rd.tokens[next-1].word; last == "no" {
			if n, _ := rd.thingAt(next); n > 0 && !rd.hasIt(next) {
				rd.tags[i] = tag{&phrase{words: p.words, meaning: unclearWord}, p.n}
			}
		}
	case (p.meaning == lineWord || p.meaning == onlyLine) && !rd.figureFollows(next):
		return p.n, phrase{meaning: notLineWord, label: chosenLine(*p.phrase)}
	case p.meaning == kindWord && (p.words[0] == "ils" || isLocalizer(p.words[0])) && !(rd.numberAt(next) && rd.tokens[next].sign == 0 && rd.tokens[next].value > 0) && !rd.runwayAt(next) && (i == 0 || !rd.joinsName(i) && (isLocalizer(p.words[0]) || rd.tokens[i-1].kind != sepToken)):
		line := "ils"
		if isLocalizer(p.words[0]) {
			line = "loc"
		}
		return 1, phrase{meaning: notLineWord, label: line}
	case p.meaning == kindWord && slices.Contains(beacons, p.words[0]) && !rd.numberAt(next) && !rd.runwayAt(next) && (i == 0 || !rd.joinsName(i)):
		return 1, phrase{meaning: stationWord, label: p.words[0]}
	case p.meaning == fromWord && rd.cameFrom(next), p.meaning == viaWord, p.meaning == wayWord && p.label != "traffic",
		p.meaning == roleWord && (p.role == procedure.Hold || p.role == procedure.ProcedureTurn) && !rd.figureFollows(next):
		return p.n, phrase{meaning: notWayWord}
	}
	return 0, without
}

// hasIt says that what the aircraft is said to have stands at i, so that a no before
// it is another's: "compensated no sbas yes".
func (rd *reading) hasIt(i int) bool {
	n := rd.tags[i].n
	return rd.fitting(i) && n > 1 && rd.wordAt(i+n-1) == "yes"
}

// fitting says that what the aircraft has, or lacks, stands at i.
func (rd *reading) fitting(i int) bool {
	return rd.means(i) == sbasWord || rd.means(i) == compensatedWord
}

// beacons are what approaches are flown by, besides the localizer, as they are named
// by them.
var beacons = []string{"gps", "gnss", "vor", "ndb", "tacan"}

// isOut says that what stands from one token before a station, or behind it, says that
// it is out of service. A GPS that an aircraft has not is out, too.
func (rd *reading) isOut(station string, from, i, behind, to int) bool {
	if station == "gps" || station == "gnss" {
		return true
	}
	for k := max(from, 0); k < max(to, behind); k++ {
		if (from >= 0 && k < i || k >= behind) && rd.longest(broken, k) > 0 {
			return true
		}
	}
	return false
}

func isLocalizer(w string) bool {
	return w == "loc" || w == "localizer" || w == "localiser" || w == "localizador" || w == "llz"
}

func (rd *reading) thingAt(i int) (int, phrase) {
	for i < len(rd.tokens) && rd.isSmall(i) && rd.means(i) == small && rd.tags[i].n > 0 {
		i += rd.tags[i].n
	}
	if i >= len(rd.tokens) {
		return 0, phrase{}
	}
	return rd.thing(i)
}

// joinsName says that the kind of approach at i goes on from one before it:
// "ILS or LOC".
func (rd *reading) joinsName(i int) bool {
	m := rd.means(i - 1)
	return m == kindWord || m == orWord || rd.tokens[i-1].kind == sepToken && rd.text[rd.tokens[i-1].start] == '/'
}

// takenBefore is where the words begin that take the thing at i away, with
// nothing but small words between; -1 for none. both says that the same words
// may be meant for what stands before them.
func (rd *reading) takenBefore(i int) (from int, both bool) {
	for k, skipped := i-1, 0; k >= 0 && skipped < 4 && rd.tokens[k].kind == wordToken; k-- {
		for s := max(0, k-2); s <= k; s++ {
			if rd.longest(goneBefore, s) != k-s+1 {
				continue
			}
			// A thing before a word that is also said behind things.
			return s, rd.longest(goneBehind, s) == k-s+1 && rd.thingBefore(s)
		}
		if !rd.isSmall(k) && !rd.covered(k) {
			return -1, false
		}
		skipped++
	}
	return -1, false
}

// thingBefore says that a thing stands before token i.
func (rd *reading) thingBefore(i int) bool {
	for s := max(0, i-3); s < i; s++ {
		if n, without := rd.thing(s); n > 0 && s+n == i {
			return without.meaning != notWayWord || rd.wordAt(i) != "no" // "vectors, no vnav"
		}
	}
	return false
}

// takenBehind is the token behind the words that say of the thing before
// token i that it is out of service; -1 for none. both says that they are not
// understood: "sbas not ...".
func (rd *reading) takenBehind(i int) (to int, both bool) {
	for skipped := 0; i < len(rd.tokens) && skipped < 5; skipped++ {
		t := rd.tokens[i]
		if t.kind == bindToken {
			i++
			continue
		}
		if t.kind != wordToken {
			return -1, false
		}
		if rd.offAnApproach(i) {
			return -1, false
		}
		if n := rd.longest(goneBehind, i); n > 0 && rd.tags[i].n <= n {
			if other, _ := rd.thingAt(i + n); other > 0 && rd.longest(goneBefore, i) == n {
				return i + n, true
			}
			return i + n, false
		}
		if rd.longest(goneBefore, i) > 0 { // "not" of what stands behind it, or of a word in no list
			if other, _ := rd.thingAt(i + rd.longest(goneBefore, i)); other > 0 {
				return -1, false
			}
			if next := i + 1; slices.Contains([]string{"not", "isn't", "isnt", "doesn't", "doesnt", "ikke", "nicht", "wasn't"}, t.word) && next < len(rd.tokens) && rd.tokens[next].kind == wordToken && rd.tags[next].n == 0 {
				return next + 1, true
			}
			return -1, false
		}
		if !rd.isSmall(i) && !slices.Contains(goneLinks, t.word) {
			return -1, false
		}
		i += max(rd.tags[i].n, 1)
	}
	return -1, false
}

// offAnApproach says that "off", or "out of", at i leads to the approach that is
// flown: "circling off the ILS".
func (rd *reading) offAnApproach(i int) bool {
	next := i + 1
	switch {
	case rd.wordAt(i) == "out" && rd.wordAt(next) == "of":
		next++
	case rd.wordAt(i) != "off":
		return false
	}
	if rd.wordAt(next) == "the" {
		next++
	}
	m := rd.means(next)
	return m == kindWord || m == runwayWord || m == approachNoun || rd.runwayAt(next)
}

// goneLinks may stand between a thing and what is said of it.
var goneLinks = []string{"er", "ist", "est", "esta", "went", "has", "just", "box", "system", "function", "line", "signal", "service", "seems", "appears", "receiver", "approach", "currently", "now"}

// behindNo says that the only figure of the message stands directly behind a no.
func (rd *reading) behindNo() bool {
	i := slices.IndexFunc(rd.tokens, func(t token) bool { return t.kind == numberToken })
	return i > 0 && rd.means(i-1) == noWord
}

// taken is what a message takes away: a line, the way in, or what could be
// either of two things.
func (rd *reading) taken(i int) int {
	p := rd.tags[i]
	next := i + p.n
	word := rd.typed(i, next-1)
	switch p.meaning {
	case notLineWord:
		if !slices.Contains(rd.req.Without, p.label) {
			rd.req.Without = append(rd.req.Without, p.label)
		}
	case stationWord:
		if kind, _, _ := strings.Cut(rd.req.Procedure, " "); p.label == "loc" && kind != "" && kind != "ils" && !isLocalizer(kind) {
			rd.notUsed(i, next-1) // of another approach
			break
		}
		rd.refuse(rd.tokens[i].start, &Problem{Word: abbreviate(word), Text: sayStationOut(abbreviate(word)), Either: true, Named: true})
	case lineBackWord:
		rd.lineBack = rd.req.Minima == ""
		if rd.also = true; rd.lineBack {
			rd.req.Minima = p.label
		}
	case notWayWord:
		for next < len(rd.tokens) && rd.tokens[next].kind == wordToken && rd.tags[next].n == 0 && fixLike(rd.tokens[next].word) {
			next++
		}
		rd.refuse(rd.tokens[i].start, &Problem{Word: abbreviate(word), Text: sayWhichWay(abbreviate(word)), Either: true, Way: true})
	default:
		p := &Problem{Word: abbreviate(word), Text: sayWhatIsOut(abbreviate(word)), Either: true}
		if rd.tags[i].label == "sbas" { // "SBAS required?"
			p.Text, p.Choices = sayHasIt(true), hasIt(true)
		}
		rd.refuse(rd.tokens[i].start, p)
	}
	rd.apart(i)
	return next
}
