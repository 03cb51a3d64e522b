package airports

import (
	"fmt"
	"math"
	"strings"
	"time"

	"firn/engine"
)

// Known is true, false or not known; the zero value is not known.
type Known uint8

// The three.
const (
	NotKnown Known = iota
	No
	Yes
)

// KnownOf is one that is known.
func KnownOf(b bool) Known {
	if b {
		return Yes
	}
	return No
}

// Segments are the designated segments of a restricted field, a bit each; zero
// where the list does not say which.
type Segments uint8

// The segments, outermost first.
const (
	Initial Segments = 1 << iota
	Intermediate
	Final
	Missed
	AllSegments = Initial | Intermediate | Final | Missed
)

// SegmentNames are their names, in order.
var SegmentNames = [...]string{"initial", "intermediate", "final", "missed"}

// Names are the names of those that are in it.
func (s Segments) Names() (names []string) {
	for i, n := range SegmentNames {
		if s&(1<<i) != 0 {
			names = append(names, n)
		}
	}
	return names
}

// SegmentOf is the segment of a name.
func SegmentOf(name string) (Segments, bool) {
	for i, n := range SegmentNames {
		if n == name {
			return 1 << i, true
		}
	}
	return 0, false
}

// Edition is the list that a figure is from.
type Edition struct {
	Source string    // for people: CIFP 2609, or a file's name
	Date   time.Time // the day it is of, UTC; zero where it does not say
	Until  time.Time // the first day it does not hold any more; zero where it does not say
	// Authority says that it is the authority's own coded file, which comes
	// before lists that others keep.
	Authority bool
}

// listHolds is how long a list of restricted fields holds that does not say
// until when: it is issued anew every year (common practice, no source).
const listHolds = 1

// Ends is the first day that a list of restricted fields does not hold any
// more; zero where neither its end nor its date is known.
func (e Edition) Ends() time.Time {
	if !e.Until.IsZero() || e.Date.IsZero() {
		return e.Until
	}
	return e.Date.AddDate(listHolds, 0, 0)
}

// String is the source and its date.
func (e Edition) String() string {
	if e.Date.IsZero() {
		return e.Source + ", undated"
	}
	return e.Source + " of " + e.Date.Format("2 Jan 2006")
}

// Airport is one field. Latitude and longitude are degrees, north and east
// positive.
type Airport struct {
	Ident        string // 3 or 4 capitals and figures
	Name         string // may be empty
	Lat, Lon     float64
	HasPlace     bool
	Elevation    engine.Altitude // whole feet
	HasElevation bool
	Zone         string // as America/Denver; may be empty
	Mountainous  Known
	From         Edition // of the elevation, where there is one

	Restriction  engine.Celsius // the published restriction temperature, tenths
	Restricted   bool
	Segments     Segments
	RestrictedBy Edition
}

// The bounds of what a field can have, with a margin: the lowest and the highest in
// use lie near -1 240 and 14 500 ft, published restriction temperatures between about
// -45 and 0 °C (the FAA's list; both from memory).
const (
	LowestField  engine.Altitude = -1500
	HighestField engine.Altitude = 15000
	Coldest      engine.Celsius  = -60
	Warmest      engine.Celsius  = 10
)

// Check says what cannot be right about a field.
func (a *Airport) Check() error {
	switch {
	case !IsIdent(a.Ident):
		return fmt.Errorf("ident %.12q is not 3 or 4 letters and digits with a letter among them, such as XKLD", a.Ident)
	case a.HasPlace && !(math.Abs(a.Lat) <= 90 && math.Abs(a.Lon) <= 180):
		return fmt.Errorf("%s: %v, %v is no place on earth", a.Ident, a.Lat, a.Lon)
	case a.HasElevation && !(a.Elevation >= LowestField && a.Elevation <= HighestField):
		return fmt.Errorf("%s: an elevation of %v ft is no airfield's", a.Ident, float64(a.Elevation))
	case a.Restricted && !(a.Restriction >= Coldest && a.Restriction <= Warmest):
		return fmt.Errorf("%s: a restriction temperature of %v °C cannot be meant; was its sign forgotten?", a.Ident, float64(a.Restriction))
	}
	return nil
}

// IsIdent says that a word is 3 or 4 capitals and figures, and not figures
// alone.
func IsIdent(s string) bool {
	if len(s) != 3 && len(s) != 4 {
		return false
	}
	letter := false
	for i := range len(s) {
		switch c := s[i]; {
		case c >= 'A' && c <= 'Z':
			letter = true
		case c < '0' || c > '9':
			return false
		}
	}
	return letter
}

// Miles is how far two places are apart, in nautical miles, on a sphere of one
// mile a minute of arc (60 NM a degree). The haversine formula is common
// knowledge; the earth's flattening moves it by less than half a percent.
func Miles(lat1, lon1, lat2, lon2 float64) float64 {
	const degree = math.Pi / 180
	a, b := math.Sin((lat2-lat1)*degree/2), math.Sin((lon2-lon1)*degree/2)
	h := a*a + math.Cos(lat1*degree)*math.Cos(lat2*degree)*b*b
	return 2 * math.Asin(math.Sqrt(min(h, 1))) / degree * 60
}

// readable prefers a name that is not all capitals.
func readable(a, b string) string {
	if a == "" || b != "" && a == strings.ToUpper(a) && b != strings.ToUpper(b) {
		return b
	}
	return a
}
