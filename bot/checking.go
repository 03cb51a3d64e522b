package bot

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"time"

	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// Book is the record, as people talk to it; *record.Book is one.
type Book interface {
	// Make keeps a result, and gives it its name and how long it holds; on is the card
	// that will show it, where that is known.
	Make(ctx context.Context, m record.Result, on *record.Mark) (record.Record, error)
	Find(ctx context.Context, id string) (record.Record, bool, error)
	// Last is the latest of a thread, On that which a card shows.
	Last(ctx context.Context, surface, thread string) (record.Record, bool, error)
	On(ctx context.Context, surface, ref string) (record.Record, bool, error)
	List(ctx context.Context, q record.Query) ([]record.Record, error)
	Do(ctx context.Context, id string, d record.Action) (record.Record, record.Outcome, error)
	// Would is what Do would say now; nothing is done.
	Would(r record.Record, d record.Action) record.Outcome

	// What a record looks like now.
	Render(r record.Record) reply.Reply
	Line(r record.Record) string
	Lines(r record.Record) []string
	State(r record.Record) record.State
	Unchecked(r record.Record) bool
	// Own says that a record was asked by a person, Viewer what a person may see.
	Own(r record.Record, p record.Person) bool
	Viewer(p record.Person) *record.Viewer
}

// checking answers the verbs of the record, or says what it needs.
func (b *Bot) checking(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if b.ports.Book == nil {
		return b.ask(notHere(req.Verb)), nil
	}
	if req.Verb == parse.Log {
		return b.showLog(ctx, req, m)
	}
	r, problem, err := b.meant(ctx, req, m)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("%s: %w", req.Verb, err)
	}
	if problem != nil {
		return b.ask(problem), nil
	}
	switch req.Verb {
	case parse.Recompute:
		return b.recompute(ctx, r, req, m)
	case parse.Withdraw:
		return b.act(ctx, r, req.Verb, record.Action{Kind: record.KindWithdrawn, By: personOf(m)})
	}
	d := record.Action{Kind: record.KindChecked, By: personOf(m), Entered: entered(req)}
	if m.ConfirmFirst && d.Entered == nil && b.ports.Book.Would(r, d).Done {
		return confirm(r), nil
	}
	return b.act(ctx, r, req.Verb, d)
}

// meant is the record that a message is about: the one that it names, else the
// last of its thread.
func (b *Bot) meant(ctx context.Context, req parse.Request, m Message) (r record.Record, p *parse.Problem, err error) {
	var found bool
	if req.Record != "" {
		r, found, err = b.known(ctx, req.Record, m)
	} else {
		r, found, err = b.ports.Book.Last(ctx, m.Surface, m.Thread)
	}
	switch {
	case err != nil:
		return r, nil, err
	case found:
		return r, nil, nil
	case req.Record != "":
		return r, &parse.Problem{Word: req.Record, Text: record.Missing(req.Record), Try: "log"}, nil
	}
	return r, &parse.Problem{
		Word: req.Verb.String(),
		Text: fmt.Sprintf("There is no result here yet; put the name of its record behind “%s”.", req.Verb),
		Try:  "log",
	}, nil
}

// known is the record of a name, for whoever may see it: another person's
// direct message is as if it were not there.
func (b *Bot) known(ctx context.Context, id string, m Message) (record.Record, bool, error) {
	r, found, err := b.ports.Book.Find(ctx, id)
	if err != nil || !found || !b.ports.Book.Viewer(personOf(m)).Sees(r) {
		return record.Record{}, false, err
	}
	return r, true, nil
}

// readers are those who read a list: all who may, where it is not a direct
// message.
func (b *Bot) readers(m Message) *record.Viewer {
	if !m.Direct {
		return &record.Viewer{}
	}
	return b.ports.Book.Viewer(personOf(m))
}

// entered are the altitudes of a blind check, in feet; nil where there are
// none.
func entered(req parse.Request) (out []float64) {
	for _, a := range req.Altitudes {
		out = append(out, float64(a.Feet()))
	}
	return out
}

// act does something to a record and says what became of it.
func (b *Bot) act(ctx context.Context, r record.Record, v parse.Verb, d record.Action) (reply.Reply, error) {
	r, o, err := b.ports.Book.Do(ctx, r.ID, d)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("%s: %w", v, err)
	}
	if !o.Done && o.Try != "" {
		ask := b.ask(&parse.Problem{Word: v.String(), Text: o.Text, Try: o.Try})
		if len(o.Enter) > 0 {
			ask.Enter = &reply.BlindCheck{Record: r.ID, Altitudes: o.Enter}
		}
		return ask, nil
	}
	out := reply.Reply{Kind: reply.KindNotice, Facts: []string{o.Text}}
	if len(o.Lines) > 0 {
		out.Sections = []reply.Section{{Title: "Compared", Lines: o.Lines}}
	}
	if strings.HasPrefix(o.Try, "recompute ") {
		out.Actions = slices.DeleteFunc(b.ports.Book.Render(r).Actions, func(a reply.Action) bool { return a.ID != reply.ActionWhy && a.ID != record.ActionRecompute })
	}
	return out, nil
}

