package bot

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"

	"firn/bot/parse"
	"firn/bot/reply"
	"firn/engine/procedure"
)

// again asks the question once more, in words that say what the message before it
// did not settle.
func (q question) again(text string) reply.Reply {
	return reply.Ask(reply.Problem{Word: q.Word, Text: text, Try: q.Offer})
}

// denied asks on behind a "no", which says what is not so: what is so is still to
// be said.
func (q question) denied() reply.Reply {
	text := parse.WhichNo(q.Text)
	if !q.Either && cmp.Or(q.Offer, q.Meant) != "" {
		text = parse.NotSo(q.Word)
	}
	if text != q.Text {
		q.Offer = "" // it is not so
	}
	return q.again(text)
}

// askedAgain has a reply that asks what was asked before say so, and lead on. Who is
// told once what a message did not settle is not told it again.
func (b *Bot) askedAgain(key threadKey, was question, r reply.Reply) reply.Reply {
	p := r.Problem
	if p == nil || !strings.HasSuffix(p.Text, was.Text) && p.Text != parse.NotSo(was.Word) {
		return r
	}
	now := b.threads.asked(key)
	if p.Text == was.Text && p.Try != was.Offer || now.Said != was.Said {
		return r // something of it was settled
	}
	if was.Times++; was.Times > 1 && p.Text != was.Text {
		p.Text, p.Try = was.Text, was.Offer
	}
	if p.Text == was.Text {
		p.Text = parse.AskedAgain(p.Text)
	}
	b.threads.kept.Change(key, func(th *thread) { th.question.Times = was.Times })
	return r
}

// repeats says that a message is nothing but the word that was asked about, or the
// label IF, which alone is a small word: neither settles anything.
func (q question) repeats(text string) bool {
	word := strings.ToUpper(strings.TrimSpace(text))
	return q.Asked && word != "" && (word == strings.ToUpper(q.Word) || word == "IF" && strings.Contains(q.Text, " IF "))
}

// rescaled reads a scale that was said alone as that of the temperature which was
// typed: "sorry C" behind -38F.
func rescaled(now, next *parse.Request, text string) *parse.Request {
	if next.Scale == parse.NoScale || !now.HasTemperature || now.HasReport || strings.HasSuffix(strings.TrimSpace(text), "?") {
		return nil
	}
	if out, ok := now.InScale(next.Scale); ok {
		return &out
	}
	return nil
}

// whichScale asks for the scale of a figure that was typed with the other than the one
// which was said alone: "celsius" behind -38F. nil where there is no such doubt.
func whichScale(now *parse.Request, problem *parse.Problem, text string) *parse.Problem {
	if problem == nil || !now.HasTemperature || now.HasReport || strings.Contains(text, "?") {
		return nil
	}
	scale := scaleOf(problem.Word)
	if scale == parse.NoScale || now.InFahrenheit == (scale == parse.InFahrenheit) {
		return nil
	}
	other, ok := now.InScale(scale)
	if !ok {
		return nil
	}
	return now.EitherScale(other, problem.Word)
}

// scaleOf is the scale that a word names.
func scaleOf(word string) parse.Scale {
	switch strings.ToLower(word) {
	case "c", "celsius", "centigrade":
		return parse.InCelsius
	case "f", "fahrenheit":
		return parse.InFahrenheit
	}
	return parse.NoScale
}

// mislabelled reads "no that was the IF, 8400" behind an answer that has 8400 under
// another label: the figure gets the one that is said, and what had it before has its
// own again.
func mislabelled(th *thread, next *parse.Request, text string, reader *parse.Reader) *parse.Request {
	if !next.Instead || len(next.Altitudes) != 1 || len(next.Gone) > 0 || next.Also || next.Station != "" || next.HasTemperature || next.Procedure != "" || !reader.Answer(text).ThatOne() {
		return next
	}
	a := next.Altitudes[0]
	at := slices.IndexFunc(th.request.Altitudes, func(h parse.Altitude) bool {
		return h.Role != procedure.NoRole && h.Role != a.Role && h.Value == a.Value && h.Metric == a.Metric && h.Height == a.Height
	})
	if a.Role == procedure.NoRole || at < 0 {
		return next
	}
	wrong, right := th.request.Altitudes[at], *next
	right.Gone = []parse.Altitude{wrong}
	if n := len(th.before); n > 0 {
		for _, was := range th.before[n-1].Altitudes {
			if was.SameLabel(wrong) && was.Fix == wrong.Fix && was.Value != wrong.Value {
				right.Altitudes = append([]parse.Altitude{was}, a)
			}
		}
	}
	return &right
}

