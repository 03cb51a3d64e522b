package parse

import (
	"regexp"
	"slices"
	"strings"

	"firn/engine/procedure"
)

// withHeight is an altitude with its height beside it, as minimums stand on a
// chart: DA(H) 3560/440, DA 3560 HAT 440.
var withHeight = []*regexp.Regexp{
	regexp.MustCompile(`(?i)\b(M?DA) ?\(H\) ?([0-9]{3,5}) ?/ ?[0-9]{2,4}\b`),
	regexp.MustCompile(`(?i)\b(M?DA) ?([0-9]{3,5}) (?:HAT|HAA) ?[0-9]{2,4}\b`),
}

// heightsBeside takes those heights out.
func heightsBeside(s string) string {
	for i, mark := range []string{"(", "HA"} {
		if strings.Contains(s, mark) || strings.Contains(s, strings.ToLower(mark)) {
			s = withHeight[i].ReplaceAllString(s, "$1 $2")
		}
	}
	return s
}

// lines are the words that choose a line of minimums.
var lines = []string{"lpv", "lp", "lnav", "gls", "ils", "loc", "circling"}

// chosen reads what chooses: a way in, a line of minimums, what the aircraft
// has, how an altitude is to be flown. It gives the next token, or i.
func (rd *reading) chosen(i int) int {
	word := func(k int) string {
		if i+k < len(rd.tokens) {
			return rd.tokens[i+k].word
		}
		return ""
	}
	is := func(words ...string) bool {
		for k, w := range words {
			if word(k) != w {
				return false
			}
		}
		return true
	}
	fix := func(k int) string {
		if w := word(k); len(w) >= 2 && len(w) <= 6 && rd.tokens[i+k].kind == wordToken {
			return strings.ToUpper(w)
		}
		return ""
	}
	way := func(n int, kind WayKind, fix string) int {
		rd.req.Way = Way{kind, fix}
		rd.item(item{kind: breakItem, token: i})
		return i + n
	}
	// alone says that no altitude stands beside the n words.
	alone := func(n int) bool {
		if last := len(rd.items) - 1; last >= 0 && rd.items[last].kind == numberItem {
			return false
		}
		for _, t := range rd.tokens[min(i+n, len(rd.tokens)):] {
			switch {
			case t.kind == numberToken:
				return t.sign != 0
			case t.kind != wordToken:
				return t.kind != bindToken
			}
		}
		return true
	}
	switch {
	case is("vectors", "inside") && fix(2) != "":
		return way(3, VectorsInside, fix(2))
	case is("vectors"):
		return way(1, Vectors, "")
	case is("via") && fix(1) != "":
		return way(2, Via, fix(1))
	case is("traffic", "via") && fix(2) != "":
		return way(3, Traffic, fix(2))
	case is("traffic"):
		return way(1, Traffic, "")
	case is("in", "the", "hold"):
		return way(3, InHold, "")
	case is("in", "the", "procedure", "turn"):
		return way(4, InTurn, "")
	case is("hold") && alone(1) && !is("hold", "missed"):
		return way(1, InHold, "")
	case is("procedure", "turn") && alone(2):
		return way(2, InTurn, "")
	case is("pt") && alone(1):
		return way(1, InTurn, "")
	case is("sbas"):
		rd.req.SBAS = "yes"
		rd.item(item{kind: breakItem, token: i})
		if w := word(1); w == "yes" || w == "no" {
			rd.req.SBAS = w
			return i + 2
		}
		return i + 1
	case is("each", "fix") && slices.Contains(rd.rules, "faa-each-fix"):
		rd.req.Rules = "faa-each-fix"
		rd.item(item{kind: breakItem, token: i})
		return i + 2
	case is("climb", "in", "hold"), is("missed", "hold"), is("hold", "missed"):
		n := 2
		if word(0) == "climb" {
			n = 3
		}
		rd.item(item{kind: breakItem, token: i})
		rd.item(item{kind: labelItem, token: i, role: procedure.MissedHold, label: MissedHoldLabel})
		return i + n
	case is("below"), is("at", "or", "below"), is("between"):
		return rd.bounded(i)
	case is("lnav", "/", "vnav") && alone(3):
		return rd.line(i, 3)
	case slices.Contains(lines, word(0)) && alone(1) && (word(0) != "ils" && word(0) != "loc" || rd.req.Procedure != "") && !is("lnav", "/"):
		return rd.line(i, 1)
	}
	return i
}

func (rd *reading) line(i, n int) int {
	rd.req.Minima = strings.ReplaceAll(rd.typed(i, i+n-1), " ", "")
	rd.req.Minima = strings.ToLower(rd.req.Minima)
	rd.item(item{kind: breakItem, token: i})
	return i + n
}

// bounded reads “below 8000” and “between 7100 and 8000”.
func (rd *reading) bounded(i int) int {
	first, meaning := i+1, procedure.AtOrBelow
	switch rd.tokens[i].word {
	case "at":
		first = i + 3
	case "between":
		meaning = procedure.Between
	}
	figure := func(k int) bool {
		return k < len(rd.tokens) && rd.tokens[k].kind == numberToken && rd.tokens[k].sign == 0 && rd.tokens[k].value >= 100
	}
	if !figure(first) || meaning == procedure.Between && !(first+2 < len(rd.tokens) && rd.tokens[first+1].word == "and" && figure(first+2)) {
		return i
	}
	n := len(rd.req.Altitudes)
	next := rd.number(first)
	if len(rd.req.Altitudes) != n+1 {
		return next
	}
	a := &rd.req.Altitudes[n]
	if a.Meaning = meaning; meaning == procedure.Between {
		a.Upper = max(a.Value, rd.tokens[first+2].value)
		a.Value = min(a.Value, rd.tokens[first+2].value)
		next = first + 3
	}
	return next
}
