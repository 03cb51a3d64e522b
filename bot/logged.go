package bot

import (
	"context"
	"slices"
	"time"

	"firn/bot/record"
)

// A brief is asked at most so long before a day that it stops on, as far as the
// log looks back, and so many of them are looked through. Ours.
const (
	briefAhead = 48 * time.Hour
	mostBriefs = 2000
)

// logged are the results of a query, and of a station the briefs that stop
// there: asked since the query's time, or with an arrival on its day.
func (b *Bot) logged(ctx context.Context, q record.Query) ([]record.Record, error) {
	all, err := b.ports.Book.List(ctx, q)
	if err != nil || q.Station == "" {
		return all, err
	}
	briefs := q
	briefs.Station, briefs.Nowhere, briefs.Newest, briefs.Limit = "", true, true, mostBriefs
	if !q.From.IsZero() {
		briefs.From = q.From.Add(-briefAhead)
	}
	found, err := b.ports.Book.List(ctx, briefs)
	if err != nil {
		return nil, err
	}
	for _, r := range found {
		if stopsAt(r, q.Station, q.From, q.To) {
			all = append(all, r)
		}
	}
	slices.SortStableFunc(all, func(x, y record.Record) int { return y.At.Compare(x.At) })
	if q.Limit > 0 && len(all) > q.Limit {
		all = all[:q.Limit]
	}
	return all, nil
}

// stopsAt says whether a record is a brief with an arrival at a station that
// was asked from one time to another, the second excluded, or is on the first's
// day; a zero time is all time.
func stopsAt(r record.Record, ident string, from, to time.Time) bool {
	for _, a := range r.Reply.Arrivals {
		if a.Station.Ident != ident {
			continue
		}
		if !r.At.Before(from) && (to.IsZero() || r.At.Before(to)) || !a.At.Before(from) && a.At.Before(from.AddDate(0, 0, 1)) {
			return true
		}
	}
	return false
}
