package app

import (
	"cmp"
	"context"
	"time"

	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/reply"
	"firn/bot/sleep"
	"firn/bot/weather"
)

// watchRound writes the alerts that are due.
func (r *running) watchRound(ctx context.Context) {
	began := time.Now()
	r.readBases(ctx)
	t := r.watch.Tick(ctx)
	r.memory.ticked(t, r.now())
	r.rounds.took("watch", time.Since(began))
	r.first.Do(func() { close(r.watched) })
	r.log.DebugContext(ctx, "watched", "bases", t.Bases, "wrote", t.Wrote, "failed", t.Failed)
}

// recordRound holds results against newer weather, and puts right what stands
// of those that have changed.
func (a *App) recordRound(ctx context.Context) {
	began := time.Now()
	l := a.book.Sweep(ctx)
	a.rounds.took("record", time.Since(began))
	if err := a.inPlace(); err != nil {
		a.log.ErrorContext(ctx, "what is kept is lost to every other firn", "err", err)
	}
	a.logHead(ctx)
	a.retire(ctx)
	a.log.DebugContext(ctx, "record looked at", "read", l.Read, "noticed", l.Noticed, "expired", l.Expired, "told", l.Told, "failed", l.Failed)
}

// logHead logs the head of the history once a day, where the store does not
// reach: firn export --verify --since proves the history against it.
func (a *App) logHead(ctx context.Context) {
	day := a.now().UTC().Format(time.DateOnly)
	if day == a.headOf {
		return
	}
	head, err := a.parts.Store.Head(ctx)
	if err != nil {
		a.log.WarnContext(ctx, "head of the history not read", "err", err)
		return
	}
	a.headOf = day
	a.log.InfoContext(ctx, "head of the history", "head", head.String())
}

// lookPause is at least between two looks: a front of cold air is many
// alerts. Over thousands of bases a look takes long, and the pages that are
// told of it longer: most of the time is for other things.
const (
	lookPause = time.Second
	lookShare = 20
)

// look keeps the bases' states for the page, the figures and the front pages.
// Every replica looks for itself, each minute and when a base has an alert; the
// tick is for one.
func (a *App) look(ctx context.Context, every time.Duration) {
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		at, began := a.now(), time.Now()
		a.readBases(ctx) // the tick is for one replica
		if all, err := a.watch.Status(ctx, at); err == nil {
			a.page.Show(all, at)
			if a.states.show(all, at, reply.BasesOf(all, a.bot.Zone, at, true)) {
				a.refreshFronts()
			}
			a.rounds.took("look", time.Since(began))
		}
		if sleep.For(ctx, min(max(lookPause, lookShare*time.Since(began)), every)) != nil {
			return
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		case <-a.lookNow:
		}
	}
}

// beat says on the roll that this process serves, until the context ends, and
// reads who else does.
func (r *running) beat(ctx context.Context) {
	every := cmp.Or(r.parts.Pace.Beat, chat.BeatEvery)
	t := time.NewTicker(every)
	defer t.Stop()
	for {
		limited, cancel := context.WithTimeout(ctx, every)
		err := r.memory.peers.Beat(limited, r.parts.Store, r.parts.Holder, r.parts.Digest, chat.BeatsMissed*every)
		cancel()
		if ctx.Err() == nil {
			if r.book.Heard(err == nil); err != nil {
				r.log.WarnContext(ctx, "the store does not take that this process lives", "err", err)
			}
		}
		select {
		case <-ctx.Done():
			return
		case <-t.C:
		}
	}
}

// observeEvery is how often the watched bases' observations are asked for, so
// that the season of each is kept: reports are made every half hour or hour.
const observeEvery = 10 * time.Minute

// observe asks for the latest observation of each watched base; the chain
// keeps what is new. It is called by one round at a time.
func (a *App) observe(ctx context.Context) {
	now := a.now()
	if now.Sub(a.observed) < observeEvery {
		return
	}
	a.observed = now
	// What has no observation is for whoever asks to hear.
	_ = weather.Each(ctx, a.watched(), 16, func(ctx context.Context, ident string) { _, _ = a.chain.Observation(ctx, ident) })
}

// recordsChanged tells pages that show records at once what this process has
// done; the store's feed tells what others do. The book is made before the page.
func (a *App) recordsChanged() {
	if a.page != nil {
		a.page.Changed(pagestate.Change{Kind: pagestate.Record})
	}
	a.refreshFronts()
}

// refreshFronts has front pages worked out anew: they may show something else now.
func (a *App) refreshFronts() {
	select {
	case a.fronts <- struct{}{}:
	default: // it is heard soon
	}
}

// hear has open pages brought up to date with what any replica changes, until
// the context ends.
func (a *App) hear(ctx context.Context) {
	pagestate.Listen(ctx, a.log, a.parts.Store, func(c pagestate.Change) {
		a.page.Changed(c)
		if c.Kind != pagestate.Place && c.Kind != pagestate.Access { // of the page alone
			a.refreshFronts()
		}
		if c.Kind == pagestate.Watch || c.Kind == pagestate.All {
			select {
			case a.lookNow <- struct{}{}:
			default: // it looks already
			}
		}
	})
}
