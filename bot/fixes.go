package bot

import (
	"context"
	"slices"
	"strings"

	"firn/bot/approach"
	"firn/engine/procedure"
)

// charted are the stored procedures of a station as the reader asks for them: where
// they cannot be had it reads without.
func (b *Bot) charted(station string) []approach.Approach {
	if b.ports.Procedures == nil {
		return nil
	}
	all, err := b.ports.Procedures.Procedures(context.Background(), station)
	if err != nil {
		return nil
	}
	return all
}

// hasLine says that minimums of a line are among the points.
func hasLine(points []procedure.Point, line string) bool {
	return slices.ContainsFunc(points, func(p procedure.Point) bool {
		return p.Role.Minimum() && approach.LineIs(p.Label, p.Role, line)
	})
}

// knownFix says that a stored procedure of a station has a fix.
func (b *Bot) knownFix(station, word string) bool {
	return slices.ContainsFunc(b.charted(station), func(a approach.Approach) bool {
		return strings.EqualFold(a.MissedFix, word) || slices.ContainsFunc(a.Legs, func(l approach.Leg) bool {
			return strings.EqualFold(l.Fix, word) || strings.EqualFold(l.Transition, word)
		})
	})
}

// fixRole is what a fix is in the stored procedures of a station, where it is
// the same in all of them, and whether a missed approach holds there.
func (b *Bot) fixRole(station, fix string) (role procedure.Role, holds, ok bool) {
	same, all := true, b.charted(station)
	for i := range all {
		for _, p := range all[i].Points() {
			switch {
			case !strings.EqualFold(p.Fix, fix) || p.Role == procedure.NoRole:
			case p.Role == procedure.MissedHold:
				holds = true
			default:
				same = same && (!ok || p.Role == role)
				role, ok = p.Role, true
			}
		}
	}
	return role, holds, ok && same
}

// withLine is the procedure of a station that alone has a line of minimums.
func (b *Bot) withLine(station, line string) (name string, ok bool) {
	all := b.charted(station)
	for i := range all {
		if !hasLine(all[i].Points(), line) {
			continue
		}
		if ok {
			return "", false
		}
		name, ok = all[i].Name, true
	}
	return name, ok
}
