package reply

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Mine is what concerns one person now: the front page that each has.
type Mine struct {
	Check []MineItem `json:"check,omitempty"` // others' results that wait for the person's check, the newest first
	Again []MineItem `json:"again,omitempty"` // the person's own that are out of date, or with which somebody disagrees
	Bases []MineItem `json:"bases,omitempty"` // at or below, or without a forecast; the farthest below first
}

// MineItem is one of them, with what the person can do about it.
type MineItem struct {
	ID      string   `json:"id"`   // of the record, or of the base
	Text    string   `json:"text"` // what it is and how it stands
	Actions []Action `json:"actions,omitempty"`
}

// Line is the whole of it in a line.
func (it MineItem) Line() string { return it.ID + ": " + it.Text }

// Lists are those that hold something, in the order of the reply's sections.
func (m *Mine) Lists() (out [][]MineItem) {
	for _, all := range [...][]MineItem{m.Check, m.Again, m.Bases} {
		if len(all) > 0 {
			out = append(out, all)
		}
	}
	return out
}

// mostMine is how many of each list are shown; ours: with three lists a phone
// shows them without much scrolling, and services take them in one page.
const mostMine = 8

// The lists of what is one person's, as their titles begin.
const (
	mineCheck = "Waiting for your check"
	mineAgain = "Yours, to compute again"
	mineBases = "At or below, or without a forecast"
)

// MineOf makes the reply that shows what concerns one person. below are bases
// that BasesOf gives.
func MineOf(check, again, below []MineItem) Reply {
	r := Reply{Kind: KindMine, Mine: &Mine{Check: head(check), Again: head(again), Bases: head(below)}}
	var parts []string
	for _, l := range [...]struct {
		all         []MineItem
		title, more string
		short       string
	}{
		{check, mineCheck, "log unchecked", "to check"},
		{again, mineAgain, "log", "to compute again"},
		{below, mineBases, "watch", "at or below or without a forecast"},
	} {
		n := len(l.all)
		if n == 0 {
			continue
		}
		parts = append(parts, fmt.Sprintf("%d %s", n, l.short))
		s := Section{Title: fmt.Sprintf("%s: %d", l.title, n)}
		for _, it := range head(l.all) {
			s.Lines = append(s.Lines, it.Line())
		}
		if n > mostMine {
			s.Lines = append(s.Lines, fmt.Sprintf("And %d more: “%s” has them.", n-mostMine, l.more))
		}
		r.Sections = append(r.Sections, s)
	}
	if open := slices.DeleteFunc(slices.Clone(below), func(it MineItem) bool { return !slices.Contains(it.Actions, seen(it.ID)) }); len(open) > 1 {
		r.Actions = []Action{seenAll}
	}
	r.Facts = []string{"Nothing waits for you, and no base is at or below its line."}
	if len(parts) > 0 {
		r.Facts[0] = "For you: " + strings.Join(parts, ", ") + "."
	}
	return r
}

// seen and seenAll say that a base's alert, or that of each base, has been seen.
func seen(ident string) Action {
	return Action{ID: "ack-" + ident, Label: "Seen", Message: "ack " + ident}
}

var seenAll = Action{ID: "ack", Label: "Seen all", Message: "ack all"}

func head(all []MineItem) []MineItem { return all[:min(len(all), mostMine)] }

// BasesOf are the bases at or below their line, and those of which that is not
// known: how far it goes down from now on, a low that is past never. duty says
// that the person may say so when they have seen an alert.
func BasesOf(all []Cold, zone func(ident string) *time.Location, now time.Time, duty bool) (out []MineItem) {
	order := []string{"below", "no-forecast", "part-forecast"}
	var bases []Cold
	for _, c := range all {
		if slices.Contains(order, c.Is()) {
			bases = append(bases, c)
		}
	}
	under := func(c Cold) float64 { return min(c.LowC.Value, c.ObservedC.Value) - c.RestrictionC.Value }
	slices.SortStableFunc(bases, func(a, b Cold) int {
		return cmp.Or(cmp.Compare(slices.Index(order, a.Is()), slices.Index(order, b.Is())), cmp.Compare(under(a), under(b)))
	})
	for _, c := range bases {
		it := MineItem{ID: c.Ident, Text: c.mineLine(zone(c.Ident), now)}
		switch {
		case !duty || !c.Open:
		case c.SeenBy == "":
			it.Actions = []Action{seen(c.Ident)}
		default:
			it.Actions = []Action{{ID: "snooze-" + c.Ident, Label: "Snooze 2 h", Message: "snooze " + c.Ident + " 2h"}}
		}
		out = append(out, it)
	}
	return out
}

// mineLine is how a base stands, as what concerns somebody now.
func (c Cold) mineLine(zone *time.Location, now time.Time) string {
	at := func(t time.Time) string {
		there := t.In(zone)
		if there.Format(time.DateOnly) != now.In(zone).Format(time.DateOnly) {
			return there.Format("Mon 15:04")
		}
		return there.Format("15:04")
	}
	parts := []string{states[c.Is()]}
	if c.ObservedC.OK {
		parts = append(parts, fmt.Sprintf("observed %s °C at %s", trim(c.ObservedC.Value), at(c.ObservedAt)))
	}
	switch {
	case c.LowC.OK && c.LowAt.Before(now):
		parts = append(parts, "the low is past")
	case c.LowC.OK:
		parts = append(parts, fmt.Sprintf("low %s °C at %s%s", trim(c.LowC.Value), at(c.LowAt), c.LowBeyond()))
	}
	if c.RestrictionC.OK {
		parts = append(parts, "line "+trim(c.RestrictionC.Value))
	}
	switch {
	case !c.BelowFrom.IsZero() && c.BelowTo.After(now):
		parts = append(parts, "below "+c.Hours("–", " local", at))
	case c.State == "below":
		parts = append(parts, "hours not known")
	case c.State == "part-forecast":
		parts = append(parts, "known to "+at(c.CoveredTo)+" local alone")
	}
	text := strings.Join(parts, ", ") + "."
	if c.SeenBy != "" {
		text += " Seen by " + c.SeenBy + " " + at(c.SeenAt) + "."
	}
	if c.SnoozedUntil.After(now) {
		text += " Quiet until " + at(c.SnoozedUntil) + "."
	}
	return text
}
