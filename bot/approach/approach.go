package approach

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/baro"
	"firn/engine/procedure"
)

// Approach is one published procedure of one station.
type Approach struct {
	Ident    string // the station
	Code     string // the coded identifier, as R31-Y or VOR-A
	Name     string // as crews say it: "rnav y 31", "vor a"
	Title           // kind, runway, letter
	PlainRNP bool   // its chart says RNP alone, not RNAV (RNP)

	Legs     []Leg     // in the order of the source: transitions, then final and missed
	Minimums []Minimum // as the chart lists them; empty in a coded file, which has none

	// NoFinalFix is said of an approach that is published without a final
	// approach fix, as from a beacon on the field.
	NoFinalFix bool

	// Remote is the chart's note that its altimeter source is a remote one, and
	// RemoteAdditive what it then adds to minimums, before a cold correction.
	Remote         bool
	RemoteAdditive engine.Feet

	VerticalAngle engine.Degrees // of the published descent path, down is positive
	HasAngle      bool
	Baro          baro.Limits // charted temperatures of uncompensated barometric guidance

	MissedFix      string
	MissedAltitude engine.Altitude // the final holding altitude
	HasMissed      bool

	SectorAltitude engine.Altitude // minimum sector altitude, the highest of several
	HasSector      bool

	// Effective and End bound the time it may be used in: from Effective up
	// to, not including, End, the day the next edition begins. Zero when the
	// source does not say.
	Effective, End time.Time
	Cycle          string // as 2609; may be empty
	Source         string // what it was taken from
	Unread         int    // records of it that could not be read
}

// Leg is one step of a procedure, with the altitude at its end.
type Leg struct {
	Transition string // the fix it begins at; empty on the final route
	Fix        string // empty on a leg without a fix, such as a climb to an altitude
	Altitude   engine.Altitude
	Altitude2  engine.Altitude
	Angle      engine.Degrees // down is positive
	Sequence   int
	Route      Route
	Role       Role
	Segment    procedure.Segment
	Limit      Limit  // how Altitude is to be flown; the upper one when Between
	Second     Second // what Altitude2 is
	Initial    bool   // an initial approach fix, also where Role says hold or arc
	HasAngle   bool
	Coded      byte // the route type letter of a coded file, else 0
	// From is, in a typed procedure, the initial fix on whose branch alone the
	// fix stands; empty: on every one.
	From string
	Path Path
}

// Path is the path terminator of a coded file, as TF; zero in a typed
// procedure.
type Path [2]byte

// String is the terminator, empty for none.
func (p Path) String() string {
	if p == (Path{}) {
		return ""
	}
	return string(p[:])
}

// Route says which part of a procedure a leg belongs to.
type Route uint8

// The routes.
const (
	Transition Route = iota // from an initial fix to the final route
	FinalRoute
	MissedRoute
)

var routeNames = [...]string{"transition", "final", "missed"}

// String is the route's id.
func (r Route) String() string { return routeNames[r] }

// Role says what a leg's fix is for.
type Role uint8

// The roles. NoRole is a fix on the way.
const (
	NoRole Role = iota
	InitialFix
	ProcedureTurn
	Hold // in lieu of a procedure turn
	Arc
	IntermediateFix
	FinalFix
	StepDown
	MissedPoint
	MissedLeg
	MissedHold // the final holding of the missed approach
)

var roles = [...]struct {
	id     string
	engine procedure.Role
}{
	NoRole:          {"", procedure.StepDown},
	InitialFix:      {"initial-fix", procedure.InitialFix},
	ProcedureTurn:   {"procedure-turn", procedure.ProcedureTurn},
	Hold:            {"hold", procedure.Hold},
	Arc:             {"arc", procedure.StepDown},
	IntermediateFix: {"intermediate-fix", procedure.IntermediateFix},
	FinalFix:        {"final-fix", procedure.FinalFix},
	StepDown:        {"step-down", procedure.StepDown},
	MissedPoint:     {"missed-point", procedure.NoRole},
	MissedLeg:       {"missed", procedure.NoRole},
	MissedHold:      {"missed-hold", procedure.MissedHold},
}

// String is the role's id, empty for NoRole.
func (r Role) String() string { return roles[r].id }

// Limit is how an altitude is to be flown (ARINC 424-18, 5.29).
type Limit uint8

// The limits; NoAltitude when none is published at the fix.
const (
	NoAltitude Limit = iota
	At
	AtOrAbove
	AtOrBelow
	Between
)

var limitNames = [...]string{"", "at", "at-or-above", "at-or-below", "between"}

// String is the limit's id, empty for NoAltitude.
func (l Limit) String() string { return limitNames[l] }

// Second says what a leg's second altitude is.
type Second uint8

