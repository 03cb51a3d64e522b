package present

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/reply"
)

// brief is one line an arrival, its procedures folded.
func brief(r reply.Reply) Document {
	var d Document
	d.add(Headline{Text: briefly(r), Tone: tone(reply.Reply{Required: worst(r.Arrivals)})})
	d.lines(r.Notes)
	for i := range r.Arrivals {
		a := &r.Arrivals[i]
		d.add(Line{arrivalLine(a)})
		var blocks []Block
		for _, p := range a.Procedures {
			for _, s := range p.Stops {
				d.add(Stop{a.Station.Ident + " " + p.Name + ": " + s.Text})
			}
			t := tableOf(p.Altitudes, r.Compensated)
			t.Title = a.Station.Ident + " " + p.Name
			blocks = append(append(blocks, Block(t)), cautions(p.Cautions)...)
		}
		d.fold("arrival-"+strconv.Itoa(i+1), a.Station.Ident+" "+a.At.UTC().Format("15:04Z"), blocks)
	}
	for _, c := range r.Cautions {
		if c.Code == reply.CautionNotKept { // the others are folded
			d.add(Line{c.Text})
		}
	}
	var all []Block
	if len(r.Facts) > 0 {
		all = append(all, List{Title: "Where it is from", Lines: r.Facts})
	}
	for _, s := range r.Sections {
		all = append(all, List{Title: s.Title, Lines: s.Lines})
	}
	d.fold("details", "Where it is from", all)
	d.state(r.Record)
	d.fold("cautions", "Cautions", cautions(r.Cautions), small(r.Source))
	return d
}

// briefly is the headline of a brief: where a correction will be required.
func briefly(r reply.Reply) string {
	if r.Headline != "" {
		return r.Headline
	}
	var correct, unknown []string
	for i := range r.Arrivals {
		switch a := &r.Arrivals[i]; {
		case a.Required == reply.NotApplicable:
			unknown = append(unknown, a.Station.Ident)
		case a.Required == reply.Yes && a.Bound:
			correct = append(correct, a.Station.Ident+" (perhaps)")
		case a.Required == reply.Yes:
			correct = append(correct, a.Station.Ident)
		}
	}
	text := "Brief: no correction"
	if len(correct) > 0 {
		text = "Brief: correct at " + strings.Join(correct, ", ")
	}
	if len(unknown) > 0 {
		if len(correct) == 0 {
			text = "Brief"
			if len(unknown) < len(r.Arrivals) {
				text = "Brief: no correction elsewhere"
			}
		}
		text += "; not known: " + strings.Join(unknown, ", ")
	}
	if r.Unverified != "" {
		text += ", unverified rules"
	}
	return text
}

// worst is what the arrivals ask for together.
func worst(all []reply.Arrival) reply.OptBool {
	out := reply.No
	for i := range all {
		switch all[i].Required {
		case reply.Yes:
			return reply.Yes
		case reply.NotApplicable:
			out = reply.NotApplicable
		}
	}
	return out
}

// first is the headline, else the first fact, else a word.
func first(r reply.Reply, word string) string {
	switch {
	case r.Headline != "":
		return r.Headline
	case len(r.Facts) > 0:
		return r.Facts[0]
	}
	return word
}

// arrivalLine is an arrival in one line.
func arrivalLine(a *reply.Arrival) string {
	form := "15:04Z"
	if a.Local != "" && !strings.HasSuffix(a.Local, ", today") {
		form = "Mon " + form
	}
	text := a.Station.Ident + " " + a.At.UTC().Format(form)
	if a.Alternate {
		text += " (alternate)"
	}
	switch {
	case a.TemperatureC.OK && a.Bound:
		text += ", no colder than " + reply.Celsius(a.TemperatureC.Value)
	case a.Observed:
		text += ", observed " + reply.Celsius(a.TemperatureC.Value)
	case a.TemperatureC.OK:
		text += ", " + reply.Celsius(a.TemperatureC.Value)
	}
	switch {
	case a.Required == reply.Yes && a.Bound:
		text += ": correct, if it is that cold"
	case a.Required == reply.Yes:
		text += ": correct"
	case a.Required == reply.No:
		text += ": no correction"
	default:
		text += ": not known"
	}
	if hours := a.UTCHours(); hours != "" {
		text += "; at or below " + reply.Degrees(a.RestrictionC.Value) + " " + hours
	}
	if a.RecomputeC.OK {
		text += "; again at " + reply.Degrees(a.RecomputeC.Value)
	}
	switch {
	case a.Note != "" && !a.TemperatureC.OK:
		text += " (" + a.Note + ")"
	case a.Doubt != "":
		text += "; " + a.Doubt
	}
	return strings.TrimSuffix(text, ".") + "."
}

