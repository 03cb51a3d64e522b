package record

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
)

// The ids of a card's actions.
const (
	ActionCheck     = "check"
	ActionRecompute = "recompute"
	actionLatest    = "latest"
)

// Render is the card of a record: its reply with what is known of it since.
func Render(r Record, now time.Time, set Settings) reply.Reply {
	set = set.withDefaults()
	state := r.State(now)
	out := r.Reply
	out.Record = &reply.RecordStatus{
		ID: r.ID, Version: r.Version, State: string(state), Lines: lines(r, now, set), ValidUntil: r.Expires,
	}
	// Whatever stands on the card is asked of this record, not of the latest.
	out.Actions = nil
	for _, a := range r.Reply.Actions {
		if a.ID == actionLatest {
			continue // "recompute" asks the same and links the two
		}
		if a.ID == reply.ActionCard || a.ID == reply.ActionPost {
			a.Whole = a.Message + " " + r.ID
		}
		out.Actions = append(out.Actions, a)
	}
	again := func() { out.Actions = append(out.Actions, r.again(now, set)) }
	latest := !r.nothingNewer(set) && slices.ContainsFunc(r.Reply.Actions, func(a reply.Action) bool { return a.ID == actionLatest })
	switch state {
	case Unchecked, Disagreed:
		out.Actions = append(out.Actions, reply.Action{ID: ActionCheck, Label: "Check", Message: "check", Whole: "check " + r.ID})
		switch {
		case state == Disagreed && r.warmer(set):
			a := r.again(now, set)
			a.ID = actionLatest // one tap away: what they do not agree on is looked at, not made lower
			out.Actions = append(out.Actions, a)
		case state == Disagreed || latest:
			again()
		}
	case Recompute, Expired:
		again()
	case Checked, Noted:
		if latest {
			again()
		}
	}
	return out
}

// nothingNewer says that the observation at hand is no newer than what the record
// was worked at: whoever typed a temperature passed that one over.
func (r Record) nothingNewer(set Settings) bool {
	if set.Known == nil || r.Station() == "" {
		return false
	}
	o, ok := set.Known(r.Station())
	return ok && !r.Newer(Weather{Since: o.At, Arrived: o.Received})
}

// warmer says that a record would be computed anew at no colder a temperature, or at
// one that is not at hand.
func (r Record) warmer(set Settings) bool {
	switch {
	case len(r.Reply.Arrivals) > 0: // each has a temperature of its own
		return false
	case set.Known == nil, r.Station() == "":
		return true
	}
	o, ok := set.Known(r.Station())
	return !ok || float64(o.C) >= r.Temperature()
}

// again is the action that computes a record anew. Its label says at which
// temperature, where that is at hand.
func (r Record) again(now time.Time, set Settings) reply.Action {
	a := reply.Action{ID: ActionRecompute, Message: "recompute " + r.ID}
	if len(r.Reply.Arrivals) > 0 { // each has a temperature of its own
		a.Label = "Brief again"
		return a
	}
	known := ""
	if n := len(r.Noticed); n > 0 && r.Noticed[n-1].Observed {
		known = reply.Degrees(r.Noticed[n-1].C)
	}
	if set.Known != nil && r.Station() != "" {
		if o, ok := set.Known(r.Station()); ok {
			known = reply.KnownTemperature(o.C, now.Sub(o.At))
		}
	}
	a.Label = reply.Again(known)
	return a
}

// outdated says in one line that a record holds no more: the temperature that
// it is now, and the one that it was worked at.
func (r Record) outdated() string {
	n := r.Noticed[len(r.Noticed)-1]
	switch {
	case n.Observed:
		return "Out of date: " + reply.Degrees(n.C) + " now, worked at " + reply.Degrees(r.Temperature()) + "."
	case n.Forecast:
		return "Out of date: " + reply.Degrees(n.C) + " forecast, worked at " + reply.Degrees(r.Temperature()) + "."
	}
	return "Out of date: " + n.Text
}