// recalls reads what a message says of the thread's answers: labels and scales that were
// wrong, and what was answered before. ok says that this is all; the reply is there
// where it is an answer of its own, which the thread does not go on from.
func (b *Bot) recalls(ctx context.Context, th *thread, req *parse.Request, problem *parse.Problem, m Message) (out understood, r reply.Reply, ok bool, err error) {
	open := th.answered && !th.question.Asked
	if open && problem == nil {
		req = circled(&th.request, mislabelled(th, restored(th.before, &th.request, req), m.Text, b.reader))
		if next, p := denying(&th.request, req); next != nil {
			return understood{req: next, problem: p}, r, true, nil
		}
	} else if scaled := rescaled(&th.request, req, m.Text); scaled != nil && th.answered && (open || problem.Text == th.question.Text || scaleOf(th.question.Word) != parse.NoScale && len(th.question.Choices) == 2) {
		req, problem = scaled, nil
	} else if p := whichScale(&th.request, problem, m.Text); open && p != nil {
		return understood{req: &parse.Request{}, problem: p}, r, true, nil
	}
	if q := &th.question; q.Asked && q.Wrong.Value != 0 && problem != nil && req.Empty() {
		if right, ok := q.inUnit(b.reader.Answer(m.Text)); ok {
			return understood{req: &right}, r, true, nil
		}
	}
	if again := b.turned(ctx, th, req, problem, m.Text); again != nil {
		return understood{req: again, earlier: carried(&th.request, &parse.Request{}, again)}, r, true, nil
	}
	switch n := len(th.before); {
	case req.Verb == parse.Repeat && open && req.Slot.Role != procedure.NoRole && b.reader.Answer(m.Text).Wrong() && holding(&th.request, req.Slot):
		return understood{req: &parse.Request{}, problem: &parse.Problem{Word: req.Slot.Name(), Text: parse.WhatThen(req.Slot.Name()), Either: true, Slot: req.Slot}}, r, true, nil
	case open && problem == nil && th.request.Procedure != "" && req.Verb == parse.Correct && req.Station == "" && len(req.Altitudes) == 1 && req.Altitudes[0].Role == procedure.NoRole && b.reader.Answer(m.Text).Category():
		f := figure(req.Altitudes[0])
		return understood{req: req, problem: &parse.Problem{Word: f, Text: parse.WhichMinimum(f), Either: true, Figure: f, Choices: parse.LinesOf(f)}}, r, true, nil
	case req.HasElevation && req.Station == "" && open && len(req.Altitudes) == 0 && b.itsField(th.request.Station, req.Elevation):
		again := asked(th.request)
		return understood{req: &again}, r, true, nil
	case open && problem != nil && problem.Text == parse.Empty: // "??"
		return out, note(), true, nil
	case req.SameAir && req.Station == "" && open && n > 0 && !th.request.HasTemperature && th.before[n-1].HasTemperature && th.before[n-1].Station != th.request.Station:
		was := th.before[n-1]
		return understood{req: &parse.Request{Temperature: was.Temperature, HasTemperature: true, Fahrenheit: was.Fahrenheit, InFahrenheit: was.InFahrenheit}}, r, true, nil
	case open && req.OthersSetting && th.request.Station != "" && th.request.Station != req.Station && onlyPlace(*req):
		again := asked(th.request)
		again.Remote = "yes"
		return understood{req: &parse.Request{}, problem: &parse.Problem{Word: req.Station, Text: parse.WhoseSetting(th.request.Station, req.Station), Try: again.Line()}}, r, true, nil
	case req.Verb == parse.Repeat && req.Station != "":
		again := th.of(req.Station)
		return understood{req: &again}, r, true, nil
	case req.Verb == parse.Repeat && req.Before && n > 0 && th.answered:
		was := asked(th.before[n-1])
		r, err = b.work(ctx, &was, nil, m, follow{})
		return out, r, true, err
	case req.Verb == parse.Watch && req.Now && th.request.Station != "":
		r, err = b.work(ctx, &parse.Request{Station: th.request.Station}, nil, m, follow{})
		return out, r, true, err
	}
	if added := remoteAdds(th, req); added != nil {
		req, problem = added, nil
	}
	return understood{req: req, problem: problem}, r, false, nil
}

// holding says that a request has an altitude with a label, and no other of it.
func holding(now *parse.Request, slot parse.Altitude) bool {
	n := 0
	for _, a := range now.Altitudes {
		if a.SameLabel(slot) {
			n++
		}
	}
	return n == 1
}

// itsField says that an elevation is that of a station's field.
func (b *Bot) itsField(station string, e parse.Altitude) bool {
	field, ok := b.elevationOf(station)
	return ok && math.Abs(field-float64(e.Feet())) < 1
}

