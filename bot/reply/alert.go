package reply

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
	"firn/engine/correction"
	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// AlertScene is what an alert is about.
type AlertScene struct {
	Base        Scene // ident, name, elevations, restriction, rule set, rounding
	Zone        *time.Location
	Segments    []procedure.Segment
	Mountainous bool
	Margin      engine.CelsiusDelta
	Usual       []UsualProcedure // empty: corrections by height are shown

	Kind      string           // opened, amended, repeated, escalated, all-clear, ended
	Day       string           // the base's local day, 2026-01-15
	Window    coldwatch.Window // that was judged
	Rest      bool             // it is only what is left of the duty window
	Judgement coldwatch.Judgement
	Changes   []coldwatch.Change // since the last alert
	Acks      []AlertAck         // in order of time
	Waiting   time.Duration      // how long nobody has acknowledged, for repeated and escalated
	Due, Now  time.Time
}

// AlertAck is one acknowledgement.
type AlertAck struct {
	By     string
	At     time.Time
	Before bool // of a word before this one changed it
}

// UsualProcedure is one that a base uses, for the corrections to expect.
type UsualProcedure struct {
	Guidance Guidance
	Name     string
	Points   []procedure.Point
}

// lateAlert is from when an alert says that it is late. The figure is ours.
const lateAlert = 5 * time.Minute

// sampleHeights are the heights above the field that corrections are shown for
// where no procedure is stored.
var sampleHeights = []engine.Height{500, 1000, 2000, 3000}

// Alert makes the reply of one word of the watch.
func Alert(sc AlertScene) Reply {
	j := sc.Judgement
	cold := sc.cold()
	cold.Kind = sc.Kind
	r := Reply{
		Kind:     KindAlert,
		Station:  Station{Ident: sc.Base.Ident, Name: sc.Base.Name, ElevationFt: cents(float64(sc.Base.Elevation)), Known: true},
		Headline: sc.short(),
		Alert:    &cold,
	}
	r.Facts = append(make([]string, 0, 10), sc.headline())
	over := sc.Kind == "all-clear" || sc.Kind == "ended"
	if j.State == coldwatch.NoForecast {
		r.Facts = append(r.Facts, sc.without())
	} else if !j.LowAt.IsZero() {
		r.TemperatureC, r.TemperatureSource = cold.LowC, j.Source
		r.Facts = append(r.Facts, sc.low())
		if !over {
			r.Stops = sc.stops()
		}
	}
	if j.State == coldwatch.Below && !over {
		r.Facts = append(r.Facts, sc.hours(), sc.segments())
	}
	r.Facts = append(r.Facts, sc.windowLine())
	if s := sc.source(); s != "" {
		r.Facts = append(r.Facts, s)
	}
	if further := j.Further(); further != "" && j.State != coldwatch.NoForecast {
		r.Facts = append(r.Facts, sentence(further))
	}
	if len(sc.Changes) > 0 {
		texts := make([]string, len(sc.Changes))
		for i, c := range sc.Changes {
			texts[i] = c.Text
		}
		r.Facts = append(r.Facts, "Since the last word: "+strings.Join(texts, "; ")+".")
	}
	for i, a := range sc.Acks {
		if i+1 < len(sc.Acks) && sc.Acks[i+1].Before {
			continue // of words before that one
		}
		what := "Acknowledged by"
		if a.Before {
			what = "The word before it was acknowledged by"
		}
		r.Facts = append(r.Facts, fmt.Sprintf("%s %s at %s.", what, a.By, sc.at(a.At)))
	}
	if late := sc.Now.Sub(sc.Due); late >= lateAlert {
		r.Facts = append(r.Facts, fmt.Sprintf("Late: this was due at %s and was made at %s.", sc.at(sc.Due), sc.at(sc.Now)))
	}
	if j.Note != "" && j.State != coldwatch.NoForecast {
		r.Cautions = append(r.Cautions, Caution{Code: CautionForecastNote, Text: sentence(j.Note)})
	}
	if age := sc.Now.Sub(j.Issued); !j.Issued.IsZero() && age > weather.OldForecast {
		r.Cautions = append(r.Cautions, Caution{Code: CautionOldForecast, Text: "The forecast is " + Age(age) + "."})
	}
	if j.State == coldwatch.Below && !over {
		sc.corrections(&r)
		r.Cautions = append(r.Cautions, Caution{Code: CautionForecastOnly, Text: "Planned from a forecast: on arrival correct with the reported temperature."})
	}
	if !over {
		r.Actions = sc.actions()
	}
	return r
}

