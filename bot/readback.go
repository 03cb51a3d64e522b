package bot

import (
	"slices"
	"strconv"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
)

// readBack asks about figures that are those to fly of the thread's last answer:
// who repeats an answer has them corrected already, and must not be given them
// corrected again. What is added to the altitudes ("add 8000"; "and 8000", but for
// more of what is repeated), changed ("change FAF to 8000"), or stands with its
// station, is published. It is nil where next
// holds a published figure of the answer.
func (b *Bot) readBack(th *thread, next *parse.Request, text string) *parse.Problem {
	earlier, q := &th.request, &th.question
	if !th.answered || next.Verb != parse.Correct || next.Also && !q.Flown || ordered(next) && !b.repeats(q, next, text) || next.Complete() || next.HasElevation || len(next.Altitudes) == 0 || next.Station != "" && next.Station != earlier.Station {
		return nil
	}
	if c := q.pick(&answering{reader: b.reader, text: text}); c.ok || c.line != "" || c.vague || q.Asked && !bareFigures(next) && q.Word == figure(next.Altitudes[0]) {
		return nil // it answers what was asked
	}
	if next.HasTemperature && next.Temperature != earlier.Temperature || next.Procedure != "" && next.Procedure != earlier.Procedure {
		return nil
	}
	var said, chart, neither []string
	for _, a := range next.Altitudes {
		if a.Height || a.Metric {
			return nil
		}
		feet := float64(a.Feet())
		if slices.ContainsFunc(th.gave, func(p pair) bool { return p.Chart == feet }) {
			return nil
		}
		of := slices.IndexFunc(th.gave, func(p pair) bool { return p.Fly == feet })
		if more := earlier.Additive; of < 0 && more > 0 {
			if i := slices.IndexFunc(th.gave, func(p pair) bool { return p.Chart+more == feet }); i >= 0 {
				return &parse.Problem{Word: figure(a), Text: parse.AddedAlready(th.gave[i].Chart, more, th.gave[i].Fly), Either: true, Choices: published()}
			}
		}
		if of < 0 {
			neither = append(neither, figure(a)) // misread, perhaps
			continue
		}
		said = append(said, figure(a))
		chart = append(chart, strconv.FormatFloat(th.gave[of].Chart, 'f', -1, 64))
	}
	if a := next.Altitudes[0]; len(said) == 0 && len(next.Altitudes) == 1 && (earlier.Procedure != "" || another(earlier, a)) && b.reader.Answer(text).Claims() {
		return &parse.Problem{Word: figure(a), Text: parse.NowhereInAnswer(figure(a)), Either: true, Flown: true, Choices: published()}
	}
	if len(said) == 0 {
		return nil
	}
	return &parse.Problem{Word: said[0], Text: parse.FlownAlready(said, chart, neither), Either: true, Flown: true, Choices: published()}
}

// repeats says that figures which read as a change are of the answer: more of what was
// repeated before ("sorry 5470"), or what somebody makes of it ("I make it 8000/5480").
func (b *Bot) repeats(q *question, next *parse.Request, text string) bool {
	return bareFigures(next) && (q.Flown || b.reader.Answer(text).Makes())
}

// another says that a request has an altitude with this one's label, and another figure.
func another(r *parse.Request, a parse.Altitude) bool {
	return slices.ContainsFunc(r.Altitudes, func(h parse.Altitude) bool {
		return h.Role == a.Role && (h.Label == a.Label || a.Role.Minimum()) && figure(h) != figure(a)
	})
}

// published is the answer that takes figures that were asked about for the chart's.
func published() []parse.Choice {
	return []parse.Choice{{Words: []string{"published", "charted", "chart", "add"}, Aside: true, Next: &parse.Request{Also: true}}}
}

// pair is what an answer makes of an altitude, in feet.
type pair struct {
	Chart float64 `json:"chart"`
	Fly   float64 `json:"fly"`
}

// pairsOf are those of an answer; none where no thread keeps them.
func pairsOf(key threadKey, rows []reply.Row) []pair {
	if key.thread == "" {
		return nil
	}
	out := make([]pair, len(rows))
	for i := range rows {
		out[i] = pair{rows[i].PublishedFt, rows[i].CorrectedFt}
	}
	return out
}

// ordered says that a request's words change a figure ("change FAF to 8000",
// "sorry FAF 8000"), and do not only say what it is ("so FAF is 8000?").
func ordered(r *parse.Request) bool {
	return r.Instead && !slices.ContainsFunc(r.Altitudes, func(a parse.Altitude) bool { return a.Instead })
}

// onlyFix is the one word of a message that is a fix of a station's procedures, in
// upper case; ok is false where none is, or more than one.
func (b *Bot) onlyFix(station, text string) (fix string, ok bool) {
	for _, w := range strings.Fields(text) {
		if w = strings.Trim(w, ".,;:!?()/"); !b.knownFix(station, w) {
			continue
		}
		if fix != "" {
			return "", false
		}
		fix = strings.ToUpper(w)
	}
	return fix, fix != ""
}

// ordinary reads a message anew whose first word was taken for a station that is not
// known, behind a request that has one: "dang its -43". A word with the first letter
// of that station's ident may be another's all the same, and so may one in capitals,
// or before altitudes, which make a message that is complete.
func (b *Bot) ordinary(th *thread, req *parse.Request, problem *parse.Problem, text string) (*parse.Request, *parse.Problem) {
	home := th.request.Station
	if problem == nil || !req.Elsewhere || home == "" || req.Station != "" || req.Complete() && !plainWord(th, req, problem) || problem.Try != "" || strings.HasPrefix(strings.ToUpper(problem.Word), home[:1]) {
		return req, problem
	}
	if again, p := b.reader.Behind().Parse(text); !again.Elsewhere {
		return &again, p
	}
	return req, problem
}

// plainWord says that a word before altitudes is most likely no station: it looks like
// none, is not in capitals, and nothing but altitudes stands behind it in a thread that
// has an answer.
func plainWord(th *thread, req *parse.Request, problem *parse.Problem) bool {
	return th.answered && len(problem.Choices) == 0 && problem.Word == strings.ToLower(problem.Word) && !req.HasTemperature && req.Procedure == "" && len(req.Altitudes) > 0
}

// atHome reads a message anew that names a fix of the procedures at the thread's
// station, and was not understood without that station: "8000 at XABRI".
func (b *Bot) atHome(th *thread, req *parse.Request, problem *parse.Problem, text string) (*parse.Request, *parse.Problem) {
	if again, p, ok := b.reread(th, req, problem, text); ok {
		return again, p
	}
	home := th.request.Station
	if problem == nil && req.Verb == parse.No && th.request.Procedure != "" { // "no, XEMBA"
		if fix, ok := b.onlyFix(home, text); ok {
			return &parse.Request{Way: parse.Way{Kind: parse.Via, Fix: fix}}, nil
		}
	}
	if again := b.byItsFix(th, req, problem, text); again != nil {
		return again, nil
	}
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
	return &again, p
}
