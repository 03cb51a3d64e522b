package parse

import "strings"

// What a lone y may be, beside the yes that the table has.
var (
	yAnd    = &phrase{words: []string{"y"}, meaning: andWord}
	yLetter = &phrase{words: []string{"y"}, meaning: letterWord, label: "y"}
)

// aloneY says what a y is: the letter of an approach beside its kind or its
// runway, Spanish for and before what it adds, talk in "y not" and "il y a", else
// a yes, which where nothing was asked is a letter again (letterAlone).
func (rd *reading) aloneY(i int) *phrase {
	next, p := i+1, unknownPhrase
	if next < len(rd.tokens) && rd.tokens[next].kind == wordToken {
		p, _ = match(rd.tokens, next)
	}
	names := func(m meaning) bool { return m == kindWord || m == runwayWord || m == approachNoun }
	figure := rd.numberAt(next) && rd.tokens[next].sign == 0 && !rd.runwayAt(next) || p.meaning == roleWord || p.meaning == lineWord
	behind := next
	if behind < len(rd.tokens) && rd.tokens[behind].kind == sepToken {
		behind++
	}
	switch {
	case i > 0 && names(rd.means(i-1)), names(p.meaning), rd.runwayAt(next), i > 0 && rd.runwayAt(i-1) && !figure:
		return yLetter
	case rd.wordAt(behind) == "n", p.meaning == notWord, rd.wordAt(next) == "a" && rd.wordAt(i-1) == "il":
		return smallPhrase
	case figure || i > 0 && rd.numberAt(i-1) && next < len(rd.tokens):
		return yAnd
	}
	switch rd.wordAt(next) {
	case "en", "para", "con", "por", "sin", "el", "la", "los", "las", "tambien":
		return yAnd
	}
	yes, _ := match(rd.tokens, i)
	return yes
}

// letterAlone takes the letter of an approach where nothing else was said but
// small words: "the y", "zulu". A y and nothing else is a yes, until a procedure
// is asked about.
func (rd *reading) letterAlone() bool {
	letter := ""
	for i := 0; i < len(rd.tokens); i += max(rd.tags[i].n, 1) {
		switch t := rd.tokens[i]; {
		case t.kind == numberToken:
			return false
		case t.kind != wordToken || rd.tags[i].n > 1 || rd.tags[i].phrase == smallPhrase:
		case rd.means(i) == letterWord:
			letter += rd.tags[i].label
		case t.word == "zulu":
			letter += "z"
		case len(t.word) == 1 && strings.Contains("uvwxyz", t.word):
			if t.word == "u" && len(rd.tokens) > 1 && rd.wordAt(i-1) != "the" {
				continue // "u there?"
			}
			letter += t.word
		}
	}
	if len(letter) != 1 {
		return false
	}
	rd.req.Procedure = letter
	if len(rd.tokens) == 1 && rd.means(0) == yesWord {
		return false
	}
	rd.unread, rd.agreed = nil, false
	return true
}
