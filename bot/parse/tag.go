package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// tag is what a word says by the tables alone. The first word of a phrase has
// it; n is how many tokens the phrase is, 0 for the words behind the first
// and for what no table knows.
type tag struct {
	*phrase
	n int
}

var unknownPhrase = &phrase{}

// smallPhrase is a small word that no table has as it was typed.
var smallPhrase = &phrase{words: []string{""}, meaning: small}

// tag says of every word what the tables know of it, without judging. A
// station's ident in capitals comes before small words.
func (rd *reading) tag() {
	rd.home = rd.req.Station
	for range rd.tokens {
		rd.tags = append(rd.tags, tag{unknownPhrase, 0})
	}
	leads := true
	for i := 0; i < len(rd.tokens); {
		t := rd.tokens[i]
		if t.kind != wordToken {
			if t.kind == numberToken {
				rd.cold = rd.cold || t.sign != 0 || t.unit == celsiusUnit || t.unit == fahrenheitUnit
				leads = false
			}
			i++
			continue
		}
		p, n := match(rd.tokens, i)
		if t.word == "y" {
			p = rd.aloneY(i)
		}
		if (rd.home == "" || rd.listed(rd.home)) && (n == 0 || rd.shouted(t)) {
			if ident, ok := rd.places.Place(rd.text[t.start:t.end]); ok && (rd.home == "" || !rd.listed(ident)) {
				rd.home = ident
			}
		}
		p, n = rd.judged(i, p, n)
		if n == 0 || n == 1 && p.meaning <= thanks && rd.shouted(t) {
			leads = false
			i++
			continue
		}
		rd.tags[i] = tag{p, n}
		switch p.meaning {
		case verbWord:
			switch {
			case leads:
				rd.lead, rd.hasVerb, leads = p.verb, true, false
			case !rd.anyVerb:
				rd.verb, rd.anyVerb = p.verb, true
			}
		case minusWord, belowWord:
			rd.cold = true
		case small, thanks, yesWord, noWord, andWord:
		default:
			leads = false
		}
		i += n
	}
	if rd.hasVerb && rd.lead == Check || rd.req.HasTemperature {
		rd.cold = true
	}
}

// judged is what a word means where the table, which has the phrase p of n words at
// i, would mistake it, or has none.
func (rd *reading) judged(i int, p *phrase, n int) (*phrase, int) {
	t := rd.tokens[i]
	if n == 1 && p.meaning == roleWord && len(t.word) <= 3 && len(t.word) < t.end-t.start && rd.text[t.start+1] != '.' {
		if p, n = unknownPhrase, 0; t.word == "ma" {
			p, n = smallPhrase, 1 // "må" is no missed approach
		}
	}
	if n == 1 && p.meaning == roleWord && (t.word == "gs" || t.word == "gp") && (i+1 == len(rd.tokens) || rd.tokens[i+1].kind != numberToken) {
		n = 0 // a glide path that works or does not
	}
	if n == 1 && p.label == common && len(t.word) == 5 && rd.capitals(t) {
		n = 0 // a fix may be named so
	}
	if n == 1 && t.word == "ta" && rd.capitals(t) && rd.numberAt(i+1) && rd.tokens[i+1].sign == 0 {
		p = &transitionPhrase // and no thanks
	}
	if n == 1 && t.word == "gls" && (rd.runwayAt(i+1) || rd.letterAt(i+1) && rd.runwayAt(i+2)) {
		p = &landingSystem
	}
	if n == 0 && straightIn(t.word, 0) {
		p, n = &straightInPhrase, 1
	}
	if bare, ok := strings.CutSuffix(t.word, "'s"); n == 0 && ok && len(bare) > 1 { // "wind's 310 at 8"
		for k := range phrases[bare] {
			if of := &phrases[bare][k]; n == 0 && len(of.words) == 1 {
				p, n = of, 1
			}
		}
	}
	if of := drawnTo(t.word); n == 0 && of != nil { // "l'IAF", "l'ILS"
		p, n = of, 1
	}
	if n == 0 && elided(t.word) {
		p, n = smallPhrase, 1
	}
	if n == 0 && !rd.isName(t) {
		if slip := slipOf(t.word); slip != nil && slip.meaning != small {
			p, n = slip, 1
		}
	}
	return p, n
}

// landingSystem is GLS before a runway, an approach; else it is a line of minimums.
var landingSystem = func() phrase { return said(kindWord, "", "gls")[0] }()

