package bot

import (
	"context"
	"slices"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
)

// picked is what a message takes of the answers that a thread's question names:
// the whole line, or the request that next makes of what was read before.
type picked struct {
	line string
	req  parse.Request
	next parse.Request
	ok   bool
	// vague says that it takes one of them, and not which.
	vague bool
}

// pick reads a message as an answer to the question.
func (q question) pick(r *parse.Reader, text string) picked {
	if !q.Asked {
		return picked{}
	}
	answer := r.Answer(text)
	c, ok := answer.Choose(q.Choices, q.Figure, strings.ToLower(q.Word))
	switch {
	case !ok && q.Figure != "" && answer.OnlyLabel(): // "the step" behind "What is 6100?"
		return picked{line: text + " " + q.Figure, ok: true}
	case !ok:
		return picked{vague: answer.Alone()}
	case c.Line != "":
		return picked{line: c.Line, ok: true}
	}
	return picked{req: q.Scrap.With(*c.Next, q.Text), next: *c.Next, ok: true}
}

// understood is what a message says in its thread.
type understood struct {
	req     parse.Request
	problem *parse.Problem
	earlier string // what was taken from the message before
}

// understand reads a message as an answer to what its thread was asked, or about the
// thread itself: then it is done.
func (b *Bot) understand(ctx context.Context, th *thread, req parse.Request, problem *parse.Problem, m Message) (out understood, r reply.Reply, done bool, err error) {
	q := th.question
	switch c := q.pick(b.reader, m.Text); {
	case c.line != "":
		b.threads.ask(threadKey{m.Surface, m.Thread}, question{}, m.At) // the line is not read with what it answers
		m.Text = c.line
		r, err = b.Handle(ctx, m)
		return out, r, true, err
	case c.vague:
		return out, reply.Ask(reply.Problem{Word: q.Word, Text: q.Text, Try: q.Offer}), true, nil
	case c.ok:
		*th = th.settled()
		return understood{c.req, c.req.Unready(), carried(q.Scrap, c.next, c.req)}, r, false, nil
	}
	if r, done, err = b.talk(ctx, req, th, m); done || err != nil {
		return out, r, true, err
	}
	out.req, out.problem = q.settle(req, problem)
	return out, r, false, nil
}

// answers are the choices of a problem that are about figures: those that it
// names, and without them that what it is about is left out.
func answers(p *parse.Problem) []parse.Choice {
	if p.Wrong.Value == 0 || slices.ContainsFunc(p.Choices, func(c parse.Choice) bool { return slices.Contains(c.Picks, parse.Drop) }) {
		return p.Choices
	}
	return append(slices.Clone(p.Choices), parse.Choice{Picks: []parse.Pick{parse.Drop}, Aside: true, Next: &parse.Request{Gone: []parse.Altitude{p.Wrong}}})
}

// rights reads a figure as that which stands in place of the one that could not
// be so: "5340" behind "534 is not above the field".
func (q question) rights(req parse.Request) (parse.Request, bool) {
	wrong := q.Wrong
	if wrong.Value == 0 || req.Verb != parse.Correct || req.Station != "" || req.HasElevation || req.Also || req.Procedure != "" || len(req.Altitudes) != 1 {
		return req, false
	}
	if a := req.Altitudes[0]; a.Role != 0 && wrong.Role != 0 && (a.Role != wrong.Role || a.Label != wrong.Label) {
		return req, false
	}
	req.Gone = []parse.Altitude{wrong}
	return req, true
}
