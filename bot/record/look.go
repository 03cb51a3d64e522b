package record

import (
	"context"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/weather"
)

// Looked is what a round did.
type Looked struct {
	Live, Noticed, Expired, Told, Failed, Pruned int
}

// The pace of telling. The figures are ours: a card that cannot be changed for
// a day will not be.
const (
	tellBatch  = 50
	tellLimit  = 30 * time.Second
	tellFirst  = 10 * time.Second // pause after the first failure; doubled each time
	tellLast   = 10 * time.Minute
	tellTries  = 150
	pruneEvery = 24 * time.Hour
	pruneFirst = 10 * time.Minute // after the start, which has other things to do
)

// Run changes cards as soon as something happens to their records, until the
// context ends.
func (b *Book) Run(ctx context.Context) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-b.kick:
			b.tell(ctx)
		}
	}
}

// Look goes through the live records once: newer weather is held against them,
// those whose time is over expire, and cards that are behind are changed. It
// may be missed, and come twice.
func (b *Book) Look(ctx context.Context) (l Looked) {
	b.expire(ctx, &l)
	if b.o.Computer != nil && (b.o.Observer != nil || b.o.Forecaster != nil) {
		b.notice(ctx, &l)
	}
	told := b.tell(ctx)
	l.Told, l.Failed = l.Told+told.Told, l.Failed+told.Failed
	b.prune(ctx, &l)
	return l
}

func (b *Book) expire(ctx context.Context, l *Looked) {
	err := b.store.EachRecord(ctx, Query{Due: b.now()}, func(r Record) error {
		if c, o := Decide(r, Deed{Kind: KindExpired, At: b.now()}, b.set); o.Done {
			held, err := b.store.Apply(ctx, r, c)
			if held {
				l.Expired++
			}
			return err
		}
		return nil
	})
	b.failed(ctx, l, "expired records not told", err)
}

// station is the weather of one, asked for once a round.
type station struct {
	weather   []Weather
	forecasts []weather.Forecast
}

func (b *Book) notice(ctx context.Context, l *Looked) {
	stations := map[string]*station{}
	err := b.store.EachRecord(ctx, Query{Live: true}, func(r Record) error {
		l.Live++
		if len(r.Reply.Arrivals) > 0 {
			return b.holdBrief(ctx, l, r, stations)
		}
		if r.Station() == "" || r.Line == "" || !b.now().Before(r.Expires) {
			return ctx.Err()
		}
		at := stations[r.Station()]
		if at == nil {
			at = b.ask(ctx, r.Station())
			stations[r.Station()] = at
		}
		return b.hold(ctx, l, r, at)
	})
	b.failed(ctx, l, "records not held against the weather", err)
}

// ask asks for a station's weather; that there is none is for the watch to
// tell.
func (b *Book) ask(ctx context.Context, ident string) *station {
	at := &station{}
	if b.o.Observer != nil {
		if o, err := b.o.Observer.Observation(ctx, ident); err == nil {
			at.weather = append(at.weather, Observed(o.Observation))
		} else {
			b.log.DebugContext(ctx, "no observation to hold records against", "base", ident, "err", err)
		}
	}
	if b.o.Forecaster != nil {
		var err error
		if at.forecasts, err = b.o.Forecaster.Forecasts(ctx, ident); err != nil {
			b.log.DebugContext(ctx, "no forecast to hold records against", "base", ident, "err", err)
		}
	}
	return at
}

// holdBrief holds the arrivals of a brief that are still to come against the
// latest observations: each says from which temperature on its figures change.
func (b *Book) holdBrief(ctx context.Context, l *Looked, r Record, stations map[string]*station) error {
	for _, a := range r.Reply.Arrivals {
		ident := a.Station.Ident
		if !a.RecomputeC.OK || !b.now().Before(a.At.Add(time.Hour)) {
			continue
		}
		at := stations[ident]
		if at == nil {
			at = b.ask(ctx, ident)
			stations[ident] = at
		}
		for _, w := range at.weather {
			text, crossed := crosses(r, a, w, b.set)
			if !crossed {
				continue
			}
			c, o := Decide(r, Deed{Kind: KindRecompute, At: b.now(), Noticed: Noticed{C: float64(w.C), Source: w.Source, Text: text}}, b.set)
			if !o.Done {
				return ctx.Err()
			}
			held, err := b.store.Apply(ctx, r, c)
			if held {
				l.Noticed++
				b.log.InfoContext(ctx, "brief does not hold any more", "record", r.ID, "base", ident, "c", float64(w.C))
			}
			return err // one a round: the next sees what was said
		}
	}
	return ctx.Err()
}

// hold holds a record against the weather.
func (b *Book) hold(ctx context.Context, l *Looked, r Record, at *station) error {
	all := at.weather
	for _, f := range at.forecasts {
		if w, ok := Coldest(f, b.now(), r.Expires); ok {
			all = append(all[:len(all):len(all)], w)
		}
	}
	for _, w := range all {
		if !r.Newer(w) {
			continue
		}
		then, err := b.o.Computer.Recompute(ctx, r.Line, w.C)
		if err != nil {
			l.Failed++
			b.log.WarnContext(ctx, "record cannot be computed again", "record", r.ID, "err", err)
			return ctx.Err()
		}
		changed, text := Notice(r, w, then, b.set)
		if !changed {
			continue
		}
		c, o := Decide(r, Deed{Kind: KindRecompute, At: b.now(), Noticed: Noticed{C: float64(w.C), Source: w.Source, Text: text}}, b.set)
		if !o.Done {
			return nil
		}
		// Whoever was faster has changed the record: the next round decides.
		held, err := b.store.Apply(ctx, r, c)
		if held {
			l.Noticed++
			b.log.InfoContext(ctx, "record does not hold any more", "record", r.ID, "base", r.Station(), "c", float64(w.C))
		}
		return err
	}
	return nil
}

