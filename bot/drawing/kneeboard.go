package drawing

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/present"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// Paper is the size of a printed card.
type Paper uint8

// The papers.
const (
	A5         Paper = iota // 148 × 210 mm
	HalfLetter              // 5.5 × 8.5 inches
	Letter                  // 8.5 × 11 inches
)

var papers = []string{"a5", "half-letter", "letter"}

// String is the paper's id.
func (p Paper) String() string {
	if int(p) < len(papers) {
		return papers[p]
	}
	return papers[A5]
}

// ParsePaper reads a paper's id.
func ParsePaper(id string) (Paper, bool) {
	for i, name := range papers {
		if strings.EqualFold(name, id) {
			return Paper(i), true
		}
	}
	return A5, false
}

// Signed is who did something, and when.
type Signed struct {
	By string
	At time.Time
}

// Standing is what a card says of itself: how it came about and how long it
// holds.
type Standing struct {
	Record     string // its name; empty when the answer is not kept
	State      string // in a word; empty: checked where somebody has, else not checked
	Computed   Signed
	Checked    []Signed  // by others, in order
	ValidUntil time.Time // zero: not known, to be written in by hand
	// Void says why the card does not hold any more, as that the temperature
	// has moved; empty when it does.
	Void string
	// Now is when the card is made: from ValidUntil on it prints NOT VALID.
	Now   time.Time
	Zone  *time.Location // of the base; nil: UTC alone
	Paper Paper
}

// Kneeboard is the page to print and clip to the kneeboard: the short answer, with
// the cells of its table, and who stands for it.
type Kneeboard struct {
	Heading           // the record and its state, and the headline of the answer
	Stops    []string // what may not be flown, above the table
	From     string   // where the temperature is from; empty: it was typed
	Notes    []string // what must be read beside the figures
	Table    present.Table
	Missed   int          // the first row of the missed approach; 0: there is none
	Call     present.Call // empty: there is none
	NoCall   string       // why; empty when there is nothing to say
	Cautions []string     // of this answer alone
	Standing string       // the one line of cautions that every answer has
	Paper    Paper

	Computed   Signature
	Checked    []Signature // empty: to be signed by hand
	ValidUntil string      // empty: to be written in by hand
	NotValid   string      // why it does not hold; empty when it does
	foot       []string
}

// Signature is who did something and when, as a card prints it; where By is
// empty a name is written by hand.
type Signature struct{ By, At string }

// String is both in a line.
func (s Signature) String() string {
	return strings.TrimPrefix(strings.TrimSuffix(s.By+", "+s.At, ", "), ", ")
}

// KneeboardOf makes the card of a reply.
func KneeboardOf(r reply.Reply, s Standing) (Kneeboard, bool) {
	if !drawable(r) {
		return Kneeboard{}, false
	}
	c := Kneeboard{Paper: s.Paper, Computed: s.signed(s.Computed)}
	for _, by := range s.Checked {
		if t := s.signed(by); t != (Signature{}) {
			c.Checked = append(c.Checked, t)
		}
	}
	c.hold(s)
	c.Kind = s.top(len(c.Checked) > 0)
	order, _ := flown(r.Altitudes)
	rows := make([]reply.Row, len(order))
	for n, i := range order {
		rows[n] = r.Altitudes[i]
		if c.Missed == 0 && rows[n].Segment == procedure.Missed.String() {
			c.Missed = n
		}
	}
	r.Altitudes = rows
	// The card has the state as it is now, and room for no working.
	r.Record, r.Working = nil, nil
	c.take(present.Of(r), r.Notes)
	switch {
	case c.NotValid != "": // nobody is to say it any more
		c.Call, c.NoCall = present.Call{}, "No call: this card is not valid."
	case c.Call == (present.Call{}) && closed(r):
		c.NoCall = "No call. " + strings.Join(c.Stops, " ")
	}
	c.foot = []string{"A planning aid: feet above sea level unless marked m."}
	if source, _, _ := strings.Cut(clean(r.Source), " A planning aid:"); source != "" {
		c.foot[0] += " Source: " + source
	}
	return c, true
}

