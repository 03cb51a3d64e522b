package slack

import (
	"encoding/json"
	"strconv"
	"strings"
	"unicode/utf8"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/present"
	"firn/bot/reply"
)

// message is one message of Slack's, ready to be posted.
type message struct {
	blocks []slackgo.Block
	text   string
}

// entryAll is the entry of a menu that shows what one message has no room for.
const entryAll = "all"

const nothing = "firn has nothing to say to this." // Slack takes no empty message

// compose makes the one message of a card: its short form and its controls.
// What has no room in it is an entry under More.
func compose(c chat.Message) message {
	d := present.Of(c.Reply)
	blocks, all := drawn(c.Note, d.Short, mostBlocks-2, messageText)
	if len(blocks) == 0 {
		blocks = []slackgo.Block{slackgo.NewSectionBlock(markdown(nothing), nil, nil)}
	}
	if !all {
		blocks = append(blocks, slackgo.NewContextBlock("", markdown("There is more than fits here: see Everything in the menu.")))
	}
	if b := controls(c, d, all); b != nil {
		blocks = append(blocks, b)
	}
	return message{blocks: blocks, text: notice(c.Note, d)}
}

// drawn draws blocks, a working shorter where it does not fit as it is; all says
// that there was room for each.
func drawn(note string, list []present.Block, blocks, text int) (out []slackgo.Block, all bool) {
	if out, all = fit(draw(note, list), blocks, text); all {
		return out, true
	}
	return fit(draw(note, present.Compact(list)), blocks, text)
}

// fit takes blocks as long as there is room; all says that there was for each.
func fit(items []item, blocks, text int) (list []slackgo.Block, all bool) {
	size := 0
	for _, it := range items {
		if size += it.size; len(list) == blocks || len(list) > 0 && size > text {
			return list, false
		}
		list = append(list, it.block)
	}
	return list, true
}

// controls are a card's buttons and its menu, or nil.
func controls(c chat.Message, d present.Document, all bool) slackgo.Block {
	if c.Closed {
		return nil
	}
	k := present.ControlsOf(c.Reply, d)
	list := buttons(k)
	if !all {
		k.More = append(k.More, present.Entry{ID: entryAll, Title: "Everything"})
	}
	if m := menu(k); m != nil {
		list = append(list, m)
	}
	if len(list) == 0 {
		return nil
	}
	return slackgo.NewActionBlock("", list...)
}

func buttons(k present.Controls) (list []slackgo.BlockElement) {
	used := map[string]bool{}
	for i, a := range k.Buttons {
		id := doAction + a.ID
		if used[id] { // ids are unique in a block; the press carries the message
			id += "#" + strconv.Itoa(len(list))
		}
		if len(list) == mostButtons-1 || !pressable(a, id) {
			continue
		}
		used[id] = true
		b := slackgo.NewButtonBlockElement(id, shown(a.Message), labelText(a.Label, mostButtonText))
		if i == 0 && k.Primary {
			b.Style = slackgo.StylePrimary // it is labelled too
		}
		list = append(list, b)
	}
	return list
}

func pressable(a reply.Action, id string) bool {
	return len(id) <= mostActionID && a.Message != "" && utf8.RuneCountInString(a.Message) <= mostValue && plainText(a.Label) != ""
}

// menu is what is one tap away. Its id holds the line that asks for the reply
// again, for a card that no record keeps.
func menu(k present.Controls) slackgo.BlockElement {
	var list []*slackgo.OptionBlockObject
	for _, e := range present.Grouped(k.More, mostOptions) {
		if len(e.ID) > mostOption {
			e.ID = entryAll
		}
		list = append(list, slackgo.NewOptionBlockObject(e.ID, labelText(e.Title, mostOption), nil))
	}
	if len(list) == 0 {
		return nil
	}
	id := moreAction + shown(k.Line)
	if utf8.RuneCountInString(id) > mostActionID {
		id = moreAction
	}
	return slackgo.NewOverflowBlockElement(id, list[:min(len(list), mostOptions)]...)
}

// notice is a card as plain text: first what a locked screen shows, then what a
// screen reader, or a client without blocks, reads.
func notice(note string, d present.Document) string {
	var lines []string
	add := func(text string) {
		if text = strings.Join(strings.Fields(shown(text)), " "); text != "" {
			lines = append(lines, text)
		}
	}
	add(note)
	add(d.Notice)
	for _, b := range d.Short {
		read(b, add)
	}
	text := cut(strings.Join(lines, "\n"), notifiedText)
	if text == "" {
		text = nothing
	}
	return escaper.Replace(text)
}

// read gives the sentences of a block; a headline stands in the notice already.
func read(b present.Block, add func(string)) {
	switch b := b.(type) {
	case present.Stop:
		add(b.Text)
	case present.Table:
		add(b.Title)
		for _, r := range b.Rows {
			text := b.Fly + " " + r.Fly + ", chart " + r.Chart
			if r.Name != "" {
				text = r.Name + ": " + text
			}
			if r.Mark != "" {
				text += ", " + r.Mark
			}
			add(text)
		}
	case present.Call:
		add(b.Title + ": " + b.Text)
	case present.Line:
		add(b.Text)
	case present.Small:
		add(b.Text)
	case present.State:
		add(b.Text())
		for _, l := range b.Lines {
			add(l)
		}
	case present.List:
		add(b.Title)
		for _, l := range b.Lines {
			add(l)
		}
	case present.Steps:
		add(b.Title)
		for _, s := range b.Steps {
			add(s.Text)
		}
	}
}

// viewBlocks are blocks for a modal or the front page.
func viewBlocks(note string, list []present.Block) []slackgo.Block {
	blocks, all := drawn(note, list, mostViewBlocks-3, viewText)
	if len(blocks) == 0 {
		blocks = []slackgo.Block{slackgo.NewSectionBlock(markdown(nothing), nil, nil)}
	}
	if !all {
		blocks = append(blocks, slackgo.NewContextBlock("", markdown("There is more than fits here: ask for it in a message.")))
	}
	return blocks
}

// homeBlocks is a card for the front page.
func homeBlocks(c chat.Message) []slackgo.Block {
	d := present.Of(c.Reply)
	list := viewBlocks(c.Note, d.Short)
	if b := controls(c, d, true); b != nil {
		list = append(list, b)
	}
	return list
}

// Shown is the message of a card as Slack gets it: the text beside the blocks
// and the blocks in JSON.
func Shown(c chat.Message) (text string, blocks []byte, err error) {
	m := compose(c)
	blocks, err = json.Marshal(m.blocks)
	return m.text, blocks, err
}
