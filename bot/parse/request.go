package parse

import (
	"time"

	"firn/engine"
	"firn/engine/procedure"
	"firn/engine/wxreport"
)

// Example is the line that is shown when there is nothing better to show.
const Example = "XKLD -38 8200 7400 5340"

// Altitude is one altitude as it was typed.
type Altitude struct {
	Value  float64 // in the unit it was typed in
	Metric bool    // metres; else feet
	Bare   bool    // typed without a unit
	Height bool    // above the field; else above mean sea level
	// Instead says that it stands in place of the chart's: "missed is 9800".
	Instead bool
	Role    procedure.Role
	// Meaning is how it is to be flown; Between has its upper bound in Upper, in
	// the unit of Value.
	Meaning procedure.Meaning
	Upper   float64

	Label string // where it says more than the role's own
	Fix   string // upper case
	From  string // of a step: the initial fix whose branch it stands on, upper case
}

// MissedHoldLabel is the label of an altitude that is said to be the hold of
// the missed approach ("missed hold", "climb in hold"): no other altitude of
// the missed approach is. LieuLabel is that of a hold in lieu of a procedure
// turn ("hilpt", "hold in lieu"). A hold with neither is the bot's to place.
// ArcLabel is that of an arc round a beacon, which is of the initial segment.
const (
	MissedHoldLabel = "missed hold"
	LieuLabel       = "hold in lieu"
	ArcLabel        = "arc"
)

// WayKind is how the crew comes in.
type WayKind uint8

// The ways; Unsaid is the zero value.
const (
	Unsaid        WayKind = iota
	Vectors               // "vectors": to the intermediate fix; "vectors to FIX" names it
	VectorsInside         // "vectors inside FIX"
	Via                   // "via FIX"
	InHold                // "hold": in lieu of a procedure turn
	InTurn                // "procedure turn", "pt"
	Traffic               // "traffic": no controller
)

// Way is how the crew comes in, with the fix that it names.
type Way struct {
	Kind WayKind
	Fix  string // upper case
	// In is InHold or InTurn of Traffic that comes in so; else Unsaid.
	In WayKind
}

// Feet converts exactly.
func (a Altitude) Feet() engine.Feet {
	if a.Metric {
		return engine.Metres(a.Value).Feet()
	}
	return engine.Feet(a.Value)
}

// Name is the label or the fix, or the figure when there is neither.
func (a Altitude) Name() string {
	switch {
	case a.Label != "":
		return a.Label
	case a.Role != procedure.NoRole:
		return a.Role.Label()
	case a.Fix != "":
		return a.Fix
	}
	return a.figure()
}

func (a Altitude) figure() string { return string(a.appendFigure(nil)) }

func (a Altitude) appendFigure(b []byte) []byte {
	b = appendFigure(b, a.Value)
	sight := a.Role == procedure.NoRole && a.Value == 9999 && a.Meaning != procedure.Between // as a report says it
	switch {
	case a.Metric && sight:
		b = append(b, ".0m"...)
	case a.Metric:
		b = append(b, 'm')
	case !a.Bare || sight:
		b = append(b, " ft"...)
	}
	if a.Height {
		b = append(b, " agl"...)
	}
	return b
}

