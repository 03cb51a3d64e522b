package ruleset

import (
	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
)

// noise is what binary fractions may add to a figure typed exactly: a limit
// met exactly after a conversion from Fahrenheit or metres is met.
const noise = 1e-9

// Input is one approach at one temperature.
type Input struct {
	Air          correction.Air // reported temperature; elevation of the altimeter setting source
	Restriction  engine.Celsius // the station's published restriction temperature
	HasPublished bool           // whether the station has one
	Designated   []procedure.Segment
	Mountainous  bool
	Outside      Step              // replaces the rule set's rounding outside the final segment, when not empty
	Points       []procedure.Point // with their segments; see procedure.AssignSegments
	// FieldAbove is how far the field lies above Air.Source, where heights count
	// from the lower of the two.
	FieldAbove engine.Feet
}

// Note says what held where the table has no figure, or why there is none.
type Note uint8

// The notes.
const (
	NoNote      Note = iota
	WarmAir          // warmer than standard at the source: zero, never a subtraction
	LastColumn       // higher than the last column: the column is used, as published
	AboveTable       // higher than the last column: the accurate equation, never less than that column
	ColderTable      // colder than the last row: the equation, never less than that row
	WarmerTable      // warmer than the first row, colder than standard: the equation, never more than that row
	Left             // the rule leaves it, or its segment is not designated: the published figure is flown
)

// State says how a line is flown.
type State uint8

// The states. Unknown is a line of which it cannot be known whether a
// correction is required: the rule's temperature is not, or the line's segment.
const (
	Unknown State = iota
	Required
	Advised
	Unchanged
)

// Line is one altitude with its correction and how it came about.
type Line struct {
	procedure.Point
	Height          engine.Height // of Altitude above the source
	ReferenceHeight engine.Height // whose correction this is; Height when its own
	ReferencePoint  int           // index of the reference altitude, which may be the line itself; -1 when none is given or each has its own
	Method          correction.Method
	Unrounded       engine.Feet
	Correction      engine.Feet // what is added: Corrected less Altitude
	Corrected       engine.Altitude
	UpperCorrected  engine.Altitude // only for Between
	Raised          int             // index of the line further in whose figure is flown, as its own is lower; -1: none
	Rule            int             // which entry of Require asks for it; -1 when none
	ShortOf         engine.Feet     // the accurate correction, where the last column gives less; else 0
	Note            Note
	State           State
	Required        bool
	ByPlace         bool // required where it lies in a segment that is designated; it has no label to tell
	Report          bool // air traffic control is told
}

// Lifted says that the line is flown at another's figure alone: the rule asks
// for nothing at it, and nothing is asked of air traffic control for it.
func (l *Line) Lifted() bool { return l.Note == Left && l.Raised >= 0 }

// Result is a corrected approach.
type Result struct {
	Lines    []Line
	Required bool // the rule set asks for a correction on at least one altitude, or where it may lie
	Unknown  bool // it does not, as far as is known; a temperature that is not known might
	// ToldRequired says that what air traffic control is told is required; else
	// the crew chooses, also where the rule set asks for a correction elsewhere.
	// ToldUnknown: it is not known whether some of it is required.
	ToldRequired, ToldUnknown bool

	asks uint16 // the segments of the approach that it asks for, whether a line lies in them or not
	rule int    // which entry of Require asks for the first of them; -1: none
}

// Segments are those of an approach, in flying order.
var Segments = [...]procedure.Segment{procedure.Initial, procedure.Intermediate, procedure.Final, procedure.Missed}

// Asks says whether the rule set asks for a segment's correction at this
// temperature, where a line may lie in it or none.
func (r *Result) Asks(s procedure.Segment) bool { return r.asks&(1<<s) != 0 }

// Rule is the entry of Require that asks: for the first line that it asks for,
// else for a segment; -1 where none does.
func (r *Result) Rule() int {
	for i := range r.Lines {
		if r.Lines[i].Required {
			return r.Lines[i].Rule
		}
	}
	return r.rule
}

// ask finds the segments that the rule set asks for: each by the place whose
// altitude is its own.
func (s *Set) ask(res *Result, holds uint64, designated uint16) {
	res.rule = -1
	for i, role := range [...]procedure.Role{procedure.InitialFix, procedure.FinalFix, procedure.DecisionAltitude, procedure.MissedHold} {
		p := procedure.Point{Segment: Segments[i], Role: role}
		for j := range s.require {
			if holds&(1<<j) == 0 || s.leaves.has(&p, designated) || !s.require[j].who.has(&p, designated) {
				continue
			}
			if res.asks |= 1 << p.Segment; res.rule < 0 {
				res.rule = s.require[j].rule
			}
			break
		}
	}
}

