package record

import (
	"context"
	"time"

	"firn/bot/reply"
	"firn/engine"
	"firn/engine/coldwatch"
)

// holdBrief holds the arrivals of a brief that are still to come against the
// weather at their time.
func (r *round) holdBrief(ctx context.Context, rec Record) error {
	var is heldBrief
	defer func() {
		r.swept.briefs[rec.ID] = is
		if len(is.idents) == 0 {
			delete(r.swept.briefs, rec.ID)
		}
	}()
	said := false
	for _, a := range rec.Reply.Arrivals {
		ident := a.Station.Ident
		if _, _, held := heldAt(a, r.set.withDefaults()); !held || !r.now().Before(a.At.Add(time.Hour)) {
			continue
		}
		is.idents = append(is.idents, ident)
		if from := coldwatch.Around(a.At).From; r.now().Before(from) && (is.opens.IsZero() || from.Before(is.opens)) {
			is.opens = from
		}
		at := r.follow(ctx, ident)
		for _, w := range arriving(a, at) {
			text, crossed := crosses(rec, a, w, r.now(), r.set)
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
	c, o := Decide(rec, Action{Kind: KindRecompute, At: r.began, Noticed: n}, r.set)
	if !o.Done {
		return ctx.Err()
	}
	held, err := r.store.Apply(ctx, rec, c)
	if !held {
		at.again = true // somebody was faster: the next round decides
	} else {
		r.l.Noticed++
		rec.Status = rec.With(c)
		r.tells(ident, rec)
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
