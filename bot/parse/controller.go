package parse

import "slices"

// speech is what a word does in "the controller told us to expect 9000".
type speech uint8

const (
	who    speech = iota + 1 // gives altitudes
	gives                    // says so of whoever was named before
	orders                   // says so alone
	links                    // stands between the others
)

// saidByControl are the words around an altitude that a controller gives; the
// vocabulary has those that say so before any figure. Those of other languages
// are common ones.
var saidByControl = func() map[string]speech {
	m := map[string]speech{}
	for s, words := range map[speech][]string{
		who: {"atc", "controller", "controllers", "control", "center", "centre", "radar", "tower", "approach", "app", "ctr", "they", "lotse", "lotsen", "flygeleder", "flygelederen", "tarnet",
			"controle", "controleur", "controlador", "controladora", "controllore", "torre", "turm"},
		gives: {"gave", "gives", "give", "given", "put", "puts", "has", "have", "had", "got", "keeps", "kept", "says", "say", "said", "tells", "wants", "want", "wanted", "offered", "offers", "issued", "needs",
			"hat", "gibt", "gab", "gegeben", "ga", "gir", "gitt", "har", "sier", "sagt", "donne", "dit", "dio", "dieron", "dice", "dato"},
		orders: {"expect", "expects", "expecting", "assigned", "erwarten", "erwarte", "forvent", "prevoyez", "attendez-vous", "espere", "aspettate"},
		links: {"me", "us", "him", "to", "at", "down", "up", "by", "the", "a", "and", "on", "of", "now", "just", "initially", "level", "still", "for", "we", "are", "were", "was", "be", "altitude",
			"uns", "mir", "auf", "til", "oss", "meg", "pa", "nous", "nos", "ci", "mi", "lo", "la", "le", "les", "der", "die", "il", "el", "en", "in", "um", "ha", "as"},
	} {
		for _, w := range words {
			m[w] = s
		}
	}
	return m
}()

// controllers reads an altitude that a controller gives, with the words for it
// before it: "ATC 9000", "they gave me 9000", "told to expect 9000", "vectored
// 9000". It is flown as it is. The result is its last token; -1 where token i
// begins none.
func (rd *reading) controllers(i int) int {
	first := saidByControl[rd.tokens[i].word]
	if first != who && first != orders && rd.means(i) != assignedWord && !rd.vectors(i) && !rd.gaveUs(i) {
		return -1
	}
	named, said, loose, vectors, k := false, false, false, false, i
	for k < len(rd.tokens) {
		s, n := saidByControl[rd.wordAt(k)], 1
		switch {
		case rd.means(k) == assignedWord:
			said, loose, n = true, true, rd.tags[k].n
		case rd.vectors(k):
			vectors, n = true, rd.tags[k].n
		case rd.tokens[k].kind == bindToken && k == i+1:
		case s == 0, rd.means(k) == approachNoun && k > i && rd.wordAt(k-1) != "by" && rd.wordAt(k-1) != "from": // cleared approach
			n = 0
		default:
			named = named || s == who
			said = said || s == orders || s == gives && (named || k == i)
		}
		if n == 0 {
			break
		}
		k += n
	}
	if loose && rd.figureFollows(k) { // small words and a fix may stand between
		for k < len(rd.tokens) && rd.tokens[k].kind != numberToken && !rd.numeral(k) {
			k++
		}
	}
	switch {
	case !rd.altitudeAt(k):
		return -1
	case said:
	case vectors:
		if !slices.Contains(levels, rd.wordAt(k-1)) && rd.oneOfSeveral(k) { // a way in, and the chart's altitudes
			return -1
		}
	case first != who || rd.means(i) == approachNoun || k-i > 1 && rd.tokens[k-1].kind != bindToken:
		return -1
	}
	if _, n := inWords(rd.tokens, k); n > 0 {
		return k + n - 1
	}
	return k
}

