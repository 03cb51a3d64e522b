package present

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"firn/bot/reply"
)

// Table is what to fly beside what the chart has, in flying order.
type Table struct {
	Title string // empty where the headline is enough
	Fly   string // the head of the first column of figures: fly, about, or advice
	Rows  []Row
}

// Row is one altitude. Figures are digits, or a dash where there is none.
type Row struct {
	Name  string
	Fly   string
	Chart string
	Mark  string // an exception, in a word or two; mostly empty
	State reply.State
}

// dash stands for a figure that is not there.
const dash = "–"

// RowMost is the widest line of a table, in characters.
const RowMost = 40

// tableOf makes the cells.
func tableOf(rows []reply.Row, compensated bool) Table {
	t := Table{Fly: "fly", Rows: make([]Row, len(rows))}
	switch {
	case compensated:
		t.Fly = "about"
	case advised(rows):
		t.Fly = "advice"
	}
	for i := range rows {
		t.Rows[i] = rowOf(&rows[i])
	}
	return t
}

// advised says that nothing is known to be required, and the figures are no order.
func advised(rows []reply.Row) bool {
	asked := func(r reply.Row) bool { return r.Required || r.Mark == "if required" }
	corrects := func(r reply.Row) bool { return r.CorrectionFt > 0 && !r.NoAltitude }
	return slices.ContainsFunc(rows, corrects) && !slices.ContainsFunc(rows, asked)
}

func rowOf(r *reply.Row) Row {
	out := Row{Name: plainName(r), Fly: flown(r), Chart: published(r), Mark: markOf(r), State: r.State}
	if r.NoAltitude {
		out.Fly, out.Chart = dash, dash
	}
	if r.State == reply.StateNotUsable {
		out.Fly = dash
	}
	return out
}

// nameOf is plainName with the ways in that lead over the row.
func nameOf(r *reply.Row) string { return plainName(r) + r.Way() }

// plainName is what the row is called on the chart, short: a step by its fix, a
// line of minimums without DA or MDA.
func plainName(r *reply.Row) string {
	label := strings.TrimSuffix(strings.TrimSuffix(r.Label, " MDA"), " DA")
	switch {
	case r.Fix == "" || r.Fix == r.Label:
		return label
	case strings.EqualFold(label, "step"):
		return r.Fix
	case strings.HasPrefix(label, "missed"):
		return label
	}
	return strings.TrimSpace(label + " " + r.Fix)
}

// markOf is the exception that the row makes.
func markOf(r *reply.Row) string {
	var words []string
	if r.Mark != "" {
		words = append(words, r.Mark)
	}
	if w := strings.TrimSpace(r.Way()); w != "" {
		words = append(words, w)
	}
	if r.Meaning == "at-or-below" {
		words = append(words, "at most")
	}
	if strings.HasPrefix(r.Label, "missed") && r.Fix != "" {
		words = append(words, "hold "+r.Fix)
	}
	return strings.Join(words, ", ")
}

func flown(r *reply.Row) string {
	switch {
	case r.CorrectedM > 0:
		return reply.WholeUp(r.CorrectedM) + " m"
	case r.UpperCorrectedFt > 0:
		return reply.WholeUp(r.CorrectedFt) + dash + reply.WholeUp(r.UpperCorrectedFt)
	}
	return reply.WholeUp(r.CorrectedFt)
}

func published(r *reply.Row) string {
	switch {
	case r.PublishedM > 0:
		return exact(r.PublishedM) + " m"
	case r.UpperPublishedFt > 0:
		return exact(r.PublishedFt) + dash + exact(r.UpperPublishedFt)
	}
	return exact(r.PublishedFt)
}

func exact(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', 2, 64), "0"), ".")
}

// Lines draws the table in lines of one column a character, none of them
// longer than most: names on the left, figures on the right, marks behind them,
// or below where they do not fit.
func (t Table) Lines(most int) []string {
	name, fly, chart := 0, utf8.RuneCountInString(t.Fly), len("chart")
	for i := range t.Rows {
		r := &t.Rows[i]
		name = max(name, utf8.RuneCountInString(r.Name))
		fly = max(fly, utf8.RuneCountInString(r.Fly))
		chart = max(chart, utf8.RuneCountInString(r.Chart))
	}
	name = min(name, most-fly-chart-4)
	out := make([]string, 1, len(t.Rows)+1)
	out[0] = left("", name) + "  " + right(t.Fly, fly) + "  " + right("chart", chart)
	for i := range t.Rows {
		r := &t.Rows[i]
		short := r.Name
		if utf8.RuneCountInString(short) > name {
			out = append(out, cut(short, most))
			short = ""
		}
		line := left(short, name) + "  " + right(r.Fly, fly) + "  " + right(r.Chart, chart)
		switch {
		case r.Mark == "":
		case utf8.RuneCountInString(line)+2+utf8.RuneCountInString(r.Mark) <= most:
			line += "  " + r.Mark
		default:
			out = append(out, line)
			line = "  " + cut(r.Mark, most-2)
		}
		out = append(out, line)
	}
	return out
}

func left(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}

func right(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}

// cut shortens a text that is no figure.
func cut(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	return string([]rune(s)[:most-1]) + "…"
}
