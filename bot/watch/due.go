package watch

import (
	"time"

	"firn/bot/config"
	"firn/engine/coldwatch"
)

// dueStep is what is due for a base's day.
type dueStep uint8

const (
	wait   dueStep = iota // nothing, for now
	open                  // the morning's word
	say                   // the next number, of what was judged
	finish                // nothing more, ever
	missed                // the window went by unseen
)

// dueAction is a step with what goes with it; the zero one asks for nothing.
type dueAction struct {
	step dueStep
	kind Kind      // of say
	due  time.Time // when it was due; what is said later is late
	nth  int       // of an escalation, from 0
}

// due says what a day asks for at an instant. It knows nothing but what is
// stored, so that any replica after any restart comes to the same.
func due(p plan, d Day, now time.Time, s *Settings) dueAction {
	if now.Before(p.window.From) {
		return dueAction{}
	}
	if len(d.Alerts) == 0 {
		if !now.Before(p.end()) || p.overtaken(now) {
			return dueAction{step: missed}
		}
		return dueAction{step: open, due: p.window.From}
	}
	if !now.Before(p.end()) {
		// A day that the next one takes over from is not closed: the next
		// one's word holds.
		if !d.open() || p.end().Before(p.window.To) || !now.Before(p.gone) {
			return dueAction{step: finish}
		}
		return dueAction{step: say, kind: Ended, due: p.window.To}
	}
	if p.overtaken(now) {
		return dueAction{}
	}
	return d.reminder(now, s)
}

// open says that the last word of a day is of something that people must do
// something about.
func (d Day) open() bool {
	if len(d.Alerts) == 0 {
		return false
	}
	last := d.Alerts[len(d.Alerts)-1]
	return last.Kind != AllClear && last.Kind != Ended && last.Judgement.State.Asks()
}

// overtaken says that the next day takes over within the hour: it will say
// what there is to say.
func (p plan) overtaken(now time.Time) bool {
	return !p.next.After(p.window.To) && p.next.Sub(now) < tail
}

// reminder is the repeat or the escalation that is due.
func (d Day) reminder(now time.Time, s *Settings) dueAction {
	asked, ok := d.asks()
	if !ok || d.acknowledged(asked.Seq) || now.Before(d.SnoozedUntil) {
		return dueAction{}
	}
	word := asked.Made // the last one that was said about it
	steps := 0
	for _, a := range d.Alerts {
		if a.Seq <= asked.Seq {
			continue
		}
		word = a.Made
		if a.Kind == Escalated {
			steps++
		}
	}
	if steps >= max(1, len(s.Duty)) {
		return dueAction{} // everybody has been told
	}
	from := asked.Made
	if steps > 0 {
		from = word
	}
	escalate := latest(from, d.SnoozedUntil).Add(s.Escalate)
	if !now.Before(escalate) {
		return dueAction{step: say, kind: Escalated, due: escalate, nth: steps}
	}
	if repeat := latest(word.Add(s.Repeat), d.SnoozedUntil); steps == 0 && !now.Before(repeat) && repeat.Before(escalate) {
		return dueAction{step: say, kind: Repeated, due: repeat}
	}
	return dueAction{}
}

// asks is the alert that wants an acknowledgement now. A base that is near is
// told once and quietly.
func (d Day) asks() (Alert, bool) {
	for i := len(d.Alerts) - 1; i >= 0; i-- {
		switch a := d.Alerts[i]; a.Kind {
		case Opened, Amended:
			return a, a.Judgement.State.Asks()
		case AllClear, Ended:
			return Alert{}, false
		}
	}
	return Alert{}, false
}

// acknowledged says whether somebody has seen the alert or a later one.
func (d Day) acknowledged(seq int) bool {
	_, ok := d.ackOf(seq)
	return ok
}

// ackOf is the first acknowledgement of an alert or a later one.
func (d Day) ackOf(seq int) (Ack, bool) {
	for _, a := range d.Acks {
		if a.Seq >= seq {
			return a, true
		}
	}
	return Ack{}, false
}

// slot counts the re-checks of a day: the one at the window's beginning is 0.
func (p plan) slot(at time.Time, every time.Duration) int {
	return int(at.Sub(p.window.From) / every)
}

// tail is the end of a window that no forecast is looked up for any more: an
// hourly one begins with the next full hour.
const tail = time.Hour

// rechecks says whether a newer forecast is to be looked for: once a slot, and
// not in the slot in which the last one was judged; and where what was forecast
// comes to its end.
func (p plan) rechecks(d Day, checked int, now time.Time, s *Settings) (slot int, is bool) {
	if len(d.Alerts) == 0 || p.end().Sub(now) < tail {
		return 0, false
	}
	slot = p.slot(now, s.Recheck)
	judged := d.judged()
	ended := judged.Judgement.State == coldwatch.PartForecast && !now.Before(judged.Judgement.CoveredTo)
	return slot, ended || slot > checked && slot > p.slot(judged.Made, s.Recheck)
}

// judged is the last alert that came of a judgement.
func (d Day) judged() Alert {
	for i := len(d.Alerts) - 1; i > 0; i-- {
		if k := d.Alerts[i].Kind; k != Repeated && k != Escalated {
			return d.Alerts[i]
		}
	}
	return d.Alerts[0]
}

// news says what kind of alert changes make, empty for none that may be told
// now: snoozing holds what neither crosses nor is colder than what was known. wakes
// says that there is such a change.
func news(before coldwatch.State, after coldwatch.State, changes []coldwatch.Change, snoozed bool) (_ Kind, wakes bool) {
	for _, c := range changes {
		wakes = wakes || c.Crosses() || c.Colder
	}
	switch {
	case len(changes) == 0, snoozed && !wakes:
		return "", wakes
	case after == coldwatch.Clear && before != coldwatch.Clear:
		return AllClear, wakes
	}
	return Amended, wakes
}

// escalated is how many on duty have been told of a day.
func (d Day) escalated() int {
	n := 0
	for _, a := range d.Alerts {
		if a.Kind == Escalated {
			n++
		}
	}
	return n
}

// channels are where a word of a day goes. Whoever it was escalated to hears
// what comes after: all that is new, and no reminder of what they know.
func (s *Settings) channels(own []config.Address, kind Kind, nth, escalated int) []config.Address {
	if len(own) == 0 {
		own = s.Channels
	}
	switch {
	case kind == Escalated && nth < len(s.Duty):
		return s.Duty[nth : nth+1]
	case kind != Repeated:
		all := append([]config.Address(nil), own...)
		return append(all, s.Duty[:min(escalated, len(s.Duty))]...)
	}
	return own
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
