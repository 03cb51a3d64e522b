package slackdouble

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Message is one as Slack keeps it.
type Message struct {
	Channel, TS, Thread string
	User, BotID         string
	Text                string          // as Slack keeps it, with its escapes
	Blocks              json.RawMessage // as the bot sent them
	Metadata            json.RawMessage
	Edited              string // when
	Only                string // the person who alone sees it
	Response            bool   // came by a response address
	Files               []File
	Arrived             time.Time // when it had been received, and was not read yet
}

// File is one that the bot uploaded.
type File struct {
	ID, Name, Alt string
	Size          int
}

// Said is what somebody says.
type Said struct {
	User, Channel, Thread, Text string
	Team                        string // of the event; empty: the bot's
	Bot                         string // the bot id, where a bot says it
}

func encode(v any) json.RawMessage {
	b, err := json.Marshal(v)
	if err != nil {
		panic(fmt.Sprintf("slack double: %v", err)) // maps of texts and numbers
	}
	return b
}

// callback is an event as the Events API sends it; mu is held.
func (s *Server) callback(team string, event map[string]any) envelope {
	if team == "" {
		team = s.opts.Team
	}
	return envelope{kind: "events_api", payload: encode(map[string]any{
		"type": "event_callback", "team_id": team, "api_app_id": s.opts.App, "event": event,
		"event_id": s.id("Ev"), "event_time": time.Now().Unix(), "is_ext_shared_channel": false,
		"authorizations": []any{map[string]any{"team_id": s.opts.Team, "user_id": s.opts.Bot, "is_bot": true, "is_enterprise_install": false}},
	})}
}

// subscribed says whether the app has asked for an event; mu is held.
func (s *Server) subscribed(name string) bool {
	return s.opts.Events == nil || slices.Contains(s.opts.Events, name)
}

// Say says something and gives its timestamp. A message that mentions the bot
// is told twice, as by Slack.
func (s *Server) Say(m Said) (ts string, err error) {
	s.mu.Lock()
	c := s.channels[m.Channel]
	if c == nil {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no channel %q", m.Channel)
	}
	ts = s.stamp()
	msg := &Message{Channel: c.id, TS: ts, Thread: m.Thread, User: m.User, BotID: m.Bot, Text: m.Text}
	s.store(c, msg)
	list := s.told(c, msg, m.Team)
	s.mu.Unlock()
	s.deliver(c.id+"/"+ts, list...)
	return ts, nil
}

// told are the events that tell of a message; mu is held.
func (s *Server) told(c *channel, m *Message, team string) (list []envelope) {
	if !c.member {
		return nil
	}
	event := s.messageEvent(c, m)
	event["event_ts"] = m.TS
	if s.subscribed(s.messageName(c)) {
		list = append(list, s.callback(team, event))
	}
	if c.direct == "" && s.mentioned(m.Text) && s.subscribed("app_mention") {
		again := maps.Clone(event)
		again["type"] = "app_mention"
		delete(again, "channel_type")
		list = append(list, s.callback(team, again))
	}
	return list
}

func (s *Server) mentioned(text string) bool {
	return strings.Contains(text, "<@"+s.opts.Bot+">") || strings.Contains(text, "<@"+s.opts.Bot+"|")
}

func (s *Server) messageName(c *channel) string {
	if c.direct != "" {
		return "message.im"
	}
	if strings.HasPrefix(c.id, "G") {
		return "message.groups"
	}
	return "message.channels"
}

func channelType(c *channel) string {
	switch {
	case c.direct != "":
		return "im"
	case strings.HasPrefix(c.id, "G"):
		return "group"
	}
	return "channel"
}

