package discorddouble

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
)

// Say is a message of a person.
type Say struct {
	Channel string // a channel, a thread, or DM(person)
	By      string // id of a person
	Text    string // as Discord has it: a mention is <@ID>
	Reply   string // id of the message it answers
	Quiet   bool   // the reply does not ping
}

// Mention is how the bot is mentioned.
func (s *Server) Mention() string { return "<@" + s.set.Bot.ID + ">" }

// Say lets a person say something and gives the message's id.
func (s *Server) Say(m Say) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[m.Channel]
	if c == nil {
		return "", fmt.Errorf("discord double: no channel %s", m.Channel)
	}
	if _, ok := s.people[m.By]; !ok {
		return "", fmt.Errorf("discord double: no person %s", m.By)
	}
	msg := &Message{ID: s.id(), Channel: c.ID, Guild: c.Guild, Author: m.By, Content: m.Text, Reply: m.Reply}
	if m.Reply != "" {
		msg.kind = 19
	}
	s.mention(msg, !m.Quiet)
	s.add(c, msg)
	s.remember(msg.ID, "MESSAGE_CREATE", msg)
	s.announce("MESSAGE_CREATE", msg)
	return msg.ID, nil
}

// mention finds whom a message mentions.
func (s *Server) mention(m *Message, ping bool) {
	m.Mentions = nil
	note := func(id string) {
		if !slices.Contains(m.Mentions, id) {
			m.Mentions = append(m.Mentions, id)
		}
	}
	for _, id := range append([]string{s.set.Bot.ID}, personIDs(s.set.People)...) {
		if strings.Contains(m.Content, "<@"+id+">") || strings.Contains(m.Content, "<@!"+id+">") {
			note(id)
		}
	}
	if to := s.find(m.Channel, m.Reply); to != nil && ping {
		note(to.Author)
	}
}

func personIDs(list []Person) []string {
	var ids []string
	for _, p := range list {
		ids = append(ids, p.ID)
	}
	return ids
}

// remember keeps a deed so that it can be sent again; a message of it is
// copied, so that what comes again is what came.
func (s *Server) remember(id, event string, what any) {
	d := deed{event: event}
	if m, ok := what.(*Message); ok {
		c := m.copy()
		d.data, d.guild = &c, m.Guild
	} else {
		d.data = what
	}
	s.deeds[id] = append(s.deeds[id], d)
	s.deedOrder = append(s.deedOrder, id)
	if len(s.deedOrder) > 1000 {
		delete(s.deeds, s.deedOrder[0])
		s.deedOrder = s.deedOrder[1:]
	}
}

// Edit lets the author of a message change it, and gives the deed's id for
// Redeliver.
func (s *Server) Edit(channel, message, text string) (deed string, err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.find(channel, message)
	if m == nil {
		return "", fmt.Errorf("discord double: no message %s", message)
	}
	m.Content, m.Edited = text, time.Now().Truncate(time.Microsecond)
	s.mention(m, true)
	deed = m.ID + "@" + s.id()
	s.remember(deed, "MESSAGE_UPDATE", m)
	s.announce("MESSAGE_UPDATE", m)
	return deed, nil
}

// Delete takes a message away, and tells of it.
func (s *Server) Delete(channel, message string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.find(channel, message)
	if !s.remove(channel, message) {
		return
	}
	gone := map[string]any{"id": message, "channel_id": channel}
	if m.Guild != "" {
		gone["guild_id"] = m.Guild
	}
	s.dispatch("MESSAGE_DELETE", m.Guild, func(bool) any { return gone })
}

func (s *Server) remove(channel, message string) bool {
	c := s.channels[channel]
	if c == nil {
		return false
	}
	n := len(c.messages)
	c.messages = slices.DeleteFunc(c.messages, func(m *Message) bool { return m.ID == message })
	s.tell()
	return len(c.messages) < n
}

