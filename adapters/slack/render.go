package slack

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	slackgo "github.com/slack-go/slack"

	"firn/bot/present"
	"firn/bot/reply"
)

// Slack's limits (docs.slack.dev, Block Kit reference), and ours below them.
const (
	mostBlocks     = 50
	mostViewBlocks = 100
	mostButtons    = 25
	mostButtonText = 75
	mostValue      = 2000
	mostActionID   = 255
	mostOptions    = 5  // of an overflow menu
	mostOption     = 75 // of its text, and of its value
	mostTitle      = 24 // of a modal

	// sectionText leaves room below Slack's 3000: what it counts as a character
	// is not said.
	sectionText = 2800
	// messageText is all text of one message. Slack refuses what is too long
	// (msg_blocks_too_long) without saying from where on; 13 200 is reported.
	messageText = 10000
	// viewText is all text of a modal or the front page: Slack takes 250 kB of
	// them, of which this is the half, in characters of three bytes.
	viewText = 40000
	// notifiedText is the text beside the blocks: Slack advises 4 000 at most.
	notifiedText = 3000
)

// item is a block with the length of its text.
type item struct {
	block slackgo.Block
	size  int
}

// sheet is a document while it is drawn.
type sheet struct {
	items []item
	lines []string // of the section under way
	size  int
	small []string // of the small print under way
}

// draw makes Slack's blocks of a document's.
func draw(note string, blocks []present.Block) []item {
	p := &sheet{}
	p.smallPrint(note)
	for _, b := range blocks {
		p.drawn(b)
	}
	p.end()
	return p.items
}

func (p *sheet) drawn(b present.Block) {
	switch b := b.(type) {
	case present.Headline:
		p.line(bold, b.Text)
	case present.Stop:
		p.line(bold, b.Text)
	case present.Table:
		p.line(bold, b.Title)
		p.preformatted(b.Lines(present.RowMost))
	case present.Call:
		p.line(unformatted, b.Title+":")
		p.line(unformatted, "“"+b.Text+"”")
	case present.Line:
		p.line(unformatted, b.Text)
	case present.Small:
		p.smallPrint(b.Text)
	case present.State:
		p.smallPrint(b.Text())
		for _, l := range b.Lines {
			p.smallPrint(l)
		}
	case present.Question:
		p.line(bold, b.Text)
		if try := codeText(b.Try); try != "" && len(try) < sectionText {
			p.add("Type: " + try)
		}
	case present.List:
		p.line(bold, b.Title)
		for i, l := range b.Lines {
			if i < len(b.Acts) && len(b.Acts[i]) > 0 {
				p.act(l, b.Acts[i][0])
				continue
			}
			p.line(bullet, l)
		}
	case present.Phrases:
		p.phrases(b)
	case present.Steps:
		p.steps(b)
	}
}

// bold, italic and the like are the ways in which a line is written.
func bold(s string) string {
	if s = unformatted(strings.TrimSpace(s)); s == "" {
		return ""
	}
	return "*" + s + "*"
}

func italic(s string) string {
	if s = unformatted(strings.TrimSpace(s)); s == "" {
		return ""
	}
	return "_" + s + "_"
}

func bullet(s string) string { return "• " + unformatted(s) }
func quote(s string) string  { return "> " + unformatted(s) }

// line adds text, in lines of its own and in pieces that fit.
func (p *sheet) line(write func(string) string, text string) {
	for l := range strings.SplitSeq(shown(text), "\n") {
		if strings.TrimSpace(l) == "" {
			continue
		}
		for _, piece := range pieces(l, sectionText, func(s string) int { return utf8.RuneCountInString(write(s)) }) {
			p.add(write(piece))
		}
	}
}

// add adds a line that is markup already and fits into a section.
func (p *sheet) add(line string) {
	if strings.TrimSpace(line) == "" {
		return
	}
	p.endSmall()
	n := utf8.RuneCountInString(line) + 1
	if p.size+n > sectionText+1 {
		p.endSection()
	}
	p.lines = append(p.lines, line)
	p.size += n
}

// end closes what is under way.
func (p *sheet) end() {
	p.endSection()
	p.endSmall()
}