// inner is a message as Slack shows it in events and answers; mu is held.
func (s *Server) inner(c *channel, m *Message, metadata bool) map[string]any {
	out := map[string]any{"type": "message", "user": m.User, "text": m.Text, "ts": m.TS, "team": s.opts.Team}
	if m.Thread != "" {
		out["thread_ts"] = m.Thread
		if root := c.byTS[m.Thread]; root != nil && m.Thread != m.TS {
			out["parent_user_id"] = root.User
		}
	} else if c.hasReplies(m.TS) {
		out["thread_ts"] = m.TS
	}
	if m.BotID != "" {
		out["bot_id"] = m.BotID
	}
	if m.Edited != "" {
		out["edited"] = map[string]any{"user": m.User, "ts": m.Edited}
	}
	if len(m.Blocks) > 0 {
		out["blocks"] = m.Blocks
	}
	if metadata && len(m.Metadata) > 0 {
		out["metadata"] = m.Metadata
	}
	if len(m.Files) > 0 {
		var files []any
		for _, f := range m.Files {
			files = append(files, map[string]any{"id": f.ID, "name": f.Name, "size": f.Size})
		}
		out["files"], out["subtype"] = files, "file_share"
	}
	return out
}

func (c *channel) hasReplies(ts string) bool {
	// Replies are among the latest: a long channel is not gone through.
	for i := len(c.messages) - 1; i >= 0 && i > len(c.messages)-500; i-- {
		if c.messages[i].Thread == ts {
			return true
		}
	}
	return false
}

func (s *Server) messageEvent(c *channel, m *Message) map[string]any {
	event := s.inner(c, m, false)
	event["channel"], event["channel_type"] = c.id, channelType(c)
	return event
}

// Edit changes what somebody said, and gives the deed.
func (s *Server) Edit(channel, ts, text string) (deed string, err error) {
	s.mu.Lock()
	c := s.channels[channel]
	if c == nil || c.byTS[ts] == nil {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no message %s in %s", ts, channel)
	}
	m := c.byTS[ts]
	before := s.inner(c, m, false)
	fresh := !s.mentioned(m.Text) && s.mentioned(text)
	m.Text, m.Edited = text, s.stamp()
	list := s.changed(c, m, before)
	if fresh && c.direct == "" && c.member && s.subscribed("app_mention") {
		again := s.messageEvent(c, m)
		again["type"], again["event_ts"] = "app_mention", m.Edited
		list = append(list, s.callback("", again))
	}
	deed = channel + "/" + ts + "/edited/" + m.Edited
	s.mu.Unlock()
	s.deliver(deed, list...)
	return deed, nil
}

// changed tells of a message that was changed; mu is held.
func (s *Server) changed(c *channel, m *Message, before map[string]any) []envelope {
	if !c.member || !s.subscribed(s.messageName(c)) {
		return nil
	}
	return []envelope{s.callback("", map[string]any{
		"type": "message", "subtype": "message_changed", "channel": c.id, "channel_type": channelType(c), "hidden": true,
		"ts": s.stamp(), "event_ts": s.stamp(), "message": s.inner(c, m, false), "previous_message": before,
	})}
}

// Delete deletes a message as a person does, and tells of it.
func (s *Server) Delete(channel, ts string) {
	s.mu.Lock()
	c := s.channels[channel]
	m := c.byTS[ts]
	if m == nil {
		s.mu.Unlock()
		return
	}
	before := s.inner(c, m, false)
	delete(c.byTS, ts)
	c.messages = slices.DeleteFunc(c.messages, func(o *Message) bool { return o.TS == ts })
	var list []envelope
	if c.member && s.subscribed(s.messageName(c)) {
		list = append(list, s.callback("", map[string]any{
			"type": "message", "subtype": "message_deleted", "channel": c.id, "channel_type": channelType(c), "hidden": true,
			"ts": s.stamp(), "event_ts": s.stamp(), "deleted_ts": ts, "previous_message": before,
		}))
	}
	s.mu.Unlock()
	s.deliver(channel+"/"+ts+"/deleted", list...)
}

// AddGuest adds somebody whom the workspace lets into some channels alone.
func (s *Server) AddGuest(id, name string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.users[id], s.guests[id] = name, true
}

