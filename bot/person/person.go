package person

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/secure/precis"
	"golang.org/x/text/unicode/norm"
	"golang.org/x/text/width"
)

// Longest is the length of a name in characters, ours: it stands on cards.
const Longest = 40

// Clean is a name without spaces around it and doubled ones, each letter in
// its usual width and form.
func Clean(typed string) string {
	return norm.NFC.String(width.Fold.String(strings.Join(strings.Fields(typed), " ")))
}

// Check says what keeps a clean name from being one; nil when it is one. The
// error is a sentence for whoever typed it.
func Check(name string) error {
	if ordinary(name) {
		return nil
	}
	switch word, script := odd(name), mixed(name); {
	case word != "":
		return fmt.Errorf("%q: a name has letters, digits, spaces, hyphens, apostrophes and dots alone, and no %s", name, word)
	case !strings.ContainsFunc(name, unicode.IsLetter):
		return fmt.Errorf("a name needs letters, such as anna")
	case utf8.RuneCountInString(name) > Longest:
		return fmt.Errorf("%q: a name has %d characters at most", name, Longest)
	case script != "":
		return fmt.Errorf("%q: %s; write it in letters of one kind", name, script)
	}
	if w := recordWord(name); w != "" {
		return fmt.Errorf("%q: %q is a word of the record, and no name", name, w)
	}
	if nobodys(name) {
		return fmt.Errorf("%q stands for no person in the record; write a name such as anna", name)
	}
	return nil
}

// ordinary says without tables that a name is one: letters a to z and digits,
// and no word of the record. It is asked for every card that is drawn.
func ordinary(name string) bool {
	letters := false
	for i := range len(name) {
		switch c := name[i] | 0x20; {
		case c >= 'a' && c <= 'z':
			letters = true
		case name[i] >= '0' && name[i] <= '9', name[i] == '-' || name[i] == ' ' && i > 0 && i < len(name)-1 && name[i-1] != ' ':
		default:
			return false
		}
	}
	return letters && len(name) <= Longest && recordWord(name) == "" && !nobodys(name)
}

// odd is the first thing in a name that no name has; empty: there is none.
func odd(name string) string {
	if !utf8.ValidString(name) {
		return "broken text"
	}
	if name == "" {
		return ""
	}
	if _, err := precis.Nickname.String(name); err != nil {
		return "hidden characters" // ignorable ones, unassigned ones, old jamo
	}
	for _, r := range name {
		switch {
		case r >= '0' && r <= '9', strings.ContainsRune(" -'.", r):
		case !unicode.IsLetter(r) || unicode.Is(unicode.Lm, r) || scriptOf(r) == "Latin" && !usual(r):
			return fmt.Sprintf("%q", r)
		}
	}
	return ""
}

// usual says that a Latin letter is one of an alphabet, with or without marks,
// and none of a phonetic one that looks like it.
func usual(r rune) bool {
	base := []rune(norm.NFD.String(string(r)))[0]
	return r <= '\u017F' || base < utf8.RuneSelf
}

// scriptOf is the script of a letter; empty where it belongs to several.
func scriptOf(r rune) string {
	if unicode.Is(unicode.Latin, r) { // most are; there are 170 tables
		return "Latin"
	}
	for name, table := range unicode.Scripts {
		if unicode.Is(table, r) {
			if name == "Common" || name == "Inherited" {
				return ""
			}
			return name
		}
	}
	return ""
}

// together are scripts that one language writes with.
var together = [][]string{{"Han", "Hiragana", "Katakana"}, {"Han", "Hangul"}, {"Han", "Bopomofo"}}

// twins are the letters of other scripts that look like Latin ones. Source:
// Unicode Technical Standard 39, confusables.txt, the small letters of Cyrillic
// and Greek and their capitals, folded.
const twins = "абвекмнорстухѕіјԛԝһԁӏүԍѵ" + "αβεηικμνορτυχγϲϳ"

