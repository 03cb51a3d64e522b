package discord

import (
	"context"
	"strings"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
)

// field is one of the form's.
type field struct {
	name, label, hint string
	style             discordgo.TextInputStyle
	most              int
	of                func(*chat.Form) *string
}

// fields are the form's, in order. What is typed must fit into a field of an
// embed (1024), so that a form that is sent back can hold it.
func fields() []field {
	return []field{
		{chat.FieldStation, "Station", "XKLD", discordgo.TextInputShort, 100, func(f *chat.Form) *string { return &f.Station }},
		{chat.FieldTemperature, "Temperature, with its sign", "-38", discordgo.TextInputShort, 100, func(f *chat.Form) *string { return &f.Temperature }},
		{chat.FieldAltitudes, "Altitudes as published", "FAF 10000, step 9200, DA 7140", discordgo.TextInputParagraph, 1000, func(f *chat.Form) *string { return &f.Altitudes }},
	}
}

const formTitle = "Altitudes corrected for cold"

// modal is the form as Discord shows it.
func modal(f chat.Form) map[string]any {
	rows := []discordgo.ActionsRow{}
	for _, d := range fields() {
		rows = append(rows, discordgo.ActionsRow{Components: []discordgo.MessageComponent{discordgo.TextInput{
			CustomID: d.name, Label: d.label, Style: d.style, Placeholder: d.hint,
			Value: cut(strings.TrimSpace(*d.of(&f)), d.most), MaxLength: d.most,
		}}})
	}
	return map[string]any{"custom_id": idForm, "title": formTitle, "components": rows}
}

// filledIn are the fields of a form that was sent.
func filledIn(data discordgo.ModalSubmitInteractionData) map[string]string {
	out := map[string]string{}
	for _, c := range data.Components {
		row, ok := c.(*discordgo.ActionsRow)
		if !ok {
			continue
		}
		for _, c := range row.Components {
			if in, ok := c.(*discordgo.TextInput); ok {
				out[in.CustomID] = strings.TrimSpace(in.Value)
			}
		}
	}
	return out
}

// Open shows the form. Discord takes a form only as the first answer to a
// command or a button: elsewhere, and when a form is sent back, the person
// gets a button that opens it, with the problems and what was typed.
func (s *Surface) Open(ctx context.Context, e chat.Event, f chat.Form) error {
	in, ok := e.Handle.(*interaction)
	if !ok {
		_, err := s.answer(ctx, e, []message{openAgain(f)})
		return err
	}
	opened := false
	if in.kind != discordgo.InteractionModalSubmit && len(f.Problems) == 0 {
		err := in.locked(ctx, func() error {
			if in.state != fresh {
				return nil
			}
			_, err := in.callback(ctx, response{discordgo.InteractionResponseModal, modal(f)}, nil)
			if err == nil {
				in.state, opened = answered, true
			}
			return err
		})
		if err != nil {
			return err
		}
	}
	if opened {
		return nil
	}
	_, err := in.show(ctx, openAgain(f), true)
	return err
}

// openAgain is a message with a button that opens the form. What was typed
// stands in the message, which a press brings along.
func openAgain(f chat.Form) message {
	m := newMessage()
	embed := &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich, Title: formTitle, Color: 0xE0B400}
	var lines []string
	label := "Open the form"
	for _, d := range fields() {
		if p := clean(f.Problems[d.name]); p != "" {
			lines = append(lines, "• "+escape(cut(p, 600)))
			label = "Open the form again"
		}
		if text := code(cut(cleanLines(*d.of(&f)), d.most)); text != "" {
			embed.Fields = append(embed.Fields, &discordgo.MessageEmbedField{Name: d.label, Value: fenceMark + "\n" + text + "\n" + fenceMark})
		}
	}
	embed.Description = strings.Join(lines, "\n")
	m.Embeds = append(m.Embeds, embed)
	m.Components = append(m.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{
		discordgo.Button{Label: label, Style: discordgo.PrimaryButton, CustomID: idAgain},
	}})
	return m
}

// backOf is the form that a press of such a button asks for.
func backOf(i *discordgo.Interaction) (f chat.Form, ok bool) {
	data, ok := i.Data.(discordgo.MessageComponentInteractionData)
	if !ok || data.CustomID != idAgain {
		return f, false
	}
	if i.Message == nil {
		return f, true
	}
	for _, e := range i.Message.Embeds {
		for _, shown := range e.Fields {
			for _, d := range fields() {
				if shown.Name == d.label {
					*d.of(&f) = strings.TrimSuffix(strings.TrimPrefix(shown.Value, fenceMark+"\n"), "\n"+fenceMark)
				}
			}
		}
	}
	return f, true
}