func (p *sheet) endSection() {
	if len(p.lines) > 0 {
		p.block(slackgo.NewSectionBlock(markdown(strings.Join(p.lines, "\n")), nil, nil, slackgo.SectionBlockOptionExpand(true)), p.size)
	}
	p.lines, p.size = nil, 0
}

func (p *sheet) endSmall() {
	if len(p.small) > 0 {
		text := strings.Join(p.small, "\n")
		p.block(slackgo.NewContextBlock("", markdown(text)), utf8.RuneCountInString(text))
	}
	p.small = nil
}

func (p *sheet) block(b slackgo.Block, size int) {
	p.items = append(p.items, item{block: b, size: size})
}

// markdown is Slack's text. verbatim: names and addresses in it stay text.
func markdown(text string) *slackgo.TextBlockObject {
	return slackgo.NewTextBlockObject(slackgo.MarkdownType, text, false, true)
}

// labelText is text without markup.
func labelText(text string, most int) *slackgo.TextBlockObject {
	if text = cut(plainText(text), most); text == "" {
		text = "–"
	}
	return slackgo.NewTextBlockObject(slackgo.PlainTextType, text, false, false)
}

// smallPrint gathers small print, which stands together.
func (p *sheet) smallPrint(text string) {
	text = strings.Join(strings.Fields(shown(text)), " ")
	for _, piece := range pieces(text, 1900, func(s string) int { return utf8.RuneCountInString(unformatted(s)) }) {
		p.endSection()
		if len(p.small) > 0 && utf8.RuneCountInString(strings.Join(p.small, "\n"))+len(piece) > 1900 {
			p.endSmall()
		}
		p.small = append(p.small, unformatted(piece))
	}
}

// act adds a line with what can be done about it beside it. There is one such
// button a line; its id has the line's place, for ids of one page are apart.
func (p *sheet) act(text string, a reply.Action) {
	p.end()
	text = unformatted(cut(strings.Join(strings.Fields(shown(text)), " "), sectionText/5))
	id := doAction + a.ID + "#" + strconv.Itoa(len(p.items))
	var beside *slackgo.Accessory
	if pressable(a, id) {
		beside = slackgo.NewAccessory(slackgo.NewButtonBlockElement(id, shown(a.Message), labelText(a.Label, mostButtonText)))
	}
	p.block(slackgo.NewSectionBlock(markdown(text), nil, beside), utf8.RuneCountInString(text))
}

// phrases are what is read aloud, quoted.
func (p *sheet) phrases(f present.Phrases) {
	p.line(bold, f.Title)
	for i, q := range f.List {
		if i == 0 || f.List[i-1].When != q.When {
			p.line(italic, q.When)
		}
		p.line(quote, q.Text)
		if q.Spoken != "" {
			p.line(quote, "“"+q.Spoken+"”")
		}
		if q.Source != "" {
			p.line(italic, "source: "+q.Source)
		}
	}
}

func (p *sheet) steps(w present.Steps) {
	p.line(bold, w.Title)
	for _, s := range w.Steps {
		p.line(bullet, s.Text)
		if s.Source != "" {
			p.line(italic, "source: "+s.Source)
		}
	}
	if len(w.Methods) == 0 {
		return
	}
	lines := make([]string, 0, 2*len(w.Methods))
	for _, m := range w.Methods {
		lines = append(lines, fmt.Sprintf("%-14s%9.1f ft", m.Method, m.CorrectionFt))
		if m.Method == "four-percent" {
			lines = append(lines, "  taught, never an answer")
		}
	}
	p.add(present.ByEveryMethod + ":")
	p.preformatted(lines)
}

// preformatted keeps columns. Slack's own table would be three times the bytes,
// and is no narrower on a phone.
func (p *sheet) preformatted(lines []string) {
	var chunk []string
	n := 0
	flush := func() {
		if len(chunk) > 0 {
			p.add("```\n" + strings.Join(chunk, "\n") + "\n```")
		}
		chunk, n = nil, 0
	}
	for _, l := range lines {
		l = escape(strings.ReplaceAll(cut(strings.ReplaceAll(shown(l), "\n", " "), 2*present.RowMost), "`", "ˋ"))
		size := utf8.RuneCountInString(l) + 1
		if n+size > sectionText-20 {
			flush()
		}
		chunk, n = append(chunk, strings.TrimRight(l, " ")), n+size
	}
	flush()
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
