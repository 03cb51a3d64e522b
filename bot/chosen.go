package bot

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine/procedure"
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

// answering reads a message as an answer, when it is first asked for.
type answering struct {
	reader *parse.Reader
	text   string
	read   bool
	is     parse.Answer
}

func (a *answering) answer() *parse.Answer {
	if !a.read {
		a.read, a.is = true, a.reader.Answer(a.text)
	}
	return &a.is
}

// pick reads a message as an answer to the question.
func (q *question) pick(a *answering) picked {
	if !q.Asked {
		return picked{}
	}
	answer, text := a.answer(), a.text
	c, ok := answer.Choose(q.Choices, q.Figure, strings.ToLower(q.Word))
	switch {
	case !ok && answer.Denies():
		c, ok = denied(q.Choices, answer.Figures[0])
	case ok && answer.Notam() && answer.NotamEnded(): // what it had changed stands as it was
		c, ok = parse.Answer{Pick: parse.Old}.Choose(q.Choices)
	case ok && answer.Notam() && (answer.Not || slices.Contains(answer.Words, "no")): // by a NOTAM, or without one
		return picked{vague: true}
	}
	switch {
	case !ok && q.Figure != "" && answer.OnlyLabel(): // "the step" behind "What is 6100?"
		return picked{line: text + " " + q.Figure, ok: true}
	case !ok:
		return picked{vague: answer.Alone() || answer.Vague && len(q.Choices) > 0}
	case c.Line != "":
		return picked{line: c.Line, ok: true}
	}
	return picked{req: q.Scrap.With(*c.Next, q.Text), next: *c.Next, ok: true}
}

// denied is the choice that has something stand in place of a figure: "not 5430"
// behind "What is 5340: FAF, DA, or one more altitude?".
func denied(list []parse.Choice, shown string) (c parse.Choice, ok bool) {
	for _, c := range list {
		if c.Next != nil && len(c.Next.Gone) == 1 && len(c.Next.Altitudes) == 1 && figure(c.Next.Gone[0]) == shown {
			return c, true
		}
	}
	return c, false
}

// labelsOther reads a label for one of the two figures of which one has another:
// "8200 is the IF" behind "Is the DA 8200 or 5340?".
func (q *question) labelsOther(req *parse.Request, problem *parse.Problem) (out picked, ok bool) {
	if !q.Asked || problem != nil || q.Slot.Role == 0 || len(q.Choices) != 2 || req.Verb != parse.Correct || req.Station != "" || req.HasTemperature || len(req.Gone) > 0 || len(req.Altitudes) != 1 {
		return out, false
	}
	a := req.Altitudes[0]
	if a.Role == 0 || a.Role == q.Slot.Role || q.Choices[0].Next == nil || q.Choices[1].Next == nil {
		return out, false
	}
	at := slices.IndexFunc(q.Choices, func(c parse.Choice) bool { return c.Figure == figure(a) })
	if at < 0 || q.Choices[1-at].Figure == figure(a) {
		return out, false
	}
	out.next = *q.Choices[1-at].Next
	out.req = q.Scrap.With(out.next, q.Text).With(parse.Request{Altitudes: req.Altitudes}, q.Text)
	return out, true
}

// understood is what a message says in its thread.
type understood struct {
	req     *parse.Request // never nil where it was understood; others hold it, too: it is not changed in place
	problem *parse.Problem
	earlier string         // what was taken from the message before
	text    string         // the message with what it completes; empty where it completes none
	alone   *parse.Request // as it reads without its thread; nil: not at all
}

// taken reads a message as one of the answers that the question of its thread names, and
// says whether it takes one: with no request in out the reply is there.
func (b *Bot) taken(ctx context.Context, th *thread, req *parse.Request, problem *parse.Problem, m Message, said *answering) (out understood, r reply.Reply, taken bool, err error) {
	q := &th.question
	c := q.pick(said)
	if other, ok := q.labelsOther(req, problem); ok && !c.ok && c.line == "" {
		c, c.ok = other, true
	}
	switch {
	case c.line != "":
		b.threads.ask(threadKey{m.Surface, m.Thread}, question{}, m.At) // the line is not read with what it answers
		m.Text = c.line
		r, err = b.Handle(ctx, m)
		return out, r, true, err
	case c.vague:
		return out, q.again(q.Text), true, nil
	case c.ok:
		asked, made := *q, c.req
		var before []parse.Altitude // of the answer: what is chosen stands in place of it
		if th.answered {
			before = th.request.Altitudes
		}
		*th = th.settled()
		made.NotUsed = append(slices.Clone(made.NotUsed), asked.untaken(made.Altitudes, before)...)
		return understood{req: &made, problem: made.Unready(), earlier: carried(&asked.Scrap, &c.next, &made)}, r, true, nil
	}
	return out, r, false, nil
}

