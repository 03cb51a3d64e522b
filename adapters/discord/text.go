package discord

import (
	"strings"
	"unicode"
	"unicode/utf16"
)

// clean is text without what would turn, hide or break its neighbours, on one
// line.
func clean(s string) string {
	return strings.Join(strings.Fields(strings.Map(visible, strings.ToValidUTF8(s, "\uFFFD"))), " ")
}

// cleanLines is clean for each line.
func cleanLines(s string) string {
	var out []string
	for line := range strings.Lines(strings.ReplaceAll(s, "\r", "\n")) {
		if line = clean(line); line != "" {
			out = append(out, line)
		}
	}
	return strings.Join(out, "\n")
}

func visible(r rune) rune {
	switch {
	case unicode.IsSpace(r), unicode.IsControl(r), r == '\u2028', r == '\u2029':
		return ' '
	case unicode.Is(unicode.Cf, r): // bidirectional overrides, zero-width characters
		return -1
	}
	return r
}

// marks are the characters that Discord may read as marks anywhere in a line:
// emphasis, code, spoilers, links, mentions, times.
const marks = "\\*_~`|<>[]@#"

// escape writes text so that Discord shows it as it is: no formatting, no
// mention, no link.
func escape(s string) string {
	if !strings.ContainsAny(s, marks+":-+.") {
		return s
	}
	var b strings.Builder
	b.Grow(len(s) + 8)
	start := true // nothing but digits since the line began
	for i, r := range s {
		switch {
		case strings.ContainsRune(marks, r):
			b.WriteByte('\\')
		case r == ':' && (strings.HasPrefix(s[i:], "://") || emoji(s[i+1:])):
			b.WriteByte('\\')
		case start && (r == '-' || r == '+') && (i+1 == len(s) || s[i+1] == ' '): // a list
			b.WriteByte('\\')
		case start && i > 0 && r == '.' && (i+1 == len(s) || s[i+1] == ' '): // a numbered list
			b.WriteByte('\\')
		}
		b.WriteRune(r)
		start = start && r >= '0' && r <= '9'
	}
	return b.String()
}

// emoji says whether what stands behind a colon makes it an emoji (:smile:).
func emoji(s string) bool {
	name := strings.TrimLeft(s, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789_+-~")
	return len(name) < len(s) && name != "" && name[0] == ':'
}

// code is text within a block of code, where only the end mark means anything.
func code(s string) string { return strings.ReplaceAll(s, "`", "'") }

// units is the length of text as Discord's limits count it at most.
func units(s string) int {
	n := 0
	for _, r := range s {
		n += max(1, utf16.RuneLen(r))
	}
	return n
}

// cut shortens text to a limit.
func cut(s string, most int) string {
	if units(s) <= most {
		return s
	}
	n := 1 // the dots
	for i, r := range s {
		if n += max(1, utf16.RuneLen(r)); n > most {
			return strings.TrimRight(s[:i], " ") + "…"
		}
	}
	return s
}

// wrap cuts one line into several of at most most units, at spaces where it
// can.
func wrap(s string, most int) []string {
	var out []string
	for units(s) > most {
		n, at, space := 0, len(s), 0
		for i, r := range s {
			if n += max(1, utf16.RuneLen(r)); n > most {
				at = i
				break
			}
			if r == ' ' {
				space = i
			}
		}
		if space > 0 {
			at = space
		}
		out = append(out, s[:at])
		s = strings.TrimLeft(s[at:], " ")
	}
	return append(out, s)
}
