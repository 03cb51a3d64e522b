package watch

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"math/rand/v2"
	"reflect"
	"strings"
	"sync"
	"sync/atomic"
	"time"
	"unicode"

	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/weather"
	"firn/engine/coldwatch"
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
	checked  map[string]int  // the last re-check by day
	asking   time.Time       // since when an alert waits for somebody, as of the last tick; zero: none does
	finished map[string]bool // days that ask for nothing more
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
	w := &Watch{log: log, now: clock, set: s.withDefaults(), forecast: f, store: st}
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
		b := &base{Station: s, checked: map[string]int{}, finished: map[string]bool{}}
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
		wrote, err := w.look(ctx, b, now)
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

// look does what is due for one base.
func (w *Watch) look(ctx context.Context, b *base, now time.Time) (wrote int, err error) {
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
	for _, p := range plansAround(b.Watch, b.Zone, now) {
		// The clocks may take an instant from one date to the next.
		if p.gone.Before(now.Add(-closing)) || p.window.From.After(now.Add(2*24*time.Hour)) {
			continue
		}
		b.plans = append(b.plans, p)
		if b.finished[p.day] {
			finished[p.day] = true
		}
		if n, ok := b.checked[p.day]; ok {
			checked[p.day] = n
		}
	}
	b.finished, b.checked = finished, checked
	return b.plans
}

