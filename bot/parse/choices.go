package parse

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
)

// What the questions of the reader name, in the order in which they name it.

// What crews call a temperature below zero beside one above it, and the other.
var (
	coldSide = []string{"frost", "cold", "minus", "below", "negative", "neg", "kaldt", "kalt", "froid", "moins", "frio", "menos", "freddo", "meno"}
	warmSide = []string{"warm", "plus", "pluss", "above", "positive", "hot", "varmt", "chaud", "calor", "mas", "caldo", "piu"}
)

// eitherSign are the two readings of a temperature without its sign.
func eitherSign(v float64, inF bool) []Choice {
	choice := func(v float64, words []string) Choice {
		r := Request{Temperature: engine.Celsius(v), HasTemperature: true}
		if inF {
			r.InFahrenheit, r.Fahrenheit = true, engine.Fahrenheit(v)
			r.Temperature = r.Fahrenheit.Celsius()
		}
		return Choice{Value: v, Words: words, Next: &r}
	}
	v = math.Abs(v)
	return []Choice{choice(-v, coldSide), choice(v, warmSide)}
}

// degrees are two temperatures of which one is right.
func degrees(a, b Request) []Choice {
	choice := func(r Request) Choice {
		typed := float64(r.Temperature)
		if r.InFahrenheit {
			typed = float64(r.Fahrenheit)
		}
		next := Request{Temperature: r.Temperature, HasTemperature: true, Fahrenheit: r.Fahrenheit, InFahrenheit: r.InFahrenheit, Report: r.Report, HasReport: r.HasReport}
		c := Choice{Value: float64(r.Temperature), Next: &next}
		if typed < 0 {
			c.Figure = strconv.FormatFloat(-typed, 'f', -1, 64) // of two below zero the sign says nothing
		}
		return c
	}
	out := []Choice{choice(a), choice(b)}
	if out[0].Figure == "" || out[1].Figure == "" || out[0].Figure == out[1].Figure {
		out[0].Figure, out[1].Figure = "", ""
	}
	for i := range out {
		switch other := out[1-i].Value; {
		case out[i].Value < 0 && other >= 0:
			out[i].Words = coldSide
		case out[i].Value >= 0 && other < 0:
			out[i].Words = warmSide
		}
	}
	return out
}

// rightly are two temperatures of which the second is asked for, so that a yes takes it.
func rightly(a, b Request) []Choice {
	list := degrees(a, b)
	list[1].Words = append(slices.Clone(list[1].Words), "yes")
	return list
}

// between are stations of which one is meant.
func between(idents ...string) []Choice {
	out := make([]Choice, len(idents))
	for i, ident := range idents {
		out[i] = Choice{Words: []string{strings.ToLower(ident)}, Next: &Request{Station: ident}}
	}
	return out
}

// hasIt are the answers to whether the aircraft has something now.
func hasIt(sbas bool) []Choice {
	yes, no := Request{SBAS: "yes"}, Request{SBAS: "no"}
	if !sbas {
		yes, no = Request{Compensated: "yes"}, Request{Compensated: "no"}
	}
	return []Choice{{Words: []string{"yes"}, Next: &yes}, {Words: []string{"no", "out", "inop", "off", "failed", "negative", "u/s"}, Next: &no}}
}

// timeWords say that a figure is a time of day.
var timeWords = []string{"time", "clock", "eta", "utc", "zulu", "z", "arrival", "tid", "klokka", "klokken", "zeit", "uhr", "heure", "hora", "ora"}

// timeOr are the readings of a figure that may be a time of day.
func timeOr(at Clock, feet float64) []Choice {
	at.Zone, at.Unzoned = UTC, false // as the question writes it
	a := Altitude{Value: feet, Bare: true}
	said := a
	said.Bare = false
	return []Choice{
		{Words: timeWords, Next: &Request{Gone: []Altitude{a}, At: at}},
		{Words: []string{"altitude", "alt", "feet", "ft", "hoyde", "hohe", "altitud", "altura", "quota"}, Next: &Request{Altitudes: []Altitude{said}}},
	}
}

// eitherFigure are two altitudes without a label of which one is meant.
func eitherFigure(a, b Altitude) []Choice {
	out := []Choice{{Picks: []Pick{Old}}, {Picks: []Pick{New}}}
	for i, a := range []Altitude{a, b} {
		out[i].Figure, out[i].Value = strconv.FormatFloat(a.Value, 'f', -1, 64), float64(a.Feet())
		out[i].Next = &Request{Altitudes: []Altitude{a}}
	}
	return out
}

