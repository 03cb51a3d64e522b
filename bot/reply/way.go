package reply

import (
	"slices"
	"strconv"
	"strings"

	"firn/engine/procedure"
	"firn/engine/ruleset"
)

// tellWays gives each row the ways in that lead over it, where others do not.
func tellWays(rows []Row, res ruleset.Result) {
	if !slices.ContainsFunc(res.Lines, func(l ruleset.Line) bool { return l.From != "" }) {
		return
	}
	points := make([]procedure.Point, len(res.Lines))
	for i := range res.Lines {
		points[i] = res.Lines[i].Point
	}
	for i, parted := range procedure.Parted(points) {
		if parted {
			rows[i].Via = points[i].Ways()
		}
	}
}

// Title is what the row is called: IAF XADLO.
func (r *Row) Title() string {
	if r.Fix == "" || r.Fix == r.Label {
		return r.Label
	}
	return strings.TrimSpace(r.Label + " " + r.Fix)
}

// Name is the title, and "via XEMBA" where another way in does not lead over it.
func (r *Row) Name() string { return r.Title() + r.Way() }

// Way is " via XEMBA, XADLO", short enough for a row: of more than two the
// first and how many more. That a fix lies on its own way needs no word.
func (r *Row) Way() string {
	others := slices.DeleteFunc(slices.Clone(r.Via), func(w string) bool { return w == r.Fix })
	switch n := len(others); n {
	case 0:
		return ""
	case 1, 2:
		return " via " + strings.Join(others, ", ")
	default:
		return " via " + others[0] + " +" + strconv.Itoa(n-1)
	}
}