// transitionPhrase is TA before a figure, a transition altitude.
var transitionPhrase = said(measureWord, "transition", "ta")[0]

// straightInPhrase is the label of S-31.
var straightInPhrase = func() phrase { return roleWords(procedure.MinimumDescent, "minimums", "s-31")[0] }()

// drawnTo is the label, the line or the kind of approach that a French or Italian article
// is drawn to.
func drawnTo(w string) *phrase {
	head, rest, ok := strings.Cut(w, "'")
	if !ok || head != "l" && head != "d" && head != "all" && head != "dell" {
		return nil
	}
	of, n := match([]token{{word: rest}}, 0)
	if n != 1 || of.meaning != roleWord && of.meaning != lineWord && of.meaning != kindWord {
		return nil
	}
	return of
}

// elided says that a word is a small one with an article or a pronoun drawn to it,
// as French and Italian do: "j'ajoute", "l'altitude".
func elided(w string) bool {
	head, rest, ok := strings.Cut(w, "'")
	if !ok || len(rest) < 2 {
		return false
	}
	switch head {
	case "j", "l", "d", "s", "n", "m", "t", "c", "qu", "dell", "all", "nell", "un", "lorsqu", "jusqu":
	default:
		return false
	}
	return slices.ContainsFunc(phrases[rest], func(p phrase) bool { return len(p.words) == 1 && p.meaning == small })
}

// isName says that a word which no table has is no slip: the name of a
// station or a rule set, a number, or too short to tell.
func (rd *reading) isName(t token) bool {
	if len(t.word) < shortestSlip || slices.Contains(rd.rules, t.word) {
		return true
	}
	if _, ok := rd.places.Place(rd.text[t.start:t.end]); ok {
		return true
	}
	var room [longestRun]numeral
	return len(wordNumerals(t.word, false, room[:0])) > 0
}

// listed says that only a list of airports knows a station.
func (rd *reading) listed(ident string) bool {
	l, ok := rd.places.(Lister)
	return ok && l.Listed(ident)
}

// onlyWord says that a word which is a listed field's ident is meant as a word:
// it is not in capitals, and a station is named elsewhere.
func (rd *reading) onlyWord(ident, raw string, t token) bool {
	return raw == t.word && rd.home != ident && rd.home != "" && rd.listed(ident) && !(rd.hasVerb && rd.lead == Brief)
}

// shouted says that a word is the ident of a station in capitals.
func (rd *reading) shouted(t token) bool {
	raw := rd.text[t.start:t.end]
	if len(raw) < 3 || raw == t.word {
		return false
	}
	for i := range len(raw) {
		if raw[i] >= 'a' && raw[i] <= 'z' {
			return false
		}
	}
	_, ok := rd.places.Place(raw)
	return ok
}

// capitals says that a word was typed in capitals.
func (rd *reading) capitals(t token) bool {
	raw := rd.text[t.start:t.end]
	return raw == strings.ToUpper(raw)
}

// match finds the longest known phrase that begins at tokens[i].
func match(tokens []token, i int) (*phrase, int) {
	best, n := unknownPhrase, 0
	if t := &tokens[i]; t.word == "/" && !t.tight {
		return best, n
	}
	list := phrases[tokens[i].word]
	for k := range list {
		if p := &list[k]; len(p.words) > n && begins(tokens[i+1:], p.words[1:]) {
			best, n = p, len(p.words)
		}
	}
	return best, n
}

func begins(tokens []token, words []string) bool {
	if len(tokens) < len(words) {
		return false
	}
	for i, w := range words {
		if tokens[i].word != w || w == "/" && !tokens[i].tight {
			return false
		}
	}
	return true
}

// means says what the token at i begins; noMeaning behind the last.
func (rd *reading) means(i int) meaning {
	if i < 0 || i >= len(rd.tags) {
		return noMeaning
	}
	return rd.tags[i].meaning
}

// isSmall says that the word at i says nothing of what stands beside it.
func (rd *reading) isSmall(i int) bool {
	switch rd.means(i) {
	case small, thanks, seaWord, yesWord, noWord, coldWord, pastWord, straightWord:
		return true
	}
	return false
}

// has says that a word of the table has one of these meanings.
func (rd *reading) has(ms ...meaning) bool {
	return slices.ContainsFunc(rd.tags, func(t tag) bool { return t.n > 0 && slices.Contains(ms, t.meaning) })
}
