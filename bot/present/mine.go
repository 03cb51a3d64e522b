package present

import "firn/bot/reply"

// mine is what concerns one person: three lists, with what can be done about
// each line.
func mine(r reply.Reply) Document {
	var d Document
	tone := Calm
	if len(r.Sections) > 0 {
		tone = Act
	}
	d.add(Headline{Text: first(r, "For you"), Tone: tone})
	lists := r.Mine.Lists()
	for i, s := range r.Sections {
		l := List{Title: s.Title, Lines: s.Lines}
		if i < len(lists) {
			for _, it := range lists[i] {
				l.Acts = append(l.Acts, it.Actions)
			}
		}
		d.add(l)
	}
	return d
}