// What a second altitude is. Only Lower is a limit; the others tell where a
// glide path or a coded path runs and are never flown in its place.
const (
	NoSecond          Second = iota
	Lower                    // the lower limit, when Limit is Between
	GlidePath                // the glide slope over the fix
	GlidePathAhead           // where the glide slope is intercepted, further in
	CodedVerticalPath        // the coded vertical path over a step-down fix
)

var secondNames = [...]string{"", "between", "glide-path", "glide-path-intercept", "vertical-path"}

// Meaning is the id of what a leg's altitudes say together: the limit, or
// what the second altitude is beside it.
func (l *Leg) Meaning() string {
	if l.Second == NoSecond {
		return l.Limit.String()
	}
	return secondNames[l.Second]
}

// Floor is the lowest altitude the leg allows, and false when it sets none.
func (l *Leg) Floor() (engine.Altitude, bool) {
	switch l.Limit {
	case At, AtOrAbove:
		return l.Altitude, true
	case Between:
		return l.Altitude2, true
	}
	return 0, false
}

// Minimum is one line of the chart's minimums.
type Minimum struct {
	Name     string         // as "LNAV/VNAV", "LOC 12", "circling"
	Role     procedure.Role // DecisionAltitude, MinimumDescent or Circling
	Altitude engine.Altitude
	// Barometric says that the line's vertical guidance follows the
	// altimeter, so that the temperature limits bind it.
	Barometric bool
}

// Standing is whether a procedure may be used at a time.
type Standing uint8

// The standings; Undated when the source gives no dates.
const (
	Undated Standing = iota
	NotYet
	Current
	Expired
)

// Clone is a copy that shares nothing that can change.
func (a *Approach) Clone() Approach {
	c := *a
	c.Legs, c.Minimums = slices.Clone(a.Legs), slices.Clone(a.Minimums)
	return c
}

// At tells the standing at a time.
func (a *Approach) At(t time.Time) Standing {
	switch {
	case !a.End.IsZero() && !t.Before(a.End):
		return Expired
	case !a.Effective.IsZero() && t.Before(a.Effective):
		return NotYet
	case a.End.IsZero():
		return Undated
	}
	return Current
}

// Gaps says, a sentence each, what a reader of the procedure must know is
// missing. Nothing here is a reason to fill it in.
func (a *Approach) Gaps() []string {
	var gaps []string
	if a.Unread > 0 {
		gaps = append(gaps, "some of its records could not be read")
	}
	final, finalFix, coded, missedPoint := false, false, false, false
	for i := range a.Legs {
		l := &a.Legs[i]
		final = final || l.Route == FinalRoute
		finalFix = finalFix || l.Role == FinalFix
		missedPoint = missedPoint || l.Role == MissedPoint
		coded = coded || l.Coded != 0
	}
	switch {
	case a.NoFinalFix:
	case !final:
		gaps = append(gaps, "its final route is not in the source")
	case !finalFix:
		gaps = append(gaps, "no final approach fix is in the source")
	}
	if final && coded && !missedPoint {
		gaps = append(gaps, "its missed approach point is not in the source, so legs behind it may look like its final segment")
	}
	if text := a.lowSector(); text != "" {
		gaps = append(gaps, text)
	}
	if !a.HasMissed {
		gaps = append(gaps, "no missed approach altitude is in the source")
	}
	if len(a.Minimums) == 0 {
		gaps = append(gaps, "it carries no minimums: take them from the chart")
	}
	return gaps
}

// lowSector says that an initial approach fix lies above the minimum sector
// altitude. It may: of 120 real procedures 33 have one (testdata/cifp, records
// of section P, subsection S), for the descent or for what lies beyond the
// sector. In one that is typed it is as often a slip.
func (a *Approach) lowSector() string {
	if !a.HasSector {
		return ""
	}
	for i := range a.Legs {
		l := &a.Legs[i]
		if floor, ok := l.Floor(); ok && l.Initial && floor > a.SectorAltitude {
			return fmt.Sprintf("its minimum sector altitude, %.0f ft, is below IAF %s at %.0f ft: compare both with the chart", float64(a.SectorAltitude), l.Fix, float64(floor))
		}
	}
	return ""
}