func (sc AlertScene) cold() Cold { return ColdOf(sc.Base.Ident, sc.Judgement) }

// headline is the base, its day and the state, in words.
func (sc AlertScene) headline() string {
	base := sc.Base.Ident
	if sc.Base.Name != "" {
		base += " " + sc.Base.Name
	}
	day := sc.Day
	if d, err := time.Parse(time.DateOnly, sc.Day); err == nil {
		day = d.Format("Mon 2 Jan")
	}
	what := "Cold alert"
	switch sc.Kind {
	case "amended":
		what = "Cold alert, amended"
	case "repeated":
		what = "Reminder, not acknowledged for " + span(sc.Waiting)
	case "escalated":
		what = "Escalated, not acknowledged for " + span(sc.Waiting)
	case "all-clear":
		what = "All clear"
	case "ended":
		what = "Watch ended"
	default:
		if sc.Judgement.State == coldwatch.Near || sc.Judgement.State == coldwatch.Clear {
			what = "Cold watch"
		}
	}
	return fmt.Sprintf("%s: %s, %s. %s", what, base, day, sc.state())
}

// state is the judgement's, in words.
func (sc AlertScene) state() string {
	line := "the restriction temperature, " + Celsius(sc.Base.Restriction)
	switch {
	case sc.Kind == "ended":
		return sc.ended()
	case sc.Kind == "all-clear":
		return "Nothing at or below or near " + line + ", for the rest of the duty window."
	case sc.Judgement.State == coldwatch.NoForecast:
		return "No forecast: this does not mean warm."
	case sc.Judgement.State == coldwatch.PartForecast:
		what := "Nothing at or below or near"
		if l := (coldwatch.Line{Restriction: sc.Base.Restriction, Margin: sc.Margin}); l.Of(sc.Judgement.Low) == coldwatch.Near {
			what = "Near, not at or below,"
		}
		return fmt.Sprintf("%s %s as far as the forecast goes, %s: this does not mean warm.", what, line, sc.covered())
	case !sc.Base.Restricted:
		return "No restriction temperature is published here."
	case sc.Judgement.State == coldwatch.Below:
		return "At or below " + line + "."
	case sc.Judgement.State == coldwatch.Near:
		return fmt.Sprintf("Near %s: within %s °C above it.", line, trim(float64(sc.Margin)))
	}
	return "Nothing at or below or near " + line + "."
}

// covered is the part of the window that is known; what has gone by is no news.
func (sc AlertScene) covered() string {
	j := sc.Judgement
	if j.CoveredFrom.After(sc.Window.From.Add(time.Hour)) && j.CoveredFrom.After(sc.Now) {
		return fmt.Sprintf("from %s to %s; not known before and after", sc.at(j.CoveredFrom), sc.at(j.CoveredTo))
	}
	return fmt.Sprintf("to %s; not known after", sc.at(j.CoveredTo))
}

// ended is how it is when the duty window ends.
func (sc AlertScene) ended() string {
	j := sc.Judgement
	line := Celsius(sc.Base.Restriction)
	switch {
	case j.State == coldwatch.Clear, j.State == coldwatch.Near:
		return "No longer at or below " + line + "."
	case j.State == coldwatch.Below && sc.bound() && (j.BelowFrom.IsZero() || !j.BelowFrom.Before(sc.Window.To)):
		return "How cold it is now, is not known."
	case j.State == coldwatch.Below && j.HoursKnown && !j.BelowTo.Before(sc.Window.To):
		return "Still at or below " + line + "."
	case j.State == coldwatch.Below && j.Estimated():
		return fmt.Sprintf("It was at or below %s from %s; whether it still is, is not known.", line, sc.cold().Hours(" to ", "", sc.at))
	case j.State == coldwatch.Below && j.HoursKnown && !j.BelowTo.IsZero():
		return fmt.Sprintf("It was forecast at or below %s to %s.", line, sc.at(j.BelowTo))
	case j.State == coldwatch.Below:
		return fmt.Sprintf("It was at or below %s; whether it still is, is not known.", line)
	}
	return "How cold it is, is not known: this does not mean warm."
}

