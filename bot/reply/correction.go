package reply

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// Metres marks the altitudes that were typed in metres, by index.
type Metres []bool

// At says whether the altitude at an index was; none is past the end.
func (m Metres) At(i int) bool { return i < len(m) && m[i] }

// Correction makes the reply for an evaluated approach. working adds the
// step-by-step working.
func Correction(sc *Scene, res ruleset.Result, requests []ruleset.Request, metres Metres, working bool) Reply {
	r := sc.base(KindCorrection)
	r.Required = TruthOfResult(res)
	r.Method = sc.Set.Method
	r.SBAS, r.Compensated = sc.Guidance.SBAS, sc.Guidance.Compensated
	r.Stops = sc.Barred.Stops
	r.Altitudes = make([]Row, len(res.Lines))
	corrects, unlabelled := false, false
	for i := range res.Lines {
		l := &res.Lines[i]
		r.Altitudes[i] = row(sc, res, l, metres.At(i))
		corrects = corrects || l.Correction > 0
		unlabelled = unlabelled || l.Segment == procedure.NoSegment && l.Role == procedure.NoRole
	}
	tellWays(r.Altitudes, res)
	sc.settle(r.Altitudes, res, sc.Barred.Rows)
	r.Headline = sc.headline(res, sc.Barred, corrects)
	if !sc.Barred.Whole {
		r.Call = sc.Call
	}
	if sc.Barred.Whole {
		requests = nil
	}
	if len(requests) > 0 {
		r.Requests = make([]Request, len(requests))
		for i, q := range requests {
			r.Requests[i] = Request(q)
		}
	}
	r.Line = sc.Line
	r.Procedure, r.FlownAs = sc.Procedure.Name, sc.Procedure.FlownAs
	if v := sc.Path; v != nil && v.Barometric {
		r.PathDeg = Some(cents(float64(v.Published)))
		if !sc.Guidance.Compensated {
			r.EffectiveDeg = Some(cents(float64(v.Effective)))
		}
	}
	if note := sc.fitted(res); note != "" {
		r.Notes = append(r.Notes, note)
	}
	if note := sc.remoteNote(res); note != "" {
		r.Notes = append(r.Notes, note)
	}
	r.Facts = append(make([]string, 0, 6), sc.place(r.TemperatureSource), sc.verdict(res, corrects))
	r.Facts = sc.procedureFacts(r.Facts)
	if sc.Earlier != "" {
		r.Facts = append(r.Facts, sc.Earlier)
	}
	if unlabelled && corrects {
		r.Facts = append(r.Facts, "No labels: each altitude is corrected from its own height. Labels (IAF, IF, FAF, step, procedure turn, hold, DA, MDA, circling, missed, MSA, TAA) bring the segment rules.")
	}
	r.Cautions = sc.cautions(res, corrects)
	if working {
		r.Working = workings(sc, res)
	}
	r.Source = sc.sourceLine()
	r.Actions = sc.actions(working)
	return r
}

// TruthOfResult is whether the rule set asks for a correction; absent where it
// cannot be known.
func TruthOfResult(res ruleset.Result) OptBool {
	if res.Unknown {
		return NotApplicable
	}
	return OptBoolOf(res.Required)
}

// ActionCard is the id of the action that has an answer's card printed. The
// face of its record says of which.
const ActionCard = "card"

// ActionConfirm is the id of the action that says yes to a reply that Confirm
// names a record in, and Confirmed ends its message.
const (
	ActionConfirm = "confirm"
	Confirmed     = " confirmed"
)

// ActionWhy is the id of the action that shows how an answer was worked out.
const ActionWhy = "why"

// ActionPost is the id of the action that shows a result to the team.
const ActionPost = "post"

// Again is what a button is called that asks the same at the latest temperature,
// of which known says what it is; empty where that is known only then.
func Again(known string) string {
	if known == "" {
		return "Again at the latest temperature"
	}
	return "Again at " + known
}

// KnownTemperature is a temperature with its age, as Again takes it.
func KnownTemperature(c engine.Celsius, age time.Duration) string {
	return Degrees(c) + ", " + Age(max(age, 0))
}

// actions are what a person may want next; the working is not offered below
// the working.
func (sc *Scene) actions(working bool) []Action {
	var room [4]Action
	out := room[:0]
	if !working {
		out = append(out, Action{ID: ActionWhy, Label: "Show the working", Message: "why", Whole: sc.Why})
	}
	if sc.Picture != "" {
		out = append(out, Action{ID: "picture", Label: "Picture", Message: "picture", Whole: sc.Picture})
	}
	if sc.Card {
		out = append(out, Action{ID: ActionCard, Label: "Card", Message: "card"})
	}
	if sc.Latest != "" {
		out = append(out, Action{ID: "latest", Label: Again(sc.Known), Message: sc.Latest})
	}
	return append(make([]Action, 0, len(out)), out...)
}

