package chat

import (
	"context"
	"strings"

	"firn/bot"
	"firn/bot/parse"
)

// Offers are what may be meant by what was typed so far.
func (d *Dispatcher) Offers(ctx context.Context, s Surface, e Event, field string, limit int) (all []bot.Offer) {
	if field == FieldStation {
		return d.Stations(e.Text, limit)
	}
	o, ok := d.answerer.(Offerer)
	if !ok || limit <= 0 || !d.Answers(s, e.Place) || e.Person.Standing != Member {
		return nil
	}
	var err error
	switch field {
	case FieldProcedure:
		all, err = o.OfferProcedures(ctx, e.Fields[FieldStation], strings.TrimSpace(e.Text), limit)
	case FieldRecord:
		all, err = o.OfferRecords(ctx, d.message(s, e, ""), e.Fields[FieldCommand] == parse.Check.String(), strings.TrimSpace(e.Text), limit)
	}
	d.failed(ctx, s, e, "nothing offered", err)
	return all
}
