package watch

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"firn/bot/reply"
	"firn/bot/weather"
	"firn/engine/coldwatch"
)

// judge asks for the forecasts and holds them against the line. failed is the
// sources' error when there is no forecast because of it. told gives what was
// judged last of the day; nil: nothing was.
func (w *Watch) judge(ctx context.Context, b *base, window coldwatch.Window, now time.Time, told func() coldwatch.Judgement) (j coldwatch.Judgement, failed, err error) {
	forecasts, ferr := w.ask(ctx, b.Ident)
	j, failed = w.choose(b, window, forecasts, ferr, now)
	if ferr != nil && told != nil {
		if was := told(); lost(was, j, ferr, now) {
			j = notKnown(was, j)
		}
	}
	return j, failed, ctx.Err()
}

// lost says that what was judged cold has no source any more, until an instant
// that it goes to, and that what others say is no newer: they said so before as
// well, and the colder was used. A source that fails makes no air warmer.
func lost(was, j coldwatch.Judgement, ferr error, until time.Time) bool {
	cold := was.State == coldwatch.Below || was.State == coldwatch.NoForecast && !was.CoveredTo.IsZero()
	return cold && j.State != coldwatch.Below && j.State != coldwatch.NoForecast &&
		!was.CoveredTo.Before(until) && !j.Issued.After(was.Issued) && weather.Lost(ferr, was.Source)
}

// notKnown is the judgement in place of one that was lost: how cold it is is not
// known. What the lost one covered stays with it, by which the next look knows it.
func notKnown(was, j coldwatch.Judgement) coldwatch.Judgement {
	note := was.Note
	if was.State == coldwatch.Below {
		note = fmt.Sprintf("the source failed, and its last forecast, %s °C, is too old to count; %s, no newer than that, says %s °C", reply.Degrees(was.Low), j.Source, reply.Degrees(j.Low))
	}
	return coldwatch.Judgement{
		State: coldwatch.NoForecast, Restriction: j.Restriction, Source: was.Source, Issued: was.Issued,
		CoveredFrom: was.CoveredFrom, CoveredTo: was.CoveredTo, Note: note,
	}
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
	j.Note = weather.NoteFailed(j.Note, failed)
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

// lookedAt says that another replica has looked for a newer forecast of the base
// just now, so that its sources need no second asker. It says so once it is done:
// one that is killed meanwhile holds nobody up.
func (w *Watch) lookedAt(ctx context.Context, b *base) (bool, error) {
	all, err := w.store.Held(ctx, "watch/"+b.Ident)
	if err != nil {
		return false, fmt.Errorf("watch %s: %w", b.Ident, err)
	}
	return len(all) > 0 && all[0].Holder != w.set.Holder && all[0].Left > 0, nil
}

// looked notes that this one has.
func (w *Watch) looked(ctx context.Context, b *base) error {
	if _, err := w.store.Lease(ctx, "watch/"+b.Ident, w.set.Holder, w.set.Lease); err != nil {
		return fmt.Errorf("watch %s: %w", b.Ident, err)
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
