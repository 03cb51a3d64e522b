package approach

import (
	"cmp"
	"slices"

	"firn/engine/procedure"
)

// Points gives the altitudes that a rule set corrects, in the order they are
// flown, each with its segment: the sector altitude, what leads to the final
// route, that route, then minimums, then the missed approach. Left out are an
// altitude at the missed approach point, which in a coded file is where the
// path crosses the threshold and no minimum (ARINC 424), the legs of the missed
// approach but its holding, and what repeats a fix and altitude that are there
// already. The segments are the source's: procedure.AssignSegments, which holds
// a crew's labels against each other, has nothing to add, and fixes on the way
// may be step-downs to it that lie above every initial altitude.
//
// Of a coded procedure every point before the final route says which ways in
// lead over it (procedure.Point.From).
func (a *Approach) Points() []procedure.Point {
	points := make([]procedure.Point, 0, len(a.Legs)+len(a.Minimums)+2)
	if a.HasSector {
		points = append(points, procedure.Point{Role: procedure.SectorAltitude, Segment: procedure.Sector, Meaning: procedure.AtOrAbove, Altitude: a.SectorAltitude})
	}
	points = a.flown(points)
	for i := range a.Minimums {
		m := &a.Minimums[i]
		points = append(points, procedure.Point{Label: m.Name, Role: m.Role, Segment: procedure.Final, Meaning: procedure.AtOrAbove, Altitude: m.Altitude, Barometric: m.Barometric})
	}
	if a.HasMissed {
		points = append(points, procedure.Point{Fix: a.MissedFix, Role: procedure.MissedHold, Segment: procedure.Missed, Meaning: procedure.AtOrAbove, Altitude: a.MissedAltitude})
	}
	return points
}

// row is a point that is being gathered from the legs that say it.
type row struct {
	procedure.Point
	main bool // of the final route
}

// gathered are the rows of an approach, and which of them each leg is in.
type gathered struct {
	*Approach
	rows  []row
	of    []int    // by leg: the row; -1 for none
	fixes []string // that are coded as initial approach fixes
}

// flown appends the points of the transitions and of the final route.
//
// Rows are unified where they say one thing: a fix of the final route where
// transitions end, a fix that several lead over. What a leg's own code says
// (initial fix, hold, procedure turn, intermediate fix) makes a row; what has
// none joins the row that is there. A fix without a code that is an initial
// approach fix of another way in is one on this way too.
func (a *Approach) flown(points []procedure.Point) []procedure.Point {
	g := gathered{Approach: a, rows: make([]row, 0, len(a.Legs)), of: make([]int, len(a.Legs))}
	for i := range a.Legs {
		l := &a.Legs[i]
		g.of[i] = -1
		if l.Initial && l.Fix != "" && l.Route == Transition && !slices.Contains(g.fixes, l.Fix) {
			g.fixes = append(g.fixes, l.Fix)
		}
		if l.Route == FinalRoute {
			g.take(i)
		}
	}
	for _, coded := range []bool{true, false} {
		for i := range a.Legs {
			if l := &a.Legs[i]; l.Route == Transition && l.ownRole() == coded {
				g.take(i)
			}
		}
	}
	g.ways()
	return g.inOrder(points)
}

// ownRole says that the leg's code makes it more than a fix on the way.
func (l *Leg) ownRole() bool {
	return l.Initial || l.Role != NoRole && l.Role != StepDown && l.Role != Arc
}

// take puts leg i into a row.
func (g *gathered) take(i int) {
	l := &g.Legs[i]
	if l.Role == MissedPoint || l.Limit == NoAltitude && !g.named(i) {
		return
	}
	p := l.point()
	if at := g.joins(i, &p); at >= 0 {
		g.of[i] = at
		return
	}
	if l.Route == Transition && !l.ownRole() {
		if slices.Contains(g.fixes, l.Fix) {
			p.Role, p.Segment = procedure.InitialFix, procedure.Initial
		} else if g.beforeInitial(i) {
			p.Segment = procedure.Initial
		}
	}
	g.of[i] = len(g.rows)
	g.rows = append(g.rows, row{Point: p, main: l.Route == FinalRoute})
}

