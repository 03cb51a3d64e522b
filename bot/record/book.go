package record

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"time"

	"firn/bot/reply"
	"firn/engine"
)

// Options are what a Book is made of. What is nil is not there: without Cards
// no card is changed, without Teller nobody is told, without Observer, Forecaster or Computer nothing is
// noticed.
type Options struct {
	Settings   Settings
	Cards      Messages
	Teller     Teller
	Observer   Observer
	Forecaster Forecaster
	Computer   Computer
}

// Book is the record. Safe for use by several goroutines. Close it in the end.
type Book struct {
	log   *slog.Logger
	now   func() time.Time
	store Store
	o     Options
	set   Settings

	queue   chan job
	urgent  chan struct{} // somebody waits for what is in the queue
	written chan struct{}
	closing sync.RWMutex
	closed  bool
	end     sync.Once
	ended   chan struct{} // closed when Close begins

	mu      sync.Mutex
	pending map[string]*pending // by the name that people were shown
	renamed map[string]string   // such names that were taken
	earlier map[string]bool     // made anew although it stood, until its card comes
	coming  map[string]string   // records by the cards that will show them, whose marks are kept with them
	refused time.Time           // when the store took nothing at the last try; zero: it did
	heard   time.Time           // when it was last there
	silent  bool                // it has not answered since whoever asked it something
	lost    map[string]*pending // given up, while their cards may still come
	pruned  time.Time
	local   map[string]localResult // made since the last round, by name

	telling sync.Mutex // held while a card is told that its record is not kept
	tellers sync.WaitGroup

	swept sweepState // by Sweep

	kick chan struct{}
}

// New starts a book. now is the clock by which results expire.
func New(log *slog.Logger, now func() time.Time, store Store, o Options) *Book {
	b := &Book{
		log: log, now: now, store: store, o: o, set: o.Settings.withDefaults(),
		queue: make(chan job, queueMost), urgent: make(chan struct{}, 1), written: make(chan struct{}), ended: make(chan struct{}),
		pending: map[string]*pending{}, renamed: map[string]string{}, earlier: map[string]bool{}, coming: map[string]string{}, lost: map[string]*pending{}, local: map[string]localResult{},
		kick: make(chan struct{}, 1),
	}
	if known, ok := o.Observer.(Knower); ok && b.set.Known == nil {
		b.set.Known = known.Known
	}
	go b.write()
	return b
}

// Make gives a result its name, version and expiry, and keeps it a moment
// later. The same message makes the same record again. on is the card that will show
// it, by its Ref, where that is known before, else nil; its Told is -1 where it shows
// something else until then. The error is the context's, or that of a book that is
// closed.
func (b *Book) Make(ctx context.Context, m Result, on *Mark) (Record, error) {
	m.ID = name(m.Surface, m.Message, 0)
	m.Version = max(m.Version, 1)
	m.At, m.Measured = instant(m.At), instant(m.Measured)
	m.Expires = m.At.Add(b.set.Expire)
	if n := len(m.Reply.Arrivals); n > 0 {
		// A brief holds until its last arrival is over.
		m.Expires = m.At
		for _, a := range m.Reply.Arrivals {
			if end := a.At.Add(time.Hour); end.After(m.Expires) {
				m.Expires = instant(end)
			}
		}
	}
	m.Engine = engine.Version
	m.Text = strings.ToValidUTF8(m.Text, "\uFFFD")
	b.mu.Lock()
	if p := b.pending[m.ID]; p != nil {
		b.mu.Unlock()
		return Record{Result: p.made}, nil
	}
	on = b.foreseen(m, on)
	p := &pending{made: m, done: make(chan struct{}), tried: make(chan struct{})}
	if !b.refused.IsZero() && time.Since(b.refused) < refusedFor {
		p.refuse() // it waits with those that the store does not take now
	}
	b.pending[m.ID] = p
	b.remember(m)
	b.mu.Unlock()
	if err := b.put(ctx, job{made: &m, card: on}); err != nil {
		b.mu.Lock()
		delete(b.pending, m.ID)
		b.mu.Unlock()
		p.settle()
		return Record{}, err
	}
	return Record{Result: m}, nil
}