// take fills the card from the short answer, of which notes are the answer's own.
func (c *Kneeboard) take(d present.Document, notes []string) {
	for _, b := range d.Short {
		switch b := b.(type) {
		case present.Headline:
			c.Title = clean(b.Text)
		case present.Stop:
			c.Stops = append(c.Stops, clean(b.Text))
		case present.Table:
			c.Table = present.Table{Fly: b.Fly, Rows: slices.Clone(b.Rows)}
			for i := range c.Table.Rows {
				row := &c.Table.Rows[i]
				row.Name, row.Mark = clean(row.Name), clean(row.Mark)
			}
		case present.Call:
			c.Call = present.Call{Title: clean(b.Title), Text: clean(b.Text)}
		case present.Line:
			if t := clean(b.Text); t == "" {
				continue
			} else if slices.Contains(notes, b.Text) {
				c.Notes = append(c.Notes, t)
			} else if len(c.Table.Rows) == 0 {
				c.From = t
			} else {
				c.Cautions = append(c.Cautions, t)
			}
		case present.Small:
			c.Standing = clean(b.Text)
		}
	}
}

// hold is how long the card does, and why it does not.
func (c *Kneeboard) hold(s Standing) {
	c.NotValid = clean(s.Void)
	if !s.ValidUntil.IsZero() {
		c.ValidUntil = s.at(s.ValidUntil)
		if c.NotValid == "" && !s.Now.Before(s.ValidUntil) {
			c.NotValid = "Expired " + c.ValidUntil + "."
		}
	}
}

// closed says that a stop closes everything: the edition has ended, the
// temperature is too old, or none of the minimums may be used.
func closed(r reply.Reply) bool {
	lines, usable := 0, 0
	for i := range r.Altitudes {
		if a := &r.Altitudes[i]; minimum(a) {
			lines++
			if a.State != reply.StateNotUsable {
				usable++
			}
		}
	}
	return len(r.Stops) > 0 && lines > 0 && usable == 0 ||
		slices.ContainsFunc(r.Stops, func(s reply.Stop) bool { return s.Code == reply.StopEdition || s.Code == reply.StopAge })
}

// top is the record and its state.
func (s Standing) top(checked bool) string {
	name, state := clean(s.Record), clean(s.State)
	if name == "" {
		name = "No record"
	}
	switch {
	case state != "":
	case checked:
		state = "checked"
	default:
		state = "not checked"
	}
	return name + " · " + state
}

func (s Standing) signed(by Signed) Signature {
	out := Signature{By: clean(by.By)}
	if !by.At.IsZero() {
		out.At = s.at(by.At)
	}
	return out
}

// at is an instant on the card: the day, and both times where the base has
// one of its own.
func (s Standing) at(t time.Time) string {
	utc := t.UTC().Format("15:04Z 2 Jan 2006")
	if s.Zone == nil || s.Zone == time.UTC {
		return utc
	}
	return utc + t.In(s.Zone).Format(" (Mon 15:04 local)")
}

// Name is the file's name.
func (Kneeboard) Name() string { return "card" }

// Top is the heading.
func (c Kneeboard) Top() Heading { return c.Heading }

// Foot are the lines below.
func (c Kneeboard) Foot() []string { return c.foot }

// Alt is the card in words.
func (c Kneeboard) Alt() string {
	var b strings.Builder
	if c.NotValid != "" {
		fmt.Fprintf(&b, "NOT VALID. %s ", c.NotValid)
	}
	fmt.Fprintf(&b, "Card. %s. %s. ", c.Kind, c.Title)
	for _, line := range slices.Concat(c.Stops, c.Notes) {
		fmt.Fprintf(&b, "%s ", line)
	}
	for i, r := range c.Table.Rows {
		if i > 0 {
			b.WriteString("; ")
		}
		if r.Name != "" {
			b.WriteString(r.Name + ": ")
		}
		fmt.Fprintf(&b, "%s %s, chart %s", c.Table.Fly, r.Fly, r.Chart)
		if r.Mark != "" {
			b.WriteString(", " + r.Mark)
		}
	}
	b.WriteString(". ")
	switch by := c.Computed; {
	case by.By != "":
		fmt.Fprintf(&b, "Computed by %s. ", by)
	case by.At != "":
		fmt.Fprintf(&b, "Computed %s. ", by.At)
	}
	if len(c.Checked) == 0 {
		b.WriteString("Not checked. ")
	}
	for _, by := range c.Checked {
		fmt.Fprintf(&b, "Checked by %s. ", by)
	}
	if c.ValidUntil != "" && c.NotValid == "" {
		fmt.Fprintf(&b, "Valid until %s. ", c.ValidUntil)
	}
	b.WriteString("A planning aid.")
	switch {
	case c.Call.Text != "":
		fmt.Fprintf(&b, " %s: “%s”", c.Call.Title, c.Call.Text)
	case c.NotValid == "" && c.NoCall != "":
		b.WriteString(" No call.")
	}
	return b.String()
}