// Redeliver sends a deed again: a message (by its id), an edit, an
// interaction.
func (s *Server) Redeliver(id string) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.deeds[id]) == 0 {
		return fmt.Errorf("discord double: nothing known of %s", id)
	}
	for _, d := range s.deeds[id] {
		if m, ok := d.data.(*Message); ok {
			s.announce(d.event, m)
			if d.event == "MESSAGE_CREATE" { // the preview of a link comes as an update
				s.announce("MESSAGE_UPDATE", m)
			}
			continue
		}
		s.dispatch(d.event, d.guild, func(bool) any { return d.data })
	}
	return nil
}

// Command lets a person use /firn with a subcommand and its options, and
// gives the interaction's id. Once commands are registered there are no others.
func (s *Server) Command(channel, by, sub string, options map[string]string) (string, error) {
	if err := s.registered(sub, options, ""); err != nil {
		return "", err
	}
	return s.interact(channel, by, 2, nil, typing(sub, options, ""))
}

// typing is the data of a command whose options are filled in, or of which one
// is.
func typing(sub string, options map[string]string, focused string) map[string]any {
	var list []any
	for _, name := range slices.Sorted(maps.Keys(options)) {
		o := map[string]any{"name": name, "type": 3, "value": options[name]}
		if name == focused {
			o["focused"] = true
		}
		list = append(list, o)
	}
	return map[string]any{
		"id": "1", "name": "firn", "type": 1,
		"options": []any{map[string]any{"name": sub, "type": 1, "options": list}},
	}
}

