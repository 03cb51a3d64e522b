package bot

import (
	"context"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/parse"
)

// readBack asks about figures that are those to fly of the thread's last answer:
// who repeats an answer has them corrected already, and must not be given them
// corrected again. What is added to the altitudes ("add 8000"), changed ("change
// FAF to 8000"), or stands with its station, is published. It is nil where next
// holds any other figure.
func (b *Bot) readBack(ctx context.Context, th *thread, next parse.Request, text string, at time.Time) *parse.Problem {
	earlier := th.request
	q := th.question
	if c := q.pick(b.reader, text); c.ok || c.line != "" || c.vague || q.Asked && !bareFigures(next) && q.Word == figure(next.Altitudes[0]) {
		return nil // it answers what was asked
	}
	if !th.answered || next.Verb != parse.Correct || next.Also || ordered(next) || next.Complete() || next.HasElevation || len(next.Altitudes) == 0 || next.Station != "" && next.Station != earlier.Station {
		return nil
	}
	if next.HasTemperature && next.Temperature != earlier.Temperature || next.Procedure != "" && next.Procedure != earlier.Procedure {
		return nil
	}
	earlier.Verb = parse.Correct
	w, problem, err := b.answer(ctx, earlier, at, "")
	if problem != nil || err != nil {
		return nil
	}
	var said, chart []string
	for _, a := range next.Altitudes {
		if a.Height || a.Metric {
			return nil
		}
		feet, of := float64(a.Feet()), -1
		for i := range w.reply.Altitudes {
			row := &w.reply.Altitudes[i]
			if row.PublishedFt == feet {
				return nil
			}
			if row.CorrectedFt == feet && of < 0 {
				of = i
			}
		}
		if of < 0 {
			return nil
		}
		said = append(said, figure(a))
		chart = append(chart, strconv.FormatFloat(float64(w.reply.Altitudes[of].PublishedFt), 'f', -1, 64))
	}
	return &parse.Problem{Word: said[0], Text: parse.FlownAlready(said, chart), Either: true,
		Choices: []parse.Choice{{Words: []string{"published", "charted", "chart", "add"}, Aside: true, Next: &parse.Request{Also: true}}}}
}

// ordered says that a request's words change a figure ("change FAF to 8000",
// "sorry FAF 8000"), and do not only say what it is ("so FAF is 8000?").
func ordered(r parse.Request) bool {
	return r.Instead && !slices.ContainsFunc(r.Altitudes, func(a parse.Altitude) bool { return a.Instead })
}

// atHome reads a message anew that names a fix of the procedures at the thread's
// station, and was not understood without that station: "8000 at XABRI".
func (b *Bot) atHome(th *thread, req parse.Request, problem *parse.Problem, text string) (parse.Request, *parse.Problem) {
	home := th.request.Station
	if problem == nil || home == "" || !problem.Unread && !req.Elsewhere || req.Station != "" {
		return req, problem
	}
	if !slices.ContainsFunc(strings.Fields(text), func(w string) bool { return b.knownFix(home, strings.Trim(w, ".,;:!?()/")) }) {
		return req, problem
	}
	again, p := b.reader.Parse(home + " " + text)
	if p != nil || again.Elsewhere || again.Station != home || len(again.Altitudes) == 0 {
		return req, problem
	}
	again.Station = ""
	return again, p
}
