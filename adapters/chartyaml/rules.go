package chartyaml

import (
	"slices"
	"strings"

	"firn/bot/approach"
	"firn/bot/strictyaml"
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
	c.branches()
	c.kindOfLine()
	c.remoteSource()
}

func (c *chart) datesInOrder() {
	if !c.a.End.After(c.a.Effective) {
		c.Add(c.at["end"], "end %s is not after effective %s: end is the day the next edition begins",
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
				c.Add(f.node, "%s is a second final approach fix; an approach has one, and %s is given already", f.name(), finalFix.name())
				continue
			}
			finalFix = f
			if f.Limit == approach.AtOrBelow {
				c.Add(f.node, "%s is the final approach fix and has a ceiling alone, below %s: write its altitude as at or above, or both bounds as between", f.name(), ft(f.Altitude))
			}
		case approach.IntermediateFix:
			switch {
			case finalFix != nil:
				c.Add(f.node, "%s is an intermediate fix after the final approach fix %s; write the fixes in the order they are flown", f.name(), finalFix.name())
			case intermediate != nil && intermediate.Fix != f.Fix:
				c.Add(f.node, "%s is a second intermediate fix, and %s is given already", f.name(), intermediate.name())
			}
			intermediate = f
		case approach.InitialFix, approach.Hold, approach.ProcedureTurn, approach.Arc:
			if finalFix != nil {
				c.Add(f.node, "%s is an %s after the final approach fix %s; write the fixes in the order they are flown", f.name(), f.Role, finalFix.name())
			}
		}
	}
	switch {
	case finalFix != nil && c.a.NoFinalFix:
		c.Add(c.at["final_fix"], "final_fix is none, and %s is one; remove the line", finalFix.name())
	case finalFix == nil && !c.a.NoFinalFix && !c.circlingOnly():
		c.Add(c.at["fixes"], `no fix has "role: FAF"; where the chart has no final approach fix, write "final_fix: none"`)
	case len(c.fixes) == 0:
		c.Add(c.at["fixes"], "fixes is empty")
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
		if f.From != "" { // on its own branch, wherever it is written
			if at := slices.IndexFunc(c.fixes, func(o fix) bool { return o.Initial && o.Fix == f.From }); at >= 0 && (before == nil || before.From != f.From) {
				before = &c.fixes[at]
				if _, ok := before.Floor(); !ok {
					before = nil
				}
			}
		}
		if !ok {
			continue
		}
		if before != nil {
			if last, _ := before.Floor(); floor > last {
				c.Add(f.node, "%s %s is above %s %s, which is flown before it: the altitudes of an approach descend",
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
			c.Add(f.node, "%s %s is below %s %s, to which it leads: the altitudes of an approach descend", f.name(), ft(floor), target.name(), ft(goal))
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
			c.Add(f.node, "%s %s is not above the field at %s", f.name(), ft(low), ft(c.elevation))
		}
	}
	for i, m := range c.a.Minimums {
		if m.Altitude <= c.elevation {
			c.Add(c.minimums[i], "%s %s is not above the field at %s", m.Name, ft(m.Altitude), ft(c.elevation))
		}
	}
	if c.a.HasSector && c.a.SectorAltitude <= c.elevation {
		c.Add(c.at["msa_ft"], "msa_ft %s is not above the field at %s", ft(c.a.SectorAltitude), ft(c.elevation))
	}
	if c.a.MissedAltitude <= c.elevation {
		c.Add(c.at["missed_ft"], "missed_ft %s is not above the field at %s", ft(c.a.MissedAltitude), ft(c.elevation))
	}
}

// minimumsFit: a minimum lies below the final approach fix and is given once;
// a step-down fix inside it is not below the lowest minimum.
func (c *chart) minimumsFit() {
	if len(c.a.Minimums) == 0 {
		c.Add(c.at["minimums"], "minimums is empty")
		return
	}
	lines := map[string]bool{}
	lowest := c.a.Minimums[0].Altitude
	for i, m := range c.a.Minimums {
		if lines[m.Name] {
			c.Add(c.minimums[i], "%s is given twice; remove one of them", m.Name)
		}
		lines[m.Name] = true
		lowest = min(lowest, m.Altitude)
		for j := range c.fixes {
			f := &c.fixes[j]
			if floor, ok := f.Floor(); ok && f.Role == approach.FinalFix && m.Altitude >= floor {
				c.Add(c.minimums[i], "%s %s is not below the final approach fix %s at %s", m.Name, ft(m.Altitude), f.name(), ft(floor))
			}
		}
	}
	for i := range c.fixes {
		f := &c.fixes[i]
		if floor, ok := f.Floor(); ok && floor < lowest {
			c.Add(f.node, "%s %s is below every minimum, the lowest is %s", f.name(), ft(floor), ft(lowest))
		}
	}
}

func (c *chart) missedFits() {
	for i, m := range c.a.Minimums {
		if c.a.MissedAltitude < m.Altitude {
			c.Add(c.at["missed_ft"], "missed_ft %s is below %s %s on line %d", ft(c.a.MissedAltitude), m.Name, ft(m.Altitude), strictyaml.Start(c.minimums[i]).Position.Line)
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
		c.Add(c.at["baro_low_c"], "a temperature limit without a barometric line; name the line LNAV/VNAV or RNP, or add baro: true to it")
	case line < 0 && b.HasHigh:
		c.Add(c.at["baro_high_c"], "a temperature limit without a barometric line; name the line LNAV/VNAV or RNP, or add baro: true to it")
	case line >= 0 && !c.a.HasAngle:
		c.Add(c.minimums[line], "%s is barometric and vertical_angle_deg is missing; add the angle of its path, such as vertical_angle_deg: 3", c.a.Minimums[line].Name)
	}
	if b.HasLow && b.HasHigh && b.Low >= b.High {
		c.Add(c.at["baro_low_c"], "baro_low_c %s is not below baro_high_c %s", strictyaml.Plain(float64(b.Low)), strictyaml.Plain(float64(b.High)))
	}
}

func ft(a engine.Altitude) string { return strictyaml.Plain(float64(a)) }

// branches: what stands on one branch alone names an initial fix of the chart.
func (c *chart) branches() {
	var initial []string
	for i := range c.fixes {
		if f := &c.fixes[i]; f.Initial {
			initial = append(initial, f.Fix)
		}
	}
	for i := range c.fixes {
		f := &c.fixes[i]
		switch {
		case f.fromNode == nil || f.From == "":
		case f.Role != approach.StepDown && f.Role != approach.Arc && f.Role != approach.ProcedureTurn && f.Role != approach.Hold:
			c.Add(f.fromNode, "%s has a from, which is for a fix between an initial approach fix and where its way joins the others; remove it", f.name())
		case !slices.Contains(initial, f.From):
			if best, ok := strictyaml.Suggest(f.From, initial); ok {
				c.Add(f.fromNode, "from %s is no initial approach fix of this chart; did you mean %s?", f.From, best)
				continue
			}
			c.Add(f.fromNode, "from %s is no initial approach fix of this chart; it has %s", f.From, strictyaml.OneOf(initial))
		}
	}
}

// kindOfLine: lines that do not belong together are not of one chart. An
// RNAV (RNP) chart, which needs an authorization, has RNP lines alone; an LPV
// or GLS line has a decision altitude, LNAV and LP lines have none.
func (c *chart) kindOfLine() {
	for i, m := range c.a.Minimums {
		first, _, _ := strings.Cut(strings.ToUpper(m.Name), " ")
		switch {
		case c.a.Kind == approach.RNP && !c.a.PlainRNP && (strings.HasPrefix(first, "LNAV") || first == "LP" || first == "LPV"):
			c.Add(c.minimums[i], "%s is no line of an RNAV (RNP) chart, which has RNP lines; with it the title is RNAV (GPS)", m.Name)
		case (first == "LPV" || first == "GLS" || first == "LNAV/VNAV") && m.Role == procedure.MinimumDescent:
			c.Add(c.minimums[i], "%s has a decision altitude; write da", m.Name)
		case (first == "LNAV" || first == "LP" || first == "LOC") && m.Role == procedure.DecisionAltitude:
			c.Add(c.minimums[i], "%s has a minimum descent altitude; write mda", m.Name)
		case (first == "LPV" || first == "LP" || first == "GLS") && m.Barometric:
			c.Add(c.minimums[i], "%s does not follow the altimeter; leave baro out", m.Name)
		}
	}
}

// remoteSource: an additive is of a remote altimeter source.
func (c *chart) remoteSource() {
	if c.a.RemoteAdditive != 0 && !c.a.Remote {
		c.Add(c.at["remote_additive_ft"], `an additive without a remote altimeter source; add "remote: true" where the chart says so`)
	}
}
