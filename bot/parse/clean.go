package parse

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MaxBytes is the longest message that is read. The longest report in real
// use is under a thousand characters.
const MaxBytes = 4096

// clean gives the message in plain characters: one kind of minus, of
// apostrophe and of space, nothing that a chat service adds. What it takes
// out carries no meaning for a crew; what could is kept for the lexer to
// refuse by name.
func clean(text string) (string, *Problem) {
	if len(text) > MaxBytes {
		return "", &Problem{
			Text: fmt.Sprintf("The message is %d characters long; a question fits in one line.", utf8.RuneCountInString(text)),
			Try:  Example,
		}
	}
	if plain(text) {
		return text, nil
	}
	if !utf8.ValidString(text) {
		return "", &Problem{Text: "The message holds bytes that are no text; type it again by hand.", Try: Example}
	}
	text = dropMarkup(text)
	var b strings.Builder
	b.Grow(len(text))
	var control rune
	for _, r := range text {
		switch {
		case r == '\n' || r == '\v' || r == '\f' || r == '\u0085' || r == '\u2028' || r == '\u2029':
			b.WriteByte('\n')
		case r == '\r' || r == '\t' || unicode.IsSpace(r):
			b.WriteByte(' ')
		case unicode.Is(unicode.Cf, r), unicode.Is(unicode.Mn, r):
			// Invisible: joiners, direction marks, the accents of emoji.
		case unicode.IsControl(r):
			control = r
			b.WriteByte(' ')
		case unicode.Is(unicode.Pd, r), r == '\u2212', r == '\u207b', r == '\u208b', r == '\u02d7', r == '\u2796':
			b.WriteByte('-')
		case r >= '\uff01' && r <= '\uff5e': // full-width forms
			b.WriteRune(r - 0xfee0)
		case r == '\u2018', r == '\u2019', r == '\u2032', r == '\u00b4', r == '\u02b9', r == '\u02bc':
			b.WriteByte('\'')
		case r == '\u201c', r == '\u201d', r == '\u201e', r == '\u00ab', r == '\u00bb', r == '"':
			b.WriteByte(' ')
		case r == '\u00ba', r == '\u02da', r == '\u00b0':
			b.WriteRune('\u00b0')
		case r == '\u2103':
			b.WriteString("\u00b0C")
		case r == '\u2109':
			b.WriteString("\u00b0F")
		case r == '\u2022', r == '\u00b7', r == '\u2044', r == '\u2215', r == '\u3001':
			b.WriteByte(',')
		case r == '*', r == '_', r == '`', r == '~', r == '#':
			b.WriteByte(' ')
		case unicode.Is(unicode.So, r), unicode.Is(unicode.Sk, r), unicode.Is(unicode.Co, r):
			b.WriteByte(' ') // emoji and their colours
		default:
			b.WriteRune(r)
		}
	}
	if control != 0 {
		return "", &Problem{
			Word: fmt.Sprintf("%U", control),
			Text: fmt.Sprintf("The message holds a control character (%U).", control),
			Try:  strings.Join(strings.Fields(b.String()), " "),
		}
	}
	return b.String(), nil
}

// plain says that nothing in text needs cleaning.
func plain(text string) bool {
	for i := 0; i < len(text); i++ {
		switch c := text[i]; {
		case c == '\n':
		case c < ' ' || c > '~':
			return false
		case c == '<' || c == '&' || c == '@' || c == '*' || c == '_' || c == '`' || c == '~' || c == '#' || c == '"':
			return false
		}
	}
	return true
}

// dropMarkup takes out mentions, channel and emoji marks and links as Slack
// and Discord write them, and undoes Slack's three escapes.
func dropMarkup(text string) string {
	var b strings.Builder
	b.Grow(len(text))
	for i := 0; i < len(text); {
		switch c := text[i]; {
		case c == '<':
			end := strings.IndexAny(text[i:], ">\n")
			if end > 1 && text[i+end] == '>' && strings.IndexByte("@#!:ahmt", text[i+1]|lowerBit(text[i+1])) >= 0 {
				inner := text[i+1 : i+end]
				// Slack links a number as a telephone: what is shown counts.
				if link, shown, ok := strings.Cut(inner, "|"); ok && strings.HasPrefix(link, "tel:") {
					b.WriteString(shown)
				}
				b.WriteByte(' ')
				i += end + 1
				continue
			}
			b.WriteByte(' ')
			i++
		case c == '@':
			i++
			for i < len(text) && (isAlnum(text[i]) || text[i] == '_' || text[i] == '.' || text[i] == '-') {
				i++
			}
			b.WriteByte(' ')
		case strings.HasPrefix(text[i:], "&amp;"):
			b.WriteByte('&')
			i += len("&amp;")
		case strings.HasPrefix(text[i:], "&lt;"):
			b.WriteByte(' ')
			i += len("&lt;")
		case strings.HasPrefix(text[i:], "&gt;"):
			b.WriteByte(' ')
			i += len("&gt;")
		case c == ':' && i+1 < len(text) && isLetter(text[i+1]):
			// :snowflake: but not "FAF:x"
			end := i + 1
			for end < len(text) && (isAlnum(text[end]) || text[end] == '_' || text[end] == '-' || text[end] == '+') {
				end++
			}
			if end < len(text) && text[end] == ':' {
				b.WriteByte(' ')
				i = end + 1
				continue
			}
			b.WriteByte(c)
			i++
		default:
			b.WriteByte(c)
			i++
		}
	}
	return b.String()
}

func lowerBit(c byte) byte {
	if c >= 'A' && c <= 'Z' {
		return 0x20
	}
	return 0
}

func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isLetter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }
func isAlnum(c byte) bool  { return isDigit(c) || isLetter(c) }
