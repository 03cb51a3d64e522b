package parse

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
	"firn/engine/wxreport"
)

// Example is the line that is shown when there is nothing better to show.
const Example = "XKLD -38 8200 7400 5340"

// Verb is what a message asks for. The zero value is a correction, or the
// state of a station when no altitude is given.
type Verb uint8

// The verbs. Add, Remove and Same change the earlier message of a thread.
const (
	Correct Verb = iota
	Why
	Help
	Rules
	Check
	Withdraw
	Recompute
	Watch
	Observe
	Acknowledge
	Snooze
	Log
	Brief
	Route
	Add
	Remove
	Same
	Picture
	Card
	Post
)

var verbNames = [...]string{"correct", "why", "help", "rules", "check", "withdraw", "recompute", "watch", "obs", "ack", "snooze", "log", "brief", "route", "add", "remove", "same", "picture", "card", "post"}

// Shows says that the verb shows a correction in another way.
func (v Verb) Shows() bool { return v == Why || v == Picture || v == Card }

// String is the verb as it is typed.
func (v Verb) String() string { return verbNames[v] }

// Altitude is one altitude as it was typed.
type Altitude struct {
	Value  float64 // in the unit it was typed in
	Metric bool    // metres; else feet
	Bare   bool    // typed without a unit
	Height bool    // above the field; else above mean sea level
	Role   procedure.Role
	Label  string // where it says more than the role's own
	Fix    string // upper case
	From   string // of a step: the initial fix whose branch it stands on, upper case
	// Meaning is how it is to be flown; Between has its upper bound in Upper, in
	// the unit of Value.
	Meaning procedure.Meaning
	Upper   float64
}

// MissedHoldLabel is the label of an altitude that is said to be the hold of
// the missed approach ("missed hold", "climb in hold"): no other altitude of
// the missed approach is. LieuLabel is that of a hold in lieu of a procedure
// turn ("hilpt", "hold in lieu"). A hold with neither is the bot's to place.
const (
	MissedHoldLabel = "missed hold"
	LieuLabel       = "hold in lieu"
)

// WayKind is how the crew comes in.
type WayKind uint8

// The ways; Unsaid is the zero value.
const (
	Unsaid        WayKind = iota
	Vectors               // "vectors": to the intermediate fix
	VectorsInside         // "vectors inside FIX"
	Via                   // "via FIX"
	InHold                // "hold": in lieu of a procedure turn
	InTurn                // "procedure turn", "pt"
	Traffic               // "traffic": no controller
)

// Way is how the crew comes in, with the fix that it names.
type Way struct {
	Kind WayKind
	Fix  string // upper case
}

// Feet converts exactly.
func (a Altitude) Feet() engine.Feet {
	if a.Metric {
		return engine.Metres(a.Value).Feet()
	}
	return engine.Feet(a.Value)
}

// Name is the label or the fix, or the figure when there is neither.
func (a Altitude) Name() string {
	switch {
	case a.Label != "":
		return a.Label
	case a.Role != procedure.NoRole:
		return a.Role.Label()
	case a.Fix != "":
		return a.Fix
	}
	return a.figure()
}

func (a Altitude) figure() string { return string(a.appendFigure(nil)) }

func (a Altitude) appendFigure(b []byte) []byte {
	b = strconv.AppendFloat(b, a.Value, 'f', -1, 64)
	switch {
	case a.Metric:
		b = append(b, 'm')
	case !a.Bare:
		b = append(b, " ft"...)
	}
	if a.Height {
		b = append(b, " agl"...)
	}
	return b
}

// appendMeaning appends the figure with how it is to be flown.
func (a Altitude) appendMeaning(b []byte) []byte {
	switch a.Meaning {
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
		return "vectors"
	case VectorsInside:
		return strings.TrimSpace("vectors inside " + w.Fix)
	case Via:
		return "via " + w.Fix
	case InHold:
		return "in the hold"
	case InTurn:
		return "in the procedure turn"
	case Traffic:
		if w.Fix != "" {
			return "traffic via " + w.Fix
		}
		return "traffic"
	}
	return ""
}

