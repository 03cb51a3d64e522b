package ruleset

import (
	"errors"
	"fmt"

	"firn/engine"
	"firn/engine/atmosphere"
	"firn/engine/correction"
)

// compileRequire checks one entry of Require, the one at index i.
func compileRequire(r Require, i int) (c require, err error) {
	c = require{Condition: r.When, rule: i}
	if len(r.Altitudes) == 0 {
		return c, errors.New("altitudes is missing: say which are corrected")
	}
	if c.who, err = parseSelector(r.Altitudes); err != nil {
		return c, fmt.Errorf("altitudes: %w", err)
	}
	if c.over, err = parseSelector(r.When.Over); err != nil {
		return c, fmt.Errorf("over: %w", err)
	}
	if t := r.When.AtOrBelowC; t != nil && !(engine.Celsius(*t) >= atmosphere.ColdestAir && engine.Celsius(*t) <= atmosphere.WarmestAir) {
		return c, fmt.Errorf("at_or_below_c %g: %.0f to %.0f", *t, float64(atmosphere.ColdestAir), float64(atmosphere.WarmestAir))
	}
	if h := r.When.HigherFt; h != nil && !(engine.Height(*h) >= 0 && engine.Height(*h) <= correction.MaxHeight) {
		return c, fmt.Errorf("higher_than_ft %g: 0 to %.0f", *h, float64(correction.MaxHeight))
	}
	if (r.When.HigherFt == nil) != (len(r.When.Over) == 0) {
		return c, errors.New("higher_than_ft and over go together")
	}
	if !r.When.Published && !r.When.Operator && r.When.AtOrBelowC == nil && !r.When.Colder {
		return c, errors.New("a temperature condition is missing (published, operator, at_or_below_c or colder_than_standard)")
	}
	return c, nil
}

// warmestLine: no restriction temperature is published above it, and no
// operator corrects above it. Ours; the configuration has the same bound.
const warmestLine engine.Celsius = 10

// conditions says which entries of Require hold, a bit each, and of which it
// is not known, for a temperature that is not.
func (s *Set) conditions(in Input, designated uint16) (holds, unknown uint64) {
	t := in.Air.Temperature
	cold := colderThanStandard(in.Air)
	for j := range s.require {
		c := &s.require[j]
		open := c.Published && !in.HasPublished && (cold || t <= warmestLine) || c.Operator && !s.hasThreshold && cold
		switch {
		case c.AtOrBelowC != nil && !atOrBelow(t, engine.Celsius(*c.AtOrBelowC)):
		case c.Colder && !cold:
		case c.Mountainous && !in.Mountainous:
		case c.HigherFt != nil && !anyHigher(in, c.over, designated, engine.Height(*c.HigherFt)):
		case open:
			unknown |= 1 << j
		case c.Published && !(in.HasPublished && atOrBelow(t, in.Restriction)):
		case c.Operator && !(s.hasThreshold && atOrBelow(t, s.threshold)):
		default:
			holds |= 1 << j
		}
	}
	return holds, unknown
}

// atOrBelow is how a restriction temperature binds (FAA AIM 7-3-5 b).
func atOrBelow(t, limit engine.Celsius) bool { return t <= limit+noise }

func colderThanStandard(air correction.Air) bool {
	return air.Temperature < atmosphere.StandardTemperature(air.Source)-noise
}

func anyHigher(in Input, over selector, designated uint16, limit engine.Height) bool {
	for i := range in.Points {
		if p := &in.Points[i]; !p.NoAltitude && over.has(p, designated) && p.Altitude.Above(in.Air.Source) > limit+noise {
			return true
		}
	}
	return false
}
