package config

import (
	"bytes"
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/lexer"
	"github.com/goccy/go-yaml/parser"
	"github.com/goccy/go-yaml/token"
)

const (
	maxSize  = 4 << 20 // bytes; 10 000 stations with everything said are about two million
	maxDepth = 32      // the deepest key of a rule set is at about eight
	maxKeys  = 1000    // of one group; the parser's time is their square
	maxFound = 1000    // problems kept; a file with more is not this file
)

// reader reads one file and gathers what is wrong with it.
type reader struct {
	file     string
	source   []byte // after normalise
	starts   []int  // where each line of source begins, and where the last one ends
	problems Problems
	zones    map[string]zone // time zones met so far
}

func (r *reader) addAt(line, column int, format string, args ...any) {
	if len(r.problems) < maxFound {
		r.problems = append(r.problems, &Problem{File: r.file, Line: line, Column: column, Text: fmt.Sprintf(format, args...)})
	}
}

func (r *reader) addToken(t *token.Token, format string, args ...any) {
	r.addAt(t.Position.Line, t.Position.Column, format, args...)
}

func (r *reader) add(n ast.Node, format string, args ...any) {
	r.addToken(start(n), format, args...)
}

// start is the first token of a node. A block mapping's own token is the
// colon after its first key.
func start(n ast.Node) *token.Token {
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return m.Values[0].Key.GetToken()
	}
	return n.GetToken()
}

// tree gives the top of the file's only document, or nil when a problem keeps
// the file from being read at all.
func (r *reader) tree(data []byte) *ast.MappingNode {
	if !r.normalise(data) {
		return nil
	}
	r.findSecrets()
	tokens := lexer.Tokenize(string(r.source))
	if !r.allowed(tokens) {
		return nil
	}
	f, err := parser.Parse(joinAddresses(tokens), 0, parser.AllowDuplicateMapKey())
	if err != nil {
		r.unreadable(err)
		return nil
	}
	var body ast.Node
	for _, d := range f.Docs {
		if d.Body != nil {
			body = d.Body
		}
	}
	if body == nil {
		r.addAt(1, 1, `the file is empty; write at least "stations:" and "rules:", as config.example.yaml does`)
		return nil
	}
	m, ok := body.(*ast.MappingNode)
	if !ok {
		r.add(body, `this is not a configuration: the file must be made of keys, each with a colon and a space, such as "rules: faa-all-segments"`)
		return nil
	}
	return m
}

// normalise checks that the bytes are text and makes every line end alike.
// Lines and columns stay what an editor shows.
func (r *reader) normalise(data []byte) bool {
	if len(data) > maxSize {
		r.addAt(1, 1, "the file has %d bytes; at most %d are read: is it the right file?", len(data), maxSize)
		return false
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		r.addAt(1, 1, "the file is in UTF-16; save it as UTF-8")
		return false
	}
	data = bytes.TrimPrefix(data, []byte("\ufeff"))
	data = bytes.ReplaceAll(data, []byte("\r\n"), []byte("\n"))
	r.source = bytes.ReplaceAll(data, []byte("\r"), []byte("\n"))
	line, column := 1, 1
	r.starts = append(r.starts, 0)
	for i := 0; i < len(r.source); {
		c, size := utf8.DecodeRune(r.source[i:])
		switch {
		case c == utf8.RuneError && size == 1:
			r.addAt(line, column, "this byte is not UTF-8 text; save the file as UTF-8")
			return false
		case c == '\n':
			line, column = line+1, 0
			r.starts = append(r.starts, i+1)
		case c < ' ' && c != '\t', c == 0x7f, c == '\ufeff':
			r.addAt(line, column, "control character U+%04X: this is not a text file, or something was pasted into it; remove it", c)
			return false
		}
		column++
		i += size
	}
	r.starts = append(r.starts, len(r.source))
	return true
}

// findSecrets looks through the whole text, comments and rule sets too: a
// token in a comment is as lost as one in a value.
func (r *reader) findSecrets() {
	line, lineStart := 1, 0
	for i := 0; i < len(r.source); {
		c := r.source[i]
		if c == '\n' {
			line, lineStart = line+1, i+1
		}
		if !secretByte(c) {
			i++
			continue
		}
		end := i
		for end < len(r.source) && secretByte(r.source[end]) {
			end++
		}
		if variable, secret := secretWord(string(r.source[i:end])); secret {
			r.addAt(line, utf8.RuneCount(r.source[lineStart:i])+1, "%s", secretText("this looks like a secret", variable))
		}
		i = end
	}
}

