package chartyaml

import (
	"bytes"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

const (
	maxSize   = 256 << 10 // bytes; a procedure is about one thousand
	maxTokens = 40_000
	maxDepth  = 12 // the deepest key is at about four
)

// reader reads one file and gathers what is wrong with it.
type reader struct {
	file     string
	problems Problems
}

func (r *reader) addAt(line, column int, format string, args ...any) {
	if len(r.problems) < keptProblems {
		r.problems = append(r.problems, &Problem{File: r.file, Line: max(line, 1), Column: max(column, 1), Text: fmt.Sprintf(format, args...)})
	}
}

func (r *reader) add(n ast.Node, format string, args ...any) {
	t := start(n)
	r.addAt(t.Position.Line, t.Position.Column, format, args...)
}

// start is the first token of a node. A block mapping's own token is the
// colon after its first key.
func start(n ast.Node) *token.Token {
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return m.Values[0].Key.GetToken()
	}
	return n.GetToken()
}

// documents gives the file's documents, or none when it cannot be read.
func (r *reader) documents(data []byte) []*ast.MappingNode {
	source, ok := r.text(data)
	if !ok {
		return nil
	}
	tokens := lexer.Tokenize(source)
	if !r.allowed(tokens) {
		return nil
	}
	f, err := parse(tokens)
	if err != nil {
		r.unreadable(err)
		return nil
	}
	var all []*ast.MappingNode
	for _, d := range f.Docs {
		switch body := d.Body.(type) {
		case nil:
		case *ast.NullNode, *ast.CommentGroupNode:
		case *ast.MappingNode:
			all = append(all, body)
		default:
			r.add(body, `this is not a procedure: it is made of keys, each with a colon and a space, such as "station: XKLD"`)
		}
	}
	if len(all) == 0 && len(r.problems) == 0 {
		r.addAt(1, 1, `the file holds no procedure; begin with "station: XKLD"`)
	}
	return all
}

// parse turns a panic of the parser into an error: goccy/go-yaml 1.19.2 has
// some.
func parse(tokens token.Tokens) (f *ast.File, err error) {
	defer func() {
		if p := recover(); p != nil {
			err = fmt.Errorf("not a document that can be read: %v", p)
		}
	}()
	return parser.Parse(tokens, 0, parser.AllowDuplicateMapKey())
}

// text checks that the bytes are text and makes every line end alike.
func (r *reader) text(data []byte) (string, bool) {
	if len(data) > maxSize {
		r.addAt(1, 1, "the file has %d bytes, at most %d are read: is it the right file?", len(data), maxSize)
		return "", false
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	line, column := 1, 1
	for i := 0; i < len(data); {
		c, size := utf8.DecodeRune(data[i:])
		switch {
		case c == utf8.RuneError && size == 1:
			r.addAt(line, column, "this byte is not UTF-8 text; save the file as UTF-8")
			return "", false
		case c == '\n':
			line, column = line+1, 0
		case c == '\t':
			r.addAt(line, column, "a tab; write spaces")
			return "", false
		case unicode.IsControl(c), c == '\ufeff':
			r.addAt(line, column, "control character U+%04X; remove it", c)
			return "", false
		}
		column++
		i += size
	}
	return string(data), true
}

// allowed refuses what a procedure has no use for before the parser, which is
// recursive, sees it: deep nesting, anchors, aliases, tags, directives.
func (r *reader) allowed(tokens token.Tokens) bool {
	before := len(r.problems)
	if len(tokens) > maxTokens {
		r.addAt(1, 1, "the file has too many words; a procedure has a few hundred")
		return false
	}
	depth, dashes, line := 0, 0, 0
	var columns []int // those that the current line is nested in
	for _, t := range tokens {
		at := t.Position
		if at.Line != line {
			line, dashes = at.Line, 0
			for len(columns) > 0 && columns[len(columns)-1] >= at.Column {
				columns = columns[:len(columns)-1]
			}
			columns = append(columns, at.Column)
		}
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			depth++
		case token.SequenceEndType, token.MappingEndType:
			depth--
		case token.SequenceEntryType:
			dashes++
		case token.AnchorType, token.AliasType, token.MergeKeyType, token.TagType, token.DirectiveType, token.MappingKeyType:
			r.addAt(at.Line, at.Column, "%s is not used here; remove it, or put the text in quotes", quote(t.Value))
		}
		if depth > maxDepth || dashes > maxDepth || len(columns) > maxDepth {
			r.addAt(at.Line, at.Column, "nested more than %d deep: this is not a procedure", maxDepth)
			return false
		}
	}
	return len(r.problems) == before
}

// unreadable gives the parser's error its line.
func (r *reader) unreadable(err error) {
	var ye yaml.Error
	if !errors.As(err, &ye) || ye.GetToken() == nil || ye.GetToken().Position == nil {
		text, _, _ := strings.Cut(err.Error(), "\n")
		r.addAt(1, 1, "not readable as YAML: %s", text)
		return
	}
	text, _, _ := strings.Cut(ye.GetMessage(), "\n")
	at := ye.GetToken().Position
	r.addAt(at.Line, at.Column, `not readable as YAML: %s; write "key: value", lists as [a, b], groups as {key: value}, and a text with ": " in quotes`, text)
}

