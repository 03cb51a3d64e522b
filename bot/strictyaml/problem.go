package strictyaml

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
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

// Problems are all that one reading found, in the order of the file. It is
// the type of every error of a file.
type Problems []*Problem

// shownProblems bounds the text: one slip repeated ten thousand times is read
// once.
const shownProblems = 50

// Error has a line a problem, the first one first.
func (ps Problems) Error() string {
	var b strings.Builder
	for i, p := range ps {
		if i == shownProblems {
			fmt.Fprintf(&b, "\n%s: and %d more", p.File, len(ps)-i)
			break
		}
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(p.Error())
	}
	return b.String()
}

// Unwrap lets errors.As find a single Problem.
func (ps Problems) Unwrap() []error {
	errs := make([]error, len(ps))
	for i, p := range ps {
		errs[i] = p
	}
	return errs
}

// Sorted puts problems in the order of the file.
func (ps Problems) Sorted() Problems {
	slices.SortStableFunc(ps, func(a, b *Problem) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Column, b.Column))
	})
	return ps
}

// Quote makes a word of the file fit for a message: on one line, short, and
// nothing that could be a secret.
func Quote(word string) string {
	if SecretIn(word) {
		return "(not shown)"
	}
	const longest = 40
	if r := []rune(word); len(r) > longest {
		word = string(r[:longest]) + "…"
	}
	return fmt.Sprintf("%q", word)
}

// OneOf lists choices for a sentence.
func OneOf(choices []string) string {
	if len(choices) == 0 {
		return ""
	}
	last := len(choices) - 1
	if last == 0 {
		return choices[0]
	}
	return strings.Join(choices[:last], ", ") + " or " + choices[last]
}
