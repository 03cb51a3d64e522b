package discord

import (
	"context"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

// The words of /firn.
const (
	command       = "firn"
	subAsk        = "ask"
	subForm       = "form"
	subWatch      = "watch"
	subHelp       = "help"
	optionMessage = "message"
)

// messageCommand is the command on somebody's message; Slack's shortcut has the
// same name.
const messageCommand = "Correct these altitudes"

// mostChoices is how many Discord shows while somebody types.
const mostChoices = 25

// option is a part of a command, no more of it than is used here.
type option struct {
	Type         discordgo.ApplicationCommandOptionType `json:"type"`
	Name         string                                 `json:"name"`
	Description  string                                 `json:"description"`
	Autocomplete bool                                   `json:"autocomplete,omitempty"`
	Options      []option                               `json:"options,omitempty"`
}

// definition is a command.
type definition struct {
	Type        discordgo.ApplicationCommandType `json:"type"`
	Name        string                           `json:"name"`
	Description string                           `json:"description"`
	Options     []option                         `json:"options,omitempty"`
}

// definitions are the commands that the bot has.
func definitions() []definition {
	const text, sub = discordgo.ApplicationCommandOptionString, discordgo.ApplicationCommandOptionSubCommand
	return []definition{{Type: discordgo.MessageApplicationCommand, Name: messageCommand}, {
		Type: discordgo.ChatApplicationCommand, Name: command,
		Description: "Altitudes corrected for cold air",
		Options: []option{
			{Type: sub, Name: subAsk, Description: "Ask for corrected altitudes", Options: []option{
				{Type: text, Name: optionMessage, Description: "All in one line: XKLD -38 8200 7400 5340"},
				{Type: text, Name: chat.FieldStation, Description: "The station, by ident or name", Autocomplete: true},
				{Type: text, Name: chat.FieldTemperature, Description: "The temperature with its sign: -38 or -36F"},
				{Type: text, Name: chat.FieldAltitudes, Description: "The altitudes as published: FAF 8200, DA 5340"},
			}},
			{Type: sub, Name: subForm, Description: "Fill in a form"},
			{Type: sub, Name: subWatch, Description: "The state of every base"},
			{Type: sub, Name: subHelp, Description: "What can be asked"},
		},
	}}
}

// keepCommands registers the commands where Discord has others, and tries
// again until it could: without them people still have mentions.
func (s *Surface) keepCommands(ctx context.Context, app string) {
	path := "applications/" + app + "/commands"
	if s.set.Guild != "" {
		path = "applications/" + app + "/guilds/" + s.set.Guild + "/commands"
	}
	for pause := s.set.pauses.first; ; pause = min(2*pause, 10*time.Minute) {
		changed, err := s.registerCommands(ctx, path)
		if ctx.Err() != nil {
			return
		}
		if err == nil {
			s.log.InfoContext(ctx, "discord commands stand", "changed", changed)
			return
		}
		s.log.ErrorContext(ctx, "discord commands not registered; invite the bot with the scope applications.commands", "err", err, "again_in", pause)
		if sleep(ctx, pause) != nil {
			return
		}
	}
}

func (s *Surface) registerCommands(ctx context.Context, path string) (changed bool, err error) {
	ctx, cancel := context.WithTimeout(ctx, time.Minute)
	defer cancel()
	var have []definition
	if err := s.api.call(ctx, request{what: "look up the commands", method: http.MethodGet, path: path, bucket: path, repeat: true}, &have); err != nil {
		return false, err
	}
	if reflect.DeepEqual(have, definitions()) {
		return false, nil
	}
	return true, s.api.call(ctx, request{what: "register the commands", method: http.MethodPut, path: path, bucket: path, body: definitions(), repeat: true}, nil)
}

// asked is what a command asks: the kind of event and its text.
func asked(data discordgo.ApplicationCommandInteractionData, bot string) (chat.Kind, string) {
	if data.Name == messageCommand && data.Resolved != nil {
		if m := data.Resolved.Messages[data.TargetID]; m != nil {
			return chat.MessagePosted, withoutMention(m.Content, bot)
		}
	}
	if data.Name != command || len(data.Options) == 0 {
		return 0, ""
	}
	switch sub := data.Options[0]; sub.Name {
	case subWatch, subHelp:
		return chat.MessagePosted, sub.Name
	case subForm:
		return chat.FormRequested, ""
	case subAsk:
		var words []string
		// The altitudes stand before the message, which may be a pasted report:
		// behind its remarks a bare number is the report's.
		for _, name := range []string{chat.FieldStation, chat.FieldTemperature, chat.FieldAltitudes, optionMessage} {
			if o := sub.GetOption(name); o != nil {
				if text, ok := o.Value.(string); ok && strings.TrimSpace(text) != "" {
					words = append(words, strings.TrimSpace(text))
				}
			}
		}
		if len(words) == 0 {
			return chat.FormRequested, ""
		}
		return chat.MessagePosted, strings.Join(words, " ")
	}
	return 0, ""
}

// complete offers stations while somebody types.
func (s *Surface) complete(ctx context.Context, i *discordgo.Interaction) {
	data, ok := i.Data.(discordgo.ApplicationCommandInteractionData)
	if !ok {
		return
	}
	type choice struct {
		Name  string `json:"name"`
		Value string `json:"value"`
	}
	choices := []choice{}
	for _, sub := range data.Options {
		for _, o := range sub.Options {
			typed, ok := o.Value.(string)
			if !o.Focused || o.Name != chat.FieldStation || !ok {
				continue
			}
			for _, c := range s.taker.Stations(typed, mostChoices) {
				name := cut(clean(c.Label), 100)
				if name == "" {
					name = cut(clean(c.Value), 100)
				}
				if name != "" && units(c.Value) <= 100 && len(choices) < mostChoices {
					choices = append(choices, choice{name, c.Value})
				}
			}
		}
	}
	ctx, cancel := context.WithTimeout(ctx, answerLimit)
	defer cancel()
	in := &interaction{s: s, id: i.ID, app: i.AppID, token: i.Token}
	if _, err := in.callback(ctx, response{discordgo.InteractionApplicationCommandAutocompleteResult, map[string]any{"choices": choices}}, nil); err != nil {
		s.log.DebugContext(ctx, "stations not offered", "err", err)
	}
}
