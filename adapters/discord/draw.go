package discord

import (
	"strconv"
	"strings"
	"unicode/utf8"

	"firn/bot/present"
)

// block is a paragraph, a list or a table.
type block struct {
	lines []string // as Discord takes them
	text  bool     // sentences: what follows of the same kind follows at once
	code  bool     // in a fence, with head above each piece
	head  []string
}

// writer makes Discord's text of a document's blocks.
type writer struct {
	blocks []block
	foot   bool     // small print is gathered for the footer, while it has room
	small  []string // of the footer
}

func (w *writer) add(b block) {
	last := len(w.blocks) - 1
	switch {
	case len(b.lines) == 0:
	case b.text && last >= 0 && w.blocks[last].text:
		w.blocks[last].lines = append(w.blocks[last].lines, b.lines...)
	default:
		w.blocks = append(w.blocks, b)
	}
}

func (w *writer) all(list []present.Block) {
	for _, b := range list {
		w.block(b)
	}
}

func (w *writer) block(b present.Block) {
	switch b := b.(type) {
	case present.Headline:
		w.text("**", b.Text, "**")
	case present.Stop:
		w.text("**", b.Text, "**")
	case present.Table:
		w.text("**", b.Title, "**")
		w.table(b)
	case present.Call:
		w.text("", b.Title+": “"+b.Text+"”", "")
	case present.Line:
		w.text("", b.Text, "")
	case present.Small:
		w.smallPrint(b.Text)
	case present.State:
		text := b.Text()
		if len(b.Lines) > 0 {
			text += "." // sentences follow
		}
		w.smallPrint(text)
		for _, l := range b.Lines {
			w.smallPrint(l)
		}
	case present.Question:
		w.text("**", b.Text, "**")
		if try := code(cleanLines(b.Try)); try != "" {
			w.add(block{lines: []string{"Type:"}, text: true})
			w.add(fence(strings.Split(try, "\n")))
		}
	case present.List:
		w.list(b.Title, b.Lines)
	case present.Phrases:
		w.phrases(b)
	case present.Steps:
		w.steps(b)
	}
}

// text is a paragraph; wrapped where it is longer than a message.
func (w *writer) text(before, s, after string) {
	b := block{text: true}
	for _, l := range wrap(clean(s), mostLine) {
		if l != "" {
			b.lines = append(b.lines, before+escape(l)+after)
		}
	}
	w.add(b)
}

// smallPrint goes to the footer, which shows it small.
func (w *writer) smallPrint(s string) {
	s = clean(s)
	if n := units(strings.Join(w.small, " ")); w.foot && n+1+units(s) <= mostFooter {
		if s != "" {
			w.small = append(w.small, s)
		}
		return
	}
	w.text("*", s, "*")
}

// table keeps columns; its lines do not wrap on a phone.
func (w *writer) table(t present.Table) {
	lines := t.Lines(present.RowMost)
	for i, l := range lines {
		l = strings.TrimRight(code(strings.Map(visible, strings.ToValidUTF8(l, "\uFFFD"))), " ")
		if utf8.RuneCountInString(l) > present.RowMost {
			l = string([]rune(l)[:present.RowMost-1]) + "…"
		}
		lines[i] = l
	}
	w.add(block{lines: lines[1:], code: true, head: lines[:1]})
}

func (w *writer) list(title string, lines []string) {
	var b block
	if t := escape(cut(clean(title), mostLine)); t != "" {
		b.lines = append(b.lines, "**"+t+"**")
	}
	for _, line := range lines {
		for i, l := range wrap(clean(line), mostLine) {
			switch {
			case l == "":
			case i == 0:
				b.lines = append(b.lines, "• "+escape(l))
			default:
				b.lines = append(b.lines, escape(l))
			}
		}
	}
	w.add(b)
}

// phrases are what is read aloud, quoted.
func (w *writer) phrases(f present.Phrases) {
	b := block{lines: []string{"**" + escape(cut(clean(f.Title), mostLine)) + "**"}}
	for i, q := range f.List {
		if when := clean(q.When); when != "" && (i == 0 || f.List[i-1].When != q.When) {
			b.lines = append(b.lines, escape(cut(when, mostLine))+":")
		}
		for _, l := range wrap(clean(q.Text), mostLine) {
			b.lines = append(b.lines, "> "+escape(l))
		}
		if s := clean(q.Spoken); s != "" {
			for _, l := range wrap("“"+s+"”", mostLine) {
				b.lines = append(b.lines, "> *"+escape(l)+"*")
			}
		}
		b.source(q.Source)
	}
	w.add(b)
}

func (b *block) source(s string) {
	if s = clean(s); s != "" {
		b.lines = append(b.lines, "*source: "+escape(cut(s, mostLine))+"*")
	}
}

func (w *writer) steps(k present.Steps) {
	b := block{lines: []string{"**" + escape(cut(clean(k.Title), mostLine)) + "**"}}
	for _, s := range k.Steps {
		for _, l := range wrap(clean(s.Text), mostLine) {
			b.lines = append(b.lines, "• "+escape(l))
		}
		b.source(s.Source)
	}
	if len(k.Methods) == 0 {
		w.add(b)
		return
	}
	b.lines = append(b.lines, present.ByEveryMethod+":")
	w.add(b)
	lines := make([]string, 0, len(k.Methods))
	for _, m := range k.Methods {
		l := padded(code(clean(m.Method)), 13) + padded("", 8-len(tenths(m.CorrectionFt))) + tenths(m.CorrectionFt) + " ft"
		if m.Method == "four-percent" {
			l += " (no answer)" // it is taught
		}
		lines = append(lines, l)
	}
	w.add(fence(lines))
}

func tenths(v float64) string { return strconv.FormatFloat(v, 'f', 1, 64) }

func padded(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
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

// pack puts blocks into texts of at most most units, mostLine and more. A block
// that does not fit begins a new one, and is cut between lines only where it is
// longer than one.
func pack(blocks []block, most int) []string {
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
	for i, k := range blocks {
		if whole := k.size(); n > 0 && n+whole > most {
			flush()
		}
		if k.code {
			put(fenceMark)
			for _, h := range k.head {
				put(h)
			}
		}
		for _, l := range k.lines {
			if n+units(l)+2*len(fenceMark)+2 > most {
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
		} else if i+1 == len(blocks) || !blocks[i+1].code {
			put("")
		}
	}
	flush()
	if len(parts) == 0 {
		parts = []string{""}
	}
	return parts
}

// beginning is as much of blocks as one text takes: of a list that is too long its
// first lines, of a table all or nothing.
func beginning(blocks []block, most int) (list []block) {
	for _, k := range blocks {
		if whole := k.size(); whole <= most {
			most -= whole
			list = append(list, k)
			continue
		}
		for n := len(k.lines) - 1; n > 1 && !k.code; n-- { // a title alone says nothing
			if part := (block{lines: k.lines[:n], text: k.text}); part.size() <= most {
				return append(list, part)
			}
		}
		return list
	}
	return list
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
func plain(title string, blocks []block) string {
	var b strings.Builder
	if title != "" {
		b.WriteString(unmark(title) + "\n\n")
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
