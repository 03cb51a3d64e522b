package strictyaml

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

// Form is what a kind of file may be: how it is called in a sentence, and its
// limits, which keep a file that is something else from costing time.
type Form struct {
	Name    string // with its article: a configuration
	Example string // a file that shows how it is written, or a line
	Empty   string // what to write into a file that holds nothing
	Whole   string // what stands before the first key of one: rules: faa-all-segments
	Several bool   // it may hold several documents
	Bytes   int
	Depth   int // of groups and lists
	Tokens  int // 0: no limit
}

const (
	maxKeys  = 1000 // of one group; the parser's time is their square
	maxFound = 1000 // problems kept; a file with more is not this file
)

// Reader reads one file and gathers what is wrong with it.
type Reader struct {
	Problems Problems
	file     string
	form     Form
	source   []byte // after normalise
	starts   []int  // where each line of source begins, and where the last one ends
}

// New makes a Reader of one file; name stands before each of its problems.
func New(name string, form Form) *Reader { return &Reader{file: name, form: form} }

// AddAt adds a problem at a line and a column, both from 1.
func (r *Reader) AddAt(line, column int, format string, args ...any) {
	if len(r.Problems) < maxFound {
		r.Problems = append(r.Problems, &Problem{File: r.file, Line: max(line, 1), Column: max(column, 1), Text: fmt.Sprintf(format, args...)})
	}
}

// AddToken adds a problem where a token begins.
func (r *Reader) AddToken(t *token.Token, format string, args ...any) {
	r.AddAt(t.Position.Line, t.Position.Column, format, args...)
}

// Add adds a problem where a node begins.
func (r *Reader) Add(n ast.Node, format string, args ...any) {
	r.AddToken(Start(n), format, args...)
}

// Start is the first token of a node. A block mapping's own token is the
// colon after its first key.
func Start(n ast.Node) *token.Token {
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		return m.Values[0].Key.GetToken()
	}
	return n.GetToken()
}

// Documents are the groups of keys that the file holds, one a document; none
// when a problem keeps the file from being read at all.
func (r *Reader) Documents(data []byte) []*ast.MappingNode {
	if !r.normalise(data) {
		return nil
	}
	r.findSecrets()
	tokens := lexer.Tokenize(string(r.source))
	if !r.allowed(tokens) {
		return nil
	}
	f, err := parse(joinAddresses(tokens))
	if err != nil {
		r.unreadable(err)
		return nil
	}
	var all []*ast.MappingNode
	for _, d := range f.Docs {
		switch body := d.Body.(type) {
		case nil, *ast.NullNode, *ast.CommentGroupNode:
		case *ast.MappingNode:
			all = append(all, body)
		default:
			r.Add(body, "this is not %s: the file must be made of keys, each with a colon and a space, such as %q", r.form.Name, r.form.Whole)
		}
	}
	if len(all) == 0 && len(r.Problems) == 0 {
		r.AddAt(1, 1, "%s", r.form.Empty)
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

// normalise checks that the bytes are text and makes every line end alike.
// Lines and columns stay what an editor shows.
func (r *Reader) normalise(data []byte) bool {
	if len(data) > r.form.Bytes {
		r.AddAt(1, 1, "the file has %d bytes; at most %d are read: is it the right file?", len(data), r.form.Bytes)
		return false
	}
	if bytes.HasPrefix(data, []byte("\xff\xfe")) || bytes.HasPrefix(data, []byte("\xfe\xff")) {
		r.AddAt(1, 1, "the file is in UTF-16; save it as UTF-8")
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
			r.AddAt(line, column, "this byte is not UTF-8 text; save the file as UTF-8")
			return false
		case c == '\n':
			line, column = line+1, 0
			r.starts = append(r.starts, i+1)
		case c < ' ' && c != '\t', c == 0x7f, c == '\ufeff':
			r.AddAt(line, column, "control character U+%04X: this is not a text file, or something was pasted into it; remove it", c)
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
func (r *Reader) findSecrets() {
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
			r.AddAt(line, utf8.RuneCount(r.source[lineStart:i])+1, "%s", SecretText("this looks like a secret", variable))
		}
		i = end
	}
}

// unreadable turns the parser's words into ones a person can act on. The
// parser's excerpt of the source is left out: it may show a secret.
func (r *Reader) unreadable(err error) {
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
		text = "not readable as YAML: " + text + "; compare the line with " + r.form.Example
	}
	r.AddAt(line, column, "%s", text)
}

// tabbed says whether the indentation of a line holds a tab.
func (r *Reader) tabbed(line int) bool {
	l := r.Lines(line, line)
	return bytes.Contains(l[:len(l)-len(bytes.TrimLeft(l, " \t"))], []byte("\t"))
}

// Lines gives the bytes of the lines from first to last, both included.
func (r *Reader) Lines(first, last int) []byte {
	end := len(r.starts) - 1
	return r.source[r.starts[min(first-1, end)]:r.starts[min(max(last, first-1), end)]]
}

// LastLine is the number of the file's last line.
func (r *Reader) LastLine() int { return len(r.starts) - 1 }
