package reply

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/baro"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// The codes of stops.
const (
	StopBaro    = "baro-limit"
	StopRemote  = "remote-source"
	StopEdition = "edition"
	StopAge     = "age"
)

// Guidance is what bears on vertical guidance that follows the altimeter.
type Guidance struct {
	Limits baro.Limits // of the chart
	// Every says that every line of the procedure's minimums is barometric, so
	// that a limit closes the whole of it.
	Every       bool
	SBAS        bool // satellite vertical guidance
	Compensated bool // by approved avionics
	// The two are the configuration's, and not the message's.
	SBASConfigured, CompensationConfigured bool
	// The message says that the aircraft has none.
	NoSBAS, NoCompensation bool
	Remote                 Remote
}

// Remote is why the altimeter source is a remote one.
type Remote uint8

// The reasons; Local is none.
const (
	Local         Remote = iota
	RemoteStation        // the station's configuration
	RemoteChart          // the chart's note
	RemoteTyped          // the message says so
)

// warmLimit stands for a high limit that a chart with a low one does not give,
// as it was typed. Ours: published ones are 47 and 54 °C (AIM 7-3-3).
const warmLimit engine.Celsius = 45

// outside says whether a temperature passes a limit, and which.
func (g *Guidance) outside(c engine.Celsius) (low, high bool, limit engine.Celsius) {
	limits := g.Limits
	if limits.HasLow && !limits.HasHigh {
		limits.High, limits.HasHigh = warmLimit, true
	}
	low, high = limits.Outside(c)
	if limit = limits.Low; high {
		limit = limits.High
	}
	return low, high, limit
}

// lifts says that satellite guidance flies the line (AIM 5-4-5): LNAV/VNAV,
// with a remote source too, and no RNP line.
func (g *Guidance) lifts(p *procedure.Point) bool {
	return g.SBAS && !strings.HasPrefix(strings.ToUpper(p.Label), "RNP")
}

// Unnamed says that a minimum does not say of which line it is.
func Unnamed(p *procedure.Point) bool {
	switch strings.ToUpper(p.Name()) {
	case "DA", "DH", "MDA", "MDH", "MINIMUMS":
		return p.Role.Minimum()
	}
	return false
}

// Barred is what the stops of an answer forbid.
type Barred struct {
	Stops []Stop
	Rows  []bool // beside the points: the line is not usable
	Whole bool   // nothing may be flown: no call, no request
	// Remote: the altimeter source is among what forbids, which compensation does
	// not lift.
	Remote bool
	Age    bool // the temperature is too old
}

// Bar finds what forbids at the scene's temperature (FAA AIM 7-3-3 a, 5-1-17
// b, 5-4-5; Doc 8168 Vol I II-4-1 1.4.6 for a remote source).
func (sc *Scene) Bar(points []procedure.Point) Barred {
	var b Barred
	if sc.Guidance.Every || slices.ContainsFunc(points, func(p procedure.Point) bool { return p.Barometric }) {
		b.Rows = make([]bool, len(points))
	}
	switch p := sc.Procedure; p.Standing {
	case ProcedureEnded:
		b.Stops = append(b.Stops, Stop{StopEdition, fmt.Sprintf("This edition of %s ended on %s: do not fly it, get the current one.", p.Name, day(p.Ends))})
		b.Whole = true
	case ProcedureNotYet:
		b.Stops = append(b.Stops, Stop{StopEdition, fmt.Sprintf("This edition of %s begins on %s: do not fly it before, the one before it holds.", p.Name, day(p.Begins))})
		b.Whole = true
	}
	if b.Age = sc.Temperature.tooOld(); b.Age {
		b.Stops = append(b.Stops, Stop{StopAge, "The report is " + Age(sc.Temperature.Age) + ": what is the temperature now? No call is made from it."})
		b.Whole = true
	}
	g := &sc.Guidance
	low, high, limit := g.outside(sc.Temperature.C)
	var cold, remote []string
	others, usable := slices.Clip(sc.Others), len(sc.Others) > 0
	for i := range points {
		p := &points[i]
		if !p.Role.Minimum() {
			continue
		}
		if !p.Barometric && !g.Every {
			// A minimum without its line's name is no line to choose.
			if usable = true; b.Rows != nil && !Unnamed(p) {
				others = addOnce(others, lineName(p))
			}
			continue
		}
		if (low || high) && !g.Compensated && !g.lifts(p) {
			cold = addOnce(cold, lineName(p))
		}
		if g.Remote != Local && !g.lifts(p) {
			remote = addOnce(remote, lineName(p))
		}
		b.Rows[i] = slices.Contains(cold, lineName(p)) || slices.Contains(remote, lineName(p))
		usable = usable || !b.Rows[i]
	}
	if len(cold) > 0 {
		side := "below"
		if high {
			side = "above"
		}
		whose := "chart"
		if high && !g.Limits.HasHigh {
			whose = "ours: the chart as typed has no high limit"
		}
		b.Stops = append(b.Stops, Stop{StopBaro, sc.barText(cold, fmt.Sprintf("NA %s %s (%s)", side, Degrees(limit), whose), others, len(remote) == 0)})
	}
	if b.Remote = len(remote) > 0; b.Remote {
		whose := "chart"
		switch g.Remote {
		case RemoteStation:
			whose = "station"
		case RemoteTyped:
			whose = "as you say"
		}
		b.Stops = append(b.Stops, Stop{StopRemote, sc.barText(remote, "NA with a remote altimeter source ("+whose+")", others, false)})
	}
	b.Whole = b.Whole || (g.Every || !usable) && (len(cold) > 0 || len(remote) > 0)
	return b
}