// AddOutsider adds somebody of another organisation, whom a shared channel or a
// direct message brings along.
func (s *Server) AddOutsider(id, name, team string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.users[id], s.outside[id] = name, team
}

// SetMetadata gives a message other metadata, as another process might have.
func (s *Server) SetMetadata(channel, ts string, metadata any) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	c := s.channels[channel]
	if c == nil || c.byTS[ts] == nil {
		return fmt.Errorf("slack double: no message %s in %s", ts, channel)
	}
	c.byTS[ts].Metadata = encode(metadata)
	return nil
}

// Unfurl sends the event of a message under which a link was unfolded: it was
// changed, but by nobody.
func (s *Server) Unfurl(channel, ts string) error {
	s.mu.Lock()
	c := s.channels[channel]
	if c == nil || c.byTS[ts] == nil {
		s.mu.Unlock()
		return fmt.Errorf("slack double: no message %s in %s", ts, channel)
	}
	m := c.byTS[ts]
	list := s.changed(c, m, s.inner(c, m, false))
	s.mu.Unlock()
	s.deliver("", list...)
	return nil
}

// trigger makes a trigger id; mu is held.
func (s *Server) trigger(user string) string {
	id := s.id("") + "." + s.id("") + ".double"
	s.triggers[id] = &trigger{made: time.Now(), user: user}
	return id
}

// response makes a response address; mu is held.
func (s *Server) response(r reply) string {
	id := s.id("R")
	r.made = time.Now()
	s.replies[id] = &r
	return s.base() + "/response/" + id
}

func (s *Server) person(user string) map[string]any {
	return map[string]any{"id": user, "username": s.users[user], "name": s.users[user], "team_id": s.opts.Team}
}

// Command types /firn with a text in a channel. It gives the deed, and an error
// where the person would see one.
func (s *Server) Command(user, channel, text string) (deed string, err error) {
	return s.CommandFrom(s.opts.Team, user, channel, text)
}

// CommandFrom is Command in a workspace.
func (s *Server) CommandFrom(team, user, channel, text string) (deed string, err error) {
	s.mu.Lock()
	name := "crew"
	if c := s.channels[channel]; c != nil && c.direct != "" {
		name = "directmessage"
	}
	payload := map[string]any{
		"team_id": team, "team_domain": "double", "channel_id": channel, "channel_name": name, "user_id": user,
		"user_name": s.users[user], "command": "/firn", "text": text, "api_app_id": s.opts.App, "is_enterprise_install": "false",
		"response_url": s.response(reply{channel: channel, user: user}), "trigger_id": s.trigger(user),
	}
	deed = "command/" + s.id("")
	s.mu.Unlock()
	answer, err := s.ask(deed, envelope{kind: "slash_commands", payload: encode(payload), accepts: true})
	if err == nil && len(answer) > 0 && string(answer) != "null" {
		s.problem("a command was answered in its acknowledgement: the bot is not to")
	}
	return deed, err
}

// Button is a button that somebody can press, or an option of a menu.
type Button struct {
	Block, ID, Label, Value string
	menu                    bool
}

// find is a message that somebody sees; mu is held.
func (s *Server) find(channel, ts string) (c *channel, m *Message) {
	if c = s.channels[channel]; c != nil {
		m = c.byTS[ts]
	}
	for _, p := range s.private {
		if p.Channel == channel && p.TS == ts {
			m = p
		}
	}
	return c, m
}

// Press presses a button of a message, by its action id.
func (s *Server) Press(user, channel, ts, action string) (deed string, err error) {
	return s.act(user, channel, ts, func(m *Message) []Button { return m.Buttons() }, func(b Button) bool { return b.ID == action })
}

// Choose chooses from the overflow menu of a message, by the option's value.
func (s *Server) Choose(user, channel, ts, value string) (deed string, err error) {
	return s.act(user, channel, ts, func(m *Message) []Button { return m.Menu() }, func(b Button) bool { return b.Value == value })
}

