package reply

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"firn/engine/coldwatch"
)

// The words of a digest.
const (
	DigestMorning  = "morning"  // the morning's one post in a channel, as it stands now
	DigestReminder = "reminder" // nobody has seen what is open
	DigestBase     = "base"     // one base, in the thread of the morning's post or beside it
)

// Digest says which part of a channel's morning a reply is. The bases are in
// Reply.Bases, in the order of the sections; a part about one base is an alert
// with its Alert.
type Digest struct {
	Day  string `json:"day"` // local, 2026-01-15
	Word string `json:"word"`
	// Told are the alerts that it tells of: XKLD/1 is the first of XKLD's day.
	Told []string `json:"told,omitempty"`
	// Under is the key of the post in whose thread it stands; empty: in none.
	Under string `json:"under,omitempty"`
}

// DigestScene is a channel's morning.
type DigestScene struct {
	Day   string
	Bases []DigestLine
	Told  []string
}

// DigestLine is one base of a digest.
type DigestLine struct {
	Name  string
	Cold  Cold
	Asks  bool      // somebody has to see it
	Over  bool      // its window has ended
	To    time.Time // the end of its window; zero: not known
	Zone  *time.Location
	Since string // what ended with the day before; empty: nothing
}

// seen says that somebody has, or that nobody has to.
func (l DigestLine) seen() bool { return !l.Asks || l.Cold.SeenBy != "" }

// The sections of a digest, in their order, by the states that stand in them.
var digestSections = []struct {
	title  string
	states []string
}{
	{"At or below", []string{"below"}},
	{"Without a forecast", []string{"no-forecast", "part-forecast"}},
	{"Near", []string{"near"}},
	{DigestClear, []string{"clear"}},
}

// DigestClear is the title of the section that is folded.
const DigestClear = "Clear"

// MorningDigest is the one post of a channel and morning as it is now. Its
// headline is what a locked screen shows.
func MorningDigest(sc DigestScene) Reply {
	bases := slices.Clone(sc.Bases)
	slices.SortStableFunc(bases, digestOrder)
	r := Reply{
		Kind: KindDigest, Headline: digestHeadline(bases),
		Digest: &Digest{Day: sc.Day, Word: DigestMorning, Told: sc.Told},
	}
	day := sc.Day
	if d, err := time.Parse(time.DateOnly, sc.Day); err == nil {
		day = d.Format("Mon 2 Jan")
	}
	r.Facts = []string{"Cold watch, " + day + "."}
	for _, s := range digestSections {
		var lines []string
		for _, b := range bases {
			if slices.Contains(s.states, b.Cold.State) {
				lines = append(lines, b.line(sc.Day))
				r.Bases = append(r.Bases, b.Cold)
			}
		}
		if len(lines) > 0 {
			r.Sections = append(r.Sections, Section{Title: fmt.Sprintf("%s: %d", s.title, len(lines)), Lines: lines})
		}
	}
	r.Actions = digestActions(bases)
	return r
}

// Reminder names the bases that nobody has seen, in one post.
func Reminder(sc DigestScene, waiting time.Duration, escalated bool) Reply {
	open := slices.DeleteFunc(slices.Clone(sc.Bases), DigestLine.seen)
	slices.SortStableFunc(open, digestOrder)
	what := "Reminder"
	if escalated {
		what = "Escalated"
	}
	r := Reply{
		Kind: KindDigest, Headline: fmt.Sprintf("%s, not seen for %s: %s", what, span(waiting), named(open, digestShown)),
		Digest: &Digest{Day: sc.Day, Word: DigestReminder, Told: sc.Told},
	}
	var lines []string
	for _, b := range open {
		lines = append(lines, b.line(sc.Day))
		r.Bases = append(r.Bases, b.Cold)
	}
	r.Sections = []Section{{Title: "Not seen", Lines: lines}}
	r.Actions = digestActions(open)
	return r
}

// digestOrder puts first what is farthest below its line.
func digestOrder(a, b DigestLine) int {
	rank := func(l DigestLine) int {
		return slices.IndexFunc(digestSections, func(s struct {
			title  string
			states []string
		}) bool {
			return slices.Contains(s.states, l.Cold.State)
		})
	}
	under := func(l DigestLine) float64 { return l.Cold.LowC.Value - l.Cold.RestrictionC.Value }
	return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(under(a), under(b)), cmp.Compare(a.Cold.Ident, b.Cold.Ident))
}

// digestShown is how long the list of bases in a headline may be: a locked
// screen shows 150 characters in all.
const digestShown = 110