// Settle gives each leg the segment that its place on its route says. Where
// they are not set it takes the path angle from the last leg of the final
// route that has one, and the missed approach altitude from the last one of
// the missed approach, which is its holding.
//
// The segments are those of package procedure: the intermediate fix's own
// altitude is initial, the final approach fix's intermediate; without an
// intermediate fix the intermediate segment begins behind the initial fixes and
// turns. A
// leg of a final route without a final approach fix has no segment.
func (a *Approach) Settle() {
	finalFix, hasIF := -1, false
	for i := range a.Legs {
		switch l := &a.Legs[i]; {
		case l.Role == FinalFix && l.Route == FinalRoute:
			finalFix = i
		case l.Role == IntermediateFix:
			hasIF = true
		}
	}
	passedIF := false // on this transition
	hasAngle, hasMissed := a.HasAngle, a.HasMissed
	for i := range a.Legs {
		l := &a.Legs[i]
		switch l.Route {
		case Transition:
			if i == 0 || a.Legs[i-1].Transition != l.Transition {
				passedIF = false
			}
			l.Segment = procedure.Initial
			onTheWay := !l.Initial && (l.Role == NoRole || l.Role == StepDown || l.Role == IntermediateFix)
			if onTheWay && (passedIF || finalFix >= 0 && (!hasIF && !a.turns(i) || a.reachesFinalFix(i, finalFix))) {
				l.Segment = procedure.Intermediate
			}
			passedIF = passedIF || l.Role == IntermediateFix
		case FinalRoute:
			l.Segment = finalSegment(l, i, finalFix)
			if l.HasAngle && !hasAngle {
				// The last one, which leads to the missed approach point.
				a.VerticalAngle, a.HasAngle = l.Angle, true
			}
		case MissedRoute:
			l.Segment = procedure.Missed
			if floor, ok := l.Floor(); ok && !hasMissed && l.Transition == "" {
				a.MissedFix, a.MissedAltitude, a.HasMissed = l.Fix, floor, true
			}
		}
	}
}

// finalSegment is the segment of leg i of the final route.
func finalSegment(l *Leg, i, finalFix int) procedure.Segment {
	switch {
	case l.Role == IntermediateFix:
		return procedure.Initial
	case l.Role == MissedPoint, finalFix >= 0 && i > finalFix:
		return procedure.Final
	case l.Role == FinalFix:
		return procedure.Intermediate
	case l.Initial:
		return procedure.Initial
	case finalFix >= 0:
		return procedure.Intermediate
	}
	return procedure.NoSegment
}

// turns says whether a hold or a procedure turn, or another initial fix, comes
// after leg i on its transition: until then the way is an initial one.
func (a *Approach) turns(i int) bool {
	transition := a.Legs[i].Transition
	for _, l := range a.Legs[i+1:] {
		if l.Route != Transition || l.Transition != transition {
			return false
		}
		if l.Role == Hold || l.Role == ProcedureTurn || l.Initial {
			return true
		}
	}
	return false
}

// reachesFinalFix says whether leg i ends its transition at the final approach
// fix.
func (a *Approach) reachesFinalFix(i, finalFix int) bool {
	l := &a.Legs[i]
	if l.Fix != a.Legs[finalFix].Fix || i+1 == len(a.Legs) {
		return false
	}
	next := &a.Legs[i+1]
	return next.Route != Transition || next.Transition != l.Transition
}

// WholeByLimit says that a temperature limit closes the whole procedure and
// not one line of it: so on RNAV (RNP) charts, all of whose lines are
// barometric (FAA AIM 7-3-3 a, 5-1-17 b).
func (a *Approach) WholeByLimit() bool {
	for i := range a.Minimums {
		if !a.Minimums[i].Barometric {
			return false
		}
	}
	return len(a.Minimums) > 0 || a.Kind == RNP
}

// Barometric says that the vertical path follows the altimeter, so that cold
// air makes it shallower: an ILS's does not.
func (a *Approach) Barometric() bool {
	switch a.Kind {
	case RNAV, RNP, GPS, FMS:
		return true
	}
	for i := range a.Minimums {
		if a.Minimums[i].Barometric {
			return true
		}
	}
	return false
}

// Lines are the lines of the minimums that a word chooses, as lnav, lpv or
// circling; nil where there is none.
func (a *Approach) Lines(word string) (names []string) {
	for i := range a.Minimums {
		if m := &a.Minimums[i]; LineIs(m.Name, m.Role, word) {
			names = append(names, m.Name)
		}
	}
	return names
}

// LineIs says whether a line of minimums is the one that a word chooses.
func LineIs(name string, role procedure.Role, word string) bool {
	if word == "circling" {
		return role == procedure.Circling
	}
	first, rest, _ := strings.Cut(strings.TrimPrefix(strings.ToUpper(name), "S-"), " ")
	if accuracy, ok := strings.CutPrefix(word, "rnp "); ok && first == "RNP" { // RNP 0.30 is RNP 0.3
		a, err := strconv.ParseFloat(accuracy, 64)
		b, err2 := strconv.ParseFloat(rest, 64)
		return err == nil && err2 == nil && a == b
	}
	return role != procedure.Circling && strings.EqualFold(first, word)
}
