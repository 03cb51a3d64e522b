package slack

import (
	"strings"
	"unicode/utf8"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
)

// message is one message of Slack's, ready to be posted.
type message struct {
	blocks []slackgo.Block
	text   string
}

// pack renders a card into as many messages as it takes. withButtons says
// which of n has the buttons.
func pack(c chat.Card, withButtons func(n int) int) []message {
	var list []message
	var now []slackgo.Block
	size, tables := 0, 0
	for _, it := range render(c, false) {
		// One block is left for the buttons.
		if len(now) == mostBlocks-1 || len(now) > 0 && size+it.size > messageText || it.table && tables > 0 {
			list = append(list, message{blocks: now})
			now, size, tables = nil, 0, 0
		}
		now = append(now, it.block)
		size += it.size
		if it.table {
			tables++
		}
	}
	list = append(list, message{blocks: now})
	text := notice(c)
	list[0].text = text
	for i := 1; i < len(list); i++ {
		first, _, _ := strings.Cut(text, "\n")
		list[i].text = "continued: " + cutEscaped(first, 200)
	}
	if b := buttons(c); b != nil {
		m := &list[withButtons(len(list))]
		m.blocks = append(m.blocks, b)
	}
	return list
}

// last puts the buttons under the last message, as a new card has them.
func last(n int) int { return n - 1 }

// cutEscaped shortens escaped text, not inside an escape.
func cutEscaped(s string, most int) string {
	return escaper.Replace(cut(unescape(s), most))
}

// homeBlocks is a card for the front page.
func homeBlocks(c chat.Card) []slackgo.Block {
	var list []slackgo.Block
	for _, it := range render(c, true) {
		if len(list) == mostHomeBlocks-2 {
			list = append(list, slackgo.NewContextBlock("", markdown("There is more than fits here: ask for it in a message.")))
			break
		}
		list = append(list, it.block)
	}
	if b := buttons(c); b != nil {
		list = append(list, b)
	}
	return list
}

// pieces cuts text so that each piece has at most a size, between sentences or
// words where it can.
func pieces(text string, most int, size func(string) int) []string {
	// An escape is at most five characters for one, and marks are two: short
	// text, which nearly all is, need not be measured.
	if text != "" && 5*len(text)+2 <= most {
		return []string{text}
	}
	var out []string
	for size(text) > most {
		// The longest prefix that fits, found by halves: sizes grow with length.
		low, high := 1, len(text)
		for low < high {
			mid := (low + high + 1) / 2
			if size(text[:runeStart(text, mid)]) <= most {
				low = mid
			} else {
				high = mid - 1
			}
		}
		at := runeStart(text, low)
		if at == 0 {
			_, at = utf8.DecodeRuneInString(text)
		}
		if i := strings.LastIndex(text[:at], ". "); i > at/2 {
			at = i + 2
		} else if i := strings.LastIndexByte(text[:at], ' '); i > at/2 {
			at = i + 1
		}
		out = append(out, strings.TrimRight(text[:at], " "))
		text = strings.TrimLeft(text[at:], " ")
	}
	if text != "" {
		out = append(out, text)
	}
	return out
}

// runeStart is the last start of a rune at or before i.
func runeStart(s string, i int) int {
	for i > 0 && i < len(s) && !utf8.RuneStart(s[i]) {
		i--
	}
	return i
}
