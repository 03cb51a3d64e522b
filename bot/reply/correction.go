package reply

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
	"firn/engine/wxreport"
)

// Scene is what a reply is about, besides the altitudes.
type Scene struct {
	Ident, Name string // empty where only an elevation was typed
	Elevation   engine.Altitude
	Source      engine.Altitude // that heights count from: the lower of the field and the altimeter source
	Altimeter   engine.Altitude // of the altimeter setting source; zero: Source
	Temperature Temperature
	Restriction engine.Celsius
	Restricted  bool // the station has a restriction temperature
	Set         *ruleset.Set
	Outside     ruleset.Step // the rounding configured in place of the rule set's
	Earlier     string       // what was taken from the message before, empty when nothing
	Why         string       // the message that asks for the working
	Picture     string       // the message that asks for the picture; empty: not offered
	Card        bool         // its card to print is offered
	Latest      string       // the message that asks with the latest temperature; empty: not offered
	Procedure   Procedure    // that the altitudes are of, when it has a name
	Path        *Path        // its vertical path, where it has one
	Guidance    Guidance
	Barred      Barred // what the stops forbid, as Bar found it
	Call        *Call  // nil where there is none
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

// Metres marks the altitudes that were typed in metres, by index.
type Metres []bool

// At says whether the altitude at an index was; none is past the end.
func (m Metres) At(i int) bool { return i < len(m) && m[i] }

// Correction makes the reply for an evaluated approach. working adds the
// step-by-step working.
func Correction(sc Scene, res ruleset.Result, requests []ruleset.Request, metres Metres, working bool) Reply {
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
	r.Procedure = sc.Procedure.Name
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
	r.Facts = append(make([]string, 0, 6), sc.place(), sc.verdict(res, corrects))
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

// ActionPost is the id of the action that shows a result to the team.
const ActionPost = "post"

// actions are what a person may want next; the working is not offered below
// the working.
func (sc Scene) actions(working bool) []Action {
	out := make([]Action, 0, 4)
	if !working {
		out = append(out, Action{ID: "why", Label: "Show the working", Message: "why", Whole: sc.Why})
	}
	if sc.Picture != "" {
		out = append(out, Action{ID: "picture", Label: "Picture", Message: "picture", Whole: sc.Picture})
	}
	if sc.Card {
		out = append(out, Action{ID: ActionCard, Label: "Card", Message: "card"})
	}
	if sc.Latest != "" {
		out = append(out, Action{ID: "latest", Label: "Use the latest temperature", Message: sc.Latest})
	}
	return out
}

// Status makes the reply to a station and a temperature without altitudes.
// asks says what the rule set would ask for at this temperature.
func Status(sc Scene, res ruleset.Result) Reply {
	r := sc.base(KindStatus)
	r.Required = TruthOfResult(res)
	r.Headline = sc.headline(res, Barred{}, false)
	r.Facts = []string{sc.place(), sc.verdict(res, false)}
	if sc.Earlier != "" {
		r.Facts = append(r.Facts, sc.Earlier)
	}
	r.Facts = append(r.Facts, "Add the altitudes to have them corrected.")
	if sc.Temperature.FromReport && strings.Contains(strings.ToUpper(sc.Temperature.Report.Raw), " RMK") {
		r.Facts = append(r.Facts, "Behind RMK every number is the report's: type altitudes before the report, or behind a semicolon.")
	}
	r.Cautions = sc.reportCautions(nil)
	r.Source = sc.sourceLine()
	return r
}

func (sc Scene) base(k Kind) Reply {
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

func row(sc Scene, res ruleset.Result, l *ruleset.Line, metric bool) Row {
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

// trueAltitude is where the aeroplane really is when its altimeter shows an
// altitude: less the error of the accurate equation.
func trueAltitude(a engine.Altitude, air correction.Air) engine.Altitude {
	return a.Add(-correction.Error(a.Above(air.Source), air))
}

// why says in one phrase whose height set the correction and what asks for it.
func why(sc Scene, res ruleset.Result, l *ruleset.Line) string {
	asked := "advisory"
	switch {
	case l.Required:
		asked = sc.Set.Require[l.Rule].Why
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
	whose := "its own height"
	if l.ReferencePoint >= 0 && &res.Lines[l.ReferencePoint] != l {
		ref := &res.Lines[l.ReferencePoint]
		whose = ref.Name() + " height"
	}
	switch l.Note {
	case ruleset.LastColumn:
		whose += ", last column of the table"
	case ruleset.AboveTable:
		whose += ", accurate equation above the table"
	case ruleset.ColderTable:
		whose += ", equation below the table's last row"
	case ruleset.WarmerTable:
		whose += ", equation above the table's first row"
	}
	if l.Additive > 0 {
		whose = fmt.Sprintf("%.0f ft for the remote source first; %s", float64(l.Additive), whose)
	}
	return whose + "; " + asked
}

// notKnown says where to learn whether a correction is required.
func (sc Scene) notKnown() string {
	if sc.Set.Waits() {
		return "your operator's threshold is not configured"
	}
	return "not known: see the chart's snowflake note"
}

// place is the station, its elevation, the temperature and where it is from.
func (sc Scene) place() string {
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
	b = fmt.Appendf(b, ", elevation %.0f ft", float64(sc.Elevation))
	switch {
	case sc.Source < sc.Elevation:
		b = fmt.Appendf(b, " (heights from the altimeter setting source at %.0f ft)", float64(sc.Source))
	case sc.Altimeter > sc.Elevation:
		b = fmt.Appendf(b, " (the altimeter setting source lies higher, at %.0f ft; heights from the field)", float64(sc.Altimeter))
	}
	b = append(b, ". "...)
	b = sc.Temperature.append(b)
	b = append(b, ", "...)
	b = append(b, sc.temperatureSource()...)
	return string(append(b, '.'))
}

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

// Degrees writes a temperature to the tenth, on the colder side, with a real
// minus in front.
func Degrees(c engine.Celsius) string { return trim(float64(c.ColderTenth())) }

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

func (sc Scene) temperatureSource() string {
	t := sc.Temperature
	if t.Observed != "" {
		return "latest observation, " + t.Observed + ", " + Age(t.Age)
	}
	if !t.FromReport {
		return "as typed"
	}
	kind := t.Report.Type
	if kind == "" {
		kind = "METAR"
	}
	b := make([]byte, 0, 64)
	b = append(b, kind...)
	if t.Report.Ident != "" {
		b = append(append(b, ' '), t.Report.Ident...)
	}
	if t.Report.HasTime {
		b = fmt.Appendf(b, " %02d%02d%02dZ", t.Report.Day, t.Report.Hour, t.Report.Minute)
	}
	if t.AgeKnown {
		b = append(append(b, ", "...), Age(t.Age)...)
	}
	return string(b)
}

// Age says how old something is in the unit a person would use.
func Age(d time.Duration) string {
	switch {
	case d <= -time.Minute:
		return fmt.Sprintf("dated %s ahead of the clock", span(-d))
	case d < 2*time.Hour:
		return fmt.Sprintf("%d min old", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d h old", int(d.Hours()))
	}
	return fmt.Sprintf("%d days old", int(d.Hours()/24))
}

// verdict says whether a correction is asked for, and by what.
func (sc Scene) verdict(res ruleset.Result, corrects bool) string {
	if res.Required {
		for i := range res.Lines {
			l := &res.Lines[i]
			if !l.Required {
				continue
			}
			rule := &sc.Set.Require[l.Rule]
			if rule.When.Published {
				var room [160]byte
				b := append(append(append(room[:0], "Correction required: "...), rule.Why...), ", "...)
				return string(append(appendDegrees(b, sc.Restriction), " °C."...))
			}
			return "Correction required: " + rule.Why + "."
		}
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

// cautions are those that apply, each once: those of this answer first, then
// those of every one.
func (sc Scene) cautions(res ruleset.Result, corrects bool) []Caution {
	out := make([]Caution, 0, 10+len(sc.Set.Cautions))
	out = sc.procedureCautions(out)
	out = sc.reportCautions(out)
	out = sc.guidanceCautions(out, res)
	out = sc.tableCautions(out, res)
	if corrects {
		out = sc.trueCautions(out, res)
	}
	if sc.Set.Unverified != "" {
		out = append(out, Caution{Code: "unverified", Text: "Unverified rule set: " + sc.Set.Unverified})
	}
	own := len(out)
	if corrects {
		out = append(out,
			Caution{Code: "this-temperature", Text: sc.thisTemperature()},
			Caution{Code: "altimeter-setting", Text: "Do not change the altimeter setting to make the numbers look right."},
			Caution{Code: "visibility", Text: "Minimums rise; visibility minimums do not change."},
		)
		for _, c := range sc.Set.Cautions {
			out = append(out, Caution{Code: c.Code, Text: c.Text})
		}
	}
	for i := own; i < len(out); i++ {
		out[i].Standing = true
	}
	return out
}

func (sc Scene) thisTemperature() string {
	var room [96]byte
	b := appendDegrees(append(room[:0], "Good for "...), sc.Temperature.C)
	return string(append(b, " °C only; correct again when the temperature changes."...))
}

// guidanceCautions are about barometric guidance, where a line has it, and a
// remote altimeter source.
func (sc Scene) guidanceCautions(out []Caution, res ruleset.Result) []Caution {
	g := &sc.Guidance
	barometric := slices.ContainsFunc(res.Lines, func(l ruleset.Line) bool { return l.Barometric })
	if g.Remote != Local {
		out = append(out, Caution{Code: StopRemote, Text: "Remote altimeter source: no barometric vertical guidance without SBAS; the chart's additive comes before the cold correction."})
	}
	if barometric && !g.Limits.HasLow && !g.Compensated && !g.SBAS {
		out = append(out, Caution{Code: "baro-vnav", Text: "Uncompensated barometric vertical guidance: not outside the chart's own temperature limits, which firn does not know here."})
	}
	return out
}

// trueCautions say where the figures leave the aeroplane below the published
// altitude all the same, and what reaches the transition altitude.
func (sc Scene) trueCautions(out []Caution, res ruleset.Result) []Caution {
	air := correction.Air{Temperature: sc.Temperature.C, Source: sc.Source}
	transition := sc.Transition
	if transition == 0 {
		transition = 18000 // in the United States: FAA AIM 4-2-9
	}
	const below, above = "Corrected as the rule says, the aeroplane is really below the published altitude at ", "At or above the transition altitude, "
	var lowRoom, highRoom [512]byte
	low, high := append(lowRoom[:0], below...), append(highRoom[:0], above...)
	high = append(appendUp(high, float64(transition)), " ft: "...)
	lows, highs := 0, 0
	for i := range res.Lines {
		l := &res.Lines[i]
		if l.Correction <= 0 || l.Meaning == procedure.AtOrBelow {
			continue
		}
		if under := float64(l.Altitude.Add(l.Additive) - trueAltitude(l.Corrected, air)); under >= 1 {
			if lows++; lows > 1 {
				low = append(low, ", "...)
			}
			low = append(appendUp(append(appendFix(low, l), " by "...), math.Floor(under)), " ft"...)
		}
		if l.Corrected >= transition {
			if highs++; highs > 1 {
				high = append(high, ", "...)
			}
			high = appendUp(append(appendFix(high, l), ' '), float64(l.Corrected))
		}
	}
	if lows > 0 {
		out = append(out, Caution{Code: "below-published", Text: string(append(low, " (accurate equation)."...))})
	}
	if highs > 0 {
		out = append(out, Caution{Code: "transition", Text: string(append(high, ". An altitude on the altimeter setting, no flight level: say so."...))})
	}
	return out
}

// appendFix writes the label and the fix, or the figure.
func appendFix(b []byte, l *ruleset.Line) []byte {
	n := l.Name()
	switch {
	case n == "" && l.Fix == "":
		return appendUp(b, float64(l.Altitude))
	case n != "" && l.Fix != "":
		n += " "
	}
	return append(append(b, n...), l.Fix...)
}

// appendUp writes whole feet, rounded up.
func appendUp(b []byte, v float64) []byte { return strconv.AppendInt(b, int64(engine.UpToFoot(v)), 10) }

// highSetting and lowSetting bound what altimeters can be set to: 31.00 inHg
// (1050 hPa; FAA AIM 7-2-3 and AFMAN 11-202V3, from memory) and 28.00 inHg
// (the low end of common scales; common practice, no source).
const (
	highSetting    engine.InchesOfMercury = 31.00
	highSettingHPa engine.Hectopascals    = 1050
	lowSetting     engine.InchesOfMercury = 28.00
	lowSettingHPa  engine.Hectopascals    = 948
)

// reportCautions are those that a pasted report calls for.
func (sc Scene) reportCautions(out []Caution) []Caution {
	t := sc.Temperature
	if t.Kept {
		out = append(out, Caution{Code: "kept-observation", Text: "The weather source does not answer; this is what was kept of it."})
	}
	if t.Newer != "" {
		out = append(out, Caution{Code: "newer-report", Text: sentence(t.Newer)})
	}
	if d := t.Report.Doubt(); d != "" {
		out = append(out, Caution{Code: "dew-point", Text: "The report is in doubt: " + d + "."})
	}
	if len(t.Passed) > 0 {
		out = append(out, Caution{Code: "source-passed", Text: "Passed over, failing or too old: " + strings.Join(t.Passed, ", ") + "."})
	}
	if !t.FromReport && t.Observed == "" {
		return out
	}
	m := t.Report
	if t.AgeKnown && t.Age > Old {
		out = append(out, Caution{Code: "old-report", Text: "The report is " + Age(t.Age) + "; get the latest before you fly on it."})
	}
	if t.AgeKnown && t.Age < -time.Hour {
		out = append(out, Caution{Code: "old-report", Text: "The report is dated ahead of the clock; check its time."})
	}
	if m.Tenths.OK && m.Body.OK && m.Tenths.C < m.Body.C {
		out = append(out, Caution{Code: "colder-tenths", Text: "The remarks show " + Degrees(m.Tenths.C) + " °C, colder than the " + Degrees(m.Body.C) + " °C in the body; the colder is used."})
	}
	switch {
	case m.AltimeterInHg > highSetting || m.AltimeterHPa >= highSettingHPa: // 1050 hPa are 31.01 inches
		out = append(out, Caution{Code: "altimeter-high", Text: "The altimeter setting is above 31.00 inches (1050 hPa): special procedures apply, and altimeters may not set it."})
	case m.AltimeterInHg > 0 && m.AltimeterInHg < lowSetting || m.AltimeterHPa > 0 && m.AltimeterHPa < lowSettingHPa:
		out = append(out, Caution{Code: "altimeter-low", Text: "The altimeter setting is below 28.00 inches (948 hPa), off the scale of many altimeters."})
	}
	return out
}

// tableCautions say plainly where the table had no figure of its own.
func (sc Scene) tableCautions(out []Caution, res ruleset.Result) []Caution {
	var above []string
	for i := range res.Lines {
		l := &res.Lines[i]
		if short := l.ShortOf - l.Correction; l.ShortOf > 0 && short > 0 && l.Raised < 0 {
			above = append(above, fmt.Sprintf("%s is %.0f ft up, where the true need is %.0f ft, %.0f more than the published shortcut gives",
				nameOf(l), float64(l.ReferenceHeight), engine.UpToFoot(float64(l.ShortOf)), engine.UpToFoot(float64(short))))
		}
	}
	if len(above) > 0 {
		out = append(out, Caution{Code: "above-table", Text: "At and above the table's last column, 5000 ft: " + strings.Join(above, "; ") + "."})
	}
	for i := range res.Lines {
		switch res.Lines[i].Note {
		case ruleset.AboveTable:
			return append(out, Caution{Code: "above-table", Text: "Above the table's last column, 5000 ft, the accurate equation is used, and never less than that column."})
		case ruleset.ColderTable:
			return append(out, Caution{Code: "colder-than-table", Text: "Colder than the table's last row, −50 °C: the equation is used, and never less than that row."})
		case ruleset.WarmerTable:
			return append(out, Caution{Code: "warmer-than-table", Text: "Warmer than the table's first row, +10 °C: the equation is used, and never more than that row."})
		case ruleset.WarmAir:
			return append(out, Caution{Code: "warm-air", Text: "Not colder than standard at this elevation: nothing is added, and nothing is ever subtracted."})
		}
	}
	return out
}

func nameOf(l *ruleset.Line) string {
	if n := l.Name(); n != "" {
		return fmt.Sprintf("%s %.0f", n, engine.UpToFoot(float64(l.Altitude)))
	}
	return fmt.Sprintf("%.0f", engine.UpToFoot(float64(l.Altitude)))
}

// sourceLine is method, table edition, rule set, rounding, and what the
// figures are worth.
func (sc Scene) sourceLine() string {
	method, source := correction.Method(sc.Set.Method).Describe()
	outside := sc.Set.Round.Outside.Describe()
	if sc.Outside != "" {
		outside = sc.Outside.Describe()
	}
	var room [640]byte
	b := room[:0]
	for _, s := range [...]string{method, " (", source, "), ", sc.Set.Name, ", version ", sc.Set.Version, ", ", outside, " outside the final segment, ", sc.Set.Round.Final.Describe(),
		" in it. A planning aid: the current publications, the operator's rules and the pilot in command decide."} {
		b = append(b, s...)
	}
	return string(b)
}
