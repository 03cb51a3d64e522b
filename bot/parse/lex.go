package parse

import (
	"strings"
)

// tokenKind says what a piece of the message is.
type tokenKind uint8

const (
	wordToken tokenKind = iota
	numberToken
	sepToken   // comma, slash, semicolon, line break: parts the message
	bindToken  // colon, equals sign: ties a label to what follows
	doubtToken // could be read two ways
	clockToken // a time of day
	sightToken // the visibility behind minimums: 5460-1
)

// unit is what stands behind a number.
type unit uint8

const (
	noUnit unit = iota
	feetUnit
	metreUnit
	celsiusUnit
	fahrenheitUnit
)

// token is a piece of the message with its place in it.
type token struct {
	kind       tokenKind
	start, end int
	word       string // lower case; of a number: as typed
	value      float64
	sign       int8 // -1, +1, or 0 when none was typed
	unit       unit
	grouped    bool // has a thousands separator
	pair       bool // temperature and dew point, as in a report
	tight      bool // nothing stands between it and the token before
	aside      bool // in round brackets
	clock      Clock
}

// lex splits a cleaned message. lower is text in lower case.
func lex(text, lower string) []token { return lexInto(make([]token, 0, 16), text, lower) }

// lexInto puts the tokens behind those that it is given.
func lexInto(tokens []token, text, lower string) []token {
	aside := false
	emit := func(t token) {
		if n := len(tokens); n > 0 {
			t.tight = tokens[n-1].end == t.start
		}
		t.aside = aside
		if t.word = lower[t.start:t.end]; t.kind == wordToken {
			switch t.word = undotted(fold(t.word)); t.word {
			case "w/":
				t.word = "with"
			case "&":
				t.word = "and"
			}
		}
		tokens = append(tokens, t)
	}
	for i := 0; i < len(text); {
		c := text[i]
		switch {
		case c == '(' || c == ')':
			aside = c == '('
			i++
		case c == '>' && i+1 < len(text) && text[i+1] == '=':
			i += 2 // at or above, as every altitude is
		case c == ' ' || c == '[' || c == ']' || c == '{' || c == '}' || c == '!' || c == '?' || c == '>':
			i++
		case c == '&':
			emit(token{kind: wordToken, start: i, end: i + 1})
			i++
		case degreeUnit(text[i:]):
			i += len("\u00b0") // "-38 °C", as the replies write it: the letter counts
		case c == '\n' || c == ',' || c == ';' || c == '/' || c == '|' || c == '\\':
			emit(token{kind: sepToken, start: i, end: i + 1})
			i++
		case c == ':' || c == '=':
			emit(token{kind: bindToken, start: i, end: i + 1})
			i++
		case c == '.' && dotParts(text, i):
			emit(token{kind: sepToken, start: i, end: i + 1})
			i++
		case c == '.' && (i+1 == len(text) || !isDigit(text[i+1]) || i > 0 && text[i-1] == '.'):
			if i+1 < len(text) && text[i+1] == ' ' && i > 0 && isAlnum(text[i-1]) {
				emit(token{kind: sepToken, start: i, end: i + 1}) // the end of a sentence
			}
			i++ // a full stop, or dots between two numbers
		case c == '-' || c == '+':
			i = lexSign(text, i, &tokens, emit)
		case isDigit(c) || c == '.':
			i = lexNumber(text, i, i, 0, emit)
		case c|0x20 == 'w' && i+1 < len(text) && text[i+1] == '/' && (i+2 == len(text) || text[i+2]|0x20 != 'o') && (i == 0 || !isAlnum(text[i-1])):
			emit(token{kind: wordToken, start: i, end: i + 2})
			i += 2
		case isLetter(c) || c >= 0x80 && !strings.HasPrefix(text[i:], "\u00b0"):
			i = lexWord(text, lower, i, emit)
		default: // anything else is a word of its own, for the reader to refuse
			end := i + 1
			for end < len(text) && text[end] >= 0x80 {
				end++
			}
			emit(token{kind: wordToken, start: i, end: end})
			i = end
		}
	}
	return tokens
}

