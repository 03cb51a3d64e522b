package discord

import (
	"bytes"
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"strconv"
	"strings"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/reply"
)

// Limits of a message. Discord allows more of some (4096 in a description,
// 2048 in a footer), but no more than 6000 in all embeds of a message.
const (
	mostContent     = 2000
	mostTitle       = 256
	mostDescription = 3200
	mostFooter      = 1000
	mostHints       = 1400 // of fields, names and values
	mostLine        = 1500 // before escaping, which may double it
	mostCustomID    = 100
	mostLabel       = 80
	mostButtons     = 25
	mostAlt         = 1024
	mostPictures    = 10
)

// mostParts is how many messages an answer may be; what is longer comes as a
// file as well.
const mostParts = 4

// message is the body of a message as Discord takes it. discordgo's own has
// no nonce and no descriptions of attachments.
type message struct {
	Content      string                      `json:"content"`
	Embeds       []*discordgo.MessageEmbed   `json:"embeds"`
	Components   []discordgo.ActionsRow      `json:"components"`
	Mentions     allowed                     `json:"allowed_mentions"`
	Attachments  []attachment                `json:"attachments"`
	Reference    *discordgo.MessageReference `json:"message_reference,omitempty"`
	Nonce        string                      `json:"nonce,omitempty"`
	EnforceNonce bool                        `json:"enforce_nonce,omitempty"`
	Flags        discordgo.MessageFlags      `json:"flags,omitempty"`

	files []file
}

// allowed are the mentions that may ping: none.
type allowed struct {
	Parse       []string `json:"parse"`
	RepliedUser bool     `json:"replied_user"`
}

type attachment struct {
	ID          int    `json:"id"`
	Filename    string `json:"filename"`
	Description string `json:"description,omitempty"`
}

type file struct {
	name, kind, alt string
	data            []byte
}

func newMessage() message {
	return message{
		Embeds: []*discordgo.MessageEmbed{}, Components: []discordgo.ActionsRow{},
		Mentions: allowed{Parse: []string{}}, Attachments: []attachment{},
	}
}

func (m *message) attach(f file) {
	m.Attachments = append(m.Attachments, attachment{len(m.files), f.name, cut(clean(f.alt), mostAlt)})
	m.files = append(m.files, f)
}

// upload are the files as a request takes them, nil for none.
func (m *message) upload() []*discordgo.File {
	var out []*discordgo.File
	for _, f := range m.files {
		out = append(out, &discordgo.File{Name: f.name, ContentType: f.kind, Reader: bytes.NewReader(f.data)})
	}
	return out
}

// block is a paragraph, a list or a table of a reply.
type block struct {
	lines []string // as Discord takes them
	code  bool     // in a fence, with head above each piece
	head  []string
}

// render makes a card the messages that show it, at most most of them; the
// last has the buttons and the pictures. mark, where there is one, is put
// behind the source line of the last.
func render(c chat.Card, most int, mark string) []message {
	r := &c.Reply
	w := &writer{}
	title, content := w.reply(r)
	parts := pack(w.blocks)
	var whole string
	if len(parts) > most {
		whole = plain(title, content, w.blocks)
		parts = parts[:most]
		parts[most-1] = strings.TrimRight(parts[most-1], "\n") + "\n\n*The rest is in the file below.*"
	}
	out := make([]message, len(parts))
	for i, text := range parts {
		m := newMessage()
		m.Embeds = append(m.Embeds, &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich, Description: text, Color: colour(r)})
		if i == 0 {
			m.Embeds[0].Title = title
			m.Content = content
			if note := clean(c.Note); note != "" {
				m.Content = strings.TrimSpace("*" + escape(cut(note, 400)) + "*\n" + content)
			}
		}
		out[i] = m
	}
	last := &out[len(out)-1]
	embed := last.Embeds[0]
	if footer := footerOf(r.Source, mark); footer != "" {
		embed.Footer = &discordgo.MessageEmbedFooter{Text: footer}
	}
	if embed.Title == "" && embed.Description == "" && len(out) == 1 && last.Content == "" {
		embed.Description = "Nothing to show."
	}
	if whole != "" {
		last.attach(file{name: "reply.txt", kind: "text/plain; charset=utf-8", alt: "The whole reply as text", data: []byte(whole)})
	}
	for i, p := range c.Pictures {
		if len(last.files) == mostPictures {
			break
		}
		name := fileName(p.Name, i)
		last.attach(file{name: name, kind: "image/png", alt: p.Alt, data: p.PNG})
		if i == 0 {
			embed.Image = &discordgo.MessageEmbedImage{URL: "attachment://" + name}
		}
	}
	for _, f := range c.Files {
		if len(last.files) == mostPictures {
			break
		}
		last.attach(file{name: fileName(f.Name, 0), kind: f.Type, alt: f.Alt, data: f.Data})
	}
	if !c.Closed {
		last.buttons(r.Actions)
	}
	if embed.Title == "" && embed.Description == "" && embed.Footer == nil && embed.Image == nil && len(embed.Fields) == 0 {
		last.Embeds = last.Embeds[:0] // the content says it all
	}
	return out
}

