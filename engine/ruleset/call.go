package ruleset

import (
	"bytes"
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/speech"
)

// The ways in. Unlabelled is not one: it is the call of altitudes without a
// label, of which the way is not known.
const (
	WayVectors       = "vectors" // to the intermediate fix
	WayVectorsInside = "vectors-inside"
	WayVia           = "via"
	WayHold          = "hold" // in lieu of a procedure turn
	WayTurn          = "procedure-turn"
	WayTraffic       = "traffic" // no controller
	WayUnlabelled    = "unlabelled"
	// WayUnlabelledTraffic is WayUnlabelled where there is no controller.
	WayUnlabelledTraffic = "unlabelled-traffic"
)

var ways = []string{WayVectors, WayVectorsInside, WayVia, WayHold, WayTurn, WayTraffic, WayUnlabelled, WayUnlabelledTraffic}

// CallDoc is the one message for a way in. Its clauses follow one another; one
// that has nothing to say falls away, and the comma or semicolon that it
// begins with where it is the first. In them
//
//	{procedure}   the approach, as said
//	{via}         “ via FIX”, or nothing
//	{amount}      what is added to vectored altitudes: that of the row which {floor} is of
//	{floor}       what is refused below
//	{until}       how long
//	{altitude}    the corrected altitude of the way's own place, else of the next one further in
//	{place}       where that is: “at XEMBA”, “in the hold at XIMLO”
//	{missed}      the holding altitude of the missed approach
//	{altitudes}   altitude and place of each of Tell
//	{amounts}     amount and place of each of Tell
type CallDoc struct {
	Way     []string `yaml:"way"`
	Begin   string   `yaml:"begin"`
	Unnamed string   `yaml:"unnamed"` // in place of Begin where no procedure is named
	Tell    []string `yaml:"tell"`    // roles, and way for the way's own place
	Clauses []Clause `yaml:"clauses"`
}

// Clause is a part of a call.
type Clause struct {
	Say    string `yaml:"say"`
	Only   string `yaml:"only"` // required or advised; empty: always
	Source string `yaml:"source"`
}

// call is a compiled CallDoc.
type call struct {
	CallDoc
	begin, unnamed []part
	clauses        [][]part
	first          [][]part // the clauses without the comma that they begin with
	sources        [][]byte // theirs
	tell           selector
	tellWay        bool
}

var callFields = map[string]field{
	"procedure": fieldProcedure, "via": fieldVia, "amount": fieldAmount, "floor": fieldFloor, "until": fieldUntil,
	"altitude": fieldAltitude, "place": fieldPlace, "missed": fieldMissed, "altitudes": fieldAltitudes, "amounts": fieldAmounts,
}

// The values of Only.
const (
	onlyRequired = "required"
	onlyAdvised  = "advised"
)

func checkOnly(only string) error {
	if !slices.Contains([]string{"", onlyRequired, onlyAdvised}, only) {
		return fmt.Errorf("only %q: required or advised", only)
	}
	return nil
}

func compileCall(d CallDoc) (c call, err error) {
	c.CallDoc = d
	if len(d.Way) == 0 {
		return c, fmt.Errorf("way is missing: one of %s", strings.Join(ways, ", "))
	}
	for _, w := range d.Way {
		if !slices.Contains(ways, w) {
			return c, fmt.Errorf("way %q: one of %s", w, strings.Join(ways, ", "))
		}
	}
	if len(d.Clauses) == 0 {
		return c, fmt.Errorf("clauses is missing: say what is said")
	}
	if c.begin, err = parseSay(d.Begin, callFields); err != nil {
		return c, fmt.Errorf("begin: %w", err)
	}
	if c.unnamed, err = parseSay(d.Unnamed, callFields); err != nil {
		return c, fmt.Errorf("unnamed: %w", err)
	}
	roles := slices.DeleteFunc(slices.Clone(d.Tell), func(w string) bool { return w == "way" })
	c.tellWay = len(roles) < len(d.Tell)
	if c.tell, err = parseSelector(roles); err != nil {
		return c, fmt.Errorf("tell: %w, nor way", err)
	}
	for i, cl := range d.Clauses {
		parts, err := parseSay(cl.Say, callFields)
		if err == nil && cl.Say == "" {
			err = fmt.Errorf("say is missing")
		}
		if err == nil {
			err = checkOnly(cl.Only)
		}
		if err != nil {
			return c, fmt.Errorf("clause %d: %w", i+1, err)
		}
		c.clauses = append(c.clauses, parts)
		parts = slices.Clone(parts)
		parts[0].text = strings.TrimLeft(parts[0].text, ",; ")
		c.first = append(c.first, parts)
		c.sources = append(c.sources, []byte(cl.Source))
	}
	return c, nil
}