// Unbarred are the lines of minimums among points that no barometric limit stops, by
// their names.
func Unbarred(points []procedure.Point) (names []string) {
	for i := range points {
		if p := &points[i]; p.Role.Minimum() && !p.Barometric && !Unnamed(p) {
			names = addOnce(names, lineName(p))
		}
	}
	return names
}

// A pasted report of which no call is made: how old, and how far ahead of the
// clock. Ours: one of the shift before is a slip, and clocks differ.
const (
	tooOld = 12 * time.Hour
	tooNew = time.Hour
)

// tooOld says that a pasted report is of another day, or of the time to come.
func (t *Temperature) tooOld() bool {
	return t.FromReport && t.AgeKnown && (t.Age > tooOld || t.Age < -tooNew)
}

func addOnce(to []string, s string) []string {
	if slices.Contains(to, s) {
		return to
	}
	return append(to, s)
}

// barText says what may not be flown and what may: of equipment what lifts
// every stop of the lines, so that nothing is named in vain.
func (sc *Scene) barText(lines []string, why string, others []string, compensation bool) string {
	compensation = compensation && !sc.Guidance.NoCompensation
	var ways []string
	if sbas := !sc.Guidance.NoSBAS && slices.ContainsFunc(lines, func(l string) bool { return !strings.HasPrefix(strings.ToUpper(l), "RNP") }); sbas {
		ways = append(ways, "SBAS")
	}
	if sc.Guidance.Every {
		text := "The whole procedure is " + why
		if compensation {
			ways = append(ways, "approved compensation")
		}
		if len(ways) == 0 {
			return text + "."
		}
		return text + ": not without " + orWords(ways) + "."
	}
	if compensation {
		ways = append(ways, "compensation")
	}
	return fmt.Sprintf("Baro %s %s: %s.", strings.Join(lines, ", "), why, orWords(append(ways, others...)))
}

// orWords joins what there is to choose from: SBAS, compensation, or LNAV.
func orWords(words []string) string {
	switch n := len(words); n {
	case 0:
		return "not usable"
	case 1:
		return words[0]
	case 2:
		return words[0] + " or " + words[1]
	default:
		return strings.Join(words[:n-1], ", ") + ", or " + words[n-1]
	}
}

// lineName is a line of the minimums as the chart has it.
func lineName(p *procedure.Point) string {
	return strings.TrimSuffix(strings.TrimSuffix(p.Name(), " DA"), " MDA")
}

// stepMark says of which lines the step-downs of the final segment are, where
// others are in use beside them; empty where there is nothing to tell apart.
func stepMark(lines []ruleset.Line) string {
	guided, other := false, false
	var names []string
	for i := range lines {
		l := &lines[i]
		switch {
		case l.Role == procedure.DecisionAltitude:
			guided = true
		case l.Role == procedure.Circling:
			names = addOnce(names, "circling")
		case l.Role == procedure.MinimumDescent:
			switch first, _, _ := strings.Cut(lineName(&l.Point), " "); first {
			case "LNAV", "LOC", "LP":
				names = addOnce(names, first)
			default:
				other = true
			}
		}
	}
	switch {
	case !guided:
		return ""
	case other:
		return "no glidepath"
	case len(names) == 1:
		return names[0] + " only"
	}
	return strings.Join(names, ", ")
}

// rowStates are those of a row, by that of its line.
var rowStates = [...]State{ruleset.Unknown: "", ruleset.Required: StateRequired, ruleset.Advised: StateAdvised, ruleset.Unchanged: StateUnchanged}

// settle gives the rows their states and marks.
func (sc *Scene) settle(rows []Row, res ruleset.Result, barred []bool) {
	steps := stepMark(res.Lines)
	for i := range rows {
		r, l := &rows[i], &res.Lines[i]
		if l.NoAltitude {
			continue
		}
		r.State = rowStates[l.State]
		r.Mark = sc.Set.MarkOf(&l.Point)
		switch {
		case i < len(barred) && barred[i]:
			r.State, r.Mark = StateNotUsable, "not usable"
		case r.Mark != "":
		case l.Role == procedure.StepDown && l.Segment == procedure.Final && steps != "":
			r.Mark = steps
		case sc.Guidance.Compensated && l.Role.Minimum() && l.Correction > 0:
			r.Mark = "by hand"
		case r.State == StateUnchanged && l.Note == ruleset.Left:
			r.Mark = "as published"
		case l.State == ruleset.Advised && l.Correction > 0 && res.Required:
			r.Mark = "if you choose"
		case l.State == ruleset.Unknown && l.Correction > 0 && res.Required:
			r.Mark = "if required" // which is not known
		}
	}
}
