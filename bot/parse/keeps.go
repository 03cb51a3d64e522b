package parse

import (
	"math"
	"strconv"
	"strings"
)

// Keeps says that a line to type instead holds every figure and every choice
// of the message that it is offered for, with the sign that was typed: a crew
// types it without reading it again. What the message names beside the
// altitudes (an altimeter setting, a time, a flight level) may go.
func (r *Reader) Keeps(text, line string) bool {
	if line == Example {
		return !strings.ContainsAny(text, "0123456789")
	}
	rd := r.figuresOf(text)
	offered, p := r.parse(line, deepest)
	if rd == nil || p != nil || offered.Verb != Correct && !offered.Verb.Shows() && offered.Verb != Route {
		return p == nil
	}
	if (rd.cold || rd.unsigned) && !offered.HasTemperature {
		return false
	}
	of := r.figuresOf(line)
	if of == nil {
		return true
	}
	told := map[float64]bool{}
	for _, w := range rd.req.NotUsed {
		for _, t := range lex(w, lowerASCII(w)) {
			told[t.value] = true
		}
	}
	have := map[float64]bool{}
	for _, v := range of.values() {
		have[v], have[math.Abs(v)] = true, true
	}
	for _, v := range rd.values() {
		hundreds := v == math.Trunc(v) && v > 36 && v < 100 && have[v*100] // 82 said for 8200
		thousands := v != math.Trunc(v) && have[math.Round(v*1000)]        // and 8.2
		if !have[v] && !told[v] && !told[math.Abs(v)] && !hundreds && !thousands {
			return false
		}
	}
	return rd.req.choicesIn(*offered)
}

// figuresOf reads a text for its figures; nil where there is nothing to read.
func (r *Reader) figuresOf(text string) *reading {
	s, p := clean(text)
	if p != nil {
		return nil
	}
	_, s, found, p := cutReport(s)
	if p != nil {
		return nil
	}
	rd := &reading{Reader: r, req: &Request{}, text: s, depth: deepest, pasted: found}
	rd.tokens = lex(s, lowerASCII(s))
	rd.tag()
	rd.negate()
	rd.group()
	return rd
}

// values are the figures as they were typed, those in words as well.
func (rd *reading) values() []float64 {
	var out []float64
	for i := 0; i < len(rd.tokens); i++ {
		switch t := rd.tokens[i]; {
		case rd.means(i-1) == flightLevelWord, t.kind == wordToken && strings.HasPrefix(t.word, "fl") && len(t.word) > 2 && digitsAt(t.word, 2) == len(t.word)-2:
			// A flight level is refused by name, and is flown as it is.
		case t.kind == numberToken && rd.thousands(i) && len(t.word) <= 2:
			out = append(out, t.value*1000+rd.tokens[i+1].value)
			i++
		case t.kind == numberToken:
			out = append(out, t.value)
		case t.kind == doubtToken, t.kind == wordToken && rd.tags[i].n == 0 && strings.ContainsAny(t.word, "0123456789") && !coded(t.word) && !rd.isPlace(i):
			word := t.word
			if slip := slippedFigure(strings.TrimPrefix(word, "-")); slip != "" {
				word = slip
			}
			for _, digits := range strings.FieldsFunc(word, func(c rune) bool { return c < '0' || c > '9' }) {
				if v, err := strconv.ParseFloat(digits, 64); err == nil {
					out = append(out, v)
				}
			}
		}
	}
	return out
}

func (rd *reading) isPlace(i int) bool {
	_, ok := rd.places.Place(rd.text[rd.tokens[i].start:rd.tokens[i].end])
	return ok
}

// gained says that a line chooses what the message does not: a guess at one of
// its words.
func (rd *reading) gained(line string) bool {
	o, p := rd.parse(line, deepest)
	if p != nil {
		return false
	}
	r := rd.req
	more := func(have, want string) bool { return want == "" && have != "" }
	return more(o.Minima, r.Minima) || more(o.SBAS, r.SBAS) || more(o.Compensated, r.Compensated) || more(o.Remote, r.Remote) || more(o.Rules, r.Rules) ||
		len(o.Without) > len(r.Without) || o.Way.Kind != Unsaid && r.Way.Kind == Unsaid
}

// choicesIn says that another request has what this one says of the aircraft,
// the line of minimums and the way in.
func (r Request) choicesIn(o Request) bool {
	same := func(have, want string) bool { return want == "" || have == want }
	for _, line := range r.Without {
		found := false
		for _, l := range o.Without {
			found = found || l == line
		}
		if !found {
			return false
		}
	}
	return same(o.SBAS, r.SBAS) && same(o.Compensated, r.Compensated) && same(o.Remote, r.Remote) && same(o.Minima, r.Minima) && same(o.Rules, r.Rules) && r.Additive == o.Additive &&
		(r.Way == (Way{}) || r.Way == o.Way)
}
