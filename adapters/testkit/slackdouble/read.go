package slackdouble

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
)

// Messages are those of a channel, in the order in which a reader meets them:
// a thread stands under the message that began it.
func (s *Server) Messages(channel string) (list []Message) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil {
		return nil
	}
	for _, m := range c.messages {
		if m.Thread != "" && m.Thread != m.TS && c.byTS[m.Thread] != nil {
			continue
		}
		list = append(list, *m)
		for _, r := range c.messages {
			if r.Thread == m.TS && r != m {
				list = append(list, *r)
			}
		}
	}
	return list
}

// Posted are the bot's messages of a channel.
func (s *Server) Posted(channel string) (list []Message) {
	for _, m := range s.Messages(channel) {
		if m.BotID == s.opts.BotID {
			list = append(list, m)
		}
	}
	return list
}

// Thread are the messages of a thread, the one that began it first. It looks
// at nothing older.
func (s *Server) Thread(channel, ts string) (list []Message) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil {
		return nil
	}
	for i := len(c.messages) - 1; i >= 0; i-- {
		m := c.messages[i]
		if m.TS == ts || m.Thread == ts {
			list = append(list, *m)
		}
		if m.TS == ts {
			break
		}
	}
	slices.Reverse(list)
	return list
}

// Private are the messages that one person alone sees, anywhere.
func (s *Server) Private() (list []Message) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, m := range s.private {
		list = append(list, *m)
	}
	return list
}

// Channels are the ids of all channels, direct messages among them.
func (s *Server) Channels() (ids []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for id := range s.channels {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	return ids
}

// DirectOf is the person of a direct message; empty for a channel.
func (s *Server) DirectOf(channel string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	if c := s.channels[channel]; c != nil {
		return c.direct
	}
	return ""
}

// Read is a form as a person reads it.
func (v View) Read() string { return Message{Blocks: v.Blocks}.Read() }

// Home is a person's front page as a message.
func (s *Server) Home(user string) Message {
	s.mu.Lock()
	defer s.mu.Unlock()
	return Message{Blocks: s.homes[user]}
}

func (m Message) blocks() (list []map[string]any) {
	_ = json.Unmarshal(m.Blocks, &list) // checked when it came
	return list
}

// Buttons are a message's buttons.
func (m Message) Buttons() (list []Button) {
	for _, b := range m.blocks() {
		elements := objects(b["elements"])
		if beside, ok := b["accessory"].(map[string]any); ok {
			elements = append(elements, beside)
		}
		for _, e := range elements {
			if text(e, "type") != "button" {
				continue
			}
			label, _ := e["text"].(map[string]any)
			list = append(list, Button{Block: text(b, "block_id"), ID: text(e, "action_id"), Label: text(label, "text"), Value: text(e, "value")})
		}
	}
	return list
}

// Menu is what a message's overflow menu offers; ID is the menu's own.
func (m Message) Menu() (list []Button) {
	for _, b := range m.blocks() {
		for _, e := range objects(b["elements"]) {
			for _, o := range objects(e["options"]) {
				label, _ := o["text"].(map[string]any)
				list = append(list, Button{Block: text(b, "block_id"), ID: text(e, "action_id"), Label: text(label, "text"), Value: text(o, "value"), menu: true})
			}
		}
	}
	return list
}

// Read is a message as a person reads it: the blocks where there are some,
// without marks and escapes, the buttons left out.
func (m Message) Read() string {
	if len(m.Blocks) == 0 {
		return readText(m.Text, true)
	}
	var lines []string
	for _, b := range m.blocks() {
		switch text(b, "type") {
		case "actions":
		case "table":
			rows, _ := b["rows"].([]any)
			for _, r := range rows {
				var cells []string
				for _, c := range objects(r) {
					cells = append(cells, text(c, "text"))
				}
				lines = append(lines, strings.Join(cells, " "))
			}
		case "context":
			for _, e := range objects(b["elements"]) {
				lines = append(lines, readObject(e))
			}
		default:
			if t, ok := b["text"].(map[string]any); ok {
				lines = append(lines, readObject(t))
			}
			for _, f := range objects(b["fields"]) {
				lines = append(lines, readObject(f))
			}
		}
	}
	return strings.Join(lines, "\n")
}

func readObject(t map[string]any) string {
	return readText(text(t, "text"), text(t, "type") == "mrkdwn")
}

var (
	emphasis = regexp.MustCompile(`(?m)(^|[\s(])([*_~])(\S(?:[^\n]*?\S)?)([*_~])($|[\s.,;:!?)])`)
	special  = regexp.MustCompile(`<([^<>]*)>`)
	escapes  = strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">")
	// looks are characters that a bot may write in the place of Slack's marks;
	// to a reader they are the same.
	looks = strings.NewReplacer("∗", "*", "ˍ", "_", "∼", "~", "ˋ", "`")
)

// readText is Slack's text as it is shown.
func readText(s string, markdown bool) string {
	if !markdown {
		return looks.Replace(s)
	}
	var lines []string
	for _, l := range strings.Split(s, "\n") {
		l = strings.TrimPrefix(l, "> ")
		if l == "```" {
			continue
		}
		if m := emphasis.FindStringSubmatch(l); m != nil && m[2] == m[4] && m[0] == l {
			l = m[1] + m[3] + m[5]
		}
		l = special.ReplaceAllString(l, "$1")
		lines = append(lines, escapes.Replace(strings.ReplaceAll(l, "`", "")))
	}
	return looks.Replace(strings.Join(lines, "\n"))
}

var address = regexp.MustCompile(`https?://[^\s|>]+|\bwww\.[^\s|>]+`)

// Pings are what in a message would notify somebody, show as a mention or be a
// link that can be followed.
func (m Message) Pings() (list []string) {
	list = append(list, special.FindAllString(m.Text, -1)...)
	if len(m.Blocks) == 0 {
		list = append(list, address.FindAllString(m.Text, -1)...)
	}
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case []any:
			for _, e := range v {
				walk(e)
			}
		case map[string]any:
			switch text(v, "type") {
			case "mrkdwn":
				list = append(list, special.FindAllString(text(v, "text"), -1)...)
				if verbatim, _ := v["verbatim"].(bool); !verbatim {
					list = append(list, address.FindAllString(text(v, "text"), -1)...)
				}
				return
			case "user", "usergroup", "broadcast", "channel", "link":
				list = append(list, string(encode(v)))
			}
			for _, e := range v {
				walk(e)
			}
		}
	}
	for _, b := range m.blocks() {
		walk(b)
	}
	return list
}

// Key is a value of the message's metadata.
func (m Message) Key(name string) string {
	var meta struct {
		Payload map[string]any `json:"event_payload"`
	}
	_ = json.Unmarshal(m.Metadata, &meta)
	return text(meta.Payload, name)
}