// understand reads a message as an answer to what its thread was asked, or about the
// thread itself: then it is done.
func (b *Bot) understand(ctx context.Context, th *thread, req *parse.Request, problem *parse.Problem, m Message) (out understood, r reply.Reply, done bool, err error) {
	q := &th.question
	said := answering{reader: b.reader, text: m.Text}
	if q.Asked {
		out, r, taken, err := b.taken(ctx, th, req, problem, m, &said)
		if taken || err != nil {
			return out, r, out.req == nil, err
		}
	}
	if list := th.request.Altitudes; th.answered && !q.Asked && len(list) > 1 && problem == nil && req.Verb == parse.Repeat {
		if given := b.reader.Labelings(m.Text, len(list)); len(given) > 1 { // "second FAF, third DA"
			next := relabelled(list, given)
			return understood{req: &next}, r, false, nil
		}
	}
	recalled, shown, ok, err := b.recalls(ctx, th, req, problem, m)
	if ok || err != nil {
		return recalled, shown, shown.Kind != "", err
	}
	req, problem = recalled.req, recalled.problem
	if problem == nil && !q.Asked && th.answered {
		var clear bool
		if req, clear = pointed(th.request.Altitudes, req, &said); !clear {
			return out, reply.Ask(reply.Problem{Word: m.Text, Text: parse.WhichOne(m.Text)}), true, nil
		}
	}
	if req.Verb == parse.Mine && problem == nil && th.answered && said.answer().Keeps() { // "keep mine": the answer as it is
		req = &parse.Request{Verb: parse.Repeat}
	}
	if req.Slot.Role != 0 && th.answered && !q.Asked && !said.answer().ByChart() && said.answer().Labels(th.request.Altitudes) < 0 {
		if next, p := withLabel(th.request, *req); next.Verb == parse.Correct {
			return understood{req: &next, problem: p}, r, false, nil
		}
	}
	switch { // with nothing asked
	case q.Asked || !th.answered:
	case req.Verb == parse.Yes && req.Procedure != "" && th.request.Procedure != "": // "y", behind "rnav 35"
		req = &parse.Request{Procedure: req.Procedure}
	case problem != nil || req.Verb == parse.Note || req.Verb == parse.Repeat || req.Slot.Role != 0:
		if list, a := th.request.Altitudes, said.answer(); a.Labels(list) >= 0 { // "the first is the FAF"
			one := parse.Request{Altitudes: list[a.Labels(list):][:1]}
			if next, p := withLabel(one, parse.Request{Slot: a.Slot}); len(next.Gone) > 0 {
				return understood{req: &next, problem: p}, r, false, nil
			}
		}
	}
	if th.answered && (problem != nil || !req.Complete()) { // else it is not read for it
		if next, ok := givesBack(th, *said.answer()); ok && next.Verb == parse.Undo {
			req, problem = &next, nil
		} else if ok {
			return understood{req: &next}, r, false, nil
		}
	}
	if !q.Asked && th.answered && req.Verb == parse.Note && said.answer().OtherRunway() {
		p := &parse.Problem{Word: "runway", Text: parse.WhichRunway(th.request.Procedure), Either: true, Named: true}
		return understood{req: &parse.Request{}, problem: p}, r, false, nil
	}
	if !q.Asked && th.answered && req.Verb == parse.Note && said.answer().Points() {
		return out, reply.Ask(reply.Problem{Word: m.Text, Text: parse.WhichOne(m.Text)}), true, nil
	}
	if r, done, err = b.talk(ctx, req, th, m); done || err != nil {
		return out, r, true, err
	}
	if whole, ok := q.completed(b.reader, req, problem, m.Text); ok {
		return whole, r, false, nil
	}
	out.req, out.problem = q.settle(req, problem)
	return out, r, false, nil
}