// Call is the one message for a way in, ready to be read aloud.
type Call struct {
	Way    string
	When   string // where it is conditional
	Text   string
	Spoken string
	Source string // of each of its clauses, once
	// CeilingAt is where no more than Ceiling is flown, for which nothing is refused
	// below where the rule set would have it refused; empty: nowhere. It is told
	// without a call, too.
	CeilingAt string
	Ceiling   engine.Altitude
}

// CallOptions are what a call is filled with besides the rows.
type CallOptions struct {
	Way string // one of the ways
	Fix string // of via and vectors-inside; of traffic: the one it comes in by; may be empty
	// Name and SpokenName are the approach's; empty: no procedure is named.
	Name, SpokenName string
	// Extra is added to the amount under vectors, outside the intermediate fix,
	// for an approach into a valley (common practice, no source).
	Extra engine.Feet
	// Transition is the altitude from which on a figure is said to be an
	// altitude; zero: 18 000 ft.
	Transition engine.Altitude
	Air        correction.Air // for how far the amount reaches
	// Typed are the lines' figures as they were typed, where that is not in feet,
	// by index; empty: whole feet.
	Typed []string
}

// flightLevels is where they begin in the United States (FAA AIM
// 4-2-9).
const flightLevels engine.Altitude = 18000

// callOf is the rule set's call for a way; without one it is other.
func (s *Set) callOf(way string, other *call) *call {
	for i := range s.calls {
		if slices.Contains(s.calls[i].Way, way) {
			return &s.calls[i]
		}
	}
	return other
}

// CallFor makes the call of a result; ok is false where the rule set has none
// for the way, or nothing is to be said.
func (s *Set) CallFor(res Result, opt CallOptions) (c Call, ok bool) {
	f := filling{res: res, CallOptions: opt, required: res.ToldRequired, hundreds: s.hundreds(opt.Transition)}
	f.Transition = cmp.Or(f.Transition, flightLevels)
	way := opt.Way
	if l := f.unlabelled(); l != nil {
		if way = WayUnlabelled; opt.Way == WayTraffic {
			way = WayUnlabelledTraffic
		}
		f.at = l
	}
	d := s.callOf(way, nil)
	if d == nil {
		return Call{}, false
	}
	f.doc = d
	if f.at == nil {
		f.look(way)
	}
	if way == WayVia && f.at != nil && f.at.Role == procedure.Hold && f.at.Fix == f.Fix {
		d = s.callOf(WayHold, d) // who comes in by the fix of a hold flies it
		f.doc = d
	}
	var textRoom [1024]byte // of all three
	var spokenRoom [512]byte
	text, spoken := textRoom[:0], spokenRoom[:0]
	head := d.begin
	if f.Name == "" && len(d.unnamed) > 0 {
		head = d.unnamed
	}
	text, spoken, _ = f.say(text, spoken, head)
	said := false
	var sourceRoom [512]byte
	sources := sourceRoom[:0]
	for i, parts := range d.clauses {
		cl := &d.Clauses[i]
		if cl.Only == onlyRequired && !f.required || cl.Only == onlyAdvised && f.required {
			continue
		}
		n, m := len(text), len(spoken)
		t, sp := text, spoken
		if !said {
			if n > 0 {
				t, sp = append(t, ' '), append(sp, ' ')
			}
			parts = d.first[i]
		}
		t, sp, full := f.say(t, sp, parts)
		if !full {
			text, spoken = text[:n], spoken[:m]
			continue
		}
		said = true
		text, spoken = t, sp
		sources = f.source(sources, d.sources[i], parts)
	}
	c.CeilingAt, c.Ceiling = f.ceiling()
	if !said {
		return c, false
	}
	if opt.Way != WayTraffic {
		text, spoken = append(text, '.'), append(spoken, '.')
	}
	n, m := len(text), len(text)+len(spoken)
	all := string(append(append(text, spoken...), sources...))
	c.Way, c.When, c.Text, c.Spoken, c.Source = opt.Way, f.when(), all[:n], all[n:m], all[m:]
	return c, true
}