// oneOfSeveral says that the figure at i is one of several without a label.
func (rd *reading) oneOfSeveral(i int) bool {
	n := 1
	if _, words := inWords(rd.tokens, i); words > 0 {
		n = words
	}
	return rd.bareFigure(i + n)
}

// bareFigure says that an altitude without a label stands at i, past its separator.
func (rd *reading) bareFigure(i int) bool {
	for i < len(rd.tokens) && (rd.tokens[i].kind == sepToken || rd.means(i) == feetWord || rd.means(i) == metreWord || rd.wordAt(i) == "and") {
		i++
	}
	return (rd.numberAt(i) || rd.numeral(i)) && rd.altitudeAt(i)
}

// vectoredAt says that a figure that was read up to token next stands alone before
// the words for being vectored, and is what that is at: "9000 on vectors". Behind
// "8200 vectors" the word is a way in.
func (rd *reading) vectoredAt(next int) bool {
	if !rd.vectors(next) || !slices.Contains([]string{"vectored", "vectoring", "being", "on"}, rd.wordAt(next)) {
		return false
	}
	n := len(rd.items)
	for n > 0 && rd.items[n-1].kind == breakItem {
		n--
	}
	if n > 0 && rd.items[n-1].kind == numberItem && (n == 1 || rd.items[n-2].kind != labelItem && rd.items[n-2].kind != fixItem) {
		return false // one of several
	}
	behind := next + rd.tags[next].n
	return rd.means(behind) != insideWord && rd.wordAt(behind) != "to" && rd.wordAt(behind) != "towards" && !rd.bareFigure(behind)
}

// levels stand between vectors and the altitude that they are at.
var levels = []string{"at", "to", "auf", "pa", "a", "til"}

// vectors says that the word for them stands at i.
func (rd *reading) vectors(i int) bool {
	return rd.means(i) == wayWord && rd.tags[i].label == "vectors"
}

// gaveUs says that "gave me" stands at i, and not of what firn or a table gave.
func (rd *reading) gaveUs(i int) bool {
	if rd.tokens[i].word != "gave" || rd.wordAt(i+1) != "me" && rd.wordAt(i+1) != "us" {
		return false
	}
	before := rd.wordAt(i - 1)
	return before == "" || saidByControl[before] == who
}

// altitudeAt says that the figure of an altitude stands at i, and no time or speed.
func (rd *reading) altitudeAt(i int) bool {
	if i >= len(rd.tokens) || !rd.figureFollows(i) || rd.means(i+1) == measureUnit {
		return false
	}
	t := rd.tokens[i]
	if t.kind != numberToken {
		_, n := inWords(rd.tokens, i)
		return n > 0
	}
	clock := len(t.word) == 4 && Altitude{Value: t.value, Bare: t.unit == noUnit}.likeTime()
	return !clock || !(rd.hasVerb && rd.lead == Brief) && !rd.underField(t.value)
}

// controllersBehind is behind the words that say of the figure before token i that
// a controller gave it: "9000 from ATC", "9000 assigned"; i where they do not.
func (rd *reading) controllersBehind(i int) int {
	if rd.vectoredAt(i) {
		return i + rd.tags[i].n
	}
	switch rd.wordAt(i) {
	case "from", "per", "by", "assigned", "given", "as", "atc":
	default:
		return i
	}
	k, said := i+1, rd.wordAt(i) == "atc" || rd.wordAt(i) == "assigned"
	for ; k < len(rd.tokens); k++ {
		s := saidByControl[rd.wordAt(k)]
		if s == 0 || s == gives {
			break
		}
		said = said || s == who
	}
	if !said || rd.altitudeAt(k) {
		return i
	}
	return k
}

// controlled refuses what a controller gave, from token i to last.
func (rd *reading) controlled(i, last int) {
	word := rd.typed(i, last)
	if short := abbreviate(word); short != word { // then the figure alone
		k := i
		for k < last && rd.tokens[k].kind != numberToken && !rd.numeral(k) {
			k++
		}
		word = abbreviate(rd.typed(k, last))
	}
	rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayNotCorrected(word)})
	rd.apart(i)
}
