package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	mathrand "math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"firn/adapters/discord"
	"firn/adapters/page"
	"firn/adapters/picture"
	"firn/adapters/slack"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// surface is a chat service.
type surface interface {
	chat.Surface
	outbox.Sender
	Run(ctx context.Context, t chat.Handler) error
	State() error
}

// slackHome is what the bot's own workspace is called; its id is not known
// before Slack has answered.
const slackHome = "ours"

// openSurfaces makes the chat services whose tokens are set.
func (s *services) openSurfaces(h host) error {
	app, err := secretOf(h, envSlackApp)
	if err != nil {
		return err
	}
	bot, err := secretOf(h, envSlackBot)
	if err != nil {
		return err
	}
	switch {
	case app.set() && !bot.set():
		return errors.New(envSlackApp + " is set and " + envSlackBot + " is not: Slack needs both")
	case bot.set() && !app.set():
		return errors.New(envSlackBot + " is set and " + envSlackApp + " is not: Slack needs both")
	case bot.set():
		on, err := slack.New(s.log, slack.Options{
			AppToken: slack.Token(app.reveal()), BotToken: slack.Token(bot.reveal()), APIURL: h.getenv(envSlackURL),
			Home: slackHome, Groups: s.groups(config.OnSlack),
		})
		if err != nil {
			return fmt.Errorf("slack: %w", err)
		}
		s.surfaces = append(s.surfaces, on)
	}
	token, err := secretOf(h, envDiscord)
	if err != nil || !token.set() {
		return err
	}
	id, count, err := shard(h.getenv(envDiscordShard))
	if err != nil {
		return err
	}
	on, err := discord.New(s.log, discord.Options{
		Token: discord.Token(token.reveal()), APIURL: h.getenv(envDiscordURL), Guild: s.loaded.Discord.Guild,
		Mentions: s.loaded.Discord.ReadAll, ShardID: id, ShardCount: count,
	})
	if err != nil {
		return fmt.Errorf("discord: %w", err)
	}
	s.surfaces = append(s.surfaces, on)
	return nil
}

// shard reads "0/2": this process's part and how many there are.
func shard(text string) (id, count int, err error) {
	if text == "" {
		return 0, 0, nil
	}
	a, b, ok := strings.Cut(text, "/")
	id, errA := strconv.Atoi(a)
	count, errB := strconv.Atoi(b)
	if !ok || errA != nil || errB != nil || id < 0 || id >= count {
		return 0, 0, fmt.Errorf("%s is %q: write which part and of how many, such as 0/2", envDiscordShard, text)
	}
	return id, count, nil
}

// desk is what all surfaces hand their events to.
func (s *services) desk() *chat.Dispatcher {
	set := chat.Settings{
		Where:    map[string]chat.Where{},
		Stations: choices{s.loaded.Config},
		Problem: func(line string) *reply.Problem {
			return s.bot.Problem(context.Background(), line, s.now())
		},
	}
	if s.book != nil {
		set.Shown = s.shown
		set.On = s.on
	}
	set.Pictures = s.pictures(sync.OnceValues(picture.New))
	for _, a := range s.loaded.Duty {
		set.Duty = append(set.Duty, a.String())
	}
	if len(set.Duty) > 0 {
		set.Duty = append(set.Duty, pageDuty)
		set.DutyNames = map[string]string{pageDuty: pageDutyName}
	}
	set.Where[slack.Name] = chat.Where{Home: slackHome, Channels: s.channels(config.OnSlack, s.loaded.Slack.Channels)}
	set.Where[discord.Name] = chat.Where{Home: s.loaded.Discord.Guild, Channels: s.channels(config.OnDiscord, s.loaded.Discord.Channels)}
	if _, shared := s.store.(replicated); shared {
		// A message that two replicas get is answered by the one that has it.
		// It is this one's for as long as an answer may take, and for good once
		// it is answered: a process that dies between leaves it to the other.
		set.Limit, set.Hold, set.Jitter = s.pace.limit, cmp.Or(s.pace.hold, eventHold), mathrand.Float64
		set.Once = func(ctx context.Context, id string) (bool, error) {
			first, err := s.store.Lease(ctx, "event/"+id, s.holder, set.Hold-time.Second)
			if err != nil && strings.HasPrefix(id, page.Surface+"/") {
				// A form goes to one process, and its card is known by its name: whoever
				// asks is not kept waiting for a store that takes nothing.
				return true, nil
			}
			return first, err
		}
		set.Done = func(ctx context.Context, id string) {
			if !s.written(ctx) {
				return // else its record would be lost with this process
			}
			if _, err := s.store.Lease(ctx, "event/"+id, s.holder, eventLease); err != nil {
				s.log.WarnContext(ctx, "not kept that an event was answered", "event", id, "err", err)
			}
		}
	} else {
		set.Limit = s.pace.limit
		set.Done = func(ctx context.Context, _ string) { _ = s.written(ctx) } // nobody else could write it
	}
	return chat.New(s.log, s.now, metered{inRoom{s.bot}, s.meters}, set)
}

// replicated is a store that several processes share.
type replicated interface {
	Now(ctx context.Context) (time.Time, error)
}

// written waits until the record of what was answered is on the disk, but not
// for long: the card stands already.
func (s *services) written(ctx context.Context) bool {
	if s.book == nil {
		return true
	}
	ctx, cancel := context.WithTimeout(ctx, 5*time.Second)
	defer cancel()
	if err := s.book.Written(ctx); err != nil {
		s.log.WarnContext(ctx, "record not written yet", "err", err)
		return false
	}
	return true
}

// eventHold is longer than an answer may take.
const eventHold = 32 * time.Second

// eventLease is longer than any service goes on delivering an event again.
const eventLease = 15 * time.Minute

// channels are those of a surface that there are answers in: the configured
// ones, and those that alerts and results go to, since they have buttons.
func (s *services) channels(on config.Surface, own []string) []string {
	out := slices.Clone(own)
	for _, a := range s.loaded.Record.Team {
		if a.Surface == on && !slices.Contains(out, a.ID) {
			out = append(out, a.ID)
		}
	}
	for i := range s.loaded.Stations {
		w := s.loaded.Stations[i].Watch
		if w == nil {
			continue
		}
		for _, a := range w.Channels {
			if a.Surface == on && !slices.Contains(out, a.ID) {
				out = append(out, a.ID)
			}
		}
	}
	return out
}

// groups are the groups of duty officers on a surface.
func (s *services) groups(on config.Surface) (ids []string) {
	for _, a := range s.loaded.Duty {
		if a.Surface == on && a.Group() {
			ids = append(ids, a.ID)
		}
	}
	return ids
}

// choices offers the stations of the configuration.
type choices struct{ *config.Config }

// Find gives those that somebody may mean.
func (c choices) Find(typed string, limit int) []chat.Choice {
	var out []chat.Choice
	for _, s := range c.Config.Find(typed, limit) {
		label := s.Ident
		if s.Name != "" {
			label += " " + s.Name
		}
		out = append(out, chat.Choice{Value: s.Ident, Label: label})
	}
	return out
}
