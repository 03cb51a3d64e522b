package parse

import (
	"fmt"
	"regexp"
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
	if plain(text) {
		return text, nil
	}
	if !utf8.ValidString(text) {
		return "", &Problem{Text: sayBytes, Try: Example}
	}
	text = oneScript(dropStruck(dropMarkup(text)))
	var b strings.Builder
	b.Grow(len(text))
	control := rune(-1)
	for _, r := range text {
		switch {
		case r == '\n' || r == '\v' || r == '\f' || r == '\u0085' || r == '\u2028' || r == '\u2029':
			b.WriteByte('\n')
		case r == '\r' || r == '\t' || unicode.IsSpace(r):
			b.WriteByte(' ')
		case r == turned:
			control = r
		case struck(r):
			b.WriteRune(r)
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
		case r == '\u00bf', r == '\u00a1', r == '\u201c', r == '\u201d', r == '\u201e', r == '\u00ab', r == '\u00bb', r == '"', r == '\u2033', r == '\u2026':
			b.WriteByte(' ')
		case r == '\u00ba', r == '\u02da', r == '\u00b0':
			b.WriteRune('\u00b0')
		case r == '\u2103':
			b.WriteString("\u00b0C")
		case r == '\u2109':
			b.WriteString("\u00b0F")
		case r == '\u2022', r == '\u00b7', r == '\u2044', r == '\u2215', r == '\u3001':
			b.WriteByte(',')
		case r == '\u00bc', r == '\u00bd', r == '\u00be', r == '\u2153', r == '\u2154':
			if written := b.String(); written != "" && isDigit(written[len(written)-1]) {
				b.WriteByte(' ')
			}
			b.WriteString(fractions[r])
		case r == '\u2265':
			b.WriteByte(' ') // at or above, as every altitude is
		case r == '\u2264':
			b.WriteString(" at or below ")
		case r == '\u2192', r == '\u27a1':
			b.WriteString(" -> ")
		case r == '*', r == '_', r == '`', r == '~', r == '#':
			b.WriteByte(' ')
		case unicode.Is(unicode.So, r), unicode.Is(unicode.Sk, r), unicode.Is(unicode.Co, r):
			b.WriteByte(' ') // emoji and their colours
		default:
			b.WriteRune(r)
		}
	}
	if control >= 0 {
		try := strings.Join(strings.Fields(b.String()), " ")
		switch {
		case control == turned:
			try = "" // whichever way round the figures were meant
		case try == "":
			try = Example
		}
		return "", &Problem{
			Word: fmt.Sprintf("%U", control),
			Text: sayControl(control),
			Try:  try,
		}
	}
	return b.String(), nil
}

// fractions are what charts print of a visibility in one sign.
var fractions = map[rune]string{'\u00bc': "1/4", '\u00bd': "1/2", '\u00be': "3/4", '\u2153': "1/3", '\u2154': "2/3"}

// turned has what follows shown from right to left: 8002 stands there as 8200.
const turned = '\u202e'

// struck says that a mark strikes the letter before it out, as keyboards do it that
// have no markup.
func struck(r rune) bool { return r == '\u0335' || r == '\u0336' }

// dropStruck leaves out the words of which each letter is struck out. One that is
// struck out in part keeps its marks, and is asked about.
func dropStruck(text string) string {
	if !strings.ContainsFunc(text, struck) {
		return text
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		for word := range strings.FieldsSeq(line) {
			marks, figures := 0, 0
			for _, r := range word {
				switch {
				case struck(r):
					marks++
				case unicode.IsLetter(r), unicode.IsDigit(r):
					figures++
				}
			}
			if marks < figures {
				b.WriteString(word)
			}
			b.WriteByte(' ')
		}
		b.WriteByte('\n')
	}
	return b.String()
}

// oneScript has the figures of another script as plain ones. One of two scripts stays,
// and is asked about: some digits look like others.
func oneScript(text string) string {
	return digitRuns.ReplaceAllStringFunc(text, func(run string) string {
		out, first := make([]byte, 0, len(run)), rune(-1)
		for _, r := range run {
			zero := zeroOf(r)
			if first >= 0 && zero != first {
				return run
			}
			first = zero
			out = append(out, '0'+byte(r-zero))
		}
		return string(out)
	})
}

var digitRuns = regexp.MustCompile(`\p{Nd}+`)

// zeroOf is the zero of a digit's script. The ranges of the category Nd begin with a
// zero and hold whole tens (the Unicode Standard, 4.6).
func zeroOf(r rune) rune {
	for _, in := range unicode.Nd.R16 {
		if r >= rune(in.Lo) && r <= rune(in.Hi) {
			return r - (r-rune(in.Lo))%10
		}
	}
	for _, in := range unicode.Nd.R32 {
		if r >= rune(in.Lo) && r <= rune(in.Hi) {
			return r - (r-rune(in.Lo))%10
		}
	}
	return r
}

// plain says that nothing in text needs cleaning.
func plain(text string) bool {
	link := false
	for i := range len(text) {
		c := text[i]
		if !plainByte[c] {
			return false
		}
		link = link || c == ':'
	}
	return !link || !strings.Contains(text, "://")
}

