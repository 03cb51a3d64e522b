package parse

import (
	"strconv"
	"strings"
)

// accuracyAt says that a line of minimums is named at i by its accuracy: RNP 0.15.
func (rd *reading) accuracyAt(i int) bool {
	return rd.wordAt(i) == "rnp" && rd.numberAt(i+1) && rd.tokens[i+1].sign == 0 && rd.tokens[i+1].value > 0 && rd.tokens[i+1].value < 1 && rd.tokens[i+1].unit == noUnit
}

// accuracy chooses the line whose accuracy stands at i+1; where two are named, or an
// altitude stands behind it, none is.
func (rd *reading) accuracy(i int) int {
	line := "rnp " + strconv.FormatFloat(rd.tokens[i+1].value, 'f', -1, 64)
	if have := rd.req.Minima; have == line || have == "" && !rd.figureFollows(i+2) && !rd.has(orWord, notWord, takeWord) {
		rd.req.Minima = line
	} else {
		rd.notUsed(i, i+1)
		if strings.HasPrefix(have, "rnp ") {
			rd.req.Minima = ""
			rd.req.NotUsed = append(rd.req.NotUsed, have)
		}
	}
	rd.apart(i)
	return i + 2
}

// besideLine reads the bare kind of an approach that is added to a line of an ILS chart
// as another of its lines: "and the loc" behind "circling".
func (r Request) besideLine(next Request) Request {
	if line := next.Procedure; next.Also && r.Minima != "" && (line == "loc" || line == "ils") && strings.HasPrefix(r.Procedure, "ils ") {
		next.Procedure, next.Minima = "", line
	}
	return next
}

// lineBehind says that the name of a line of minimums stands in brackets of its own
// behind an altitude: "4860 (LOC)".
func (rd *reading) lineBehind(i int) bool {
	_, line := minimumsLines[rd.tokens[i].word]
	n := len(rd.items)
	return line && rd.tokens[i].aside && n > 0 && rd.items[n-1].kind == numberItem && rd.items[n-1].altitude >= 0 &&
		rd.labelBefore() < 0 && (i+1 == len(rd.tokens) || !rd.tokens[i+1].aside)
}

// kindApart joins the name of an approach whose kind stands apart from its runway:
// "runway 31, the loc".
func (rd *reading) kindApart() {
	r := rd.req
	rest, ok := strings.CutPrefix(r.Procedure, "rwy ")
	if !ok || r.Minima != "ils" && r.Minima != "loc" || rd.lineOnly {
		return
	}
	if rwy, letter, ok := strings.Cut(rest, " "); ok && isDigit(rwy[0]) {
		for short, said := range chartLetters {
			if said == letter {
				letter = short
			}
		}
		rest = letter + " " + rwy
	}
	r.Procedure, r.Minima = r.Minima+" "+rest, ""
}
