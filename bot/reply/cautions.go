package reply

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"firn/engine"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// Aid is what firn's figures are worth, wherever they stand.
const Aid = "A planning aid: the current publications, the operator's rules and the pilot in command decide."

// settingStays is a caution of everything that is corrected.
var settingStays = Caution{Code: CautionAltimeterSetting, Text: "Do not change the altimeter setting to make the numbers look right."}

// cautions are those that apply, each once: those of this answer first, then
// those of every one.
func (sc *Scene) cautions(res ruleset.Result, corrects bool) []Caution {
	var room [16]Caution // what is kept has no room to spare
	out := sc.procedureCautions(room[:0])
	out = sc.reportCautions(out)
	if typed := settingCautions(sc.SettingInHg, sc.SettingHPa); len(typed) > 0 && !slices.ContainsFunc(out, func(c Caution) bool { return c.Code == typed[0].Code }) {
		out = append(out, typed...)
	}
	out = sc.guidanceCautions(out, res)
	out = sc.lineCautions(out, res)
	if byPlace(&res) {
		out = append(out, Caution{Code: CautionLabelThem, Text: "Listed here: " + elsewhere(&res) + ". Labels (IF, FAF, DA) tell which of these altitudes are corrected."})
	}
	if sc.CeilingAt != "" && !sc.Barred.Whole {
		out = append(out, Caution{Code: CautionCeiling, Text: fmt.Sprintf("No floor to ask for: %s is at most %s.", sc.CeilingAt, WholeUp(sc.Ceiling))})
	}
	out = sc.tableCautions(out, res)
	if corrects {
		out = sc.trueCautions(out, res)
	}
	if sc.Set.Unverified != "" {
		out = append(out, Caution{Code: CautionUnverified, Text: "Unverified rule set: " + sc.Set.Unverified})
	}
	own := len(out)
	if corrects {
		out = append(out,
			Caution{Code: CautionThisTemperature, Text: sc.thisTemperature()},
			settingStays,
			Caution{Code: CautionVisibility, Text: "Minimums rise; visibility minimums do not change."},
		)
		for _, c := range sc.Set.Cautions {
			out = append(out, Caution{Code: CautionCode(c.Code), Text: c.Text})
		}
	}
	for i := own; i < len(out); i++ {
		out[i].Standing = true
	}
	return append(make([]Caution, 0, len(out)), out...)
}

// lineCautions are of a tenth above the published temperature. That is one of
// reports (AIM 7-3-5 b), which have whole degrees.
func (sc *Scene) lineCautions(out []Caution, res ruleset.Result) []Caution {
	whole := engine.Celsius(math.Ceil(float64(sc.Temperature.C) - 0.5)) // a half is the colder one
	if sc.Restricted && sc.Set.AsksByRestriction() && res.Rule() < 0 && sc.Temperature.C > sc.Restriction && whole <= sc.Restriction {
		out = append(out, Caution{Code: CautionWholeDegree, Text: Celsius(sc.Temperature.C) + " may stand in a report as " + Celsius(whole) + ", at which a correction is required: go by the report."})
	}
	return out
}

func (sc *Scene) thisTemperature() string {
	var room [96]byte
	b := appendDegrees(append(room[:0], "Good for "...), sc.Temperature.C)
	return string(append(b, " °C only; correct again when the temperature changes."...))
}

// guidanceCautions are about barometric guidance, where a line has it, and a
// remote altimeter source.
func (sc *Scene) guidanceCautions(out []Caution, res ruleset.Result) []Caution {
	g := &sc.Guidance
	barometric := slices.ContainsFunc(res.Lines, func(l ruleset.Line) bool { return l.Barometric })
	if g.Remote != Local {
		out = append(out, Caution{Code: CautionRemote, Text: "Remote altimeter source: no barometric vertical guidance without SBAS; the chart's additive comes before the cold correction."})
	}
	if barometric && !g.Limits.HasLow && !g.Compensated && !g.SBAS {
		out = append(out, Caution{Code: CautionBaroVNAV, Text: "Uncompensated barometric vertical guidance: not outside the chart's own temperature limits, which firn does not know here."})
	}
	return out
}

// tellLow is from how many feet below the published altitude on the screen says
// so: half of the obstacle clearance with which a segment is built, 1000 ft, 500 in
// the intermediate and 250 in the final one (ICAO Doc 8168 and FAA TERPS, from
// memory; the half is ours).
func tellLow(s procedure.Segment) float64 {
	switch s {
	case procedure.Intermediate:
		return 250
	case procedure.Final:
		return 125
	}
	return 500
}

