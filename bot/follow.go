package bot

import (
	"cmp"
	"context"
	"slices"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// question is what a thread was asked last: the line that a "yes" takes, and
// what was typed, where it waits for more than the thread's request does.
type question struct {
	Asked  bool           `json:"asked,omitempty"`
	Offer  string         `json:"offer,omitempty"`
	Scrap  parse.Request  `json:"scrap"`
	Word   string         `json:"word,omitempty"`
	Text   string         `json:"text,omitempty"`
	Either bool           `json:"either,omitempty"`
	Meant  string         `json:"meant,omitempty"` // what a "yes" takes where the offer itself has a question
	Slot   parse.Altitude `json:"slot"`            // the label that a bare figure is to have
	Way    bool           `json:"way,omitempty"`   // how the crew comes in: a fix alone answers it
	Named  bool           `json:"named,omitempty"` // the approach: a runway alone answers it
	Flown  bool           `json:"flown,omitempty"` // figures that are corrected already: more of them may follow
	Whole  bool           `json:"whole,omitempty"` // Scrap is a whole request, which could not be answered
	// Choices are the answers that it names; a figure with them is Figure.
	Choices []parse.Choice `json:"choices,omitempty"`
	Figure  string         `json:"figure,omitempty"`
	At      parse.Clock    `json:"at"` // the time that a figure may be
	// Said is what was typed, where a command lacks something: what follows is read behind it.
	Said  string         `json:"said,omitempty"`
	Wrong parse.Altitude `json:"wrong"`           // what cannot be so: another figure takes its place
	Times int            `json:"times,omitempty"` // how often it was asked again
}

// settle fills what the question waits for: "minus" behind "38" in a scrap.
func (q *question) settle(typed *parse.Request, problem *parse.Problem) (*parse.Request, *parse.Problem) {
	if !q.Asked {
		return typed, problem
	}
	out, problem := q.filled(*typed, problem)
	return &out, problem
}

// filled is settle where something is asked.
func (q *question) filled(req parse.Request, problem *parse.Problem) (parse.Request, *parse.Problem) {
	if name := problem; q.Named && name != nil && req.Unsigned > 0 && req.Unsigned <= 36 && !req.HasTemperature && len(req.Altitudes) == 0 && req.Procedure == "" && len(name.Word) <= 2 {
		return parse.Request{Procedure: "rwy " + name.Word}, nil
	}
	if fix := problem; q.Way && fix != nil && req.Empty() && len(req.NotUsed) == 0 && parse.FixLike(fix.Word) {
		req = parse.Request{Way: parse.Way{Kind: parse.Via, Fix: strings.ToUpper(fix.Word)}}
		return req, nil
	}
	if q.Scrap.Verb == parse.Brief && problem == nil && req.Verb == parse.Correct && req.Station == "" && len(req.Altitudes) == 1 && !req.HasTemperature {
		if c, ok := req.Altitudes[0].Clock(); ok { // "1430" behind "what time (UTC)?"
			c.Zone = parse.UTC
			return q.Scrap.Timed(c)
		}
	}
	if said := q.At; said.Said && req.At.Hour == said.Hour && req.At.Minute == said.Minute && problem == nil && req.Empty() {
		return q.Scrap.With(parse.Request{Gone: []parse.Altitude{q.Wrong}, At: req.At}, q.Text), nil // "1430z" behind "a time or an altitude?"
	}
	if righted, ok := q.rights(req); ok && problem == nil {
		return righted, nil
	}
	if q.Scrap.Verb == parse.Brief {
		req.At.Unzoned = false // UTC, as it was asked for
	}
	if q.Scrap.Verb == parse.Brief && req.At.Said && req.Station == "" && req.Verb == parse.Correct {
		return q.Scrap.Timed(req.At)
	}
	if q.Scrap.Verb == parse.Brief && req.Verb == parse.Watch && req.At.Day != parse.DayUnsaid && req.Station == "" {
		return q.Scrap.Timed(req.At)
	}
	if len(req.Altitudes) == 1 && q.refused() {
		req.Instead = false // it stands for what was refused, and not for what is there
	}
	if problem == nil && q.Slot.Role != 0 && req.Verb == parse.Correct && req.Station == "" && len(req.Altitudes) == 1 && req.Altitudes[0].Role == 0 {
		req.Altitudes = slices.Clone(req.Altitudes)
		req.Altitudes[0].Role, req.Altitudes[0].Label, req.Altitudes[0].Fix = q.Slot.Role, q.Slot.Label, q.Slot.Fix
		req.Instead = true
		return req, problem
	}
	if len(req.Altitudes) == 1 && (q.Slot.Role != 0 && req.Altitudes[0].Role == q.Slot.Role || q.Word == figure(req.Altitudes[0])) {
		req.Instead = true // the label was asked about
	}
	if signed, ok := req.Signed(q.Scrap.Sign); ok && len(req.Open) == 0 && q.Scrap.Unsigned == 0 {
		return signed, nil // "33" behind "minus how many degrees?"
	}
	signed, ok := q.Scrap.Signed(req.Sign)
	if !ok {
		return req, problem
	}
	if len(signed.Open) > 0 {
		return signed, &signed.Open[0]
	}
	return signed, nil
}

// base is the request that a follow-up is read with: what could not be
// answered, where the follow-up names another procedure or the temperature that
// was asked for, else the last good one.
func (q *question) base(next, good *parse.Request, answered bool) (*parse.Request, bool) {
	asked := &q.Scrap
	if q.Asked && q.Wrong.Value != 0 && len(next.Gone) == 1 && next.Gone[0] == q.Wrong {
		return asked, false
	}
	if answered && q.Asked && q.Whole && asked.Verb == parse.Correct && asked.Station != "" &&
		(next.Procedure != "" && asked.Procedure != "" || next.HasTemperature && !asked.HasTemperature) && next.Station == "" {
		return asked, false
	}
	return good, answered
}

// when is the question where it is still open, else none.
func (q *question) when(open bool) *question {
	if !open {
		return nil
	}
	asked := *q
	return &asked
}

// still is a problem of what was asked about, and followed up without settling
// it: its line to type holds what the follow-up says, too. A question that is not there
// asks nothing.
func (b *Bot) still(q *question, next *parse.Request, p *parse.Problem) *parse.Problem {
	if q == nil || !q.Asked || q.Either {
		return p
	}
	line := cmp.Or(q.Offer, q.Meant)
	if line == "" || p.Try != "" && p.Try != parse.Example {
		return p
	}
	offered, problem := b.reader.Parse(line)
	if problem != nil {
		return p
	}
	again := *p
	if word, _ := offered.Unclear(*next); word != "" && !bareFigures(&offered) {
		again.Try = "" // which of them it stands for is not known
		return &again
	}
	again.Try = offered.Amend(*next, false).Line()
	if q.Scrap.Elsewhere && next.Station == "" {
		again.Word, again.Text = q.Word, q.Text // the station is not known yet
	}
	return &again
}

// retimed are arrivals of which one is at another time.
func retimed(arrivals []parse.Stop, at int, c parse.Clock) []parse.Stop {
	stops := slices.Clone(arrivals)
	stops[at].At = moved(stops[at].At, c)
	return stops
}

// moved is another time on the day that was said before, where it says none.
func moved(was, now parse.Clock) parse.Clock {
	if now.Later {
		return was.Add(now.In)
	}
	if now.Day == parse.DayUnsaid {
		now.Day = was.Day
	}
	return zonedAs(was, now)
}

// zonedAs is a time in the zone of the one before it, where it names none.
func zonedAs(was, now parse.Clock) parse.Clock {
	if now.Unzoned && was.Said && was.In == 0 {
		now.Zone, now.Unzoned = was.Zone, was.Unzoned
	}
	return now
}

// question asks, and remembers what was asked: the next message may answer it.
func (b *Bot) question(ctx context.Context, key threadKey, req *parse.Request, p *parse.Problem, m Message, whole bool) reply.Reply {
	r, meant := b.ask(p), p.Meant
	if r.Problem != nil && b.reader.Keeps(m.Text, r.Problem.Try) && r.Problem.Try != b.example {
		meant = r.Problem.Try
	}
	if r.Problem != nil && r.Problem.Try != "" && (!b.reader.Keeps(m.Text, r.Problem.Try) || r.Problem.Try == b.example && b.threads.has(key)) {
		r.Problem.Try = ""
	}
	if r.Problem != nil && !b.offers(ctx, r.Problem.Try, m) {
		if r.Problem.Try = b.followed(key, r.Problem.Try, m); !b.offers(ctx, r.Problem.Try, m) {
			r.Problem.Try = ""
		}
	}
	if r.Problem != nil && (!req.Empty() || req.Unsigned != 0 || req.Verb != parse.Correct || len(req.Open) == 0 || meant != "" || len(p.Choices) > 0 || p.Either) {
		b.threads.ask(key, question{Asked: true, Offer: r.Problem.Try, Meant: meant, Scrap: *req, Word: r.Problem.Word, Text: r.Problem.Text, Either: p.Either, Slot: p.Slot, Way: p.Way, Named: p.Named, Flown: p.Flown, Whole: whole, Said: completes(req.Verb, m.Text),
			Choices: answers(p), Figure: p.Figure, Wrong: p.Wrong, At: p.At}, m.At)
	}
	return r
}

// followed is a line to type as it reads behind what the thread holds: "-41" as
// the whole request. Empty where it cannot be read so.
func (b *Bot) followed(key threadKey, line string, m Message) string {
	next, problem := b.reader.Parse(line)
	th, has := b.threads.get(key, m.At)
	if problem != nil || !has || !follows(&th.request, &next, th.answered) || unclear(&th.request, &next, th.answered) != nil {
		return ""
	}
	merged := th.request.Amend(next, th.answered)
	if len(merged.Open) > 0 || merged.NoSign() != nil {
		return "" // what is open in it would be left out of the line
	}
	return merged.Line()
}

// offers says that a line would be answered as it stands.
func (b *Bot) offers(ctx context.Context, line string, m Message) bool {
	if line == "" {
		return true
	}
	req, problem := b.reader.Parse(line)
	if problem != nil {
		return false
	}
	if req.Verb != parse.Correct && !req.Verb.Shows() || req.Verb == parse.Picture && req.Kind == pictureDay {
		return true
	}
	problem, err := b.answer(ctx, &req, m.At, "", new(worked))
	return err != nil || problem == nil
}

// talk answers what is about the thread itself: thanks, a yes, a no, "forget
// that", "say again", and with nothing kept here a recomputation.
func (b *Bot) talk(ctx context.Context, req *parse.Request, th *thread, m Message) (r reply.Reply, done bool, err error) {
	key := threadKey{m.Surface, m.Thread}
	switch req.Verb {
	case parse.No:
		if q := th.question; q.Asked { // which it is then is still not said
			return q.denied(), true, nil
		}
		return note(), true, nil
	case parse.Note:
		if q := th.question; q.repeats(m.Text) {
			return q.again(q.Text), true, nil
		} else if q.Asked || !th.answered || len(req.NotUsed) == 0 {
			return note(), true, nil
		}
	case parse.Forget:
		b.threads.drop(key)
		return note(), true, nil
	case parse.Undo:
		was, ok := b.threads.back(key)
		if !ok {
			return b.ask(&parse.Problem{Text: parse.NothingToUndo()}), true, nil
		}
		was.Verb = parse.Correct
		r, err = b.work(ctx, &was, nil, m, follow{key: key, good: true})
		return r, true, err
	case parse.Yes:
		q := th.question
		switch {
		case !q.Asked:
			return note(), true, nil
		case q.Either || q.Offer == "" && q.Meant == "":
			return q.again(parse.WhichYes(q.Text)), true, nil
		}
		m.Text = cmp.Or(q.Offer, q.Meant)
		r, err = b.Handle(ctx, m)
		return r, true, err
	case parse.Repeat:
		if q := th.question; q.Asked && (!th.answered || req.Slot.Role != 0) { // "IAF XEMBA" answers it not, and what was asked about is not dropped
			return q.again(q.Text), true, nil
		}
		if !th.answered {
			return b.ask(&parse.Problem{Text: parse.NoAnswerYet, Try: parse.Example}), true, nil
		}
	case parse.Recompute:
		if b.ports.Book != nil || !th.answered || req.Record != "" {
			return r, false, nil
		}
		th.request.HasTemperature, th.request.HasReport = false, false
	default:
		return r, false, nil
	}
	again := th.request
	again.Verb = parse.Correct
	if req.Verb == parse.Note { // "and dew m43"
		again.NotUsed = req.NotUsed
	}
	r, err = b.work(ctx, &again, nil, m, follow{key: key, good: true})
	return r, true, err
}

// note is the reply to what needs none.
func note() reply.Reply { return reply.Reply{Kind: reply.KindNote} }

// follows says whether next is read with the request before it. A message
// that is complete stands alone.
func follows(earlier, next *parse.Request, answered bool) bool {
	switch next.Verb {
	case parse.Add, parse.Remove, parse.Same:
		return true
	case parse.Why, parse.Picture, parse.Card:
		if next.Station == "" && !next.HasElevation && !next.HasTemperature && (len(next.Altitudes) == 0 || next.Verb == parse.Why && bareFigures(next)) {
			return true
		}
	case parse.Correct:
	default:
		return false
	}
	if next.Complete() {
		return false
	}
	if next.Station == "" && !next.HasElevation && !next.Elsewhere {
		return next.HasTemperature || next.Swap || len(next.Altitudes) > 0 || len(next.Gone) > 0 || next.Rules != "" || next.OwnRules || next.Procedure != "" ||
			next.Compensated != "" || next.Latest || next.SBAS != "" || next.Remote != "" || next.Additive > 0 || next.Minima != "" || len(next.Without) > 0 || next.StraightIn || next.Way.Kind != parse.Unsaid
	}
	if next.HasElevation && next.Station == "" && len(next.Altitudes) == 0 && next.Procedure == "" && answered {
		return true // "elev 5100": of the same altitudes
	}
	if earlier.Station == "" && earlier.HasElevation && onlyStation(*next) {
		return true // the field whose elevation was typed
	}
	if !answered && earlier.Differ != nil && onlyStation(*next) {
		return true // which temperature it is has still to be said
	}
	missing := earlier.Station == "" && !earlier.HasElevation
	if !answered && missing || next.Instead && next.Station != "" {
		return true
	}
	// "XKLD -41" behind an answer for XKLD: the same altitudes, colder.
	return next.Station == earlier.Station && next.Station != "" && (next.HasTemperature || next.Rules != "" || next.Latest)
}

// bareFigures says that no altitude of a request has a label.
func bareFigures(r *parse.Request) bool {
	return !slices.ContainsFunc(r.Altitudes, func(a parse.Altitude) bool { return a.Role != 0 })
}

// explained is "why 790" without its figures: they are of the answer, and its
// altitudes are not asked for anew.
func explained(earlier, next parse.Request, answered bool) parse.Request {
	if next.Verb == parse.Why && answered && len(earlier.Altitudes)+len(earlier.Procedure) > 0 && !next.HasTemperature {
		for _, a := range append(slices.Clone(next.Altitudes), next.Gone...) {
			next.NotUsed = append(next.NotUsed, figure(a))
		}
		next.Altitudes, next.Gone = nil, nil
	}
	return next
}

// slip says that next, which needs fixing, is a try to follow up an earlier
// request: that one waits for the next try. What stands alone, or names a
// station that is not known, is a request of its own.
func slip(earlier, next *parse.Request, answered bool) bool {
	if next.Elsewhere {
		return false
	}
	if next.Verb == parse.Correct && len(next.Altitudes) == 0 && !next.HasTemperature && next.Procedure == "" &&
		(next.Station == "" || next.Station == earlier.Station) && !next.HasElevation {
		return true // nothing in it that the earlier has not
	}
	return answered && follows(earlier, next, answered)
}

// unclear asks where a follow-up could change the earlier altitudes in more
// than one way.
func unclear(earlier, next *parse.Request, answered bool) *parse.Problem {
	if !answered && (len(earlier.Open) == 0 || !earlier.Open[0].Unread || !bareFigures(next)) {
		return nil
	}
	if p := earlier.Denying(*next); p != nil {
		return p
	}
	if p := earlier.Changing(*next); p != nil && answered {
		return p
	}
	if next.Swap && !earlier.Swaps(*next) {
		return &parse.Problem{Word: "swap", Text: parse.WhichSwap, Either: true}
	}
	if word, names := earlier.Unclear(*next); word != "" && next.Procedure == "" {
		p := &parse.Problem{Word: word, Text: parse.WhichIsIt(word, names), Either: true}
		if len(next.Altitudes) == 1 {
			p.Choices, p.Figure = earlier.Labels(next.Altitudes[0]), word
		}
		return p
	}
	if have, other, two := earlier.Second(*next); two {
		return &parse.Problem{Word: figure(other), Text: parse.TwoOf(labelAndFix(other), figure(have), figure(other)), Either: true, Slot: other, Choices: parse.Kept(have, other)}
	}
	return nil
}

// labelAndFix is the label of an altitude with its fix: "IAF XADLO".
func labelAndFix(a parse.Altitude) string {
	if a.Fix == "" || a.Name() == a.Fix {
		return a.Name()
	}
	return a.Name() + " " + a.Fix
}

// flownInstead reads "scrap the DA, MDA 5460", behind an answer without an MDA, as what
// is flown instead: it cannot be taken away.
func (b *Bot) flownInstead(earlier, next parse.Request, text string) parse.Request {
	if next.Verb != parse.Remove || len(next.Gone) != 2 || len(next.Altitudes) > 0 || next.Station != "" || next.HasTemperature {
		return next
	}
	gone, other := next.Gone[1], next.Gone[0]
	if gone.Value != 0 || other.Value == 0 || other.Role == procedure.NoRole || !slices.ContainsFunc(earlier.Altitudes, gone.SameLabel) ||
		slices.ContainsFunc(earlier.Altitudes, func(h parse.Altitude) bool { return h.SameLabel(other) || figure(h) == figure(other) }) || b.reader.Answer(text).And() {
		return next
	}
	next.Verb, next.Gone, next.Altitudes = parse.Correct, next.Gone[1:], []parse.Altitude{other}
	return next
}

// left is what still needs fixing when next has been read with the earlier
// request: a word that it did not settle, nothing to remove, units that do
// not go together.
func left(earlier, next, merged *parse.Request, answered bool) *parse.Problem {
	noSign := merged.NoSign()
	switch {
	case noSign != nil:
		return noSign
	case len(merged.Open) > 0:
		p := merged.Open[0]
		p.Try = "" // no line holds what was not understood
		p.Choices = slices.DeleteFunc(slices.Clone(p.Choices), func(c parse.Choice) bool { return c.Line != "" })
		return &p
	case next.Verb == parse.Add && len(next.Altitudes) == 0:
		return &parse.Problem{Word: "add", Text: parse.AddNeeds}
	case next.Verb == parse.Remove && len(next.Gone) == 0:
		return &parse.Problem{Word: "remove", Text: parse.RemoveNeeds} // which one is not known: no line is offered
	}
	if gone, missing := earlier.Missing(*next); missing {
		if earlier.Procedure != "" {
			if gone.Role.Minimum() && gone.Value == 0 {
				return &parse.Problem{Word: gone.Name(), Text: parse.RowsStay("without " + gone.Name())}
			}
			return &parse.Problem{Word: gone.Name(), Text: parse.NotTypedHere(gone.Name())}
		}
		return &parse.Problem{Word: gone.Name(), Text: parse.NotAmongThem(gone.Name())}
	}
	return merged.MixedUnits(answered && !slices.ContainsFunc(next.Altitudes, func(a parse.Altitude) bool { return a.Bare }))
}
