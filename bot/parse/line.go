package parse

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"firn/engine/procedure"
)

// Line is the request as one line that reads as the same request.
func (r Request) Line() string {
	if r.Verb == Brief {
		return BriefLine(r.Stops)
	}
	return string(r.AppendLine(nil))
}

// AppendLine appends the request's line.
func (r *Request) AppendLine(b []byte) []byte {
	from := len(b)
	word := func(s string) {
		if s == "" {
			return
		}
		if len(b) > from {
			b = append(b, ' ')
		}
		b = append(b, s...)
	}
	if r.Swap {
		word("swap")
	}
	switch {
	case r.Verb.Shows():
		word(r.Verb.String())
		word(r.Kind)
	case r.Verb == Route:
		word("route min")
		for i := range r.Altitudes {
			word(r.Altitudes[i].figure())
		}
	}
	word(r.Station)
	if r.HasElevation {
		word("elev ")
		b = r.Elevation.appendFigure(b)
	}
	word(procedureWords(r.Procedure))
	word(r.minimaWords())
	for _, line := range r.Without {
		word("without " + line)
	}
	if r.HasTemperature {
		if len(b) > from {
			b = append(b, ' ')
		}
		b = r.appendTemperature(b)
	}
	word(r.Rules)
	if r.OwnRules && r.Rules == "" {
		word("our rules")
	}
	b, said := r.appendHas(b, from)
	if r.Verb == Route {
		if r.HasOutside {
			word("oat ")
			b = appendSigned(b, float64(r.Outside))
		}
		return b
	}
	if r.Additive > 0 {
		b = strconv.AppendFloat(append(b, ", additive "...), r.Additive, 'f', -1, 64)
	}
	if said && r.Way.Kind != Unsaid {
		b = append(b, ',')
	}
	word(r.Way.words())
	if b = r.appendAltitudes(b, from); r.StraightIn && len(b) == from {
		word("straight in")
	}
	return b
}

// procedureWords are the name of the approach. A letter alone is said: on the radio,
// where it is that of a unit as well.
func procedureWords(name string) string {
	switch name {
	case "f", "g", "t":
		return "approach " + chartLetters[name]
	}
	if len(name) == 1 {
		return "approach " + name
	}
	return name
}

// minimaWords are the line of minimums that was chosen. That of an ILS is named as
// approaches are: where it would go on a name, or be one, it has an "only".
func (r *Request) minimaWords() string {
	if (r.Minima == "ils" || r.Minima == "loc") && (strings.HasPrefix(r.Procedure, "rwy ") || !strings.ContainsAny(r.Procedure, "123456789")) {
		return r.Minima + " only"
	}
	return r.Minima
}

// appendAltitudes appends the altitudes to a line that begins at from.
func (r *Request) appendAltitudes(b []byte, from int) []byte {
	word := func(s string) {
		if s == "" {
			return
		}
		if len(b) > from {
			b = append(b, ' ')
		}
		b = append(b, s...)
	}
	apart := (r.HasElevation || r.Procedure != "" || r.Minima != "" || len(r.Without) > 0) && !r.HasTemperature && r.Rules == "" && r.Compensated == "" && r.SBAS == "" || r.Remote != "" || r.Way.Kind != Unsaid
	alone := len(r.Altitudes) == 1 && !r.HasTemperature
	for i := range r.Altitudes {
		a := &r.Altitudes[i]
		if i > 0 || apart {
			b = append(b, ',')
		}
		if a.Role != procedure.NoRole {
			word(a.lineLabel())
			word(a.Fix)
			if a.From != "" && r.Procedure != "" { // behind the figure it would be the way in
				word("from " + a.From)
			}
			if a.Instead && r.Procedure != "" {
				word("is")
			}
		}
		if len(b) > from {
			b = append(b, ' ')
		}
		if a.likeTime() && (alone || !bare(r.Altitudes)) {
			b = append(b, "alt "...)
		}
		b = a.appendMeaning(b)
		if a.From != "" && (a.Role == procedure.NoRole || r.Procedure == "") {
			word("from " + a.From)
		}
	}
	return b
}

// lineLabel is the label as a line has it.
func (a *Altitude) lineLabel() string {
	if a.Label != "" {
		return a.Label
	}
	return a.Role.Label()
}

// appendHas appends what the aircraft has and whose altimeter setting it is; any
// says that it says something of either. A comma parts them: "compensated no
// remote" would take the remote source away.
func (r *Request) appendHas(b []byte, from int) (_ []byte, any bool) {
	for _, c := range [...]struct{ what, is string }{{"compensated ", r.Compensated}, {"sbas ", r.SBAS}, {"remote ", r.Remote}} {
		if c.is == "" {
			continue
		}
		if any {
			b = append(b, ',')
		}
		if any = true; len(b) > from {
			b = append(b, ' ')
		}
		b = append(append(b, c.what...), c.is...)
	}
	return b, any
}

