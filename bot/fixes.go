package bot

import (
	"context"
	"slices"
	"strings"

	"firn/bot/approach"
)

// knownFix says that a stored procedure of a station has a fix.
func (b *Bot) knownFix(station, word string) bool {
	if b.ports.Procedures == nil {
		return false
	}
	all, err := b.ports.Procedures.Procedures(context.Background(), station)
	if err != nil {
		return false
	}
	return slices.ContainsFunc(all, func(a approach.Approach) bool {
		return strings.EqualFold(a.MissedFix, word) || slices.ContainsFunc(a.Legs, func(l approach.Leg) bool {
			return strings.EqualFold(l.Fix, word) || strings.EqualFold(l.Transition, word)
		})
	})
}