// allowed refuses what a configuration has no use for, before anything
// recursive sees it: deep nesting, groups with keys without end, anchors and
// aliases (which multiply), merge keys, tags, directives and further documents.
func (r *reader) allowed(tokens token.Tokens) bool {
	before := len(r.problems)
	var (
		open      []bracket // those before here that are not closed
		levels    []level   // the lines that the current line is nested in
		dashes    int       // on the current line
		line      int
		directive int // the line of the last one
		missing   int // values, so far
		content   bool
	)
	for i, t := range tokens {
		if t.Type == token.CommentType {
			continue
		}
		if t.Position.Line != line {
			line, dashes = t.Position.Line, 0
			if len(open) == 0 {
				levels = nested(levels, t)
			}
		}
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			open = append(open, bracket{noColon: t.Type == token.MappingStartType, group: t.Type == token.MappingStartType})
		case token.MappingValueType:
			if len(open) > 0 {
				open[len(open)-1].noColon = false
			}
		case token.CollectEntryType, token.SequenceEndType, token.MappingEndType:
			if len(open) == 0 {
				break
			}
			b := &open[len(open)-1]
			if b.noColon {
				missing++
			}
			b.commas, b.noColon = b.commas+1, b.group
			if t.Type != token.CollectEntryType {
				open = open[:len(open)-1]
			}
		case token.SequenceEntryType:
			dashes++
		case token.AnchorType, token.AliasType:
			r.addToken(t, `anchors and aliases (& and *) are not used here: write the value out, or put the text in quotes`)
		case token.MergeKeyType:
			r.addToken(t, `merge keys (<<) are not used here: write the values out`)
		case token.TagType:
			r.addToken(t, `tags (!) are not used here: remove it, or put the text in quotes`)
		case token.DirectiveType:
			directive = t.Position.Line
			r.addToken(t, `directives (%%) are not used here: remove the line, or put the text in quotes`)
		case token.MappingKeyType:
			r.addToken(t, `"? " keys are not used here: write "key: value"`)
		case token.DocumentHeaderType:
			if content {
				r.addToken(t, `a second document begins here; a configuration is one document: remove the "---"`)
			}
		}
		if t.Type != token.DocumentHeaderType && t.Position.Line != directive {
			content = true
		}
		if noValue(tokens, i, levels, dashes) {
			missing++
		}
		switch {
		case len(open) > maxDepth || dashes > maxDepth || len(levels) > maxDepth:
			r.addToken(t, "nested more than %d deep: this is not a configuration", maxDepth)
			return false
		case len(levels) > 0 && levels[len(levels)-1].keys > maxKeys, len(open) > 0 && open[len(open)-1].commas > maxKeys:
			r.addToken(t, "a group or list in brackets of more than %d: begin each entry of a long list with \"- \" on its own line", maxKeys)
			return false
		case missing > maxKeys:
			r.addToken(t, "more than %d keys or entries up to here have no value: this is not a configuration", maxKeys)
			return false
		}
	}
	return len(r.problems) == before
}

// bracket is one that is open: whether it is a brace, its commas, and whether
// the key that stands there has no colon yet.
type bracket struct {
	group, noColon bool
	commas         int
}

// level is a column on which lines begin, and how many of them are keys of
// the same group.
type level struct{ column, keys int }

// nested puts a line's first token among the lines that it is nested in.
func nested(levels []level, t *token.Token) []level {
	column := t.Position.Column
	for len(levels) > 0 && levels[len(levels)-1].column > column {
		levels = levels[:len(levels)-1]
	}
	if len(levels) == 0 || levels[len(levels)-1].column < column {
		levels = append(levels, level{column: column})
	}
	if t.Type != token.SequenceEntryType {
		levels[len(levels)-1].keys++
	}
	return levels
}

// noValue says whether a key or an entry begins at token i and has nothing
// after it. The parser fills such a gap at a cost that grows with the file.
func noValue(tokens token.Tokens, i int, levels []level, dashes int) bool {
	t := tokens[i]
	if t.Type != token.MappingValueType && t.Type != token.SequenceEntryType {
		return false
	}
	for i++; i < len(tokens) && tokens[i].Type == token.CommentType; i++ {
	}
	if i == len(tokens) {
		return true
	}
	next := tokens[i]
	switch next.Type {
	case token.CollectEntryType, token.MappingEndType, token.SequenceEndType:
		return true
	}
	if len(levels) == 0 || next.Position.Line == t.Position.Line {
		return false
	}
	column := levels[len(levels)-1].column
	listBelow := dashes == 0 && t.Type == token.MappingValueType && next.Type == token.SequenceEntryType
	return next.Position.Column < column || next.Position.Column == column && !listBelow
}