// Request is what was understood of a message.
type Request struct {
	Verb         Verb
	Station      string // ident as configured
	Elevation    Altitude
	HasElevation bool

	Temperature    engine.Celsius
	HasTemperature bool
	Fahrenheit     engine.Fahrenheit // as typed, when InFahrenheit
	InFahrenheit   bool
	Report         wxreport.Metar // the pasted report, when HasReport
	HasReport      bool

	Altitudes []Altitude
	Rules     string // id of a rule set named in the message
	Procedure string // a stored procedure, as crews say it: "rnav 31"
	// Compensated says whether the avionics correct the barometric path: yes,
	// no, or empty where the message does not say.
	Compensated string
	SBAS        string // whether the aircraft has satellite vertical guidance, the same way
	Minima      string // the line of minimums that was chosen: lpv, lnav, lnav/vnav, lp, gls, ils, loc, circling
	Way         Way
	Stops       []Stop // of brief
	Rest        string // the words behind a verb that takes words; of card: the name of a record
	// Kind says more of what a verb shows: of picture profile, curve or day, of
	// card its paper. Empty: not said.
	Kind string

	// Open is what was not understood and is mended neither by a temperature
	// nor by a station: a follow-up with just these does not settle it.
	Open []Problem
	// Elsewhere says that a station was named which is not known.
	Elsewhere bool
}

// Empty says that nothing was understood.
func (r Request) Empty() bool {
	return (r.Verb == Correct || r.Verb.Shows()) && r.Station == "" && !r.HasElevation && !r.HasTemperature && !r.HasReport &&
		len(r.Altitudes) == 0 && r.Rules == "" && r.Procedure == ""
}

// Problem says which word of a message is wrong and the line to type
// instead. What was understood is in the Request beside it.
type Problem struct {
	Word string // as typed; empty when it is the whole message
	Text string // one clear sentence
	Try  string // the line to type instead
}

func (p *Problem) Error() string { return p.Text }

// Line is the request as one line that reads as the same request.
func (r Request) Line() string { return string(r.AppendLine(nil)) }

// AppendLine appends the request's line.
func (r Request) AppendLine(b []byte) []byte {
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
	if r.Verb.Shows() {
		word(r.Verb.String())
		word(r.Kind)
	}
	word(r.Station)
	if r.HasElevation {
		word("elev ")
		b = r.Elevation.appendFigure(b)
	}
	word(r.Procedure)
	word(r.Minima)
	if r.HasTemperature {
		if len(b) > from {
			b = append(b, ' ')
		}
		b = r.appendTemperature(b)
	}
	word(r.Rules)
	if r.Compensated != "" {
		word("compensated " + r.Compensated)
	}
	if r.SBAS != "" {
		word("sbas " + r.SBAS)
	}
	word(r.Way.words())
	apart := (r.HasElevation || r.Procedure != "") && !r.HasTemperature && r.Rules == "" && r.Compensated == "" || r.Way.Kind != Unsaid
	for i := range r.Altitudes {
		a := &r.Altitudes[i]
		if i > 0 || apart {
			b = append(b, ',')
		}
		if a.Role != procedure.NoRole {
			label := a.Label
			if label == "" {
				label = a.Role.Label()
			}
			word(label)
			word(a.Fix)
		}
		if len(b) > from {
			b = append(b, ' ')
		}
		b = a.appendMeaning(b)
		if a.From != "" {
			word("from " + a.From)
		}
	}
	return b
}

// MixedUnits asks about a figure without a unit beside others in metres; nil
// when there is nothing to ask. A message alone is asked about by Parse.
func (r Request) MixedUnits() *Problem {
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
	a.Bare, a.Metric = false, likelyUnit(a.Value) == "m"
	return mixed(word, r.Line())
}

