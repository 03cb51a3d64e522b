package discord

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"strings"

	"github.com/bwmarrin/discordgo"

	"firn/bot/parse"
)

// A post of the outbox has the mark of its key in the custom id of the first
// button or menu that has room for it: ~MARK:ID. Discord keeps nothing else with
// a message that nobody sees; a nonce it forgets within minutes. Posts of older
// versions have the mark at the end of a footer, behind keyMark.
const (
	markBegins = "~"
	keyMark    = " · "
)

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

func isMark(s string) bool { return len(s) == markLength && strings.Trim(s, markDigits) == "" }

// cutMark takes the mark from a custom id.
func cutMark(custom string) (mark, id string) {
	if rest, ok := strings.CutPrefix(custom, markBegins); ok {
		if mark, id, ok = strings.Cut(rest, ":"); ok && isMark(mark) {
			return mark, id
		}
	}
	return "", custom
}

// mark puts a mark into a message. One with nothing to press gets something: a
// button that asks for all bases, which the outbox's posts are about, or where
// the card is closed one that cannot be pressed and says so.
func (m *message) mark(mark string, closed bool) {
	before := markBegins + mark + ":"
	for _, row := range m.Components {
		for i, c := range row.Components {
			switch c := c.(type) {
			case discordgo.Button:
				if units(before+c.CustomID) <= mostCustomID {
					c.CustomID = before + c.CustomID
					row.Components[i] = c
					return
				}
			case discordgo.SelectMenu:
				if units(before+c.CustomID) > mostCustomID {
					c.CustomID = idMore + ":"
				}
				c.CustomID = before + c.CustomID
				row.Components[i] = c
				return
			}
		}
	}
	b := discordgo.Button{Label: "All bases", Style: discordgo.SecondaryButton, CustomID: fmt.Sprintf("%s%s:%d:%s:%s", before, idAction, mostButtons, parse.Watch, parse.Watch)}
	if closed {
		b.Label, b.CustomID, b.Disabled = "Closed", before+idClosed, true
	}
	m.Components = append(m.Components, discordgo.ActionsRow{Components: []discordgo.MessageComponent{b}})
}

// markOn is the mark on a message, or nothing.
func markOn(m *discordgo.Message) string {
	for _, c := range m.Components {
		row, ok := c.(*discordgo.ActionsRow)
		if !ok {
			continue
		}
		for _, c := range row.Components {
			custom := ""
			switch c := c.(type) {
			case *discordgo.Button:
				custom = c.CustomID
			case *discordgo.SelectMenu:
				custom = c.CustomID
			}
			if mark, _ := cutMark(custom); mark != "" {
				return mark
			}
		}
	}
	for _, e := range m.Embeds {
		if e.Footer != nil {
			if mark := markIn(e.Footer.Text); mark != "" {
				return mark
			}
		}
	}
	return ""
}

// footerOf is a source line for a footer. One that ends like a mark is given a
// full stop.
func footerOf(source string) string {
	source = cut(clean(source), mostFooter)
	if markIn(source) != "" {
		return source + "."
	}
	return source
}

// markIn is the mark in a footer of an older version, or nothing.
func markIn(footer string) string {
	mark := footer
	if i := strings.LastIndex(footer, keyMark); i >= 0 {
		mark = footer[i+len(keyMark):]
	}
	if !isMark(mark) {
		return ""
	}
	return mark
}