// mixed says why the letters of a name may be taken for others.
func mixed(name string) string {
	var scripts []string
	like := true
	for _, r := range name {
		s := scriptOf(r)
		if s == "" || !unicode.IsLetter(r) {
			continue
		}
		if !slices.Contains(scripts, s) {
			scripts = append(scripts, s)
		}
		like = like && strings.ContainsRune(twins, unicode.ToLower(r))
	}
	slices.Sort(scripts)
	switch {
	case len(scripts) > 1 && !slices.ContainsFunc(together, func(all []string) bool {
		return !slices.ContainsFunc(scripts, func(s string) bool { return !slices.Contains(all, s) })
	}):
		return "its letters are " + strings.Join(scripts, " and ")
	case len(scripts) == 1 && like && scripts[0] != "Latin":
		return "its letters are " + scripts[0] + " and look like Latin ones"
	}
	return ""
}

// ours are the words by which the record tells what somebody did.
var ours = []string{"computed", "checked", "disagreed", "disagrees", "withdrawn", "acknowledged", "replaced", "recompute", "expired", "resolved"}

func recordWord(name string) string {
	for _, w := range strings.FieldsFunc(strings.ToLower(name), func(r rune) bool { return !unicode.IsLetter(r) }) {
		if slices.Contains(ours, w) {
			return w
		}
	}
	return ""
}

// nobodys says that a name is what the record writes where no person is meant:
// "checked by firn" would be the program's word.
func nobodys(name string) bool {
	switch likeness.Replace(strings.ToLower(name)) {
	case "firn", "nobody", "somebody", "thepage":
		return true
	}
	return false
}

// likeness folds what differs in print and not for a reader.
var likeness = strings.NewReplacer(" ", "", "-", "", "'", "", ".", "", "_", "", "ı", "i", "ĸ", "k")

// Key is what names, and accounts' ids, are compared by: the same for names
// that differ in case, width, spaces and punctuation alone.
func Key(name string) string {
	name = Clean(name)
	if folded, err := precis.Nickname.CompareKey(name); err == nil {
		name = folded
	}
	if key := likeness.Replace(strings.ToLower(name)); key != "" {
		return key
	}
	return name
}

// quotes are what would end a quotation.
var quotes = strings.NewReplacer("“", "'", "”", "'", "„", "'", "‟", "'", "\"", "'", "«", "'", "»", "'", "″", "'", "＂", "'")

// Shown is a name as it stands in a sentence: in quotes where it holds what
// could be read as more of the sentence. Names come from chat services too,
// which take anything for one.
func Shown(name string) string {
	inner := strings.TrimSuffix(strings.TrimPrefix(name, "“"), "”")
	if inner == name && (name == "" || Check(inner) == nil && !strings.Contains(inner, ". ") && !strings.HasSuffix(inner, ".")) {
		return inner
	}
	return "“" + quotes.Replace(inner) + "”"
}

// Somebody is who is known by an account alone, slack:U1; a text that is none
// stays.
func Somebody(account string) string {
	surface, id, is := strings.Cut(account, ":")
	switch {
	case !is || surface == "" || id == "" || strings.ContainsAny(account, " ()"):
		return account
	case surface == "page":
		return OnPage
	}
	return "somebody on " + strings.ToUpper(surface[:1]) + surface[1:]
}

// Named is somebody in a sentence, who is kept as a name with the account behind
// it, Anna (slack:U1), or as one of the two.
func Named(kept string) string {
	if at := strings.LastIndex(kept, " ("); at > 0 && strings.HasSuffix(kept, ")") {
		if account := kept[at+2 : len(kept)-1]; Somebody(account) != account {
			return kept[:at]
		}
	}
	return Somebody(kept)
}

// OnPage is who has typed no name on the crew-room page.
const OnPage = "somebody on the page"

// Nameless says that what stands for a name is none: what the page calls a
// browser without one, and called it before.
func Nameless(name string) bool {
	id, was := strings.CutPrefix(name, "browser ")
	return name == OnPage || was && len(id) == 6 && strings.Trim(id, "0123456789abcdef") == ""
}
