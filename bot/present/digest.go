package present

import (
	"strings"

	"firn/bot/reply"
)

// digest is a channel's morning, or a reminder of it: what is cold, a line a
// base; those that are clear are folded.
func digest(r reply.Reply) Document {
	var d Document
	tone := Calm
	if len(r.Actions) > 0 {
		tone = Act
	}
	d.add(Headline{Text: first(r, "Cold watch"), Tone: tone})
	d.lines(r.Facts)
	for _, s := range r.Sections {
		list := List{Title: s.Title, Lines: s.Lines}
		if strings.HasPrefix(s.Title, reply.DigestClear) {
			d.fold("clear", s.Title, []Block{list})
			continue
		}
		d.add(list)
	}
	d.fold("cautions", "Cautions", cautions(r.Cautions), small(r.Source))
	return d
}
