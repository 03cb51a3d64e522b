package slack

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// heardText is what a person typed, out of the form in which Slack sends it:
// mentions of the bot are left out, links and dates are what stood there, and
// the three escapes are undone.
func heardText(text, me string) string {
	var b strings.Builder
	for text != "" {
		open := strings.IndexByte(text, '<')
		if open < 0 {
			b.WriteString(unescape(text))
			break
		}
		b.WriteString(unescape(text[:open]))
		text = text[open+1:]
		inner, rest, closed := strings.Cut(text, ">")
		if !closed {
			b.WriteByte('<')
			continue
		}
		text = rest
		b.WriteString(markup(inner, me))
	}
	return strings.TrimSpace(b.String())
}

// markup is what stands between angle brackets, as it was typed.
func markup(inner, me string) string {
	target, label, labelled := strings.Cut(inner, "|")
	label = unescape(label)
	if target == "" {
		return label
	}
	switch target[0] {
	case '@':
		if target[1:] == me {
			return " "
		}
		if labelled && label != "" {
			return "@" + strings.TrimPrefix(label, "@")
		}
		return target
	case '#':
		if labelled && label != "" {
			return "#" + strings.TrimPrefix(label, "#")
		}
		return target
	case '!':
		if labelled && label != "" {
			return label
		}
		word, _, _ := strings.Cut(target[1:], "^")
		return "@" + word
	}
	if labelled && label != "" {
		return label // phones make numbers into links
	}
	return unescape(strings.TrimPrefix(strings.TrimPrefix(target, "mailto:"), "tel:"))
}

var unescaper = strings.NewReplacer("&amp;", "&", "&lt;", "<", "&gt;", ">")

func unescape(s string) string {
	if strings.IndexByte(s, '&') < 0 {
		return s
	}
	return unescaper.Replace(s)
}

// mentions says whether text as Slack sends it mentions a user.
func mentions(text, user string) bool {
	if user == "" {
		return false
	}
	return strings.Contains(text, "<@"+user+">") || strings.Contains(text, "<@"+user+"|")
}

// addressed says whether text begins with the mention of somebody.
func addressed(text string) bool {
	text = strings.TrimSpace(text)
	return strings.HasPrefix(text, "<@") || strings.HasPrefix(text, "<!subteam")
}

var escaper = strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;")

// escape is plain text as Slack's text: nothing in it is a mention or a link.
func escape(s string) string { return escaper.Replace(shown(s)) }

// marks are what Slack formats with, and what looks like them and is not.
// There is no escape for them.
var marks = map[rune]rune{'*': '∗', '_': 'ˍ', '~': '∼', '`': 'ˋ'}

// unformatted is escaped text in which nothing is bold, struck or code because
// of what somebody typed: a mark that stands at the edge of a word is
// replaced by its look.
func unformatted(s string) string {
	s = shown(s)
	if !strings.ContainsAny(s, "*_~`") {
		return escaper.Replace(s)
	}
	var b strings.Builder
	before := ' '
	for i, r := range s {
		if like, mark := marks[r]; mark {
			after, _ := utf8.DecodeRuneInString(s[i+utf8.RuneLen(r):])
			if !wordRune(before) || !wordRune(after) {
				b.WriteRune(like)
				before = r
				continue
			}
		}
		b.WriteRune(r)
		before = r
	}
	return escaper.Replace(b.String())
}

func wordRune(r rune) bool {
	return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r))
}

// codeText is text as a line to type, in a form that copies as it is.
func codeText(s string) string {
	s = strings.Join(strings.Fields(strings.ReplaceAll(shown(s), "`", "ˋ")), " ")
	if s == "" {
		return ""
	}
	return "`" + escaper.Replace(s) + "`"
}

// plainText is for the places where Slack reads no markup at all (labels, cells,
// headers). Angle brackets are replaced by their look, so that it is harmless
// wherever it is copied to.
func plainText(s string) string {
	return brackets.Replace(strings.Join(strings.Fields(shown(s)), " "))
}

var (
	brackets = strings.NewReplacer("<", "‹", ">", "›")
	lineEnds = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u2028", "\n", "\u2029", "\n")
)

// shown leaves out what cannot be shown or turns its neighbours around.
func shown(s string) string {
	clean := true
	for _, r := range s {
		if hidden(r) || r == utf8.RuneError || r == '\r' || r == '\u2028' || r == '\u2029' {
			clean = false
			break
		}
	}
	if clean {
		return s
	}
	s = lineEnds.Replace(strings.ToValidUTF8(s, "\uFFFD"))
	return strings.Map(func(r rune) rune {
		if hidden(r) {
			return -1
		}
		return r
	}, s)
}

func hidden(r rune) bool {
	switch {
	case r == '\n', r == '\t':
		return false
	case unicode.IsControl(r), r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0xfeff:
		return true
	}
	return false
}

// cut shortens text to a number of characters, with an ellipsis.
func cut(s string, most int) string {
	if utf8.RuneCountInString(s) <= most {
		return s
	}
	r := []rune(s)
	return string(r[:most-1]) + "…"
}
