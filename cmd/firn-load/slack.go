package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"slices"
	"strings"
	"time"

	slackgo "github.com/slack-go/slack"
	"github.com/slack-go/slack/slackevents"
	"github.com/slack-go/slack/socketmode"

	"firn/adapters/testkit/slackdouble"
)

// channels is over how many the load is spread.
const channels = 50

// onSlack is Slack's double.
type onSlack struct {
	double   *slackdouble.Server
	direct   bool
	settings *settings
}

func newSlack(s *settings, reply func(name string, came time.Time)) (service, error) {
	d, err := slackdouble.Start(slackdouble.Options{
		NoEcho: true, Keep: 500, Unchecked: true, // what the double checks is not the bots' time
		OnPost: func(m slackdouble.Message) {
			if len(m.Blocks) > 2 {
				s.card.Store(&card{Text: m.Text, Blocks: m.Blocks, Metadata: m.Metadata})
			}
			if m.Thread != "" {
				reply(m.Channel+"/"+m.Thread, m.Arrived)
				return
			}
			// In a direct message the answer quotes nothing: people there ask
			// one thing at a time.
			reply(m.Channel, m.Arrived)
		},
	})
	if err != nil {
		return nil, err
	}
	for i := range channels {
		d.AddChannel(slackChannel(i))
	}
	for i := range s.people {
		d.AddUser(slackPerson(i), fmt.Sprintf("Person %d", i))
	}
	return &onSlack{d, s.place == "direct", s}, nil
}

func slackChannel(i int) string { return fmt.Sprintf("C0LOAD%03d", i) }
func slackPerson(i int) string  { return fmt.Sprintf("U0LOAD%05d", i) }

func (o *onSlack) say(person int, text string) (string, error) {
	if o.direct {
		channel := o.double.Direct(slackPerson(person))
		_, err := o.double.Say(slackdouble.Said{User: slackPerson(person), Channel: channel, Text: text})
		return channel, err
	}
	channel := slackChannel(person % channels)
	ts, err := o.double.Say(slackdouble.Said{User: slackPerson(person), Channel: channel, Text: o.double.Mention() + " " + text})
	return channel + "/" + ts, err
}

func (o *onSlack) start(ctx context.Context, bot []string, dir string) (*exec.Cmd, error) {
	cmd := exec.CommandContext(ctx, bot[0], bot[1:]...)
	cmd.Dir, cmd.Stderr = dir, quiet()
	if err := o.settings.leave(dir); err != nil {
		return nil, err
	}
	cmd.Env = append(os.Environ(), o.settings.listens(), "FIRN_SLACK_APP_TOKEN="+o.double.AppToken(), "FIRN_SLACK_BOT_TOKEN="+o.double.BotToken(),
		"FIRN_SLACK_API_URL="+o.double.URL(), "FIRN_DATABASE_URL=", "FIRN_DISCORD_TOKEN=")
	if err := cmd.Start(); err != nil {
		return nil, err
	}
	if !o.double.Wait(20*time.Second, func() bool { return o.double.Connections() > 0 }) {
		_ = cmd.Process.Kill()
		return nil, errors.New("the bot did not connect")
	}
	time.Sleep(200 * time.Millisecond)
	return cmd, nil
}

func (o *onSlack) config() string {
	var ids []string
	for i := range channels {
		ids = append(ids, slackChannel(i))
	}
	return demoStation + "slack: {channels: [" + strings.Join(ids, ", ") + "]}\n"
}

func (o *onSlack) complaints() []string { return o.double.Problems() }

func (o *onSlack) close() { _ = o.double.Close() }

// echoSlack answers each mention and direct message with its own text, the
// least that a bot on this library can do; withCard: with the card of firn's
// that stands in card.json, always the same.
func echoSlack(ctx context.Context, withCard bool) error {
	same := []slackgo.MsgOption{}
	if withCard {
		c, err := left()
		if err != nil {
			return err
		}
		var blocks slackgo.Blocks
		var metadata slackgo.SlackMetadata
		if err := errors.Join(json.Unmarshal(c.Blocks, &blocks), json.Unmarshal(c.Metadata, &metadata)); err != nil {
			return err
		}
		same = append(same, slackgo.MsgOptionText(c.Text, false), slackgo.MsgOptionBlocks(blocks.BlockSet...), slackgo.MsgOptionMetadata(metadata))
	}
	api := slackgo.New(os.Getenv("FIRN_SLACK_BOT_TOKEN"), slackgo.OptionAPIURL(os.Getenv("FIRN_SLACK_API_URL")),
		slackgo.OptionAppLevelToken(os.Getenv("FIRN_SLACK_APP_TOKEN")))
	client := socketmode.New(api)
	go func() {
		for e := range client.Events {
			if e.Type != socketmode.EventTypeEventsAPI {
				continue
			}
			if err := client.AckCtx(ctx, e.Request.EnvelopeID, nil); err != nil {
				continue
			}
			outer, ok := e.Data.(slackevents.EventsAPIEvent)
			if !ok {
				continue
			}
			var channel, thread, text string
			switch m := outer.InnerEvent.Data.(type) {
			case *slackevents.AppMentionEvent:
				channel, thread, text = m.Channel, m.TimeStamp, m.Text
			case *slackevents.MessageEvent:
				if m.ChannelType != "im" || m.BotID != "" {
					continue
				}
				channel, text = m.Channel, m.Text
			default:
				continue
			}
			go func() {
				options := slices.Clone(same)
				if !withCard {
					options = append(options, slackgo.MsgOptionText(text, false))
				}
				if thread != "" {
					options = append(options, slackgo.MsgOptionTS(thread))
				}
				// What it cannot say is counted as lost.
				_, _, _ = api.PostMessageContext(ctx, channel, options...)
			}()
		}
	}()
	return client.RunContext(ctx)
}
