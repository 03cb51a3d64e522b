package config

import (
	"bytes"
	"slices"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"firn/bot/strictyaml"
)

// ruleSets keeps each document as it stands and reads its id only.
func (r *reader) ruleSets(root *ast.MappingNode, n ast.Node, known Known) []RawRuleSet {
	var sets []RawRuleSet
	list, ok := n.(*ast.SequenceNode)
	if !ok {
		r.List(n, "rule_sets", `each rule set as "- id: ours" with its other keys below`, func(ast.Node) {})
		return nil
	}
	lines := map[string]int{}
	for i, e := range list.Values {
		m, ok := e.(*ast.MappingNode)
		if !ok {
			r.Add(e, `a rule set must be a group of keys, not %s; begin with "- id: ours"`, strictyaml.Describe(e))
			continue
		}
		id, ok := r.ruleSetID(m, known, lines)
		if !ok {
			continue
		}
		first := strictyaml.Start(m).Position
		set := RawRuleSet{ID: id, Line: first.Line}
		if m.IsFlowStyle {
			set.YAML = r.cut(first, m.End.Position)
		} else {
			set.YAML = r.cut(first, &token.Position{Line: r.lastLine(root, list, i)})
		}
		sets = append(sets, set)
	}
	return sets
}

func (r *reader) ruleSetID(m *ast.MappingNode, known Known, lines map[string]int) (string, bool) {
	for _, v := range m.Values {
		if v.Key.GetToken().Value != "id" {
			continue
		}
		id, ok := r.Word(v.Value, "id", `a name for the rule set, such as "ours"`)
		if !ok {
			return "", false
		}
		if slices.Contains(known.Rules, id) {
			r.Add(v.Value, "rule set %s is built in and cannot be replaced; give yours another id", strictyaml.Quote(id))
			return "", false
		}
		if first, twice := lines[id]; twice {
			r.Add(v.Value, "rule set %s is given twice, first on line %d; give one of them another id", strictyaml.Quote(id), first)
			return "", false
		}
		lines[id] = strictyaml.Start(v.Value).Position.Line
		return id, true
	}
	r.Add(m, `this rule set has no id; add one, such as "id: ours"`)
	return "", false
}

// lastLine is the line before the next entry, the next key of the file or the
// end of the document, whichever comes first.
func (r *reader) lastLine(root *ast.MappingNode, list *ast.SequenceNode, i int) int {
	if i+1 < len(list.Entries) {
		return list.Entries[i+1].Start.Position.Line - 1
	}
	begin := strictyaml.Start(list.Values[i]).Position.Line
	last := r.LastLine()
	for _, v := range root.Values {
		if l := v.Key.GetToken().Position.Line; l > begin && l <= last {
			last = l - 1
		}
	}
	return last
}

// cut gives the text from one place to another, the last column included (to
// the end of the line when it is 0). What stands before it on its first line
// becomes spaces.
func (r *reader) cut(from, to *token.Position) []byte {
	last := max(from.Line, to.Line)
	text := r.Lines(from.Line, last)
	if to.Column > 0 {
		// Cut the end first: it may be on the first line.
		begin := len(text) - len(r.Lines(last, last))
		text = text[:begin+prefix(text[begin:], to.Column)]
	}
	skip := prefix(text, from.Column-1)
	out := append(bytes.Repeat([]byte(" "), from.Column-1), text[skip:]...)
	if !bytes.HasSuffix(out, []byte("\n")) {
		out = append(out, '\n')
	}
	return out
}

// prefix is the length in bytes of the first runes of a text.
func prefix(text []byte, runes int) int {
	n := 0
	for ; runes > 0 && n < len(text); runes-- {
		_, size := utf8.DecodeRune(text[n:])
		n += size
	}
	return n
}