// hundreds is up to where an altitude is spoken in whole hundreds: up to the
// transition altitude, in ICAO's manner without an end (Annex 10 Vol II
// 5.2.1.4.1 names none, FAA AIM 4-2-9 does).
func (s *Set) hundreds(transition engine.Altitude) engine.Altitude {
	if s.manner == speech.ICAO {
		return math.MaxInt32
	}
	return transition
}

// when says on what a call depends.
func (f *filling) when() string {
	when := ""
	switch {
	case f.required:
	case f.res.ToldUnknown:
		when = "if a correction is required here, or you choose to correct: all or none"
	case f.res.Required:
		when = "if you choose to correct more than is required: all or none"
	default:
		when = "if you choose to correct: all or none"
	}
	switch {
	case when == "":
	case f.Way == WayTraffic:
		when += ", and tell traffic"
	default:
		when += ", and tell ATC"
	}
	if f.at == nil || !unlabelled(&f.at.Point) {
		return when
	}
	var room [160]byte
	b := append(room[:0], when...)
	if when != "" {
		b = append(b, "; "...)
	}
	b = append(b, "if "...)
	if typed := f.typed(); typed != "" {
		b = append(b, typed...)
	} else {
		b = appendWhole(b, engine.UpToFoot(float64(f.at.Altitude)))
	}
	return string(append(b, " is before the final approach fix"...))
}

// typed is the figure of the way's own place as it was typed; empty: in feet.
func (f *filling) typed() string {
	for i := range min(len(f.res.Lines), len(f.Typed)) {
		if &f.res.Lines[i] == f.at {
			return f.Typed[i]
		}
	}
	return ""
}

// source appends a clause's, once, with how far an amount reaches.
func (f *filling) source(to, source []byte, parts []part) []byte {
	if len(source) == 0 || bytes.Contains(to, source) {
		return to
	}
	if len(to) > 0 {
		to = append(to, "; "...)
	}
	to = append(to, source...)
	if f.floor != nil && slices.ContainsFunc(parts, func(p part) bool { return p.field == fieldAmount }) {
		if reach := f.reach(); reach > 0 {
			to = append(to, "; it covers vectors to about "...)
			to = append(appendWhole(to, float64(reach)), " ft"...)
		}
	}
	return to
}

// reach is up to where the amount is no less than the accurate equation asks for, in
// hundreds, rounded down; zero where it asks for more everywhere.
func (f *filling) reach() engine.Altitude {
	amount := engine.Feet(upTo(float64(f.floor.Correction), 100))
	first := engine.Altitude(upTo(float64(f.Air.Source), 100))
	const hundreds = int(correction.MaxHeight / 100)
	n := sort.Search(hundreds, func(i int) bool {
		// An altimeter that shows the amount more is lower than that.
		h := min(first.Add(engine.Feet(100*i)).Above(f.Air.Source), correction.MaxHeight)
		return h > 0 && f.Air.TrueHeight(h+engine.Height(amount)) < h
	})
	if n == 0 {
		return 0
	}
	return first.Add(engine.Feet(100 * (n - 1)))
}
