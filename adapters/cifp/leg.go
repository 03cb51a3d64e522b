package cifp

import (
	"encoding/binary"

	"firn/bot/approach"
)

// leg is what one primary approach record says. It holds no pointer, so that
// the legs of an approach can be gathered at no cost to the collector.
type leg struct {
	fix                   uint64 // columns 30-34, the first one in the lowest byte
	where                 uint64 // columns 20-25 so, route type and transition
	altitude, altitude2   int32
	sequence              int16
	hundredths            int16 // of a degree, down is positive
	fixLen, transitionLen uint8
	coded                 byte
	path                  approach.Path
	route                 approach.Route
	role                  approach.Role
	limit                 approach.Limit
	second                approach.Second
	initial, hasAngle     bool
}

// final says whether the leg is on the final route, which holds the missed
// approach too.
func (l *leg) final() bool { return l.coded != 'A' && l.coded != 'Z' }

// sameRoute says whether two legs of an approach are on one route.
func (l *leg) sameRoute(o *leg) bool { return l.where == o.where }

// Path terminators (columns 48-49). The legs of the first ones end at a fix
// that the record names.
const (
	paths        = "IFTFCFDFRFAFHMHFHAPIFAFCFDFMCACDCICRVAVDVIVMVR"
	pathsWithFix = 10
)

// decodeLeg reads the primary record of an approach leg (section P, subsection
// F, continuation 0 or 1). last is the leg before, nil for none.
func decodeLeg(s []byte, l, last *leg) *fault {
	_ = s[recordLength-1]
	*l = leg{}
	l.coded = s[19] // column 20, route type
	l.where = binary.LittleEndian.Uint64(s[18:26]) >> 8 & (1<<48 - 1)
	if last != nil && last.where == l.where {
		l.transitionLen = last.transitionLen
	} else if f := decodeTransition(s, l); f != nil {
		return f
	}
	a, b, c := s[26]-'0', s[27]-'0', s[28]-'0' // columns 27-29, sequence number
	if a > 9 || b > 9 || c > 9 {
		return &fault{27, 29, "the sequence is not three figures"}
	}
	l.sequence = int16(a)*100 + int16(b)*10 + int16(c)

	fix, ok := word(s[29:34]) // columns 30-34, fix identifier
	if !ok {
		return &fault{30, 34, "the fix is not one word"}
	}
	l.fixLen, l.fix = uint8(len(fix)), binary.LittleEndian.Uint64(s[29:37])&(1<<40-1)
	p, q := s[47]-'A', s[48]-'A'
	if p > 25 || q > 25 || pathEnds[p][q] == 0 {
		return &fault{48, 49, "the path terminator is not known"}
	}
	l.path = approach.Path{s[47], s[48]}
	if len(fix) == 0 && pathEnds[p][q] == 2 {
		return &fault{30, 34, "a leg that ends at a fix has none"}
	}
	if f := decodeAltitudes(s, l); f != nil {
		return f
	}
	return decodeAngle(s, l)
}

// decodeTransition reads columns 21-25, transition identifier.
func decodeTransition(s []byte, l *leg) *fault {
	if l.coded < 'A' || l.coded > 'Z' {
		return &fault{20, 20, "the route type is no letter"}
	}
	transition, ok := word(s[20:25])
	if !ok {
		return &fault{21, 25, "the transition is not one word"}
	}
	switch {
	case l.final() && len(transition) > 0:
		return &fault{21, 25, "a final route has a transition"}
	case !l.final() && len(transition) == 0:
		return &fault{21, 25, "a transition has no name"}
	}
	l.transitionLen = uint8(len(transition))
	return nil
}

// pathEnds is 1 for a known path terminator, 2 for one whose leg ends at a fix
// that the record names.
var pathEnds = func() (ends [26][26]uint8) {
	for i := 0; i < len(paths); i += 2 {
		end := uint8(1)
		if i < 2*pathsWithFix {
			end = 2
		}
		ends[paths[i]-'A'][paths[i+1]-'A'] = end
	}
	return ends
}()

