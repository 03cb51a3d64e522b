package present

import (
	"slices"
	"strconv"
	"strings"

	"firn/bot/reply"
)

// Controls are what can be done with a reply.
type Controls struct {
	Buttons []reply.Action // in order; where Primary is true the first is what to do next
	Primary bool
	More    []Entry
	// Line asks for the same reply again, for an entry under More when the reply
	// itself cannot be found any more; empty where no line does.
	Line string
}

// Entry is one thing that is one tap away, for the person who taps alone.
type Entry struct {
	ID    string // of the fold, or of the action
	Title string
	// Asks is the message whose answer is shown; empty: the fold is there.
	Asks string
	// Open says that Asks is asked as a button would, and its answer stands for
	// everybody: a new card.
	Open bool
}

// The entries that are no fold of the document.
const (
	EntryWorking = "working"
	EntryPicture = "picture"
	EntryPrint   = "print"
	EntryAgain   = "again"
)

// Joined stands between the ids of entries that a surface offers as one.
const Joined = "+"

// Grouped puts entries together until there are at most most, for services
// whose menus are short: folds that stand beside each other, the last first,
// then what has to be asked for. An entry that opens a card stays alone.
func Grouped(all []Entry, most int) []Entry {
	out := slices.Clone(all)
	join := func(fits func(a, b Entry) bool) bool {
		for i := len(out) - 2; i >= 0; i-- {
			a, b := out[i], out[i+1]
			if fits(a, b) {
				out[i] = Entry{ID: a.ID + Joined + b.ID, Title: a.Title + ", " + strings.ToLower(b.Title[:1]) + b.Title[1:], Asks: a.Asks}
				out = slices.Delete(out, i+1, i+2)
				return true
			}
		}
		return false
	}
	folds := func(a, b Entry) bool { return a.Asks == "" && b.Asks == "" && a.ID != "calls" }
	asked := func(a, b Entry) bool { return !a.Open && !b.Open && (a.Asks == "") == (b.Asks == "") }
	for len(out) > max(most, 2) && (join(folds) || join(asked)) {
	}
	return out
}

// labels are what the actions are called, whatever a stored reply calls them.
var labels = map[string]string{"check": "Check", "post": "Post", "picture": "Picture", "card": "Print", "why": "Working"}

// labelOf is what an action is called. One that asks again says at which
// temperature; what was stored before that did not.
func labelOf(a reply.Action) string {
	switch l := labels[a.ID]; {
	case l != "":
		return l
	case (a.ID == "recompute" || a.ID == "latest") && (a.Label == "Recompute" || a.Label == "Use the latest temperature"):
		return reply.Again("")
	}
	return a.Label
}

// order of the buttons; what is not in it comes behind.
var order = []string{"ack", "recompute", "enter", "confirm", "check", "post", "snooze"}

// ControlsOf are the controls of a reply and its document.
func ControlsOf(r reply.Reply, d Document) Controls {
	state := ""
	if r.Record != nil {
		state = r.Record.State
	}
	c := Controls{Line: lineOf(r)}
	over := holdsNoMore(r.Record)
	// To ask again is what a card needs that holds no more, or of which two
	// people disagree, and what a word on such a card is about.
	again := over || state == "disagreed" || r.Record == nil
	var behind []Entry
	for _, a := range r.Actions {
		a.Label = labelOf(a)
		switch {
		case a.ID == "why":
			behind = append(behind, Entry{ID: EntryWorking, Title: a.Label, Asks: a.Asks()})
		case a.ID == "picture":
			behind = append(behind, Entry{ID: EntryPicture, Title: a.Label, Asks: a.Asks()})
		case a.ID == reply.ActionCard:
			behind = append(behind, Entry{ID: EntryPrint, Title: a.Label, Asks: a.Asks()})
		case a.ID == "latest", a.ID == "recompute" && !again:
			behind = append(behind, Entry{ID: EntryAgain, Title: a.Label, Asks: a.Asks(), Open: true})
		case state == "replaced", over && a.ID != "recompute": // nothing of it may be relied on
		default:
			c.Buttons = append(c.Buttons, a)
		}
	}
	rank := func(a reply.Action) int {
		if i := slices.Index(order, a.ID); i >= 0 {
			return i
		}
		return len(order)
	}
	slices.SortStableFunc(c.Buttons, func(a, b reply.Action) int { return rank(a) - rank(b) })
	c.Primary = len(c.Buttons) > 0 && slices.Contains(order[:5], c.Buttons[0].ID)
	for _, f := range d.More {
		c.More = append(c.More, Entry{ID: f.ID, Title: f.Title})
	}
	for _, e := range behind {
		if over && e.ID != EntryWorking || slices.ContainsFunc(c.More, func(m Entry) bool { return m.ID == e.ID }) {
			continue
		}
		c.More = append(c.More, e)
	}
	return c
}

// holdsNoMore says that nobody is to fly by a record any more.
func holdsNoMore(c *reply.RecordStatus) bool {
	return c != nil && (c.State == "replaced" || c.State == "recompute" || c.State == "expired")
}

// lineOf is a line that asks for the reply again.
func lineOf(r reply.Reply) string {
	for _, a := range r.Actions {
		if a.ID == "why" {
			return a.Asks()
		}
	}
	switch {
	case r.Kind == reply.KindDigest:
		return string(reply.KindWatch)
	case r.Kind == reply.KindWatch, r.Kind == reply.KindHelp, r.Kind == reply.KindMine:
		return string(r.Kind)
	case r.Kind == reply.KindStatus && r.Station.Ident != "" && r.TemperatureC.OK:
		return strings.TrimSpace(r.Station.Ident + " " + strconv.FormatFloat(r.TemperatureC.Value, 'f', -1, 64))
	}
	return ""
}

// Unfolded are the blocks of an entry: of the fold that has its id; of an answer
// that was asked for it the working, or the figures where those to expect were
// wanted; else of the whole document.
func (d Document) Unfolded(id string) []Block {
	for _, f := range d.More {
		if f.ID == id {
			return f.Blocks
		}
	}
	all := d.Full()
	wanted := func(Block) bool { return true }
	switch id {
	case EntryWorking:
		wanted = func(b Block) bool { _, is := b.(Steps); return is }
	case foldExpected:
		wanted = func(b Block) bool {
			_, stop := b.(Stop)
			_, table := b.(Table)
			return stop || table
		}
	}
	if some := slices.DeleteFunc(slices.Clone(all), func(b Block) bool { return !wanted(b) }); len(some) > 0 {
		return some
	}
	return all
}
