package drawing

import (
	"slices"
	"strings"

	"firn/bot/reply"
	"firn/engine/procedure"
)

// segmentOrder is the order in which the segments are flown; altitudes of a
// sector come before them.
var segmentOrder = []string{
	procedure.Sector.String(), procedure.Initial.String(), procedure.Intermediate.String(), procedure.Final.String(), procedure.Missed.String(),
}

// flown gives the rows in flying order. Without a segment for each there is
// none: then they stay as they were given, and known is false. Within a
// segment the given order stays too, as several ways in may follow each
// other, but for what can only be last (the intermediate fix, the final
// approach fix, minimums) and for the steps of the final segment, which go down.
func flown(rows []reply.Row) (order []int, known bool) {
	order = make([]int, len(rows))
	known = true
	for i := range rows {
		order[i] = i
		known = known && slices.Contains(segmentOrder, rows[i].Segment)
	}
	if !known {
		return order, false
	}
	slices.SortStableFunc(order, func(i, j int) int {
		a, b := &rows[i], &rows[j]
		if d := slices.Index(segmentOrder, a.Segment) - slices.Index(segmentOrder, b.Segment); d != 0 {
			return d
		}
		if d := last(a) - last(b); d != 0 {
			return d
		}
		if a.Segment == procedure.Final.String() && !minimum(a) && a.PublishedFt != b.PublishedFt {
			if a.PublishedFt > b.PublishedFt {
				return -1
			}
			return 1
		}
		return 0
	})
	return order, true
}

// last says by 1 what ends its segment.
func last(r *reply.Row) int {
	switch {
	case r.Segment == procedure.Initial.String() && named(r, procedure.IntermediateFix),
		r.Segment == procedure.Intermediate.String() && named(r, procedure.FinalFix),
		minimum(r):
		return 1
	}
	return 0
}

func named(r *reply.Row, role procedure.Role) bool { return strings.EqualFold(r.Label, role.Label()) }

// minimum says whether a row of the final segment is a minimum. Those of a
// chart have names of their own, as LNAV/VNAV, and no fix.
func minimum(r *reply.Row) bool {
	return r.Segment == procedure.Final.String() && r.Fix == "" && !named(r, procedure.StepDown)
}

// joined says whether the way leads from row a to row b: not into a sector, a
// missed approach or another way in, nor from one minimum to the next.
func joined(a, b *reply.Row, known bool) bool {
	if !known {
		return b.PublishedFt < a.PublishedFt
	}
	apart := func(r *reply.Row) bool {
		return r.Segment == procedure.Sector.String() || r.Segment == procedure.Missed.String()
	}
	return !apart(a) && !apart(b) && !named(b, procedure.InitialFix) && !(minimum(a) && minimum(b))
}
