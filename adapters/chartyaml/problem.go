package chartyaml

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode/utf8"

	"firn/bot/spelling"
)

// Problem is one thing wrong with a file: where, and what to write instead.
type Problem struct {
	File         string
	Line, Column int // from 1
	Text         string
}

// Error is one line: file:line:column: text.
func (p *Problem) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Column, p.Text)
}

// Problems are all that one reading found, in the order of the file. It is the
// type of every error that Read returns.
type Problems []*Problem

// keptProblems bounds the list: a file with more is not this file.
const keptProblems = 100

// Error has a line a problem.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap lets errors.As find a single Problem.
func (ps Problems) Unwrap() []error {
	errs := make([]error, len(ps))
	for i, p := range ps {
		errs[i] = p
	}
	return errs
}

func (ps Problems) sorted() Problems {
	slices.SortStableFunc(ps, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return ps
}

// quote makes a word of the file fit for a message.
func quote(word string) string {
	const longest = 40
	if r := []rune(word); len(r) > longest {
		word = string(r[:longest]) + "…"
	}
	return fmt.Sprintf("%q", word)
}

// oneOf lists choices for a sentence.
func oneOf(choices []string) string {
	last := len(choices) - 1
	if last < 1 {
		return strings.Join(choices, "")
	}
	return strings.Join(choices[:last], ", ") + " or " + choices[last]
}

// suggest picks the choice a word was probably meant to be, or none.
func suggest(word string, choices []string) (string, bool) {
	fold := func(s string) string {
		return strings.ToLower(strings.NewReplacer("-", "_", " ", "_", "/", "_").Replace(s))
	}
	w := fold(word)
	limit := max(1, min(3, utf8.RuneCountInString(w)/3))
	best, least := "", limit+1
	for _, c := range choices {
		f := fold(c)
		d := spelling.Distance(w, f, limit)
		if d > limit && len(w) >= 3 && (strings.HasPrefix(f, w) || strings.HasPrefix(w, f)) {
			d = limit // a part of the word, or the word with an ending
		}
		if d < least {
			best, least = c, d
		}
	}
	return best, best != ""
}
