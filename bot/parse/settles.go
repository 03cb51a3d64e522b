package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// settles says that a follow-up stands for what was asked about: a way in, or
// altitudes that are not just others beside those that are there.
func (r Request) settles(p Problem, next Request) bool {
	switch {
	case p.Way:
		return next.Way.Kind != Unsaid
	case p.Named:
		return next.Procedure != ""
	case p.Degrees:
		return next.HasTemperature || next.Latest
	case p.Signed:
		return next.HasTemperature || len(next.Altitudes) > 0
	case next.Also || next.Verb == Add:
		return false
	}
	digits := strings.ContainsAny(p.Word, "0123456789")
	return slices.ContainsFunc(next.Altitudes, func(a Altitude) bool {
		if p.Unread && !digits && a.Role == procedure.NoRole {
			return false // the word may be the label of another
		}
		return digits || a.Role == procedure.NoRole || slices.ContainsFunc(r.Altitudes, a.same) || p.Slot.Role == a.Role
	})
}

// retyped is how many of the questions a follow-up stands for: all where they are
// about figures that are no altitudes, and it has as many ("82 74", then "8200 7400").
func (r Request) retyped(next Request) int {
	n := len(r.Open)
	if n != len(next.Altitudes) || slices.ContainsFunc(r.Open, func(p Problem) bool { return !p.Small }) ||
		slices.ContainsFunc(next.Altitudes, func(a Altitude) bool { return a.Role != procedure.NoRole }) {
		return 1
	}
	return n
}

// Denying asks about "no 7400" of an altitude that is there: it may be wrong, or
// said once more.
func (r Request) Denying(next Request) *Problem {
	if !next.Denied {
		return nil
	}
	at := slices.IndexFunc(r.Altitudes, next.Altitudes[0].same)
	if at < 0 {
		return nil
	}
	a, said := r.Altitudes[at], next.Altitudes[0]
	if said.Role != procedure.NoRole && (said.Role != a.Role || said.Label != a.Label || said.Fix != "" && said.Fix != a.Fix) {
		return nil // "no 7400 is the IF"
	}
	less := r
	less.Altitudes = slices.Delete(slices.Clone(r.Altitudes), at, at+1)
	return &Problem{Word: a.figure(), Text: sayDenied(a.figure()), Either: true, Choices: []Choice{
		{Words: []string{"away", "gone", "wrong"}, Picks: []Pick{Drop}, Line: less.Line()},
		{Words: []string{"right", "stands"}, Picks: []Pick{Old}, Line: r.Line()},
	}}
}