// fileName is a name that a service and a phone take.
func fileName(name string, i int) string {
	name = strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '.' || r == '-' || r == '_' {
			return r
		}
		return '-'
	}, name)
	if name = strings.Trim(name, ".-"); name == "" || len(name) > 60 {
		name = "picture.png"
	}
	if i > 0 {
		name = strconv.Itoa(i+1) + "-" + name
	}
	return name
}

// colour is the bar beside an embed; every meaning is in words as well.
func colour(r *reply.Reply) int {
	const red, amber, yellow, blue, green, violet, grey = 0xB3261E, 0xC77700, 0xE0B400, 0x2F6DB5, 0x2E7D32, 0x6B4FA0, 0x5B6470
	if r.Alert != nil {
		switch r.Alert.State {
		case "below":
			return amber
		case "near":
			return yellow
		case "no-forecast", "part-forecast":
			return violet
		}
		return green
	}
	switch {
	case r.Kind == reply.KindError:
		return red
	case r.Problem != nil:
		return yellow
	case r.Required == reply.Yes:
		return amber
	case r.Required == reply.No:
		return blue
	}
	return grey
}

// writer makes the blocks of a reply.
type writer struct{ blocks []block }

func (w *writer) add(b block) {
	if len(b.lines) > 0 {
		w.blocks = append(w.blocks, b)
	}
}

// text is a paragraph; wrapped where it is longer than a message.
func (w *writer) text(before, s, after string) {
	var b block
	for _, l := range wrap(clean(s), mostLine) {
		if l != "" {
			b.lines = append(b.lines, before+escape(l)+after)
		}
	}
	w.add(b)
}

// reply writes the blocks of a reply and gives what stands above them: the
// title of the embed, or for an alert the content, which is what a phone's
// notification shows.
func (w *writer) reply(r *reply.Reply) (title, content string) {
	if p := r.Problem; p != nil {
		w.text("**", p.Text, "**")
		if try := code(cleanLines(p.Try)); try != "" {
			w.add(block{lines: []string{"Type:"}})
			w.add(fence(strings.Split(try, "\n")))
		}
	}
	facts := r.Facts
	if r.Problem == nil && len(facts) > 0 {
		head := escape(clean(facts[0]))
		switch {
		case r.Kind == reply.KindAlert && units(head)+4 <= mostContent/2:
			content, facts = "**"+head+"**", facts[1:]
		case r.Kind != reply.KindAlert && units(head) <= mostTitle:
			title, facts = head, facts[1:]
		}
		if head == "" {
			title, content = "", ""
		}
	}
	var b block
	for i, f := range facts {
		for _, l := range wrap(clean(f), mostLine) {
			switch {
			case l == "":
			case i == 0 && r.Required == reply.Yes && title != "":
				b.lines = append(b.lines, "**"+escape(l)+"**")
			default:
				b.lines = append(b.lines, escape(l))
			}
		}
	}
	w.add(b)
	if len(r.Altitudes) > 0 {
		head, lines := table(r.Altitudes)
		w.add(block{lines: lines, code: true, head: head})
		if l := legend(r.Altitudes); l != "" {
			w.add(block{lines: []string{escape(l)}})
		}
	}
	w.requests(r.Requests)
	for _, s := range r.Sections {
		w.list(s.Title, s.Lines)
	}
	w.working(r.Working)
	cautions := make([]string, len(r.Cautions))
	for i, c := range r.Cautions {
		cautions[i] = c.Text
	}
	w.list("Cautions", cautions)
	if c := r.Record; c != nil {
		w.list(c.Title(), c.Lines)
	}
	return title, content
}