// watch is one line a base, coldest first; those that are clear are folded.
func watch(r reply.Reply) Document {
	var d Document
	d.add(Headline{Text: first(r, "Watch")})
	if len(r.Facts) > 1 && r.Headline == "" {
		d.lines(r.Facts[1:])
	}
	bases := slices.Clone(r.Bases)
	slices.SortStableFunc(bases, func(a, b reply.Cold) int {
		switch {
		case rank(a) != rank(b):
			return rank(a) - rank(b)
		case a.LowC.Value < b.LowC.Value:
			return -1
		case a.LowC.Value > b.LowC.Value:
			return 1
		}
		return 0
	})
	open, clear := List{}, List{Title: "Clear"}
	for i := range bases {
		if bases[i].Is() == "clear" {
			clear.Lines = append(clear.Lines, baseLine(&bases[i]))
			continue
		}
		open.Lines = append(open.Lines, baseLine(&bases[i]))
	}
	if len(open.Lines) > 0 {
		d.add(open)
	}
	if n := len(clear.Lines); n > 0 {
		d.fold("clear", strconv.Itoa(n)+" clear", []Block{clear})
	}
	for _, s := range r.Sections {
		d.fold("details", "Each base", []Block{List{Title: s.Title, Lines: s.Lines}})
	}
	return d
}

// rank orders states: what has to be done first.
func rank(c reply.Cold) int {
	return slices.Index([]string{"below", "no-forecast", "part-forecast", "near", "clear"}, c.Is())
}

// baseLine is a base in a few words.
func baseLine(c *reply.Cold) string {
	text := c.Ident
	if c.LowC.OK {
		text += " " + reply.Degrees(c.LowC.Value)
	}
	if c.RestrictionC.OK {
		text += " (line " + reply.Degrees(c.RestrictionC.Value) + ")"
	}
	text += ": " + reply.StateWord(c.Is())
	if c.ObservedC.OK {
		text += ", observed " + reply.Degrees(c.ObservedC.Value) + " at " + c.ObservedAt.UTC().Format("15:04Z")
	}
	today := c.Began.UTC() // of the hours in UTC, which may be another day's
	if today.IsZero() {
		today = cmp.Or(c.BelowFrom, c.CoveredTo, c.LowAt).UTC()
	}
	at := func(t time.Time) string {
		if t = t.UTC(); t.Format(time.DateOnly) != today.Format(time.DateOnly) {
			return t.Format("Mon 15:04Z")
		}
		return t.Format("15:04Z")
	}
	switch {
	case !c.BelowFrom.IsZero():
		text += ", " + c.Hours(dash, "", at)
		if !c.CoveredTo.IsZero() && !c.BelowTo.Before(c.CoveredTo) {
			text += ", or longer" // no more is known or looked at
		}
	case c.State == "below" && c.LowC.OK && !c.LowAt.IsZero():
		text += ", lowest at " + at(c.LowAt)
	}
	if c.State == "part-forecast" {
		text += ", to " + at(c.CoveredTo)
	}
	if c.Past {
		text += ", past: how cold it still is, is not known"
	}
	if c.Doubt != "" {
		text += "; " + c.Doubt
	}
	if !c.SnoozedUntil.IsZero() {
		text += ", no reminders until " + c.SnoozedUntil.UTC().Format("15:04Z")
	}
	return text
}

// alert is one word of the watch: what is cold and when; the sentence that the
// headline is short for and the corrections to expect are folded.
func alert(r reply.Reply) Document {
	var d Document
	head := Headline{Text: first(r, "Alert"), Tone: Act}
	kind := ""
	if r.Alert != nil {
		kind = r.Alert.Kind
	}
	if kind == "all-clear" || kind == "ended" {
		head.Tone = Calm
	}
	d.add(head)
	for _, s := range r.Stops {
		d.add(Stop{s.Text})
	}
	var whole []Block
	facts := r.Facts
	switch {
	case len(facts) == 0:
	case r.Headline == "": // it is the first fact
		facts = facts[1:]
	case kind != "" && inShort(r.Alert):
		whole, facts = []Block{Line{facts[0]}}, facts[1:]
	}
	d.lines(facts)
	d.fold(foldExpected, "Corrections to expect", expected(r))
	d.fold("cautions", "Cautions", cautions(r.Cautions), small(r.Source))
	d.fold("details", "The whole alert", whole)
	return d
}

// foldExpected is the id of an alert's corrections to expect.
const foldExpected = "expected"

// expected are the corrections at an alert's low, a table a procedure; what was
// stored before they were figures is a list.
func expected(r reply.Reply) (out []Block) {
	at := ", at " + reply.Celsius(r.TemperatureC.Value)
	for _, p := range r.Expected {
		if p.Name == "" {
			list := List{Title: "By height above the field" + at}
			for i := range p.Altitudes {
				list.Lines = append(list.Lines, reply.WholeUp(p.Altitudes[i].HeightFt)+" ft: add "+reply.WholeUp(p.Altitudes[i].CorrectionFt)+" ft")
			}
			out = append(out, list)
			continue
		}
		t := tableOf(p.Altitudes, r.Compensated)
		t.Title = p.Name + at
		out = append(append(out, t), cautions(p.Cautions)...)
	}
	for _, s := range r.Sections {
		out = append(out, List{Title: s.Title, Lines: s.Lines})
	}
	return out
}

// inShort says that the headline of an alert leaves nothing out that must be
// read: where it is not known how cold it gets, or how the watch ended, the
// sentence that says so stands on the screen.
func inShort(c *reply.Cold) bool {
	return c.Kind != "ended" && (c.State == "below" || c.State == "near" || c.State == "clear")
}