func (s *Server) act(user, channel, ts string, of func(*Message) []Button, is func(Button) bool) (deed string, err error) {
	s.mu.Lock()
	c, m := s.find(channel, ts)
	if m == nil {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no message %s in %s", ts, channel)
	}
	all := of(m)
	at := slices.IndexFunc(all, is)
	if at < 0 {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no button as that among %+v in %s", all, m.Read())
	}
	b := &all[at]
	container := map[string]any{"type": "message", "message_ts": ts, "channel_id": channel, "is_ephemeral": m.Only != ""}
	if m.Thread != "" {
		container["thread_ts"] = m.Thread
	}
	payload := s.press(user, b, container)
	payload["channel"] = map[string]any{"id": channel, "name": channelType(c)}
	payload["response_url"] = s.response(reply{channel: channel, thread: m.Thread, user: user, message: m, ephemeral: m.Only != ""})
	if m.Only == "" {
		payload["message"] = s.inner(c, m, true)
	}
	deed = "press/" + s.id("")
	s.mu.Unlock()
	_, err = s.ask(deed, envelope{kind: "interactive", payload: encode(payload)})
	return deed, err
}

// press is what all presses send; mu is held.
func (s *Server) press(user string, b *Button, container map[string]any) map[string]any {
	action := map[string]any{"action_id": b.ID, "block_id": b.Block, "action_ts": s.stamp()}
	label := map[string]any{"type": "plain_text", "text": b.Label}
	if b.menu {
		action["type"], action["selected_option"] = "overflow", map[string]any{"text": label, "value": b.Value}
	} else {
		action["type"], action["value"], action["text"] = "button", b.Value, label
	}
	return map[string]any{
		"type": "block_actions", "user": s.person(user), "api_app_id": s.opts.App, "container": container,
		"trigger_id": s.trigger(user), "team": map[string]any{"id": s.opts.Team, "domain": "double"},
		"state":   map[string]any{"values": map[string]any{}},
		"actions": []any{action},
	}
}

// PressHome presses a button of a person's front page, by its action id, or
// chooses from its menu, by the option's value.
func (s *Server) PressHome(user, action string) (deed string, err error) {
	s.mu.Lock()
	home := &Message{Blocks: s.homes[user]}
	var b *Button
	for _, have := range append(home.Buttons(), home.Menu()...) {
		if have.ID == action || have.menu && have.Value == action {
			b = &have
		}
	}
	if b == nil {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no button %q on the front page of %s", action, user)
	}
	payload := s.press(user, b, map[string]any{"type": "view", "view_id": "V0HOME"})
	payload["view"] = map[string]any{"id": "V0HOME", "type": "home", "callback_id": "", "private_metadata": ""}
	deed = "press/" + s.id("")
	s.mu.Unlock()
	_, err = s.ask(deed, envelope{kind: "interactive", payload: encode(payload)})
	return deed, err
}

// Shortcut uses a shortcut of a message.
func (s *Server) Shortcut(user, channel, ts, callback string) (deed string, err error) {
	s.mu.Lock()
	c, m := s.find(channel, ts)
	if m == nil {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no message %s in %s", ts, channel)
	}
	payload := map[string]any{
		"type": "message_action", "callback_id": callback, "user": s.person(user), "trigger_id": s.trigger(user), "message_ts": ts,
		"action_ts": s.stamp(), "team": map[string]any{"id": s.opts.Team}, "channel": map[string]any{"id": channel, "name": channelType(c)},
		"response_url": s.response(reply{channel: channel, user: user}), "message": s.inner(c, m, false),
	}
	deed = "shortcut/" + s.id("")
	s.mu.Unlock()
	_, err = s.ask(deed, envelope{kind: "interactive", payload: encode(payload)})
	return deed, err
}

