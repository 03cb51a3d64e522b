package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"firn/bot/approach"
	"firn/bot/record"
)

// Offer is what a surface may offer while somebody types: what is to be typed, and
// what it is in words.
type Offer struct{ Value, Label string }

// openAmong is how many of the latest results are looked through for those that
// are open. Ours: a unit's day.
const openAmong = 200

// OfferProcedures are the stored procedures of a station whose names fit what was
// typed so far, at most n, the best first; all of them where nothing was. The
// station is an ident or a name, and may be one that only a list of airports or a
// coded file knows.
func (b *Bot) OfferProcedures(ctx context.Context, station, typed string, n int) ([]Offer, error) {
	ident, ok := places{b.stations}.Place(strings.TrimSpace(station))
	if !ok || b.ports.Procedures == nil {
		return nil, nil
	}
	all, err := b.ports.Procedures.Procedures(ctx, ident)
	if err != nil {
		return nil, fmt.Errorf("procedures of %s: %w", ident, err)
	}
	var names []string
	add := func(name string) {
		if len(names) < n && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if strings.TrimSpace(typed) != "" {
		for _, a := range approach.Find(all, typed).Fits {
			add(a.Name)
		}
	}
	words := strings.Fields(strings.ToLower(typed))
	for i := range all {
		name := strings.ToLower(all[i].Name)
		if !slices.ContainsFunc(words, func(w string) bool { return !strings.Contains(name, w) }) {
			add(all[i].Name)
		}
	}
	out := make([]Offer, len(names))
	for i, name := range names {
		out[i] = Offer{name, name}
	}
	return out, nil
}

// OfferRecords are the open results that fit what was typed so far, at most n:
// not checked, not over, and such as the log would show where m is said. Those
// that the person may check come first, then the own; toCheck leaves these out.
func (b *Bot) OfferRecords(ctx context.Context, m Message, toCheck bool, typed string, n int) ([]Offer, error) {
	if b.ports.Book == nil {
		return nil, nil
	}
	all, err := b.ports.Book.List(ctx, record.Query{
		For: b.readers(m), Live: true, Newest: true, Text: strings.TrimSpace(typed), Limit: openAmong,
	})
	if err != nil {
		return nil, fmt.Errorf("open results: %w", err)
	}
	me := personOf(m)
	var others, own []Offer
	for _, r := range all {
		switch {
		case !b.ports.Book.Unchecked(r):
		case b.ports.Book.Own(r, me):
			own = append(own, Offer{r.ID, b.offered(r) + ", your own"})
		case b.mayCheck(r, me):
			others = append(others, Offer{r.ID, b.offered(r) + ", " + r.Asked.String()})
		}
	}
	if !toCheck {
		others = append(others, own...)
	}
	return others[:min(n, len(others))], nil
}

// offered names a result without its figures: who checks it may have to work them
// out blind.
func (b *Bot) offered(r record.Record) string {
	text := fmt.Sprintf("%s: %s, %sZ", r.ID, r.Reply.Topic(), r.At.UTC().Format("15:04"))
	if s := b.ports.Book.State(r); s != record.Unchecked {
		text += ", " + s.Word()
	}
	return text
}