// Status makes the reply to a station and a temperature without altitudes.
// asks says what the rule set would ask for at this temperature.
func Status(sc *Scene, res ruleset.Result) Reply {
	r := sc.base(KindStatus)
	r.Required = TruthOfResult(res)
	r.Headline = sc.headline(res, Barred{}, false)
	r.Facts = []string{sc.place(r.TemperatureSource), sc.verdict(res, false)}
	if sc.Earlier != "" {
		r.Facts = append(r.Facts, sc.Earlier)
	}
	r.Facts = append(r.Facts, "Add the altitudes to have them corrected.")
	if sc.Temperature.FromReport && strings.Contains(strings.ToUpper(sc.Temperature.Report.Raw), " RMK") {
		r.Facts = append(r.Facts, "Behind RMK every number is the report's: type altitudes before the report, or behind a semicolon.")
	}
	r.Cautions = sc.lineCautions(sc.reportCautions(nil), res)
	r.Source = sc.sourceLine()
	return r
}

func (sc *Scene) base(k Kind) Reply {
	return Reply{
		Kind:              k,
		Station:           Station{Ident: sc.Ident, Name: sc.Name, ElevationFt: cents(float64(sc.Elevation)), Known: true},
		TemperatureC:      Some(-centsUp(-float64(sc.Temperature.C)) + 0),
		TemperatureSource: sc.temperatureSource(),
		Rules:             sc.Set.ID,
		RulesVersion:      sc.Set.Version,
		Unverified:        sc.Set.Unverified,
	}
}

func row(sc *Scene, res ruleset.Result, l *ruleset.Line, metric bool) Row {
	r := Row{
		Label:        l.Name(),
		Fix:          l.Fix,
		Segment:      l.Segment.String(),
		PublishedFt:  cents(float64(l.Altitude)),
		HeightFt:     cents(float64(l.Height)),
		CorrectionFt: centsUp(float64(l.Correction)),
		CorrectedFt:  centsUp(float64(l.Corrected)),
		Required:     l.Required,
		Report:       l.Report,
		Why:          why(sc, res, l),
	}
	if l.NoAltitude {
		return Row{Label: r.Label, Fix: r.Fix, Segment: r.Segment, NoAltitude: true, Why: "the chart publishes no altitude here"}
	}
	air := correction.Air{Temperature: sc.Temperature.C, Source: sc.Source}
	r.TrueUncorrectedFt = cents(float64(trueAltitude(l.Altitude, air)))
	r.TrueCorrectedFt = cents(float64(trueAltitude(l.Corrected, air)))
	if l.Meaning != procedure.At {
		r.Meaning = l.Meaning.String()
	}
	if l.Meaning == procedure.Between {
		r.UpperPublishedFt, r.UpperCorrectedFt = cents(float64(l.Upper)), centsUp(float64(l.UpperCorrected))
	}
	if metric {
		r.PublishedM = cents(float64(l.Altitude.Metres()))
		r.CorrectedM = centsUp(float64(l.Corrected.Metres()))
	}
	return r
}

// Metric is an altitude as it was typed in metres.
func Metric(a engine.Altitude) string {
	return strconv.FormatFloat(cents(float64(a.Metres())), 'f', -1, 64) + " m"
}

// trueAltitude is where the aeroplane really is when its altimeter shows an
// altitude: less the error of the accurate equation.
func trueAltitude(a engine.Altitude, air correction.Air) engine.Altitude {
	return a.Add(-correction.Error(a.Above(air.Source), air))
}

// why says in one phrase whose height set the correction and what asks for it.
func why(sc *Scene, res ruleset.Result, l *ruleset.Line) string {
	asked := "advisory"
	switch {
	case l.Required:
		asked = sc.Set.Require[l.Rule].Why
	case l.ByPlace:
		asked = "required where it lies in a listed segment: " + elsewhere(&res)
	case l.State == ruleset.Unknown:
		asked = "required or not: " + sc.notKnown()
	}
	switch {
	case l.Raised >= 0:
		m := &res.Lines[l.Raised]
		if l.Lifted() {
			asked = "its own segment is not designated"
		}
		return fmt.Sprintf("not flown lower than %s %.0f, which comes after it; %s", nameOf(m), engine.UpToFoot(float64(m.Corrected)), asked)
	case l.Note == ruleset.Left && (l.Role == procedure.MissedAltitude || l.Segment == procedure.Sector):
		return "the rule leaves it as published"
	case l.Note == ruleset.Left:
		return "its segment is not designated: as published"
	case l.Note == ruleset.WarmAir:
		return "not colder than standard"
	}
	whose, table := "its own", ""
	if l.ReferencePoint >= 0 && &res.Lines[l.ReferencePoint] != l {
		whose = res.Lines[l.ReferencePoint].Name()
	}
	switch l.Note {
	case ruleset.LastColumn:
		table = ", last column of the table"
	case ruleset.AboveTable:
		table = ", accurate equation above the table"
	case ruleset.ColderTable:
		table = ", equation below the table's last row"
	case ruleset.WarmerTable:
		table = ", equation above the table's first row"
	}
	if l.Additive > 0 {
		whose = fmt.Sprintf("%.0f ft for the remote source first; %s", float64(l.Additive), whose)
	}
	return whose + " height" + table + "; " + asked
}

