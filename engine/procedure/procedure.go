package procedure

import (
	"fmt"
	"strings"

	"firn/engine"
)

// Segment is a part of an approach. The division is that of the FAA AIM
// 7-3-5 f (10/5/23): the final segment lies inside the final approach fix;
// the intermediate one runs from that fix up to, not including, the
// intermediate fix; the initial one from the intermediate fix to the initial
// approach fixes; of the missed approach only the final holding altitude
// counts.
type Segment uint8

// The segments. NoSegment is an altitude without a label; Sector is a
// minimum sector altitude, which no segment holds. A terminal arrival area's
// altitude is initial: the AIM is silent, and it leads to an initial fix.
const (
	NoSegment Segment = iota
	Initial
	Intermediate
	Final
	Missed
	Sector
)

var segmentNames = [...]string{"", "initial", "intermediate", "final", "missed", "sector"}

// String is the segment's id, empty for NoSegment.
func (s Segment) String() string { return segmentNames[s] }

// ParseSegment reads a segment's id.
func ParseSegment(id string) (Segment, bool) {
	for i, n := range segmentNames {
		if i > 0 && n == id {
			return Segment(i), true
		}
	}
	return NoSegment, false
}

// Role says what an altitude is for.
type Role uint8

// The roles, in the order an approach flies them.
const (
	NoRole Role = iota
	SectorAltitude
	ArrivalArea
	InitialFix
	ProcedureTurn
	Hold // holding in lieu of a procedure turn
	IntermediateFix
	FinalFix
	StepDown
	DecisionAltitude
	MinimumDescent
	Circling
	MissedHold     // the final holding altitude of the missed approach
	MissedAltitude // another altitude of the missed approach, before its holding
)

var roles = [...]struct {
	id, label, phrase string
}{
	NoRole:           {"unlabelled", "", "altitude"},
	SectorAltitude:   {"sector-altitude", "MSA", "minimum sector altitude"},
	ArrivalArea:      {"arrival-area", "TAA", "terminal arrival area"},
	InitialFix:       {"initial-fix", "IAF", "initial approach fix"},
	ProcedureTurn:    {"procedure-turn", "PT", "procedure turn"},
	Hold:             {"hold", "hold", "hold in lieu of a procedure turn"},
	IntermediateFix:  {"intermediate-fix", "IF", "intermediate fix"},
	FinalFix:         {"final-fix", "FAF", "final approach fix"},
	StepDown:         {"step-down", "step", "step-down fix"},
	DecisionAltitude: {"decision-altitude", "DA", "decision altitude"},
	MinimumDescent:   {"minimum-descent", "MDA", "minimum descent altitude"},
	Circling:         {"circling", "circling", "circling minimum"},
	MissedHold:       {"missed-hold", "missed", "missed approach holding altitude"},
	MissedAltitude:   {"missed-altitude", "missed", "missed approach altitude"},
}

// RoleCount is the number of roles, for tables by role.
const RoleCount = len(roles)

// String is the role's id in rule sets and stored procedures.
func (r Role) String() string { return roles[r].id }

// Label is how crews write the role: IAF, FAF, DA. Empty for NoRole.
func (r Role) Label() string { return roles[r].label }

// Phrase is the role in words, as it is said.
func (r Role) Phrase() string { return roles[r].phrase }

// ParseRole reads a role's id.
func ParseRole(id string) (Role, bool) {
	for i := range roles {
		if roles[i].id == id {
			return Role(i), true
		}
	}
	return NoRole, false
}

// Minimum says whether the role is a minimum of the final segment.
func (r Role) Minimum() bool {
	return r == DecisionAltitude || r == MinimumDescent || r == Circling
}

// Meaning is how a published altitude is to be flown (ARINC 424-18, 5.29;
// common chart practice).
type Meaning uint8

// The meanings.
const (
	At Meaning = iota
	AtOrAbove
	AtOrBelow
	Between
)

var meaningNames = [...]string{"at", "at-or-above", "at-or-below", "between"}

// String is the meaning's id.
func (m Meaning) String() string { return meaningNames[m] }

// Point is one published altitude of an approach.
type Point struct {
	Label   string // as the crew or the chart names it; Role.Label when empty
	Fix     string // the fix's name, empty when not known
	Role    Role
	Segment Segment // set by AssignSegments where the source does not give it
	Meaning Meaning

	NoAltitude bool // none is published at the fix: Altitude is nothing
	Barometric bool // of a minimum: its vertical guidance follows the altimeter

	Altitude engine.Altitude // the lower one when Meaning is Between
	Upper    engine.Altitude // only when Meaning is Between
	// From are the ways in that lead over it, each by the fix it begins at,
	// upper case, a slash between several. Empty: all of them, as far as known.
	From     string
	Additive engine.Feet // of a minimum with a remote altimeter source: added before the cold correction
}

// Opens says whether an approach is begun there: at an initial fix, in a
// procedure turn or a hold in lieu of one.
func (r Role) Opens() bool { return r == InitialFix || r == ProcedureTurn || r == Hold }

// Name is the label, or what the role is called on charts.
func (p Point) Name() string {
	if p.Label != "" {
		return p.Label
	}
	return p.Role.Label()
}