// plainByte says of each byte that it needs no cleaning, wherever it stands.
var plainByte = func() (is [256]bool) {
	for c := ' '; c < 0x7f; c++ {
		is[c] = !strings.ContainsRune("<&@*_`~#\"", c)
	}
	is['\n'] = true
	return is
}()

// dropMarkup takes out mentions, channel and emoji marks, links and what is
// struck out, as Slack and Discord write them, and undoes Slack's three
// escapes. What a link shows stays, and so does everything else that a crew
// may have typed: the reader refuses by name what it cannot read.
func dropMarkup(text string) string {
	var b strings.Builder
	b.Grow(len(text))
	for i := 0; i < len(text); {
		if n, shown := markup(text, i); n > 0 {
			b.WriteString(shown)
			b.WriteByte(' ')
			i += n
			continue
		}
		switch {
		case text[i] == '@' && isDigit(firstOf(text[i+1:])) && (i == 0 || !isAlnum(text[i-1])):
			b.WriteString(" at ") // @ 1430z
			i++
		case strings.HasPrefix(text[i:], "<="):
			b.WriteString(" at or below ")
			i += len("<=")
		case text[i] == '<' && i+1 < len(text) && isDigit(text[i+1]) && !strings.Contains(text[i:], ">"):
			b.WriteString(" at or below ")
			i++
		case text[i] == '<', text[i] == '@':
			b.WriteByte(' ')
			i++
		case strings.HasPrefix(text[i:], "&amp;"):
			b.WriteByte('&')
			i += len("&amp;")
		case strings.HasPrefix(text[i:], "&lt;"):
			b.WriteByte(' ')
			i += len("&lt;")
		case strings.HasPrefix(text[i:], "&gt;"):
			b.WriteByte(' ')
			i += len("&gt;")
		default:
			b.WriteByte(text[i])
			i++
		}
	}
	return b.String()
}

// markup is the length of the piece of markup that begins at i, 0 when there
// is none, and what of it a reader sees.
func markup(text string, i int) (n int, shown string) {
	rest := text[i:]
	switch rest[0] {
	case '<':
		end := strings.IndexAny(rest, ">\n")
		if end > 1 && rest[end] == '>' {
			if shown, ok := angled(rest[1:end]); ok {
				return end + 1, shown
			}
		}
	case ':': // :snowflake: but not "FAF:x"
		end := 1
		for end < len(rest) && (isAlnum(rest[end]) || rest[end] == '_' || rest[end] == '-' || rest[end] == '+') {
			end++
		}
		if end > 1 && isLetter(rest[1]) && end < len(rest) && rest[end] == ':' {
			return end + 1, ""
		}
	case '~':
		return struckOut(text, i), ""
	case 'h':
		if isLink(rest) {
			if n = strings.IndexAny(rest, " \n\t,;|>)"); n < 0 {
				n = len(rest)
			}
			return n, ""
		}
	}
	return 0, ""
}

func isLink(s string) bool {
	return strings.HasPrefix(s, "https://") || strings.HasPrefix(s, "http://")
}

// angled reads what stands between angle brackets: a mention, a channel, an
// emoji or a time of a chat service, or a link with what it shows. Slack links
// a number as a telephone.
func angled(inner string) (shown string, ok bool) {
	switch {
	case inner[0] == '@', inner[0] == '#', inner[0] == '!', inner[0] == ':',
		strings.HasPrefix(inner, "a:"), strings.HasPrefix(inner, "t:"):
		return "", true
	}
	link, shown, has := strings.Cut(inner, "|")
	number, tel := strings.CutPrefix(link, "tel:")
	if !tel && !strings.HasPrefix(link, "mailto:") && !isLink(link) {
		return "", false
	}
	if !has && tel {
		shown = number
	}
	if isLink(shown) {
		shown = ""
	}
	return shown, true
}

// struckOut is the length of what is struck out at i (~~9000~~ on Discord,
// ~9000~ on Slack), 0 when nothing is: "~9000" is about nine thousand.
func struckOut(text string, i int) int {
	mark := "~"
	if strings.HasPrefix(text[i:], "~~") {
		mark = "~~"
	}
	inner := text[i+len(mark):]
	line, _, _ := strings.Cut(inner, "\n")
	for at := 0; ; {
		k := strings.Index(line[at:], mark)
		if k < 0 {
			return 0
		}
		if at += k; at > 0 && line[0] != ' ' && line[at-1] != ' ' && !isAlnumAt(line, at+len(mark)) {
			return len(mark) + at + len(mark)
		}
		at += len(mark)
	}
}

// firstOf is the first byte of what is no blank; 0 where there is none.
func firstOf(text string) byte {
	if text = strings.TrimLeft(text, " "); text == "" {
		return 0
	}
	return text[0]
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

func lowerASCII(s string) string {
	for i := 0; i < len(s); i++ {
		if lowerBit(s[i]) != 0 {
			var b strings.Builder
			b.Grow(len(s))
			b.WriteString(s[:i])
			for ; i < len(s); i++ {
				b.WriteByte(s[i] | lowerBit(s[i]))
			}
			return b.String()
		}
	}
	return s
}