// bound says that the low is a forecast minimum outside the window. A day that
// ends may be judged by the values of the hour behind it, which are none.
func (sc AlertScene) bound() bool {
	return sc.Judgement.Bound(sc.Window) && (sc.Kind != "ended" || !sc.Judgement.HoursKnown)
}

// low is the lowest temperature and when.
func (sc AlertScene) low() string {
	j := sc.Judgement
	if sc.bound() {
		return fmt.Sprintf("No colder than %s °C, forecast for %s, %s.", Degrees(j.Low), sc.at(j.LowAt), sc.Window.Beside(j.LowAt))
	}
	return fmt.Sprintf("Lowest %s °C at %s.", Degrees(j.Low), sc.at(j.LowAt))
}

// hours are those at or below the line, or that they are not known.
func (sc AlertScene) hours() string {
	hours := sc.cold().Hours(" to ", "", sc.at)
	line := Degrees(sc.Judgement.Restriction)
	if hours == "" {
		return fmt.Sprintf("The hours at or below %s °C are not known: the forecast has only extremes.", line)
	}
	return fmt.Sprintf("At or below %s °C from %s.", line, hours)
}

// segments are those affected.
func (sc AlertScene) segments() string {
	names := make([]string, len(sc.Segments))
	for i, s := range sc.Segments {
		names[i] = s.String()
	}
	return "Segments affected: " + strings.Join(names, ", ") + "."
}

// without says why there is no forecast and what to do.
func (sc AlertScene) without() string {
	why := sentence(sc.Judgement.Note)
	if sc.Judgement.Source != "" && !strings.Contains(why, sc.Judgement.Source) {
		why = sc.Judgement.Source + ": " + sc.Judgement.Note + "."
	}
	if sc.Base.Restricted {
		why += fmt.Sprintf(" The restriction temperature is %s °C: find the temperature another way.", Degrees(sc.Base.Restriction))
	}
	return why
}

func (sc AlertScene) windowLine() string {
	what := "Duty window"
	if sc.Rest {
		what = "Rest of the duty window,"
	}
	line := fmt.Sprintf("%s %s to %s.", what, sc.at(sc.Window.From), sc.at(sc.Window.To))
	// A cold that is forecast may not be the lowest of what is not.
	j := sc.Judgement
	if over := sc.Kind == "all-clear" || sc.Kind == "ended"; j.State == coldwatch.Below && !over && leavesOut(j.CoveredTo, sc.Window.To) {
		line += " The forecast goes " + sc.covered() + "."
	}
	return line
}

// source is where the forecast is from, when it was issued and how old it is.
func (sc AlertScene) source() string {
	j := sc.Judgement
	switch {
	case j.Source == "":
		return ""
	case j.Issued.IsZero():
		return "Source: " + j.Source + "; when it was issued is not known."
	}
	return fmt.Sprintf("Source: %s, issued %s, %s.", j.Source, sc.at(j.Issued), Age(sc.Now.Sub(j.Issued)))
}

// at is an instant in the base's time and in UTC, with the day where it is
// not the alert's own.
func (sc AlertScene) at(t time.Time) string {
	local := t.In(sc.Zone)
	form := "15:04"
	if local.Format(time.DateOnly) != sc.Day {
		form = "Mon 15:04"
		if sc.Now.Sub(t).Abs() >= 6*24*time.Hour {
			form = "Mon 2 Jan 15:04"
		}
	}
	return local.Format(form) + " local (" + t.UTC().Format("15:04Z") + ")"
}

