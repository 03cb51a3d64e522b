package console

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"firn/bot/reply"
)

// Width is the widest line that Render writes, in columns; a word that is
// longer keeps a line to itself.
const Width = 72

// Style is how a reply is shown.
type Style struct {
	Colour bool // for a terminal; every meaning is in words as well
}

// Render writes a reply.
func Render(w io.Writer, r reply.Reply, style Style) error {
	p := &page{style: style}
	if r.Problem != nil {
		p.problem(r.Problem)
	}
	for i, f := range r.Facts {
		if i == 1 && r.Required == reply.Yes {
			p.paragraph(p.emphasis(f), "")
			continue
		}
		p.paragraph(f, "")
	}
	p.table(r.Altitudes)
	p.requests(r.Requests)
	p.sections(r.Sections)
	p.working(r.Working)
	p.cautions(r.Cautions)
	p.record(r.Record)
	if r.Source != "" {
		p.gap()
		p.paragraph(p.faint(r.Source), "")
	}
	p.actions(r.Actions)
	_, err := io.WriteString(w, p.b.String())
	return err
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

func (p *page) problem(q *reply.Problem) {
	p.paragraph(p.emphasis(q.Text), "")
	if q.Try != "" {
		p.paragraph("Type: "+q.Try, "      ")
	}
}

func (p *page) table(rows []reply.Row) {
	if len(rows) == 0 {
		return
	}
	p.gap()
	metric, labelled := false, false
	name, note := 0, 0
	for i := range rows {
		metric = metric || rows[i].PublishedM > 0
		labelled = labelled || rows[i].Segment != ""
		name = max(name, utf8.RuneCountInString(rows[i].Name()))
		note = max(note, utf8.RuneCountInString(notes(&rows[i])))
	}
	figures := name + 10 + 8 + 6 + 11
	if metric {
		figures += 8
	}
	const segment = len("  intermediate")
	labelled = labelled && figures+segment+2+note <= Width
	p.line(padRight("", name) + right("published", 10) + right("height", 8) + right("add", 6) + right("corrected", 11))
	for i := range rows {
		r := &rows[i]
		line := padRight(r.Name(), name) + right(published(r), 10) + right(up(r.HeightFt), 8) + right(up(r.CorrectionFt), 6)
		line += p.emphasis(right(up(r.CorrectedFt), 11))
		if metric {
			line += right(corrected(r), 8)
		}
		if labelled {
			line += padRight("  "+r.Segment, segment)
		}
		if figures+2+note <= Width {
			p.line(line + "  " + notes(r))
		} else {
			p.line(line)
			if n := notes(r); n != "" {
				p.line("    " + n)
			}
		}
		if r.UpperPublishedFt > 0 {
			p.line(padRight("  at most", name) + right(up(r.UpperPublishedFt), 10) + right("", 14) + right(up(r.UpperCorrectedFt), 11))
		}
	}
}

func notes(r *reply.Row) string {
	var words []string
	if r.Report {
		words = append(words, "tell ATC")
	}
	if r.Meaning == "at-or-below" {
		words = append(words, "at or below")
	}
	if !r.Required && r.CorrectionFt > 0 {
		words = append(words, "advice")
	}
	return strings.Join(words, ", ")
}

func published(r *reply.Row) string {
	if r.PublishedM > 0 {
		return trimZeros(r.PublishedM) + " m"
	}
	return trimZeros(r.PublishedFt)
}

func corrected(r *reply.Row) string {
	if r.CorrectedM == 0 {
		return ""
	}
	return up(r.CorrectedM) + " m"
}

// up writes whole units, rounded up.
func up(v float64) string { return fmt.Sprintf("%.0f", math.Ceil(v-1e-6)) }

func trimZeros(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
}

func right(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}

func padRight(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

func (p *page) requests(list []reply.Request) {
	if len(list) == 0 {
		return
	}
	p.gap()
	p.line(p.emphasis("Say to air traffic control"))
	for i, q := range list {
		if i == 0 || list[i-1].When != q.When {
			p.paragraph("  "+q.When+":", "  ")
		}
		p.paragraph("    "+q.Text, "    ")
		p.paragraph("    "+p.faint("“"+q.Spoken+"”"), "    ")
	}
}

func (p *page) sections(list []reply.Section) {
	for _, s := range list {
		p.gap()
		p.paragraph(p.emphasis(s.Title), "")
		for _, l := range s.Lines {
			p.paragraph("  "+l, "  ")
		}
	}
}

func (p *page) working(list []reply.Working) {
	for _, w := range list {
		p.gap()
		title := trimZeros(w.PublishedFt) + " ft"
		if w.Name != "" {
			title = w.Name + " " + title
		}
		p.line(p.emphasis("Working for " + title))
		for _, s := range w.Steps {
			p.paragraph("  "+s.Text, "  ")
			if s.Source != "" {
				p.paragraph("      "+p.faint("source: "+s.Source), "      ")
			}
		}
		p.line("  its own height by every method:")
		for _, m := range w.Methods {
			note := ""
			if m.Method == "four-percent" {
				note = "  taught, never an answer"
			}
			p.line("    " + padRight(m.Method, 14) + right(fmt.Sprintf("%.1f", m.CorrectionFt), 9) + " ft" + note)
		}
	}
}

func (p *page) cautions(list []reply.Caution) {
	if len(list) == 0 {
		return
	}
	p.gap()
	p.line(p.emphasis("Cautions"))
	for _, c := range list {
		p.paragraph("  "+c.Text, "    ")
	}
}

func (p *page) record(c *reply.Card) {
	if c == nil {
		return
	}
	p.gap()
	p.paragraph(p.emphasis(c.Title()), "")
	for _, l := range c.Lines {
		p.paragraph("  "+l, "    ")
	}
}

func (p *page) actions(list []reply.Action) {
	var hints []string
	for _, a := range list {
		hints = append(hints, fmt.Sprintf("%s: type %s", a.Label, a.Message))
	}
	if len(hints) > 0 {
		p.paragraph(p.faint(strings.Join(hints, ". ")+"."), "")
	}
}
