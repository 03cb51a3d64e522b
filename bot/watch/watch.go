package watch

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"reflect"
	"sync"
	"sync/atomic"
	"time"

	"firn/bot/config"
)

// Watch looks at every base that is watched. It is safe for concurrent use,
// and several processes may have one on the same store.
type Watch struct {
	log      *slog.Logger
	now      Clock
	set      Settings
	watched  atomic.Pointer[bases]
	forecast Forecaster
	store    Store

	posted Posts // for digests; nil: there are none

	mu    sync.Mutex
	stand map[string][32]byte // the sums of the digests as they were last shown

	began     time.Time // first tick of this process
	beganOnce sync.Once
	born      time.Time // the store; zero where it does not know
}

// bases are those that are watched.
type bases struct {
	all     []*base // in the order of idents
	byIdent map[string]*base
}

// base is a watched station and what this process remembers of it. Nothing
// of that changes what is told: it spares questions.
type base struct {
	config.Station
	mu       sync.Mutex
	date     string // local, that plans were made for
	plans    []plan
	checked  map[string]int    // the last re-check by day
	asking   time.Time         // since when an alert waits for somebody, as of the last tick; zero: none does
	finished map[string]bool   // days that ask for nothing more
	known    map[string]Day    // as the last tick left it
	since    map[string]string // what ended when a day began clear
}

// Tally counts what a tick did.
type Tally struct {
	Bases  int       // looked at
	Wrote  int       // alerts written, the silent ones included
	Failed int       // bases whose work ended with an error, logged
	Asking int       // bases whose alert nobody has acknowledged
	Oldest time.Time // the oldest of these alerts
}

// New makes a Watch for the stations that have a watch.
func New(log *slog.Logger, clock Clock, s Settings, stations []config.Station, f Forecaster, st Store) *Watch {
	w := &Watch{log: log, now: clock, set: s.withDefaults(), forecast: f, store: st, stand: map[string][32]byte{}}
	w.posted, _ = st.(Posts)
	w.Watch(stations)
	return w
}

// Watch has it watch those of the stations that have a watch, and no others. It
// may be called at any time; what is remembered of a base that is watched as
// before stays.
func (w *Watch) Watch(stations []config.Station) {
	before := w.watched.Load()
	is := &bases{byIdent: map[string]*base{}}
	for _, s := range stations {
		if s.Watch == nil {
			continue
		}
		b := &base{Station: s, checked: map[string]int{}, finished: map[string]bool{}, known: map[string]Day{}, since: map[string]string{}}
		if before != nil {
			if was := before.byIdent[s.Ident]; was != nil && reflect.DeepEqual(was.Station, s) {
				b = was
			}
		}
		is.all = append(is.all, b)
		is.byIdent[s.Ident] = b
	}
	sortBases(is.all)
	w.watched.Store(is)
}

// Tick does all that is due now for every base. Call it every minute, and at
// start; a tick that was missed is caught by the next. What goes wrong with
// one base is logged and spoils no other.
func (w *Watch) Tick(ctx context.Context) Tally {
	now := w.now()
	w.beganOnce.Do(func() { w.began, w.born = now, w.bornAt(ctx) })
	all := w.watched.Load().all
	t := Tally{Bases: len(all)}
	var mu sync.Mutex
	w.each(all, func(b *base) {
		wrote, err := w.tend(ctx, b, now)
		if err != nil && ctx.Err() == nil {
			w.log.ErrorContext(ctx, "base not watched in this tick", "base", b.Ident, "err", err)
		}
		mu.Lock()
		defer mu.Unlock()
		t.Wrote += wrote
		if err != nil {
			t.Failed++
		}
		if since := b.waits(); !since.IsZero() {
			t.Asking++
			if t.Oldest.IsZero() || since.Before(t.Oldest) {
				t.Oldest = since
			}
		}
	})
	if err := w.tellDigests(ctx, now, nil, false); err != nil && ctx.Err() == nil {
		w.log.ErrorContext(ctx, "digests not told in this tick", "err", err)
	}
	return t
}

// bornAt is when the store was made; zero where that is not known.
func (w *Watch) bornAt(ctx context.Context) time.Time {
	a, ok := w.store.(Aged)
	if !ok {
		return time.Time{}
	}
	t, err := a.Born(ctx)
	if err != nil {
		w.log.WarnContext(ctx, "when the store was made is not known", "err", err)
		return time.Time{}
	}
	return t
}

// waits is since when an alert of the base waits for somebody.
func (b *base) waits() time.Time {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.asking
}

