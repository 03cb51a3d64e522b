package coldwatch

import (
	"time"

	"firn/engine"
)

// State is what a forecast says of a restriction temperature.
type State uint8

// The states, in the order of concern. No forecast is not "warm": it is the
// state that says so, and it stands between clear and near in nothing but
// this list.
const (
	Clear State = iota
	Near
	Below
	NoForecast
)

var stateNames = [...]string{"clear", "near", "below", "no-forecast"}

// String is the state's id in contracts and the store.
func (s State) String() string { return stateNames[s] }

// ParseState reads a state's id.
func ParseState(id string) (State, bool) {
	for i, n := range stateNames {
		if n == id {
			return State(i), true
		}
	}
	return NoForecast, false
}

// Sample is one forecast temperature.
type Sample struct {
	At time.Time
	C  engine.Celsius
}

// Forecast is what one source says of the temperature at one station. Either
// Hourly is given, a curve with steps of at most Step, or only the extremes
// of a TAF: then the hours between are not known and no curve is invented.
type Forecast struct {
	Source    string // for people: "TAF", "hourly forecast", ...
	Issued    time.Time
	ValidFrom time.Time
	ValidTo   time.Time
	Hourly    []Sample // in order of time
	Minimums  []Sample
	Maximums  []Sample
}

// Window is the duty time that is judged, To excluded.
type Window struct{ From, To time.Time }

// Line is the restriction temperature and how close to it is near.
type Line struct {
	Restriction engine.Celsius
	Margin      engine.CelsiusDelta
}

// Judgement is a forecast held against the line for a window.
type Judgement struct {
	State State
	Low   engine.Celsius // the lowest in the window; not set for NoForecast
	LowAt time.Time
	// BelowFrom and BelowTo bound the time at or below the restriction
	// temperature inside the window; zero when there is none, or when the
	// hours are not known.
	BelowFrom, BelowTo time.Time
	HoursKnown         bool // whether the forecast has a curve
	Covered            bool // the forecast covers the whole window
	Restriction        engine.Celsius
	Source             string
	Issued             time.Time
	// Note is what people must know besides: sources that disagree, a window
	// only partly covered. Empty when there is nothing.
	Note string
}
