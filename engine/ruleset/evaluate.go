package ruleset

import (
	"errors"
	"math"

	"firn/engine"
	"firn/engine/atmosphere"
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
)

// Line is one altitude with its correction and how it came about.
type Line struct {
	procedure.Point
	Height          engine.Height // of Altitude above the source
	ReferenceHeight engine.Height // whose correction this is; Height when its own
	ReferencePoint  int           // index of the reference altitude, which may be the line itself; -1 when none is given or each has its own
	Method          correction.Method
	Note            Note
	Unrounded       engine.Feet
	Correction      engine.Feet // what is added: Corrected less Altitude
	Corrected       engine.Altitude
	UpperCorrected  engine.Altitude // only for Between
	Required        bool
	Rule            int         // which entry of Require asks for it; -1 when none
	Report          bool        // air traffic control is told
	ShortOf         engine.Feet // the accurate correction, where the last column gives less; else 0
}

// Result is a corrected approach.
type Result struct {
	Lines    []Line
	Required bool // the rule set asks for a correction on at least one altitude
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
	holds := s.conditions(in, designated)
	highest := -1
	for i := range in.Points {
		l := &res.Lines[i]
		l.Point = in.Points[i]
		l.Rule = -1
		l.ReferencePoint = -1
		for j := range s.require {
			if holds&(1<<j) != 0 && s.require[j].who.has(&l.Point, designated) {
				l.Required, l.Rule = true, s.require[j].rule
				break
			}
		}
		res.Required = res.Required || l.Required
		if err := s.correct(l, in, refs); err != nil {
			return Result{}, err
		}
		if unlabelled(&l.Point) && (highest < 0 || l.Corrected > res.Lines[highest].Corrected) {
			highest = i
		}
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		// An altitude that the rule leaves uncorrected is not announced,
		// unless all of them are advisory and the crew chooses.
		told := l.Correction > 0 && (l.Required || !res.Required)
		if unlabelled(&l.Point) {
			l.Report = told && i == highest // the others may be minimums
		} else {
			l.Report = told && s.report.has(&l.Point, designated)
		}
	}
	return res, nil
}

// unlabelled is true of an altitude of which nothing is known.
func unlabelled(p *procedure.Point) bool {
	return p.Segment == procedure.NoSegment && p.Role == procedure.NoRole
}

// references holds the index of each reference altitude, -1 when not given.
type references struct{ finalFix, intermediateFix, minimum int }

