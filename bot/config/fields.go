package config

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"firn/engine"
)

// mapping calls each for every key of a group, once, when its value is not
// empty. Keys that are unknown, doubled, without a value or meant for a
// secret are problems. what names the group in a sentence.
func (r *reader) mapping(n ast.Node, what string, keys []string, each func(key string, value ast.Node)) bool {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		r.add(n, "%s must be a group of keys, not %s; its keys are %s", what, describe(n), oneOf(keys))
		return false
	}
	var seen [32]int // the line of each key, by its place in keys
	for _, v := range m.Values {
		t := v.Key.GetToken()
		key := t.Value
		at := -1
		for i, k := range keys {
			if k == key {
				at = i
			}
		}
		switch variable, secret := secretKey(what, key); {
		case at < 0 && secret:
			r.addToken(t, "%s", secretText(quote(key)+" is a key for a secret", variable))
		case at < 0:
			r.unknownKey(t, what, keys)
		case seen[at] > 0:
			r.addToken(t, "%s is given twice, first on line %d; remove one of them", quote(key), seen[at])
		default:
			seen[at] = t.Position.Line
			if v.Value.Type() == ast.NullType {
				r.addToken(t, "%s has no value; write one or remove the line", quote(key))
				continue
			}
			each(key, v.Value)
		}
	}
	return true
}

func (r *reader) unknownKey(t *token.Token, what string, keys []string) {
	best, ok := suggest(t.Value, keys)
	if !ok {
		r.addToken(t, "unknown key %s; the keys of %s are %s", quote(t.Value), what, oneOf(keys))
		return
	}
	unit := ""
	switch {
	case strings.HasSuffix(best, "_ft") && strings.HasSuffix(t.Value, "_m"):
		unit = " (in feet: a metre is 3.28084 ft)"
	case strings.HasSuffix(best, "_c") && strings.HasSuffix(t.Value, "_f"):
		unit = " (in degrees Celsius: take 32 off, then 5/9)"
	}
	r.addToken(t, "unknown key %s; did you mean %q?%s", quote(t.Value), best, unit)
}

// list calls each for every entry.
func (r *reader) list(n ast.Node, key, example string, each func(entry ast.Node)) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		r.add(n, "%q must be a list, not %s; write %s", key, describe(n), example)
		return
	}
	for _, entry := range s.Values {
		if entry.Type() == ast.NullType {
			r.add(entry, "%q has an entry without a value; write one or remove it", key)
			continue
		}
		each(entry)
	}
}

// describe says what a node is, in a crew's words.
func describe(n ast.Node) string {
	switch n := n.(type) {
	case *ast.MappingNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.BoolNode:
		return "true or false"
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return "the number " + quote(n.GetToken().Value)
	case *ast.NullNode:
		return "nothing"
	}
	s, _ := literal(n)
	return "the text " + quote(s)
}

// literal gives a scalar as it is written, whatever YAML takes it for: 1E2 is
// an ident, 06:00 a time, and a Discord id has more digits than a number.
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

// word reads a scalar as it is written, or reports that example belongs here.
func (r *reader) word(n ast.Node, key, example string) (string, bool) {
	s, ok := literal(n)
	if !ok {
		r.add(n, "%q must be one word, not %s; write %s", key, describe(n), example)
		return "", false
	}
	if s == "" {
		r.add(n, "%q is empty; write %s", key, example)
		return "", false
	}
	return s, true
}

// text reads words for people: one line, printable, not too long.
func (r *reader) text(n ast.Node, key string) string {
	const longest = 80
	var s string
	switch n := n.(type) {
	case *ast.StringNode:
		s = n.Value
	case *ast.LiteralNode:
		s = strings.TrimRight(n.Value.Value, "\n")
	case *ast.MappingNode, *ast.SequenceNode:
		r.add(n, "%q must be text, not %s; put a text with brackets or a colon in quotes", key, describe(n))
		return ""
	default:
		r.add(n, "%q must be text, not %s; if it is meant, put it in quotes", key, describe(n))
		return ""
	}
	s = strings.TrimSpace(s)
	switch {
	case s == "":
		r.add(n, "%q is empty; write it or remove the line", key)
	case utf8.RuneCountInString(s) > longest:
		r.add(n, "%q has more than %d characters; shorten it", key, longest)
	case strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) && c != '\u00a0' }):
		r.add(n, "%q must be one line without control characters, not %s", key, quote(s))
	default:
		return s
	}
	return ""
}

// choice reads one of a few words.
func (r *reader) choice(n ast.Node, key string, choices []string) (string, bool) {
	s, ok := r.word(n, key, oneOf(choices))
	if !ok {
		return "", false
	}
	for _, c := range choices {
		if s == c {
			return s, true
		}
	}
	if best, ok := suggest(s, choices); ok {
		r.add(n, "unknown %s %s; did you mean %q?", key, quote(s), best)
	} else {
		r.add(n, "unknown %s %s; write %s", key, quote(s), oneOf(choices))
	}
	return "", false
}

