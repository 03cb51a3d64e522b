package cifp

import (
	"bytes"
	"fmt"
	"strings"
)

// Problem is a record that could not be read, or something in the file that a
// reader should look at.
type Problem struct {
	Line int // from 1
	Text string
}

// Error is one line: line 812: text.
func (p Problem) Error() string { return fmt.Sprintf("line %d: %s", p.Line, p.Text) }

// lose reports a record that may have belonged to the approach being read.
func (r *reader) lose(s []byte, f *fault) {
	if len(s) >= 19 && s[4] == 'P' && s[5] == ' ' && s[12] == 'F' && r.key == keyOf(s) {
		r.unread++
	}
	r.report(s, f)
}

func (r *reader) report(s []byte, f *fault) {
	r.sum.Malformed++
	r.note(s, f)
}

func (r *reader) note(s []byte, f *fault) {
	if r.h.Problem == nil && len(r.sum.Problems) == keptProblems {
		return
	}
	p := Problem{Line: r.line, Text: f.describe(s)}
	if r.h.Problem != nil {
		r.h.Problem(p)
	}
	if len(r.sum.Problems) < keptProblems {
		r.sum.Problems = append(r.sum.Problems, p)
	}
}

// describe names airport and approach, as far as the record shows them, and
// quotes the columns.
func (f *fault) describe(s []byte) string {
	var b strings.Builder
	if len(s) >= 19 && s[4] == 'P' {
		fmt.Fprintf(&b, "%s ", latin1(bytes.TrimSpace(s[6:10])))
		if s[12] == 'F' {
			fmt.Fprintf(&b, "%s ", latin1(bytes.TrimSpace(s[13:19])))
		}
	}
	text := strings.TrimSpace(b.String())
	if text != "" {
		text = fmt.Sprintf("%.40q: ", text)
		text = strings.ReplaceAll(text, `"`, "")
	}
	text += f.text
	switch {
	case f.from == 0 || f.to > len(s):
	case f.from == f.to:
		text += fmt.Sprintf(" (column %d: %q)", f.from, latin1(s[f.from-1:f.to]))
	default:
		text += fmt.Sprintf(" (columns %d-%d: %q)", f.from, f.to, latin1(s[f.from-1:f.to]))
	}
	return text
}