// withLabel is the figure with its label, as far as it has both.
func (a Altitude) withLabel() string {
	switch {
	case a.Role == procedure.NoRole:
		return a.figure()
	case a.Value == 0:
		return a.Name()
	}
	return a.Name() + " " + a.figure()
}

// Clock is the time of day that a bare figure may be.
func (a Altitude) Clock() (c Clock, ok bool) {
	if a.likeTime() {
		c, ok = clockDigits(a.figure())
		c.Zone, c.Unzoned = UTC, true
	}
	return c, ok
}

// likeTime says that a bare figure reads as a time of day, too.
func (a Altitude) likeTime() bool {
	if a.Role != procedure.NoRole || !a.Bare || a.Height || a.Meaning != 0 || a.Value >= 2400 {
		return false
	}
	w := a.figure()
	_, ok := clockDigits(w)
	return ok && len(w) == 4
}

// appendMeaning appends the figure with how it is to be flown. One below a
// hundred needs its unit.
func (a Altitude) appendMeaning(b []byte) []byte {
	a.Bare = a.Bare && (a.Metric || a.Height || a.Value >= 100)
	switch a.Meaning {
	case procedure.AtOrAbove:
		b = append(b, "above "...)
	case procedure.AtOrBelow:
		b = append(b, "below "...)
	case procedure.Between:
		b = append(a.appendFigure(append(b, "between "...)), " and "...)
		a.Value = a.Upper
	}
	return a.appendFigure(b)
}

// words are the way in as a message says it.
func (w Way) words() string {
	switch w.Kind {
	case Vectors:
		if w.Fix != "" {
			return "vectors to " + w.Fix
		}
		return "vectors"
	case VectorsInside:
		if w.Fix == "" {
			return "vectors inside IF"
		}
		return "vectors inside " + w.Fix
	case Via:
		if w.Fix == "" {
			return "via IAF"
		}
		return "via " + w.Fix
	case InHold:
		return "in the hold" + w.at()
	case InTurn:
		return "in the procedure turn" + w.at()
	case Traffic:
		switch {
		case w.In != Unsaid:
			return "traffic " + Way{Kind: w.In, Fix: w.Fix}.words()
		case w.Fix != "":
			return "traffic via " + w.Fix
		}
		return "traffic"
	}
	return ""
}

func (w Way) at() string {
	if w.Fix == "" {
		return ""
	}
	return " at " + w.Fix
}

// MixedUnits asks about a figure without a unit beside others in metres; nil
// when there is nothing to ask. inFeet says that it was answered as feet before. A
// message alone is asked about by Parse.
func (r Request) MixedUnits(inFeet bool) *Problem {
	metric := r.HasElevation && r.Elevation.Metric
	bare := -1
	for i, a := range r.Altitudes {
		metric = metric || a.Metric
		if a.Bare && bare < 0 {
			bare = i
		}
	}
	if !metric || bare < 0 {
		return nil
	}
	word := r.Altitudes[bare].figure()
	r.Altitudes = slices.Clone(r.Altitudes)
	a := &r.Altitudes[bare]
	a.Bare, a.Metric = false, likelyUnit(a.Value) == "m" && !inFeet
	return &Problem{Word: word, Text: sayNoUnit(word), Try: r.Line()}
}

// likelyUnit is the unit that the line to type instead shows: few published
// altitudes lie above 5000 m.
func likelyUnit(value float64) string {
	if value > 5000 {
		return " ft"
	}
	return "m"
}

// TemperatureWord is the temperature as a message writes it, with its sign.
func (r *Request) TemperatureWord() string { return string(r.appendTemperature(nil)) }

func (r *Request) appendTemperature(b []byte) []byte {
	if r.InFahrenheit {
		return append(appendSigned(b, float64(r.Fahrenheit)), 'F')
	}
	return appendSigned(b, float64(r.Temperature))
}

func appendSigned(b []byte, v float64) []byte {
	v = math.Round(v*1e6) / 1e6
	if v > 0 {
		b = append(b, '+')
	}
	return appendFigure(b, v+0)
}

// appendFigure writes a figure with the decimals that it has; most have none.
func appendFigure(b []byte, v float64) []byte {
	if n := int64(v); n != 0 && float64(n) == v && math.Abs(v) < 1e15 {
		return strconv.AppendInt(b, n, 10)
	}
	return strconv.AppendFloat(b, v, 'f', -1, 64)
}
