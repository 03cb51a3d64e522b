package parse

import (
	"math"
	"strconv"
	"strings"
)

// decimal reads a tenth that is said: "minus 27 point 5".
func (rd *reading) decimal(t token, next int) (token, int) {
	switch rd.wordAt(next) {
	case "point", "decimal", "komma", "coma", "virgule":
	default:
		return t, next
	}
	tenth, ok := numerals[rd.wordAt(next+1)]
	if rd.numberAt(next+1) && len(rd.tokens[next+1].word) == 1 {
		tenth, ok = int(rd.tokens[next+1].value), true
	}
	if !ok || tenth > 9 || t.value != math.Trunc(t.value) || t.unit != noUnit {
		return t, next
	}
	if t.sign < 0 {
		tenth = -tenth
	}
	t.value += float64(tenth) / 10
	return t, next + 2
}

// minusBehind says that the minus at i belongs to the figure before it:
// nothing stands behind it that could be its own.
func (rd *reading) minusBehind(i int) bool {
	next := i + rd.tags[i].n
	for rd.isSmall(next) && rd.tags[next].n > 0 { // 25 minus outside
		next += rd.tags[next].n
	}
	if next == len(rd.tokens) || rd.tokens[next].kind == sepToken {
		return true
	}
	if !rd.numberAt(next) || next != i+rd.tags[i].n || rd.req.Station == "" || rd.req.HasTemperature {
		return false
	}
	// "35 minus 8200": no temperature, and nothing that could be taken away.
	t := rd.tokens[next]
	return t.sign == 0 && t.value >= 150 && len(rd.req.Altitudes) == 0
}

// spelledSign reads a figure behind "minus" or "plus": in figures, in words,
// or an altitude that is taken away or added.
func (rd *reading) spelledSign(i int, minus bool) int {
	sign := int8(1)
	if minus {
		sign = -1
	}
	n := i + rd.tags[i].n
	for n < len(rd.tokens) && rd.isSmall(n) {
		n += rd.tags[n].n
	}
	if n < len(rd.tokens) && rd.tokens[n].kind == numberToken && rd.tokens[n].sign == 0 && !rd.thousands(n) {
		t := &rd.tokens[n]
		if t.value >= 150 && t.unit != celsiusUnit && t.unit != fahrenheitUnit {
			rd.taking, rd.also, rd.goneFrom = rd.taking || minus, rd.also || !minus, i
			return n
		}
		t.sign = sign
		if minus {
			t.value = 0 - t.value
		}
		t.start, t.word = rd.tokens[i].start, strings.ToLower(rd.text[rd.tokens[i].start:t.end])
		return rd.number(n)
	}
	if v, words := temperatureInWords(rd.tokens, n); words > 0 {
		return rd.spelled(i, n+words, float64(int(sign)*v), sign)
	}
	if !minus && rd.figureFollows(n) || !minus && rd.means(n) == roleWord {
		rd.also = true
		return n
	}
	if rd.req.Sign == 0 {
		rd.req.Sign = sign
	}
	rd.apart(i)
	return i + rd.tags[i].n
}

// spelled reads a figure that stands in words from token i up to next, with
// what may stand behind a figure.
func (rd *reading) spelled(i, next int, v float64, sign int8) int {
	at := next - 1
	t := &rd.tokens[at]
	*t = token{kind: numberToken, start: rd.tokens[i].start, end: t.end, value: v, sign: sign, word: strconv.FormatFloat(math.Abs(v), 'f', -1, 64), grouped: sign == 0}
	if sign == 0 && v < 100 {
		t.grouped = false
	}
	rd.tags[at] = tag{unknownPhrase, 0}
	return rd.number(at)
}