// oneOf is what a label without its figure takes away where several altitudes have it:
// "the first step". p is there where it is not said which.
func oneOf(list []parse.Altitude, next parse.Request, said parse.Answer) (gone []parse.Altitude, p *parse.Problem) {
	if next.Verb != parse.Remove || len(next.Gone) != 1 || next.Gone[0].Value != 0 || next.Gone[0].Fix != "" {
		return next.Gone, nil
	}
	var of []parse.Altitude
	for _, a := range list {
		if a.SameLabel(next.Gone[0]) {
			of = append(of, a)
		}
	}
	if at := max(said.Drops.Place(len(of)), said.Pick.Place(len(of))); len(of) > 1 && at >= 0 {
		return of[at : at+1], nil
	}
	if len(of) < 2 || said.Several() {
		return next.Gone, nil
	}
	return nil, &parse.Problem{}
}

// denying asks about a label that was said with a "not", and nothing else: its
// altitude may be taken away, or another's. With another label beside it, that is the
// altitude's: "not MDA, DA".
func denying(now, next *parse.Request) (*parse.Request, *parse.Problem) {
	slot, other := next.Slot, len(next.Gone) == 1 && next.Gone[0].Value == 0 && next.Slot.Role != procedure.NoRole
	if other {
		slot = next.Gone[0]
	}
	if !next.Denied && !other || slot.Role == procedure.NoRole || len(next.Altitudes) > 0 {
		return nil, nil
	}
	var of []parse.Altitude
	for _, a := range now.Altitudes {
		if a.Role == slot.Role && (slot.Label == "" || a.Label == slot.Label) {
			of = append(of, a)
		}
	}
	switch name := slot.Name(); {
	case len(of) == 0 && now.Procedure != "":
		return &parse.Request{}, &parse.Problem{Word: name, Text: parse.NotTypedHere(name), Either: true}
	case len(of) == 0:
		return &parse.Request{}, &parse.Problem{Word: name, Text: parse.NotAmongThem(name), Either: true}
	case len(of) > 1:
		return nil, nil
	case other:
		out, p := withLabel(parse.Request{Altitudes: of}, parse.Request{Slot: next.Slot})
		return &out, p
	}
	named := *next
	named.Altitudes = of
	return &parse.Request{}, now.Denying(named)
}

// of is what the thread's last answer for a station answered, else a question about
// the station alone.
func (th *thread) of(station string) parse.Request {
	if th.answered && th.request.Station == station {
		return asked(th.request)
	}
	for i := len(th.before) - 1; i >= 0; i-- {
		if th.before[i].Station == station {
			return asked(th.before[i])
		}
	}
	return parse.Request{Station: station}
}

// byItsFix reads a message anew that names a fix of the altitudes that were typed, and
// was not understood: "XUPEN 6200", "remove XUPEN". Where the only altitude of a fix's
// role has none, "that's XIRTU" gives it that one.
func (b *Bot) byItsFix(th *thread, req *parse.Request, problem *parse.Problem, text string) *parse.Request {
	lost := problem != nil || req.Verb == parse.Remove && len(req.Gone) == 0
	if !lost || !th.answered || th.request.Procedure != "" || len(th.request.Altitudes) == 0 {
		return nil
	}
	words := strings.Fields(text)
	for i, w := range words {
		bare := strings.Trim(w, ".,;:!?()/")
		if len(bare) != 5 || !parse.FixLike(bare) {
			continue
		}
		at := slices.IndexFunc(th.request.Altitudes, func(a parse.Altitude) bool { return strings.EqualFold(a.Fix, bare) && a.Role != procedure.NoRole })
		if role, _, known := b.fixRole(th.request.Station, bare); at < 0 && known && b.reader.Answer(text).ThatOne() {
			at = slices.IndexFunc(th.request.Altitudes, func(a parse.Altitude) bool { return a.Role == role && a.Fix == "" })
		}
		if at < 0 {
			continue
		}
		words[i] = th.request.Altitudes[at].Name() + " " + bare
		if next, p := b.reader.Parse(strings.Join(words, " ")); p == nil && !next.Elsewhere && next.Station == "" {
			return &next
		}
		return nil
	}
	return nil
}

// remoteAdds reads a figure that can be no temperature there as what the chart adds
// with another place's altimeter setting: "no add 80", and "+60 remote" in the cold.
func remoteAdds(th *thread, next *parse.Request) *parse.Request {
	now := &th.request
	if !th.answered || next.Station != "" || len(next.Altitudes) > 0 || next.Procedure != "" || next.Remote == "no" || now.Remote != "yes" && next.Remote != "yes" {
		return nil
	}
	switch {
	case now.Additive > 0 && next.Unsigned > 60 && !next.UnsignedF: // "no 80"
		return &parse.Request{Remote: "yes", Additive: next.Unsigned}
	case next.Verb == parse.Add && next.Unsigned >= 10 && !next.UnsignedF:
		return &parse.Request{Remote: "yes", Additive: next.Unsigned}
	case next.HasTemperature && !next.InFahrenheit && next.Temperature > parse.Warm && now.HasTemperature && now.Temperature < 0:
		return &parse.Request{Remote: "yes", Additive: float64(next.Temperature)}
	}
	return nil
}