// named says that leg i, which has no altitude, is a fix that a crew looks for
// on the chart, and has none anywhere: its row stays, with a dash.
func (g *gathered) named(i int) bool {
	l := &g.Legs[i]
	if l.Fix == "" || !l.Initial && l.Role != IntermediateFix && l.Role != FinalFix {
		return false
	}
	return !slices.ContainsFunc(g.Legs, func(o Leg) bool { return o.Fix == l.Fix && o.Limit != NoAltitude && o.Route != MissedRoute })
}

// joins is the row that says what leg i says, -1 for none.
func (g *gathered) joins(i int, p *procedure.Point) int {
	l := &g.Legs[i]
	if l.Fix == "" {
		return -1
	}
	if l.Route == Transition && !l.ownRole() { // its own turn comes first: others may not fly it
		for j := i + 1; j < len(g.Legs) && g.sameWay(i, j); j++ {
			if at := g.of[j]; at >= 0 && (g.Legs[j].Role == Hold || g.Legs[j].Role == ProcedureTurn) && g.rows[at].says(p) {
				return at
			}
		}
	}
	for at := range g.rows {
		r := &g.rows[at]
		mere := p.Role == procedure.StepDown && !l.Initial
		switch {
		case !r.says(p):
		case r.Role == p.Role && (r.Role != procedure.StepDown || r.main || r.Segment == p.Segment):
			return at
		case r.main && mere, r.main && r.Role == procedure.StepDown && l.Route == FinalRoute:
			if r.Role == procedure.StepDown {
				r.Point = *p
			}
			return at
		case mere && r.Role == procedure.InitialFix:
			return at
		}
	}
	return -1
}

// says tells whether a row is of one fix and altitude with p.
func (r *row) says(p *procedure.Point) bool {
	return r.Fix == p.Fix && r.Altitude == p.Altitude && r.Upper == p.Upper && r.Meaning == p.Meaning
}

// sameWay says whether two legs are of one transition.
func (g *gathered) sameWay(i, j int) bool {
	return g.Legs[j].Route == Transition && g.Legs[i].Route == Transition && g.Legs[j].Transition == g.Legs[i].Transition
}

// beforeInitial says whether an initial approach fix comes after leg i on its
// transition: until there the way is an initial one.
func (g *gathered) beforeInitial(i int) bool {
	for j := i + 1; j < len(g.Legs) && g.sameWay(i, j); j++ {
		if slices.Contains(g.fixes, g.Legs[j].Fix) {
			return true
		}
	}
	return false
}

// ways tells each row of a coded procedure the ways in that lead over it. A
// crew types no such thing: there a step-down is on every way that its chart
// does not take it from.
func (g *gathered) ways() {
	for _, w := range g.waysIn() {
		if g.Legs[w.leg].Coded == 0 {
			continue
		}
		for j := w.leg; j == w.leg || j < len(g.Legs) && g.sameWay(w.leg, j); j++ {
			at := g.of[j]
			if at < 0 || g.rows[at].main {
				continue
			}
			r := &g.rows[at]
			switch {
			case r.From == "":
				r.From = w.fix
			case !r.On(w.fix):
				r.From = procedure.JoinWays(r.From, w.fix)
			}
		}
	}
}

// wayIn is where a way in begins.
type wayIn struct {
	fix string
	leg int
}

// waysIn are the transitions, each by the fix that it is named after, and what
// remains of one from an initial approach fix on that names none.
func (a *Approach) waysIn() []wayIn {
	var all []wayIn
	add := func(fix string, leg int) {
		if fix != "" && !slices.ContainsFunc(all, func(w wayIn) bool { return w.fix == fix }) {
			all = append(all, wayIn{fix, leg})
		}
	}
	for i := range a.Legs {
		if l := &a.Legs[i]; l.Route == Transition {
			add(l.Transition, i)
		}
	}
	for i := range a.Legs {
		if l := &a.Legs[i]; l.Route == Transition && l.Initial {
			add(l.Fix, i)
		}
	}
	return all
}