func mixed(word, try string) *Problem {
	return &Problem{
		Word: word,
		Text: fmt.Sprintf("%s has no unit, and another figure is in metres; write m or ft behind it.", word),
		Try:  try,
	}
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
func (r Request) TemperatureWord() string { return string(r.appendTemperature(nil)) }

func (r Request) appendTemperature(b []byte) []byte {
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
	return strconv.AppendFloat(b, v+0, 'f', -1, 64)
}

// Amend reads next as a follow-up of r. done says that r had been answered:
// bare altitudes then ask anew with the same station and temperature, while
// before that they complete it.
func (r Request) Amend(next Request, done bool) Request {
	out := r
	out.Altitudes = append([]Altitude(nil), r.Altitudes...)
	out.Verb, out.Kind = Correct, next.Kind
	if next.Verb.Shows() {
		out.Verb = next.Verb
	}
	if next.Station != "" && next.Station != r.Station {
		out.Station = next.Station
		out.HasElevation = false
		// A report's temperature belongs to its own station.
		if r.HasReport {
			out.HasReport, out.HasTemperature = false, false
		}
	}
	if next.HasElevation {
		out.Elevation, out.HasElevation = next.Elevation, true
		if next.Station == "" {
			out.Station = ""
		}
	}
	if next.HasTemperature {
		out.Temperature, out.HasTemperature = next.Temperature, true
		out.Fahrenheit, out.InFahrenheit = next.Fahrenheit, next.InFahrenheit
		out.Report, out.HasReport = next.Report, next.HasReport
	}
	out.Elsewhere = false
	out.Open = slices.Clone(r.Open)
	if len(next.Altitudes) > 0 && len(out.Open) > 0 {
		out.Open = out.Open[1:] // it stands for what was asked about
	}
	out.Open = append(out.Open, next.Open...)
	if len(out.Open) == 0 {
		out.Open = nil
	}
	if next.Rules != "" {
		out.Rules = next.Rules
	}
	if next.Procedure != "" {
		if done && next.Procedure != r.Procedure {
			out.Altitudes = out.Altitudes[:0] // those of another approach
		}
		out.Procedure = next.Procedure
	}
	if next.Compensated != "" {
		out.Compensated = next.Compensated
	}
	if next.SBAS != "" {
		out.SBAS = next.SBAS
	}
	if next.Minima != "" {
		out.Minima = next.Minima
	}
	if next.Way.Kind != Unsaid {
		out.Way = next.Way
	}
	if next.Verb == Remove {
		out.Altitudes = without(out.Altitudes, next.Altitudes)
		return out
	}
	if len(next.Altitudes) == 0 {
		return out
	}
	bare := true
	for _, a := range next.Altitudes {
		bare = bare && a.Role == procedure.NoRole
	}
	if done && bare && next.Verb != Add {
		out.Altitudes = append(out.Altitudes[:0], next.Altitudes...)
		return out
	}
	for _, a := range next.Altitudes {
		out.Altitudes = replaceOrAdd(out.Altitudes, a, next.Verb == Add)
	}
	return out
}

// replaceOrAdd amends the altitude with the same label, where there is just
// one such, or labels the unlabelled one of the same figure; a step-down fix
// or one more unlabelled altitude is added.
func replaceOrAdd(list []Altitude, a Altitude, add bool) []Altitude {
	at, n := -1, 0
	for i, have := range list {
		if have.Role == procedure.NoRole && a.Role != procedure.NoRole && have.same(a) {
			list[i] = a
			return list
		}
		if a.Role != procedure.NoRole && have.Role == a.Role && have.Label == a.Label && (a.Fix == "" || have.Fix == "" || have.Fix == a.Fix) {
			at, n = i, n+1
		}
	}
	if n == 1 && !(add && a.Role == procedure.StepDown) {
		if a.Fix == "" {
			a.Fix = list[at].Fix
		}
		list[at] = a
		return list
	}
	return append(list, a)
}

func (a Altitude) same(b Altitude) bool { return a.Feet() == b.Feet() && a.Height == b.Height }

// without takes out the altitudes of the same figure, of the same label where
// one is given with it, or, for a label without a figure, of that label.
func without(list, gone []Altitude) []Altitude {
	out := list[:0]
	for _, have := range list {
		keep := true
		for _, g := range gone {
			figure := have.same(g) || g.Value == 0
			label := have.Role == g.Role && (g.Label == "" || g.Label == have.Label) && (g.Fix == "" || g.Fix == have.Fix)
			if figure && (label || g.Role == procedure.NoRole) {
				keep = false
			}
		}
		if keep {
			out = append(out, have)
		}
	}
	return out
}