// onlyPlace says that a request names a station, and perhaps that its altimeter setting
// is used elsewhere.
func onlyPlace(r parse.Request) bool {
	r.Remote = ""
	return onlyStation(r)
}

// asked is a request as one for its altitudes.
func asked(r parse.Request) parse.Request {
	r.Verb, r.Kind = parse.Correct, ""
	return r
}

// localizerOnly leaves the glide path out where another line was added to the localizer
// alone, of an approach that has both.
func localizerOnly(earlier, next, now parse.Request) parse.Request {
	if earlier.Minima == "loc" && next.Minima != "ils" && now.Minima == "" && strings.HasPrefix(now.Procedure, "ils") && !slices.Contains(now.Without, "ils") {
		now.Without = append(slices.Clone(now.Without), "ils")
	}
	return now
}

// circles says that an altitude is a circling minimum.
func circles(a parse.Altitude) bool { return a.Role == procedure.Circling }

// circled reads "that's circling" behind the only minimum that was typed as its label:
// without a chart there is no other line that it could choose.
func circled(now, next *parse.Request) *parse.Request {
	if now.Procedure != "" || next.Minima != "circling" {
		return next
	}
	only := parse.Request{Verb: next.Verb, Minima: next.Minima, Instead: next.Instead, NotUsed: next.NotUsed}
	if next.Line() != only.Line() {
		return next
	}
	at := -1
	for i, a := range now.Altitudes {
		switch {
		case a.Role == procedure.Circling || a.Role.Minimum() && at >= 0:
			return next
		case a.Role.Minimum():
			at = i
		}
	}
	if at < 0 {
		return next
	}
	a := now.Altitudes[at]
	a.Role, a.Label = procedure.Circling, ""
	only.Minima, only.Gone, only.Altitudes = "", now.Altitudes[at:at+1], []parse.Altitude{a}
	return &only
}

// optionsOnly says that two requests differ in what the aircraft has, and in nothing
// else.
func optionsOnly(a, b parse.Request) bool {
	if a.SBAS == b.SBAS && a.Compensated == b.Compensated {
		return false
	}
	a.SBAS, a.Compensated = b.SBAS, b.Compensated
	return readsSame(&a, &b)
}

// turned reads what turns the last answer round, and says nothing else: "the other way"
// behind one way in, which asks for another, "everything" behind one line of minimums,
// and "local" behind a brief in UTC.
func (b *Bot) turned(ctx context.Context, th *thread, req *parse.Request, problem *parse.Problem, text string) *parse.Request {
	now, briefed := &th.request, len(th.arrivals) > 0
	via, line := th.answered && now.Way.Kind == parse.Via, th.answered && (now.Minima != "" || strings.HasPrefix(now.Procedure, "loc"))
	if th.question.Asked || !via && !line && !briefed || problem == nil && (req.Complete() || req.HasTemperature || len(req.Altitudes) > 0) {
		return nil
	}
	said := b.reader.Answer(text)
	if via && said.Pick == parse.Other && !said.Else && !said.Asks && len(said.Figures) == 0 && (!said.Label || said.Slot.Role == procedure.InitialFix) {
		again := asked(*now)
		again.Way = parse.Way{Kind: parse.Via}
		return &again
	}
	if line && said.Everything() {
		if all := b.asILS(ctx, asked(*now)); all.Procedure != now.Procedure {
			all.Minima, all.Without = "", now.Without // what was said to be out stays so
			return &all
		}
		all := parse.Request{Minima: now.Minima, Also: true}
		if all.Minima == "loc" && !slices.Contains(now.Without, "ils") {
			all.Minima = "ils" // the localizer was chosen, and the glide path not said to be out
		}
		return &all
	}
	zone, ok := said.Zone()
	if !ok || !briefed {
		return nil
	}
	stops := slices.Clone(th.arrivals)
	for i := range stops {
		stops[i].At.Zone, stops[i].At.Unzoned = zone, false
	}
	return &parse.Request{Verb: parse.Brief, Stops: stops}
}

// inUnit reads "agl" and "metres", said alone, of the figure that cannot be so as it was
// typed.
func (q *question) inUnit(said parse.Answer) (right parse.Request, ok bool) {
	a := q.Wrong
	switch said.Unit() {
	case "agl":
		if a.Height || a.Role != procedure.NoRole && !a.Role.Minimum() {
			return right, false
		}
		a.Height = true
	case "m":
		if a.Metric {
			return right, false
		}
		a.Metric, a.Bare = true, false
	default:
		return right, false
	}
	return q.Scrap.With(parse.Request{Gone: []parse.Altitude{q.Wrong}, Altitudes: []parse.Altitude{a}}, q.Text), true
}
