package reply

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/engine/ruleset"
)

// KindBrief is the preparation of a flight's arrivals; KindRoute an altitude
// on the way.
const (
	KindBrief Kind = "brief"
	KindRoute Kind = "route"
)

// Arrival is one arrival of a brief. Figures are in feet, times in UTC.
type Arrival struct {
	Station           Station   `json:"station"`
	At                time.Time `json:"at"`
	Local             string    `json:"local"` // as people there read it, with the day
	Alternate         bool      `json:"alternate,omitempty"`
	TemperatureC      OptFloat  `json:"temperature_c,omitzero"`
	Bound             bool      `json:"bound,omitempty"`    // it is no colder, and how cold is not known
	Observed          bool      `json:"observed,omitempty"` // now, and colder than the forecast
	TemperatureSource string    `json:"temperature_source,omitempty"`
	Issued            time.Time `json:"issued,omitzero"` // or observed
	RestrictionC      OptFloat  `json:"restriction_c,omitzero"`
	// BelowFrom and BelowTo are the hours at or below the line around it, where
	// the forecast has only extremes: Estimated, in whose Zone.
	BelowFrom time.Time      `json:"below_from,omitzero"`
	BelowTo   time.Time      `json:"below_to,omitzero"`
	Estimated bool           `json:"estimated,omitempty"`
	Longer    bool           `json:"longer,omitempty"` // it may be for longer: beyond them nothing is known
	Zone      *time.Location `json:"-" store:"-"`
	Required  OptBool        `json:"required,omitzero"`
	// RecomputeC is the temperature at and below which a figure changes, or a
	// correction comes to be required.
	RecomputeC OptFloat      `json:"recompute_c,omitzero"`
	Procedures []ArrivalPlan `json:"procedures,omitempty"`
	Note       string        `json:"note,omitempty"`  // what must be known first
	Doubt      string        `json:"doubt,omitempty"` // what of it is of the sources, or that the forecast is old, in a few words
	Unmet      []string      `json:"unmet,omitempty"` // a line of minimums or a way in that was asked for and a procedure has not
}

// ArrivalPlan is one procedure of an arrival, or of an alert's base.
type ArrivalPlan struct {
	Name      string    `json:"name"` // empty: of an alert's base without one, altitudes at some heights
	Stops     []Stop    `json:"stops,omitempty"`
	Altitudes []Row     `json:"altitudes"`
	Cautions  []Caution `json:"cautions,omitempty"`

	fitted  string // what the aircraft is taken to have
	checked bool   // the figures are a cross-check
}

// ArrivalPlanOf is one evaluated procedure of an arrival.
func ArrivalPlanOf(sc *Scene, res ruleset.Result) ArrivalPlan {
	p := ArrivalPlan{Name: sc.Procedure.Name, Cautions: sc.procedureCautions(nil), Altitudes: make([]Row, len(res.Lines))}
	for i := range res.Lines {
		p.Altitudes[i] = row(sc, res, &res.Lines[i], false)
	}
	tellWays(p.Altitudes, res)
	sc.settle(p.Altitudes, res, sc.Barred.Rows)
	p.Stops = sc.Barred.Stops
	p.fitted, p.checked = sc.fitted(res), sc.Guidance.Compensated
	return p
}

// Brief makes the reply. set is the rule set in force, by its scene.
func Brief(sc Scene, list []Arrival) Reply {
	r := Reply{Kind: KindBrief, Rules: sc.Set.ID, RulesVersion: sc.Set.Version, Unverified: sc.Set.Unverified, Method: sc.Set.Method, Arrivals: list, Source: sc.sourceLine()}
	// What is missing is said before anything is read.
	for _, a := range list {
		if a.Note != "" {
			r.Facts = append(r.Facts, fmt.Sprintf("%s: %s.", a.Station.Ident, a.Note))
		}
	}
	cold, bound, known := 0, 0, allKnown(list)
	for _, a := range list {
		switch {
		case a.Required == Yes && a.Bound: // it is no colder; it may well be warmer
			bound++
		case a.Required == Yes:
			cold++
		case a.Required == NotApplicable:
			known = false
		}
	}
	if cold == 0 && bound == 0 && known {
		r.Facts = append(r.Facts, "No correction will be required at these temperatures.")
	}
	if cold > 0 {
		r.Facts = append(r.Facts, fmt.Sprintf("Corrections will be required at %d of %d.", cold, len(list)))
	}
	if bound > 0 {
		r.Facts = append(r.Facts, fmt.Sprintf("Corrections may be required at %d of %d: no more than a bound is forecast.", bound, len(list)))
	}
	for _, a := range list {
		for _, p := range a.Procedures {
			r.Compensated = r.Compensated || p.checked
			if p.fitted != "" && !slices.Contains(r.Notes, p.fitted) {
				r.Notes = append(r.Notes, p.fitted)
			}
			for _, s := range p.Stops {
				r.Stops = append(r.Stops, Stop{s.Code, a.Station.Ident + " " + p.Name + ": " + s.Text})
			}
		}
	}
	for _, a := range list {
		r.Sections = append(r.Sections, a.section())
		for _, p := range a.Procedures {
			s := Section{Title: a.Station.Ident + " " + p.Name}
			for i := range p.Altitudes {
				s.Lines = append(s.Lines, briefRow(&p.Altitudes[i]))
			}
			r.Sections = append(r.Sections, s)
			for _, c := range p.Cautions {
				r.Cautions = append(r.Cautions, Caution{Code: c.Code, Text: a.Station.Ident + " " + p.Name + ": " + c.Text})
			}
		}
	}
	r.Cautions = append(r.Cautions,
		Caution{Code: CautionForecastOnly, Text: "Planned from forecasts: on arrival correct with the reported temperature, unless it is the one planned with."},
		settingStays,
	)
	if sc.Set.Unverified != "" {
		r.Cautions = append(r.Cautions, Caution{Code: CautionUnverified, Text: "Unverified rule set: " + sc.Set.Unverified})
	}
	return r
}