// lexSign reads a run of dashes, or a plus. A dash is a minus when a digit
// follows it and nothing but space or a separator stands before it; between
// two things it may also part them.
func lexSign(text string, i int, tokens *[]token, emit func(token)) int {
	start := i
	for i < len(text) && text[i] == text[start] {
		i++
	}
	sign := int8(-1)
	if text[start] == '+' {
		sign = 1
	}
	if i == len(text) || !isDigit(text[i]) && !(text[i] == '.' && i+1 < len(text) && isDigit(text[i+1])) {
		if isLetterAt(text, i) && start > 0 && isAlnum(text[start-1]) {
			return i // "28-left": parts two words
		}
		if isLetterAt(text, i) && (start == 0 || text[start-1] == ' ') && i-start >= 2 {
			// "--json": an option that came too late
			end := i
			for end < len(text) && text[end] != ' ' && text[end] != '\n' {
				end++
			}
			emit(token{kind: wordToken, start: start, end: end})
			return end
		}
		j := i
		for j < len(text) && text[j] == ' ' {
			j++
		}
		// "- 38": a dash of punctuation, or a minus with a space behind it?
		if j > i && j < len(text) && isDigit(text[j]) {
			end := j
			for end < len(text) && (isDigit(text[end]) || text[end] == ',' && end+1 < len(text) && isDigit(text[end+1])) {
				end++
			}
			if end-j <= 2 {
				emit(token{kind: doubtToken, start: start, end: end})
				return end
			}
		}
		if i+1 < len(text) && text[i] == '?' && text[i+1] == '?' && start > 0 && text[start-1] == ' ' { // "-??": not known yet
			emit(token{kind: doubtToken, start: start, end: i + 2})
			return i + 2
		}
		if start == 0 || text[start-1] == ' ' || text[start-1] == '\n' {
			emit(token{kind: sepToken, start: start, end: i})
		}
		return i
	}
	before := byte(' ')
	if start > 0 {
		before = text[start-1]
	}
	switch {
	case isDigit(before):
		digits := numberLength(text, i)
		if t := &(*tokens)[len(*tokens)-1]; sign < 0 && digits == 1 && t.kind == numberToken && t.value >= 100 {
			end := sightEnd(text, i+1)
			emit(token{kind: sightToken, start: start, end: end})
			return end
		}
		if digits >= 3 {
			emit(token{kind: sepToken, start: start, end: i}) // 8200-7400
			return i
		}
		// 8400-27: two numbers, or a number and a minus?
		t := &(*tokens)[len(*tokens)-1]
		if t.kind != numberToken {
			break
		}
		t.kind, t.end = doubtToken, i+digits
		t.word = strings.ToLower(text[t.start:t.end])
		return i + digits
	case isLetter(before) || before == '\'':
		if numberLength(text, i) >= 3 {
			emit(token{kind: bindToken, start: start, end: i}) // FAF-8200
			return i
		}
	}
	return lexNumber(text, start, i, sign, emit)
}

func isLetterAt(text string, i int) bool { return i < len(text) && isLetter(text[i]) }

// joins says that a word is often typed tight against its figure: a label,
// and behind it a unit or what the figure is measured from.
func joins(word string, behind bool) bool {
	w := strings.ToLower(word)
	if w == "map" || w == "mapt" { // which are asked about
		return !behind
	}
	for _, p := range phrases[w] {
		if len(p.words) > 1 {
			continue
		}
		switch p.meaning {
		case roleWord, elevationWord:
			return true
		case measureWord:
			return !behind || p.label == "dew point"
		case lineWord:
			return true
		case belowWord, heightWord, seaWord, feetWord, metreWord, celsiusWord, fahrenheitWord, measureUnit, clockUnit:
			return behind
		}
	}
	return false
}

// signs says that a word is often typed tight before the figure of a
// temperature: "minus38", "temp27".
func signs(word string) bool {
	for _, p := range phrases[strings.ToLower(word)] {
		if len(p.words) == 1 && len(word) > 1 {
			switch p.meaning {
			case minusWord, plusWord, belowWord, temperatureWord:
				return true
			}
		}
	}
	return false
}

