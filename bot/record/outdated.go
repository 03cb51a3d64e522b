package record

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/person"
	"firn/bot/reply"
)

// Outdated are the results of a base that newer weather of one round has made
// hold no longer: what is told once a channel, and once a person.
type Outdated struct {
	Base    string
	At      time.Time // of the round; with the base it names what is told
	Records []Record  // in the order in which they were asked
}

// Key names what is told, for ever.
func (o Outdated) Key() string {
	return "outdated/" + o.Base + "/" + o.At.UTC().Format("20060102T150405.000000")
}

// Teller sees to it that people are told, once by a key.
type Teller interface {
	Outdated(ctx context.Context, o Outdated) error
	// Ended tells whoever checked a result that holds no more, since its question
	// asks something else now or is gone, once however often it is called. next is
	// what came in its place; nil: nothing did.
	Ended(ctx context.Context, was Record, next *Result) error
}

// tellReplaced has those told, while nobody waits for it, whose checks ended with
// what results have replaced.
func (b *Book) tellReplaced(all []Result) {
	all = slices.DeleteFunc(slices.Clone(all), func(m Result) bool { return m.Replaces == "" })
	if len(all) == 0 || b.o.Teller == nil {
		return
	}
	b.tellers.Go(func() {
		for _, m := range all {
			ctx, cancel := context.WithTimeout(context.Background(), tellLimit)
			was, _, err := b.store.Record(ctx, m.Replaces)
			if m.ID = b.current(m.ID); err == nil && was.Replaced != nil && was.Replaced.By == m.ID {
				err = b.tellEnded(ctx, was, &m)
			}
			if cancel(); err != nil {
				b.log.ErrorContext(ctx, "who checked a result does not learn that it ended", "record", m.Replaces, "err", err)
			}
		}
	})
}

// tellEnded tells whoever checked a result that has been replaced. Who was told
// that it is out of date is not told again.
func (b *Book) tellEnded(ctx context.Context, was Record, next *Result) error {
	if b.o.Teller == nil || was.Replaced == nil || len(was.Noticed) > 0 || !was.Replaced.At.Before(was.Expires) || len(was.Checkers()) == 0 {
		return nil
	}
	return b.o.Teller.Ended(ctx, was, next)
}

// CheckEnded is what somebody reads who checked a result that ended; next as in
// Teller.
func (b *Book) CheckEnded(was Record, next *Result) reply.Reply {
	text := was.what() + ", which you checked, "
	out := reply.Reply{Kind: reply.KindNotice}
	if next == nil {
		out.Facts = []string{text + "is gone: " + was.Replaced.why() + "."}
		return out
	}
	out.Facts = []string{fmt.Sprintf("%swas replaced by %s (%s, %s).", text, next.ID, next.Reply.Topic(), next.Asked)}
	out.Actions = []reply.Action{{ID: ActionCheck, Label: "Check", Message: "check " + next.ID}}
	return out
}

// retold is for how long a process that starts tells again what one before it
// may not have told. Ours: a round is a minute's.
const retold = 10 * time.Minute

// tellOutdated hands on what was noticed. What cannot be is tried in the next
// round.
func (r *round) tellOutdated(ctx context.Context) {
	h := &r.swept
	for key, all := range r.outdated {
		h.untold = append(h.untold, Outdated{Base: key.base, At: key.at, Records: all})
	}
	clear(r.outdated)
	if r.o.Teller == nil {
		h.untold = nil
		return
	}
	h.untold = slices.DeleteFunc(h.untold, func(o Outdated) bool {
		slices.SortFunc(o.Records, func(a, b Record) int { return a.At.Compare(b.At) })
		err := r.o.Teller.Outdated(ctx, o)
		r.failed(ctx, r.l, "outdated results not told", err)
		return err == nil
	})
}

// told is what one round tells of a base.
type told struct {
	base string
	at   time.Time
}

// tells notes that a record's last notice is to be told.
func (r *round) tells(base string, rec Record) {
	key := told{base, rec.Noticed[len(rec.Noticed)-1].At}
	r.outdated[key] = append(r.outdated[key], rec)
}

