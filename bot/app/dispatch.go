package app

import (
	"context"
	"slices"
	"time"

	"firn/bot"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/record"
	"firn/bot/reply"
)

// dispatcher is what all surfaces hand their events to.
func (a *App) dispatcher() *chat.Dispatcher {
	set := chat.Settings{
		Where:    map[string]chat.Where{},
		Stations: choices{a.cfg},
		Named:    a.bot.Named,
		Problem: func(line string) *reply.Problem {
			return a.bot.Problem(context.Background(), line, a.now())
		},
		Shown: a.shown, On: a.on, Deleted: a.book.Deleted, Unasked: a.unasked, Pictures: a.pictures,
		Limit: a.parts.Pace.Limit, Fronts: a.memory.fronts,
	}
	for _, d := range a.cfg.Duty {
		set.Duty = append(set.Duty, d.String())
	}
	if len(set.Duty) > 0 {
		set.Duty = append(set.Duty, pageDuty)
		set.DutyNames = map[string]string{pageDuty: pageDutyName}
	}
	for on, own := range a.cfg.ChatChannels() {
		set.Where[string(on)] = chat.Where{Home: a.parts.Homes[string(on)], Channels: a.channels(on, own)}
	}
	taking := chat.Taking{Log: a.log, Holder: a.parts.Holder, Records: a.book, Hold: a.parts.Pace.Hold}
	if _, several := a.parts.Store.(shared); several {
		taking.Leases, taking.Peers = a.parts.Store, &a.memory.peers
	}
	taking.Use(&set)
	return chat.New(a.log, a.now, answerer{a.bot, a.book, a.parts.Meter}, set)
}

// pageDuty are the duty officers of the page: whoever is at this machine, and
// whoever came in by a link with that scope.
const (
	pageDuty     = string(config.OnPage) + ":duty"
	pageDutyName = "whoever has a link with the scope duty"
)

var (
	_ chat.Offerer = answerer{}
	_ chat.Homer   = answerer{}
)

// answerer has the bot answer, and counts. What is done on the page comes from
// the channel that the configuration calls page, whichever browser it was: that
// is where alerts go to, and what blind_channels names.
type answerer struct {
	bot   *bot.Bot
	book  *record.Book
	meter Meter
}

// Handle answers one message.
func (b answerer) Handle(ctx context.Context, m bot.Message) (reply.Reply, error) {
	if m.Surface == string(config.OnPage) {
		m.Channel = m.Surface
	}
	began := time.Now()
	r, err := b.bot.Handle(ctx, m)
	kept := b.book.Expected
	if m.Surface == string(config.OnPage) {
		// The page keeps the answer itself. No service would send the question again
		// to whoever comes after a kill, so that the record is there before its card.
		kept = b.book.Kept
	}
	r = marked(ctx, r, kept)
	outcome := Answered
	switch {
	case err != nil:
		outcome = Failed
	case r.Problem != nil:
		outcome = Question
	}
	b.meter.Answered(m.Surface, outcome, time.Since(began))
	return r, err
}

// Homes are the bot's; nobody has asked, and nothing is counted.
func (b answerer) Homes(ctx context.Context, at time.Time) (bot.HomeOf, error) {
	return b.bot.Homes(ctx, at)
}

// OfferProcedures are the bot's.
func (b answerer) OfferProcedures(ctx context.Context, station, typed string, n int) ([]bot.Offer, error) {
	return b.bot.OfferProcedures(ctx, station, typed, n)
}

// OfferRecords are the bot's.
func (b answerer) OfferRecords(ctx context.Context, m bot.Message, toCheck bool, typed string, n int) ([]bot.Offer, error) {
	return b.bot.OfferRecords(ctx, m, toCheck, typed, n)
}

// channels are those of a surface that there are answers in: the configured
// ones, and those that alerts and results go to, since they have buttons.
func (a *App) channels(on config.Surface, own []string) []string {
	out := slices.Clone(own)
	add := func(all []config.Address) {
		for _, c := range all {
			if c.Surface == on && !slices.Contains(out, c.ID) {
				out = append(out, c.ID)
			}
		}
	}
	add(a.cfg.Record.Team)
	for _, s := range a.cfg.Watched() {
		add(s.Watch.Channels)
	}
	return out
}

// DutyGroups are the groups of duty officers on a surface.
func DutyGroups(cfg *config.Config, on config.Surface) (ids []string) {
	for _, d := range cfg.Duty {
		if d.Surface == on && d.Group() {
			ids = append(ids, d.ID)
		}
	}
	return ids
}

// choices offers the stations of the configuration.
type choices struct{ *config.Config }

// Find gives those that somebody may mean.
func (c choices) Find(typed string, limit int) []bot.Offer {
	var out []bot.Offer
	for _, s := range c.Config.Find(typed, limit) {
		label := s.Ident
		if s.Name != "" {
			label += " " + s.Name
		}
		out = append(out, bot.Offer{Value: s.Ident, Label: label})
	}
	return out
}
