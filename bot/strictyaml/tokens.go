package strictyaml

import (
	"unicode/utf8"

	"github.com/goccy/go-yaml/token"
)

// allowed refuses what a configuration has no use for, before anything
// recursive sees it: deep nesting, groups with keys without end, anchors and
// aliases (which multiply), merge keys, tags, directives and further documents.
func (r *Reader) allowed(tokens token.Tokens) bool {
	before := len(r.Problems)
	if r.form.Tokens > 0 && len(tokens) > r.form.Tokens {
		r.AddAt(1, 1, "the file has more words than %s has: is it the right file?", r.form.Name)
		return false
	}
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
		case token.DirectiveType:
			directive = t.Position.Line
		case token.DocumentHeaderType:
			if content && !r.form.Several {
				r.AddToken(t, `a second document begins here; %s is one document: remove the "---"`, r.form.Name)
			}
		}
		r.refuseUnused(t)
		if t.Type != token.DocumentHeaderType && t.Position.Line != directive {
			content = true
		}
		if noValue(tokens, i, levels, dashes) {
			missing++
		}
		switch {
		case len(open) > r.form.Depth || dashes > r.form.Depth || len(levels) > r.form.Depth:
			r.AddToken(t, "nested more than %d deep: this is not %s", r.form.Depth, r.form.Name)
			return false
		case len(levels) > 0 && levels[len(levels)-1].keys > maxKeys, len(open) > 0 && open[len(open)-1].commas > maxKeys:
			r.AddToken(t, "a group or list in brackets of more than %d: begin each entry of a long list with \"- \" on its own line", maxKeys)
			return false
		case missing > maxKeys:
			r.AddToken(t, "more than %d keys or entries up to here have no value: this is not %s", maxKeys, r.form.Name)
			return false
		}
	}
	return len(r.Problems) == before
}

// refuseUnused refuses the parts of YAML that no file here needs.
func (r *Reader) refuseUnused(t *token.Token) {
	switch t.Type {
	case token.AnchorType, token.AliasType:
		r.AddToken(t, `anchors and aliases (& and *) are not used here: write the value out, or put the text in quotes`)
	case token.MergeKeyType:
		r.AddToken(t, `merge keys (<<) are not used here: write the values out`)
	case token.TagType:
		r.AddToken(t, `tags (!) are not used here: remove it, or put the text in quotes`)
	case token.DirectiveType:
		r.AddToken(t, `directives (%%) are not used here: remove the line, or put the text in quotes`)
	case token.MappingKeyType:
		r.AddToken(t, `"? " keys are not used here: write "key: value"`)
	}
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
