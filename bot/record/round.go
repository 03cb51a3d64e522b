package record

import (
	"context"
	"hash/maphash"
	"maps"
	"slices"
	"sync"
	"time"

	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// sweepState is what a book remembers of its last round, so that the next one reads
// only what it may have to say something of: results that are new, and those of
// stations whose weather is not what it was. Whoever starts begins with all.
type sweepState struct {
	mu      sync.Mutex // one round at a time
	seed    maphash.Seed
	begun   bool
	entry   int64                // of the history, up to which records were looked at
	weather map[string]uint64    // by station with results that hold; zero: to be looked at again
	briefs  map[string]heldBrief // by the brief's name
	untold  []Outdated           // that could not be told
}

// localResult is what a round has to know of a result that this process has made, so
// that it is not read from the store to say nothing of it.
type localResult struct {
	station string
	horizon
}

// mostLocal bounds what is remembered between two rounds; what is too much is
// read. Another replica may have the rounds.
const mostLocal = 100_000

// remember keeps what a round has to know of a result; b.mu is held. What it
// replaces is read, for whoever checked that.
func (b *Book) remember(m Result) {
	delete(b.local, m.Replaces)
	if len(m.Reply.Arrivals) == 0 && len(b.local) < mostLocal {
		b.local[m.ID] = localResult{m.Station(), m.horizon()}
	}
}

func (h *sweepState) init() {
	if h.weather == nil {
		h.seed, h.weather, h.briefs = maphash.MakeSeed(), map[string]uint64{}, map[string]heldBrief{}
	}
}

// touchedBatch is how many entries of the history are read at a time.
const touchedBatch = 500

// heldBrief is what a brief is looked at for.
type heldBrief struct {
	idents []string  // its stations, when their weather changes
	opens  time.Time // when the hours around its next arrival begin, in which what is observed counts
}

// round is one round of holding records against the weather.
type round struct {
	*Book
	l        *Swept
	local    map[string]localResult
	stations map[string]*station // whose weather was asked for
	read     map[string]bool     // records; nil: all are read, each once
	outdated map[told][]Record   // noticed and not told
	began    time.Time           // what is noticed in one round is of one instant
}

// station is the weather of one, asked for once a round.
type station struct {
	weather   []Weather
	forecasts []weather.Forecast
	print     uint64 // of all this, never zero
	again     bool   // something could not be said: the next round looks as well
}

func (b *Book) notice(ctx context.Context, l *Swept) {
	h := &b.swept
	h.mu.Lock()
	defer h.mu.Unlock()
	h.init()
	r := &round{Book: b, l: l, stations: map[string]*station{}, outdated: map[told][]Record{}, began: b.now()}
	b.mu.Lock()
	r.local, b.local = b.local, map[string]localResult{}
	b.mu.Unlock()
	err := r.all(ctx)
	r.tellOutdated(ctx)
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
	if !r.swept.begun {
		if err := r.store.EachRecord(ctx, Query{Live: true}, func(rec Record) error {
			r.late(rec)
			return r.one(ctx, rec)
		}); err != nil {
			return err
		}
		// Who began before this process may have been killed before it told anybody.
		if err := r.store.EachRecord(ctx, Query{Over: true, From: r.began.Add(-r.set.Expire)}, func(rec Record) error {
			return r.ended(ctx, rec)
		}); err != nil {
			return err
		}
		r.swept.begun, r.swept.entry = true, end
		return nil
	}
	r.read = map[string]bool{}
	known := slices.Sorted(maps.Keys(r.swept.weather))
	r.askAll(ctx, known)
	for _, ident := range known {
		if err := r.changed(ctx, ident); err != nil {
			return err
		}
		r.tellOutdated(ctx)
	}
	for id, is := range r.swept.briefs {
		if !is.opens.IsZero() && !r.now().Before(is.opens) || slices.ContainsFunc(is.idents, func(ident string) bool { return r.at(ctx, ident).print != r.swept.weather[ident] }) {
			if err := r.named(ctx, id); err != nil {
				return err
			}
		}
	}
	for r.swept.entry < end {
		ids, last, err := r.store.Touched(ctx, r.swept.entry, end, touchedBatch)
		if err != nil {
			return err
		}
		for _, id := range ids {
			if o, made := r.local[id]; made && !r.news(ctx, o) {
				continue
			}
			if err := r.named(ctx, id); err != nil {
				return err
			}
		}
		if last == r.swept.entry {
			last = end // the rest went as old
		}
		r.swept.entry = last
	}
	return nil
}

// changed looks at a station's results if its weather is not what it was.
func (r *round) changed(ctx context.Context, ident string) error {
	at := r.at(ctx, ident)
	if at.print == r.swept.weather[ident] {
		return nil
	}
	none := true
	err := r.store.EachRecord(ctx, Query{Station: ident, Live: true}, func(rec Record) error {
		none = false
		return r.one(ctx, rec)
	})
	if err == nil && none && !slices.ContainsFunc(slices.Collect(maps.Values(r.swept.briefs)), func(is heldBrief) bool { return slices.Contains(is.idents, ident) }) {
		delete(r.swept.weather, ident)
	}
	return err
}

// news says that there is weather that is newer than a result of this process.
func (r *round) news(ctx context.Context, o localResult) bool {
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
		delete(r.swept.briefs, id)
		return r.ended(ctx, rec)
	}
	return r.one(ctx, rec)
}

// ended has those told who checked a record that was replaced, should whoever ended
// it have been killed before: they are told once however often this comes.
func (r *round) ended(ctx context.Context, rec Record) error {
	if rec.Replaced == nil || len(rec.Checkers()) == 0 || !r.now().Before(rec.Expires) {
		return nil // the check would be over by now
	}
	var next *Result
	if rec.Replaced.By != "" {
		by, found, err := r.store.Record(ctx, rec.Replaced.By)
		if err != nil || !found {
			return err
		}
		next = &by.Result
	}
	return r.tellEnded(ctx, rec, next)
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
	if _, known := r.swept.weather[ident]; !known {
		r.swept.weather[ident] = 0
	}
	return r.at(ctx, ident)
}

// at is a station's weather in this round.
func (r *round) at(ctx context.Context, ident string) *station {
	at := r.stations[ident]
	if at == nil {
		at = r.ask(ctx, ident)
		at.print = at.printed(r.swept.seed, r.now())
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
		at.print = at.printed(r.swept.seed, r.now())
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