func digestHeadline(bases []DigestLine) string {
	in := func(states ...string) (list []DigestLine) {
		for _, b := range bases {
			if slices.Contains(states, b.Cold.State) {
				list = append(list, b)
			}
		}
		return list
	}
	below, unknown, near, clear := in("below"), in("no-forecast", "part-forecast"), in("near"), in("clear")
	var parts []string
	if len(below) > 0 {
		parts = append(parts, fmt.Sprintf("%d below: %s", len(below), named(below, digestShown)))
	} else {
		parts = append(parts, "None below")
	}
	for _, p := range []struct {
		list []DigestLine
		word string
	}{{unknown, "without a forecast"}, {near, "near"}, {clear, "clear"}} {
		if n := len(p.list); n > 0 {
			parts = append(parts, strconv.Itoa(n)+" "+p.word)
		}
	}
	return strings.Join(parts, "; ")
}

// named are bases with their lows, as many as fit.
func named(bases []DigestLine, most int) string {
	text := ""
	for i, b := range bases {
		one := b.Cold.Ident
		if b.Cold.LowC.OK {
			one += " " + Degrees(b.Cold.LowC.Value)
		}
		if i > 0 {
			one = ", " + one
		}
		if utf8.RuneCountInString(text+one) > most {
			return fmt.Sprintf("%s and %d more", text, len(bases)-i)
		}
		text += one
	}
	return text
}

// line is a base in its own time.
func (l DigestLine) line(day string) string {
	c := l.Cold
	at := func(t time.Time) string {
		local := t.In(l.Zone)
		if local.Format(time.DateOnly) != day {
			return local.Format("Mon 15:04")
		}
		return local.Format("15:04")
	}
	text := strings.TrimSpace(c.Ident + " " + l.Name)
	var parts []string
	if c.LowC.OK {
		parts = append(parts, Degrees(c.LowC.Value)+" at "+at(c.LowAt)+c.LowBeyond())
	}
	switch {
	case c.RestrictionC.OK:
		parts = append(parts, "line "+Degrees(c.RestrictionC.Value))
	case c.LowC.OK: // else its "clear" would be read as warm
		parts = append(parts, "no restriction temperature known")
	}
	switch {
	case !c.BelowFrom.IsZero():
		parts = append(parts, "below "+c.Hours("–", " local", at))
	case c.State == coldwatch.Below.String() && !c.Past:
		parts = append(parts, "hours not known")
	}
	if c.Past && !l.Over {
		parts = append(parts, stillCold)
	}
	if c.State == coldwatch.PartForecast.String() || c.State == coldwatch.Below.String() && !l.Over && leavesOut(c.CoveredTo, l.To) {
		parts = append(parts, "known to "+at(c.CoveredTo)+" local alone")
	}
	switch {
	case c.State == coldwatch.NoForecast.String() && c.Note != "":
		parts = append(parts, c.Note)
	case c.Doubt != "":
		parts = append(parts, c.Doubt)
	}
	if len(parts) > 0 {
		text += ": " + strings.Join(parts, ", ")
	}
	if l.Since != "" {
		text += "; " + l.Since
	}
	text += "."
	switch {
	case l.Over:
		text += " Its window is over."
	case c.SeenBy != "":
		text += " Seen by " + c.SeenBy + " " + at(c.SeenAt) + "."
	case l.Asks:
		text += " Not seen."
	}
	if !c.SnoozedUntil.IsZero() {
		text += " Quiet until " + at(c.SnoozedUntil) + "."
	}
	return text
}

// deedOf is a deed for bases, by name: those that stand on the post, and no others of
// the channel. Where they are many it is for the whole channel, and its label says so.
func deedOf(id, label, verb string, idents []string, tail string) Action {
	if len(idents) > mostSeen { // a button holds no more than some hundred characters
		return Action{ID: id, Label: label + ", whole channel", Message: verb + " all" + tail}
	}
	return Action{ID: id, Label: label, Message: verb + " " + strings.Join(idents, " ") + tail}
}

// mostSeen is how many bases have a button of their own, the first that are not
// seen; ours: with the two for all they are three rows of a service that shows
// five in each.
const mostSeen = 12

// digestActions are for all of them only where several are meant.
func digestActions(bases []DigestLine) (out []Action) {
	var open, asks []string
	for _, b := range bases {
		if b.Asks {
			asks = append(asks, b.Cold.Ident)
		}
		if !b.seen() {
			open = append(open, b.Cold.Ident)
		}
	}
	if len(open) > 1 {
		out = append(out, deedOf(seenAll.ID, seenAll.Label, "ack", open, ""))
	}
	for _, ident := range open[:min(len(open), mostSeen)] {
		one := seen(ident)
		if len(asks) > 1 {
			one.Label += " " + ident
		}
		if len(open) == 1 {
			one.ID = seenAll.ID // the first of the buttons
		}
		out = append(out, one)
	}
	if len(asks) > 0 {
		out = append(out, deedOf("snooze", "Snooze 2 h", "snooze", asks, " 2h"))
	}
	return out
}