// decodeAltitudes reads the altitude description (column 83) and the two
// altitudes (columns 85-89 and 90-94). A description that is defined but
// was never seen in a real record (C, D, X, Y) is a fault like an unknown one.
func decodeAltitudes(s []byte, l *leg) *fault {
	first, hasFirst, ok := altitude(s[84:89])
	if !ok {
		return &fault{85, 89, "the altitude is not five figures of feet"}
	}
	second, hasSecond, ok := altitude(s[89:94])
	if !ok {
		return &fault{90, 94, "the second altitude is not five figures of feet"}
	}
	switch s[82] {
	case ' ', '@':
		if hasFirst {
			l.limit = approach.At
		}
	case '+':
		l.limit = approach.AtOrAbove
	case '-':
		l.limit = approach.AtOrBelow
	case 'B':
		l.limit, l.second = approach.Between, approach.Lower
		if hasFirst && hasSecond && first < second {
			return &fault{85, 94, "between two altitudes, the lower comes first"}
		}
	case 'G':
		l.limit, l.second = approach.At, approach.GlidePath
	case 'H':
		l.limit, l.second = approach.AtOrAbove, approach.GlidePath
	case 'I':
		l.limit, l.second = approach.At, approach.GlidePathAhead
	case 'J':
		l.limit, l.second = approach.AtOrAbove, approach.GlidePathAhead
	case 'V':
		l.limit, l.second = approach.AtOrAbove, approach.CodedVerticalPath
	default:
		return &fault{83, 83, "the altitude description has no known meaning"}
	}
	switch {
	case hasFirst != (l.limit != approach.NoAltitude):
		return &fault{83, 89, "an altitude description without its altitude"}
	case hasSecond && l.second == approach.NoSecond:
		return &fault{83, 94, "a second altitude that the description does not explain"}
	case !hasSecond && l.second != approach.NoSecond:
		return &fault{83, 94, "an altitude description without its second altitude"}
	}
	l.altitude, l.altitude2 = first, second
	return nil
}

// altitude reads five columns: blank, figures, or a minus and four figures
// below sea level. A flight level is no altitude in feet: it is a fault.
func altitude(s []byte) (ft int32, given, ok bool) {
	_ = s[4]
	var n int32
	below := false
	switch {
	case s[0] == ' ':
		return 0, false, s[1] == ' ' && s[2] == ' ' && s[3] == ' ' && s[4] == ' '
	case s[0] == '-':
		below = true
	case s[0] >= '0' && s[0] <= '9':
		n = int32(s[0] - '0')
	default:
		return 0, false, false
	}
	for _, c := range s[1:5] {
		if c < '0' || c > '9' {
			return 0, false, false
		}
		n = n*10 + int32(c-'0')
	}
	if below {
		n = -n
	}
	return n, true, true
}

// decodeAngle reads the vertical angle (columns 103-106), hundredths of
// a degree with a minus for down. 000 says that none is published.
func decodeAngle(s []byte, l *leg) *fault {
	a := s[102:106]
	if a[0] == ' ' && a[1] == ' ' && a[2] == ' ' && a[3] == ' ' {
		return nil
	}
	var n int16
	for _, c := range a[1:] {
		if c < '0' || c > '9' {
			return &fault{103, 106, "the vertical angle is not three figures"}
		}
		n = n*10 + int16(c-'0')
	}
	switch {
	case n == 0 && (a[0] == ' ' || a[0] == '0' || a[0] == '-'):
		return nil
	case a[0] != '-':
		return &fault{103, 106, "the vertical angle does not lead down"}
	}
	l.hundredths, l.hasAngle = n, true
	return nil
}

// place gives the leg its route and role. Sources: waypoint description
// (columns 40-43) and path terminator. missed says that the missed
// approach has begun on this route, inside that the final approach fix is
// passed.
func (l *leg) place(s []byte, inside, missed bool) {
	fixKind, stepKind := s[42], s[41]
	switch {
	case missed || l.coded == 'Z':
		l.route, l.role = approach.MissedRoute, approach.MissedLeg
		if l.path == (approach.Path{'H', 'M'}) || l.path == (approach.Path{'H', 'A'}) {
			l.role = approach.MissedHold
		}
		return
	case l.final():
		l.route = approach.FinalRoute
	}
	l.initial = fixKind == 'A' || fixKind == 'C' || fixKind == 'D'
	switch {
	case l.path == (approach.Path{'H', 'F'}):
		l.role = approach.Hold
	case l.path == (approach.Path{'P', 'I'}):
		l.role = approach.ProcedureTurn
	case fixKind == 'B', fixKind == 'I', fixKind == 'D' && l.final():
		l.role = approach.IntermediateFix
	case l.initial:
		l.role = approach.InitialFix
	case fixKind == 'F':
		l.role = approach.FinalFix
	case fixKind == 'M':
		l.role = approach.MissedPoint
	case stepKind == 'S', stepKind == 'A', stepKind == 'B':
		l.role = approach.StepDown
	case l.path == (approach.Path{'A', 'F'}):
		l.role = approach.Arc
	case l.final() && !inside && l.limit != approach.NoAltitude:
		// Outside the final approach fix step-downs carry no letter.
		l.role = approach.StepDown
	}
}
