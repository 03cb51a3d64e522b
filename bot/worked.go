package bot

import (
	"context"
	"fmt"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
	"firn/engine"
	"firn/engine/ruleset"
)

// worked is an answer with what it came of.
type worked struct {
	reply reply.Reply
	scene reply.Scene
	res   ruleset.Result
	req   parse.Request
	why   bool // it shows its working
}

// line asks the same again, without a source that may have something else by
// then.
func (w *worked) line() string {
	req := w.req
	req.Verb, req.Kind, req.Rules = parse.Correct, "", w.scene.Set.ID
	if !req.HasTemperature {
		req.Temperature, req.HasTemperature, req.InFahrenheit = w.scene.Temperature.C, true, false
	}
	return req.Line()
}

// numbers are the altitudes as a second person's are held against them.
func (w *worked) numbers() []record.Number {
	if w.reply.Kind != reply.KindCorrection {
		return nil
	}
	out := make([]record.Number, 0, len(w.res.Lines))
	for i := range w.res.Lines {
		l := &w.res.Lines[i]
		row := w.reply.Altitudes[i]
		if l.NoAltitude || row.State == reply.StateNotUsable { // nothing to fly, and nothing to check
			continue
		}
		out = append(out, record.Number{
			Label: row.Title(), PublishedFt: row.PublishedFt, CorrectedFt: row.CorrectedFt,
			NeedFt:   float64(need(l)),
			StepFt:   stepOf(w.scene.Set.RoundingOf(&l.Point, w.scene.Outside)),
			Required: l.Required,
		})
	}
	return out
}

// need is a corrected altitude before rounding; of one that is flown at the
// figure of another, that figure.
func need(l *ruleset.Line) engine.Altitude {
	if l.Raised >= 0 {
		return l.Corrected
	}
	return l.Altitude.Add(l.Additive).Add(l.Unrounded)
}

// stepOf is the larger step of a rounding, in feet.
func stepOf(r ruleset.Rounding) float64 {
	step := 0.0
	for _, s := range [...]ruleset.Step{r.Correction, r.Altitude} {
		switch s {
		case ruleset.UpTen:
			step = max(step, 10)
		case ruleset.UpHundred, ruleset.NearestHundred:
			step = max(step, 100)
		}
	}
	return step
}

// Recompute works a record's line out at another temperature. It remembers and
// looks up nothing.
func (b *Bot) Recompute(ctx context.Context, line string, c engine.Celsius) (record.Figures, error) {
	req, problem := b.reader.ReadLine(line)
	if problem != nil {
		return record.Figures{}, fmt.Errorf("recompute: %w", problem)
	}
	req.Temperature, req.HasTemperature, req.InFahrenheit = c, true, false
	var w worked
	problem, err := b.answer(ctx, &req, time.Time{}, "", &w)
	if err != nil {
		return record.Figures{}, fmt.Errorf("recompute: %w", err)
	}
	if problem != nil {
		return record.Figures{}, fmt.Errorf("recompute: %w", problem)
	}
	return record.Figures{Required: w.reply.Required == reply.Yes, Numbers: w.numbers(), Stops: w.reply.Stops, Version: w.reply.RulesVersion}, nil
}
