package discorddouble

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image/png"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"slices"
	"strings"
	"time"
	"unicode/utf8"
)

// Message is one as it stands in a channel.
type Message struct {
	ID, Channel, Guild string
	Author             string
	Content            string
	Embeds             []Embed
	Rows               [][]Button
	Menus              []Menu
	Attachments        []Attachment
	Reply              string // id of the message it refers to
	Flags              int
	Edited             time.Time
	Only               string // who alone sees it
	Nonce              string
	Hook               bool     // made by an interaction
	Mentions           []string // people whom it mentions

	kind       int
	components json.RawMessage
}

const flagEphemeral = 64

func (m *Message) copy() Message {
	c := *m
	c.Embeds, c.Rows, c.Attachments = slices.Clone(m.Embeds), slices.Clone(m.Rows), slices.Clone(m.Attachments)
	c.Menus = slices.Clone(m.Menus)
	return c
}

// Components are the buttons and menus as the bot sent them.
func (m Message) Components() json.RawMessage { return m.components }

// Button is one of a message.
type Button struct {
	Type     int    `json:"type"`
	Style    int    `json:"style"`
	Label    string `json:"label"`
	CustomID string `json:"custom_id"`
	Disabled bool   `json:"disabled"`
	URL      string `json:"url,omitempty"`
}

// Menu is a select of a message, in which one option is chosen.
type Menu struct {
	CustomID    string   `json:"custom_id"`
	Placeholder string   `json:"placeholder"`
	Options     []Option `json:"options"`
}

// Option is one that a Menu has.
type Option struct {
	Label string `json:"label"`
	Value string `json:"value"`
}

// Embed is a part of a message.
type Embed struct {
	Type        string  `json:"type,omitempty"`
	Title       string  `json:"title,omitempty"`
	Description string  `json:"description,omitempty"`
	URL         string  `json:"url,omitempty"`
	Color       int     `json:"color,omitempty"`
	Footer      *Footer `json:"footer,omitempty"`
	Image       *Image  `json:"image,omitempty"`
	Fields      []Field `json:"fields,omitempty"`
	Author      *Name   `json:"author,omitempty"`
}

// The parts of an Embed.
type (
	// Footer stands under it.
	Footer struct {
		Text string `json:"text"`
	}
	// Image is shown in it.
	Image struct {
		URL string `json:"url"`
	}
	// Name stands above it.
	Name struct {
		Name string `json:"name"`
	}
	// Field is a name and a value.
	Field struct {
		Name   string `json:"name"`
		Value  string `json:"value"`
		Inline bool   `json:"inline,omitempty"`
	}
)

// Attachment is a file of a message.
type Attachment struct {
	ID          string
	Name        string
	Kind        string
	Description string
	Data        []byte
}

// payload is the body of a message as it comes; nil where a field is absent.
type payload struct {
	Content     *string          `json:"content"`
	Embeds      *[]Embed         `json:"embeds"`
	Components  *json.RawMessage `json:"components"`
	Mentions    *json.RawMessage `json:"allowed_mentions"`
	Attachments *[]struct {
		ID          json.RawMessage `json:"id"`
		Filename    string          `json:"filename"`
		Description string          `json:"description"`
	} `json:"attachments"`
	Reference *struct {
		Message string `json:"message_id"`
		Channel string `json:"channel_id"`
		Must    *bool  `json:"fail_if_not_exists"`
	} `json:"message_reference"`
	Nonce   json.RawMessage `json:"nonce"`
	Enforce bool            `json:"enforce_nonce"`
	Flags   int             `json:"flags"`

	files map[string]Attachment // by index
}

// problems are what Discord refuses, by field.
type problems map[string]string

func (p problems) add(field, format string, a ...any) {
	if p[field] == "" {
		p[field] = fmt.Sprintf(format, a...)
	}
}

