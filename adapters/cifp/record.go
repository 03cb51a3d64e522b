package cifp

import (
	"bytes"
	"encoding/binary"

	"firn/bot/approach"
	"firn/engine"
)

// recordLength is that of every record (ARINC 424, chapter 4).
const recordLength = 132

// fault is why a record cannot be read, and the columns of it that say so;
// without columns it is about the whole record.
type fault struct {
	from, to int
	text     string
}

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

// word takes the spaces off behind a word; a space or a control character in
// it, or before it, is no word.
func word(s []byte) ([]byte, bool) {
	n := len(s)
	for n > 0 && s[n-1] == ' ' {
		n--
	}
	for _, c := range s[:n] {
		if c <= ' ' || c > '~' {
			return nil, false
		}
	}
	return s[:n], true
}

// Airport is an airport reference record (section P, subsection A).
// Latitude and longitude are degrees, north and east positive.
type Airport struct {
	Ident, Name         string
	Elevation           engine.Altitude
	HasElevation        bool
	Latitude, Longitude float64
	HasPlace            bool
}

func decodeAirport(s []byte, into *Airport) *fault {
	ident, ok := word(s[6:10]) // columns 7-10
	if !ok || len(ident) < 3 {
		return &fault{7, 10, "the airport is not one word"}
	}
	ft, given, ok := altitude(s[56:61]) // columns 57-61, airport elevation
	if !ok {
		return &fault{57, 61, "the elevation is not five figures of feet"}
	}
	if f := place(s); f != nil {
		return f
	}
	if into != nil {
		*into = Airport{Ident: string(ident), Name: latin1(bytes.TrimSpace(s[93:123])), Elevation: engine.Altitude(ft), HasElevation: given}
		if s[32] != ' ' {
			into.HasPlace = true
			into.Latitude = degrees(s[33:41], 2, s[32] == 'S')
			into.Longitude = degrees(s[42:51], 3, s[41] == 'W')
		}
	}
	return nil
}

// Runway is a runway record (section P, subsection G).
type Runway struct {
	Airport, Ident string          // Ident as 33 or 31L
	Threshold      engine.Altitude // elevation of the landing threshold
	HasThreshold   bool
	Crossing       engine.Feet // height of the glide path over the threshold
}

func decodeRunway(s []byte, into *Runway) *fault {
	name, ok := word(s[13:18]) // columns 14-18
	if !ok || len(name) < 3 || name[0] != 'R' || name[1] != 'W' {
		return &fault{14, 18, "the runway is not RW and its number"}
	}
	ft, given, ok := altitude(s[66:71]) // columns 67-71, landing threshold elevation
	if !ok {
		return &fault{67, 71, "the threshold elevation is not five figures of feet"}
	}
	crossing := 0 // columns 76-77, threshold crossing height
	for _, c := range s[75:77] {
		if c == ' ' {
			c = '0'
		}
		if c < '0' || c > '9' {
			return &fault{76, 77, "the threshold crossing height is not two figures"}
		}
		crossing = crossing*10 + int(c-'0')
	}
	if into != nil {
		airport, _ := word(s[6:10])
		*into = Runway{Airport: string(airport), Ident: string(name[2:]), Threshold: engine.Altitude(ft), HasThreshold: given, Crossing: engine.Feet(crossing)}
	}
	return place(s)
}

// Fix is a terminal waypoint (section P, subsection C), in degrees, north and
// east positive.
type Fix struct {
	Airport, Ident      string
	Latitude, Longitude float64
	HasPlace            bool
}

func decodeFix(s []byte, into *Fix) *fault {
	ident, ok := word(s[13:18]) // columns 14-18
	if !ok || len(ident) == 0 {
		return &fault{14, 18, "the fix is not one word"}
	}
	if f := place(s); f != nil {
		return f
	}
	if into != nil {
		airport, _ := word(s[6:10])
		*into = Fix{Airport: string(airport), Ident: string(ident)}
		if s[32] != ' ' {
			into.HasPlace = true
			into.Latitude = degrees(s[33:41], 2, s[32] == 'S')
			into.Longitude = degrees(s[42:51], 3, s[41] == 'W')
		}
	}
	return nil
}

// place checks latitude (columns 33-41) and longitude (42-51):
// both given or both blank.
func place(s []byte) *fault {
	if s[32] == ' ' && s[41] == ' ' {
		return nil
	}
	if s[32] != 'N' && s[32] != 'S' || !figures(s[33:41]) {
		return &fault{33, 41, "the latitude is not N or S and eight figures"}
	}
	if s[41] != 'E' && s[41] != 'W' || !figures(s[42:51]) {
		return &fault{42, 51, "the longitude is not E or W and nine figures"}
	}
	return nil
}

func figures(s []byte) bool {
	for _, c := range s {
		if c < '0' || c > '9' {
			return false
		}
	}
	return true
}

func number(s []byte) int {
	n := 0
	for _, c := range s {
		n = n*10 + int(c-'0')
	}
	return n
}

// degrees reads ddmmssss or dddmmssss, hundredths of a second at the end.
func degrees(s []byte, whole int, negative bool) float64 {
	d := float64(number(s[:whole])) + float64(number(s[whole:whole+2]))/60 + float64(number(s[whole+2:]))/360000
	if negative {
		return -d
	}
	return d
}

// Sector is one sector of a minimum sector altitude (section P, subsection S).
// The bearings are towards the centre, magnetic.
type Sector struct {
	Airport, Center string
	Multiple        string // tells several round one centre apart; often empty
	From, To        int    // degrees, clockwise; equal when it is a whole circle
	Altitude        engine.Altitude
	Radius          int // nautical miles
}

// decodeSectors hands over the sectors of one record: from column 43, eleven
// columns each, at most seven: bearing from, bearing to, altitude in
// hundreds of feet, radius.
func decodeSectors(s []byte, each func(Sector)) *fault {
	center, ok := word(s[13:18]) // columns 14-18
	if !ok || len(center) == 0 {
		return &fault{14, 18, "the centre is not one word"}
	}
	const first, length, most = 42, 11, 7
	var found [most]Sector
	n := 0
	for at := first; n < most && s[at] != ' '; at += length {
		one := s[at : at+length]
		if !figures(one) || number(one[:3]) > 360 || number(one[3:6]) > 360 {
			return &fault{at + 1, at + length, "a sector is not two bearings, an altitude and a radius"}
		}
		found[n] = Sector{From: number(one[:3]), To: number(one[3:6]), Altitude: engine.Altitude(number(one[6:9]) * 100), Radius: number(one[9:])}
		n++
	}
	if n == 0 {
		return &fault{43, 53, "a minimum sector altitude has no sector"}
	}
	if each == nil {
		return nil
	}
	airport, _ := word(s[6:10])
	for _, sector := range found[:n] {
		sector.Airport, sector.Center, sector.Multiple = string(airport), string(center), string(bytes.TrimSpace(s[22:23]))
		each(sector)
	}
	return nil
}

// latin1 makes text of the file's bytes.
func latin1(s []byte) string {
	runes := make([]rune, len(s))
	for i, c := range s {
		runes[i] = rune(c)
	}
	return string(runes)
}
