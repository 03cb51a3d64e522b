package chartyaml

import (
	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

// rules holds the procedure against what every approach keeps to.
func (c *chart) rules() {
	c.datesInOrder()
	c.oneFinalFix()
	c.descending()
	c.aboveTheField()
	c.minimumsFit()
	c.missedFits()
	c.barometric()
}

func (c *chart) datesInOrder() {
	if !c.a.End.After(c.a.Effective) {
		c.add(c.at["end"], "end %s is not after effective %s: end is the day the next edition begins",
			c.a.End.Format("2006-01-02"), c.a.Effective.Format("2006-01-02"))
	}
}

// oneFinalFix: an approach has one final approach fix, unless it says that it
// has none or has circling minimums alone; and at most one intermediate fix,
// before it.
func (c *chart) oneFinalFix() {
	var finalFix, intermediate *fix
	for i := range c.fixes {
		f := &c.fixes[i]
		switch f.Role {
		case approach.FinalFix:
			if finalFix != nil {
				c.add(f.node, "%s is a second final approach fix; an approach has one, and %s is given already", f.name(), finalFix.name())
				continue
			}
			finalFix = f
			if f.Limit == approach.AtOrBelow {
				c.add(f.node, "%s is the final approach fix and has a ceiling alone, below %s: write its altitude as at or above, or both bounds as between", f.name(), ft(f.Altitude))
			}
		case approach.IntermediateFix:
			switch {
			case finalFix != nil:
				c.add(f.node, "%s is an intermediate fix after the final approach fix %s; write the fixes in the order they are flown", f.name(), finalFix.name())
			case intermediate != nil && intermediate.Fix != f.Fix:
				c.add(f.node, "%s is a second intermediate fix, and %s is given already", f.name(), intermediate.name())
			}
			intermediate = f
		case approach.InitialFix, approach.Hold, approach.ProcedureTurn, approach.Arc:
			if finalFix != nil {
				c.add(f.node, "%s is an %s after the final approach fix %s; write the fixes in the order they are flown", f.name(), f.Role, finalFix.name())
			}
		}
	}
	switch {
	case finalFix != nil && c.a.NoFinalFix:
		c.add(c.at["final_fix"], "final_fix is none, and %s is one; remove the line", finalFix.name())
	case finalFix == nil && !c.a.NoFinalFix && !c.circlingOnly():
		c.add(c.at["fixes"], `no fix has "role: FAF"; where the chart has no final approach fix, write "final_fix: none"`)
	case len(c.fixes) == 0:
		c.add(c.at["fixes"], "fixes is empty")
	}
	c.a.NoFinalFix = finalFix == nil
}

func (c *chart) circlingOnly() bool {
	for _, m := range c.a.Minimums {
		if m.Role != procedure.Circling {
			return false
		}
	}
	return len(c.a.Minimums) > 0
}

// descending: no altitude is higher than the one flown before it. An initial
// approach fix or a hold begins anew; it is not lower than where it leads.
func (c *chart) descending() {
	var before *fix
	for i := range c.fixes {
		f := &c.fixes[i]
		floor, ok := f.Floor()
		if begins(f.Role) {
			before = nil
		}
		if !ok {
			continue
		}
		if before != nil {
			if last, _ := before.Floor(); floor > last {
				c.add(f.node, "%s %s is above %s %s, which is flown before it: the altitudes of an approach descend",
					f.name(), ft(floor), before.name(), ft(last))
			}
		}
		before = f
	}
	var target *fix // what every initial altitude leads to
	for i := range c.fixes {
		if _, ok := c.fixes[i].Floor(); ok && opensFinal(c.fixes[i].Role) {
			target = &c.fixes[i]
			break
		}
	}
	if target == nil {
		return
	}
	goal, _ := target.Floor()
	for i := range c.fixes {
		f := &c.fixes[i]
		if f == target || opensFinal(f.Role) {
			break
		}
		if floor, ok := f.Floor(); ok && floor < goal && leads(c.fixes, i) {
			c.add(f.node, "%s %s is below %s %s, to which it leads: the altitudes of an approach descend", f.name(), ft(floor), target.name(), ft(goal))
		}
	}
}

// leads says whether the fix after i begins anew or is the final route's: so
// each breach is said once.
func leads(fixes []fix, i int) bool {
	return i+1 < len(fixes) && begins(fixes[i+1].Role)
}

func (c *chart) aboveTheField() {
	if !c.hasElevation {
		return
	}
	for i := range c.fixes {
		f := &c.fixes[i]
		low := f.Altitude
		if f.Limit == approach.Between {
			low = f.Altitude2
		}
		if f.Limit != approach.NoAltitude && low <= c.elevation {
			c.add(f.node, "%s %s is not above the field at %s", f.name(), ft(low), ft(c.elevation))
		}
	}
	for i, m := range c.a.Minimums {
		if m.Altitude <= c.elevation {
			c.add(c.minimums[i], "%s %s is not above the field at %s", m.Name, ft(m.Altitude), ft(c.elevation))
		}
	}
	if c.a.HasSector && c.a.SectorAltitude <= c.elevation {
		c.add(c.at["msa_ft"], "msa_ft %s is not above the field at %s", ft(c.a.SectorAltitude), ft(c.elevation))
	}
	if c.a.MissedAltitude <= c.elevation {
		c.add(c.at["missed_ft"], "missed_ft %s is not above the field at %s", ft(c.a.MissedAltitude), ft(c.elevation))
	}
}

// minimumsFit: a minimum lies below the final approach fix and is given once;
// a step-down fix inside it is not below the lowest minimum.
func (c *chart) minimumsFit() {
	if len(c.a.Minimums) == 0 {
		c.add(c.at["minimums"], "minimums is empty")
		return
	}
	lines := map[string]bool{}
	lowest := c.a.Minimums[0].Altitude
	for i, m := range c.a.Minimums {
		if lines[m.Name] {
			c.add(c.minimums[i], "%s is given twice; remove one of them", m.Name)
		}
		lines[m.Name] = true
		lowest = min(lowest, m.Altitude)
		for j := range c.fixes {
			f := &c.fixes[j]
			if floor, ok := f.Floor(); ok && f.Role == approach.FinalFix && m.Altitude >= floor {
				c.add(c.minimums[i], "%s %s is not below the final approach fix %s at %s", m.Name, ft(m.Altitude), f.name(), ft(floor))
			}
		}
	}
	for i := range c.fixes {
		f := &c.fixes[i]
		if floor, ok := f.Floor(); ok && floor < lowest {
			c.add(f.node, "%s %s is below every minimum, the lowest is %s", f.name(), ft(floor), ft(lowest))
		}
	}
}

func (c *chart) missedFits() {
	for i, m := range c.a.Minimums {
		if c.a.MissedAltitude < m.Altitude {
			c.add(c.at["missed_ft"], "missed_ft %s is below %s %s on line %d", ft(c.a.MissedAltitude), m.Name, ft(m.Altitude), start(c.minimums[i]).Position.Line)
			return
		}
	}
}

// barometric: temperature limits and barometric lines belong together, and
// both need the angle of the path.
func (c *chart) barometric() {
	line := -1
	for i, m := range c.a.Minimums {
		if m.Barometric && line < 0 {
			line = i
		}
	}
	b := c.a.Baro
	switch {
	case line < 0 && b.HasLow:
		c.add(c.at["baro_low_c"], "a temperature limit without a barometric line; name the line LNAV/VNAV or RNP, or add baro: true to it")
	case line < 0 && b.HasHigh:
		c.add(c.at["baro_high_c"], "a temperature limit without a barometric line; name the line LNAV/VNAV or RNP, or add baro: true to it")
	case line >= 0 && !c.a.HasAngle:
		c.add(c.minimums[line], "%s is barometric and vertical_angle_deg is missing; add the angle of its path, such as vertical_angle_deg: 3", c.a.Minimums[line].Name)
	}
	if b.HasLow && b.HasHigh && b.Low >= b.High {
		c.add(c.at["baro_low_c"], "baro_low_c %s is not below baro_high_c %s", plain(float64(b.Low)), plain(float64(b.High)))
	}
}

func ft(a engine.Altitude) string { return plain(float64(a)) }