// Request is what was understood of a message.
type Request struct {
	Verb         Verb
	Station      string // ident as configured
	Elevation    Altitude
	HasElevation bool

	HasTemperature bool
	InFahrenheit   bool
	HasReport      bool
	Temperature    engine.Celsius
	Fahrenheit     engine.Fahrenheit // as typed, when InFahrenheit
	Report         wxreport.Metar    // the pasted report, when HasReport

	Altitudes []Altitude
	Rules     string // id of a rule set named in the message
	OwnRules  bool   // what the unit has configured is meant, and none that was named before
	Procedure string // a stored procedure, as crews say it: "rnav 31"
	// Compensated says whether the avionics correct the barometric path: yes,
	// no, or empty where the message does not say.
	Compensated string
	Remote      string   // whether the altimeter setting is another place's, the same way
	Additive    float64  // what the chart adds to minimums with another place's setting, in feet; 0: not said
	SBAS        string   // whether the aircraft has satellite vertical guidance, the same way
	Minima      string   // the line of minimums that was chosen: lpv, lnav, lnav/vnav, lp, gls, ils, loc, circling
	Without     []string // lines of minimums that are not flown, as in Minima
	StraightIn  bool     // said in a message that names no line: no more circling
	Way         Way
	Stops       []Stop // of brief; of ack and snooze the bases, where several are named
	Search      Search // of Stations
	Base        Watched
	// Kind says more of what a verb shows: of picture profile, curve or day, of
	// card its paper. Empty: not said.
	Kind string

	Record     string        // the name of a record, as it is kept; empty: not said
	At         Clock         // of obs: when it was observed
	For        time.Duration // of snooze: how long
	Everywhere bool          // of ack and snooze: every base that the place is told of; of watch: all bases were asked for
	Today      bool          // of log
	Yesterday  bool          // of log
	Before     bool          // of repeat: what was answered before the last is asked for
	Now        bool          // of watch: how cold it is there now was asked, and not how cold it gets
	Unchecked  bool          // of log
	Outside    engine.Celsius
	HasOutside bool // of route: Outside is the air's at the level

	// What a follow-up does to the request before it.
	Gone    []Altitude // altitudes that it takes away, or says are wrong
	Also    bool       // its altitudes come beside those that are there
	Swap    bool       // two altitudes change places: its own, or the only two that are there
	Instead bool       // what it says stands in place of what was said before
	Denied  bool       // a no stands directly before its only altitude, "no 7400", or a not before its Slot
	Scale   Scale      // of a temperature whose figure was said before: "sorry C"
	Latest  bool       // the temperature is the latest observation's
	// OthersSetting: an altimeter setting is named with its station.
	OthersSetting bool
	Slot          Altitude // of Repeat: a label that was said alone, "that's the FAF"
	SameAir       bool     // of Same: the temperature is, and perhaps nothing else
	Change        string   // its temperature, as typed, where it may be by how much another fell: "3 below"
	Sign          int8     // -1 for a minus without its figure, +1 for a plus

	// Unsigned is the figure of a temperature whose sign was forgotten, in the
	// scale of InFahrenheit; 0 where there is none.
	Unsigned  float64
	UnsignedF bool
	// Differ asks which of the temperatures that were typed is right; nil where they
	// do not differ. No other temperature is taken until that is said.
	Differ *Problem

	// The altimeter setting that was typed, in the unit it was typed in; 0 where
	// none was. No figure is made with it, but one off the scale is told.
	SettingInHg engine.InchesOfMercury
	SettingHPa  engine.Hectopascals

	NotUsed []string // what was read and needs no answer, or was not read and touches no figure

	// Open is what was not understood and is mended neither by a temperature
	// nor by a station: a follow-up with just these does not settle it.
	Open []Problem
	// Elsewhere says that a station was named which is not known.
	Elsewhere bool
}

// OffScale says that an altimeter setting was typed that special procedures are
// for: above 31.00 inches (1050 hPa), or below 28.00 (948 hPa), off the scale of
// many instruments. The limits are those of the cautions of bot/reply.
func (r *Request) OffScale() bool {
	in, hPa := r.SettingInHg, r.SettingHPa
	return in > 31 || hPa >= 1050 || in > 0 && in < 28 || hPa > 0 && hPa < 948
}

// Empty says that nothing was understood.
func (r *Request) Empty() bool {
	return (r.Verb == Correct || r.Verb.Shows()) && r.Station == "" && !r.Swap && !r.HasElevation && !r.HasTemperature && !r.HasReport &&
		len(r.Altitudes) == 0 && r.Rules == "" && !r.OwnRules && r.Procedure == "" && r.Minima == "" && len(r.Without) == 0 && !r.StraightIn && r.Way == (Way{}) && r.SBAS == "" && r.Compensated == "" && r.Remote == "" && r.Additive == 0
}

// Problem says which word of a message is wrong and the line to type
// instead. What was understood is in the Request beside it.
type Problem struct {
	Word string // as typed; empty when it is the whole message
	Text string // one clear sentence
	Try  string // the line to type instead, which reads well; empty where there is none
	// Either says that Try is one of two readings, so that a "yes" to the
	// question says nothing.
	Either  bool
	Meant   string   // what a "yes" takes, where it is too unsure to be shown as Try
	At      Clock    // the time that a figure may be
	Named   bool     // it is about the approach, which its name settles
	Sole    bool     // Word is all that the message says
	Unread  bool     // it is about words that were not read, which another figure does not settle
	Flown   bool     // it is about figures that are corrected already
	Way     bool     // it is about how the crew comes in, which a way settles
	Signed  bool     // it is about a figure that may be a temperature's, which one settles as an altitude does
	Degrees bool     // it asks for a temperature, which alone settles it
	Small   bool     // it is about a figure that is too small for an altitude
	Asks    bool     // Word is a fix, perhaps, of which the message asks the altitude
	gains   bool     // Try says more than was typed: "did you mean"
	Slot    Altitude // the label that a bare figure in a follow-up is to have
	Choices []Choice // the answers that the question names, as it names them
	Figure  string   // that was asked about, which an answer may repeat
	// Wrong is the altitude that cannot be so, which another figure replaces; its
	// value is 0 where there is none.
	Wrong Altitude
}

// Choice is one answer that a question names: the whole Line that it makes, or
// what it says besides what was read already. It is taken by one of Words, by
// Figure, by what it Picks, by where it stands among the choices, or by the size
// of Value.
type Choice struct {
	Words  []string // folded
	Figure string
	Value  float64 // 0: it has no size
	Picks  []Pick
	Aside  bool // it is not counted: taken by Picks alone
	Line   string
	Next   *Request
}

func (p *Problem) Error() string { return p.Text }