// Lightning uses a shortcut that belongs to no message.
func (s *Server) Lightning(user, callback string) (deed string, err error) {
	s.mu.Lock()
	payload := map[string]any{
		"type": "shortcut", "callback_id": callback, "user": s.person(user), "trigger_id": s.trigger(user),
		"action_ts": s.stamp(), "team": map[string]any{"id": s.opts.Team},
	}
	deed = "shortcut/" + s.id("")
	s.mu.Unlock()
	_, err = s.ask(deed, envelope{kind: "interactive", payload: encode(payload)})
	return deed, err
}

// OpenHome opens the bot's App Home.
func (s *Server) OpenHome(user string) (deed string) {
	s.mu.Lock()
	c := s.direct(user)
	ts := s.stamp()
	deed = "home/" + user + "/" + ts
	var list []envelope
	if s.subscribed("app_home_opened") {
		list = append(list, s.callback("", map[string]any{"type": "app_home_opened", "user": user, "channel": c.id, "tab": "home", "event_ts": ts}))
	}
	s.mu.Unlock()
	s.deliver(deed, list...)
	return deed
}

// View is a form that is or was open.
type View struct {
	ID, User, Callback, Private, Hash string
	Blocks                            json.RawMessage
	Open                              bool
	Problems                          map[string]string // beside its fields
}

// Views are the forms of a person, the oldest first.
func (s *Server) Views(user string) (list []View) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, v := range s.views {
		if v.User == user {
			list = append(list, *v)
		}
	}
	slices.SortFunc(list, func(a, b View) int { return strings.Compare(a.ID, b.ID) })
	return list
}

// View is a form by its id.
func (s *Server) View(id string) (View, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if v := s.views[id]; v != nil {
		c := *v
		c.Problems = maps.Clone(v.Problems)
		return c, true
	}
	return View{}, false
}

// Suggest types into a select of a form, and gives the choices.
func (s *Server) Suggest(view, block, typed string) (values []string, err error) {
	s.mu.Lock()
	v := s.views[view]
	if v == nil {
		s.mu.Unlock()
		return nil, fmt.Errorf("slack double: no form %q", view)
	}
	payload := map[string]any{
		"type": "block_suggestion", "user": s.person(v.User), "action_id": "pick", "block_id": block, "value": typed,
		"team": map[string]any{"id": s.opts.Team}, "container": map[string]any{"type": "view", "view_id": view},
		"view": map[string]any{"id": v.ID, "type": "modal", "callback_id": v.Callback, "private_metadata": v.Private},
	}
	deed := "suggest/" + s.id("")
	s.mu.Unlock()
	answer, err := s.ask(deed, envelope{kind: "interactive", payload: encode(payload), accepts: true})
	if err != nil {
		return nil, err
	}
	var got struct {
		Options []json.RawMessage `json:"options"`
	}
	if err := json.Unmarshal(answer, &got); err != nil {
		return nil, fmt.Errorf("slack double: choices that cannot be read: %w", err)
	}
	if got.Options == nil {
		return nil, errors.New("slack double: no list of choices")
	}
	if len(got.Options) > 100 {
		return nil, fmt.Errorf("slack double: %d choices", len(got.Options))
	}
	k := &checker{}
	for i, o := range got.Options {
		var m map[string]any
		_ = json.Unmarshal(o, &m)
		k.option("choice "+strconv.Itoa(i), m)
		value, _ := m["value"].(string)
		values = append(values, value)
	}
	if len(k.bad) > 0 {
		return nil, fmt.Errorf("slack double: %s", strings.Join(k.bad, "; "))
	}
	return values, nil
}