// gluedFigure parts "minustwentysix" behind its sign; 0 for every other word.
func gluedFigure(w string) int {
	var room [longestRun]numeral
	for n := len(w) - 1; n > 2; n-- {
		if signs(w[:n]) && len(wordNumerals(w[n:], false, room[:0])) > 0 {
			return n
		}
	}
	return 0
}

// lexWord reads letters and digits, and hyphens and apostrophes between
// letters. "m38" is a number, "FAF8200" a label and a number.
func lexWord(text, lower string, i int, emit func(token)) int {
	if text[i]|0x20 == 'm' {
		if end, ok := pairAt(text, i); ok {
			emitPair(text, i, end, emit)
			return end
		}
		if n := digitsAt(text, i+1); n == 1 || n == 2 {
			return lexNumber(text, i, i+1, -1, emit)
		}
	}
	if end := initials(text, i); end > 0 {
		emit(token{kind: wordToken, start: i, end: end})
		return end
	}
	end := i
	if straightIn(text, i) {
		emit(token{kind: wordToken, start: i, end: i + len("s-31")})
		return i + len("s-31")
	}
	for isLetterAt(text, end) {
		end++
	}
	if n := digitsAt(text, end); end == i+1 && text[i]|0x20 == 'd' && n > 0 && end+n+1 < len(text) && text[end+n] == '.' && digitsAt(text, end+n+1) == 1 && !isAlnumAt(text, end+n+2) {
		end += n + 2 // D10.2, a distance
		emit(token{kind: wordToken, start: i, end: end})
		return end
	}
	if n := digitsAt(text, end); (n >= 3 || n > 0 && n <= 2 && end+n+1 < len(text) && strings.IndexByte(".,", text[end+n]) >= 0 && isDigit(text[end+n+1])) && joins(lower[i:end], false) || n > 0 && signs(lower[i:end]) {
		emit(token{kind: wordToken, start: i, end: end})
		return end
	}
	for end < len(text) && (isAlnum(text[end]) || text[end] >= 0x80 && !strings.HasPrefix(text[end:], "\u00b0") || (text[end] == '-' || text[end] == '\'') && isLetterAt(text, end+1) && isLetter(text[end-1])) {
		if text[end] == '-' && isApproach(lower[i:end]) {
			break // vor-a
		}
		end++
	}
	if n := gluedFigure(fold(strings.ToLower(lower[i:end]))); n > 0 {
		end = i + n
	}
	emit(token{kind: wordToken, start: i, end: end})
	return end
}

// straightIn says that the minimums of a straight-in approach are named at i, as
// charts do: S-31.
func straightIn(text string, i int) bool {
	return text[i]|0x20 == 's' && i+1 < len(text) && text[i+1] == '-' && digitsAt(text, i+2) == 2 && text[i+2] <= '3' && !isAlnumAt(text, i+4) && (i == 0 || !isAlnum(text[i-1]))
}

// initials is where an abbreviation with full stops ends that begins at i, as
// "D.A." and "M.D.A"; 0 where there is none.
func initials(text string, i int) int {
	end := i
	for isLetterAt(text, end) && !isLetterAt(text, end+1) && end+1 < len(text) && text[end+1] == '.' {
		end += 2
	}
	if end == i || end == i+2 && !isLetterAt(text, end) {
		return 0
	}
	if isLetterAt(text, end) {
		if isAlnumAt(text, end+1) {
			return 0
		}
		end++
	}
	return end
}

// undotted takes the full stops out of an abbreviation.
func undotted(w string) string {
	if len(w) > 2 && w[1] == '.' && isLetter(w[0]) {
		return strings.ReplaceAll(w, ".", "")
	}
	return w
}

// isApproach is true of the kinds of approach: rnp, ils, vor.
func isApproach(word string) bool {
	for _, p := range phrases[strings.ToLower(word)] {
		if p.meaning == kindWord {
			return true
		}
	}
	return false
}