// pointed is a request that says "the same", "again" or "without" with the altitudes of
// the answer that its words point at; false where it is not clear which.
func pointed(list []parse.Altitude, req *parse.Request, said *answering) (*parse.Request, bool) {
	if req.Verb != parse.Same && req.Verb != parse.Repeat && req.Verb != parse.Remove {
		return req, true
	}
	a, next := said.answer(), *req
	if req.Verb == parse.Repeat && req.Slot.Role != procedure.NoRole && !req.Denied && a.DropsLabel() { // "step not needed"
		next = parse.Request{Verb: parse.Remove, Gone: []parse.Altitude{req.Slot}}
		return &next, true
	}
	if req.Verb == parse.Remove && len(req.Gone) == 0 && a.DropsLabel() { // "drop the IF"
		next.Gone = []parse.Altitude{a.Slot}
		return &next, true
	}
	if req.Verb != parse.Remove && a.Pick == parse.Other && a.Labels(list) < 0 {
		return req, false
	}
	if at := a.Drops.Place(len(list)); req.Verb == parse.Remove && len(req.Gone) == 0 && at >= 0 && len(a.Weighty)+len(a.Figures) == 0 {
		next.Gone, next.NotUsed = list[at:at+1], nil // "remove that last one"
		return &next, true
	}
	one, p := oneOf(list, *req, *a)
	if p != nil {
		return req, false
	}
	next.Gone = one
	return &next, true
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
func (q *question) rights(req parse.Request) (parse.Request, bool) {
	wrong := q.Wrong
	if wrong.Value == 0 || len(req.Gone) > 0 || req.Verb != parse.Correct || req.Station != "" || req.HasElevation || req.Also || req.Procedure != "" || len(req.Altitudes) != 1 {
		return req, false
	}
	a := req.Altitudes[0]
	taken := func(h parse.Altitude) bool {
		return h.SameLabel(a) && h.Fix == a.Fix && figure(h) != figure(a) && figure(h) != figure(wrong)
	}
	if a.Role.Minimum() && wrong.Role == 0 && slices.ContainsFunc(q.Scrap.Altitudes, taken) {
		return req, false // the label is another's: which of the two it has is asked
	}
	if a.Role != 0 && wrong.Role != 0 && (a.Role != wrong.Role || a.Label != wrong.Label) {
		return req, false
	}
	req.Gone = []parse.Altitude{wrong}
	return req, true
}

// refused says that a figure was asked about that is none of the altitudes: one too
// high for any.
func (q *question) refused() bool {
	v, err := strconv.ParseFloat(q.Word, 64)
	return err == nil && len(q.Scrap.Open) > 0 && q.Wrong.Value == 0 && len(q.Choices) == 0 && len(q.Scrap.Altitudes) > 0 &&
		!slices.ContainsFunc(q.Scrap.Altitudes, func(a parse.Altitude) bool { return a.Value == v })
}

// letGo are the figures of what was asked about that are in neither the message that
// follows it nor the request which that makes, nor in the one that was answered before:
// they are told.
func (q *question) letGo(next, made, before *parse.Request) (told []string) {
	if !q.Asked || q.Scrap.Verb != parse.Correct {
		return nil
	}
	if s := q.Scrap; s.HasTemperature && !next.HasTemperature && !next.Latest && (!made.HasTemperature || s.Temperature != made.Temperature) {
		told = append(told, s.TemperatureWord())
	} else if s.Differ != nil && !next.HasTemperature && !next.Latest {
		for _, c := range s.Differ.Choices {
			if c.Next != nil {
				told = append(told, c.Next.TemperatureWord())
			}
		}
	}
	told = append(told, q.untaken(made.Altitudes, slices.Concat(next.Gone, q.Scrap.Altitudes, before.Altitudes))...)
	for _, a := range q.Scrap.Altitudes {
		stands := func(b parse.Altitude) bool {
			return figure(a) == figure(b) || q.Slot.Role == 0 && a.Role != 0 && a.SameLabel(b) && a.Fix == b.Fix && !slices.Contains(before.Altitudes, b)
		}
		switch {
		case slices.ContainsFunc(made.Altitudes, stands), slices.ContainsFunc(next.Gone, stands):
		case a.Role == 0:
			told = append(told, figure(a))
		default:
			told = append(told, labelAndFix(a)+" "+figure(a))
		}
	}
	if f, ok := parse.Mistyped(q.Word); ok && !slices.Contains(told, f) && !slices.ContainsFunc(made.Altitudes, func(b parse.Altitude) bool { return figure(b) == f }) {
		told = append(told, q.Word) // "750O"
	}
	return told
}

// untaken are the figures that a question named to be chosen among, and that are
// neither in what was made of it nor elsewhere.
func (q *question) untaken(made, elsewhere []parse.Altitude) (told []string) {
	for _, c := range q.Choices {
		if c.Figure == "" || c.Next == nil || len(c.Next.Altitudes) != 1 || len(c.Next.Gone) > 0 {
			continue
		}
		a := c.Next.Altitudes[0]
		is := func(b parse.Altitude) bool { return figure(a) == figure(b) }
		if !slices.ContainsFunc(made, is) && !slices.ContainsFunc(elsewhere, is) && !slices.Contains(told, figure(a)) {
			told = append(told, figure(a))
		}
	}
	return told
}

// completes is the text of a command that may lack something, which the next
// message completes.
func completes(v parse.Verb, text string) string {
	if v.Waits() {
		return text
	}
	return ""
}

// completed reads a scrap behind a command that lacked something as the command
// typed whole: "-31" behind "obs XKLD". A station alone is taken, too, where more
// is still lacking, and "31", of which the sign is asked.
func (q *question) completed(r *parse.Reader, next *parse.Request, problem *parse.Problem, text string) (out understood, ok bool) {
	if !q.Asked || q.Said == "" || next.Verb != parse.Correct && next.Verb != parse.Watch || next.Complete() || len(q.Scrap.Stops) > 0 {
		return out, false
	}
	out.text = q.Said + " " + text
	again := q.reobserved(next)
	if again != "" {
		out.text = again
	}
	read, p := r.Parse(out.text)
	out.req, out.problem = &read, p
	return out, out.req.Verb == q.Scrap.Verb && (again != "" || out.problem == nil || problem != nil && out.problem.Text == problem.Text || q.Scrap.Station == "" && onlyStation(*next))
}

// holdsOf are the holds among altitudes.
func holdsOf(list []parse.Altitude) []parse.Altitude {
	return slices.DeleteFunc(slices.Clone(list), func(a parse.Altitude) bool { return a.Role != procedure.Hold })
}

// relabelled changes the altitudes that labels are given to.
func relabelled(list []parse.Altitude, given []parse.Labeling) (out parse.Request) {
	for _, l := range given {
		a := list[l.At]
		out.Gone = append(out.Gone, a)
		a.Role, a.Label = l.Slot.Role, l.Slot.Label
		out.Altitudes = append(out.Altitudes, a)
	}
	return out
}

// withLabel gives a label that was said alone to the altitude that was typed; it
// is asked which where there are more. Where none was typed, or one has the label,
// the message asks for what is there.
func withLabel(earlier, said parse.Request) (parse.Request, *parse.Problem) {
	slot, names := said.Slot, []string{}
	if holds := holdsOf(earlier.Altitudes); slot.Role == procedure.MissedHold && slot.Label == parse.MissedHoldLabel && len(holds) == 1 {
		earlier.Altitudes = holds // "missed hold"
	}
	p := &parse.Problem{Word: slot.Name(), Either: true}
	for _, a := range earlier.Altitudes {
		if a.SameLabel(slot) {
			if slot.Fix == "" {
				return said, nil
			}
			a.Fix = slot.Fix // "FAF XIRTU"
			return parse.Request{Altitudes: []parse.Altitude{a}, Instead: true}, nil
		}
		now := a
		now.Role, now.Label, now.Fix = slot.Role, slot.Label, cmp.Or(slot.Fix, a.Fix)
		next := parse.Request{Gone: []parse.Altitude{a}, Altitudes: []parse.Altitude{now}}
		p.Choices = append(p.Choices, parse.Choice{Words: strings.Fields(strings.ToLower(a.Name())), Figure: figure(a), Value: a.Value, Next: &next})
		names = append(names, figure(a))
	}
	switch len(names) {
	case 0:
		return said, nil
	case 1:
		return *p.Choices[0].Next, nil
	}
	p.Text = parse.WhichHas(slot.Name(), names)
	return parse.Request{}, p
}
