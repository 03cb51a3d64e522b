package record

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"strings"
)

// A name is two words of syllables, KALOMI-RUTA. The letters are those that
// are hard to take for one another, on a screen and by ear: no D, P, V or T
// beside B, no N beside M, no Z beside S, no E beside I.
const (
	nameConsonants = "BFGHKLMRST"
	nameVowels     = "AIOU"
	nameSyllables  = 5 // three and two
	nameFirst      = 3
)

// names is how many there are: 40 syllables, five times: 102 400 000. A unit
// that keeps ten thousand results meets a taken name once in ten thousand
// results (10 000 / 102 400 000), one that keeps a million once in a hundred.
// The store tells when a name is taken, and the record gets the next one.
const names = 40 * 40 * 40 * 40 * 40

// name is that of a message: the same message has the same name wherever and
// however often it is answered. try counts the names that were taken.
func name(surface, message string, try int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %q %q", try, surface, message))
	n := binary.BigEndian.Uint64(sum[:]) % names
	var b strings.Builder
	for i := range nameSyllables {
		if i == nameFirst {
			b.WriteByte('-')
		}
		s := n % 40
		n /= 40
		b.WriteByte(nameConsonants[s/4])
		b.WriteByte(nameVowels[s%4])
	}
	return b.String()
}

// ReadName reads a name from the words of a message: in any case, with the
// hyphen, a space or nothing between the two, and the digits that people type
// for letters. It gives how many words it took.
func ReadName(words []string) (name string, n int, ok bool) {
	letters := ""
	for i, w := range words {
		letters += strings.Map(nameLetter, strings.ToUpper(w))
		if len(letters) == 2*nameSyllables {
			name, ok := spelled(letters)
			return name, i + 1, ok
		}
		if i == 1 || len(letters) > 2*nameSyllables || !syllables(letters) {
			break
		}
	}
	return "", 0, false
}

// nameLetter is a letter for what was typed; hyphens and dashes are left out.
func nameLetter(r rune) rune {
	switch r {
	case '-', '–', '‐', '‑', '_', '.':
		return -1
	case '0':
		return 'O'
	case '1':
		return 'I'
	}
	return r
}

func syllables(letters string) bool {
	for i, r := range []byte(letters) {
		set := nameConsonants
		if i%2 == 1 {
			set = nameVowels
		}
		if !strings.Contains(set, string(r)) {
			return false
		}
	}
	return letters != ""
}

func spelled(letters string) (string, bool) {
	if !syllables(letters) {
		return "", false
	}
	return letters[:2*nameFirst] + "-" + letters[2*nameFirst:], true
}