// flightOr are the readings of a figure behind "flight".
func flightOr(a Altitude) []Choice {
	return []Choice{
		{Words: []string{"flight", "number", "callsign", "nummer", "numero"}, Picks: []Pick{Drop}, Next: &Request{NotUsed: []string{a.figure()}}},
		{Words: []string{"altitude", "alt", "feet", "ft", "hoyde", "hohe", "altitud"}, Next: &Request{Altitudes: []Altitude{a}}},
	}
}

// labelOf are the two altitudes of which one has a label.
func labelOf(label, a, b Altitude) []Choice {
	out := two(label, a, b, false)
	out[1].Picks = nil
	return out
}

// finals are what "final" may stand for at token i.
func (rd *reading) finals(i int) []Choice {
	return append([]Choice{rd.labelChoice(i, "FAF", "fix", "pfaf", "fap", "point")}, rd.minimums(i)...)
}

// missedPoint is what "map" may stand for at token i.
func (rd *reading) missedPoint(i int) []Choice {
	return append([]Choice{rd.labelChoice(i, "missed", "missed approach", "climb")}, rd.minimums(i)...)
}

func (rd *reading) minimums(i int) []Choice {
	return []Choice{rd.labelChoice(i, "DA", "decision"), rd.labelChoice(i, "MDA"), rd.labelChoice(i, "minimums", "minimum", "mins", "minima", "min")}
}

// labelChoice is a label in place of token i.
func (rd *reading) labelChoice(i int, label string, words ...string) Choice {
	return Choice{Words: append(words, strings.ToLower(label)), Line: rd.instead(i, i, label)}
}

// Labels are the choices of what a bare figure stands for: one of the altitudes
// that are there, or one more.
func (r Request) Labels(a Altitude) []Choice {
	var out []Choice
	for _, have := range r.Altitudes {
		c := Choice{Words: strings.Fields(fold(strings.ToLower(have.Name()))), Next: &Request{Gone: []Altitude{have}, Altitudes: []Altitude{a}}}
		if have.Role == procedure.NoRole {
			c.Figure = strconv.FormatFloat(have.Value, 'f', -1, 64)
		}
		if have.Fix != "" {
			c.Words = append(c.Words, strings.ToLower(have.Fix))
		}
		if len(r.Altitudes) == 1 {
			c.Picks = []Pick{New}
		}
		out = append(out, c)
	}
	more := Choice{Words: []string{"add", "additional", "extra", "also", "ekstra", "til", "mer", "noch", "weitere", "zusatzlich", "plus", "encore", "otra", "mas"}, Picks: []Pick{Both, Neither}, Next: &Request{Altitudes: []Altitude{a}, Also: true}}
	return append(out, more)
}

// Kept are the choices between what is there and what a follow-up says.
func Kept(have, other Altitude) []Choice { return two(other, have, other, true) }

// orRunway is the runway that a small figure at tokens first to last may be, as
// an answer beside the others; none where it can be no runway.
func (rd *reading) orRunway(first, last int, t token) []Choice {
	if t.value != math.Trunc(t.value) || t.value < 1 || t.value > 36 || t.pair || rd.req.Procedure != "" {
		return nil
	}
	word := rd.typed(first, last)
	return []Choice{{Words: []string{"runway", "rwy", "bane", "rullebane", "piste", "bahn", "pista"}, Aside: true, Line: rd.instead(first, last, "rwy "+word)}}
}

// differ asks which of two temperatures is right, which a follow-up says.
func (rd *reading) differ(at int, p *Problem) {
	rd.fail(at, p)
	rd.twoTemperatures, rd.req.Differ = true, p
}

// NoSign asks for the sign that a temperature still lacks, or which of two it is;
// nil where it lacks nothing.
func (r *Request) NoSign() *Problem {
	if r.Differ != nil && !r.HasTemperature {
		p := *r.Differ
		p.Try = "" // it says nothing of what was typed since
		p.Choices = slices.DeleteFunc(slices.Clone(p.Choices), func(c Choice) bool { return c.Line != "" })
		return &p
	}
	if r.Unsigned == 0 || r.HasTemperature {
		return nil
	}
	bare := strconv.FormatFloat(r.Unsigned, 'f', -1, 64)
	if r.UnsignedF {
		bare += "F"
	}
	p := &Problem{Word: bare, Text: sayNoSign(bare), Choices: eitherSign(r.Unsigned, r.UnsignedF)}
	if signed, ok := r.Signed(-1); ok {
		p.Try = signed.Line()
	}
	return p
}

// Unready is what a request still lacks by its own words: the sign of its
// temperature, or what is open in it; nil where it lacks nothing.
func (r Request) Unready() *Problem {
	if len(r.Open) > 0 {
		return &r.Open[0]
	}
	return r.NoSign()
}