// Shown says that a card shows a record, or with an empty id that the card
// that stood there shows none any more.
func (b *Book) Shown(ctx context.Context, surface, ref, id string) error {
	if ref == "" {
		return nil
	}
	b.stands(surface, ref, id)
	if b.came(surface, ref, id) {
		return nil
	}
	return b.put(ctx, job{card: &Mark{Surface: surface, Ref: ref, Record: id}, gone: id == ""})
}

// appearsIn is how long a card may take to show what its mark says that it will show;
// then it is changed, for whoever was to show it may have been killed. Ours.
const appearsIn = 10 * time.Second

// foreseen is the mark of the card that will show a result, to be kept with it; b.mu
// is held.
func (b *Book) foreseen(m Result, on *Mark) *Mark {
	if on == nil {
		return nil
	}
	is := Mark{Surface: m.Surface, Ref: on.Ref, Record: m.ID, Told: on.Told}
	if is.Told < 0 {
		is.Again = b.now().Add(appearsIn)
		return &is
	}
	if len(b.coming) >= mostLost {
		clear(b.coming)
	}
	b.coming[is.Surface+" "+is.Ref] = is.Record
	return &is
}

// came says that a card is the one that was foreseen, whose mark is kept.
func (b *Book) came(surface, ref, id string) bool {
	b.mu.Lock()
	defer b.mu.Unlock()
	key := surface + " " + ref
	was, known := b.coming[key]
	delete(b.coming, key)
	return known && was == id && b.pending[id] == nil && b.lost[id] == nil && !b.earlier[id] && b.renamed[id] == ""
}

