package parse

import (
	"math"
	"strings"

	"firn/engine/procedure"
)

// chartTail is behind what charts print behind the altitude of minimums, where it
// begins at token i: the visibility (-1, -3/4, /24), the height above touchdown,
// and the military's in brackets, as in "5460-1 658 (700-1)". It is i where
// nothing of it stands there that may not be an altitude.
func (rd *reading) chartTail(i int) int {
	n := len(rd.items)
	if n == 0 || rd.items[n-1].kind != numberItem || rd.items[n-1].altitude < 0 || !rd.behindMinimum() {
		return i
	}
	next, seen := rd.printedSight(i)
	if !seen {
		return i
	}
	minimum := rd.req.Altitudes[rd.items[n-1].altitude]
	if rd.numberAt(next) && !rd.tokens[next].aside {
		t := rd.tokens[next]
		if t.sign != 0 || t.grouped || t.value < 100 || t.value >= 3000 || t.value >= minimum.Value || !rd.isHeight(minimum.Value, t.value) && !rd.asideAt(next+1) {
			return next
		}
		next++
		for next < len(rd.tokens) && (rd.means(next) == feetWord || rd.means(next) == heightWord) {
			next += rd.tags[next].n
		}
	}
	if rd.asideAt(next) {
		for next < len(rd.tokens) && rd.tokens[next].aside {
			next++
		}
	}
	return next
}

// printedSight is behind a visibility tight behind its minimum; seen says that
// there is one.
func (rd *reading) printedSight(i int) (next int, seen bool) {
	t := rd.tokens[i]
	switch {
	case t.kind == sightToken:
		next = i + 1
	case t.kind == sepToken && t.tight && rd.text[t.start] == '/' && rd.numberAt(i+1) && rd.tokens[i+1].tight:
		u := rd.tokens[i+1]
		if u.sign != 0 || len(u.word) != 2 || u.value < 10 || u.value > 60 { // hundreds of feet on the runway
			return i, false
		}
		next = i + 2
	default:
		return i, false
	}
	if rd.means(next) == measureUnit {
		next += rd.tags[next].n
	}
	return next, true
}

// asideAt says that a figure in brackets of no more than a chart's ceiling stands
// at i.
func (rd *reading) asideAt(i int) bool {
	return rd.numberAt(i) && rd.tokens[i].aside && rd.tokens[i].sign == 0 && rd.tokens[i].value >= 100 && rd.tokens[i].value <= 3000
}

// pathAngle is behind the angle, or the speed, that stands with a glide path: "GS
// 3.00", "GS 140"; 0 where another figure does.
func (rd *reading) pathAngle(i int) int {
	switch rd.tokens[i].word {
	case "gs", "gp", "glideslope", "glidepath":
	default:
		return 0
	}
	next := i + 1
	if !rd.numberAt(next) || rd.tokens[next].sign != 0 {
		return 0
	}
	if v := rd.tokens[next].value; v < 2 || v > 9 && v < 60 || v > 200 {
		return 0
	}
	return next + 1
}

// heightNext says that a figure stands at i that may be the height of the altitude t
// before it, with the word for one between them.
func (rd *reading) heightNext(i int, t token) bool {
	if !rd.numberAt(i) {
		return false
	}
	u, behind := rd.tokens[i], rd.means(i+1)
	return u.sign == 0 && u.value >= 100 && u.value < t.value && behind != heightWord && !(behind == feetWord && rd.means(i+2) == heightWord)
}

// straight says that the label at item k is that of a straight-in approach, as charts
// write it: S-ILS.
func (rd *reading) straight(k int) bool {
	return strings.HasPrefix(rd.tokens[rd.items[k].token].word, "s-")
}

// oneDigit says that the number at k is a temperature of one digit, with its sign.
func (rd *reading) oneDigit(k int) bool {
	t := rd.tokens[k]
	v := math.Abs(t.value)
	return t.sign != 0 && v >= 1 && v < 10 && v == math.Trunc(v) && !strings.ContainsAny(t.word, ".,")
}

// numbersStep says that the number at i counts a step-down fix: "step 1 9200".
func (rd *reading) numbersStep(i int) bool {
	n := len(rd.items)
	if n > 0 && rd.items[n-1].kind == labelItem && rd.straight(n-1) && rd.runwayAt(i) && (rd.numberAt(i+1) || rd.means(i+1) == roleWord) {
		return true // S-LOC 31 5460, S-LOC 31 MDA 5460
	}
	if n == 0 || rd.items[n-1].role != procedure.StepDown || i+1 == len(rd.tokens) {
		return false
	}
	t, next := rd.tokens[i], rd.tokens[i+1]
	return len(t.word) == 1 && next.kind == numberToken && next.sign == 0 && next.value >= 1000
}

// isHeight says that a figure is the height of an altitude above the station's
// field, as near as a runway's end lies.
func (rd *reading) isHeight(altitude, height float64) bool {
	if rd.elevation == nil || rd.home == "" {
		return false
	}
	field, ok := rd.elevation(rd.home)
	return ok && math.Abs(altitude-field-height) <= 60
}
