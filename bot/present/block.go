package present

import (
	"strings"

	"firn/bot/reply"
)

// Document is one reply as it is shown.
type Document struct {
	// Notice is plain text for a locked screen, of at most NoticeMost
	// characters: headline, stop and the figures to fly.
	Notice string
	Short  []Block // what stands on the screen
	More   []Fold  // what is one tap away
}

// Full is everything: the short form and behind it what is folded.
func (d Document) Full() []Block {
	out := append(make([]Block, 0, len(d.Short)+2*len(d.More)), d.Short...)
	for _, f := range d.More {
		out = append(out, f.Blocks...)
	}
	return out
}

// Fold is a part that is one tap away. Its blocks have their own titles.
type Fold struct {
	ID     string // calls, working, cautions, details, record, or of a list its own
	Title  string // of the button, the menu entry or the summary
	Blocks []Block
}

// Block is one part of a document: Headline, Stop, Table, Call, Line, Small,
// State, Question, List, Phrases or Steps.
type Block interface{ block() }

// Tone is how a headline is coloured; its words alone are enough.
type Tone uint8

// The tones.
const (
	Plain  Tone = iota
	Act         // something is to be done
	Calm        // nothing is
	Unsure      // it is not known
)

// Headline is the answer in one line.
type Headline struct {
	Text string
	Tone Tone
}

// Parts are what a headline is about and what it says of that, where a surface
// has a line for each: XKLD rnav 31, −38 °C and correct every segment. Else
// about is empty.
func (h Headline) Parts() (about, says string) {
	about, says, found := strings.Cut(h.Text, ": ")
	if !found {
		return "", h.Text
	}
	return about, says
}

// Stop is what forbids; it stands above the figures.
type Stop struct{ Text string }

// Call is what is said to air traffic control, ready to be read.
type Call struct {
	Title  string // "Say on check-in"
	Text   string
	Spoken string
}

// Line is a sentence of its own.
type Line struct{ Text string }

// Small is small print.
type Small struct{ Text string }

// State is how far an answer has been checked and how long it holds.
type State struct {
	Record string   // its name
	Code   string   // as the record has it: unchecked, checked, recompute, ...
	Word   string   // not checked, checked, out of date, ...; empty where the surface has said it
	Until  string   // 17:54Z; empty where it does not matter
	Lines  []string // who did what when; empty where nobody has done anything yet
}

// Text is the state in one line.
func (s State) Text() string {
	parts := make([]string, 0, 3)
	if s.Until != "" {
		s.Until = "until " + s.Until
	}
	for _, p := range [...]string{s.Record, s.Word, s.Until} {
		if p != "" {
			parts = append(parts, p)
		}
	}
	return strings.Join(parts, " · ")
}

// Question is what must be known, and the line to type.
type Question struct {
	Text string
	Try  string // empty: there is none
}

// List is a titled list of lines.
type List struct {
	Title string
	Lines []string
	// Acts are what can be done about each line, where its surface has a place
	// for them; nil: nothing can.
	Acts [][]reply.Action
}

// Phrases are sentences for the radio, in figures and as spoken.
type Phrases struct {
	Title string
	List  []reply.Request
}

// Steps is the working of one altitude.
type Steps struct {
	Title   string
	Steps   []reply.Step
	Methods []reply.MethodFigure
}

func (Headline) block() {}
func (Stop) block()     {}
func (Table) block()    {}
func (Call) block()     {}
func (Line) block()     {}
func (Small) block()    {}
func (State) block()    {}
func (Question) block() {}
func (List) block()     {}
func (Phrases) block()  {}
func (Steps) block()    {}
