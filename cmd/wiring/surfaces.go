package wiring

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"

	"firn/adapters/console"
	"firn/adapters/discord"
	"firn/adapters/jsonl"
	"firn/adapters/machine"
	"firn/adapters/page"
	"firn/adapters/picture"
	"firn/adapters/slack"
	"firn/adapters/sqlstore"
	"firn/bot"
	"firn/bot/app"
	"firn/bot/chat"
	"firn/bot/config"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// slackHome is what the bot's own workspace is called; its id is not known
// before Slack has answered.
const slackHome = "ours"

// surfaces makes the chat services whose tokens are set.
func (s *Services) surfaces(h Host, w Wanted) (all []app.Surface, err error) {
	for _, open := range []func(Host) (app.Surface, error){s.slack, s.discord} {
		on, err := open(h)
		switch {
		case err != nil:
			if err := w.without(err); err != nil {
				return nil, err
			}
		case on != nil:
			all = append(all, on)
		}
	}
	return all, nil
}

// slack makes that service; nil without its tokens.
func (s *Services) slack(h Host) (app.Surface, error) {
	env := machine.Env(h.Getenv)
	forApp, err := env.Secret(EnvSlackApp)
	if err != nil {
		return nil, err
	}
	forBot, err := env.Secret(EnvSlackBot)
	switch {
	case err != nil:
		return nil, err
	case forApp.Set() && !forBot.Set():
		return nil, errors.New(EnvSlackApp + " is set and " + EnvSlackBot + " is not: Slack needs both")
	case forBot.Set() && !forApp.Set():
		return nil, errors.New(EnvSlackBot + " is set and " + EnvSlackApp + " is not: Slack needs both")
	case !forBot.Set():
		return nil, nil
	}
	on, err := slack.New(s.Log, slack.Options{
		AppToken: slack.Token(forApp.Reveal()), BotToken: slack.Token(forBot.Reveal()), APIURL: h.Getenv(EnvSlackURL),
		Home: slackHome, Groups: app.DutyGroups(s.Loaded.Config, config.OnSlack),
	})
	if err != nil {
		return nil, fmt.Errorf("slack: %w", err)
	}
	return on, nil
}

// discord makes that service; nil without its token.
func (s *Services) discord(h Host) (app.Surface, error) {
	token, err := machine.Env(h.Getenv).Secret(EnvDiscord)
	if err != nil || !token.Set() {
		return nil, err
	}
	id, count, err := discord.ParseShard(h.Getenv(EnvDiscordShard))
	if err != nil {
		return nil, fmt.Errorf("%s is %w", EnvDiscordShard, err)
	}
	on, err := discord.New(s.Log, discord.Options{
		Token: discord.Token(token.Reveal()), APIURL: h.Getenv(EnvDiscordURL), Guild: s.Loaded.Discord.Guild,
		Channels: s.Loaded.Discord.Channels,
		Mentions: s.Loaded.Discord.ReadAll, ShardID: id, ShardCount: count,
	})
	if err != nil {
		return nil, fmt.Errorf("discord: %w", err)
	}
	return on, nil
}

// wanting says what a surface needs.
func wanting(on config.Surface) string {
	switch on {
	case config.OnSlack:
		return "set " + EnvSlackBot + " and " + EnvSlackApp
	case config.OnDiscord:
		return "set " + EnvDiscord
	}
	return "name another channel"
}

// senders are where alerts are posted besides.
func (s *Services) senders(screen io.Writer) map[string]outbox.Sender {
	all := map[string]outbox.Sender{jsonl.Surface: Posts(s.Log, s.Loaded.Posts())}
	if screen != nil {
		all[string(config.OnConsole)] = console.NewSender(screen, console.Style{})
	}
	return all
}

// Posts is the folder of the file surface. What is made in it is its folder's owner's,
// as with the store beside it: who tries serve is often root.
func Posts(log *slog.Logger, folder string) *jsonl.Box {
	b := jsonl.New(log, folder)
	b.Made = sqlstore.ToFolderOwner
	return b
}

// newPage makes the crew-room page of what the app offers it.
func (s *Services) newPage(a *app.App) (app.Page, error) {
	o := page.Options{
		Now: s.Now, Zone: a.Bot().Zone, BehindProxy: s.Loaded.Page.BehindProxy,
		Records: a.Book(), Procedures: a, Room: s.Store,
		Pictures: new(picture.Lazy),
		Preview: func(ctx context.Context, line string) (reply.Reply, error) {
			return a.Preview(ctx, page.Surface, line)
		},
		Day: a.DayDrawn,
		Waiting: func(ctx context.Context) (func(context.Context, chat.Person) (reply.Reply, error), error) {
			of, err := a.Bot().Waiting(ctx)
			return func(ctx context.Context, p chat.Person) (reply.Reply, error) {
				return of(ctx, bot.Message{
					Surface: page.Surface, Channel: page.Surface, Person: page.Surface + ":" + p.ID, User: p.Name, Via: p.Via, Direct: true, At: s.Now(),
				})
			}, err
		},
		Observed: func(ctx context.Context, idents []string) map[string]page.Observed {
			out := map[string]page.Observed{}
			for ident, o := range a.Observed(ctx, idents) {
				out[ident] = page.Observed{C: o.C, At: o.At, Source: o.Source}
			}
			return out
		},
		Seen: a.Seen, Beat: s.pace.Live,
	}
	if s.Loaded.SignIn() {
		o.Access = s.Store
	}
	for i := range s.Loaded.Stations {
		st := &s.Loaded.Stations[i]
		o.Stations = append(o.Stations, page.Station{Ident: st.Ident, Name: st.Name, Elevation: st.Elevation, Restriction: st.Restriction, Usual: st.Usual})
	}
	p, err := page.New(s.Log, o)
	s.page = p
	return p, err
}
