package record

import (
	"context"
	"hash/maphash"
	"maps"
	"slices"
	"sync"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// Swept is what a round did; Read is how many records it held against the
// weather.
type Swept struct {
	Read, Noticed, Expired, Told, Failed, Pruned int
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

// Sweep holds the live records against newer weather, has those expire whose
// time is over, and changes cards that are behind. It may be missed, and come
// twice.
func (b *Book) Sweep(ctx context.Context) (l Swept) {
	b.expire(ctx, &l)
	if b.o.Computer != nil && (b.o.Observer != nil || b.o.Forecaster != nil) {
		b.notice(ctx, &l)
	}
	told := b.tell(ctx)
	l.Told, l.Failed = l.Told+told.Told, l.Failed+told.Failed
	b.prune(ctx, &l)
	return l
}

func (b *Book) expire(ctx context.Context, l *Swept) {
	err := b.store.EachRecord(ctx, Query{Due: b.now()}, func(r Record) error {
		if c, o := Decide(r, Action{Kind: KindExpired, At: b.now()}, b.set); o.Done {
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

// held is what a book remembers of its last round, so that the next one reads
// only what it may have to say something of: results that are new, and those of
// stations whose weather is not what it was. Whoever starts begins with all.
type held struct {
	mu      sync.Mutex // one round at a time
	seed    maphash.Seed
	begun   bool
	entry   int64               // of the history, up to which records were looked at
	weather map[string]uint64   // by station with results that hold; zero: to be looked at again
	briefs  map[string][]string // their stations, by the brief's name
}

// own is what a round has to know of a result that this process has made, so
// that it is not read from the store to say nothing of it.
type own struct {
	station string
	horizon
}

// mostOwn bounds what is remembered between two rounds; what is too much is
// read. Another replica may have the rounds.
const mostOwn = 100_000

// remember keeps what a round has to know of a result; b.mu is held.
func (b *Book) remember(m Result) {
	if len(m.Reply.Arrivals) == 0 && len(b.own) < mostOwn {
		b.own[m.ID] = own{m.Station(), m.horizon()}
	}
}

func (h *held) init() {
	if h.weather == nil {
		h.seed, h.weather, h.briefs = maphash.MakeSeed(), map[string]uint64{}, map[string][]string{}
	}
}

// touchedBatch is how many entries of the history are read at a time.
const touchedBatch = 500

// round is one round of holding records against the weather.
type round struct {
	*Book
	l        *Swept
	own      map[string]own
	stations map[string]*station // whose weather was asked for
	read     map[string]bool     // records; nil: all are read, each once
}

// station is the weather of one, asked for once a round.
type station struct {
	weather   []Weather
	forecasts []weather.Forecast
	print     uint64 // of all this, never zero
	again     bool   // something could not be said: the next round looks as well
}

func (b *Book) notice(ctx context.Context, l *Swept) {
	h := &b.held
	h.mu.Lock()
	defer h.mu.Unlock()
	h.init()
	r := &round{Book: b, l: l, stations: map[string]*station{}}
	b.mu.Lock()
	r.own, b.own = b.own, map[string]own{}
	b.mu.Unlock()
	err := r.all(ctx)
	for ident, at := range r.stations {
		if _, known := h.weather[ident]; !known {
			continue
		}
		h.weather[ident] = at.print
		if at.again || err != nil {
			h.weather[ident] = 0
		}
	}
	b.failed(ctx, l, "records not held against the weather", err)
}

// all looks at what may have something new.
func (r *round) all(ctx context.Context) error {
	head, err := r.store.Head(ctx)
	if err != nil {
		return err
	}
	end := head.Seq
	if !r.held.begun {
		if err := r.store.EachRecord(ctx, Query{Live: true}, func(rec Record) error { return r.one(ctx, rec) }); err != nil {
			return err
		}
		r.held.begun, r.held.entry = true, end
		return nil
	}
	r.read = map[string]bool{}
	known := slices.Sorted(maps.Keys(r.held.weather))
	r.askAll(ctx, known)
	for _, ident := range known {
		if err := r.changed(ctx, ident); err != nil {
			return err
		}
	}
	for id, idents := range r.held.briefs {
		if slices.ContainsFunc(idents, func(ident string) bool { return r.at(ctx, ident).print != r.held.weather[ident] }) {
			if err := r.named(ctx, id); err != nil {
				return err
			}
		}
	}
	for r.held.entry < end {
		ids, last, err := r.store.Touched(ctx, r.held.entry, end, touchedBatch)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if o, made := r.own[id]; made && !r.news(ctx, o) {
				continue
			}
			if err := r.named(ctx, id); err != nil {
				return err
			}
		}
		if last == r.held.entry {
			last = end // the rest went as old
		}
		r.held.entry = last
	}
	return nil
}

// changed looks at a station's results if its weather is not what it was.
func (r *round) changed(ctx context.Context, ident string) error {
	at := r.at(ctx, ident)
	if at.print == r.held.weather[ident] {
		return nil
	}
	none := true
	err := r.store.EachRecord(ctx, Query{Station: ident, Live: true}, func(rec Record) error {
		none = false
		return r.one(ctx, rec)
	})
	if err == nil && none && !slices.ContainsFunc(slices.Collect(maps.Values(r.held.briefs)), func(all []string) bool { return slices.Contains(all, ident) }) {
		delete(r.held.weather, ident)
	}
	return err
}

// news says that there is weather that is newer than a result of this process.
func (r *round) news(ctx context.Context, o own) bool {
	if o.station == "" {
		return false
	}
	at := r.follow(ctx, o.station)
	return slices.ContainsFunc(at.weather, o.newer) ||
		slices.ContainsFunc(at.forecasts, func(f weather.Forecast) bool { return f.Issued.After(o.since) })
}

// named looks at a record by its name.
func (r *round) named(ctx context.Context, id string) error {
	if r.read[id] {
		return nil
	}
	rec, found, err := r.store.Record(ctx, id)
	if err != nil {
		return err
	}
	if !found || rec.Over() {
		delete(r.held.briefs, id)
		return nil
	}
	return r.one(ctx, rec)
}

// one looks at a record.
func (r *round) one(ctx context.Context, rec Record) error {
	r.l.Read++
	if r.read != nil {
		r.read[rec.ID] = true
	}
	if len(rec.Reply.Arrivals) > 0 {
		return r.holdBrief(ctx, rec)
	}
	if rec.Station() == "" || rec.Line == "" || !r.now().Before(rec.Expires) {
		return ctx.Err()
	}
	return r.hold(ctx, rec, r.follow(ctx, rec.Station()))
}

// follow is a station's weather, which is looked at in later rounds too.
func (r *round) follow(ctx context.Context, ident string) *station {
	if _, known := r.held.weather[ident]; !known {
		r.held.weather[ident] = 0
	}
	return r.at(ctx, ident)
}

// at is a station's weather in this round.
func (r *round) at(ctx context.Context, ident string) *station {
	at := r.stations[ident]
	if at == nil {
		at = r.ask(ctx, ident)
		at.print = at.printed(r.held.seed, r.now())
		r.stations[ident] = at
	}
	return at
}

// askedAtOnce is for how many stations the sources are asked at once.
const askedAtOnce = 8

// askAll asks for the weather of stations, which is then there.
func (r *round) askAll(ctx context.Context, idents []string) {
	var mu sync.Mutex
	// What has no weather is told by ask.
	_ = weather.Each(ctx, idents, askedAtOnce, func(ctx context.Context, ident string) {
		at := r.ask(ctx, ident)
		at.print = at.printed(r.held.seed, r.now())
		mu.Lock()
		defer mu.Unlock()
		r.stations[ident] = at
	})
}

// printed tells weather apart from other weather, as far as Coldest and Notice
// look at it.
func (s *station) printed(seed maphash.Seed, now time.Time) uint64 {
	type part struct {
		c        engine.Celsius
		at       int64
		since    int64
		source   string
		forecast bool
	}
	var h maphash.Hash
	h.SetSeed(seed)
	for _, w := range s.weather {
		maphash.WriteComparable(&h, part{w.C, w.At.UnixNano(), w.Since.UnixNano(), w.Source, false})
	}
	for _, f := range s.forecasts {
		maphash.WriteComparable(&h, part{0, 0, f.Issued.UnixNano(), f.Source, true})
		for _, list := range [...][]coldwatch.Sample{f.Hourly, f.Minimums} {
			for _, s := range list {
				if !s.At.Before(now) {
					maphash.WriteComparable(&h, part{s.C, s.At.UnixNano(), 0, "", true})
				}
			}
		}
	}
	return max(h.Sum64(), 1)
}

// ask asks for a station's weather; that there is none is for the watch to
// tell.
func (b *Book) ask(ctx context.Context, ident string) *station {
	at := &station{}
	if b.o.Observer != nil {
		if o, err := b.o.Observer.Observation(ctx, ident); err == nil {
			at.weather = append(at.weather, Observed(o))
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
// weather at their time: each says from which temperature on its figures change.
func (r *round) holdBrief(ctx context.Context, rec Record) error {
	var idents []string
	defer func() {
		r.held.briefs[rec.ID] = idents
		if len(idents) == 0 {
			delete(r.held.briefs, rec.ID)
		}
	}()
	said := false
	for _, a := range rec.Reply.Arrivals {
		ident := a.Station.Ident
		if !a.RecomputeC.OK || !r.now().Before(a.At.Add(time.Hour)) {
			continue
		}
		idents = append(idents, ident)
		at := r.follow(ctx, ident)
		for _, w := range arriving(a, at) {
			text, crossed := crosses(rec, a, w, r.set)
			if said || !crossed { // one a round: the next sees what was said
				continue
			}
			said = true
			if err := r.apply(ctx, at, rec, w, text, "brief does not hold any more", ident); err != nil {
				return err
			}
		}
	}
	return ctx.Err()
}

// apply says that a record does not hold any more.
func (r *round) apply(ctx context.Context, at *station, rec Record, w Weather, text, logged, ident string) error {
	n := Noticed{C: float64(w.C), Source: w.Source, Text: text}
	if w.Source != "" && len(rec.Reply.Arrivals) == 0 {
		n.Observed, n.Forecast = !w.Forecast, w.Forecast
	}
	c, o := Decide(rec, Action{Kind: KindRecompute, At: r.now(), Noticed: n}, r.set)
	if !o.Done {
		return ctx.Err()
	}
	held, err := r.store.Apply(ctx, rec, c)
	if !held {
		at.again = true // somebody was faster: the next round decides
	} else {
		r.l.Noticed++
		r.log.InfoContext(ctx, logged, "record", rec.ID, "base", ident, "c", float64(w.C))
	}
	return err
}

// hold holds a record against the weather.
func (r *round) hold(ctx context.Context, rec Record, at *station) error {
	if done, err := r.holdField(ctx, rec, at); done || err != nil {
		return err
	}
	all := at.weather
	for _, f := range at.forecasts {
		if w, ok := Coldest(f, r.now(), rec.Expires); ok {
			all = append(all[:len(all):len(all)], w)
		}
	}
	for _, w := range all {
		if !rec.Newer(w) {
			continue
		}
		then, err := r.o.Computer.Recompute(ctx, rec.Line, w.C)
		if err != nil {
			r.l.Failed++
			r.log.WarnContext(ctx, "record cannot be computed again", "record", rec.ID, "err", err)
			return ctx.Err()
		}
		held, err := r.asNow(ctx, rec, then.Version)
		if err != nil {
			r.l.Failed++
			r.log.WarnContext(ctx, "record cannot be computed again", "record", rec.ID, "err", err)
			return ctx.Err()
		}
		if changed, text := Notice(held, w, then, r.set); changed {
			return r.apply(ctx, at, rec, w, text, "record does not hold any more", rec.Station())
		}
	}
	return nil
}

// asNow is a record with the figures that the present rule set has at its
// temperature, where it was made by another version: it keeps its answer, and
// only the weather makes it a thing of the past.
func (r *round) asNow(ctx context.Context, rec Record, version string) (Record, error) {
	if rec.Reply.RulesVersion == version || version == "" {
		return rec, nil
	}
	was, err := r.o.Computer.Recompute(ctx, rec.Line, engine.Celsius(rec.Temperature()))
	if err != nil {
		return rec, err
	}
	rec.Numbers, rec.Reply.Stops = was.Numbers, was.Stops
	rec.Reply.Required = reply.OptBoolOf(was.Required)
	return rec, nil
}

func (b *Book) prune(ctx context.Context, l *Swept) {
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

func (b *Book) failed(ctx context.Context, l *Swept, what string, err error) {
	if err != nil && ctx.Err() == nil {
		l.Failed++
		b.log.ErrorContext(ctx, what, "err", err)
	}
}

// tell changes the cards that are behind.
func (b *Book) tell(ctx context.Context) (l Swept) {
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
func (b *Book) card(r Record) Message {
	now := b.now()
	c := Message{Reply: Render(r, now, b.set), Note: Above(r, now, b.set)}
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
func (b *Book) word(r Record) Message {
	return Message{Reply: reply.Reply{
		Kind:    reply.KindNotice,
		Facts:   []string{r.what() + " does not hold any more. " + r.Noticed[len(r.Noticed)-1].Text},
		Actions: []reply.Action{r.again(b.now(), b.set)},
	}}
}
