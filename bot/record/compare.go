package record

import (
	"fmt"
	"math"
	"strings"

	"firn/bot/reply"
)

// Compared is one altitude of a blind check, in feet.
type Compared struct {
	Label       string  `json:"label,omitempty"`
	PublishedFt float64 `json:"published_ft"`
	CorrectedFt float64 `json:"corrected_ft"`
	NeedFt      float64 `json:"need_ft"`
	EnteredFt   float64 `json:"entered_ft"`
	Agrees      bool    `json:"agrees"`
}

// wholeFoot is the step of a figure that is not rounded: people fly whole feet.
const wholeFoot = 1

// noise is what floating point may add to a figure.
const noise = 1e-6

// Compare holds an altitude that somebody worked out against the card's. It
// agrees when it is the card's (to the whole foot), or when it is safe and
// within the rounding rule: not below the corrected altitude before rounding,
// and less than one step of the rounding above the card's. Our rule; a
// published one for two people's figures is not known.
func Compare(n Number, entered float64) Compared {
	c := Compared{Label: n.Label, PublishedFt: n.PublishedFt, CorrectedFt: n.CorrectedFt, NeedFt: n.NeedFt, EnteredFt: entered}
	same := math.Abs(entered-n.CorrectedFt) < noise || math.Abs(entered-math.Ceil(n.CorrectedFt-noise)) < noise
	safe := entered >= n.NeedFt-noise && entered < n.CorrectedFt+max(n.StepFt, wholeFoot)-noise
	c.Agrees = same || safe
	return c
}

// name is the altitude as people say it.
func (c Compared) name() string { return altitudeName(c.Label, c.PublishedFt) }

func altitudeName(label string, published float64) string {
	return strings.TrimSpace(label + " " + reply.WholeUp(published))
}

// entered writes what somebody typed.
func entered(v float64) string {
	if v == math.Trunc(v) {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.1f", v)
}

// String says whether it agrees, or by how much it does not.
func (c Compared) String() string {
	off := c.EnteredFt - math.Ceil(c.CorrectedFt-noise)
	switch {
	case c.Agrees && off == 0:
		return fmt.Sprintf("%s: %s on both sides", c.name(), reply.WholeUp(c.CorrectedFt))
	case c.Agrees:
		return fmt.Sprintf("%s: %s entered, %s on the card; within the rounding", c.name(), entered(c.EnteredFt), reply.WholeUp(c.CorrectedFt))
	case off > 0 && c.EnteredFt < c.NeedFt:
		return fmt.Sprintf("%s: %s entered, below the %s that is needed before rounding", c.name(), entered(c.EnteredFt), reply.WholeUp(c.NeedFt))
	case off < 0:
		return fmt.Sprintf("%s: %s entered, %s ft below the card's %s", c.name(), entered(c.EnteredFt), reply.WholeUp(-off), reply.WholeUp(c.CorrectedFt))
	}
	return fmt.Sprintf("%s: %s entered, %s ft above the card's %s", c.name(), entered(c.EnteredFt), reply.WholeUp(off), reply.WholeUp(c.CorrectedFt))
}
