package record

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// Kind is what an entry of the history is about.
type Kind string

// The kinds.
const (
	KindMade      Kind = "made"
	KindChecked   Kind = "checked"
	KindDisagreed Kind = "disagreed"
	KindWithdrawn Kind = "withdrawn"
	KindRecompute Kind = "recompute"
	KindReplaced  Kind = "replaced"
	KindDeleted   Kind = "deleted" // its question
	KindPosted    Kind = "posted"  // to the team, what was asked in a direct message
	KindExpired   Kind = "expired"
	KindPruned    Kind = "pruned" // old records went
)

// Action is what somebody, or the clock, wants to do to a record. Which fields
// count is for its kind to say.
type Action struct {
	Kind    Kind // all but made, disagreed and pruned
	By      Person
	At      time.Time
	Entered []float64 // checked blind: the altitudes, in feet, in the card's order
	Noticed Noticed   // recompute
	Next    string    // replaced: the next version; empty: there is none
}

// Change is what an action does to a record; the history keeps it.
type Change struct {
	Kind      Kind         `json:"kind"`
	By        Person       `json:"by,omitzero"`
	At        time.Time    `json:"at"`
	Check     *Check       `json:"check,omitempty"`
	Withdrawn int          `json:"withdrawn,omitempty"` // which check, from 1
	Noticed   *Noticed     `json:"noticed,omitempty"`
	Replaced  *Replacement `json:"replaced,omitempty"`
}

// With is the record's life after a change.
func (l Status) With(c Change) Status {
	l.Rev++
	switch {
	case c.Check != nil:
		l.Checks = append(slices.Clip(l.Checks), *c.Check)
	case c.Withdrawn > 0 && c.Withdrawn <= len(l.Checks):
		l.Checks = slices.Clone(l.Checks)
		l.Checks[c.Withdrawn-1].Withdrawn = c.At
	case c.Noticed != nil:
		l.Noticed = append(slices.Clip(l.Noticed), *c.Noticed)
	case c.Replaced != nil:
		l.Replaced = c.Replaced
	case c.Kind == KindExpired:
		l.Expired = c.At
	case c.Kind == KindPosted:
		l.Posted = c.At
	}
	return l
}

// Outcome is what became of an action, in words for the person.
type Outcome struct {
	Done  bool     // it was written down
	Text  string   // one or two sentences
	Lines []string // the altitudes of a blind check
	Try   string   // what to type instead, where there is something
	Enter []string // the altitudes that the person has to enter, as published
}

// Decide says what an action does to a record, and the person why. Nothing is
// done where the outcome is not done. It is pure: whoever meets a record that
// has changed since decides again.
func Decide(r Record, d Action, set Settings) (Change, Outcome) {
	set = set.withDefaults()
	d.At = instant(d.At)
	c := Change{Kind: d.Kind, By: d.By, At: d.At}
	var o Outcome
	switch d.Kind {
	case KindChecked:
		o = check(r, d, set, &c)
	case KindWithdrawn:
		o = withdraw(r, d, set, &c)
	case KindRecompute:
		if s := r.State(d.At); s != Replaced && s != Expired {
			n := d.Noticed
			n.At, n.Rev = d.At, r.Rev+1
			c.Noticed, o.Done = &n, true
		}
	case KindReplaced:
		if r.Replaced == nil {
			c.Replaced, o.Done = &Replacement{By: d.Next, At: d.At}, true
		}
	case KindDeleted:
		if r.Replaced == nil {
			c.Replaced, o.Done = &Replacement{At: d.At, Deleted: true}, true
		}
	case KindPosted:
		o.Done = r.Private()
	case KindExpired:
		o.Done = !r.Over() && !d.At.Before(r.Expires)
	}
	return c, o
}

// what names the record for people.
func (r Record) what() string { return r.ID + " (" + r.Reply.Topic() + ")" }

// notLive refuses what is done to a record that holds no longer.
func notLive(r Record, at time.Time, set Settings) (Outcome, bool) {
	clock := func(t time.Time) string { return set.clock(r.Station(), t, at) }
	switch r.State(at) {
	case Replaced:
		if r.Replaced.By == "" {
			return Outcome{Text: fmt.Sprintf("%s is gone since %s: %s.", r.what(), clock(r.Replaced.At), r.Replaced.why())}, true
		}
		return Outcome{Text: fmt.Sprintf("%s was replaced by %s at %s; check that one.", r.what(), r.Replaced.By, clock(r.Replaced.At)), Try: "check " + r.Replaced.By}, true
	case Expired:
		return Outcome{Text: fmt.Sprintf("%s expired at %s; compute it again.", r.what(), clock(r.Expires)), Try: "recompute " + r.ID}, true
	case Recompute:
		n := r.Noticed[len(r.Noticed)-1]
		return Outcome{Text: fmt.Sprintf("%s does not hold any more: %s Recompute it, and check the new one.", r.what(), n.Text), Try: "recompute " + r.ID}, true
	case Noted:
		return Outcome{Text: fmt.Sprintf("%s has no altitudes: there is nothing to check.", r.what())}, true
	}
	return Outcome{}, false
}

