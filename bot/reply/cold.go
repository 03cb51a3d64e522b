package reply

import (
	"time"

	"firn/engine/coldwatch"
)

// Cold is what the watch says of a base; its JSON form is a contract with
// other programs. Times are in UTC.
type Cold struct {
	Ident        string    `json:"ident"`
	State        string    `json:"state"`
	Kind         string    `json:"kind,omitempty"` // of an alert: opened, amended, repeated, escalated, all-clear, ended
	LowC         OptFloat  `json:"low_c,omitzero"`
	LowAt        time.Time `json:"low_at,omitzero"`
	BelowFrom    time.Time `json:"below_from,omitzero"`
	BelowTo      time.Time `json:"below_to,omitzero"`
	Estimated    bool      `json:"estimated,omitempty"`   // the hours, from the forecast's extremes
	CoveredFrom  time.Time `json:"covered_from,omitzero"` // the part of the duty window that is forecast
	CoveredTo    time.Time `json:"covered_to,omitzero"`
	RestrictionC OptFloat  `json:"restriction_c,omitzero"`
	Source       string    `json:"source,omitempty"`
	Issued       time.Time `json:"issued,omitzero"`
	Note         string    `json:"note,omitempty"`
	// Doubt is what Note says of the sources, or that the forecast is old, in a few words.
	Doubt string `json:"doubt,omitempty"`
	// Past says that the low has gone by, and the hours at or below the line where they
	// are known: how cold it still is, is not known.
	Past bool `json:"past,omitempty"`
	// SnoozedUntil is until when nobody is reminded of it; absent where nobody
	// asked for that, or it is over.
	SnoozedUntil time.Time `json:"snoozed_until,omitzero"`
	// SeenBy has seen the alert of it that holds, at SeenAt.
	SeenBy string    `json:"seen_by,omitempty"`
	SeenAt time.Time `json:"seen_at,omitzero"`
	// ObservedC is observed, at ObservedAt: at or below the line, where no forecast is.
	ObservedC  OptFloat  `json:"observed_c,omitzero"`
	ObservedAt time.Time `json:"observed_at,omitzero"`
	// Began is when the duty window begins or has begun; zero: not known.
	Began time.Time `json:"-" store:"-"`
	// Open says that its alert may be acknowledged and snoozed.
	Open bool `json:"-" store:"-"`
}

// ColdOf puts a judgement of a base into its contract form.
func ColdOf(ident string, j coldwatch.Judgement) Cold {
	c := Cold{
		Ident:       ident,
		State:       j.State.String(),
		BelowFrom:   j.BelowFrom.UTC(),
		BelowTo:     j.BelowTo.UTC(),
		Estimated:   j.Estimated(),
		CoveredFrom: j.CoveredFrom.UTC(),
		CoveredTo:   j.CoveredTo.UTC(),
		Source:      j.Source,
		Issued:      j.Issued.UTC(),
		Note:        j.Note,
	}
	if j.Restriction > coldwatch.NoRestriction {
		c.RestrictionC = Some(float64(j.Restriction))
	}
	if !j.LowAt.IsZero() {
		c.LowC, c.LowAt = Some(-centsUp(-float64(j.Low))+0), j.LowAt.UTC()
	}
	return c
}

// Observe has a base whose forecast is not at or below its line have what is observed
// there, where that is.
func (c *Cold) Observe(celsius float64, at time.Time) {
	if c.State != coldwatch.Below.String() && c.RestrictionC.OK && celsius <= c.RestrictionC.Value {
		c.ObservedC, c.ObservedAt = Some(celsius), at.UTC()
	}
}

// passed is how long ago a low was to be past: it is forecast for an hour.
const passed = time.Hour

// Pass says of a base that is below its line whether that has gone by at an instant.
func (c *Cold) Pass(now time.Time) {
	c.Past = c.State == coldwatch.Below.String() && c.LowC.OK && now.Sub(c.LowAt) > passed && !c.BelowTo.After(now)
}

// stillCold is what is known once the low has gone by.
const stillCold = "past; how cold it still is, is not known"

// leavesOut says that a forecast ends before a window does, but for its last hours.
func leavesOut(covered, to time.Time) bool {
	return !covered.IsZero() && covered.Before(to.Add(-coldwatch.Tail))
}

// Is is the worse of the forecast's state and the observation's.
func (c Cold) Is() string {
	if c.ObservedC.OK {
		return coldwatch.Below.String()
	}
	return c.State
}

// LowBeyond says, with a comma before it, that the low lies beyond the hours that
// are given: a minimum that is forecast beside the duty window, or was for an
// earlier hour of it, is a bound for what is left. Empty where it does not.
func (c Cold) LowBeyond() string {
	switch {
	case !c.LowC.OK || c.BelowFrom.IsZero():
		return ""
	case c.LowAt.Before(c.BelowFrom) && !c.Began.IsZero() && !c.LowAt.Before(c.Began):
		return ", earlier in the window"
	case c.LowAt.Before(c.BelowFrom):
		return ", before the window"
	case c.LowAt.After(c.BelowTo):
		return ", after the window"
	}
	return ""
}

// Hours are those at or below the line in words, between their ends sep and
// behind them unit; at writes an instant. Estimated ones say so, and are rounded
// outwards to the quarter of an hour, which is the same in every zone. Empty
// where the hours are not known.
func (c Cold) Hours(sep, unit string, at func(time.Time) string) string {
	switch {
	case c.BelowFrom.IsZero():
		return ""
	case c.Estimated:
		const quarter = 15 * time.Minute
		return "about " + at(c.BelowFrom.Truncate(quarter)) + sep + at(c.BelowTo.Add(quarter-1).Truncate(quarter)) + unit + " (estimated)"
	}
	return at(c.BelowFrom) + sep + at(c.BelowTo) + unit
}