// joinAddresses puts "slack:C01" in a list in brackets back together. The
// lexer cuts it at the colon when the list itself stands in braces, as in
// {channels: [slack:C01]}; YAML 1.2.2, 7.3.3, has a colon with no space after
// it inside such a text belong to the text.
func joinAddresses(tokens token.Tokens) token.Tokens {
	joined := tokens[:0:0]
	var open []token.Type
	for i := 0; i < len(tokens); i++ {
		t := tokens[i]
		switch t.Type {
		case token.SequenceStartType, token.MappingStartType:
			open = append(open, t.Type)
		case token.SequenceEndType, token.MappingEndType:
			if len(open) > 0 {
				open = open[:len(open)-1]
			}
		}
		inList := len(open) > 0 && open[len(open)-1] == token.SequenceStartType
		for inList && i+2 < len(tokens) && t.Type == token.StringType && tokens[i+1].Type == token.MappingValueType &&
			touches(t, tokens[i+1]) && touches(tokens[i+1], tokens[i+2]) && isPlain(tokens[i+2]) {
			whole := *t
			whole.Value += ":" + tokens[i+2].Value
			whole.Origin += ":" + tokens[i+2].Origin
			t = &whole
			i += 2
		}
		joined = append(joined, t)
	}
	return joined
}

// touches says whether b begins where a ends.
func touches(a, b *token.Token) bool {
	return a.Position.Line == b.Position.Line && a.Position.Column+utf8.RuneCountInString(a.Value) == b.Position.Column
}

// isPlain says whether a token is a text or figure without quotes.
func isPlain(t *token.Token) bool {
	switch t.Type {
	case token.StringType, token.IntegerType, token.FloatType, token.OctetIntegerType, token.HexIntegerType,
		token.BinaryIntegerType, token.BoolType, token.NullType:
		return true
	}
	return false
}

// unreadable turns the parser's words into ones a person can act on. The
// parser's excerpt of the source is left out: it may show a secret.
func (r *reader) unreadable(err error) {
	line, column, text := 1, 1, ""
	var ye yaml.Error
	if !errors.As(err, &ye) {
		text = err.Error()
	} else {
		// Not ye.Error: it renders the whole file to show three lines of it.
		text = ye.GetMessage()
		if t := ye.GetToken(); t != nil && t.Position != nil {
			line, column = max(t.Position.Line, 1), max(t.Position.Column, 1)
		}
	}
	text, _, _ = strings.Cut(text, "\n")
	switch {
	case strings.Contains(text, "\t"), strings.Contains(text, "tab character"), r.tabbed(line):
		text = "a tab indents this line; indent with spaces"
	case strings.Contains(text, "unexpected key name"):
		text = `this is no "key: value"; write the key, a colon, a space and the value`
	case strings.Contains(text, "mapping value is not allowed"), strings.Contains(text, "implicit line break"):
		text = `a key is not expected here; indent this line and the next like their neighbours, and put a text that holds ": " in quotes`
	case strings.Contains(text, "must be specified"), strings.Contains(text, "not found"), strings.Contains(text, "end token"), strings.Contains(text, "pre-defined"):
		text = "a bracket opened before here is not closed, or a comma is missing; write lists as [a, b] and groups as {key: value}"
	case strings.Contains(text, "end character"):
		text = "a quote opened here is not closed; end the text with the same quote"
	case strings.Contains(text, "reserved character"):
		text = "a text cannot begin with this character; put the text in quotes"
	default:
		text = "not readable as YAML: " + text + "; compare the line with config.example.yaml"
	}
	r.addAt(line, column, "%s", text)
}

// tabbed says whether the indentation of a line holds a tab.
func (r *reader) tabbed(line int) bool {
	l := r.lines(line, line)
	return bytes.Contains(l[:len(l)-len(bytes.TrimLeft(l, " \t"))], []byte("\t"))
}

// lines gives the bytes of the lines from first to last, both included.
func (r *reader) lines(first, last int) []byte {
	end := len(r.starts) - 1
	return r.source[r.starts[min(first-1, end)]:r.starts[min(max(last, first-1), end)]]
}