// Above is the line over a card that must not be read without it.
func Above(r Record, now time.Time, set Settings) string {
	set = set.withDefaults()
	switch r.State(now) {
	case Recompute:
		return r.outdated()
	case Expired:
		return "Expired: " + r.ID + " was valid until " + set.clock(r.Station(), r.Expires, r.At) + "."
	case Replaced:
		if r.Replaced.By != "" {
			return "Replaced by " + r.Replaced.By + "."
		}
		return "Replaced: " + r.Replaced.why() + "."
	case Disagreed:
		k, _ := r.disagreement()
		return "Disagreed: " + r.ID + ", by " + r.Named(k.By) + ". " + differences(k) + "."
	}
	return ""
}

// lines are the record's on its card.
func lines(r Record, now time.Time, set Settings) []string {
	clock := func(t time.Time) string { return set.clock(r.Station(), t, r.At) }
	out := []string{fmt.Sprintf("Computed by %s at %s.", r.Named(r.Asked), clock(r.At))}
	if r.Replaces != "" {
		out = append(out, fmt.Sprintf("Version %d, in the place of %s.", r.Version, r.Replaces))
	}
	if r.Shown != "" {
		out = append(out, fmt.Sprintf("Called %s at first, which another record has.", r.Shown))
	}
	if !r.Posted.IsZero() {
		out = append(out, fmt.Sprintf("Posted to the team at %s.", clock(r.Posted)))
	}
	_, open := r.disagreement()
	for i, k := range r.Checks {
		switch {
		case !k.stands():
			out = append(out, fmt.Sprintf("Checked by %s at %s; withdrawn at %s.", r.Named(k.By), clock(k.At), clock(k.Withdrawn)))
		case !k.Agrees():
			word := "Disagreed"
			if !open || slices.ContainsFunc(r.Checks[i+1:], func(l Check) bool { return l.stands() && l.Agrees() }) {
				word = "Disagreed, resolved since"
			}
			out = append(out, fmt.Sprintf("%s: %s at %s. %s.", word, r.Named(k.By), clock(k.At), differences(k)))
		case k.How == Blind:
			out = append(out, fmt.Sprintf("Checked by %s at %s, with figures of their own.", r.Named(k.By), clock(k.At)))
		default:
			out = append(out, fmt.Sprintf("Checked by %s at %s.", r.Named(k.By), clock(k.At)))
		}
	}
	if n := len(r.Noticed); n > 0 {
		out = append(out, "Out of date: "+r.Noticed[n-1].Text)
	}
	switch {
	case r.Replaced != nil && r.Replaced.By != "":
		out = append(out, fmt.Sprintf("Replaced by %s at %s.", r.Replaced.By, clock(r.Replaced.At)))
	case r.Replaced != nil:
		out = append(out, fmt.Sprintf("I%s at %s.", r.Replaced.why()[1:], clock(r.Replaced.At)))
	case now.Before(r.Expires): // ValidUntil says so
	default:
		out = append(out, fmt.Sprintf("Expired at %s.", clock(r.Expires)))
	}
	return out
}

// differences are the altitudes that differ.
func differences(k Check) string {
	var out []string
	for _, c := range k.Compared {
		if !c.Agrees {
			out = append(out, c.String())
		}
	}
	return strings.Join(out, "; ")
}

// Line is a record in one line, for lists.
func Line(r Record, now time.Time, set Settings) string {
	set = set.withDefaults()
	b := fmt.Appendf(nil, "%s %s: %s", r.ID, set.clock(r.Station(), r.At, now), r.Reply.Topic())
	for i, n := range r.Numbers {
		sep := ","
		if i > 0 {
			sep = ";"
		}
		b = fmt.Appendf(b, "%s %s to %s", sep, altitudeName(n.Label, n.PublishedFt), reply.WholeUp(n.CorrectedFt))
	}
	for _, s := range r.Reply.Stops { // a line that is left out is left out for a reason
		b = fmt.Appendf(b, ". %s", strings.TrimSuffix(s.Text, "."))
	}
	word := r.State(now).Word()
	b = fmt.Appendf(b, ". %s; computed by %s", strings.ToUpper(word[:1])+word[1:], r.Named(r.Asked))
	if k, ok := r.check(); ok {
		b = fmt.Appendf(b, ", checked by %s", r.Named(k.By))
	}
	return string(append(b, '.'))
}