// body reads the JSON of a request, and the files beside it.
func body(r *http.Request, raw []byte) (data []byte, files map[string]Attachment, err error) {
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		return nil, nil, errors.New("no content type")
	}
	switch kind {
	case "application/json":
		return raw, nil, nil
	case "multipart/form-data":
	default:
		return nil, nil, fmt.Errorf("content type %s", kind)
	}
	files = map[string]Attachment{}
	reader := multipart.NewReader(bytes.NewReader(raw), params["boundary"])
	for {
		part, err := reader.NextPart()
		if errors.Is(err, io.EOF) {
			return data, files, nil
		}
		if err != nil {
			return nil, nil, err
		}
		content, err := io.ReadAll(part)
		if err != nil {
			return nil, nil, err
		}
		name := part.FormName()
		if name == "payload_json" {
			data = content
			continue
		}
		i, ok := strings.CutPrefix(strings.TrimSuffix(name, "]"), "files[")
		if !ok {
			return nil, nil, fmt.Errorf("a part with the name %q", name)
		}
		files[i] = Attachment{Name: part.FileName(), Kind: part.Header.Get("Content-Type"), Data: content}
	}
}

func length(s string) int { return utf8.RuneCountInString(s) }

// check finds what Discord refuses in a message. The limits are those of its
// reference ("Message Resource", "Component Reference").
func (p *payload) check() (problems, controls) {
	bad := problems{}
	if p.Content != nil && length(*p.Content) > 2000 {
		bad.add("content", "Must be 2000 or fewer in length.")
	}
	if p.Content != nil && !utf8.ValidString(*p.Content) {
		bad.add("content", "Not valid UTF-8.")
	}
	if p.Embeds != nil {
		checkEmbeds(*p.Embeds, bad)
	}
	p.checkMentions(bad)
	if nonce := p.nonce(); length(nonce) > 25 {
		bad.add("nonce", "Must be 25 or fewer in length.")
	} else if p.Enforce && nonce == "" {
		bad.add("enforce_nonce", "There is no nonce to enforce.")
	}
	var rows controls
	if p.Components != nil {
		rows = checkRows(*p.Components, bad)
	}
	p.checkFiles(bad)
	return bad, rows
}

func (p *payload) nonce() string {
	var s string
	if json.Unmarshal(p.Nonce, &s) == nil {
		return s
	}
	return string(p.Nonce)
}

func checkEmbeds(list []Embed, bad problems) {
	if len(list) > 10 {
		bad.add("embeds", "Must be 10 or fewer in length.")
	}
	total := 0
	for i, e := range list {
		at := fmt.Sprintf("embeds.%d", i)
		text := func(field, s string, most int) {
			total += length(s)
			if length(s) > most {
				bad.add(at+"."+field, "Must be %d or fewer in length.", most)
			}
		}
		text("title", e.Title, 256)
		text("description", e.Description, 4096)
		if e.Footer != nil {
			text("footer.text", e.Footer.Text, 2048)
		}
		if e.Author != nil {
			text("author.name", e.Author.Name, 256)
		}
		if len(e.Fields) > 25 {
			bad.add(at+".fields", "Must be 25 or fewer in length.")
		}
		for j, f := range e.Fields {
			name := fmt.Sprintf("fields.%d", j)
			text(name+".name", f.Name, 256)
			text(name+".value", f.Value, 1024)
			if strings.TrimSpace(f.Name) == "" || strings.TrimSpace(f.Value) == "" {
				bad.add(at+"."+name, "This field is required.")
			}
		}
		if e.Title == "" && e.Description == "" && e.Footer == nil && e.Image == nil && len(e.Fields) == 0 {
			bad.add(at, "An embed with nothing in it.")
		}
	}
	if total > 6000 {
		bad.add("embeds", "Embed size exceeds maximum size of 6000")
	}
}

// checkMentions holds every message to allowing no mention at all. Discord
// does not ask for that; this double does, for a client that shows what people
// typed.
func (p *payload) checkMentions(bad problems) {
	if p.Mentions == nil {
		bad.add("allowed_mentions", "The double wants it on every message.")
		return
	}
	var m struct {
		Parse   *[]string `json:"parse"`
		Users   []string  `json:"users"`
		Roles   []string  `json:"roles"`
		Replied bool      `json:"replied_user"`
	}
	if err := json.Unmarshal(*p.Mentions, &m); err != nil || m.Parse == nil || len(*m.Parse)+len(m.Users)+len(m.Roles) > 0 || m.Replied {
		bad.add("allowed_mentions", "The double wants nothing allowed.")
	}
}

// controls are what a message has to press and to choose.
type controls struct {
	rows  [][]Button
	menus []Menu
}

