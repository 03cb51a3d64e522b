package page

import (
	"reflect"
	"strings"
	"unicode"

	"firn/bot/reply"
)

// clean is a text without what would break a line, hide, or turn the direction
// of what is beside it. Markup is the templates' to escape.
func clean(s string) string {
	odd := func(r rune) bool {
		return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == '\u2028' || r == '\u2029' || r == unicode.ReplacementChar
	}
	if strings.IndexFunc(s, odd) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r):
			return ' '
		case unicode.IsControl(r), unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, string(unicode.ReplacementChar)))
}

// cleanReply is a reply whose texts are clean, a copy. What its buttons ask
// stays as it is: it is not shown.
func cleanReply(r reply.Reply) reply.Reply {
	out := cleaned(reflect.ValueOf(r)).Interface().(reply.Reply)
	for i, a := range r.Actions {
		out.Actions[i].Message, out.Actions[i].Whole = a.Message, a.Whole
	}
	return out
}

// cleaned copies a value and cleans every string in it.
func cleaned(v reflect.Value) reflect.Value {
	switch v.Kind() {
	case reflect.String:
		out := reflect.New(v.Type()).Elem()
		out.SetString(clean(v.String()))
		return out
	case reflect.Slice:
		if v.IsNil() {
			return v
		}
		out := reflect.MakeSlice(v.Type(), v.Len(), v.Len())
		for i := range v.Len() {
			out.Index(i).Set(cleaned(v.Index(i)))
		}
		return out
	case reflect.Pointer:
		if v.IsNil() {
			return v
		}
		out := reflect.New(v.Type().Elem())
		out.Elem().Set(cleaned(v.Elem()))
		return out
	case reflect.Struct:
		out := reflect.New(v.Type()).Elem()
		out.Set(v)
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				out.Field(i).Set(cleaned(v.Field(i)))
			}
		}
		return out
	}
	return v
}
