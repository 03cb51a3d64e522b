package reply

import (
	"cmp"
	"fmt"
	"math"
	"strconv"
	"time"

	"firn/engine"
	"firn/engine/ruleset"
	"firn/engine/wxreport"
)

// Scene is what a reply is about, besides the altitudes.
type Scene struct {
	Ident, Name string // empty where only an elevation was typed
	Elevation   engine.Altitude
	Source      engine.Altitude        // that heights count from: the lower of the field and the altimeter source
	Altimeter   engine.Altitude        // of the altimeter setting source; zero: Source
	SettingInHg engine.InchesOfMercury // the altimeter setting as it was typed; zero: not in this unit
	SettingHPa  engine.Hectopascals    // the same
	Temperature Temperature
	Restriction engine.Celsius
	Restricted  bool // the station has a restriction temperature
	Set         *ruleset.Set
	Outside     ruleset.Step // the rounding configured in place of the rule set's
	Earlier     string       // what was taken from the message before, empty when nothing
	Line        string       // the whole request in a line
	Why         string       // the message that asks for the working
	Picture     string       // the message that asks for the picture; empty: not offered
	Card        bool         // its card to print is offered
	Latest      string       // the message that asks with the latest temperature; empty: not offered
	Known       string       // what that is and how old, as Again has it; empty: not known
	Procedure   Procedure    // that the altitudes are of, when it has a name
	Path        *Path        // its vertical path, where it has one
	Guidance    Guidance
	Others      []string // the lines of the chart that no barometric limit stops, chosen or not
	Barred      Barred   // what the stops forbid, as Bar found it
	Call        *Call    // nil where there is none
	CeilingAt   string   // where no more than Ceiling is flown, for which no floor is asked for; empty: nowhere
	Ceiling     engine.Altitude
	Transition  engine.Altitude
}

// Temperature is the one the figures hold for, and where it is from.
type Temperature struct {
	C          engine.Celsius
	Fahrenheit engine.Fahrenheit // as typed, when InF
	InF        bool
	Report     wxreport.Metar // when FromReport
	FromReport bool
	Age        time.Duration // of the report, when AgeKnown
	At         time.Time     // when it was observed; zero where that is not known
	// Observed is the source of an observation that the bot looked up; Report
	// is then its text, where it is a METAR. Empty: typed or pasted.
	Observed string
	Kept     bool     // its source fails: it is what was kept of it
	Newer    string   // that a newer report cannot be read; empty: there is none
	Passed   []string // the sources before it that failed or were too old
	AgeKnown bool
}

// Old is the age from which a report is flagged (reference: routine reports
// come hourly; 75 minutes allows for one that is late; common practice, no
// source).
const Old = 75 * time.Minute

// String is the temperature for people: tenths where it has them, never
// warmer than it is.
func (t Temperature) String() string { return string(t.append(nil)) }

func (t Temperature) append(b []byte) []byte {
	if !t.InF {
		return append(appendDegrees(b, t.C), " °C"...)
	}
	b = append(appendTrim(b, float64(t.Fahrenheit)), " °F ("...)
	return append(appendDegrees(b, t.C), " °C)"...)
}

// Degrees writes a temperature in °C to the tenth, on the colder side, with a
// real minus in front.
func Degrees[T ~float64](c T) string { return trim(float64(engine.Celsius(c).ColderTenth())) }

// Celsius is Degrees with its unit.
func Celsius[T ~float64](c T) string { return Degrees(c) + " °C" }

func appendDegrees(b []byte, c engine.Celsius) []byte { return appendTrim(b, float64(c.ColderTenth())) }

func trim(v float64) string {
	var room [32]byte
	return string(appendTrim(room[:0], v))
}

// appendTrim writes tenths where there are any.
func appendTrim(b []byte, v float64) []byte {
	tenths := math.Round(v * 10)
	if tenths < 0 {
		b = append(b, "−"...)
		tenths = -tenths
	}
	b = strconv.AppendInt(b, int64(tenths)/10, 10)
	if t := int64(tenths) % 10; t != 0 {
		b = append(b, '.', byte('0'+t))
	}
	return b
}

func (sc *Scene) temperatureSource() string {
	t := &sc.Temperature
	if t.Observed != "" {
		return "latest observation, " + t.Observed + ", " + Age(t.Age)
	}
	if !t.FromReport {
		return "as typed"
	}
	kind := cmp.Or(t.Report.Type, "METAR")
	b := make([]byte, 0, 64)
	b = append(b, kind...)
	if t.Report.Ident != "" {
		b = append(append(b, ' '), t.Report.Ident...)
	}
	if t.Report.HasTime {
		b = append(b, ' ')
		for _, n := range [...]int{t.Report.Day, t.Report.Hour, t.Report.Minute} {
			b = append(b, byte('0'+n/10), byte('0'+n%10))
		}
		b = append(b, 'Z')
	}
	if t.AgeKnown {
		b = appendAge(append(b, ", "...), t.Age)
	}
	return string(b)
}

// Age says how old something is in the unit a person would use.
func Age(d time.Duration) string {
	var room [48]byte
	return string(appendAge(room[:0], d))
}

func appendAge(b []byte, d time.Duration) []byte {
	switch {
	case d <= -time.Minute:
		return fmt.Appendf(b, "dated %s ahead of the clock", span(-d))
	case d < 2*time.Hour:
		return append(strconv.AppendInt(b, int64(d.Minutes()), 10), " min old"...)
	case d < 48*time.Hour:
		return fmt.Appendf(b, "%d h old", int(d.Hours()))
	}
	return fmt.Appendf(b, "%d days old", int(d.Hours()/24))
}