// Written waits until what was made and shown before is written down, or could
// not be.
func (b *Book) Written(ctx context.Context) error {
	kept := make(chan struct{})
	if err := b.put(ctx, job{kept: kept}); err != nil {
		return err
	}
	select {
	case <-kept:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// wait waits for records that this process has made and not yet written.
func (b *Book) wait(ctx context.Context, which func(Result) bool) error {
	b.mu.Lock()
	var all []*pending
	for _, p := range b.pending {
		if which(p.made) {
			all = append(all, p)
		}
	}
	b.mu.Unlock()
	for _, p := range all {
		select {
		case <-p.done:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	return nil
}

// Find is a record by its name. What this process has made in its place is
// known then as well.
func (b *Book) Find(ctx context.Context, id string) (Record, bool, error) {
	if err := b.wait(ctx, func(m Result) bool { return m.ID == id || m.Replaces == id }); err != nil {
		return Record{}, false, err
	}
	return b.store.Record(ctx, b.current(id))
}

// Last is the latest record of a thread.
func (b *Book) Last(ctx context.Context, surface, thread string) (r Record, found bool, err error) {
	if thread == "" {
		return r, false, nil
	}
	if err := b.wait(ctx, func(m Result) bool { return m.Surface == surface && m.Thread == thread }); err != nil {
		return r, false, err
	}
	all, err := b.List(ctx, Query{Surface: surface, Thread: thread, Newest: true, Limit: 1})
	if err != nil || len(all) == 0 {
		return r, false, err
	}
	return all[0], true, nil
}

// On is the record that a card shows.
func (b *Book) On(ctx context.Context, surface, ref string) (Record, bool, error) {
	id, found, err := b.store.CardOf(ctx, surface, ref)
	if err != nil || !found {
		return Record{}, false, err
	}
	return b.store.Record(ctx, id)
}

// mostAsked is how many versions an edited message may have whose deletion is
// followed; ours.
const mostAsked = 100

// Deleted ends the record of a message that is gone; of one that was edited,
// that of its last text. Nothing happens where it has none.
func (b *Book) Deleted(ctx context.Context, surface, message string) error {
	for try := range 3 { // a name may have been taken
		r, found, err := b.Find(ctx, name(surface, message, try))
		if err != nil {
			return err
		}
		if !found || r.Surface != surface || r.Message != message {
			continue
		}
		for range mostAsked {
			if r.Replaced == nil || r.Replaced.By == "" {
				break
			}
			next, found, err := b.Find(ctx, r.Replaced.By)
			if err != nil {
				return err
			}
			if !found || !strings.HasPrefix(next.Message, message) {
				return nil // somebody's own message asked on
			}
			r = next
		}
		return b.ends(ctx, r.ID, Action{Kind: KindDeleted, By: r.Asked})
	}
	return nil
}

// Unasked ends the record that a card shows, whose question became another message
// and no question; found is false where the card shows none.
func (b *Book) Unasked(ctx context.Context, surface, ref string) (found bool, err error) {
	r, found, err := b.On(ctx, surface, ref)
	if err != nil || !found {
		return false, err
	}
	return true, b.ends(ctx, r.ID, Action{Kind: KindReplaced})
}

// ends does an action after which nothing stands in a record's place.
func (b *Book) ends(ctx context.Context, id string, d Action) error {
	r, o, err := b.Do(ctx, id, d)
	if err != nil || !o.Done {
		return err
	}
	return b.tellEnded(ctx, r, nil)
}

// List is those of a query; what this process has made is among them.
func (b *Book) List(ctx context.Context, q Query) ([]Record, error) {
	if err := b.wait(ctx, func(Result) bool { return q.Surface == "" }); err != nil {
		return nil, err
	}
	var all []Record
	err := b.store.EachRecord(ctx, q, func(r Record) error {
		all = append(all, r)
		return nil
	})
	return all, err
}

// doTries is how often an action is decided anew because others were faster.
const doTries = 20

var errContended = errors.New("the record changes all the time")

// Do decides an action and does it. Of two at once one is done first, and the
// other is decided on what it left.
func (b *Book) Do(ctx context.Context, id string, d Action) (Record, Outcome, error) {
	d.At = b.now()
	for range doTries {
		r, found, err := b.Find(ctx, id)
		if err != nil {
			return r, Outcome{}, err
		}
		if !found {
			return r, Outcome{Text: Missing(id), Try: "log"}, nil
		}
		c, o := Decide(r, d, b.set)
		if !o.Done {
			return r, o, nil
		}
		held, err := b.store.Apply(ctx, r, c)
		if err != nil {
			return r, Outcome{}, err
		}
		if held {
			b.log.InfoContext(ctx, "record", "record", r.ID, "deed", c.Kind, "by", c.By.Address)
			r.Status = r.With(c)
			b.Kick()
			return r, o, nil
		}
	}
	return Record{}, Outcome{}, fmt.Errorf("record %s: %w", id, errContended)
}

// Would is what an action would come to now; nothing is done.
func (b *Book) Would(r Record, d Action) Outcome {
	d.At = b.now()
	_, o := Decide(r, d, b.set)
	return o
}

// Render is a record as a reply now. One that the store has not taken says so.
func (b *Book) Render(r Record) reply.Reply {
	if b.unkept(r.ID) {
		return Unkept(Render(r, b.now(), b.set))
	}
	return Render(r, b.now(), b.set)
}

// Line is a record in one line now.
func (b *Book) Line(r Record) string { return Line(r, b.now(), b.set) }

// Lines are what its card says of it, and how long it holds.
func (b *Book) Lines(r Record) []string {
	out := lines(r, b.now(), b.set)
	if s := r.State(b.now()); s != Expired && s != Replaced {
		out = append(out, "Valid until "+b.set.clock(r.Station(), r.Expires, r.At)+".")
	}
	return out
}

// State is a record's now.
func (b *Book) State(r Record) State { return r.State(b.now()) }

// Unchecked says that a record still waits for a second person.
func (b *Book) Unchecked(r Record) bool {
	return slices.Contains([]State{Unchecked, Disagreed, Recompute}, r.State(b.now())) && len(r.Numbers) > 0
}

// Viewer is a person as a query has one, by any account of theirs. A name that
// is only typed proves none: with it nobody sees what another account asked.
func (b *Book) Viewer(p Person) *Viewer {
	v := &Viewer{Accounts: []string{p.Address}}
	if p.Via != "" {
		return v
	}
	for _, accounts := range b.set.Linked {
		if slices.Contains(accounts, p.Address) {
			v.Accounts = append(v.Accounts, accounts...)
		}
	}
	return v
}

// Own says that a record was asked by a person, by any account of theirs.
func (b *Book) Own(r Record, p Person) bool { return b.set.same(r.Asked, p) }

// Kick has Run look at the cards now.
func (b *Book) Kick() {
	select {
	case b.kick <- struct{}{}:
	default:
	}
	b.set.Wrote()
}
