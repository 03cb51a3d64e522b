package discord

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"

	"github.com/bwmarrin/discordgo"

	"firn/bot/chat"
	"firn/bot/present"
)

// Limits of a message. Discord allows more of some (4096 in a description,
// 2048 in a footer), but no more than 6000 in all embeds of a message.
const (
	mostContent     = 2000
	mostWords       = 1100 // of a document that is the content; a note comes behind it
	mostTitle       = 256
	mostDescription = 3200
	mostFooter      = 1000
	mostHints       = 1400 // of fields, names and values
	mostLine        = 1500 // before escaping, which may double it
	mostCustomID    = 100
	mostLabel       = 80
	mostButtons     = 20  // of the five rows the last is the menu's
	mostOptions     = 25  // of a menu
	mostOption      = 100 // of its label, and of its value
	mostAlt         = 1024
	mostPictures    = 10
)

// What lies behind More is in embeds alone.
const (
	mostEmbeds   = 6000 // of all of a message
	mostUnfolded = 4000 // of one
	mostCut      = 2950 // of each of two, with what is said below the second
)

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
	ID          int    `json:"id,string"` // a snowflake in Discord's own description, so a string
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

// render makes a card the one message that shows it: first what a locked screen
// shows, then its short form and what can be done with it. mark, where there is
// one, is in the id of something to press, which nobody sees.
func render(c chat.Message, mark string) message {
	d := present.Of(c.Reply)
	m := newMessage()
	m.Content = m.draw(d)
	if note := clean(c.Note); note != "" {
		m.Content = strings.TrimSpace(m.Content + "\n*" + escape(cut(note, 400)) + "*")
	}
	m.show(c.Pictures, c.Files)
	if !c.Closed {
		m.controls(present.ControlsOf(c.Reply, d))
	}
	if mark != "" {
		m.mark(mark, c.Closed)
	}
	if m.Content == "" && len(m.Embeds) == 0 {
		m.Content = "Nothing to show."
	}
	return m
}

// Shown is the message of a card as Discord gets it, in JSON.
func Shown(c chat.Message) ([]byte, error) { return json.Marshal(render(c, "")) }

// draw draws the short form and gives the content. Where the notice is how the
// document begins anyway, as that of a question does, the document is the
// content and nothing stands there twice; else the notice is, and the document
// stands in an embed.
func (m *message) draw(d present.Document) string {
	if opens(d) {
		w := &writer{}
		w.all(d.Short)
		if parts := pack(w.blocks, mostWords); len(parts) == 1 && units(parts[0]) <= mostWords {
			return parts[0]
		}
	}
	content, title, w := escape(clean(d.Notice)), "", &writer{foot: true}
	color := colourOf(present.Plain)
	for i, b := range d.Short {
		switch b := b.(type) {
		case present.Headline:
			color = colourOf(b.Tone)
			if t := escape(clean(b.Text)); i == 0 && units(t) <= mostTitle {
				title = t
				continue
			}
		case present.Stop:
			// It forbids, and stands above the figures: once is enough.
			if t := escape(clean(b.Text)); t != "" && strings.Count(content, t) == 1 {
				content = strings.Replace(content, t, "**"+t+"**", 1)
				continue
			}
		case present.State:
			if b.Until != "" && strings.HasSuffix(strings.ToLower(d.Notice), ". "+b.Word+".") {
				b.Word = "" // the content ends with it
			}
			w.block(b)
			continue
		}
		w.block(b)
	}
	e := &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich, Title: title, Color: color}
	m.Embeds = append(m.Embeds, e)
	parts := pack(w.blocks, mostDescription)
	if e.Description = parts[0]; len(parts) > 1 {
		e.Description = pack(beginning(w.blocks, mostDescription), mostDescription)[0] + "\n\n" + restBelow
		m.attach(wholeOf(title, w.blocks))
	}
	if foot := footerOf(strings.Join(w.small, " ")); foot != "" {
		e.Footer = &discordgo.MessageEmbedFooter{Text: foot}
	}
	if title == "" && e.Description == "" && e.Footer == nil {
		m.Embeds = m.Embeds[:0]
	}
	return content
}

const restBelow = "*The rest is in the file below.*"

// wholeOf is a file with all text of a message.
func wholeOf(title string, blocks []block) file {
	return file{name: "reply.txt", kind: "text/plain; charset=utf-8", alt: "The whole reply as text", data: []byte(plain(title, blocks))}
}

// opens says that a document begins with what its notice says.
func opens(d present.Document) bool {
	if len(d.Short) == 0 {
		return true
	}
	text := ""
	switch b := d.Short[0].(type) {
	case present.Headline:
		text = b.Text
	case present.Question:
		text = b.Text
	case present.Line:
		text = b.Text
	}
	text, notice := clean(text), strings.TrimSuffix(clean(d.Notice), "…")
	return text != "" && notice != "" && (strings.HasPrefix(notice, text) || strings.HasPrefix(text, notice))
}

// unfolded is the one message that shows what lay behind More. What is longer
// than Discord takes is made shorter, and if that is not enough cut, with the
// whole in a file.
func unfolded(p chat.Part) message {
	m, whole := newMessage(), &writer{}
	whole.all(p.Blocks)
	parts, over := pack(whole.blocks, mostUnfolded), false
	if !fit(parts) {
		shorter := &writer{}
		shorter.all(present.Compact(p.Blocks))
		if parts = pack(shorter.blocks, mostUnfolded); !fit(parts) {
			parts, over = pack(shorter.blocks, mostCut)[:2], true
			parts[1] += "\n\n" + restBelow
		}
	}
	for _, text := range parts {
		if text != "" {
			m.Embeds = append(m.Embeds, &discordgo.MessageEmbed{Type: discordgo.EmbedTypeRich, Description: text, Color: colourOf(present.Plain)})
		}
	}
	if over {
		m.attach(wholeOf("", whole.blocks))
	}
	m.show(p.Pictures, p.Files)
	if len(m.Embeds)+len(m.files) == 0 {
		m.Content = "Nothing to show."
	}
	return m
}

// fit says that texts can be the embeds of one message.
func fit(parts []string) bool {
	total := 0
	for _, p := range parts {
		total += units(p)
	}
	return total <= mostEmbeds
}

// show adds pictures and files, as many as a message takes.
func (m *message) show(pictures []chat.Picture, files []chat.File) {
	for i, p := range pictures {
		if len(m.files) == mostPictures {
			return
		}
		name := fileName(p.Name, i)
		m.attach(file{name: name, kind: "image/png", alt: p.Alt, data: p.PNG})
		if i == 0 && len(m.Embeds) > 0 {
			m.Embeds[0].Image = &discordgo.MessageEmbedImage{URL: "attachment://" + name}
		}
	}
	for _, f := range files {
		if len(m.files) == mostPictures {
			return
		}
		m.attach(file{name: fileName(f.Name, 0), kind: f.Type, alt: f.Alt, data: f.Data})
	}
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

// colourOf is the bar beside an embed; every meaning is in words as well.
func colourOf(t present.Tone) int {
	switch t {
	case present.Act:
		return 0xC77700 // amber
	case present.Calm:
		return 0x2F6DB5 // blue
	case present.Unsure:
		return 0x6B4FA0 // violet
	}
	return 0x5B6470 // grey
}