// FullName is the name with the fix: FAF XIRTU.
func (p *Point) FullName() string { return strings.TrimSpace(p.Name() + " " + p.Fix) }

// Misfit is an altitude whose label cannot be true beside the others.
type Misfit struct {
	Index int    // which point
	Text  string // one clear sentence
}

func (m *Misfit) Error() string { return m.Text }

// AssignSegments gives every point without one its segment, from its role
// and, for step-down fixes, from its altitude beside the final approach and
// intermediate fixes. A step-down fix that cannot be placed (no final
// approach fix is given) keeps NoSegment: rule sets then correct it from its
// own height, which asks for at least as much as either side of the fix
// would.
//
// It returns a *Misfit for the first altitude whose label fits no segment:
// a minimum at or above the final approach fix, an initial or intermediate
// altitude below it, two different final approach fixes, a step-down fix
// below every minimum or above every initial altitude, a missed approach
// altitude below the minimums.
func AssignSegments(points []Point) error {
	b := boundsOf(points)
	if b.secondFinalFix >= 0 {
		p := points[b.secondFinalFix]
		return &Misfit{b.secondFinalFix, fmt.Sprintf("%s %.0f: an approach has one final approach fix, and %.0f is given already", p.Name(), p.Altitude, b.finalFix)}
	}
	for i := range points {
		p := &points[i]
		if text := b.misfit(p); text != "" {
			return &Misfit{i, text}
		}
		if p.Segment == NoSegment {
			p.Segment = b.segment(p)
		}
	}
	return nil
}

// bounds are the altitudes that place the others; zero when not given.
type bounds struct {
	finalFix, intermediateFix engine.Altitude
	highestInitial, lowestMin engine.Altitude
	hasFinal, hasIF, hasInit  bool
	hasMin                    bool
	secondFinalFix            int
}

func boundsOf(points []Point) bounds {
	b := bounds{secondFinalFix: -1}
	for i, p := range points {
		switch {
		case p.NoAltitude:
		case p.Role == FinalFix:
			if b.hasFinal && p.Altitude != b.finalFix && b.secondFinalFix < 0 {
				b.secondFinalFix = i
			}
			if !b.hasFinal {
				b.finalFix, b.hasFinal = p.Altitude, true
			}
		case p.Role == IntermediateFix:
			if !b.hasIF || p.Altitude > b.intermediateFix {
				b.intermediateFix, b.hasIF = p.Altitude, true
			}
		case p.Role.Opens():
			if top := max(p.Altitude, p.Upper); !b.hasInit || top > b.highestInitial {
				b.highestInitial, b.hasInit = top, true
			}
		case p.Role.Minimum():
			if !b.hasMin || p.Altitude < b.lowestMin {
				b.lowestMin, b.hasMin = p.Altitude, true
			}
		}
	}
	return b
}

func (b bounds) misfit(p *Point) string {
	switch {
	case p.NoAltitude:
	case p.Role.Minimum():
		if b.hasFinal && p.Altitude >= b.finalFix {
			return fmt.Sprintf("%s %.0f is not below the final approach fix at %.0f", p.Name(), p.Altitude, b.finalFix)
		}
	case p.Role.Opens(), p.Role == IntermediateFix:
		if b.hasFinal && p.Altitude < b.finalFix {
			return fmt.Sprintf("%s %.0f is below the final approach fix at %.0f", p.Name(), p.Altitude, b.finalFix)
		}
		if !b.hasFinal && b.hasMin && p.Altitude <= b.lowestMin {
			return fmt.Sprintf("%s %.0f is not above the minimums at %.0f", p.Name(), p.Altitude, b.lowestMin)
		}
	case p.Role == StepDown:
		if b.hasMin && p.Altitude < b.lowestMin {
			return fmt.Sprintf("%s %.0f is below the minimums at %.0f", p.Name(), p.Altitude, b.lowestMin)
		}
		if b.hasInit && p.Altitude > b.highestInitial {
			return fmt.Sprintf("%s %.0f is above every initial altitude (highest %.0f)", p.Name(), p.Altitude, b.highestInitial)
		}
	case p.Role == MissedHold, p.Role == MissedAltitude:
		if b.hasMin && p.Altitude < b.lowestMin {
			return fmt.Sprintf("%s %.0f is below the minimums at %.0f", p.Name(), p.Altitude, b.lowestMin)
		}
	}
	return ""
}

func (b bounds) segment(p *Point) Segment {
	switch p.Role {
	case SectorAltitude:
		return Sector
	case ArrivalArea, InitialFix, ProcedureTurn, Hold, IntermediateFix:
		return Initial
	case FinalFix:
		return Intermediate
	case DecisionAltitude, MinimumDescent, Circling:
		return Final
	case MissedHold, MissedAltitude:
		return Missed
	case StepDown:
		switch {
		case !b.hasFinal:
			return NoSegment
		case p.Altitude < b.finalFix:
			return Final
		case b.hasIF && p.Altitude >= b.intermediateFix:
			return Initial
		default:
			return Intermediate
		}
	}
	return NoSegment
}