func (w *writer) list(title string, lines []string) {
	var b block
	if t := escape(cut(clean(title), mostLine)); t != "" {
		b.lines = append(b.lines, "**"+t+"**")
	}
	n := len(b.lines)
	for _, line := range lines {
		for i, l := range wrap(clean(line), mostLine) {
			if l == "" {
				continue
			}
			if i == 0 {
				l = "• " + escape(l)
			} else {
				l = escape(l)
			}
			b.lines = append(b.lines, l)
		}
	}
	if len(b.lines) > n || title != "Cautions" {
		w.add(b)
	}
}

func (w *writer) requests(list []reply.Request) {
	if len(list) == 0 {
		return
	}
	b := block{lines: []string{"**Say to air traffic control**"}}
	for i, q := range list {
		if i == 0 || list[i-1].When != q.When {
			b.lines = append(b.lines, escape(cut(clean(q.When), mostLine))+":")
		}
		for _, l := range wrap(clean(q.Text), mostLine) {
			b.lines = append(b.lines, "> "+escape(l))
		}
		if s := clean(q.Spoken); s != "" {
			for _, l := range wrap("“"+s+"”", mostLine) {
				b.lines = append(b.lines, "> *"+escape(l)+"*")
			}
		}
	}
	w.add(b)
}

func (w *writer) working(list []reply.Working) {
	for _, k := range list {
		title := clean(k.Name + " " + trim(k.PublishedFt) + " ft")
		b := block{lines: []string{"**Working for " + escape(cut(title, mostLine)) + "**"}}
		for _, s := range k.Steps {
			for _, l := range wrap(clean(s.Text), mostLine) {
				b.lines = append(b.lines, "• "+escape(l))
			}
			if source := clean(s.Source); source != "" {
				b.lines = append(b.lines, "*source: "+escape(cut(source, mostLine))+"*")
			}
		}
		if len(k.Methods) > 0 {
			b.lines = append(b.lines, "its own height by every method:")
		}
		w.add(b)
		w.add(fence(methods(k.Methods)))
	}
}

// fence is lines of code, each short enough for a message.
func fence(lines []string) block {
	b := block{code: true}
	for _, l := range lines {
		b.lines = append(b.lines, wrap(l, mostLine)...)
	}
	return b
}

const fenceMark = "```"

// pack puts blocks into descriptions. A block that does not fit begins a new
// one, and is cut between lines only where it is longer than one.
func pack(blocks []block) []string {
	var parts []string
	var b strings.Builder
	n := 0
	flush := func() {
		if n > 0 {
			parts = append(parts, strings.TrimRight(b.String(), "\n"))
			b.Reset()
			n = 0
		}
	}
	put := func(s string) {
		b.WriteString(s + "\n")
		n += units(s) + 1
	}
	for _, k := range blocks {
		if whole := k.size(); n > 0 && n+whole > mostDescription {
			flush()
		}
		if k.code {
			put(fenceMark)
			for _, h := range k.head {
				put(h)
			}
		}
		for _, l := range k.lines {
			if n+units(l)+2*len(fenceMark) > mostDescription {
				if k.code {
					put(fenceMark)
				}
				flush()
				if k.code {
					put(fenceMark)
					for _, h := range k.head {
						put(h)
					}
				}
			}
			put(l)
		}
		if k.code {
			put(fenceMark)
		} else {
			put("")
		}
	}
	flush()
	if len(parts) == 0 {
		parts = []string{""}
	}
	return parts
}

// size is how much a block takes at most.
func (k block) size() int {
	n := 2*len(fenceMark) + 4
	for _, l := range k.head {
		n += units(l) + 1
	}
	for _, l := range k.lines {
		n += units(l) + 1
	}
	return n
}

