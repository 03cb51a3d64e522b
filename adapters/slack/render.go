package slack

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	slackgo "github.com/slack-go/slack"

	"firn/bot/chat"
	"firn/bot/reply"
)

// Slack's limits (docs.slack.dev, Block Kit reference), and ours below them.
const (
	mostBlocks     = 50
	mostHomeBlocks = 100
	mostSection    = 3000
	mostHeader     = 150
	mostButtons    = 25
	mostButtonText = 75
	mostValue      = 2000
	mostActionID   = 255

	// sectionText leaves room below mostSection: what Slack counts as a
	// character is not said.
	sectionText = 2800
	// messageText is all text of one message. Slack refuses what is too long
	// (msg_blocks_too_long) without saying from where on; 13 200 is reported.
	messageText = 10000
	// notifiedText is the text beside the blocks: Slack advises 4 000 at most.
	notifiedText = 3000
)

// item is a block with what packing needs to know of it.
type item struct {
	block slackgo.Block
	size  int
	table bool
}

// sheet is a card while it is being rendered.
type sheet struct {
	items []item
	lines []string // of the section under way
	size  int
	home  bool // the front page takes no tables
}

func render(c chat.Card, home bool) []item {
	p := &sheet{home: home}
	r := c.Reply
	if c.Note != "" {
		p.context(c.Note)
	}
	if q := r.Problem; q != nil {
		p.line(bold, q.Text)
		if q.Try != "" {
			if try := codeText(q.Try); len(try) < sectionText {
				p.add("Type: " + try)
			}
		}
		p.end()
	}
	for i, f := range r.Facts {
		switch {
		case i == 0 && r.Kind == reply.KindAlert && p.header(f):
		case i == 0, i == 1 && r.Required == reply.Yes:
			p.line(bold, f)
		default:
			p.line(unformatted, f)
		}
	}
	p.end()
	p.table(r.Altitudes)
	p.requests(r.Requests)
	for _, s := range r.Sections {
		p.line(bold, s.Title)
		for _, l := range s.Lines {
			p.line(unformatted, l)
		}
		p.end()
	}
	if len(r.Sections) == 0 { // they say it with the bases' own times
		for _, b := range r.Bases {
			p.line(unformatted, reply.BoardLine(b, time.UTC))
		}
		p.end()
	}
	for i := range r.Working {
		p.working(&r.Working[i])
	}
	if len(r.Cautions) > 0 {
		p.add("*Cautions*")
		for _, q := range r.Cautions {
			p.line(bullet, q.Text)
		}
		p.end()
	}
	if c := r.Record; c != nil {
		p.line(bold, c.Title())
		for _, l := range c.Lines {
			p.line(bullet, l)
		}
		p.end()
	}
	if r.Source != "" {
		p.context(r.Source)
	}
	if len(p.items) == 0 {
		p.add("firn has nothing to say to this.") // Slack takes no empty message
		p.end()
	}
	return p.items
}

// The ways in which a line is written.
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
func plain(s string) string  { return escape(s) }