// notKnown says where to learn whether a correction is required.
func (sc *Scene) notKnown() string {
	if sc.Set.Waits() {
		return "your operator's threshold is not configured"
	}
	return "not known: see the chart's snowflake note"
}

// place is the station, its elevation, the temperature and the source that it is from.
func (sc *Scene) place(source string) string {
	var room [256]byte
	b := room[:0]
	switch {
	case sc.Name != "":
		b = append(append(append(b, sc.Ident...), ' '), sc.Name...)
	case sc.Ident != "":
		b = append(b, sc.Ident...)
	default:
		b = append(b, "Field"...)
	}
	b = strconv.AppendFloat(append(b, ", elevation "...), float64(sc.Elevation), 'f', 0, 64)
	b = append(b, " ft"...)
	switch {
	case sc.Source < sc.Elevation:
		b = fmt.Appendf(b, " (heights from the altimeter setting source at %.0f ft)", float64(sc.Source))
	case sc.Altimeter > sc.Elevation:
		b = fmt.Appendf(b, " (the altimeter setting source lies higher, at %.0f ft; heights from the field)", float64(sc.Altimeter))
	}
	b = append(b, ". "...)
	b = sc.Temperature.append(b)
	b = append(b, ", "...)
	b = append(b, source...)
	return string(append(b, '.'))
}

// verdict says whether a correction is asked for, and by what.
func (sc *Scene) verdict(res ruleset.Result, corrects bool) string {
	if n := res.Rule(); n >= 0 && (res.Required || !res.Unknown) {
		what := "Correction required: "
		if !res.Required {
			what = "None of these altitudes; " + elsewhere(&res) + ": "
		}
		rule := &sc.Set.Require[n]
		if rule.When.Published {
			var room [160]byte
			b := append(append(append(room[:0], what...), rule.Why...), ", "...)
			return string(append(appendDegrees(b, sc.Restriction), " °C."...))
		}
		return what + rule.Why + "."
	}
	if res.Unknown {
		state := "Whether a correction is required is " + sc.notKnown()
		if sc.Set.Waits() {
			state = "Whether a correction is required is not known: " + sc.notKnown()
		}
		if corrects {
			return state + "; the figures are advisory."
		}
		return state + "."
	}
	state := "No correction is required"
	switch {
	case !sc.Set.AsksByRestriction():
		state += " by this rule set at this temperature"
	case sc.Restricted:
		state += fmt.Sprintf(" at this temperature (restriction at or below %s °C)", Degrees(sc.Restriction))
	case sc.Ident != "":
		state += ": the station has no restriction temperature"
	default:
		state += " by rule: without a station no restriction temperature is known"
	}
	if corrects {
		return state + "; the figures are advisory."
	}
	return state + "."
}

// WholeUp writes whole feet or metres, rounded up: an altitude shown is never
// below the one computed.
func WholeUp[T ~float64](v T) string {
	return strconv.FormatFloat(engine.UpToFoot(float64(v)), 'f', 0, 64)
}

// WholeDown writes them rounded down: where an aeroplane really is, it is not
// shown higher.
func WholeDown[T ~float64](v T) string {
	return strconv.FormatFloat(math.Floor(float64(v)+1e-6)+0, 'f', 0, 64)
}

// appendUp writes whole feet, rounded up.
func appendUp(b []byte, v float64) []byte { return strconv.AppendInt(b, int64(engine.UpToFoot(v)), 10) }

func nameOf(l *ruleset.Line) string {
	return strings.TrimSpace(l.Name() + " " + WholeUp(l.Altitude))
}

// sourceLine is method, table edition, rule set, rounding, and what the
// figures are worth.
func (sc *Scene) sourceLine() string {
	method, source := correction.Method(sc.Set.Method).Describe()
	outside := sc.Set.Round.Outside.Describe()
	if sc.Outside != "" {
		outside = sc.Outside.Describe()
	}
	var room [640]byte
	b := room[:0]
	for _, s := range [...]string{method, " (", source, "), ", sc.Set.Name, ", version ", sc.Set.Version, ", ", outside, " outside the final segment, ", sc.Set.Round.Final.Describe(),
		" in it. " + Aid} {
		b = append(b, s...)
	}
	return string(b)
}