// plain is the whole reply for a file.
func plain(title, content string, blocks []block) string {
	var b strings.Builder
	for _, s := range []string{title, content} {
		if s != "" {
			b.WriteString(unmark(s) + "\n\n")
		}
	}
	for _, k := range blocks {
		for _, l := range append(k.head[:len(k.head):len(k.head)], k.lines...) {
			if !k.code {
				l = unmark(l)
			}
			b.WriteString(l + "\n")
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// unmark takes the marks of render out of a line.
func unmark(s string) string {
	var b strings.Builder
	s = strings.TrimPrefix(s, "> ")
	for i := 0; i < len(s); i++ {
		switch {
		case s[i] == '\\' && i+1 < len(s):
			i++
			b.WriteByte(s[i])
		case s[i] == '*':
		default:
			b.WriteByte(s[i])
		}
	}
	return b.String()
}

// keyMark stands between the source line and the mark of an outbox key.
const keyMark = " · "

// digits make the marks and nonces: lower case and figures, without those
// that look alike.
var digits = base32.NewEncoding(markDigits).WithPadding(base32.NoPadding)

const markDigits = "abcdefghijkmnpqrstuvwxyz23456789"

// digest is a text in n such digits, at most 24 (a nonce has at most 25).
func digest(n int, texts ...string) string {
	h := sha256.New()
	for _, t := range texts {
		fmt.Fprintf(h, "%d:%s", len(t), t)
	}
	return digits.EncodeToString(h.Sum(nil)[:15])[:n]
}

// markOf is the mark of a key: 80 bits of its hash, so that two keys never
// have the same.
func markOf(key string) string { return digest(markLength, "key", key) }

const markLength = 16

// footerOf is the source line with the mark of a key behind it. A source line
// that ends like a mark is given a full stop.
func footerOf(source, mark string) string {
	source = cut(clean(source), mostFooter)
	switch {
	case mark != "":
		return strings.TrimPrefix(source+keyMark+mark, keyMark)
	case markIn(source) != "":
		return source + "."
	}
	return source
}

// markIn is the mark in a footer, or nothing.
func markIn(footer string) string {
	mark := footer
	if i := strings.LastIndex(footer, keyMark); i >= 0 {
		mark = footer[i+len(keyMark):]
	}
	if len(mark) != markLength || strings.Trim(mark, markDigits) != "" {
		return ""
	}
	return mark
}

// Custom ids begin with what they are. A button holds its action's message;
// one that is too long for that stands in a field of the card, which a press
// brings along, and the button holds its hash.
const (
	idAction = "a" // a:INDEX:ACTION:MESSAGE
	idLong   = "l" // l:INDEX:ACTION:HASH
	idForm   = "form"
	idAgain  = "form-again"
	// Of a blind check; behind each stand the record and how many altitudes.
	idEnter      = "enter"
	idEnterAgain = "enter-again"
)

// formAction is the id of an action that opens the form.
const formAction = "form"

func (m *message) buttons(actions []reply.Action) {
	embed := m.Embeds[0]
	hints, n := 0, 0
	for _, a := range actions {
		if n == mostButtons {
			break
		}
		label, id := cut(clean(a.Label), mostLabel), strings.ReplaceAll(clean(a.ID), ":", "_")
		if label == "" {
			label = cut(clean(a.Message), mostLabel)
		}
		if label == "" || units(id) > 40 {
			continue
		}
		custom := fmt.Sprintf("%s:%d:%s:%s", idAction, n, id, a.Message)
		if units(custom) > mostCustomID || strings.ContainsAny(a.Message, "\r\n\t") || clean(a.Message) != a.Message {
			text := cleanLines(a.Message)
			field := &discordgo.MessageEmbedField{Name: cut(escape(label)+": type", mostTitle), Value: fenceMark + "\n" + text + "\n" + fenceMark}
			size := units(field.Name) + units(field.Value)
			if strings.Contains(text, "`") || units(field.Value) > 1024 || hints+size > mostHints {
				continue // it can neither be shown nor be kept
			}
			hints += size
			embed.Fields = append(embed.Fields, field)
			custom = fmt.Sprintf("%s:%d:%s:%s", idLong, n, id, digest(markLength, text))
		}
		if n%5 == 0 {
			m.Components = append(m.Components, discordgo.ActionsRow{})
		}
		row := &m.Components[len(m.Components)-1]
		style := discordgo.SecondaryButton
		if n == 0 {
			style = discordgo.PrimaryButton
		}
		row.Components = append(row.Components, discordgo.Button{Label: label, Style: style, CustomID: custom})
		n++
	}
}

// pressed reads a button's custom id; on is the card that has it.
func pressed(custom string, on *discordgo.Message) (action, text string, ok bool) {
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