// line adds text, in lines of its own and in pieces that fit.
func (p *sheet) line(write func(string) string, text string) {
	for l := range strings.SplitSeq(shown(text), "\n") {
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
	n := utf8.RuneCountInString(line) + 1
	if p.size+n > sectionText+1 {
		p.end()
	}
	p.lines = append(p.lines, line)
	p.size += n
}

// end closes the section under way.
func (p *sheet) end() {
	if len(p.lines) > 0 {
		p.block(slackgo.NewSectionBlock(markdown(strings.Join(p.lines, "\n")), nil, nil, slackgo.SectionBlockOptionExpand(true)), p.size)
	}
	p.lines, p.size = nil, 0
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

// header shows a short fact large; one that does not fit is a line.
func (p *sheet) header(text string) bool {
	if text = plainText(text); text == "" || utf8.RuneCountInString(text) > mostHeader {
		return false
	}
	p.end()
	p.block(slackgo.NewHeaderBlock(labelText(text, mostHeader)), utf8.RuneCountInString(text))
	return true
}

// context is small print.
func (p *sheet) context(text string) {
	p.end()
	for _, piece := range pieces(strings.Join(strings.Fields(shown(text)), " "), 1900, func(s string) int { return utf8.RuneCountInString(unformatted(s)) }) {
		p.block(slackgo.NewContextBlock("", markdown(unformatted(piece))), len(piece))
	}
}

// requests are what is read aloud, quoted.
func (p *sheet) requests(list []reply.Request) {
	if len(list) == 0 {
		return
	}
	p.add("*Say to air traffic control*")
	for i, q := range list {
		if i == 0 || list[i-1].When != q.When {
			p.line(italic, q.When)
		}
		p.line(quote, q.Text)
		if q.Spoken != "" {
			p.line(quote, "“"+q.Spoken+"”")
		}
	}
	p.end()
}

func (p *sheet) working(w *reply.Working) {
	p.end()
	title := "Working for "
	if w.Name != "" {
		title += w.Name + " "
	}
	p.line(bold, title+trimZeros(w.PublishedFt)+" ft")
	for _, s := range w.Steps {
		p.line(bullet, s.Text)
		if s.Source != "" {
			p.line(italic, "source: "+s.Source)
		}
	}
	if len(w.Methods) > 0 {
		var b strings.Builder
		for _, m := range w.Methods {
			fmt.Fprintf(&b, "%-14s%9.1f ft", m.Method, m.CorrectionFt)
			if m.Method == "four-percent" {
				b.WriteString("  taught, never an answer")
			}
			b.WriteByte('\n')
		}
		p.add("its own height by every method:")
		p.preformatted(b.String())
	}
	p.end()
}

// preformatted keeps columns.
func (p *sheet) preformatted(text string) {
	for _, chunk := range byLines(strings.TrimRight(text, "\n"), sectionText-10) {
		p.add("```\n" + plain(strings.ReplaceAll(chunk, "`", "ˋ")) + "\n```")
	}
}

// byLines cuts text between lines.
func byLines(text string, most int) []string {
	var out []string
	var b strings.Builder
	n := 0
	for _, l := range strings.Split(text, "\n") {
		size := utf8.RuneCountInString(plain(l)) + 1
		if n > 0 && n+size > most {
			out = append(out, b.String())
			b.Reset()
			n = 0
		}
		if n > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(l)
		n += size
	}
	return append(out, b.String())
}

// buttons are a card's actions, or nil.
func buttons(c chat.Card) slackgo.Block {
	if c.Closed {
		return nil
	}
	var list []slackgo.BlockElement
	used := map[string]bool{}
	for _, a := range c.Reply.Actions {
		id := doAction + a.ID
		if used[id] { // ids are unique in a block; the press carries the message
			id += "#" + strconv.Itoa(len(list))
		}
		if len(list) == mostButtons || len(id) > mostActionID || a.Message == "" || utf8.RuneCountInString(a.Message) > mostValue || plainText(a.Label) == "" {
			continue
		}
		used[id] = true
		b := slackgo.NewButtonBlockElement(id, shown(a.Message), labelText(a.Label, mostButtonText))
		if a.ID == "ack" {
			b.Style = slackgo.StylePrimary // it is labelled too
		}
		list = append(list, b)
	}
	if len(list) == 0 {
		return nil
	}
	return slackgo.NewActionBlock("", list...)
}

// notice is a card as plain text: what a notification shows, and what a screen
// reader or a client without blocks reads.
func notice(c chat.Card) string {
	r := c.Reply
	var lines []string
	add := func(text string) {
		if text = strings.Join(strings.Fields(shown(text)), " "); text != "" {
			lines = append(lines, text)
		}
	}
	add(c.Note)
	if q := r.Problem; q != nil {
		add(q.Text)
		if q.Try != "" {
			add("Type: " + q.Try)
		}
	}
	for _, f := range r.Facts {
		add(f)
	}
	for i := range r.Altitudes {
		add(rowText(&r.Altitudes[i]))
	}
	for _, q := range r.Requests {
		add(q.When + ": " + q.Text)
	}
	for _, s := range r.Sections {
		add(s.Title + ": " + strings.Join(s.Lines, "; "))
	}
	if c := r.Record; c != nil {
		add(c.Title())
	}
	switch {
	case len(r.Cautions) == 0:
	case len(r.Altitudes) > 0:
		add("Mind the cautions in the message.") // a notification is cut anyway
	default:
		for _, q := range r.Cautions {
			add(q.Text)
		}
	}
	text := cut(strings.Join(lines, "\n"), notifiedText)
	if text == "" {
		text = "firn has nothing to say to this."
	}
	return escaper.Replace(text)
}

// rowText is an altitude in one line.
func rowText(r *reply.Row) string {
	text := published(r) + " ft"
	if r.PublishedM > 0 {
		text = published(r)
	}
	if name := r.Name(); name != "" {
		text = name + " " + text
	}
	text += ": add " + up(r.CorrectionFt) + " ft, " + up(r.CorrectedFt) + " ft"
	if r.CorrectedM > 0 {
		text += " (" + up(r.CorrectedM) + " m)"
	}
	if r.UpperPublishedFt > 0 {
		text += ", at most " + up(r.UpperCorrectedFt) + " ft"
	}
	if n := notes(r); n != "" {
		text += " (" + n + ")"
	}
	return text
}
