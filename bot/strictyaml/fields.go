package strictyaml

import (
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/token"

	"firn/engine"
)

// Mapping calls each for every key of a group, once, when its value is not
// empty. Keys that are unknown, doubled, without a value or meant for a
// secret are problems. what names the group in a sentence.
func (r *Reader) Mapping(n ast.Node, what string, keys []string, each func(key string, value ast.Node)) bool {
	m, ok := n.(*ast.MappingNode)
	if !ok {
		r.Add(n, "%s must be a group of keys, not %s; its keys are %s", what, Describe(n), OneOf(keys))
		return false
	}
	var seen [32]int // the line of each key, by its place in keys
	for i := 0; i < len(m.Values); i++ {
		v := m.Values[i]
		t := v.Key.GetToken()
		key := t.Value
		if whole, parted := thousands(m.Values[i:]); parted {
			r.Add(v.Value, "%s has a comma, which parts the keys here; write %s without it", whole, strings.Replace(whole, ",", "", 1))
			if at := slices.Index(keys, key); at >= 0 {
				seen[at] = t.Position.Line
			}
			i++ // what stands behind the comma
			continue
		}
		at := slices.Index(keys, key)
		switch variable, secret := secretKey(what, key); {
		case at < 0 && secret:
			r.AddToken(t, "%s", SecretText(Quote(key)+" is a key for a secret", variable))
		case at < 0:
			r.unknownKey(t, what, keys)
		case seen[at] > 0:
			r.AddToken(t, "%s is given twice, first on line %d; remove one of them", Quote(key), seen[at])
		default:
			seen[at] = t.Position.Line
			if v.Value == nil || v.Value.Type() == ast.NullType {
				r.AddToken(t, "%s has no value; write one or remove the line", Quote(key))
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
	first, ok := Literal(values[0].Value)
	rest := values[1].Key.GetToken().Value
	return first + "," + rest, ok && ahead.MatchString(first) && behind.MatchString(rest)
}

func (r *Reader) unknownKey(t *token.Token, what string, keys []string) {
	best, ok := Suggest(t.Value, keys)
	if !ok {
		r.AddToken(t, "unknown key %s; the keys of %s are %s", Quote(t.Value), what, OneOf(keys))
		return
	}
	unit := ""
	switch {
	case strings.HasSuffix(best, "_ft") && strings.HasSuffix(t.Value, "_m"):
		unit = " (in feet: a metre is 3.28084 ft)"
	case strings.HasSuffix(best, "_c") && strings.HasSuffix(t.Value, "_f"):
		unit = " (in degrees Celsius: take 32 off, then 5/9)"
	}
	r.AddToken(t, "unknown key %s; did you mean %q?%s", Quote(t.Value), best, unit)
}

// List calls each for every entry.
func (r *Reader) List(n ast.Node, key, example string, each func(entry ast.Node)) {
	s, ok := n.(*ast.SequenceNode)
	if !ok {
		r.Add(n, "%q must be a list, not %s; write %s", key, Describe(n), example)
		return
	}
	for _, entry := range s.Values {
		if entry.Type() == ast.NullType {
			r.Add(entry, "%q has an entry without a value; write one or remove it", key)
			continue
		}
		each(entry)
	}
}

// Describe says what a node is, in a crew's words.
func Describe(n ast.Node) string {
	switch n := n.(type) {
	case *ast.MappingNode:
		return "a group of keys"
	case *ast.SequenceNode:
		return "a list"
	case *ast.BoolNode:
		return "true or false"
	case *ast.IntegerNode, *ast.FloatNode, *ast.InfinityNode, *ast.NanNode:
		return "the number " + Quote(n.GetToken().Value)
	case *ast.NullNode:
		return "nothing"
	}
	s, _ := Literal(n)
	return "the text " + Quote(s)
}

// Literal gives a scalar as it is written, whatever YAML takes it for: 1E2 is
// an ident, 06:00 a time, and a Discord id has more digits than a number.
func Literal(n ast.Node) (string, bool) {
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

// Word reads a scalar as it is written, or reports that example belongs here.
func (r *Reader) Word(n ast.Node, key, example string) (string, bool) {
	s, ok := Literal(n)
	if !ok {
		r.Add(n, "%q must be one word, not %s; write %s", key, Describe(n), example)
		return "", false
	}
	if s == "" {
		r.Add(n, "%q is empty; write %s", key, example)
		return "", false
	}
	return s, true
}

// Text reads words for people: one line, printable, not too long.
func (r *Reader) Text(n ast.Node, key string) string {
	const longest = 80
	var s string
	switch n := n.(type) {
	case *ast.StringNode:
		s = n.Value
	case *ast.LiteralNode:
		s = strings.TrimRight(n.Value.Value, "\n")
	case *ast.MappingNode, *ast.SequenceNode:
		r.Add(n, "%q must be text, not %s; put a text with brackets or a colon in quotes", key, Describe(n))
		return ""
	default:
		r.Add(n, "%q must be text, not %s; if it is meant, put it in quotes", key, Describe(n))
		return ""
	}
	s = strings.TrimSpace(s)
	switch {
	case s == "":
		r.Add(n, "%q is empty; write it or remove the line", key)
	case utf8.RuneCountInString(s) > longest:
		r.Add(n, "%q has more than %d characters; shorten it", key, longest)
	case strings.ContainsFunc(s, func(c rune) bool { return !unicode.IsPrint(c) && c != '\u00a0' }):
		r.Add(n, "%q must be one line without control characters, not %s", key, Quote(s))
	default:
		return s
	}
	return ""
}

// Choice reads one of a few words.
func (r *Reader) Choice(n ast.Node, key string, choices []string) (string, bool) {
	s, ok := r.Word(n, key, OneOf(choices))
	if !ok {
		return "", false
	}
	for _, c := range choices {
		if s == c {
			return s, true
		}
	}
	if best, ok := Suggest(s, choices); ok {
		r.Add(n, "unknown %s %s; did you mean %q?", key, Quote(s), best)
	} else {
		r.Add(n, "unknown %s %s; write %s", key, Quote(s), OneOf(choices))
	}
	return "", false
}

// Boolean reads true or false.
func (r *Reader) Boolean(n ast.Node, key string) bool {
	if b, ok := n.(*ast.BoolNode); ok {
		return b.Value
	}
	try := "true or false"
	if s, ok := Literal(n); ok {
		switch strings.ToLower(s) {
		case "yes", "y", "on", "1", "true":
			try = "true"
		case "no", "n", "off", "0", "false":
			try = "false"
		}
	}
	r.Add(n, "%q must be true or false, not %s; write %s", key, Describe(n), try)
	return false
}

// Unit is what a number is counted in.
type Unit string

const (
	InFeet    Unit = "feet"
	InCelsius Unit = "degrees Celsius"
	InKelvins Unit = "degrees"
	InHours   Unit = "hours"
	InMinutes Unit = "minutes"
	InDays    Unit = "days"

	InDegreesNorth Unit = "degrees north"
	InDegreesEast  Unit = "degrees east"
)

// decimal is the only way to write a number: 0310 would be octal to YAML, and
// 1_000, 0x20 and 1e3 are slips in a file like this.
var decimal = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]{0,8})(\.[0-9]{1,9})?$`)

// Number reads a number, whose unit the problem names.
func (r *Reader) Number(n ast.Node, key string, in Unit) (float64, bool) {
	s, ok := Literal(n)
	if !ok {
		r.Add(n, "%q must be a number of %s, not %s", key, in, Describe(n))
		return 0, false
	}
	if t := n.GetToken().Type; t == token.SingleQuoteType || t == token.DoubleQuoteType || n.Type() == ast.LiteralType || !decimal.MatchString(s) {
		try := "write digits only, such as " + map[Unit]string{InFeet: "4802", InCelsius: "-25", InKelvins: "3", InHours: "12", InMinutes: "30", InDays: "400", InDegreesNorth: "46.9163", InDegreesEast: "-113.9871"}[in]
		if meant, ok := plainNumber(s, in); ok {
			try = "write " + meant
		}
		r.Add(n, "%q must be a plain number of %s, not %s; %s", key, in, Quote(s), try)
		return 0, false
	}
	f, err := strconv.ParseFloat(s, 64)
	if err != nil {
		r.Add(n, "%q must be a plain number of %s, not %s", key, in, Quote(s))
		return 0, false
	}
	return f + 0, true // -0 is 0
}

var measured = regexp.MustCompile(`^([-+mM−–]?)\s*([0-9]+(?:\.[0-9]+)?)\s*([a-zA-Z°]*)\.?$`)

// plainNumber guesses the number meant by "4,802 ft", "1464 m", "M25" or
// "-13F".
func plainNumber(s string, in Unit) (string, bool) {
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
	case in == InFeet && (suffix == "ft" || suffix == "feet"):
	case in == InFeet && (suffix == "m" || suffix == "metres" || suffix == "meters"):
		f = math.Round(float64(engine.Metres(f).Feet()))
	case in == InCelsius && (suffix == "c" || suffix == "celsius"):
	case in == InCelsius && (suffix == "f" || suffix == "fahrenheit"):
		f = float64(FromFahrenheit(f))
	case in == InKelvins && suffix == "c":
	case in == InHours && (suffix == "h" || suffix == "hours"):
	case in == InDays && (suffix == "d" || suffix == "day" || suffix == "days"):
	case in == InMinutes && (suffix == "m" || suffix == "min" || suffix == "minutes"):
	default:
		return "", false
	}
	return Plain(f), true
}

// FromFahrenheit is for a restriction temperature, which binds at or below
// it: the safe side is the warmer one.
func FromFahrenheit(f float64) engine.Celsius {
	return engine.Celsius(math.Ceil(float64(engine.Fahrenheit(f).Celsius()) - 1e-6))
}

// Plain writes a number without an exponent and without zeros behind.
func Plain(f float64) string { return strconv.FormatFloat(f+0, 'f', -1, 64) }

// Between reads a number and holds it to its limits.
func (r *Reader) Between(n ast.Node, key string, in Unit, low, high float64) (float64, bool) {
	f, ok := r.Number(n, key, in)
	if ok && (f < low || f > high) {
		r.Add(n, "%q must be from %s to %s %s, not %s", key, Plain(low), Plain(high), in, Plain(f))
		return 0, false
	}
	return f, ok
}
