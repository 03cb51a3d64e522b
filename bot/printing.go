package bot

import (
	"cmp"
	"context"
	"fmt"

	"firn/bot/drawing"
	"firn/bot/parse"
	"firn/bot/record"
	"firn/bot/reply"
)

// What a reply's picture may be.
const (
	pictureProfile = "profile"
	pictureDay     = "day"
	pictureCard    = "card"
)

// noFiles says where a file can be had, to whoever asks for one where none can be
// shown. There is no line to type that would be answered here.
func noFiles(v parse.Verb) *parse.Problem {
	return &parse.Problem{
		Word: v.String(),
		Text: fmt.Sprintf("“%s” makes a file, and none can be shown here; the crew-room page, Slack and Discord show it.", v),
	}
}

// printed answers "card" for a result that is there: the one that the message
// names, or the last of its thread.
func (b *Bot) printed(ctx context.Context, req parse.Request, m Message) (reply.Reply, error) {
	if b.ports.Book == nil {
		switch {
		case req.Record != "":
			return b.ask(notHere(req.Verb)), nil
		case !b.ports.Pictures:
			return b.ask(noFiles(req.Verb)), nil
		}
		return b.ask(nothingAsked(&req)), nil
	}
	r, problem, err := b.meant(ctx, req, m)
	if err != nil {
		return reply.Reply{}, fmt.Errorf("card: %w", err)
	}
	if problem != nil {
		return b.ask(problem), nil
	}
	return b.cardOf(r, req.Kind), nil
}

// cardOf says of which record the card is, and what it says of itself; the
// surface has it drawn as the record is now.
func (b *Bot) cardOf(r record.Record, paper string) reply.Reply {
	if len(r.Numbers) == 0 {
		return b.ask(&parse.Problem{Word: r.ID, Text: fmt.Sprintf("%s has no altitudes: there is nothing to print.", r.ID), Try: b.example})
	}
	if !b.ports.Pictures {
		return b.ask(noFiles(parse.Card))
	}
	on, other := drawing.A5, drawing.HalfLetter
	if paper == other.String() {
		on, other = other, on
	}
	state := b.ports.Book.State(r)
	says := "not checked: there is a line for whoever checks it to sign."
	switch state {
	case record.Unchecked:
	case record.Checked:
		says = "checked, with who and when."
	default:
		says = state.Word() + ", so that it prints NOT VALID."
	}
	return reply.Reply{
		Kind:      reply.KindNotice,
		Facts:     []string{fmt.Sprintf("To print: %s (%s), %s: %s", r.ID, r.Reply.Topic(), paperName(on), says)},
		Picture:   pictureCard,
		PictureOf: r.ID,
		Paper:     on.String(),
		Actions:   []reply.Action{{ID: "paper", Label: "Print on " + paperName(other), Message: "card " + r.ID + " " + paperWord(other)}},
	}
}

// paperName is a paper in a sentence, paperWord as it is typed.
func paperName(p drawing.Paper) string {
	if p == drawing.HalfLetter {
		return "half-letter"
	}
	return "A5"
}

func paperWord(p drawing.Paper) string {
	if p == drawing.HalfLetter {
		return "letter"
	}
	return p.String()
}

// withCard is an answer with its card.
func withCard(r reply.Reply, paper string) reply.Reply {
	if r.Record != nil {
		r.Picture, r.PictureOf, r.Paper = pictureCard, r.Record.ID, cmp.Or(paper, drawing.A5.String())
	}
	return r
}

// day answers "picture day XKLD": the forecast of a watched base's day against
// its restriction temperature.
func (b *Bot) day(req parse.Request) reply.Reply {
	s, ok := b.stations.Station(req.Station)
	switch {
	case !ok:
		return b.ask(&parse.Problem{Word: pictureDay, Text: "Of which base is the day to be drawn?", Try: "picture day " + b.exampleIdent()})
	case s.Watch == nil:
		return b.ask(&parse.Problem{Word: s.Ident, Text: s.Ident + " is not watched, so that it has no day to draw.", Try: "picture " + parse.Example})
	}
	return reply.Reply{
		Kind:      reply.KindNotice,
		Facts:     []string{fmt.Sprintf("The day of %s: the forecast against the restriction temperature.", s.Ident)},
		Picture:   pictureDay,
		PictureOf: s.Ident,
	}
}
