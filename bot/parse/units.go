package parse

import (
	"slices"

	"firn/engine"
)

// unitsAlone asks which figures are meant where nothing but a unit was said: "in
// metres?", "no, feet", "sorry C".
func (rd *reading) unitsAlone() bool {
	at := -1
	for i, t := range rd.tags {
		switch t.meaning {
		case feetWord, metreWord:
			if len(rd.tokens[i].word) > 1 {
				at = i
			}
		case celsiusWord, fahrenheitWord:
			if len(rd.tokens[i].word) == 1 && at < 0 {
				at = i
			}
		}
	}
	if at < 0 || rd.hasVerb || rd.anyVerb || !rd.bare() || slices.ContainsFunc(rd.items, func(it item) bool { return it.kind != breakItem }) ||
		slices.ContainsFunc(rd.unread, func(u unread) bool { return rd.tags[u.token].n == 0 }) {
		return false
	}
	p := &Problem{Word: rd.typed(at, at), Text: sayUnits, Either: true}
	if m := rd.means(at); m == celsiusWord || m == fahrenheitWord {
		p.Text, rd.req.Scale = sayScale(p.Word), rd.scaleSaid()
	}
	rd.fail(rd.tokens[at].start, p)
	return true
}

// otherScale asks which scale a temperature is in where the other is said behind
// it, with a word for a slip: "-20F sorry C".
func (rd *reading) otherScale(i int) bool {
	r := rd.req
	inF := rd.means(i) == fahrenheitWord
	k := i - 1
	for k > 0 && (rd.tokens[k].kind == sepToken || rd.means(k) == small) {
		k--
	}
	switch rd.means(k) {
	case changeWord, noWord, notWord, insteadWord:
	default:
		return false
	}
	if !r.HasTemperature || r.HasReport || inF == r.InFahrenheit {
		return false
	}
	other := Request{HasTemperature: true, InFahrenheit: inF}
	if inF {
		other.Fahrenheit = engine.Fahrenheit(r.Temperature)
		other.Temperature = other.Fahrenheit.Celsius()
	} else {
		other.Temperature = engine.Celsius(r.Fahrenheit)
	}
	if other.Temperature < coldest || other.Temperature > hottest {
		return false
	}
	rd.differ(rd.tokens[i].start, &Problem{Word: rd.typed(i, i), Text: sayTwoTemperatures(inScale(r), inScale(&other)), Either: true, Choices: degrees(*r, other)})
	rd.apart(i)
	return true
}

// inScale is a temperature with its scale.
func inScale(r *Request) string {
	if r.InFahrenheit {
		return r.TemperatureWord()
	}
	return r.TemperatureWord() + "C"
}

// EitherScale asks which scale the temperature of r is in, where other has its figure in
// the other one; word is what was said of it.
func (r Request) EitherScale(other Request, word string) *Problem {
	c := degrees(r, other)
	for i, of := range []Request{r, other} {
		if c[i].Figure, c[i].Words = "", []string{"c", "celsius", "centigrade"}; of.InFahrenheit {
			c[i].Words = []string{"f", "fahrenheit"}
		}
	}
	return &Problem{Word: word, Text: sayTwoTemperatures(inScale(&r), inScale(&other)), Either: true, Choices: c}
}
