package chartyaml

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"

	"firn/bot/strictyaml"
)

// form is what a file of procedures may be; a procedure is about one thousand
// bytes, and its deepest key at about four.
var form = strictyaml.Form{
	Name: "a procedure", Example: "a procedure that is read", Whole: "station: XKLD",
	Empty:   `the file holds no procedure; begin with "station: XKLD"`,
	Several: true, Bytes: 256 << 10, Depth: 12, Tokens: 40_000,
}

// reader reads one file.
type reader struct{ *strictyaml.Reader }

// words reads a short text of one line.
func (r *reader) words(n ast.Node, key, example string) (string, bool) {
	const longest = 120
	s, ok := strictyaml.Literal(n)
	s = strings.TrimSpace(s)
	switch {
	case !ok:
		r.Add(n, "%q must be text, not %s; write %s", key, strictyaml.Describe(n), example)
	case s == "":
		r.Add(n, "%q is empty; write %s", key, example)
	case utf8.RuneCountInString(s) > longest:
		r.Add(n, "%q has more than %d characters; shorten it", key, longest)
	case strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) }):
		r.Add(n, "%q must be one line of text", key)
	default:
		return s, true
	}
	return "", false
}

// date reads a day of the calendar, in UTC.
func (r *reader) date(n ast.Node, key string) time.Time {
	s, _ := strictyaml.Literal(n)
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1990 || t.Year() > 2100 {
		r.Add(n, "%q must be a day as 2026-09-03, not %s", key, strictyaml.Describe(n))
		return time.Time{}
	}
	return t
}
