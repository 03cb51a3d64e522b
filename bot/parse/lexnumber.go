package parse

import (
	"strconv"
	"strings"
)

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
		emitClock(start, end, c, emit)
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
	case sign == 0 && (n == 1 || n == 2) && strings.Trim(whole, "0") != "" && end < len(text) && strings.IndexByte(",.'", text[end]) >= 0 && digitsAt(text, end+1) == 3:
		joined = whole + text[end+1:end+4]
		grouped = true
		end += 4
	case end < len(text) && text[end] == '.' && digitsAt(text, end+1) > 0 && !dotParts(text, end) && !(sign != 0 && digitsAt(text, end+1) > 2):
		decimals = text[end : end+1+digitsAt(text, end+1)]
		end += len(decimals)
	case n <= 2 && end+1 < len(text) && text[end] == ',' && digitsAt(text, end+1) == 1 && ((sign != 0 || behindMinus(text, i)) && !isAlnumAt(text, end+2) || end+2 < len(text) && text[end+2]|0x20 == 'k'):
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
		case manyIn(text[end:suffix]): // 82hundred
			suffix = end
		case hundredsBehind(text[end:suffix]) > 0 && n <= 2 && decimals == "": // 8k2
			t.unit, factor = feetUnit, 1000
			joined += "." + text[end+1:suffix]
		case glued(text[end:suffix]) > 0: // 8200ft7400ft, 8200DA5340
			letters := glued(text[end:suffix])
			suffix = end
			if unit, f, ok := unitOf(text[end : end+letters]); ok {
				t.unit, factor, suffix = unit, f, end+letters
			}
		default: // "38°x": not ours to read
			emit(token{kind: wordToken, start: start, end: suffix})
			return suffix
		}
	}
	t.end = suffix
	if factor == 1000 { // 1.001 times 1000 is not 1001
		joined, factor = joined+"e3", 1
	}
	v, err := strconv.ParseFloat(joined, 64)
	if err != nil || n > 9 {
		v = 1e12 // too large for anything; said by the reader
	}
	t.value = v * factor
	if sign < 0 {
		t.value = 0 - t.value
	}
	emit(t)
	return t.end
}

// emitClock leaves a time; what no clock shows is a word, which is asked about.
func emitClock(start, end int, c Clock, emit func(token)) {
	t := token{kind: clockToken, start: start, end: end, clock: c}
	if !c.Said {
		t.kind = wordToken
	}
	emit(t)
}

// dotParts says that the point at i stands between two altitudes, or a temperature
// and an altitude: 8200.7400, -38.8200.
// More than five figures behind it are decimals, however many.
func dotParts(text string, i int) bool {
	after := digitsAt(text, i+1)
	if after > 2 && i >= 2 && isDigit(text[i-1]) {
		k := i - 1
		for k > 0 && isDigit(text[k]) {
			k--
		}
		if (text[k] == '-' || text[k] == '+') && i-k <= 3 {
			return true
		}
	}
	return i >= 4 && isDigit(text[i-1]) && isDigit(text[i-2]) && isDigit(text[i-3]) && isDigit(text[i-4]) && after >= 4 && after <= 5
}

// behindMinus says that the word before the figure at i is one for minus.
func behindMinus(text string, i int) bool {
	front := strings.TrimRight(text[:i], " ")
	if len(front) == i {
		return false
	}
	for _, p := range phrases[fold(strings.ToLower(front[strings.LastIndexAny(front, " ,/\n")+1:]))] {
		if p.meaning == minusWord && len(p.words) == 1 {
			return true
		}
	}
	return false
}

// hundredsBehind is how many digits stand behind the k of 8k2; 0 for anything
// else.
func hundredsBehind(s string) int {
	if s[0]|0x20 != 'k' || len(s) > 4 || digitsAt(s, 1) != len(s)-1 {
		return 0
	}
	return len(s) - 1
}

// glued is the length of the unit or label in front of another altitude, where
// s begins with one that is written without a gap: ft7400ft.
func glued(s string) int {
	n := strings.IndexAny(s, "0123456789")
	if n <= 0 || digitsAt(s, n) < 3 {
		return 0
	}
	if _, _, ok := unitOf(s[:n]); ok || joins(s[:n], true) {
		return n
	}
	return 0
}

func isAlnumAt(text string, i int) bool { return i < len(text) && isAlnum(text[i]) }

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
		t.value = 0 - t.value
	}
	emit(t)
}

// degreeUnit is true where a degree sign stands before the letter of its scale.
func degreeUnit(s string) bool {
	rest, ok := strings.CutPrefix(s, "\u00b0")
	rest = strings.TrimLeft(rest, " ")
	return ok && rest != "" && strings.IndexByte("cCfF", rest[0]) >= 0 && (len(rest) == 1 || !isAlnum(rest[1]))
}
