package parse

import (
	"strconv"
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
func lex(text, lower string) []token {
	tokens := make([]token, 0, 16)
	aside := false
	emit := func(t token) {
		if n := len(tokens); n > 0 {
			t.tight = tokens[n-1].end == t.start
		}
		t.aside = aside
		if t.word = lower[t.start:t.end]; t.kind == wordToken {
			t.word = fold(t.word)
		}
		tokens = append(tokens, t)
	}
	for i := 0; i < len(text); {
		c := text[i]
		switch {
		case c == '(' || c == ')':
			aside = c == '('
			i++
		case c == ' ' || c == '[' || c == ']' || c == '{' || c == '}' || c == '!' || c == '?' || c == '>' || c == '&':
			i++
		case degreeUnit(text[i:]):
			i += len("\u00b0") // "-38 °C", as the replies write it: the letter counts
		case c == '\n' || c == ',' || c == ';' || c == '/' || c == '|' || c == '\\':
			emit(token{kind: sepToken, start: i, end: i + 1})
			i++
		case c == ':' || c == '=':
			emit(token{kind: bindToken, start: i, end: i + 1})
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
		case isLetter(c) || c >= 0x80 && !strings.HasPrefix(text[i:], "\u00b0"):
			i = lexWord(text, i, emit)
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

// numberLength counts the digits at i, thousands separators left out.
func numberLength(text string, i int) int {
	n := 0
	for i+n < len(text) && isDigit(text[i+n]) {
		n++
	}
	if n <= 2 && i+n+3 < len(text) && strings.IndexByte(",.'", text[i+n]) >= 0 && digitsAt(text, i+n+1) == 3 {
		return n + 4
	}
	return n
}

func digitsAt(text string, i int) int {
	n := 0
	for i+n < len(text) && isDigit(text[i+n]) {
		n++
	}
	return n
}

// lexNumber reads a number whose digits begin at i; start is where its sign
// stands. Thousands are grouped by comma, point or apostrophe: one or two
// digits, the mark, three digits. A sign makes it a temperature, which has
// none, so "-38,620" is two numbers.
func lexNumber(text string, start, i int, sign int8, emit func(token)) int {
	if c, end := clockAt(text, i); end > 0 && sign == 0 {
		emit(token{kind: clockToken, start: start, end: end, clock: c})
		return end
	}
	if end, ok := pairAt(text, i); ok && sign == 0 {
		emitPair(text, i, end, emit)
		return end
	}
	n := digitsAt(text, i)
	end := i + n
	whole := text[i:end]
	var joined string
	grouped := false
	decimals := ""
	switch {
	case sign == 0 && (n == 1 || n == 2) && end < len(text) && strings.IndexByte(",.'", text[end]) >= 0 && digitsAt(text, end+1) == 3:
		joined = whole + text[end+1:end+4]
		grouped = true
		end += 4
	case end < len(text) && text[end] == '.' && digitsAt(text, end+1) > 0:
		decimals = text[end : end+1+digitsAt(text, end+1)]
		end += len(decimals)
	case n <= 2 && end+1 < len(text) && text[end] == ',' && digitsAt(text, end+1) == 1 && (sign != 0 && !isAlnumAt(text, end+2) || end+2 < len(text) && text[end+2]|0x20 == 'k'):
		decimals = "." + text[end+1:end+2] // -38,5 and 8,2k
		end += 2
	}
	if joined == "" {
		joined = whole
		if decimals != "" {
			joined = whole + decimals
		}
	}
	t := token{kind: numberToken, start: start, sign: sign, grouped: grouped}
	if strings.HasPrefix(text[end:], "ish") && !isAlnumAt(text, end+3) {
		end += len("ish")
	}
	suffix := end
	for suffix < len(text) && (isAlnum(text[suffix]) || text[suffix] == '\'' || text[suffix] >= 0x80) {
		suffix++
	}
	factor := 1.0
	if suffix > end {
		unit, f, ok := unitOf(text[end:suffix])
		switch {
		case ok:
			t.unit, factor = unit, f
		case joins(text[end:suffix], true): // "560agl", "8200FAF"
			suffix = end
		default: // "38°x": not ours to read
			emit(token{kind: wordToken, start: start, end: suffix})
			return suffix
		}
	}
	t.end = suffix
	v, err := strconv.ParseFloat(joined, 64)
	if err != nil || n > 9 {
		v = 1e12 // too large for anything; said by the reader
	}
	t.value = v * factor
	if sign < 0 {
		t.value = -t.value
	}
	emit(t)
	return t.end
}

func isAlnumAt(text string, i int) bool { return i < len(text) && isAlnum(text[i]) }

// joins says that a word is often typed tight against its figure: a label,
// and behind it a unit or what the figure is measured from.
func joins(word string, behind bool) bool {
	for _, p := range phrases[strings.ToLower(word)] {
		if len(p.words) > 1 {
			continue
		}
		switch p.meaning {
		case roleWord, elevationWord:
			return true
		case measureWord:
			return !behind
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

// gluedFigure parts "minustwentysix", in the lengths of its words; none for
// every other word.
func gluedFigure(w string) (cuts []int) {
	for n := len(w) - 1; n > 2; n-- {
		if !signs(w[:n]) {
			continue
		}
		cuts = append(cuts[:0], n)
		for rest := w[n:]; rest != ""; {
			k := len(rest)
			for ; k > 2; k-- {
				if _, ok := numerals[rest[:k]]; ok {
					break
				}
			}
			if k <= 2 {
				cuts = nil
				break
			}
			cuts, rest = append(cuts, k), rest[k:]
		}
		if cuts != nil {
			return cuts
		}
	}
	return nil
}

// unitOf reads what is written tight behind a number.
func unitOf(s string) (u unit, factor float64, ok bool) {
	s = strings.TrimPrefix(s, "\u00b0")
	switch {
	case s == "": // a degree sign alone: Celsius, as everywhere in the trade but for F
		return celsiusUnit, 1, true
	case strings.EqualFold(s, "c"):
		return celsiusUnit, 1, true
	case strings.EqualFold(s, "f"):
		return fahrenheitUnit, 1, true
	case s == "'" || s == "''" || strings.EqualFold(s, "ft") || strings.EqualFold(s, "feet"):
		return feetUnit, 1, true
	case strings.EqualFold(s, "m"):
		return metreUnit, 1, true
	case strings.EqualFold(s, "k"):
		return feetUnit, 1000, true
	}
	return noUnit, 0, false
}

// pairAt finds a temperature and dew point as a report writes them: two
// digits each, M for minus, the dew point may be missing.
func pairAt(text string, i int) (end int, ok bool) {
	if i > 0 && isAlnum(text[i-1]) {
		return 0, false
	}
	j := i
	minus := 0
	if j < len(text) && text[j]|0x20 == 'm' {
		j++
		minus++
	}
	if digitsAt(text, j) != 2 {
		return 0, false
	}
	j += 2
	if j == len(text) || text[j] != '/' {
		return 0, false
	}
	j++
	if strings.HasPrefix(text[j:], "//") {
		j += 2
	} else {
		k := j
		if k < len(text) && text[k]|0x20 == 'm' {
			k++
			minus++
		}
		switch {
		case digitsAt(text, k) == 2:
			j = k + 2
		case k > j || isAlnumAt(text, j):
			return 0, false
		case minus == 0: // "10/": a list of one
			return 0, false
		}
	}
	if isAlnumAt(text, j) || j < len(text) && (text[j] == '/' || text[j] == '.') {
		return 0, false
	}
	return j, true
}

func emitPair(text string, i, end int, emit func(token)) {
	t := token{kind: numberToken, start: i, end: end, unit: celsiusUnit, pair: true}
	if text[i]|0x20 == 'm' {
		t.sign = -1
		i++
	}
	t.value = float64(text[i]-'0')*10 + float64(text[i+1]-'0')
	if t.sign < 0 {
		t.value = -t.value
	}
	emit(t)
}

// lexWord reads letters and digits, and hyphens and apostrophes between
// letters. "m38" is a number, "FAF8200" a label and a number.
func lexWord(text string, i int, emit func(token)) int {
	if text[i]|0x20 == 'm' {
		if end, ok := pairAt(text, i); ok {
			emitPair(text, i, end, emit)
			return end
		}
		if n := digitsAt(text, i+1); n == 1 || n == 2 {
			return lexNumber(text, i, i+1, -1, emit)
		}
	}
	end := i
	for isLetterAt(text, end) {
		end++
	}
	if n := digitsAt(text, end); n >= 3 && joins(text[i:end], false) || n > 0 && signs(text[i:end]) {
		emit(token{kind: wordToken, start: i, end: end})
		return end
	}
	if cuts := gluedFigure(strings.ToLower(text[i:end])); len(cuts) > 0 && !isAlnumAt(text, end) {
		for _, n := range cuts {
			emit(token{kind: wordToken, start: i, end: i + n})
			i += n
		}
		return end
	}
	for end < len(text) && (isAlnum(text[end]) || text[end] >= 0x80 && !strings.HasPrefix(text[end:], "\u00b0") || (text[end] == '-' || text[end] == '\'') && isLetterAt(text, end+1) && isLetter(text[end-1])) {
		if text[end] == '-' && isApproach(text[i:end]) {
			break // vor-a
		}
		end++
	}
	emit(token{kind: wordToken, start: i, end: end})
	return end
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

// degreeUnit is true where a degree sign stands before the letter of its scale.
func degreeUnit(s string) bool {
	rest, ok := strings.CutPrefix(s, "\u00b0")
	rest = strings.TrimLeft(rest, " ")
	return ok && rest != "" && strings.IndexByte("cCfF", rest[0]) >= 0 && (len(rest) == 1 || !isAlnum(rest[1]))
}