func (b *Book) prune(ctx context.Context, l *Looked) {
	now := b.now()
	b.mu.Lock()
	if b.pruned.IsZero() {
		b.pruned = now.Add(pruneFirst - pruneEvery)
	}
	due := b.set.Retain > 0 && now.Sub(b.pruned) >= pruneEvery
	if due {
		b.pruned = now
	}
	b.mu.Unlock()
	if !due {
		return
	}
	n, err := b.store.Prune(ctx, now.Add(-b.set.Retain), now)
	l.Pruned = n
	if n > 0 {
		b.log.InfoContext(ctx, "old records went", "records", n)
	}
	b.failed(ctx, l, "old records not taken", err)
}

func (b *Book) failed(ctx context.Context, l *Looked, what string, err error) {
	if err != nil && ctx.Err() == nil {
		l.Failed++
		b.log.ErrorContext(ctx, what, "err", err)
	}
}

// tell changes the cards that are behind.
func (b *Book) tell(ctx context.Context) (l Looked) {
	if b.o.Cards == nil {
		return l
	}
	for ctx.Err() == nil {
		marks, err := b.store.Untold(ctx, b.now(), tellBatch)
		b.failed(ctx, &l, "cards to change not read", err)
		moved := false
		for _, m := range marks {
			ok, held := b.tellOne(ctx, m)
			if ok {
				l.Told++
			} else {
				l.Failed++
			}
			moved = moved || held
		}
		if err != nil || len(marks) == 0 || !moved {
			return l
		}
	}
	return l
}

// tellOne changes one card and says in its thread, once, what changed. moved
// says that the card's mark is another now.
func (b *Book) tellOne(ctx context.Context, m Mark) (ok, moved bool) {
	ctx, cancel := context.WithTimeout(ctx, tellLimit)
	defer cancel()
	r, found, err := b.store.Record(ctx, m.Record)
	if err == nil && !found {
		err = b.store.DropCard(ctx, m.Surface, m.Ref)
		return err == nil, err == nil
	}
	if err == nil {
		err = b.o.Cards.Change(ctx, m.Surface, m.Ref, b.card(r))
	}
	is := m
	if err == nil {
		if n := len(r.Noticed); n > 0 && r.Noticed[n-1].Rev > m.Said && !r.Over() {
			// Marked before it is said: never twice.
			said := is
			said.Said, said.Again = r.Rev, time.Time{}
			held, marked := b.store.SetMark(ctx, is, said)
			if marked != nil || !held {
				return false, false // another process says it
			}
			if err = b.o.Cards.Follow(ctx, m.Surface, m.Ref, b.word(r)); err == nil {
				is = said
			} else if held, marked = b.store.SetMark(context.WithoutCancel(ctx), said, m); marked != nil || !held {
				is = said
			}
		}
	}
	was := is
	switch {
	case err == nil:
		is.Told, is.Tries, is.Again = r.Rev, 0, time.Time{}
	case outbox.IsPermanent(err) || m.Tries+1 >= tellTries:
		b.log.ErrorContext(ctx, "card not changed; given up", "record", m.Record, "surface", m.Surface, "err", err)
		is.Told = m.Want
	default:
		b.log.WarnContext(ctx, "card not changed yet", "record", m.Record, "surface", m.Surface, "err", err)
		is.Tries, is.Again = m.Tries+1, b.now().Add(min(tellLast, tellFirst<<min(m.Tries, 10)))
	}
	held, marked := b.store.SetMark(context.WithoutCancel(ctx), was, is)
	if marked != nil {
		b.log.ErrorContext(ctx, "change of a card not marked", "record", m.Record, "err", marked)
	}
	if err == nil && marked == nil && !held {
		b.overtaken(ctx, m, r.Rev)
	}
	return err == nil && held, marked == nil && held
}

// overtaken is for a card that two have changed at the same time. Which of
// them its service took last is not known; whoever showed an older revision
// shows it again as it is now.
func (b *Book) overtaken(ctx context.Context, m Mark, shown int) {
	for range doTries {
		r, found, err := b.store.Record(ctx, m.Record)
		if err == nil && found && r.Rev > shown {
			if err = b.o.Cards.Change(ctx, m.Surface, m.Ref, b.card(r)); err == nil {
				shown = r.Rev
				continue
			}
		}
		if err == nil {
			return
		}
		b.log.ErrorContext(ctx, "card may show an older revision", "record", m.Record, "surface", m.Surface, "err", err)
		select {
		case <-time.After(time.Second):
		case <-ctx.Done():
			return
		}
	}
}

// card is what a record's card shows now.
func (b *Book) card(r Record) Card {
	now := b.now()
	c := Card{Reply: Face(r, now, b.set), Note: Above(r, now, b.set)}
	// A button under it is pressed whenever, and asks the whole of it.
	actions := make([]reply.Action, len(c.Reply.Actions))
	for i, a := range c.Reply.Actions {
		a.Message = a.Asks()
		actions[i] = a
	}
	c.Reply.Actions = actions
	return c
}

// word is what is said in the thread of a card that holds no longer.
func (b *Book) word(r Record) Card {
	return Card{Reply: reply.Reply{
		Kind:    reply.KindNotice,
		Facts:   []string{r.what() + " does not hold any more. " + r.Noticed[len(r.Noticed)-1].Text},
		Actions: []reply.Action{{ID: ActionRecompute, Label: "Recompute", Message: "recompute " + r.ID}},
	}}
}