// corrections adds those to expect at the low.
func (sc AlertScene) corrections(r *Reply) {
	b := sc.Base
	if b.Set == nil {
		return
	}
	b.Temperature.C = sc.Judgement.Low
	r.Rules, r.RulesVersion, r.Unverified, r.Method = b.Set.ID, b.Set.Version, b.Set.Unverified, b.Set.Method
	r.Source = b.sourceLine()
	if b.Set.Unverified != "" {
		r.Cautions = append(r.Cautions, Caution{Code: CautionUnverified, Text: "Unverified rule set: " + b.Set.Unverified})
	}
	in := ruleset.Input{
		Air:         correction.Air{Temperature: sc.Judgement.Low, Source: b.Source},
		Restriction: b.Restriction, HasPublished: b.Restricted,
		Designated:  sc.Segments,
		Mountainous: sc.Mountainous,
		Outside:     b.Outside,
		FieldAbove:  engine.Feet(b.Elevation - b.Source),
	}
	for _, u := range sc.Usual {
		in.Points = u.Points
		b.Guidance, b.Procedure = u.Guidance, Procedure{Name: u.Name}
		b.Barred = b.Bar(u.Points)
		expect(r, b, in)
	}
	if len(sc.Usual) > 0 {
		return
	}
	in.Points = nil
	for _, h := range sampleHeights {
		in.Points = append(in.Points, procedure.Point{Altitude: h.Over(b.Elevation)})
	}
	b.Guidance, b.Procedure, b.Barred = Guidance{}, Procedure{}, Barred{}
	expect(r, b, in)
}

// stops are what forbids at the lowest temperature, also where it is warmer than
// the restriction temperature: a barometric limit is another figure.
func (sc AlertScene) stops() (out []Stop) {
	b := sc.Base
	b.Temperature.C = sc.Judgement.Low
	for _, u := range sc.Usual {
		b.Guidance, b.Procedure = u.Guidance, Procedure{Name: u.Name}
		for _, s := range b.Bar(u.Points).Stops {
			out = append(out, Stop{s.Code, u.Name + ": " + s.Text})
		}
	}
	return out
}

// expect adds the corrections of one procedure.
func expect(r *Reply, sc Scene, in ruleset.Input) {
	res, err := sc.Set.Evaluate(in)
	if err != nil {
		r.Cautions = append(r.Cautions, Caution{Code: CautionNoFigure, Text: strings.TrimPrefix(sc.Procedure.Name+": no figure: ", ": ") + err.Error() + "."})
		r.Expected = append(r.Expected, ArrivalPlan{Name: sc.Procedure.Name})
		return
	}
	r.Expected = append(r.Expected, ArrivalPlanOf(&sc, res))
}

// actions are what a person may type or press.
func (sc AlertScene) actions() []Action {
	ident := sc.Base.Ident
	var out []Action
	if sc.Judgement.State != coldwatch.Clear {
		out = append(out, Action{ID: "ack", Label: "Acknowledge", Message: "ack " + ident})
	}
	switch sc.Judgement.State {
	case coldwatch.Below:
		out = append(out, Action{ID: "snooze", Label: "Snooze 2 h", Message: "snooze " + ident + " 2h"},
			Action{ID: ActionWhy, Label: "Show the working", Message: sc.whyLine()})
	case coldwatch.NoForecast, coldwatch.PartForecast:
		out = append(out, Action{ID: "snooze", Label: "Snooze 2 h", Message: "snooze " + ident + " 2h"})
	}
	return out
}

// whyLine asks for the working of the figures that are shown: those of the
// first usual procedure, else those by height.
func (sc AlertScene) whyLine() string {
	low := strconv.FormatFloat(float64(sc.Judgement.Low.ColderTenth())+0, 'f', -1, 64)
	if len(sc.Usual) > 0 {
		return fmt.Sprintf("why %s %s %s", sc.Base.Ident, sc.Usual[0].Name, low)
	}
	b := fmt.Appendf(nil, "why %s %s", sc.Base.Ident, low)
	for _, h := range sampleHeights {
		b = fmt.Appendf(b, " %.0f", math.Ceil(float64(h.Over(sc.Base.Elevation))))
	}
	return string(b)
}

// span is a length of time for people.
func span(d time.Duration) string {
	m := int(d.Round(time.Minute).Minutes())
	switch {
	case m < 60:
		return fmt.Sprintf("%d min", m)
	case m%60 == 0:
		return fmt.Sprintf("%d h", m/60)
	}
	return fmt.Sprintf("%d h %d min", m/60, m%60)
}

// sentence makes one of a note.
func sentence(s string) string {
	if s == "" {
		return "No reason is known."
	}
	return strings.ToUpper(s[:1]) + s[1:] + "."
}