// each works on the bases, a few at once, and waits for all. It begins anywhere
// among them: processes that end before they are through, one after another,
// must not leave the same bases out each time.
func (w *Watch) each(all []*base, work func(*base)) {
	next := make(chan *base)
	var workers sync.WaitGroup
	for range min(w.set.Concurrency, len(all)) {
		workers.Go(func() {
			for b := range next {
				work(b)
			}
		})
	}
	from := 0
	if len(all) > 0 {
		from = rand.IntN(len(all))
	}
	for i := range all {
		next <- all[(from+i)%len(all)]
	}
	close(next)
	workers.Wait()
}

// tend does what is due for one base.
func (w *Watch) tend(ctx context.Context, b *base, now time.Time) (wrote int, err error) {
	defer func() {
		// A mistake on one base must not end the watch of the others.
		if p := recover(); p != nil {
			err = fmt.Errorf("watch %s: panic: %v", b.Ident, p)
		}
	}()
	b.mu.Lock()
	defer b.mu.Unlock()
	b.asking = time.Time{}
	for _, p := range b.around(now) {
		if now.Before(p.window.From) || b.finished[p.day] {
			continue
		}
		d, derr := w.store.Day(ctx, b.Ident, p.day)
		if derr != nil {
			return wrote, fmt.Errorf("watch %s: %w", b.Ident, derr)
		}
		did, derr := w.do(ctx, b, p, d, now)
		if did {
			wrote++
			if is, rerr := w.store.Day(ctx, b.Ident, p.day); rerr == nil {
				d = is
			}
		}
		b.known[p.day] = d
		if a, asks := d.asks(); asks && !d.acknowledged(a.Seq) && now.Before(p.end()) {
			b.asking = a.Made
		}
		err = errors.Join(err, derr)
	}
	return wrote, err
}

// around gives the days of a base that may be open now.
func (b *base) around(now time.Time) []plan {
	date := now.In(b.Zone).Format(time.DateOnly)
	if b.date == date {
		return b.plans
	}
	b.date, b.plans = date, b.plans[:0]
	finished, checked := map[string]bool{}, map[string]int{}
	known, since := map[string]Day{}, map[string]string{}
	for _, p := range plansAround(b.Watch, b.Zone, now) {
		// The clocks may take an instant from one date to the next.
		if p.gone.Before(now.Add(-closing)) || p.window.From.After(now.Add(2*24*time.Hour)) {
			continue
		}
		b.plans = append(b.plans, p)
		if d, ok := b.known[p.day]; ok {
			known[p.day] = d
		}
		if text, ok := b.since[p.day]; ok {
			since[p.day] = text
		}
		if b.finished[p.day] {
			finished[p.day] = true
		}
		if n, ok := b.checked[p.day]; ok {
			checked[p.day] = n
		}
	}
	b.finished, b.checked, b.known, b.since = finished, checked, known, since
	return b.plans
}

// do does what is due for a base's day.
func (w *Watch) do(ctx context.Context, b *base, p plan, d Day, now time.Time) (wrote bool, err error) {
	if slot, is := p.rechecks(d, b.checked[p.day], now, &w.set); is {
		wrote, err := w.recheck(ctx, b, p, d, now)
		if err == nil {
			b.checked[p.day] = slot
			err = w.looked(ctx, b)
		}
		if wrote || err != nil {
			return wrote, err
		}
	}
	t := due(p, d, now, &w.set)
	if w.born.Before(now) { // not by a clock that is slow
		t.due = latest(t.due, w.born) // nobody has waited before that
	}
	switch t.step {
	case open:
		return w.open(ctx, b, p, t, now)
	case say:
		return w.say(ctx, b, p, d, t, now)
	case missed:
		b.finished[p.day] = true
		if p.end().Before(w.born) || !w.firstToTell(ctx, b, p) {
			return false, nil
		}
		w.log.InfoContext(ctx, "duty window went by unseen", "base", b.Ident, "day", p.day, "from", p.window.From.UTC(), "to", p.window.To.UTC())
	case finish:
		b.finished[p.day] = true
	}
	return false, nil
}

// firstToTell says that nobody has logged a missed window before, also no
// process before this one: its name is taken for as long as the day is kept in
// mind, and each process is another holder.
func (w *Watch) firstToTell(ctx context.Context, b *base, p plan) bool {
	const kept = 4 * 24 * time.Hour
	first, err := w.store.Lease(ctx, "missed/"+b.Ident+"/"+p.day, w.set.Holder, kept)
	return first || err != nil
}
