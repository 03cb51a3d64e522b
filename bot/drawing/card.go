package drawing

import (
	"fmt"
	"strings"
	"time"

	"firn/bot/reply"
)

// Paper is the size of a printed card.
type Paper uint8

// The papers.
const (
	A5         Paper = iota // 148 × 210 mm
	HalfLetter              // 5.5 × 8.5 inches
)

var papers = []string{"a5", "half-letter"}

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
	Procedure  string // as crews say it; empty when the altitudes were typed
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

// Card is the page to print and clip to the kneeboard.
type Card struct {
	Heading
	Fixes    []Fix
	Known    bool // Fixes are in flying order
	Requests []reply.Request
	Cautions []string
	Stops    []string // what may not be flown, above everything
	Paper    Paper

	Computed   string   // who and when
	Checked    []string // who and when; empty: to be signed by hand
	ValidUntil string   // empty: to be written in by hand
	NotValid   string   // why it does not hold; empty when it does
	foot       []string
}

// CardOf makes the card of a reply.
func CardOf(r reply.Reply, s Standing) (Card, bool) {
	if !drawable(r) {
		return Card{}, false
	}
	c := Card{
		Heading: Heading{Kind: "Cold temperature card", Title: title(r), Sub: under(r)},
		Paper:   s.Paper,
	}
	if name := clean(s.Procedure); name != "" {
		c.Kind = name
	}
	c.Fixes, c.Known = fixesOf(r)
	c.Stops = stopLines(r)
	if q := r.Call; q != nil {
		when := "The call"
		if q.When != "" {
			when += ", " + clean(q.When)
		}
		c.Requests = append(c.Requests, reply.Request{When: when, Text: clean(q.Text), Spoken: clean(q.Spoken)})
	}
	for _, q := range r.Requests {
		c.Requests = append(c.Requests, reply.Request{When: clean(q.When), Text: clean(q.Text), Spoken: clean(q.Spoken)})
	}
	for _, q := range r.Cautions {
		if t := clean(q.Text); t != "" {
			c.Cautions = append(c.Cautions, t)
		}
	}
	c.Computed = s.signed(s.Computed)
	for _, by := range s.Checked {
		if t := s.signed(by); t != "" {
			c.Checked = append(c.Checked, t)
		}
	}
	void := clean(s.Void)
	if !s.ValidUntil.IsZero() {
		c.ValidUntil = s.at(s.ValidUntil)
		if void == "" && !s.Now.Before(s.ValidUntil) {
			void = "Expired " + c.ValidUntil + "."
		}
	}
	c.NotValid = void
	order := "flying order"
	if !c.Known {
		order = "the order given"
	}
	// The rule set's line already says what an unverified one is; a card has it
	// among its cautions.
	r.Unverified = ""
	c.foot = append([]string{"Feet above sea level unless marked m, in " + order + "."}, sourceLines(r)...)
	return c, true
}

func (s Standing) signed(by Signed) string {
	who := clean(by.By)
	switch {
	case by.At.IsZero():
		return who
	case who == "":
		return s.at(by.At)
	}
	return who + ", " + s.at(by.At)
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
func (Card) Name() string { return "card" }

// Top is the heading.
func (c Card) Top() Heading { return c.Heading }

// Foot are the lines below.
func (c Card) Foot() []string { return c.foot }

// Notes are what an altitude's row says beside its figures.
func (f Fix) Notes() string {
	var words []string
	if f.Report {
		words = append(words, "tell ATC")
	}
	switch {
	case f.Mark != "":
		words = append(words, f.Mark)
	case !f.Required && f.Add > 0:
		words = append(words, "advice")
	}
	if f.Meaning == "at-or-below" {
		words = append(words, "at or below")
	}
	return strings.Join(words, ", ")
}

// Alt is the card in words.
func (c Card) Alt() string {
	var b strings.Builder
	if c.NotValid != "" {
		fmt.Fprintf(&b, "NOT VALID. %s ", c.NotValid)
	}
	fmt.Fprintf(&b, "Card. %s. %s. ", c.Kind, c.Title)
	for _, stop := range c.Stops {
		fmt.Fprintf(&b, "%s ", stop)
	}
	for i, f := range c.Fixes {
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "%s: %s, corrected %s", f.Title(), f.PublishedText().words(), f.CorrectedText().words())
	}
	b.WriteString(". ")
	if c.Computed != "" {
		fmt.Fprintf(&b, "Computed by %s. ", c.Computed)
	}
	if len(c.Checked) == 0 {
		b.WriteString("Not checked. ")
	} else {
		fmt.Fprintf(&b, "Checked by %s. ", strings.Join(c.Checked, "; "))
	}
	if c.ValidUntil != "" {
		fmt.Fprintf(&b, "Valid until %s. ", c.ValidUntil)
	}
	fmt.Fprintf(&b, "It has the requests (%d) and cautions (%d) of the answer. A planning aid.", len(c.Requests), len(c.Cautions))
	return b.String()
}