// do does what is due for a base's day.
func (w *Watch) do(ctx context.Context, b *base, p plan, d Day, now time.Time) (wrote bool, err error) {
	if slot, is := p.rechecks(d, b.checked[p.day], now, &w.set); is {
		wrote, err := w.recheck(ctx, b, p, d, now)
		if err == nil {
			b.checked[p.day] = slot
		}
		if wrote || err != nil {
			return wrote, err
		}
	}
	t := due(p, d, now, &w.set)
	if w.born.Before(now) { // not by a clock that is slow
		t.due = latest(t.due, w.born) // nobody has waited before that
	}
	switch t.deed {
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

// open writes the morning's word.
func (w *Watch) open(ctx context.Context, b *base, p plan, t errand, now time.Time) (bool, error) {
	held, err := w.lease(ctx, b)
	if err != nil || !held {
		return false, err
	}
	window := p.window
	if now.Sub(window.From) > 2*w.set.Grace {
		window.From = now // what has gone by is no news
	}
	j, failed, err := w.judge(ctx, b, window, now)
	if err != nil {
		return false, errors.Join(err, w.release(ctx, b))
	}
	if failed != nil {
		if now.Before(latest(p.window.From.Add(w.set.Grace), w.began.Add(min(w.set.Grace, 2*time.Minute)))) {
			w.log.WarnContext(ctx, "forecast source failed, to be asked again", "base", b.Ident, "err", failed)
			return false, w.release(ctx, b)
		}
		j.Note = failedNote(j, failed)
	}
	a := Alert{Base: b.Ident, Day: p.day, Seq: 1, Kind: Opened, Judgement: j, Made: now}
	said := words{due: t.due, window: window}
	if j.State == coldwatch.Clear {
		before, err := w.dayBefore(ctx, b, p, now)
		if err != nil {
			return false, errors.Join(err, w.release(ctx, b))
		}
		said.changes, said.also = over(before, j), before.escalated()
		said.silent = len(said.changes) == 0 && !w.set.DailyQuiet
	}
	return w.write(ctx, b, p, Day{}, a, said)
}

// dayBefore is the base's day before another, as far as it is kept in mind.
func (w *Watch) dayBefore(ctx context.Context, b *base, p plan, now time.Time) (Day, error) {
	before := ""
	for _, q := range b.around(now) {
		if q.window.From.Before(p.window.From) {
			before = q.day
		}
	}
	if before == "" {
		return Day{}, nil
	}
	d, err := w.store.Day(ctx, b.Ident, before)
	if err != nil {
		return Day{}, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	return d, nil
}

// over says that what was last told of the day before has ended; nothing where
// nobody waits for that.
func over(before Day, j coldwatch.Judgement) []coldwatch.Change {
	if len(before.Alerts) == 0 {
		return nil
	}
	last := before.judged()
	if last.Kind == AllClear || !last.Judgement.State.Asks() {
		return nil
	}
	day := last.Day
	if d, err := time.Parse(time.DateOnly, day); err == nil {
		day = d.Format("Mon 2 Jan")
	}
	was := "not known"
	if last.Judgement.State == coldwatch.Below {
		was = "at or below the restriction temperature"
	}
	return []coldwatch.Change{{Reason: coldwatch.Over, Text: fmt.Sprintf("%s ended %s; this day begins clear", day, was)}}
}

// recheck looks for a newer forecast and writes what it changes.
func (w *Watch) recheck(ctx context.Context, b *base, p plan, d Day, now time.Time) (bool, error) {
	held, err := w.lease(ctx, b)
	if err != nil || !held {
		return false, err
	}
	rest := coldwatch.Window{From: now, To: p.window.To}
	j, failed, err := w.judge(ctx, b, rest, now)
	if err != nil {
		return false, errors.Join(err, w.release(ctx, b))
	}
	before := d.judged().Judgement
	if failed != nil {
		w.log.WarnContext(ctx, "no newer forecast, the source failed", "base", b.Ident, "day", p.day, "err", failed)
		if w.stands(before, failed, now) {
			return false, nil
		}
		j.Note = failedNote(j, failed)
	}
	changes := coldwatch.Changed(before, j, rest, w.set.Step)
	snoozed := now.Before(d.SnoozedUntil)
	kind, crosses := news(before.State, j.State, changes, snoozed)
	if kind == "" {
		return false, nil
	}
	if snoozed && crosses {
		// Before the word is written: what crosses must not be mute after a kill.
		if err := w.store.Snooze(ctx, b.Ident, p.day, now, ""); err != nil {
			return false, errors.Join(fmt.Errorf("watch %s: %w", b.Ident, err), w.release(ctx, b))
		}
	}
	a := Alert{Base: b.Ident, Day: p.day, Seq: d.next(), Kind: kind, Judgement: j, Made: now}
	return w.write(ctx, b, p, d, a, words{due: now, window: rest, changes: changes})
}

// stands says that what was judged holds though its source fails: it is not too
// old for that, and goes on.
func (w *Watch) stands(j coldwatch.Judgement, failed error, now time.Time) bool {
	if j.State == coldwatch.NoForecast {
		return true
	}
	return weather.FailingOf(failed, j.Source) && now.Sub(j.Issued) <= w.set.Kept && (j.CoveredTo.IsZero() || j.CoveredTo.After(now))
}

// say writes a word of what was judged before.
func (w *Watch) say(ctx context.Context, b *base, p plan, d Day, t errand, now time.Time) (bool, error) {
	a := Alert{Base: b.Ident, Day: p.day, Seq: d.next(), Kind: t.kind, Judgement: d.judged().Judgement, Made: now}
	said := words{due: t.due, window: p.window, nth: t.nth}
	if asked, ok := d.asks(); ok {
		said.waiting = now.Sub(asked.Made)
	}
	// A source that is slow or fails keeps no word back.
	switch forecasts, ferr := w.ask(ctx, b.Ident); {
	case ctx.Err() != nil:
		return false, ctx.Err()
	case t.kind == Ended:
		// The hour that follows tells whether it is over.
		after := coldwatch.Window{From: p.window.To, To: p.window.To.Add(time.Hour)}
		if j, _ := w.choose(b, after, forecasts, ferr, now); j.State < coldwatch.PartForecast {
			a.Judgement = j
		}
	default:
		a.Judgement.Note = withFailure(a.Judgement, forecasts, ferr)
	}
	return w.write(ctx, b, p, d, a, said)
}

// withFailure is the note of a judgement, and that its source has failed since.
func withFailure(j coldwatch.Judgement, forecasts []weather.Forecast, ferr error) string {
	if j.State == coldwatch.NoForecast || j.Source == "" {
		return j.Note
	}
	note := ""
	if ferr != nil && !errors.Is(ferr, weather.ErrNone) && weather.FailingOf(ferr, j.Source) {
		note = weather.FailedNote(j.Issued)
	}
	for i := range forecasts {
		if forecasts[i].Source == j.Source {
			note = forecasts[i].Note
			break
		}
	}
	if note == "" || strings.Contains(j.Note, note) {
		return j.Note
	}
	if j.Note == "" {
		return note
	}
	return note + "; " + j.Note
}

// next is the number of the next alert.
func (d Day) next() int {
	if n := len(d.Alerts); n > 0 {
		return d.Alerts[n-1].Seq + 1
	}
	return 1
}

// write puts an alert and its posts into the store, in one transaction.
func (w *Watch) write(ctx context.Context, b *base, p plan, d Day, a Alert, said words) (bool, error) {
	var posts []outbox.Item
	if !said.silent {
		posts = w.posts(b, p, d, a, said)
	}
	fresh, err := w.store.Open(ctx, a, posts)
	if err != nil {
		return false, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	if !fresh {
		return false, nil // another replica was first
	}
	attrs := []any{"base", a.Base, "day", a.Day, "seq", a.Seq, "kind", string(a.Kind), "state", a.Judgement.State.String(), "posts", len(posts)}
	if !a.Judgement.LowAt.IsZero() {
		attrs = append(attrs, "low_c", float64(a.Judgement.Low))
	}
	w.log.InfoContext(ctx, "alert written", attrs...)
	if len(posts) > 0 {
		w.set.Wrote()
	}
	return true, nil
}

// judge asks for the forecasts and holds them against the line. failed is the
// sources' error when there is no forecast because of it.
func (w *Watch) judge(ctx context.Context, b *base, window coldwatch.Window, now time.Time) (j coldwatch.Judgement, failed, err error) {
	forecasts, ferr := w.ask(ctx, b.Ident)
	j, failed = w.choose(b, window, forecasts, ferr, now)
	return j, failed, ctx.Err()
}

// choose holds what the sources answered against the line.
func (w *Watch) choose(b *base, window coldwatch.Window, forecasts []weather.Forecast, ferr error, now time.Time) (j coldwatch.Judgement, failed error) {
	line := coldwatch.Line{Restriction: coldwatch.NoRestriction, Margin: b.Watch.Margin}
	if b.Restriction != nil {
		line.Restriction = *b.Restriction
	}
	j = coldwatch.Judgement{State: coldwatch.NoForecast, Restriction: line.Restriction, Note: "no source has a forecast for " + b.Ident}
	if ferr != nil && !errors.Is(ferr, weather.ErrNone) {
		failed = ferr
	}
	if len(forecasts) == 0 {
		return j, failed
	}
	judged := make([]coldwatch.Judgement, len(forecasts))
	for i := range forecasts {
		f := &forecasts[i].Forecast
		if f.Issued.After(now.Add(ahead)) {
			judged[i] = coldwatch.Judge(window, line, nil)
			judged[i].Source, judged[i].Issued = f.Source, f.Issued
			judged[i].Note = "it is dated " + f.Issued.UTC().Format("15:04Z 2 Jan") + ", ahead of the clock"
			continue
		}
		judged[i] = coldwatch.Judge(window, line, f)
	}
	j = coldwatch.Choose(window, w.set.Disagree, judged...)
	if j.State == coldwatch.NoForecast {
		return j, failed // which might have what the others lack
	}
	for _, name := range weather.Failing(failed) {
		if j.Note != "" {
			j.Note += "; "
		}
		j.Note += "the source " + name + " failed"
	}
	return j, nil
}

// ask asks the sources within the limit of time; a source that panics has
// failed.
func (w *Watch) ask(ctx context.Context, ident string) (f []weather.Forecast, err error) {
	ctx, cancel := context.WithTimeout(ctx, w.set.Limit)
	defer cancel()
	defer func() {
		if p := recover(); p != nil {
			f, err = nil, fmt.Errorf("panic: %v", p)
		}
	}()
	return w.forecast.Forecasts(ctx, ident)
}

// ahead is how far ahead of the clock a forecast may be dated: some are issued
// before their nominal time. The figure is ours.
const ahead = time.Hour

// lease keeps a base's sources from being asked by two replicas at once. It
// is not given back after work that succeeded: it ends before the next tick.
func (w *Watch) lease(ctx context.Context, b *base) (bool, error) {
	held, err := w.store.Lease(ctx, "watch/"+b.Ident, w.set.Holder, w.set.Lease)
	if err != nil {
		return false, fmt.Errorf("watch %s: lease: %w", b.Ident, err)
	}
	return held, nil
}

func (w *Watch) release(ctx context.Context, b *base) error {
	if err := w.store.Release(context.WithoutCancel(ctx), "watch/"+b.Ident, w.set.Holder); err != nil {
		return fmt.Errorf("watch %s: release: %w", b.Ident, err)
	}
	return nil
}

// oneLine makes an error fit for people and stores.
func oneLine(s string) string {
	const longest = 200
	s = strings.Join(strings.FieldsFunc(strings.ToValidUTF8(s, "?"), func(r rune) bool { return unicode.IsSpace(r) || !unicode.IsPrint(r) }), " ")
	if r := []rune(s); len(r) > longest {
		s = string(r[:longest]) + "…"
	}
	return s
}