// late notes what a process before this one has noticed and may not have told.
func (r *round) late(rec Record) {
	n := len(rec.Noticed)
	if n == 0 || r.now().Sub(rec.Noticed[n-1].At) > retold || rec.State(r.now()) != Recompute {
		return
	}
	base := rec.Station()
	for _, a := range rec.Reply.Arrivals {
		if strings.HasPrefix(rec.Noticed[n-1].Text, a.Station.Ident+" ") {
			base = a.Station.Ident
		}
	}
	r.tells(base, rec)
}

// mostNamed is how many results a summary names; ours.
const mostNamed = 10

// Summary is what a channel reads of outdated results.
func (b *Book) Summary(o Outdated) reply.Reply {
	var names []string
	for _, r := range o.Records[:min(len(o.Records), mostNamed)] {
		names = append(names, fmt.Sprintf("%s (%s, %s)", r.ID, r.workedAt(), r.Asked))
	}
	cards := "1 card"
	if n := len(o.Records); n > 1 {
		cards = fmt.Sprintf("%d cards", n)
	}
	return b.outdatedReply(o, fmt.Sprintf("%s: %s out of date: %s.", o.now(), cards, strings.Join(append(names, o.more()...), ", ")))
}

// ToPerson is what somebody reads of outdated results that they asked or
// checked.
func (b *Book) ToPerson(o Outdated, p Person) reply.Reply {
	var names []string
	for _, r := range o.Records[:min(len(o.Records), mostNamed)] {
		did := "you checked it"
		if b.set.same(r.Asked, p) {
			did = "you asked it"
		}
		names = append(names, fmt.Sprintf("%s (%s, %s)", r.ID, r.workedAt(), did))
	}
	return b.outdatedReply(o, fmt.Sprintf("%s. Out of date: %s.", o.now(), strings.Join(append(names, o.more()...), ", ")))
}

func (o Outdated) more() []string {
	if n := len(o.Records) - mostNamed; n > 0 {
		return []string{fmt.Sprintf("and %d more", n)}
	}
	return nil
}

func (b *Book) outdatedReply(o Outdated, text string) reply.Reply {
	out := reply.Reply{Kind: reply.KindNotice, Facts: []string{text}}
	if len(o.Records) != 1 { // what changes stands on each card
		return out
	}
	r := o.Records[0]
	out.Facts = append(out.Facts, r.Noticed[len(r.Noticed)-1].Text)
	again := r.again(b.now(), b.set)
	again.Message = again.Asks()
	out.Actions = []reply.Action{again}
	return out
}

// now is what the temperature is, where it is the same for all: "XKLD −45 now".
func (o Outdated) now() string {
	first := o.Records[0].Noticed[len(o.Records[0].Noticed)-1]
	for _, r := range o.Records[1:] {
		n := r.Noticed[len(r.Noticed)-1]
		if n.C != first.C || n.Observed != first.Observed || n.Forecast != first.Forecast {
			return o.Base
		}
	}
	switch {
	case first.Observed:
		return o.Base + " " + reply.Degrees(first.C) + " now"
	case first.Forecast:
		return o.Base + " " + reply.Degrees(first.C) + " forecast"
	}
	return o.Base
}

// workedAt is the temperature of a result; a brief has one an arrival.
func (r Record) workedAt() string {
	if len(r.Reply.Arrivals) > 0 {
		return r.Reply.Topic()
	}
	return strings.TrimSpace(r.Reply.ApproachName() + " " + reply.Degrees(r.Temperature()))
}

// Involved are those who asked or checked a record, by accounts that their
// surface tells apart.
func (r Record) Involved() (all []Person) {
	add := func(p Person) {
		if p.Known() && !slices.ContainsFunc(all, func(q Person) bool { return person.Key(q.Address) == person.Key(p.Address) }) {
			all = append(all, p)
		}
	}
	for _, p := range append([]Person{r.Asked}, r.Checkers()...) {
		add(p)
	}
	return all
}

// Checkers are those whose checks of a record stand.
func (r Record) Checkers() (all []Person) {
	for _, k := range r.Checks {
		if k.stands() {
			all = append(all, k.By)
		}
	}
	return all
}

// Same says that two accounts are one person's.
func (b *Book) Same(p, q Person) bool { return b.set.same(p, q) }
