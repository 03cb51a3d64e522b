package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/adapters/testkit/discorddouble"
)

// onDiscord is Discord's double.
type onDiscord struct {
	settings *settings
	double   *discorddouble.Server
	direct   bool
	people   []string
	channels []string
}

// discordToken has no form that a real token has.
var discordToken = strings.Join([]string{"invented", "for", "load"}, "-")

func newDiscord(s *settings, reply func(name string, came time.Time)) (service, error) {
	o := &onDiscord{settings: s, direct: s.place == "direct"}
	var people []discorddouble.Person
	for i := range s.people {
		id := fmt.Sprintf("2003004005%08d", i)
		o.people = append(o.people, id)
		people = append(people, discorddouble.Person{ID: id, Name: fmt.Sprintf("Person %d", i)})
	}
	for i := range channels {
		o.channels = append(o.channels, fmt.Sprintf("1002003004%08d", i))
	}
	var err error
	o.double, err = discorddouble.Start(discorddouble.Options{
		Token: discordToken, People: people, Channels: o.channels, Keep: 500, AllowContent: true,
		OnPost: func(m discorddouble.Message) {
			if len(m.Embeds) > 0 {
				body, err := json.Marshal(map[string]any{"content": m.Content, "embeds": m.Embeds, "components": m.Components()})
				if err == nil { // else there is no card to post, and the bare bot says so
					s.card.Store(&card{Body: body})
				}
			}
			// A thread has the id of the message that it begins at; a reply
			// names its message; in a direct message there is one question at
			// a time.
			if m.Reply != "" {
				reply(m.Reply, time.Now())
				return
			}
			reply(m.Channel, time.Now())
		},
	})
	if err != nil {
		return nil, err
	}
	return o, nil
}

func (o *onDiscord) say(person int, text string) (string, error) {
	by := o.people[person]
	if o.direct {
		channel := o.double.DM(by)
		_, err := o.double.Say(discorddouble.Say{By: by, Channel: channel, Text: text})
		return channel, err
	}
	return o.double.Say(discorddouble.Say{By: by, Channel: o.channels[person%channels], Text: o.double.Mention() + " " + text})
}

func (o *onDiscord) start(ctx context.Context, bot []string, dir string) (*exec.Cmd, error) {
	cmd := exec.CommandContext(ctx, bot[0], bot[1:]...)
	cmd.Dir, cmd.Stderr = dir, quiet()
	if err := o.settings.leave(dir); err != nil {
		return nil, err
	}
	cmd.Env = append(os.Environ(), o.settings.listens(), "FIRN_DISCORD_TOKEN="+discordToken, "FIRN_DISCORD_API_URL="+o.double.URL(),
		"FIRN_DATABASE_URL=", "FIRN_SLACK_APP_TOKEN=", "FIRN_SLACK_BOT_TOKEN=")
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	waiting, cancel := context.WithTimeout(ctx, 20*time.Second)
	defer cancel()
	if err := o.double.Wait(waiting, func() bool { return o.double.Connected() > 0 }); err != nil {
		_ = cmd.Process.Kill()
		return nil, errors.New("the bot did not connect")
	}
	time.Sleep(500 * time.Millisecond)
	return cmd, nil
}

func (o *onDiscord) config() string {
	return demoStation + fmt.Sprintf("discord: {guild: %q, channels: [\"%s\"]}\n", o.double.Guild(), strings.Join(o.channels, `", "`))
}

func (o *onDiscord) complaints() []string { return o.double.Violations() }

func (o *onDiscord) close() { o.double.Close() }

// echoDiscord answers each mention and direct message with its own text: the
// least that a bot on this library can do. withCard: in a channel it begins a
// thread, as firn does, and posts there the card of firn's that stands in
// card.json, always the same.
func echoDiscord(ctx context.Context, withCard bool) error {
	var same discordgo.Message // which reads components
	if withCard {
		c, err := left()
		if err != nil {
			return err
		}
		if err := json.Unmarshal(c.Body, &same); err != nil {
			return err
		}
	}
	base := os.Getenv("FIRN_DISCORD_API_URL")
	discordgo.APIVersion = "10"
	discordgo.EndpointGateway = base + "gateway"
	discordgo.EndpointGatewayBot = discordgo.EndpointGateway + "/bot"
	discordgo.EndpointChannels = base + "channels/"
	s, err := discordgo.New("Bot " + os.Getenv("FIRN_DISCORD_TOKEN"))
	if err != nil {
		return err
	}
	s.Identify.Intents = discordgo.IntentsGuildMessages | discordgo.IntentsDirectMessages
	s.AddHandler(func(s *discordgo.Session, m *discordgo.MessageCreate) {
		if m.Author.Bot {
			return
		}
		answer := &discordgo.MessageSend{Content: m.Content, AllowedMentions: &discordgo.MessageAllowedMentions{Parse: []discordgo.AllowedMentionType{}}}
		if m.GuildID != "" {
			answer.Reference = m.Reference()
		}
		channel := m.ChannelID
		if withCard {
			answer.Content, answer.Embeds, answer.Components = same.Content, same.Embeds, same.Components
			if m.GuildID != "" {
				thread, err := s.MessageThreadStart(m.ChannelID, m.ID, "asked", 1440)
				if err != nil {
					return
				}
				channel, answer.Reference = thread.ID, nil
			}
		}
		// What it cannot say is counted as lost.
		_, _ = s.ChannelMessageSendComplex(channel, answer)
	})
	if err := s.Open(); err != nil {
		return err
	}
	<-ctx.Done()
	return s.Close()
}

// readDiscord is a message as a phone shows it: a fence shows nothing.
func readDiscord(m discorddouble.Message) string {
	lines := []string{m.Content}
	for _, e := range m.Embeds {
		lines = append(lines, e.Title, e.Description)
		for _, f := range e.Fields {
			lines = append(lines, f.Name, f.Value)
		}
		if e.Footer != nil {
			lines = append(lines, e.Footer.Text)
		}
	}
	var out strings.Builder
	for l := range strings.SplitSeq(strings.Join(lines, "\n"), "\n") {
		if l = strings.TrimPrefix(strings.ReplaceAll(strings.ReplaceAll(l, "**", ""), "\\", ""), "> "); strings.Trim(l, " `") != "" {
			out.WriteString(l + "\n")
		}
	}
	return out.String()
}