// check is a second person's.
func check(r Record, d Action, set Settings, c *Change) Outcome {
	clock := func(t time.Time) string { return set.clock(r.Station(), t, d.At) }
	if o, over := notLive(r, d.At, set); over {
		return o
	}
	if set.same(r.Asked, d.By) {
		if !d.By.Known() {
			return Outcome{Text: fmt.Sprintf("%s was computed here too, and %s does not know who types: check it where people have accounts.", r.what(), d.By)}
		}
		return Outcome{Text: fmt.Sprintf("%s is your own: somebody else must check it.", r.what())}
	}
	if set.here(r.Asked, d.By) {
		return Outcome{Text: fmt.Sprintf("%s was computed in this browser: somebody else checks it in a browser of their own.", r.what())}
	}
	for _, k := range r.Checks {
		if k.stands() && !set.same(k.By, d.By) && set.here(k.By, d.By) {
			return Outcome{Text: fmt.Sprintf("%s was checked in this browser, by %s: whoever checks it as well does so in a browser of their own.", r.what(), k.By)}
		}
		if !k.stands() || !set.same(k.By, d.By) {
			continue
		}
		if !k.Agrees() {
			return Outcome{Text: fmt.Sprintf("You disagreed with %s at %s: a third person checks it now, or it is recomputed.", r.what(), clock(k.At)), Try: "recompute " + r.ID}
		}
		return Outcome{Text: fmt.Sprintf("You have already checked %s, at %s.", r.what(), clock(k.At)), Try: "withdraw " + r.ID}
	}
	k := Check{By: d.By, At: d.At, How: Confirmed}
	if d.Entered == nil {
		if set.blind(r.Channel) {
			return Outcome{Text: fmt.Sprintf("Here %s is checked blind: work out %s from your own table, and enter them in this order.", r.what(), r.asks()), Try: r.tryBlind(), Enter: r.names()}
		}
		// A plain confirmation adds nothing to a check; figures do.
		if before, ok := r.check(); ok {
			return Outcome{Text: fmt.Sprintf("%s is already checked, by %s at %s.", r.what(), r.Named(before.By), clock(before.At))}
		}
		c.Check = &k
		return Outcome{Done: true, Text: fmt.Sprintf("%s is checked by %s at %s.", r.what(), r.Named(d.By), clock(d.At)) + resolves(r)}
	}
	if len(d.Entered) != len(r.Numbers) {
		return Outcome{Text: fmt.Sprintf("%s has %s; enter as many, in this order.", r.what(), r.asks()), Try: r.tryBlind(), Enter: r.names()}
	}
	k.How = Blind
	var lines []string
	for i, n := range r.Numbers {
		k.Compared = append(k.Compared, Compare(n, d.Entered[i]))
		lines = append(lines, k.Compared[i].String()+".")
	}
	c.Check = &k
	if k.Agrees() {
		return Outcome{Done: true, Text: fmt.Sprintf("%s is checked by %s at %s: the figures agree.", r.what(), r.Named(d.By), clock(d.At)) + resolves(r), Lines: lines}
	}
	c.Kind = KindDisagreed
	return Outcome{Done: true, Lines: lines, Text: fmt.Sprintf("%s: %s disagrees. It stays so until a third person has checked it or it is recomputed.", r.what(), r.Named(d.By)), Try: "recompute " + r.ID}
}

// resolves says that a check ends a disagreement.
func resolves(r Record) string {
	if k, open := r.disagreement(); open {
		return fmt.Sprintf(" The disagreement of %s is resolved.", r.Named(k.By))
	}
	return ""
}

// asks lists the published altitudes that somebody enters the corrected of.
func (r Record) asks() string {
	names := r.names()
	what := "altitudes"
	if len(names) == 1 {
		what = "altitude"
	}
	return fmt.Sprintf("%d %s, %s", len(names), what, strings.Join(names, ", "))
}

// names are the published altitudes.
func (r Record) names() []string {
	names := make([]string, len(r.Numbers))
	for i, n := range r.Numbers {
		names[i] = altitudeName(n.Label, n.PublishedFt)
	}
	return names
}

// tryBlind is the line to type, without a figure that could be copied.
func (r Record) tryBlind() string {
	return "check " + r.ID + strings.Repeat(" nnnn", len(r.Numbers))
}

// withdraw takes a person's own check back.
func withdraw(r Record, d Action, set Settings, c *Change) Outcome {
	for i := len(r.Checks) - 1; i >= 0; i-- {
		k := r.Checks[i]
		if !k.stands() || !set.same(k.By, d.By) {
			continue
		}
		if r.Replaced != nil {
			o, _ := notLive(r, d.At, set)
			return Outcome{Text: o.Text}
		}
		if !k.Agrees() {
			return Outcome{Text: fmt.Sprintf("A disagreement stays with %s until a third person has checked it or it is recomputed.", r.what()), Try: "recompute " + r.ID}
		}
		c.Withdrawn = i + 1
		return Outcome{Done: true, Text: fmt.Sprintf("The check of %s by %s is withdrawn.", r.what(), k.By)}
	}
	return Outcome{Text: fmt.Sprintf("There is no check of yours to withdraw from %s.", r.what())}
}