// mapping calls each for every key that has a value, once.
func (r *reader) mapping(n ast.Node, what string, keys []string, each func(key string, value ast.Node)) bool {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		r.add(n, "%s must be a group of keys, not %s; its keys are %s", what, describe(n), oneOf(keys))
		return false
	}
	seen := map[string]int{}
	for i := 0; i < len(m.Values); i++ {
		v := m.Values[i]
		t := v.Key.GetToken()
		key, at := t.Value, t.Position
		if whole, parted := thousands(m.Values[i:]); parted {
			r.add(v.Value, "%s has a comma, which parts the keys here; write %s without it", whole, strings.Replace(whole, ",", "", 1))
			seen[key] = at.Line
			i++ // what stands behind the comma
			continue
		}
		known := false
		for _, k := range keys {
			known = known || k == key
		}
		switch {
		case !known:
			if best, ok := suggest(key, keys); ok {
				r.addAt(at.Line, at.Column, "unknown key %s; did you mean %q?", quote(key), best)
			} else {
				r.addAt(at.Line, at.Column, "unknown key %s; the keys of %s are %s", quote(key), what, oneOf(keys))
			}
		case seen[key] > 0:
			r.addAt(at.Line, at.Column, "%s is given twice, first on line %d; remove one of them", quote(key), seen[key])
		default:
			seen[key] = at.Line
			if v.Value == nil || v.Value.Type() == ast.NullType {
				r.addAt(at.Line, at.Column, "%s has no value; write one or remove the line", quote(key))
				continue
			}
			each(key, v.Value)
		}
	}
	return true
}

var ahead, behind = regexp.MustCompile(`^[0-9]{1,2}$`), regexp.MustCompile(`^[0-9]{3}$`)

// thousands says whether a figure was parted by its comma: {mda: 7,260} is mda
// 7, and a key 260 without a value. It is the figure as it was typed.
func thousands(values []*ast.MappingValueNode) (string, bool) {
	if len(values) < 2 || values[0].Value == nil || values[1].Value != nil && values[1].Value.Type() != ast.NullType {
		return "", false
	}
	first, ok := literal(values[0].Value)
	rest := values[1].Key.GetToken().Value
	return first + "," + rest, ok && ahead.MatchString(first) && behind.MatchString(rest)
}

// list gives the entries of a list.
func (r *reader) list(n ast.Node, key, example string) []ast.Node {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		r.add(n, "%q must be a list, not %s; write %s", key, describe(n), example)
		return nil
	}
	return s.Values
}

// describe says what a node is, in a crew's words.
func describe(n ast.Node) string {
	switch n.(type) {
	case *ast.MappingNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.NullNode:
		return "nothing"
	}
	s, _ := literal(n)
	return quote(s)
}

// literal gives a scalar as it is written, whatever YAML takes it for: 09 is
// a runway.
func literal(n ast.Node) (string, bool) {
	switch n := n.(type) {
	case *ast.StringNode:
		return n.Value, true
	case *ast.LiteralNode:
		return n.Value.Value, true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		return n.GetToken().Value, true
	}
	return "", false
}

// words reads a short text of one line.
func (r *reader) words(n ast.Node, key, example string) (string, bool) {
	const longest = 120
	s, ok := literal(n)
	s = strings.TrimSpace(s)
	switch {
	case !ok:
		r.add(n, "%q must be text, not %s; write %s", key, describe(n), example)
	case s == "":
		r.add(n, "%q is empty; write %s", key, example)
	case utf8.RuneCountInString(s) > longest:
		r.add(n, "%q has more than %d characters; shorten it", key, longest)
	case strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) }):
		r.add(n, "%q must be one line of text", key)
	default:
		return s, true
	}
	return "", false
}

// decimal is the only way to write a number.
var decimal = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]{0,5})(\.[0-9]{1,4})?$`)

// number reads a number within limits.
func (r *reader) number(n ast.Node, key, unit string, low, high float64) (float64, bool) {
	s, ok := literal(n)
	if !ok || !decimal.MatchString(s) {
		r.add(n, "%q must be a plain number of %s, not %s; write digits only", key, unit, describe(n))
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil || f < low || f > high {
		r.add(n, "%q must be from %s to %s %s, not %s", key, plain(low), plain(high), unit, s)
		return 0, false
	}
	return f + 0, true // -0 is 0
}

func plain(f float64) string { return strconv.FormatFloat(f, 'f', -1, 64) }

// date reads a day of the calendar, in UTC.
func (r *reader) date(n ast.Node, key string) time.Time {
	s, _ := literal(n)
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1990 || t.Year() > 2100 {
		r.add(n, "%q must be a day as 2026-09-03, not %s", key, describe(n))
		return time.Time{}
	}
	return t
}