// trueCautions say where the figures leave the aeroplane below the published
// altitude all the same, whatever the reason, and what reaches the transition
// altitude. What is lower by much is told on the screen.
func (sc *Scene) trueCautions(out []Caution, res ruleset.Result) []Caution {
	air := correction.Air{Temperature: sc.Temperature.C, Source: sc.Source}
	transition := cmp.Or(sc.Transition, 18000) // in the United States: FAA AIM 4-2-9
	const below, above = "Corrected as the rule says, the aeroplane is really below the published altitude at ", "At or above the transition altitude, "
	var lowRoom, highRoom [512]byte
	low, high := append(lowRoom[:0], below...), append(highRoom[:0], above...)
	high = append(appendUp(high, float64(transition)), " ft: "...)
	lows, highs := 0, 0
	var worst *ruleset.Line
	most, part := 0.0, 0.0
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
			if p := under / tellLow(l.Segment); p > part && p >= 1 {
				worst, most, part = l, math.Floor(under), p
			}
		}
		if l.Corrected >= transition {
			if highs++; highs > 1 {
				high = append(high, ", "...)
			}
			high = appendUp(append(appendFix(high, l), ' '), float64(l.Corrected))
		}
	}
	if worst != nil {
		var room [96]byte
		b := append(appendFix(append(room[:0], "Corrected, "...), worst), " is still "...)
		out = append(out, Caution{Code: CautionStillBelow, Text: string(append(appendUp(b, most), " ft low."...))})
	}
	if lows > 0 {
		out = append(out, Caution{Code: CautionBelowPublished, Text: string(append(low, " (accurate equation)."...))})
	}
	if highs > 0 {
		out = append(out, Caution{Code: CautionTransition, Text: string(append(high, ". An altitude on the altimeter setting, no flight level: say so."...))})
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
func (sc *Scene) reportCautions(out []Caution) []Caution {
	t := sc.Temperature
	if t.Kept {
		out = append(out, Caution{Code: CautionKeptObservation, Text: "The weather source does not answer; this is what was kept of it."})
	}
	if t.Newer != "" {
		out = append(out, Caution{Code: CautionNewerReport, Text: sentence(t.Newer)})
	}
	if d := t.Report.Doubt(); d != "" {
		out = append(out, Caution{Code: CautionDewPoint, Text: "The report is in doubt: " + d + "."})
	}
	if len(t.Passed) > 0 {
		out = append(out, Caution{Code: CautionSourcePassed, Text: "Passed over, failing or too old: " + strings.Join(t.Passed, ", ") + "."})
	}
	if !t.FromReport && t.Observed == "" {
		return out
	}
	m := t.Report
	if t.AgeKnown && t.Age > Old && !t.tooOld() { // that is a stop, which says it
		out = append(out, Caution{Code: CautionOldReport, Text: "The report is " + Age(t.Age) + "; get the latest before you fly on it."})
	}
	if t.AgeKnown && t.Age < -time.Hour {
		out = append(out, Caution{Code: CautionOldReport, Text: "The report is dated ahead of the clock; check its time."})
	}
	if m.Tenths.OK && m.Body.OK && m.Tenths.C < m.Body.C {
		out = append(out, Caution{Code: CautionColderTenths, Text: "The remarks show " + Celsius(m.Tenths.C) + ", colder than the " + Celsius(m.Body.C) + " in the body; the colder is used."})
	}
	return append(out, settingCautions(m.AltimeterInHg, m.AltimeterHPa)...)
}

// settingCautions are those of an altimeter setting, reported or typed; zero
// where it is not known in a unit.
func settingCautions(inHg engine.InchesOfMercury, hPa engine.Hectopascals) []Caution {
	switch {
	case inHg > highSetting || hPa >= highSettingHPa: // 1050 hPa are 31.01 inches
		return []Caution{{Code: CautionAltimeterHigh, Text: "The altimeter setting is above 31.00 inches (1050 hPa): special procedures apply, and altimeters may not set it."}}
	case inHg > 0 && inHg < lowSetting || hPa > 0 && hPa < lowSettingHPa:
		return []Caution{{Code: CautionAltimeterLow, Text: "The altimeter setting is below 28.00 inches (948 hPa), off the scale of many altimeters."}}
	}
	return nil
}

// shortOf is how much more than the table's last column gives is truly needed,
// where that is said; else zero.
func shortOf(l *ruleset.Line) engine.Feet {
	if l.ShortOf <= l.Correction || l.Raised >= 0 {
		return 0
	}
	return l.ShortOf - l.Correction
}

// tableCautions say plainly where the table had no figure of its own.
func (sc *Scene) tableCautions(out []Caution, res ruleset.Result) []Caution {
	var above []string
	for i := range res.Lines {
		l := &res.Lines[i]
		if more := engine.UpToFoot(float64(shortOf(l))); more > 0 {
			above = append(above, fmt.Sprintf("%s is %.0f ft up, where the true need is %.0f ft, %.0f more than the published shortcut gives",
				nameOf(l), float64(l.ReferenceHeight), engine.UpToFoot(float64(l.ShortOf)), more))
		}
	}
	if len(above) > 0 {
		out = append(out, Caution{Code: CautionAboveTable, Text: "At and above the table's last column, 5000 ft: " + strings.Join(above, "; ") + "."})
	}
	for i := range res.Lines {
		switch res.Lines[i].Note {
		case ruleset.AboveTable:
			return append(out, Caution{Code: CautionAboveTable, Text: "Above the table's last column, 5000 ft, the accurate equation is used, and never less than that column."})
		case ruleset.ColderTable:
			return append(out, Caution{Code: CautionColderThanTable, Text: "Colder than the table's last row, −50 °C: the equation is used, and never less than that row."})
		case ruleset.WarmerTable:
			return append(out, Caution{Code: CautionWarmerThanTable, Text: "Warmer than the table's first row, +10 °C: the equation is used, and never more than that row."})
		case ruleset.WarmAir:
			return append(out, Caution{Code: CautionWarmAir, Text: "Not colder than standard at this elevation: nothing is added, and nothing is ever subtracted."})
		}
	}
	return out
}