// confirm asks whether the figures of a record are right, with what stands
// above them.
func confirm(r record.Record) reply.Reply {
	line := "check " + r.ID
	out := reply.Ask(reply.Problem{Word: "check", Text: fmt.Sprintf("%s, %s, by %s: do you get the same figures?", r.ID, r.Reply.Topic(), r.Asked)})
	out.Confirm = r.ID
	out.Station, out.TemperatureC = r.Reply.Station, r.Reply.TemperatureC
	out.Stops, out.Altitudes, out.Compensated = r.Reply.Stops, r.Reply.Altitudes, r.Reply.Compensated
	out.Actions = []reply.Action{{ID: reply.ActionConfirm, Label: "Check", Message: line + reply.Confirmed}}
	return out
}

// The most lines of a log, ours: a chat message holds about as many.
const (
	logLines  = 30
	logLatest = 10
)

// showLog lists records, or shows one.
func (b *Bot) showLog(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if req.Record != "" {
		return b.showRecord(ctx, req.Record, m)
	}
	q := record.Query{For: b.readers(m), Newest: true, Limit: logLatest, Station: req.Station}
	title, unchecked := "The latest results", req.Unchecked
	if req.Today || req.Yesterday {
		zone, in := time.UTC, ", in UTC"
		if q.Station != "" {
			zone, in = b.Zone(q.Station), ""
		}
		y, mo, d := m.At.In(zone).Date()
		midnight := func(days int) time.Time { return time.Date(y, mo, d+days, 0, 0, 0, 0, zone) }
		if title, q.From, q.Limit = "Today"+in, midnight(0), 0; req.Yesterday {
			title, q.From, q.To = "Yesterday"+in, midnight(-1), midnight(0)
		}
	}
	if unchecked {
		title, q.Live, q.Limit = "Not checked", true, 0
	}
	if q.Station != "" {
		title += ", " + q.Station
	}
	all, err := b.logged(ctx, q)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("log: %w", err)
	}
	if unchecked {
		all = slices.DeleteFunc(all, func(r record.Record) bool { return !b.ports.Book.Unchecked(r) })
	}
	out := reply.Reply{Kind: reply.KindLog}
	if len(all) == 0 {
		out.Facts = []string{title + ": there are none."}
		return out, nil
	}
	var lines []string
	for _, r := range all[:min(len(all), logLines)] {
		lines = append(lines, b.ports.Book.Line(r))
	}
	if len(all) > logLines {
		lines = append(lines, fmt.Sprintf("And %d more; firn export gives them all.", len(all)-logLines))
	}
	out.Facts = []string{fmt.Sprintf("%s: %d.", title, len(all))}
	out.Sections = []reply.Section{{Title: "Results", Lines: lines}}
	return out, nil
}

// showRecord shows one as it is now, also when another has taken its place.
func (b *Bot) showRecord(ctx context.Context, id string, m Message) (reply.Reply, error) {
	r, found, err := b.known(ctx, id, m)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("log: %w", err)
	}
	if !found {
		return b.ask(&parse.Problem{Word: id, Text: record.Missing(id), Try: "log"}), nil
	}
	return reply.Reply{
		Kind:     reply.KindLog,
		Facts:    []string{b.ports.Book.Line(r)},
		Sections: []reply.Section{{Title: fmt.Sprintf("%s: %s", r.ID, b.ports.Book.State(r).Word()), Lines: b.ports.Book.Lines(r)}},
	}, nil
}

// personOf is who wrote a message, by account and name. Where a surface has no
// accounts all are the same to it.
func personOf(m Message) record.Person {
	p := record.Person{Address: m.Person, Name: m.User, Via: m.Via}
	switch {
	case p.Address != "":
		p.Name = strings.TrimSuffix(p.Name, " ("+p.Address+")")
	case m.User != "":
		p.Address = m.Surface + ":" + m.User
	default:
		p.Address = m.Surface
	}
	if p.Name == p.Address {
		p.Name = ""
	}
	return p
}

