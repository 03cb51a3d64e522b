package discord

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"firn/bot/reply"
)

// columns is the widest line of a table: what a phone held upright shows of a
// block of code without breaking it (measured by eye, a figure of ours).
const columns = 40

// nameColumns is the widest name beside its figures; a longer one stands above
// them.
const nameColumns = columns - 9 - 7 - 6 - 7 - 2

// table is one row an altitude: published, height, what to add, corrected.
func table(rows []reply.Row) (head, lines []string) {
	name := 0
	for i := range rows {
		if n := utf8.RuneCountInString(rowName(&rows[i])); n <= nameColumns {
			name = max(name, n)
		}
	}
	line := func(first, publ, height, add, corr, mark string) string {
		return strings.TrimRight(padRight(first, name)+right(publ, 9)+right(height, 7)+right(add, 6)+right(corr, 7)+mark, " ")
	}
	head = []string{line("", "publ.", "height", "add", "corr.", "")}
	segment := ""
	for i := range rows {
		r := &rows[i]
		if r.Segment != segment && r.Segment != "" {
			lines = append(lines, wrap(code(clean(r.Segment)), columns)...)
		}
		segment = r.Segment
		first := rowName(r)
		if utf8.RuneCountInString(first) > name {
			lines = append(lines, wrap(first, columns)...)
			first = ""
		}
		lines = append(lines, line(first, published(r), up(r.HeightFt), up(r.CorrectionFt), up(r.CorrectedFt), mark(r)))
		if r.UpperPublishedFt > 0 {
			lines = append(lines, line("", trim(r.UpperPublishedFt), "", "", up(r.UpperCorrectedFt), " at most"))
		}
		if r.PublishedM > 0 {
			lines = append(lines, line("", "", "", "", up(r.CorrectedM)+" m", ""))
		}
	}
	return head, lines
}

// published is the altitude as it was typed.
func published(r *reply.Row) string {
	if r.PublishedM > 0 {
		return trim(r.PublishedM) + " m"
	}
	return trim(r.PublishedFt)
}

// The marks behind a row, and what they mean.
const (
	tellMark   = "*"
	adviceMark = "?"
	tellText   = "* tell ATC"
	adviceText = "? advice: the rule does not ask for it"
	mostMark   = "<"
	mostText   = "< at or below"
)

func advice(r *reply.Row) bool { return !r.Required && r.CorrectionFt > 0 }

func mark(r *reply.Row) string {
	m := ""
	if r.Report {
		m += tellMark
	}
	if advice(r) {
		m += adviceMark
	}
	if r.Meaning == atOrBelow {
		m += mostMark
	}
	return m
}

// legend are the marks of the rows, in words.
func legend(rows []reply.Row) string {
	var words []string
	if slices.ContainsFunc(rows, func(r reply.Row) bool { return r.Report }) {
		words = append(words, tellText)
	}
	if slices.ContainsFunc(rows, func(r reply.Row) bool { return advice(&r) }) {
		words = append(words, adviceText)
	}
	if slices.ContainsFunc(rows, func(r reply.Row) bool { return r.Meaning == atOrBelow }) {
		words = append(words, mostText)
	}
	return strings.Join(words, "; ")
}

// atOrBelow is the meaning of an altitude that is a ceiling.
const atOrBelow = "at-or-below"

func rowName(r *reply.Row) string {
	return code(clean(r.Name()))
}

// methods is one line a method of the working.
func methods(list []reply.MethodFigure) []string {
	var lines []string
	for _, m := range list {
		l := padRight(code(clean(m.Method)), 13) + right(strconv.FormatFloat(m.CorrectionFt, 'f', 1, 64), 8) + " ft"
		if m.Method == "four-percent" {
			l += " (no answer)"
		}
		lines = append(lines, l)
	}
	return lines
}

// up writes whole units, rounded up.
func up(v float64) string { return fmt.Sprintf("%.0f", math.Ceil(v-1e-6)) }

func trim(v float64) string {
	return strings.TrimSuffix(strings.TrimRight(strconv.FormatFloat(v, 'f', 2, 64), "0"), ".")
}

func right(s string, n int) string {
	return strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s))) + s
}

func padRight(s string, n int) string {
	return s + strings.Repeat(" ", max(0, n-utf8.RuneCountInString(s)))
}
