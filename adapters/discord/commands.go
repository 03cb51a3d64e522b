package discord

import (
	"context"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/parse"
	"firn/bot/sleep"
)

// command is /firn.
const command = "firn"

// Its subcommands that are no verb.
const (
	subAsk  = "ask"
	subForm = "form"
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
	Required     bool                                   `json:"required,omitempty"`
	Autocomplete bool                                   `json:"autocomplete,omitempty"`
	Choices      []choice                               `json:"choices,omitempty"`
	Options      []option                               `json:"options,omitempty"`
}

// choice is one that Discord shows, at most 100 characters of each.
type choice struct {
	Name  string `json:"name"`
	Value string `json:"value"`
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
	return []definition{{Type: discordgo.MessageApplicationCommand, Name: messageCommand}, {
		Type: discordgo.ChatApplicationCommand, Name: command,
		Description: "Altitudes corrected for cold air",
		Options: []option{
			sub(subAsk, "Ask for corrected altitudes",
				typed(optionMessage, "All in one line: XKLD -38 8200 7400 5340"),
				offered(chat.FieldStation, "The station, by ident or name"),
				offered(chat.FieldProcedure, "A stored procedure of the station: rnav 31"),
				typed(chat.FieldTemperature, "The temperature with its sign: -38 or -36F"),
				typed(chat.FieldAltitudes, "The altitudes as published: FAF 8200, DA 5340")),
			sub(subForm, "Fill in a form"),
			sub(parse.Brief.String(), "Arrivals, from the forecasts",
				required(offered(chat.FieldStation, "The first station, by ident or name")),
				required(typed(optionTime, "When you arrive there: 1430 or 1430Z")),
				offered(chat.FieldProcedure, "A stored procedure of the station: rnav 31"),
				typed(optionMore, "The arrivals behind it, each with its time: XRUN 1515")),
			sub(parse.Watch.String(), "The state of every base, or of one", offered(chat.FieldStation, "The base, by ident or name")),
			sub(parse.Card.String(), "A result to print and clip to the kneeboard", required(offered(chat.FieldRecord, "The name of its record"))),
			sub(parse.Check.String(), "Check a result of somebody else",
				required(offered(chat.FieldRecord, "The name of its record")),
				typed(chat.FieldAltitudes, "Your own corrected altitudes, in the order of the card")),
			sub(parse.Log.String(), "The latest results",
				offered(chat.FieldStation, "Of this station, by ident or name"),
				option{Type: discordgo.ApplicationCommandOptionString, Name: optionOf, Description: "Which of them", Choices: []choice{{"of today", "today"}, {"not checked", "unchecked"}}},
				offered(chat.FieldRecord, "The history of one record, by its name")),
			sub(parse.Mine.String(), "What waits for your check, your results that are out of date, the cold bases"),
			sub(parse.Help.String(), "What can be asked"),
		},
	}}
}

// The options that are no field of the form.
const (
	optionMessage = "message"
	optionTime    = "time"
	optionMore    = "more"
	optionOf      = "which"
)

// inLine is the order in which the options of a subcommand are said. The
// altitudes stand before the message, which may be a pasted report: behind its
// remarks a bare number is the report's.
var inLine = []string{
	chat.FieldRecord, chat.FieldStation, chat.FieldProcedure, chat.FieldTemperature, optionTime, chat.FieldAltitudes, optionOf, optionMore, optionMessage,
}

func sub(name, does string, options ...option) option {
	return option{Type: discordgo.ApplicationCommandOptionSubCommand, Name: name, Description: does, Options: options}
}

func typed(name, is string) option {
	return option{Type: discordgo.ApplicationCommandOptionString, Name: name, Description: is}
}

func offered(name, is string) option {
	o := typed(name, is)
	o.Autocomplete = true
	return o
}

func required(o option) option {
	o.Required = true
	return o
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
		if sleep.For(ctx, pause) != nil {
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
	sub := data.Options[0]
	if sub.Name == subForm {
		return chat.FormRequested, ""
	}
	// What was filled in is a message as somebody would type it, and is read as one.
	var words []string
	if sub.Name != subAsk {
		words = append(words, sub.Name)
	}
	filled := filled(sub)
	for _, name := range inLine {
		if text := filled[name]; text != "" {
			words = append(words, text)
		}
	}
	if len(words) == 0 {
		return chat.FormRequested, ""
	}
	return chat.MessagePosted, strings.Join(words, " ")
}

// filled is what stands in the options of a subcommand.
func filled(sub *discordgo.ApplicationCommandInteractionDataOption) map[string]string {
	out := map[string]string{}
	for _, o := range sub.Options {
		if text, ok := o.Value.(string); ok {
			out[o.Name] = strings.TrimSpace(text)
		}
	}
	return out
}

// complete offers what may be meant while somebody types.
func (s *Surface) complete(ctx context.Context, i *discordgo.Interaction) {
	data, ok := i.Data.(discordgo.ApplicationCommandInteractionData)
	if !ok {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, answerLimit)
	defer cancel()
	in := &interaction{s: s, id: i.ID, app: i.AppID, token: i.Token}
	choices := []choice{}
	for _, sub := range data.Options {
		for _, o := range sub.Options {
			typed, ok := o.Value.(string)
			if !o.Focused || !ok {
				continue
			}
			e, err := s.eventOf(ctx, in, i)
			if err != nil {
				s.log.DebugContext(ctx, "nothing offered", "err", err)
				continue
			}
			e.Text, e.Fields = typed, filled(sub)
			e.Fields[chat.FieldCommand] = sub.Name
			for _, c := range s.taker.Offers(ctx, s, e, o.Name, mostChoices) {
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
	if _, err := in.callback(ctx, response{discordgo.InteractionApplicationCommandAutocompleteResult, map[string]any{"choices": choices}}, nil); err != nil {
		s.log.DebugContext(ctx, "nothing offered", "err", err)
	}
}