func checkRows(raw json.RawMessage, bad problems) (out controls) {
	var list []struct {
		Type       int               `json:"type"`
		Components []json.RawMessage `json:"components"`
	}
	if err := json.Unmarshal(raw, &list); err != nil {
		bad.add("components", "Not a list of rows.")
		return out
	}
	if len(list) > 5 {
		bad.add("components", "Must be 5 or fewer in length.")
	}
	seen := map[string]bool{}
	for i, row := range list {
		at := fmt.Sprintf("components.%d", i)
		if row.Type != 1 {
			bad.add(at+".type", "A row is wanted.")
		}
		if len(row.Components) < 1 || len(row.Components) > 5 {
			bad.add(at+".components", "Must be between 1 and 5 in length.")
		}
		var buttons []Button
		for j, c := range row.Components {
			at := fmt.Sprintf("%s.components.%d", at, j)
			var b Button
			var m Menu
			if json.Unmarshal(c, &b) != nil || json.Unmarshal(c, &m) != nil {
				bad.add(at, "Cannot be read.")
			}
			if b.CustomID == "" || length(b.CustomID) > 100 {
				bad.add(at+".custom_id", "Must be between 1 and 100 in length.")
			} else if seen[b.CustomID] {
				bad.add(at+".custom_id", "Component custom id cannot be duplicated")
			}
			seen[b.CustomID] = true
			if b.Type == 3 && len(row.Components) == 1 {
				m.check(at, bad)
				out.menus = append(out.menus, m)
				continue
			}
			b.check(at, bad)
			buttons = append(buttons, b)
		}
		if len(buttons) > 0 {
			out.rows = append(out.rows, buttons)
		}
	}
	return out
}

func (b *Button) check(at string, bad problems) {
	switch {
	case b.Type != 2:
		bad.add(at+".type", "A button is wanted, or a menu alone in its row.")
	case b.Label == "" || length(b.Label) > 80:
		bad.add(at+".label", "Must be between 1 and 80 in length.")
	case b.Style < 1 || b.Style > 4:
		bad.add(at+".style", "Unknown here.")
	}
}

func (m *Menu) check(at string, bad problems) {
	if length(m.Placeholder) > 150 {
		bad.add(at+".placeholder", "Must be 150 or fewer in length.")
	}
	if len(m.Options) < 1 || len(m.Options) > 25 {
		bad.add(at+".options", "Must be between 1 and 25 in length.")
	}
	seen := map[string]bool{}
	for i, o := range m.Options {
		at := fmt.Sprintf("%s.options.%d", at, i)
		if o.Label == "" || length(o.Label) > 100 {
			bad.add(at+".label", "Must be between 1 and 100 in length.")
		}
		if o.Value == "" || length(o.Value) > 100 || seen[o.Value] {
			bad.add(at+".value", "Must be between 1 and 100 in length, and there once.")
		}
		seen[o.Value] = true
	}
}

func (p *payload) checkFiles(bad problems) {
	named := map[string]bool{}
	if p.Attachments != nil {
		for i := range *p.Attachments {
			a := &(*p.Attachments)[i]
			id := strings.Trim(string(a.ID), `"`)
			if !strings.HasPrefix(string(a.ID), `"`) {
				bad.add("attachments", "The id %s is no string.", id)
			}
			f, ok := p.files[id]
			if !ok {
				bad.add("attachments", "No file for %s.", id)
				continue
			}
			if f.Name != a.Filename {
				bad.add("attachments", "The file %s has another name.", id)
			}
			if a.Description == "" || length(a.Description) > 1024 {
				bad.add("attachments", "The double wants a description of up to 1024 characters.")
			}
			f.Description, f.ID = a.Description, id
			p.files[id] = f
			named[id] = true
			if f.Kind == "image/png" {
				if _, err := png.DecodeConfig(bytes.NewReader(f.Data)); err != nil {
					bad.add("attachments", "Not a picture: %s.", f.Name)
				}
			}
		}
	}
	for id := range p.files {
		if !named[id] {
			bad.add("attachments", "The file %s is not described.", id)
		}
	}
	if len(p.files) > 10 {
		bad.add("attachments", "Must be 10 or fewer in length.")
	}
}