func (r *reader) boolean(n ast.Node, key string) bool {
	if b, ok := n.(*ast.BoolNode); ok {
		return b.Value
	}
	try := "true or false"
	if s, ok := literal(n); ok {
		switch strings.ToLower(s) {
		case "yes", "y", "on", "1", "true":
			try = "true"
		case "no", "n", "off", "0", "false":
			try = "false"
		}
	}
	r.add(n, "%q must be true or false, not %s; write %s", key, describe(n), try)
	return false
}

// unit is what a number is counted in.
type unit string

const (
	inFeet    unit = "feet"
	inCelsius unit = "degrees Celsius"
	inKelvins unit = "degrees"
	inHours   unit = "hours"
	inMinutes unit = "minutes"
	inDays    unit = "days"

	inDegreesNorth unit = "degrees north"
	inDegreesEast  unit = "degrees east"
)

// decimal is the only way to write a number: 0310 would be octal to YAML, and
// 1_000, 0x20 and 1e3 are slips in a file like this.
var decimal = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]{0,8})(\.[0-9]{1,9})?$`)

func (r *reader) number(n ast.Node, key string, in unit) (float64, bool) {
	s, ok := literal(n)
	if !ok {
		r.add(n, "%q must be a number of %s, not %s", key, in, describe(n))
		return 0, false
	}
	if t := n.GetToken().Type; t == token.SingleQuoteType || t == token.DoubleQuoteType || n.Type() == ast.LiteralType || !decimal.MatchString(s) {
		try := "write digits only, such as " + map[unit]string{inFeet: "4802", inCelsius: "-25", inKelvins: "3", inHours: "12", inMinutes: "30", inDays: "400", inDegreesNorth: "46.9163", inDegreesEast: "-113.9871"}[in]
		if meant, ok := plainNumber(s, in); ok {
			try = "write " + meant
		}
		r.add(n, "%q must be a plain number of %s, not %s; %s", key, in, quote(s), try)
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		r.add(n, "%q must be a plain number of %s, not %s", key, in, quote(s))
		return 0, false
	}
	return f + 0, true // -0 is 0
}

var measured = regexp.MustCompile(`^([-+mM−–]?)\s*([0-9]+(?:\.[0-9]+)?)\s*([a-zA-Z°]*)\.?$`)

// plainNumber guesses the number meant by "4,802 ft", "1464 m", "M25" or
// "-13F".
func plainNumber(s string, in unit) (string, bool) {
	s = strings.NewReplacer(",", "", "_", "", "'", "").Replace(strings.TrimSpace(s))
	m := measured.FindStringSubmatch(s)
	if m == nil {
		return "", false
	}
	f, err := strconv.ParseFloat(m[2], 64)
	if err != nil || f > 1e8 {
		return "", false
	}
	if m[1] != "" && m[1] != "+" {
		f = -f
	}
	switch suffix := strings.Trim(strings.ToLower(m[3]), "°"); {
	case suffix == "":
	case in == inFeet && (suffix == "ft" || suffix == "feet"):
	case in == inFeet && (suffix == "m" || suffix == "metres" || suffix == "meters"):
		f = math.Round(float64(engine.Metres(f).Feet()))
	case in == inCelsius && (suffix == "c" || suffix == "celsius"):
	case in == inCelsius && (suffix == "f" || suffix == "fahrenheit"):
		f = float64(fromFahrenheit(f))
	case in == inKelvins && suffix == "c":
	case in == inHours && (suffix == "h" || suffix == "hours"):
	case in == inDays && (suffix == "d" || suffix == "day" || suffix == "days"):
	case in == inMinutes && (suffix == "m" || suffix == "min" || suffix == "minutes"):
	default:
		return "", false
	}
	return plain(f), true
}

// fromFahrenheit is for a restriction temperature, which binds at or below
// it: the safe side is the warmer one.
func fromFahrenheit(f float64) engine.Celsius {
	return engine.Celsius(math.Ceil(float64(engine.Fahrenheit(f).Celsius()) - 1e-6))
}

// plain writes a number without an exponent and without zeros behind.
func plain(f float64) string { return strconv.FormatFloat(f+0, 'f', -1, 64) }

// between reads a number and holds it to its limits.
func (r *reader) between(n ast.Node, key string, in unit, low, high float64) (float64, bool) {
	f, ok := r.number(n, key, in)
	if ok && (f < low || f > high) {
		r.add(n, "%q must be from %s to %s %s, not %s", key, plain(low), plain(high), in, plain(f))
		return 0, false
	}
	return f, ok
}