func referencesOf(in Input) references {
	r := references{-1, -1, -1}
	better := func(have int, i int) bool { return have < 0 || in.Points[i].Altitude > in.Points[have].Altitude }
	straight := false // a straight-in minimum stands before a circling one
	for i := range in.Points {
		switch p := &in.Points[i]; {
		case p.Role == procedure.FinalFix && better(r.finalFix, i):
			r.finalFix = i
		case p.Role == procedure.IntermediateFix && better(r.intermediateFix, i):
			r.intermediateFix = i
		case p.Role == procedure.Circling && !straight && better(r.minimum, i):
			r.minimum = i
		case (p.Role == procedure.DecisionAltitude || p.Role == procedure.MinimumDescent) && (!straight || better(r.minimum, i)):
			r.minimum, straight = i, true
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

// conditions says which entries of Require hold, a bit each.
func (s *Set) conditions(in Input, designated uint16) uint64 {
	var holds uint64
	t := in.Air.Temperature
	for j := range s.require {
		c := &s.require[j]
		switch {
		case c.Published && !(in.HasPublished && atOrBelow(t, in.Restriction)):
		case c.AtOrBelowC != nil && !atOrBelow(t, engine.Celsius(*c.AtOrBelowC)):
		case c.Colder && !colderThanStandard(in.Air):
		case c.Mountainous && !in.Mountainous:
		case c.HigherFt != nil && !anyHigher(in, c.over, designated, engine.Height(*c.HigherFt)):
		default:
			holds |= 1 << j
		}
	}
	return holds
}

// atOrBelow is how a restriction temperature binds (FAA AIM 7-3-5 b).
func atOrBelow(t, limit engine.Celsius) bool { return t <= limit+noise }

func colderThanStandard(air correction.Air) bool {
	return air.Temperature < atmosphere.StandardTemperature(air.Source)-noise
}

func anyHigher(in Input, over selector, designated uint16, limit engine.Height) bool {
	for i := range in.Points {
		if p := &in.Points[i]; over.has(p, designated) && p.Altitude.Above(in.Air.Source) > limit+noise {
			return true
		}
	}
	return false
}

// correct fills in the figures of one line.
func (s *Set) correct(l *Line, in Input, refs references) (err error) {
	l.Height = l.Altitude.Above(in.Air.Source)
	l.ReferenceHeight = l.Height
	// A minimum is its own reference, whichever of several it is.
	if kind := s.refs[l.Segment]; kind != refOwn && !l.Role.Minimum() {
		if i := refs.of(kind); i >= 0 {
			l.ReferencePoint = i
			l.ReferenceHeight = in.Points[i].Altitude.Above(in.Air.Source)
		}
	}
	round := s.RoundingOf(&l.Point, in.Outside)
	var a amount
	if a, err = s.amount(l.ReferenceHeight, in.Air, l.Required); err != nil {
		return err
	}
	l.Unrounded, l.Method, l.Note, l.ShortOf = a.correction, a.method, a.note, a.shortOf
	l.Corrected = round.apply(l.Altitude, l.Unrounded)
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

// amount is a correction before rounding, and what stood in for the table
// where it has no figure.
type amount struct {
	correction engine.Feet
	method     correction.Method
	note       Note
	shortOf    engine.Feet
}

func (s *Set) amount(h engine.Height, air correction.Air, required bool) (amount, error) {
	// Where a published temperature asks for the table, its figure is used
	// as published, also in air that is not cold for the elevation.
	if !required && !colderThanStandard(air) {
		_, err := correction.By(correction.MethodEquation, h, air) // air and height that can be
		return amount{0, s.method, WarmAir, 0}, err
	}
	c, err := correction.By(s.method, h, air)
	switch {
	case err == nil:
		a := amount{c, s.method, NoNote, 0}
		if h >= correction.HighestColumn-noise && isTable(s.method) {
			a.shortOf = shortOf(c, h, air)
		}
		return a, nil
	case errors.Is(err, correction.ErrColderThanTable):
		// The equation reduces the temperature to sea level and the table
		// does not: at an elevated field it would give less than the last
		// row, and colder air may never ask for less.
		row, err := correction.By(s.method, min(h, correction.HighestColumn), correction.Air{Temperature: correction.ColdestRow, Source: air.Source})
		if err != nil {
			return amount{}, err
		}
		c := max(correction.Equation(h, air), row)
		if h > correction.HighestColumn {
			c = max(c, correction.Accurate(h, air))
		}
		return amount{c, correction.MethodEquation, ColderTable, 0}, nil
	case errors.Is(err, correction.ErrWarmerThanTable):
		// Below sea level, and above a last column that stands for every
		// height, the equation would give more than the first row does, and
		// warmer air may never ask for more.
		first, err := s.amount(h, correction.Air{Temperature: correction.WarmestRow, Source: air.Source}, true)
		if err != nil {
			return amount{}, err
		}
		a := amount{min(correction.Equation(h, air), first.correction), correction.MethodEquation, WarmerTable, 0}
		if first.note == LastColumn {
			a.shortOf = shortOf(a.correction, h, air)
		}
		return a, nil
	case errors.Is(err, correction.ErrAboveTable):
		column, err := correction.By(s.method, correction.HighestColumn, air)
		if err != nil {
			return amount{}, err
		}
		if s.accurate {
			return amount{max(correction.Accurate(h, air), column), correction.MethodAccurate, AboveTable, 0}, nil
		}
		return amount{column, s.method, LastColumn, shortOf(column, h, air)}, nil
	}
	return amount{}, err
}

func isTable(m correction.Method) bool {
	return m == correction.MethodTable || m == correction.MethodTableNext
}

// shortOf is the accurate correction where c is less than it, else 0.
func shortOf(c engine.Feet, h engine.Height, air correction.Air) engine.Feet {
	if a := correction.Accurate(h, air); a > c {
		return a
	}
	return 0
}

func upTo(x, step float64) float64 { return math.Ceil(x/step-noise)*step + 0 } // nothing is "-0 ft"

// nearest takes the upper of two steps as near as each other.
func nearest(x, step float64) float64 { return math.Floor(x/step+0.5+noise) * step }
