package discord

import (
	"context"
	"strconv"
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
		{chat.FieldAltitudes, "Altitudes as published", "FAF 8200, step 7400, DA 5340", discordgo.TextInputParagraph, 1000, func(f *chat.Form) *string { return &f.Altitudes }},
	}
}

// mostFields is how many a form of Discord's has.
const mostFields = 5

// sheet is a form as Discord shows it: its id and title, and its fields with
// what stands in them.
type sheet struct {
	id, again string // custom ids: of the form, and of the button that opens it again
	title     string
	fields    []filledField
}

type filledField struct {
	field
	text string
}

// heading is the field's name where what was typed is shown in a message.
func (d filledField) heading() string { return cut(escape(clean(d.label)), mostTitle) }

// sheetOf lays a form out. That of a blind check has a field an altitude,
// where Discord takes as many, else one for all of them; its id says of which
// record, and of how many altitudes.
func sheetOf(f chat.Form) sheet {
	if f.Enter == nil {
		s := sheet{id: idForm, again: idAgain, title: formTitle}
		for _, d := range fields() {
			s.fields = append(s.fields, filledField{d, *d.of(&f)})
		}
		return s
	}
	n := len(f.Enter.Names)
	about := ":" + f.Enter.Record + ":" + strconv.Itoa(n)
	s := sheet{id: idEnter + about, again: idEnterAgain + about, title: "Check " + f.Enter.Record + " from your own table"}
	if n > mostFields {
		label := strings.Join(f.Enter.Names, ", ")
		s.fields = []filledField{{field{name: chat.FieldAllEntered, label: label, hint: label, style: discordgo.TextInputParagraph, most: 1000}, f.Enter.All}}
		return s
	}
	for i, name := range f.Enter.Names {
		text := ""
		if i < len(f.Enter.Typed) {
			text = f.Enter.Typed[i]
		}
		s.fields = append(s.fields, filledField{field{name: chat.FieldEntered(i), label: name, hint: "corrected", style: discordgo.TextInputShort, most: 100}, text})
	}
	return s
}

// enterOf is the form of a blind check that a custom id means, still empty.
// Discord does not send the labels of a form back; those of the last forms are
// remembered, and without them the altitudes are counted.
func (s *Surface) enterOf(prefix, custom string) (*chat.BlindForm, bool) {
	rest, ok := strings.CutPrefix(custom, prefix+":")
	id, count, both := strings.Cut(rest, ":")
	n, err := strconv.Atoi(count)
	if !ok || !both || id == "" || err != nil || n < 1 || n > 100 {
		return nil, false
	}
	names, ok := s.asked.get(id)
	if !ok || len(names) != n {
		names = make([]string, n)
		for i := range names {
			names[i] = "Altitude " + strconv.Itoa(i+1)
		}
	}
	return &chat.BlindForm{Record: id, Names: names}, true
}

// sentForm is a form that was sent.
func (s *Surface) sentForm(e chat.Event, custom string) chat.Form {
	enter, ok := s.enterOf(idEnter, custom)
	if !ok {
		return chat.Form{Station: e.Fields[chat.FieldStation], Temperature: e.Fields[chat.FieldTemperature], Altitudes: e.Fields[chat.FieldAltitudes]}
	}
	if enter.All = e.Fields[chat.FieldAllEntered]; len(enter.Names) <= mostFields {
		for i := range enter.Names {
			enter.Typed = append(enter.Typed, e.Fields[chat.FieldEntered(i)])
		}
	}
	return chat.Form{Enter: enter}
}

const formTitle = "Altitudes corrected for cold"

// modal is the form as Discord shows it.
func modal(f chat.Form) map[string]any {
	rows, s := []discordgo.ActionsRow{}, sheetOf(f)
	for _, d := range s.fields {
		rows = append(rows, discordgo.ActionsRow{Components: []discordgo.MessageComponent{discordgo.TextInput{
			CustomID: d.name, Label: cut(clean(d.label), 45), Style: d.style, Placeholder: cut(clean(d.hint), 100),
			Value: cut(strings.TrimSpace(d.text), d.most), MaxLength: d.most,
		}}})
	}
	return map[string]any{"custom_id": s.id, "title": cut(s.title, 45), "components": rows}
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
	if f.Enter != nil {
		s.asked.put(f.Enter.Record, f.Enter.Names)
	}
	if !ok {
		_, err := s.answer(ctx, e, openAgain(f))
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
	m, s := newMessage(), sheetOf(f)
	embed := &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich, Title: s.title, Color: 0xE0B400}
	var lines []string
	label := "Open the form"
	for _, d := range s.fields {
		if p := clean(f.Problems[d.name]); p != "" {
			if f.Enter != nil && len(s.fields) > 1 {
				p = clean(d.label) + ": " + p
			}
			lines = append(lines, "• "+escape(cut(p, 600)))
			label = "Open the form again"
		}
		if text := code(cut(cleanLines(d.text), d.most)); text != "" {
			embed.Fields = append(embed.Fields, &discordgo.MessageEmbedField{Name: d.heading(), Value: fenceMark + "\n" + text + "\n" + fenceMark})
		}
	}
	embed.Description = strings.Join(lines, "\n")
	m.Embeds = append(m.Embeds, embed)
	m.Components = append(m.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{
		discordgo.Button{Label: label, Style: discordgo.PrimaryButton, CustomID: s.again},
	}})
	return m
}

// backOf is the form that a press of such a button asks for.
func (s *Surface) backOf(i *discordgo.Interaction) (f chat.Form, ok bool) {
	data, ok := i.Data.(discordgo.MessageComponentInteractionData)
	if !ok {
		return f, false
	}
	if f.Enter, ok = s.enterOf(idEnterAgain, data.CustomID); !ok && data.CustomID != idAgain {
		return f, false
	}
	typed := map[string]string{}
	if i.Message != nil {
		for _, e := range i.Message.Embeds {
			for _, shown := range e.Fields {
				typed[shown.Name] = strings.TrimSuffix(strings.TrimPrefix(shown.Value, fenceMark+"\n"), "\n"+fenceMark)
			}
		}
	}
	for _, d := range sheetOf(f).fields {
		text := typed[d.heading()]
		switch {
		case d.of != nil:
			*d.of(&f) = text
		case d.name == chat.FieldAllEntered:
			f.Enter.All = text
		default:
			f.Enter.Typed = append(f.Enter.Typed, text)
		}
	}
	return f, true
}
