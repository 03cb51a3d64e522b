package slack

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	slackgo "github.com/slack-go/slack"

	"firn/bot/reply"
)

// mostRows of a table (docs.slack.dev, table block: 100, with the heading).
const mostRows = 100

// columns of the altitudes; those that hold nothing are left out.
var columns = []struct {
	title string
	right bool
	cell  func(r *reply.Row) string
	upper func(r *reply.Row) string // of the row below, for a between
}{
	{"altitude", false, (*reply.Row).Name, func(*reply.Row) string { return "at most" }},
	{"published", true, published, func(r *reply.Row) string { return up(r.UpperPublishedFt) }},
	{"height ft", true, func(r *reply.Row) string { return up(r.HeightFt) }, nil},
	{"add ft", true, func(r *reply.Row) string { return up(r.CorrectionFt) }, nil},
	{"corrected ft", true, func(r *reply.Row) string { return up(r.CorrectedFt) }, func(r *reply.Row) string { return up(r.UpperCorrectedFt) }},
	{"corrected m", true, corrected, nil},
	{"note", false, notes, nil},
	{"segment", false, func(r *reply.Row) string { return r.Segment }, nil},
}

// grid is the altitudes as cells, headings first.
func grid(rows []reply.Row) (cells [][]string, right []bool) {
	var used []int
	between := false
	for i := range rows {
		between = between || rows[i].UpperPublishedFt > 0
	}
	for c := range columns {
		some := c == 0 && between
		for i := range rows {
			some = some || columns[c].cell(&rows[i]) != ""
		}
		if some {
			used = append(used, c)
		}
	}
	heading := make([]string, len(used))
	for i, c := range used {
		heading[i] = columns[c].title
		right = append(right, columns[c].right)
	}
	cells = append(cells, heading)
	for i := range rows {
		r := &rows[i]
		line := make([]string, len(used))
		for j, c := range used {
			line[j] = columns[c].cell(r)
		}
		cells = append(cells, line)
		if r.UpperPublishedFt <= 0 {
			continue
		}
		line = make([]string, len(used))
		for j, c := range used {
			if columns[c].upper != nil {
				line[j] = columns[c].upper(r)
			}
		}
		cells = append(cells, line)
	}
	return cells, right
}

// table shows the altitudes: as tables, one a message, or as text in columns
// where Slack takes no table.
func (p *sheet) table(rows []reply.Row) {
	if len(rows) == 0 {
		return
	}
	p.end()
	cells, right := grid(rows)
	if p.home {
		p.preformatted(columned(cells, right))
		p.end()
		return
	}
	settings := make([]slackgo.ColumnSetting, len(right))
	for i, r := range right {
		settings[i] = slackgo.ColumnSetting{Align: slackgo.ColumnAlignmentLeft, IsWrapped: !r}
		if r {
			settings[i].Align = slackgo.ColumnAlignmentRight
		}
	}
	heading, rest := cells[0], cells[1:]
	for len(rest) > 0 {
		n := min(len(rest), mostRows-1)
		t := slackgo.NewTableBlock("").WithColumnSettings(settings...)
		size := 0
		for _, line := range append([][]string{heading}, rest[:n]...) {
			var row []slackgo.TableCell
			for _, text := range line {
				if text = cut(plainText(text), 60); text == "" {
					text = "–" // Slack takes no empty cell
				}
				size += utf8.RuneCountInString(text)
				row = append(row, slackgo.NewTableRawTextCell(text))
			}
			t.AddRow(row...)
		}
		p.items = append(p.items, item{block: t, size: size, table: true})
		rest = rest[n:]
	}
}

// columned is cells as text.
func columned(cells [][]string, right []bool) string {
	width := make([]int, len(right))
	for _, line := range cells {
		for i, text := range line {
			width[i] = max(width[i], utf8.RuneCountInString(plainText(text)))
		}
	}
	var b strings.Builder
	for _, line := range cells {
		var l strings.Builder
		for i, text := range line {
			text = plainText(text)
			pad := strings.Repeat(" ", width[i]-utf8.RuneCountInString(text))
			if right[i] {
				l.WriteString(pad + text + "  ")
			} else {
				l.WriteString(text + pad + "  ")
			}
		}
		b.WriteString(strings.TrimRight(l.String(), " ") + "\n")
	}
	return b.String()
}

// notes say in words what the rule asks; nothing is told by colour.
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
	return up(r.CorrectedM)
}

// up writes whole units, rounded up.
func up(v float64) string { return fmt.Sprintf("%.0f", math.Ceil(v-1e-6)) }

func trimZeros(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", v), "0"), ".")
}
