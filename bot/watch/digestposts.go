package watch

import (
	"slices"
	"time"

	"firn/bot/outbox"
	"firn/bot/person"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// digestItems are the posts that are due in a channel.
func (w *Watch) digestItems(m *morning, now time.Time) (items []outbox.Item) {
	add := func(body reply.Reply, due time.Time) {
		m.posted++
		items = append(items, outbox.Item{Key: digestKey(m.day, m.posted), Channel: m.channel, Body: body, Made: now, Due: due})
	}
	if len(m.bases) > 0 && m.root == nil && m.posted == 0 {
		w.openDigest(m, now, add)
	} else if len(m.bases) > 0 {
		w.digestNews(m, m.bases, add)
		w.remind(m, m.bases, Repeated, add)
	}
	if len(m.escalated) > 0 {
		w.remind(m, m.escalated, Escalated, add)
		if len(m.bases) == 0 {
			w.digestNews(m, m.sinceEscalation(), add)
		}
	}
	return items
}

// sinceEscalation are the bases without the words before somebody on duty was
// told: these are no news to them.
func (m *morning) sinceEscalation() (out []member) {
	for _, e := range m.escalated {
		d, n := e.d, 0
		d.Alerts = slices.DeleteFunc(slices.Clone(d.Alerts), func(a Alert) bool {
			if a.Kind == Escalated {
				n++
			}
			return n <= m.nth
		})
		for _, a := range e.d.Alerts {
			if !slices.ContainsFunc(d.Alerts, func(o Alert) bool { return o.Seq == a.Seq }) {
				m.told[a.name()] = true
			}
		}
		out = append(out, e)
	}
	return out
}

// openDigest writes the morning's one post, once its bases have been looked at,
// and in its thread a word on each that people have to see.
func (w *Watch) openDigest(m *morning, now time.Time, add func(reply.Reply, time.Time)) {
	first, pending, tell := time.Time{}, false, w.set.DailyQuiet
	for _, b := range m.bases {
		if len(b.d.Alerts) == 0 {
			pending = pending || now.Before(b.p.end()) && !b.p.overtaken(now)
			continue
		}
		if first.IsZero() || b.p.window.From.Before(first) {
			first = b.p.window.From
		}
		tell = tell || b.tells()
	}
	if first.IsZero() || !tell || pending && now.Before(latest(first, w.began).Add(w.set.Grace+time.Minute)) {
		return
	}
	if w.born.Before(now) {
		first = latest(first, w.born)
	}
	sc := w.digestScene(m.day, m.bases, now)
	body := reply.MorningDigest(sc)
	add(body, first)
	if w.set.Threads == nil || !w.set.Threads(m.channel) {
		return
	}
	under := digestKey(m.day, 1)
	place := func(b member) int { // as in the post: the farthest below first
		return slices.IndexFunc(body.Bases, func(c reply.Cold) bool { return c.Ident == b.b.Ident })
	}
	for _, b := range slices.SortedStableFunc(slices.Values(m.bases), func(a, b member) int { return place(a) - place(b) }) {
		if len(b.d.Alerts) == 0 || b.d.judged().Judgement.State == coldwatch.Clear {
			continue
		}
		add(w.digestPart(b, b.d.judged(), m.day, under), first)
	}
}

// tells says that a base has something to tell.
func (m member) tells() bool {
	return m.since != "" || slices.ContainsFunc(m.d.Alerts, func(a Alert) bool { return a.Judgement.State != coldwatch.Clear })
}

// digestScene is how the bases stand.
func (w *Watch) digestScene(day string, bases []member, now time.Time) reply.DigestScene {
	sc := reply.DigestScene{Day: day}
	for _, b := range bases {
		if len(b.d.Alerts) == 0 {
			continue
		}
		for _, a := range b.d.Alerts {
			sc.Told = append(sc.Told, a.name())
		}
		last := b.d.judged()
		l := reply.DigestLine{Name: b.b.Name, Cold: reply.ColdOf(b.b.Ident, last.Judgement), Zone: b.b.Zone, Since: b.since}
		l.Cold.Kind, l.Cold.Began = string(last.Kind), b.p.window.From
		l.Over, l.To = last.Kind == Ended, b.p.window.To
		l.Cold.Doubt = weather.Doubt(last.Judgement.Note, last.Judgement.Issued, now)
		l.Cold.Pass(now)
		asked, asks := b.d.asks()
		l.Asks = asks && now.Before(b.p.end())
		if a, ok := b.d.ackOf(asked.Seq); ok && asks {
			l.Cold.SeenBy, l.Cold.SeenAt = person.Named(a.By), a.At.UTC()
		}
		if l.Asks && now.Before(b.d.SnoozedUntil) {
			l.Cold.SnoozedUntil = b.d.SnoozedUntil.UTC()
		}
		sc.Bases = append(sc.Bases, l)
	}
	return sc
}

// digestPart is one word on one base.
func (w *Watch) digestPart(m member, a Alert, day, under string) reply.Reply {
	said := announcement{due: a.Made, window: m.p.window}
	if a.Kind == Amended || a.Kind == AllClear {
		said.window = said.window.Rest(a.Made)
		if before, ok := m.d.judgedBefore(a.Seq); ok {
			said.changes = coldwatch.Changed(before.Judgement, a.Judgement, said.window, w.set.Step)
		}
	}
	body := w.body(m.b, m.p, m.d, a, said)
	if under != "" { // the post above has the buttons
		body.Actions = slices.DeleteFunc(body.Actions, func(a reply.Action) bool { return a.ID == "ack" || a.ID == "snooze" })
	}
	body.Digest = &reply.Digest{Day: day, Word: reply.DigestBase, Told: []string{a.name()}, Under: under}
	return body
}

// judgedBefore is the last alert before another that came of a judgement.
func (d Day) judgedBefore(seq int) (Alert, bool) {
	for _, a := range slices.Backward(d.Alerts) {
		if a.Seq < seq && a.Kind != Repeated && a.Kind != Escalated {
			return a, true
		}
	}
	return Alert{}, false
}

// digestNews are the words since the morning's post: in its thread, and in the
// channel where a base has newly come to be below its line or is not known.
func (w *Watch) digestNews(m *morning, bases []member, add func(reply.Reply, time.Time)) {
	for _, b := range bases {
		for _, a := range b.d.Alerts {
			asks := a.Judgement.State.Asks()
			before, had := b.d.judgedBefore(a.Seq)
			crosses := asks && (!had || before.Judgement.State < a.Judgement.State && before.Judgement.State != coldwatch.Below)
			switch {
			case m.told[a.name()], a.Kind == Repeated, a.Kind == Escalated, a.Kind == Opened && !asks:
				continue
			}
			under := digestKey(m.day, 1)
			if crosses && a.Kind != Ended {
				under = ""
			}
			m.told[a.name()] = true
			add(w.digestPart(b, a, m.day, under), a.Made)
		}
	}
}

// reminded says that a reminder for another base, whose morning is a little
// earlier, has just named this one too.
func (m *morning) reminded(a Alert, every time.Duration) bool {
	return slices.ContainsFunc(m.reminders, func(r outbox.Shown) bool {
		since := a.Made.Sub(r.Made)
		return since >= 0 && since < every && slices.ContainsFunc(r.Body.Bases, func(c reply.Cold) bool { return c.Ident == a.Base })
	})
}

// remind names the bases that nobody has seen, once for all that it is due for.
func (w *Watch) remind(m *morning, bases []member, kind Kind, add func(reply.Reply, time.Time)) {
	var told []string
	var due, asked time.Time
	for _, b := range bases {
		n := 0
		for _, a := range b.d.Alerts {
			nth := n
			if a.Kind == Escalated {
				n++
			}
			if a.Kind != kind || m.told[a.name()] || kind == Escalated && nth != m.nth || m.reminded(a, w.set.Repeat) {
				continue
			}
			told = append(told, a.name())
			if due.IsZero() || a.Made.Before(due) {
				due = a.Made
			}
			if first, ok := b.d.asks(); ok && (asked.IsZero() || first.Made.Before(asked)) {
				asked = first.Made
			}
		}
	}
	if len(told) == 0 {
		return
	}
	for _, name := range told {
		m.told[name] = true
	}
	sc := w.digestScene(m.day, bases, due)
	sc.Told = told
	if !slices.ContainsFunc(sc.Bases, func(l reply.DigestLine) bool { return l.Asks && l.Cold.SeenBy == "" }) {
		return // somebody has seen them all meanwhile
	}
	add(reply.Reminder(sc, due.Sub(asked), kind == Escalated), due)
}