func allKnown(list []Arrival) bool {
	for _, a := range list {
		if !a.TemperatureC.OK {
			return false
		}
	}
	return true
}

// section is an arrival in words.
func (a Arrival) section() Section {
	title := a.Station.Ident
	if a.Station.Name != "" {
		title += " " + a.Station.Name
	}
	title += ", " + a.Local
	if a.Alternate {
		title += ", alternate"
	}
	s := Section{Title: title}
	if !a.TemperatureC.OK {
		s.Lines = append(s.Lines, "No forecast temperature: find it another way; this does not mean warm.")
		return s
	}
	line := fmt.Sprintf("Coldest %s °C in the hour before to the hour after, from %s", trim(a.TemperatureC.Value), a.TemperatureSource)
	if a.Bound {
		line = fmt.Sprintf("No colder than %s °C in the hour before to the hour after, from %s", trim(a.TemperatureC.Value), a.TemperatureSource)
	}
	if !a.Issued.IsZero() && a.Observed {
		line += ", observed " + a.Issued.UTC().Format("2 Jan 15:04Z")
	} else if !a.Issued.IsZero() {
		line += ", issued " + a.Issued.UTC().Format("2 Jan 15:04Z")
	}
	s.Lines = append(s.Lines, line+".")
	if hours := a.hours(); hours != "" {
		s.Lines = append(s.Lines, hours)
	}
	need := "Correction not required"
	switch {
	case a.Required == Yes && a.Bound:
		need = "Correction may be required"
	case a.Required == Yes:
		need = "Correction required"
	case a.Required == NotApplicable:
		need = "Whether a correction is required is not known"
	}
	if a.RestrictionC.OK {
		need += fmt.Sprintf(" (restriction %s °C)", trim(a.RestrictionC.Value))
	}
	if a.RecomputeC.OK {
		need += fmt.Sprintf("; recompute at %s °C or colder", trim(a.RecomputeC.Value))
	}
	s.Lines = append(s.Lines, need+".")
	if len(a.Procedures) == 0 {
		s.Lines = append(s.Lines, "No procedure is named or usual here: add one, as in “XKLD 1430 rnav 31”.")
	}
	return s
}

// hours are those at or below the line around it, in words; nothing where they
// are not estimated.
func (a Arrival) hours() string {
	if a.BelowFrom.IsZero() || a.Zone == nil {
		return ""
	}
	day := a.At.In(a.Zone).Format(time.DateOnly)
	c := Cold{BelowFrom: a.BelowFrom, BelowTo: a.BelowTo, Estimated: a.Estimated}
	return "At or below " + Celsius(a.RestrictionC.Value) + " " + c.Hours("–", " local", func(t time.Time) string {
		if t = t.In(a.Zone); t.Format(time.DateOnly) != day {
			return t.Format("Mon 15:04")
		}
		return t.Format("15:04")
	}) + a.longer() + "."
}

// longer says, with a comma before it, that the hours have no end that is known.
func (a Arrival) longer() string {
	if a.Longer {
		return ", or longer"
	}
	return ""
}

// UTCHours are those at or below the line around it, for a line that has its times
// in UTC; empty where they are not estimated.
func (a Arrival) UTCHours() string {
	c := Cold{BelowFrom: a.BelowFrom, BelowTo: a.BelowTo, Estimated: a.Estimated}
	if a.BelowFrom.IsZero() {
		return ""
	}
	return c.Hours("–", "Z", func(t time.Time) string {
		if t = t.UTC(); t.Format(time.DateOnly) != a.At.UTC().Format(time.DateOnly) {
			return t.Format("Mon 15:04")
		}
		return t.Format("15:04")
	}) + a.longer()
}

func briefRow(r *Row) string {
	if r.NoAltitude {
		return r.Name() + ": no altitude is published"
	}
	if r.State == StateNotUsable {
		return fmt.Sprintf("%s %s: not usable", r.Name(), trimFeet(r.PublishedFt))
	}
	return fmt.Sprintf("%s %s: %s ft, add %s", r.Name(), trimFeet(r.PublishedFt), WholeUp(r.CorrectedFt), WholeUp(r.CorrectionFt))
}

func trimFeet(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
}
