package console

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"firn/bot/present"
	"firn/bot/reply"
)

// Width is the widest line that Render writes, in columns; a word that is
// longer keeps a line to itself.
const Width = 72

// Style is how a reply is shown.
type Style struct {
	Colour bool // for a terminal; every meaning is in words as well
	Full   bool // everything, also what is folded on a screen
	Talk   bool // a conversation: what may be typed next is told
}

// Render writes a reply: its short form, or all of it, without what a terminal would
// obey.
func Render(w io.Writer, r reply.Reply, style Style) error {
	d := present.Of(r)
	blocks := d.Short
	if style.Full {
		blocks = d.Full()
	}
	p := &page{style: style}
	for _, b := range blocks {
		p.block(b)
	}
	rest := p.picks(r.Actions)
	if style.Talk {
		p.actions(rest)
	}
	_, err := io.WriteString(w, printable(p.b.String()))
	return err
}

// block writes one block.
func (p *page) block(b present.Block) {
	switch b := b.(type) {
	case present.Headline:
		p.paragraph(p.emphasis(b.Text), "")
	case present.Stop:
		p.paragraph(p.emphasis(b.Text), "")
	case present.Table:
		if b.Title != "" {
			p.gap()
			p.line(p.emphasis(b.Title))
		}
		for _, l := range b.Lines(present.RowMost) {
			p.line(l)
		}
	case present.Call:
		p.paragraph(b.Title+":", "")
		p.paragraph("“"+b.Text+"”", "")
	case present.Line:
		p.paragraph(b.Text, "")
	case present.Small:
		p.paragraph(p.faint(b.Text), "")
	case present.State:
		p.paragraph(b.Text(), "")
		for _, l := range b.Lines {
			p.paragraph("  "+l, "    ")
		}
	case present.Question:
		p.paragraph(p.emphasis(b.Text), "")
		if b.Try != "" {
			p.paragraph("Type: "+b.Try, "      ")
		}
	case present.List:
		p.list(b)
	case present.Phrases:
		p.phrases(b)
	case present.Steps:
		p.steps(b)
	}
}

// page is the text being written.
type page struct {
	b     strings.Builder
	style Style
}

func (p *page) gap() {
	if p.b.Len() > 0 {
		p.b.WriteByte('\n')
	}
}

func (p *page) line(s string) { p.b.WriteString(strings.TrimRight(s, " ") + "\n") }

const (
	bold  = "\x1b[1m"
	dim   = "\x1b[2m"
	reset = "\x1b[0m"
)

func (p *page) emphasis(s string) string { return p.paint(bold, s) }
func (p *page) faint(s string) string    { return p.paint(dim, s) }

func (p *page) paint(code, s string) string {
	if !p.style.Colour || s == "" {
		return s
	}
	return code + s + reset
}

// paragraph wraps text at Width; lines after the first are indented by hang.
func (p *page) paragraph(text, hang string) {
	column := 0
	for i, word := range strings.Fields(text) {
		n := width(word)
		switch {
		case i == 0:
			lead := text[:len(text)-len(strings.TrimLeft(text, " "))]
			p.b.WriteString(lead)
			column = len(lead)
		case column+1+n > Width:
			p.b.WriteString("\n" + hang)
			column = width(hang)
		default:
			p.b.WriteByte(' ')
			column++
		}
		p.b.WriteString(word)
		column += n
	}
	p.b.WriteByte('\n')
}

// width counts columns, colour codes left out. Everything firn writes is one
// column a rune.
func width(s string) int {
	for _, code := range []string{bold, dim, reset} {
		s = strings.ReplaceAll(s, code, "")
	}
	return utf8.RuneCountInString(s)
}

func (p *page) list(l present.List) {
	if l.Title != "" {
		p.gap()
		p.paragraph(p.emphasis(l.Title), "")
	}
	for _, line := range l.Lines {
		p.paragraph("  "+line, "    ")
	}
}

func (p *page) phrases(f present.Phrases) {
	p.gap()
	p.line(p.emphasis(f.Title))
	for i, q := range f.List {
		if i == 0 || f.List[i-1].When != q.When {
			p.paragraph("  "+q.When+":", "  ")
		}
		p.paragraph("    "+q.Text, "    ")
		p.paragraph("    "+p.faint("“"+q.Spoken+"”"), "    ")
		if q.Source != "" {
			p.paragraph("    "+p.faint("source: "+q.Source), "    ")
		}
	}
}

func (p *page) steps(w present.Steps) {
	p.gap()
	p.line(p.emphasis(w.Title))
	for _, s := range w.Steps {
		p.paragraph("  "+s.Text, "  ")
		if s.Source != "" {
			p.paragraph("      "+p.faint("source: "+s.Source), "      ")
		}
	}
	p.line("  " + present.ByEveryMethod + ":")
	for _, m := range w.Methods {
		note := ""
		if m.Method == "four-percent" {
			note = "  taught, never an answer"
		}
		p.line(fmt.Sprintf("    %-14s%9.1f ft%s", m.Method, m.CorrectionFt, note))
	}
}

// picks are the lines that answer a question, each to be typed; rest are the other
// actions.
func (p *page) picks(list []reply.Action) (rest []reply.Action) {
	told := false
	for _, a := range list {
		if !strings.HasPrefix(a.ID, "pick-") {
			rest = append(rest, a)
			continue
		}
		if !told {
			told = true
			p.line("Type one of:")
		}
		p.paragraph("  "+a.Message, "    ")
	}
	return rest
}

// actions are the words that may be typed next.
func (p *page) actions(list []reply.Action) {
	var words []string
	for _, a := range list {
		words = append(words, a.Message)
	}
	if len(words) > 0 {
		p.paragraph(p.faint("Type: "+strings.Join(words, " · ")), "")
	}
}
