package reply

import (
	"fmt"
	"strings"
	"time"
)

// states are how a state is said: the word alone must be enough.
var states = map[string]string{
	"below":         "BELOW",
	"near":          "near",
	"clear":         "clear",
	"part-forecast": "PART FORECAST",
	"no-forecast":   "NO FORECAST",
}

// counted are the states as bases are counted by them.
var counted = map[string]string{
	"below":         "at or below",
	"near":          "near",
	"clear":         "clear",
	"part-forecast": "part forecast",
	"no-forecast":   "no forecast",
}

// ObservedAlone says, with a space before it, how many of the bases at or below
// their line are so as observed alone: the watch's posts count what is forecast.
// Empty where none is.
func ObservedAlone(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" (%d as observed)", n)
}

// StateWord is a state in a word or two.
func StateWord(state string) string {
	if w, ok := states[state]; ok {
		return w
	}
	return state
}

// Board makes the reply that shows every base's state; zone gives a base's
// local time.
func Board(all []Cold, zone func(ident string) *time.Location) Reply {
	r := Reply{Kind: KindWatch, Bases: all}
	if len(all) == 0 {
		r.Facts = []string{"No base is watched."}
		return r
	}
	counts, observed := map[string]int{}, 0
	for _, c := range all {
		counts[c.Is()]++
		if c.ObservedC.OK {
			observed++
		}
	}
	var parts []string
	for _, s := range []string{"below", "no-forecast", "part-forecast", "near", "clear"} {
		if counts[s] > 0 {
			text := fmt.Sprintf("%d %s", counts[s], counted[s])
			if s == "below" {
				text += ObservedAlone(observed)
			}
			parts = append(parts, text)
		}
	}
	r.Facts = []string{"Bases: " + strings.Join(parts, ", ") + "."}
	lines := make([]string, 0, len(all))
	for _, c := range all {
		lines = append(lines, BoardLine(c, zone(c.Ident)))
	}
	r.Sections = []Section{{Title: "Now", Lines: lines}}
	return r
}

// BoardLine is one base in one line.
func BoardLine(c Cold, zone *time.Location) string {
	b := fmt.Appendf(nil, "%s: %s", c.Ident, states[c.State])
	local := func(t time.Time) string { return t.In(zone).Format("Mon 15:04") }
	if c.LowC.OK {
		b = fmt.Appendf(b, ", low %s °C at %s local%s", trim(c.LowC.Value), local(c.LowAt), c.LowBeyond())
	}
	if c.RestrictionC.OK {
		b = fmt.Appendf(b, ", restriction %s °C", trim(c.RestrictionC.Value))
	}
	switch {
	case !c.BelowFrom.IsZero():
		b = append(b, ", at or below it "+c.Hours(" to ", " local", local)...)
	case c.State == "below" && !c.Past:
		b = append(b, ", hours not known"...)
	case c.State == "part-forecast":
		b = fmt.Appendf(b, ", nothing at or below it as far as the forecast goes, %s to %s local, and not known beyond", local(c.CoveredFrom), local(c.CoveredTo))
	}
	if c.Past {
		b = append(b, ", "+stillCold...)
	}
	if c.ObservedC.OK {
		b = fmt.Appendf(b, ", but BELOW as observed, %s °C at %s local", trim(c.ObservedC.Value), local(c.ObservedAt))
	}
	if c.Source != "" {
		b = fmt.Appendf(b, " (%s of %s)", c.Source, c.Issued.UTC().Format("02 15:04Z"))
	}
	if !c.SnoozedUntil.IsZero() {
		b = fmt.Appendf(b, "; no reminders until %s local", local(c.SnoozedUntil))
	}
	if c.Note != "" {
		b = append(append(b, "; "...), c.Note...)
	}
	return string(append(b, '.'))
}