// registered says why Discord's client would not let somebody use a subcommand,
// or would offer nothing for the focused option.
func (s *Server) registered(sub string, options map[string]string, focused string) error {
	type option struct {
		Name         string
		Required     bool
		Autocomplete bool
		Options      []option
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, raw := range s.commands {
		var all []option
		if err := json.Unmarshal(raw, &all); err != nil {
			return err
		}
		for _, c := range all {
			at := slices.IndexFunc(c.Options, func(o option) bool { return o.Name == sub })
			if c.Name != "firn" || at < 0 {
				continue
			}
			known := map[string]option{}
			for _, o := range c.Options[at].Options {
				known[o.Name] = o
				if _, given := options[o.Name]; o.Required && !given && focused == "" {
					return fmt.Errorf("discord double: %s of /firn %s is required", o.Name, sub)
				}
			}
			for name := range options {
				if o, ok := known[name]; !ok || name == focused && !o.Autocomplete {
					return fmt.Errorf("discord double: /firn %s has no %q, or offers nothing for it", sub, name)
				}
			}
			return nil
		}
	}
	if len(s.commands) > 0 {
		return fmt.Errorf("discord double: there is no /firn %s", sub)
	}
	return nil
}

// CommandOn lets a person use a command on a message, and gives the
// interaction's id.
func (s *Server) CommandOn(channel, message, by, name string) (string, error) {
	m, object, err := s.seen(channel, message, by)
	if err != nil {
		return "", err
	}
	// The message comes whole, also to a bot without the message content intent.
	return s.interact(channel, by, 2, nil, map[string]any{
		"id": "2", "name": name, "type": 3, "target_id": m.ID,
		"resolved": map[string]any{"messages": map[string]any{m.ID: object}},
	})
}

// Autocomplete lets a person type into one of the options of a subcommand and
// gives what is offered.
func (s *Server) Autocomplete(ctx context.Context, channel, by, sub, option string, options map[string]string) ([]Choice, error) {
	if err := s.registered(sub, options, option); err != nil {
		return nil, err
	}
	id, err := s.interact(channel, by, 4, nil, typing(sub, options, option))
	if err != nil {
		return nil, err
	}
	var choices []Choice
	err = s.Wait(ctx, func() bool {
		s.mu.Lock()
		defer s.mu.Unlock()
		i := s.interactions[id]
		choices = i.choices
		return i.state != open
	})
	return choices, err
}

// Press lets a person press a button, which is found by its custom id or its
// label.
func (s *Server) Press(channel, message, by, button string) (string, error) {
	m, object, err := s.seen(channel, message, by)
	if err != nil {
		return "", err
	}
	for _, row := range m.Rows {
		for _, b := range row {
			if (b.CustomID == button || b.Label == button) && !b.Disabled {
				return s.interact(channel, by, 3, object, map[string]any{"custom_id": b.CustomID, "component_type": 2})
			}
		}
	}
	return "", fmt.Errorf("discord double: no button %q", button)
}

// Choose lets a person choose an option of a message's menu, which is found by
// its value or its label.
func (s *Server) Choose(channel, message, by, option string) (string, error) {
	m, object, err := s.seen(channel, message, by)
	if err != nil {
		return "", err
	}
	for _, menu := range m.Menus {
		for _, o := range menu.Options {
			if o.Value == option || o.Label == option {
				return s.interact(channel, by, 3, object, map[string]any{"custom_id": menu.CustomID, "component_type": 3, "values": []string{o.Value}})
			}
		}
	}
	return "", fmt.Errorf("discord double: no option %q", option)
}

// seen is a message as a person sees it, and as an interaction brings it.
func (s *Server) seen(channel, message, by string) (Message, map[string]any, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	m := s.find(channel, message)
	if m == nil {
		return Message{}, nil, fmt.Errorf("discord double: no message %s", message)
	}
	if m.Only != "" && m.Only != by {
		return Message{}, nil, errors.New("discord double: the person does not see that message")
	}
	return m.copy(), s.object(m, false, true), nil
}

// Form is an open form.
type Form struct {
	Title, CustomID string
	Values          map[string]string // what stands in each field
	Labels          map[string]string
}

// Form is the form that an interaction opened.
func (s *Server) Form(interaction string) (Form, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	i := s.interactions[interaction]
	if i == nil || i.form == nil {
		return Form{}, false
	}
	return *i.form, true
}

// Submit fills in the form that an interaction opened and sends it. Fields
// that are not named keep what stands in them.
func (s *Server) Submit(interaction string, fields map[string]string) (string, error) {
	s.mu.Lock()
	i := s.interactions[interaction]
	if i == nil || i.form == nil {
		s.mu.Unlock()
		return "", errors.New("discord double: no form is open")
	}
	var rows []any
	for name, value := range i.form.Values {
		if v, ok := fields[name]; ok {
			value = v
		}
		rows = append(rows, map[string]any{"type": 1, "components": []any{map[string]any{"type": 4, "custom_id": name, "value": value}}})
	}
	channel, by, custom := i.channel, i.by, i.form.CustomID
	s.mu.Unlock()
	return s.interact(channel, by, 5, nil, map[string]any{"custom_id": custom, "components": rows})
}

// Choice is what is offered while somebody types.
type Choice struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// interact begins an interaction.
func (s *Server) interact(channel, by string, kind int, message, data map[string]any) (string, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil {
		return "", fmt.Errorf("discord double: no channel %s", channel)
	}
	if _, ok := s.people[by]; !ok {
		return "", fmt.Errorf("discord double: no person %s", by)
	}
	i := &interaction{id: s.id(), kind: kind, channel: channel, guild: c.Guild, by: by, began: time.Now()}
	i.token = "interaction-" + i.id + "-" + strings.Repeat("t", 40)
	if message != nil {
		i.on, _ = message["id"].(string)
	}
	s.interactions[i.id], s.interactions[i.token] = i, i
	if s.recent = append(s.recent, i.id); len(s.recent) > 5000 {
		if old := s.interactions[s.recent[0]]; old != nil {
			delete(s.interactions, old.token)
			delete(s.interactions, old.id)
		}
		s.recent = s.recent[1:]
	}
	o := map[string]any{
		"id": i.id, "application_id": s.set.Bot.ID, "type": kind, "token": i.token, "version": 1,
		"channel_id": channel, "channel": s.channelObject(c), "data": data, "locale": "en-GB",
		"app_permissions": "274877990912", "entitlements": []any{}, "context": 0,
	}
	if c.Guild != "" {
		member := s.member(by)
		member["user"] = s.user(by)
		o["guild_id"], o["member"] = c.Guild, member
	} else {
		o["user"], o["context"] = s.user(by), 1
	}
	if message != nil {
		o["message"] = message
	}
	raw, err := json.Marshal(o)
	if err != nil {
		return "", err
	}
	s.remember(i.id, "INTERACTION_CREATE", json.RawMessage(raw))
	s.dispatch("INTERACTION_CREATE", c.Guild, func(bool) any { return json.RawMessage(raw) })
	return i.id, nil
}