// Submit fills fields of a form in, by block, and sends it. Fields that are not
// given keep what stands in them. Afterwards the form is closed, or has
// problems.
func (s *Server) Submit(view string, fields map[string]string) (deed string, err error) {
	s.mu.Lock()
	v := s.views[view]
	if v == nil || !v.Open {
		s.mu.Unlock()
		return "", fmt.Errorf("slack double: no open form %q", view)
	}
	values, missing := v.fill(fields)
	if len(missing) > 0 {
		// The client does not send such a form.
		v.Problems = map[string]string{}
		for _, block := range missing {
			v.Problems[block] = "Please complete this required field."
		}
		s.mu.Unlock()
		return "", nil
	}
	payload := map[string]any{
		"type": "view_submission", "team": map[string]any{"id": s.opts.Team}, "user": s.person(v.User), "api_app_id": s.opts.App,
		"trigger_id": s.trigger(v.User), "response_urls": []any{},
		"view": map[string]any{
			"id": v.ID, "type": "modal", "callback_id": v.Callback, "private_metadata": v.Private, "hash": v.Hash, "blocks": v.Blocks,
			"state": map[string]any{"values": values},
		},
	}
	deed = "submit/" + s.id("")
	s.mu.Unlock()
	answer, err := s.ask(deed, envelope{kind: "interactive", payload: encode(payload), accepts: true})
	if err != nil {
		return deed, err
	}
	var got struct {
		Action string            `json:"response_action"`
		Errors map[string]string `json:"errors"`
	}
	if len(answer) > 0 {
		if err := json.Unmarshal(answer, &got); err != nil {
			return deed, fmt.Errorf("slack double: an answer to a form that cannot be read: %w", err)
		}
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	v.Problems = nil
	if got.Action != "errors" {
		v.Open = false
		return deed, nil
	}
	have := v.inputs()
	for block, text := range got.Errors {
		if !slices.ContainsFunc(have, func(in input) bool { return in.block == block }) {
			s.note("a problem beside %q, which is no input of the form", block)
		}
		if text == "" {
			s.note("an empty problem beside %q", block)
		}
	}
	if len(got.Errors) == 0 {
		s.note("a form was sent back without problems")
	}
	v.Problems = got.Errors
	return deed, nil
}

// Fields are what stands in a form, by block.
func (v View) Fields() map[string]string {
	out := map[string]string{}
	for _, in := range v.inputs() {
		out[in.block] = in.initial
	}
	return out
}

type input struct {
	block, action, kind, initial string
	optional                     bool
}

func (v *View) inputs() (list []input) {
	var blocks []map[string]any
	_ = json.Unmarshal(v.Blocks, &blocks)
	for _, b := range blocks {
		if text(b, "type") != "input" {
			continue
		}
		element, _ := b["element"].(map[string]any)
		in := input{block: text(b, "block_id"), action: text(element, "action_id"), kind: text(element, "type"), initial: text(element, "initial_value")}
		in.optional, _ = b["optional"].(bool)
		if o, ok := element["initial_option"].(map[string]any); ok {
			in.initial = text(o, "value")
		}
		list = append(list, in)
	}
	return list
}

// fill makes the state of a form.
func (v *View) fill(fields map[string]string) (values map[string]any, missing []string) {
	values = map[string]any{}
	var blocks []map[string]any
	_ = json.Unmarshal(v.Blocks, &blocks)
	for _, in := range v.inputs() {
		value, given := fields[in.block]
		if !given {
			value = in.initial
		}
		if value == "" && !in.optional {
			missing = append(missing, in.block)
		}
		state := map[string]any{"type": in.kind}
		if strings.HasSuffix(in.kind, "_select") {
			state["selected_option"] = nil
			if value != "" {
				state["selected_option"] = map[string]any{"value": value, "text": map[string]any{"type": "plain_text", "text": value}}
			}
		} else {
			state["value"] = value
		}
		values[in.block] = map[string]any{in.action: state}
		// What was typed stays in the form that is sent back.
		for _, b := range blocks {
			if element, ok := b["element"].(map[string]any); ok && text(b, "block_id") == in.block {
				if strings.HasSuffix(in.kind, "_select") {
					delete(element, "initial_option")
					if value != "" {
						element["initial_option"] = state["selected_option"]
					}
				} else {
					element["initial_value"] = value
				}
			}
		}
	}
	v.Blocks = encode(blocks)
	return values, missing
}

func text(m map[string]any, name string) string {
	s, _ := m[name].(string)
	return s
}