// Evaluate corrects every point of in under the rule set. The lines come in
// the order of the points. Its errors are correction.ErrNoSuchAir and
// correction.ErrTooHigh: an input that no rule set has an answer to.
func (s *Set) Evaluate(in Input) (Result, error) {
	res := Result{Lines: make([]Line, len(in.Points))}
	refs := referencesOf(in)
	var designated uint16
	for _, seg := range in.Designated {
		designated |= 1 << seg
	}
	holds, unknown := s.conditions(in, designated)
	s.ask(&res, holds, designated)
	for i := range in.Points {
		l := &res.Lines[i]
		l.Point = in.Points[i]
		l.Rule, l.ReferencePoint, l.Raised = -1, -1, -1
		if l.NoAltitude {
			continue
		}
		covered, open := s.advises.has(&l.Point, designated), false
		for j := range s.require {
			if s.leaves.has(&l.Point, designated) || !s.require[j].who.has(&l.Point, designated) {
				continue
			}
			covered = true
			open = open || unknown&(1<<j) != 0
			if holds&(1<<j) != 0 && s.require[j].who.may(&l.Point, designated) {
				l.ByPlace = true
				continue
			}
			if holds&(1<<j) != 0 {
				l.Required, l.Rule = true, s.require[j].rule
				break
			}
		}
		if !covered {
			l.leave(in)
			continue
		}
		if err := s.correct(l, in, refs); err != nil {
			return Result{}, err
		}
		l.ByPlace = l.ByPlace && !l.Required && l.Correction > 0
		l.State = stateOf(l, open)
		res.Required = res.Required || l.Required || l.ByPlace
		res.Unknown = res.Unknown || l.State == Unknown
	}
	res.Unknown = res.Unknown && !res.Required
	raise(res.Lines)
	s.told(&res, in, designated)
	return res, nil
}

// leave keeps the published figure.
func (l *Line) leave(in Input) {
	l.Height = l.Altitude.Above(in.Air.Source)
	l.ReferenceHeight = l.Height
	l.Corrected, l.UpperCorrected = l.Altitude, l.Upper
	l.State, l.Note = Unchanged, Left
}

// stateOf is a corrected line's.
func stateOf(l *Line, open bool) State {
	switch {
	case l.Required:
		return Required
	case l.Correction == 0:
		return Unchanged
	case open, l.ByPlace:
		return Unknown
	}
	return Advised
}

// references holds the index of each reference altitude, -1 when not given.
type references struct{ finalFix, intermediateFix, minimum int }

func referencesOf(in Input) references {
	r := references{-1, -1, -1}
	base := func(i int) engine.Altitude { return in.Points[i].Altitude.Add(in.Points[i].Additive) }
	better := func(have int, i int) bool { return have < 0 || base(i) > base(have) }
	// Step-downs of the final segment belong to the lines without vertical
	// guidance: the highest of those stands for them, circling too.
	unguided := false
	for i := range in.Points {
		switch p := &in.Points[i]; {
		case p.NoAltitude:
		case p.Role == procedure.FinalFix && better(r.finalFix, i):
			r.finalFix = i
		case p.Role == procedure.IntermediateFix && better(r.intermediateFix, i):
			r.intermediateFix = i
		case p.Role == procedure.DecisionAltitude && !unguided && better(r.minimum, i):
			r.minimum = i
		case (p.Role == procedure.Circling || p.Role == procedure.MinimumDescent) && (!unguided || better(r.minimum, i)):
			r.minimum, unguided = i, true
		}
	}
	return r
}

func (r references) of(kind refKind) int {
	switch kind {
	case refFinalFix:
		return r.finalFix
	case refIntermediateFix:
		return r.intermediateFix
	case refMinimums:
		return r.minimum
	}
	return -1
}

// correct fills in the figures of one line.
func (s *Set) correct(l *Line, in Input, refs references) (err error) {
	base := l.Altitude.Add(l.Additive)
	l.Height = base.Above(in.Air.Source)
	l.ReferenceHeight = l.Height
	// A minimum is its own reference, whichever of several it is.
	if kind := s.refs[l.Segment]; kind != refOwn && !l.Role.Minimum() {
		if i := refs.of(kind); i >= 0 {
			l.ReferencePoint = i
			l.ReferenceHeight = in.Points[i].Altitude.Add(in.Points[i].Additive).Above(in.Air.Source)
		}
	}
	round := s.RoundingOf(&l.Point, in.Outside)
	var a amount
	if a, err = s.amount(l.ReferenceHeight, in.Air, l.Required); err != nil {
		return err
	}
	l.Unrounded, l.Method, l.Note, l.ShortOf = a.correction, a.method, a.note, a.shortOf
	l.Corrected = round.apply(base, l.Unrounded)
	l.Correction = engine.Feet(l.Corrected - l.Altitude)
	if l.Meaning == procedure.Between {
		if l.ReferencePoint < 0 {
			if a, err = s.amount(l.Upper.Above(in.Air.Source), in.Air, l.Required); err != nil {
				return err
			}
		}
		l.UpperCorrected = round.apply(l.Upper, a.correction)
	}
	return nil
}

// RoundingOf is the rule that an altitude is rounded by; outside replaces the
// rule set's own outside the final segment, when not empty. What is or may be
// in the final segment is never rounded to the nearest: a minimum, an
// altitude without a label, a step-down fix that could not be placed.
func (s *Set) RoundingOf(p *procedure.Point, outside Step) Rounding {
	round := s.Round.Outside
	switch {
	case p.Segment == procedure.Final || p.Role.Minimum():
		return s.Round.Final
	case unlabelled(p):
		return s.Round.Unlabelled
	case outside != "":
		round = Rounding{Correction: outside}
	}
	if p.Segment == procedure.NoSegment && round.Correction == NearestHundred {
		round.Correction = UpHundred
	}
	return round
}
