package discord

import (
	"fmt"
	"slices"
	"strings"

	"github.com/bwmarrin/discordgo"

	"firn/bot/present"
	"firn/bot/reply"
)

// Custom ids begin with what they are. A button holds its action's message;
// one that is too long for that stands in a field of the card, which a press
// brings along, and the button holds its hash.
const (
	idAction = "a" // a:INDEX:ACTION:MESSAGE
	idLong   = "l" // l:INDEX:ACTION:HASH
	idForm   = "form"
	idAgain  = "form-again"
	idMore   = "m" // m:LINE, of the menu; LINE asks for the card again
	idClosed = "closed"
	// Of a blind check; behind each stand the record and how many altitudes.
	idEnter      = "enter"
	idEnterAgain = "enter-again"
)

// formAction is the id of an action that opens the form.
const formAction = "form"

// controls are a card's buttons, and the menu of what is one tap away.
func (m *message) controls(k present.Controls) {
	hints, n := 0, 0
	for i, a := range k.Buttons {
		if n == mostButtons {
			break
		}
		custom, ok := m.customID(a, n, &hints)
		if !ok {
			continue
		}
		if n%5 == 0 {
			m.Components = append(m.Components, discordgo.ActionsRow{})
		}
		row := &m.Components[len(m.Components)-1]
		style := discordgo.SecondaryButton
		if i == 0 && k.Primary {
			style = discordgo.PrimaryButton
		}
		row.Components = append(row.Components, discordgo.Button{Label: labelOf(a), Style: style, CustomID: custom})
		n++
	}
	if menu, ok := menuOf(k); ok {
		m.Components = append(m.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{menu}})
	}
}

func labelOf(a reply.Action) string {
	if label := cut(clean(a.Label), mostLabel); label != "" {
		return label
	}
	return cut(clean(a.Message), mostLabel)
}

// customID is that of the n-th button. hints is how much the fields hold of
// messages that are too long for one.
func (m *message) customID(a reply.Action, n int, hints *int) (custom string, ok bool) {
	label, id := labelOf(a), strings.ReplaceAll(clean(a.ID), ":", "_")
	if label == "" || units(id) > 40 {
		return "", false
	}
	custom = fmt.Sprintf("%s:%d:%s:%s", idAction, n, id, a.Message)
	if units(custom) <= mostCustomID && !strings.ContainsAny(a.Message, "\r\n\t") && clean(a.Message) == a.Message {
		return custom, true
	}
	text := cleanLines(a.Message)
	field := &discordgo.MessageEmbedField{Name: cut(escape(label)+": type", mostTitle), Value: fenceMark + "\n" + text + "\n" + fenceMark}
	size := units(field.Name) + units(field.Value)
	if text == "" || strings.Contains(text, "`") || units(field.Value) > 1024 || *hints+size > mostHints {
		return "", false // it can neither be shown nor be kept
	}
	*hints += size
	if len(m.Embeds) == 0 {
		m.Embeds = append(m.Embeds, &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich})
	}
	m.Embeds[0].Fields = append(m.Embeds[0].Fields, field)
	return fmt.Sprintf("%s:%d:%s:%s", idLong, n, id, digest(markLength, text)), true
}

// menuOf is what is one tap away, an entry each.
func menuOf(k present.Controls) (menu discordgo.SelectMenu, ok bool) {
	menu = discordgo.SelectMenu{MenuType: discordgo.StringSelectMenu, CustomID: idMore + ":", Placeholder: "More"}
	if id := menu.CustomID + k.Line; units(id) <= mostCustomID && clean(k.Line) == k.Line {
		menu.CustomID = id
	}
	for _, e := range present.Grouped(k.More, mostOptions) {
		label := cut(clean(e.Title), mostOption)
		if label == "" || e.ID == "" || units(e.ID) > mostOption || slices.ContainsFunc(menu.Options, func(o discordgo.SelectMenuOption) bool { return o.Value == e.ID }) {
			continue
		}
		menu.Options = append(menu.Options, discordgo.SelectMenuOption{Label: label, Value: e.ID})
	}
	return menu, len(menu.Options) > 0
}

// chosen reads what was chosen in a menu.
func chosen(data discordgo.MessageComponentInteractionData) (entry, line string, ok bool) {
	_, id := cutMark(data.CustomID)
	line, ok = strings.CutPrefix(id, idMore+":")
	if !ok || len(data.Values) != 1 {
		return "", "", false
	}
	return data.Values[0], line, true
}

// pressed reads a button's custom id; on is the card that has it.
func pressed(custom string, on *discordgo.Message) (action, text string, ok bool) {
	_, custom = cutMark(custom)
	parts := strings.SplitN(custom, ":", 4)
	if len(parts) != 4 {
		return "", "", false
	}
	switch parts[0] {
	case idAction:
		return parts[2], parts[3], true
	case idLong:
		if on == nil {
			return "", "", false
		}
		for _, e := range on.Embeds {
			for _, f := range e.Fields {
				text := strings.TrimSuffix(strings.TrimPrefix(f.Value, fenceMark+"\n"), "\n"+fenceMark)
				if digest(markLength, text) == parts[3] {
					return parts[2], text, true
				}
			}
		}
	}
	return "", "", false
}