// Ways are the ways in, each by the fix that it begins at, upper case: what may
// stand behind "via".
func (a *Approach) Ways() []string {
	var fixes []string
	for _, w := range a.waysIn() {
		fixes = append(fixes, w.fix)
	}
	return fixes
}

// inOrder appends the rows as they are flown: no fix before one that leads to
// it on any transition, branch by branch in the order of the source, and the
// final route behind them. At one fix a turn comes behind what leads to it.
func (g *gathered) inOrder(points []procedure.Point) []procedure.Point {
	next := make([][]int, len(g.Legs)) // by the first leg of a fix: the fixes that it leads to
	first := make([]int, len(g.Legs))
	for i := range g.Legs {
		first[i] = g.firstAt(i)
		if i > 0 && g.sameWay(i-1, i) && first[i] != first[i-1] {
			next[first[i-1]] = append(next[first[i-1]], first[i])
		}
	}
	seen := make([]bool, len(g.Legs))
	var order []int // of fixes, the last one flown first
	var follow func(at int)
	follow = func(at int) {
		if seen[at] {
			return
		}
		seen[at] = true
		for _, to := range next[at] {
			follow(to)
		}
		order = append(order, at)
	}
	for i := range slices.Backward(g.Legs) {
		if g.Legs[i].Route == Transition {
			follow(first[i])
		}
	}
	taken := make([]bool, len(g.rows))
	for _, fix := range slices.Backward(order) {
		from := len(points)
		for i := range g.Legs {
			if at := g.of[i]; at >= 0 && first[i] == fix && !taken[at] && !g.rows[at].main {
				taken[at] = true
				points = append(points, g.rows[at].Point)
			}
		}
		slices.SortStableFunc(points[from:], func(a, b procedure.Point) int {
			if d := turnRank(a.Role) - turnRank(b.Role); d != 0 {
				return d
			}
			return cmp.Compare(b.Altitude, a.Altitude)
		})
	}
	for i := range g.rows {
		if g.rows[i].main {
			points = append(points, g.rows[i].Point)
		}
	}
	return points
}

// turnRank orders the rows of one fix.
func turnRank(r procedure.Role) int {
	switch r {
	case procedure.Hold, procedure.ProcedureTurn:
		return 1
	case procedure.IntermediateFix:
		return 2
	}
	return 0
}

// firstAt is the first leg of a transition at the fix of leg i; i where it has none.
func (g *gathered) firstAt(i int) int {
	l := &g.Legs[i]
	if l.Fix == "" || l.Route != Transition {
		return i
	}
	return slices.IndexFunc(g.Legs, func(o Leg) bool { return o.Route == Transition && o.Fix == l.Fix })
}

func (l *Leg) point() procedure.Point {
	p := procedure.Point{Fix: l.Fix, Role: roles[l.Role].engine, Segment: l.Segment, Altitude: l.Altitude, From: l.From, NoAltitude: l.Limit == NoAltitude}
	if l.Initial && (l.Role == NoRole || l.Role == Arc) {
		p.Role = procedure.InitialFix
	}
	switch {
	case l.Role == Arc:
		p.Label = "arc"
	case l.Fix == "" && l.Role == NoRole && l.Path[1] == 'I': // VI, CI: on a heading or course until the next one is met
		p.Label = "to intercept"
	}
	switch l.Limit {
	case AtOrAbove:
		p.Meaning = procedure.AtOrAbove
	case AtOrBelow:
		p.Meaning = procedure.AtOrBelow
	case Between:
		p.Meaning, p.Altitude, p.Upper = procedure.Between, l.Altitude2, l.Altitude
	}
	return p
}