// keep makes a record of an answer where there is a record, the next version
// of one before it where it amends that. An answer that cannot be kept is given
// all the same, and says so.
func (b *Bot) keep(ctx context.Context, m Message, w *worked, before *record.Result) reply.Reply {
	if b.ports.Book == nil || m.Aside {
		return w.reply
	}
	key := threadKey{m.Surface, m.Thread}
	if w.reply.Kind == reply.KindStatus {
		// There is nothing to fly, to check or to be out of date, and no figure for
		// a follow-up to amend.
		b.threads.made(key, record.Result{})
		return w.reply
	}
	line := w.line()
	if last := b.threads.last(key); w.why && last.ID != "" && last.Line == line {
		return w.reply // the working of a result that is there
	}
	made := record.Result{Line: line, Numbers: w.numbers(), Reply: w.reply}
	if w.scene.Restricted {
		made.Restriction = reply.Some(float64(w.scene.Restriction))
	}
	made.Measured = w.scene.Temperature.At
	if m.Card != "" {
		// The card that shows this now showed another before.
		if r, found, err := b.ports.Book.On(ctx, m.Surface, m.Card); err == nil && found {
			before = &r.Result
			made.Reply.Notes = append(slices.Clip(made.Reply.Notes), checkedBefore(r)...)
		}
	}
	r, err := b.record(ctx, m, made, before)
	if err != nil {
		w.reply.Cautions = append(slices.Clip(w.reply.Cautions), reply.Caution{Code: reply.CautionNotKept, Text: "This answer could not be kept in the record."})
		return w.reply
	}
	b.threads.made(key, r.Result)
	return b.ports.Book.Render(r)
}

// record makes a record of what a message was answered with, the next version of
// before where there is one. An error is logged.
func (b *Bot) record(ctx context.Context, m Message, made record.Result, before *record.Result) (record.Record, error) {
	made.Surface, made.Thread, made.Channel, made.Message = m.Surface, m.Thread, m.Channel, m.ID
	made.Asked, made.Text, made.At = personOf(m), m.Text, m.At
	if made.Message == "" {
		made.Message = fmt.Sprintf("%d/%d", m.At.UnixNano(), b.asked.Add(1))
	}
	if before != nil {
		made.Replaces, made.Version = before.ID, before.Version+1
	}
	made.Direct, made.Team = m.Own, m.Own && b.team(ctx, before)
	b.offerPost(&made)
	r, err := b.ports.Book.Make(ctx, made, cardOf(m))
	if err != nil {
		b.log.ErrorContext(ctx, "answer not kept", "surface", m.Surface, "message", made.Message, "err", err)
	}
	return r, err
}

// cardOf is the card that will show the answer to a message, where it is known.
func cardOf(m Message) *record.Mark {
	switch {
	case m.Card != "":
		return &record.Mark{Ref: m.Card, Told: -1}
	case m.Coming != "":
		return &record.Mark{Ref: m.Coming}
	}
	return nil
}

// checkedBefore says who had checked what stood on a card before.
func checkedBefore(r record.Record) (notes []string) {
	var names []string
	for _, p := range r.Checkers() {
		names = append(names, p.String())
	}
	if len(names) > 0 {
		notes = []string{fmt.Sprintf("In the place of %s, which %s had checked.", r.ID, strings.Join(names, " and "))}
	}
	return notes
}

// team says that a result is the next version of one that the team was shown.
func (b *Bot) team(ctx context.Context, before *record.Result) bool {
	if before == nil {
		return false
	}
	r, found, err := b.ports.Book.Find(ctx, before.ID)
	return err == nil && found && !r.Private()
}

// keepBrief makes a record of a brief, so that newer weather is held against
// it; it is nothing to check.
func (b *Bot) keepBrief(ctx context.Context, m Message, r reply.Reply, visits []visit, before *record.Result) reply.Reply {
	if b.ports.Book == nil || m.Aside {
		return r
	}
	kept, err := b.record(ctx, m, record.Result{Line: instantLine(visits), Reply: r}, before)
	if err != nil {
		r.Cautions = append(slices.Clip(r.Cautions), reply.Caution{Code: reply.CautionNotKept, Text: "This brief could not be kept in the record; nobody will say when its temperatures are passed."})
		return r
	}
	return b.ports.Book.Render(kept)
}

// amends is the record that a follow-up makes the next version of: the last of
// its thread, about the same place and the same approach. Bare altitudes ask
// beside it.
func (b *Bot) amends(key threadKey, earlier, next, merged *parse.Request) *record.Result {
	if earlier.Station != merged.Station || earlier.HasElevation != merged.HasElevation || earlier.Elevation != merged.Elevation || earlier.Procedure != merged.Procedure {
		return nil
	}
	anew := (next.Verb == parse.Correct || next.Verb == parse.Card) && len(next.Altitudes) > 0
	for _, a := range next.Altitudes {
		anew = anew && a.Role == 0
	}
	if anew || next.Verb == parse.Why || next.Verb == parse.Picture {
		return nil
	}
	if last := b.threads.last(key); last.ID != "" {
		return &last
	}
	return nil
}
