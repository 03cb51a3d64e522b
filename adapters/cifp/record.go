package cifp

import (
	"bytes"

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
