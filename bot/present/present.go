package present

import (
	"cmp"
	"strings"

	"firn/bot/reply"
)

// Of makes the document of a reply.
func Of(r reply.Reply) Document {
	var d Document
	switch {
	case r.Problem != nil:
		d = question(r)
	case r.Headline == "" && !r.TemperatureC.OK && (r.Kind == reply.KindCorrection || r.Kind == reply.KindStatus):
		d = plain(r) // it was stored with its words alone
	case r.Kind == reply.KindCorrection:
		d = correction(r)
	case r.Kind == reply.KindStatus:
		d = status(r)
	case r.Kind == reply.KindBrief:
		d = brief(r)
	case r.Kind == reply.KindWatch:
		d = watch(r)
	case r.Kind == reply.KindAlert:
		d = alert(r)
	case r.Kind == reply.KindDigest:
		d = digest(r)
	case r.Mine != nil:
		d = mine(r)
	default:
		d = plain(r)
	}
	d.Notice = notice(r, d)
	return d
}

// question says what must be known and what to type.
func question(r reply.Reply) Document {
	d := Document{Short: []Block{Question{Text: r.Problem.Text, Try: r.Problem.Try}}}
	if r.Confirm != "" {
		for _, s := range r.Stops {
			d.add(Stop{s.Text})
		}
		d.add(tableOf(r.Altitudes, r.Compensated))
	}
	d.lines(r.Facts)
	d.lists(r.Sections)
	return d
}

// plain is a reply of sentences and lists: help, rules, the log, a notice, an
// altitude on the way.
func plain(r reply.Reply) Document {
	var d Document
	facts := r.Facts
	switch {
	case r.Headline != "":
		d.add(Headline{Text: r.Headline})
	case len(facts) > 0 && r.Kind != reply.KindNote:
		d.add(Headline{Text: facts[0]})
		facts = facts[1:]
	}
	d.lines(facts)
	d.lists(r.Sections)
	d.state(r.Record)
	d.fold("cautions", "Cautions", cautions(r.Cautions), small(r.Source))
	return d
}

func (d *Document) add(b ...Block) { d.Short = append(d.Short, b...) }

func (d *Document) lines(facts []string) {
	for _, f := range facts {
		d.add(Line{f})
	}
}

func (d *Document) lists(sections []reply.Section) {
	for _, s := range sections {
		d.add(List{Title: s.Title, Lines: s.Lines})
	}
}

// fold adds what is one tap away, where there is anything.
func (d *Document) fold(id, title string, parts ...[]Block) {
	var all []Block
	for _, p := range parts {
		all = append(all, p...)
	}
	if len(all) > 0 {
		d.More = append(d.More, Fold{ID: id, Title: title, Blocks: all})
	}
}

// states are how the state of a record is said.
var states = map[string]string{
	"unchecked": "not checked",
	"recompute": "out of date",
	"noted":     "kept",
}

// StateWord is what the state of a record is called where people read it.
func StateWord(code string) string { return cmp.Or(states[code], code) }

// state adds that of a record; one that has to be read first says why.
func (d *Document) state(c *reply.RecordStatus) {
	if c == nil {
		return
	}
	s := State{Record: c.ID, Code: c.State, Word: StateWord(c.State)}
	if !holdsNoMore(c) && !c.ValidUntil.IsZero() {
		s.Until = c.ValidUntil.UTC().Format("15:04Z")
	}
	if c.State != "unchecked" && c.State != "noted" {
		s.Lines = c.Lines
	}
	d.add(s)
	if len(c.Lines) > len(s.Lines) {
		d.fold("record", "Record", []Block{List{Title: "Record " + c.ID, Lines: c.Lines}})
	}
}

// cautions are a list, those of this answer first.
func cautions(all []reply.Caution) []Block {
	if len(all) == 0 {
		return nil
	}
	list := List{Title: "Cautions"}
	for _, standing := range []bool{false, true} {
		for _, c := range all {
			if c.Standing == standing && c.Code != reply.CautionStillBelow { // which another has whole
				list.Lines = append(list.Lines, c.Text)
			}
		}
	}
	return []Block{list}
}

func small(text string) []Block {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	return []Block{Small{text}}
}
