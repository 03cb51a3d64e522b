package procedure

import (
	"slices"
	"strings"
)

// waySeparator stands between the ways of a Point's From.
const waySeparator = "/"

// JoinWays makes a Point's From.
func JoinWays(ways ...string) string { return strings.Join(ways, waySeparator) }

// Ways are the ways in that lead over the point, each by the fix it begins at;
// nil when all may. An initial approach fix of which nothing else is known
// begins its own.
func (p *Point) Ways() []string {
	switch {
	case p.From != "":
		return strings.Split(p.From, waySeparator)
	case p.Role == InitialFix && p.Fix != "":
		return []string{p.Fix}
	}
	return nil
}

// On says whether the way in that begins at a fix leads over the point.
func (p *Point) On(fix string) bool {
	ways := p.Ways()
	return ways == nil || slices.Contains(ways, strings.ToUpper(fix))
}

// Along are the points that the way in from a fix leads over, in their order,
// each with no other way left.
func Along(points []Point, fix string) []Point {
	fix = strings.ToUpper(fix)
	out := make([]Point, 0, len(points))
	for _, p := range points {
		if !p.On(fix) {
			continue
		}
		if p.From != "" {
			p.From = fix
		}
		out = append(out, p)
	}
	return out
}

// Parted says of each point whether it must tell its ways, since another way
// leads over some other of the points and not over it.
func Parted(points []Point) []bool {
	var all []string
	for i := range points {
		for _, w := range points[i].Ways() {
			if !slices.Contains(all, w) {
				all = append(all, w)
			}
		}
	}
	parted := make([]bool, len(points))
	for i := range points {
		parted[i] = points[i].From != "" && len(points[i].Ways()) < len(all)
	}
	return parted
}