// apply puts a body into a message; what is absent stays.
func (p *payload) apply(m *Message, has controls) {
	if p.Content != nil {
		m.Content = *p.Content
	}
	if p.Embeds != nil {
		m.Embeds = *p.Embeds
	}
	if p.Components != nil {
		m.Rows, m.Menus, m.components = has.rows, has.menus, *p.Components
	}
	if p.Attachments != nil {
		m.Attachments = nil
		for i := range *p.Attachments {
			if f, ok := p.files[strings.Trim(string((*p.Attachments)[i].ID), `"`)]; ok {
				m.Attachments = append(m.Attachments, f)
			}
		}
	}
}

// empty says that Discord would not take a message for lack of anything in it.
func (m *Message) empty() bool {
	return strings.TrimSpace(m.Content) == "" && len(m.Embeds) == 0 && len(m.Attachments) == 0 && len(m.Rows)+len(m.Menus) == 0
}

// user is a person as Discord writes one.
func (s *Server) user(id string) map[string]any {
	if id == s.set.Bot.ID {
		return map[string]any{"id": id, "username": s.set.Bot.Name, "discriminator": "0000", "bot": true}
	}
	p := s.people[id]
	return map[string]any{"id": id, "username": strings.ToLower(p.Name), "global_name": p.Name, "discriminator": "0"}
}

func (s *Server) member(id string) map[string]any {
	roles := s.people[id].Roles
	if roles == nil {
		roles = []string{}
	}
	flags := 0
	if s.people[id].Guest {
		flags = 1 << 4 // IS_GUEST (Discord's reference, guild member flags)
	}
	return map[string]any{"flags": flags, "roles": roles, "nick": nil, "joined_at": "2026-01-01T00:00:00+00:00", "deaf": false, "mute": false}
}

// object is a message as Discord writes it; withheld leaves out what the
// message content intent gives.
func (s *Server) object(m *Message, withheld bool, deep bool) map[string]any {
	o := map[string]any{
		"id": m.ID, "channel_id": m.Channel, "author": s.user(m.Author), "content": m.Content,
		"timestamp": stamp(timeOf(m.ID)), "edited_timestamp": nil, "tts": false, "mention_everyone": false,
		"mention_roles": []string{}, "pinned": false, "type": m.kind, "flags": m.Flags,
	}
	mentions := []any{}
	for _, id := range m.Mentions {
		mentions = append(mentions, s.user(id))
	}
	o["mentions"] = mentions
	if !m.Edited.IsZero() {
		o["edited_timestamp"] = stamp(m.Edited)
	}
	embeds, files, rows := []Embed{}, []any{}, json.RawMessage("[]")
	if m.Embeds != nil {
		embeds = m.Embeds
	}
	for _, a := range m.Attachments {
		files = append(files, map[string]any{"id": m.ID, "filename": a.Name, "size": len(a.Data), "url": "http://" + s.addr + "/files/" + m.ID + "/" + a.Name, "content_type": a.Kind, "description": a.Description})
	}
	if m.components != nil {
		rows = m.components
	}
	if withheld {
		o["content"], embeds, files, rows = "", []Embed{}, []any{}, json.RawMessage("[]")
	}
	o["embeds"], o["attachments"], o["components"] = embeds, files, rows
	if m.Nonce != "" {
		o["nonce"] = m.Nonce
	}
	if m.Hook {
		o["webhook_id"] = s.set.Bot.ID
	}
	if m.Guild != "" && deep {
		o["guild_id"] = m.Guild
		if _, ok := s.people[m.Author]; ok {
			o["member"] = s.member(m.Author)
		}
	}
	if m.Reply != "" {
		o["message_reference"] = map[string]any{"message_id": m.Reply, "channel_id": m.Channel, "guild_id": m.Guild}
		if to := s.find(m.Channel, m.Reply); deep {
			o["referenced_message"] = nil
			if to != nil {
				o["referenced_message"] = s.object(to, withheld && to.Author != s.set.Bot.ID, false)
			}
		}
	}
	return o
}

func stamp(t time.Time) string { return t.UTC().Format("2006-01-02T15:04:05.000000+00:00") }

func timeOf(id string) time.Time {
	var n int64
	if _, err := fmt.Sscan(id, &n); err != nil {
		return time.Time{}
	}
	return time.UnixMilli(n>>22 + epoch)
}
