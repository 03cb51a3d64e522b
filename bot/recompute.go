package bot

import (
	"context"
	"fmt"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// recompute asks a record's line again with the latest temperature, or with
// the one behind it. What comes is the record's next version; where it is
// warmer, or the record is another person's, it stands beside it, and firn asks
// first: nobody's figures go because somebody tapped.
func (b *Bot) recompute(ctx context.Context, r record.Record, with parse.Request, m Message) (reply.Reply, error) {
	if r.Replaced != nil && r.Replaced.By != "" {
		return b.ask(&parse.Problem{
			Word: r.ID,
			Text: fmt.Sprintf("%s was replaced by %s; recompute that one.", r.ID, r.Replaced.By),
			Try:  "recompute " + r.Replaced.By,
		}), nil
	}
	mine := b.ports.Book.Own(r, personOf(m)) || r.State(m.At) == record.Expired
	sure, before := with.Latest, &r.Result
	if !mine {
		before = nil
	}
	req, problem := b.reader.ReadLine(r.Line)
	if problem == nil && req.Verb == parse.Brief && b.ports.Forecasts != nil {
		visits := toCome(r, req.Stops, m.At)
		if len(visits) == 0 {
			return b.ask(goneBy(r)), nil
		}
		if !sure && !mine {
			return b.askAgain(ctx, r, "the latest forecast", "", m), nil
		}
		next, problem, err := b.arrivals(ctx, visits, m.At)
		if err != nil {
			return reply.Reply{}, fmt.Errorf("recompute: %w", err)
		}
		if problem != nil {
			return b.ask(problem), nil
		}
		return b.keepBrief(ctx, m, next, visits, before), nil
	}
	if problem != nil || req.Empty() {
		return b.ask(&parse.Problem{Word: r.ID, Text: fmt.Sprintf("%s cannot be computed again here; ask it anew.", r.ID), Try: parse.Example}), nil
	}
	switch {
	case with.Station != "" || with.HasElevation || len(with.Altitudes) > 0 || with.Procedure != "":
		return b.ask(&parse.Problem{Word: r.ID, Text: "Behind the name stands a temperature with its sign, or nothing: then it is the latest one."}), nil
	case with.HasTemperature:
		req.Temperature, req.Fahrenheit, req.InFahrenheit = with.Temperature, with.Fahrenheit, with.InFahrenheit
	default:
		req.HasTemperature = false
	}
	var w worked
	problem, err := b.answer(ctx, &req, m.At, "", &w)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("recompute: %w", err)
	}
	if problem != nil {
		problem.Try = ""
		return b.ask(problem), nil
	}
	warmer := float64(w.scene.Temperature.C) > r.Temperature()
	if r.State(m.At) != record.Expired && warmer {
		before = nil // who relies on the colder figures keeps them
	}
	if before == nil && !sure && !with.HasTemperature {
		return b.askAgain(ctx, r, latest(w, m.At), warmerThan(w, r), m), nil
	}
	key := threadKey{m.Surface, m.Thread}
	b.threads.put(key, &req, true, m.At, w.scene.Line, pairsOf(key, w.reply.Altitudes)...)
	return b.keep(ctx, m, &w, before), nil
}

// latest is the temperature that a result was worked out at, with its age.
func latest(w worked, now time.Time) string {
	t := w.scene.Temperature
	if t.At.IsZero() {
		return reply.Degrees(t.C)
	}
	return reply.KnownTemperature(t.C, now.Sub(t.At))
}

// warmerThan says that a result is warmer than a record; empty: it is not.
func warmerThan(w worked, r record.Record) string {
	if float64(w.scene.Temperature.C) <= r.Temperature() {
		return ""
	}
	return fmt.Sprintf("%s °C is warmer than the %s °C of %s. ", reply.Degrees(w.scene.Temperature.C), reply.Degrees(r.Temperature()), r.ID)
}

// askAgain asks whether a record is to be computed again, at what, and why that
// is asked.
func (b *Bot) askAgain(ctx context.Context, r record.Record, at, why string, m Message) reply.Reply {
	if !b.ports.Book.Own(r, personOf(m)) {
		why += fmt.Sprintf("%s is by %s. ", r.ID, r.Asked)
	}
	line := "recompute " + r.ID + " latest"
	req, _ := b.reader.Parse(line) // a line of the bot's own
	p := &parse.Problem{Word: r.ID, Text: why + "It stays as it is, and the new result stands beside it: compute again at " + at + "?", Try: line}
	out := b.question(ctx, threadKey{m.Surface, m.Thread}, &req, p, m, true)
	out.Actions = append(out.Actions, reply.Action{ID: record.ActionRecompute, Label: reply.Again(at), Message: line})
	return out
}
