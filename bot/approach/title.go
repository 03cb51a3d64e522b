package approach

import (
	"fmt"
	"strings"
)

// Kind is what guides an approach.
type Kind uint8

// The kinds. RNAV is what charts call RNAV (GPS) or RNP, RNP what they call
// RNAV (RNP) or RNP (AR).
const (
	NoKind Kind = iota
	ILS
	Localizer
	BackCourse
	LDA
	SDF
	GLS
	MLS
	IGS
	RNAV
	RNP
	GPS
	FMS
	VOR
	VORDME
	NDB
	NDBDME
	TACAN
)

// kinds holds each kind's words, its letter in a coded identifier (ARINC 424)
// and the three letters of a circling one, of which ILS, RNP and those of the
// kinds without circling approaches were never seen in a real file.
var kinds = [...]struct {
	said, id string
	letter   byte
	circling string
}{
	NoKind:     {"", "", 0, ""},
	ILS:        {"ils", "ils", 'I', "ILS"},
	Localizer:  {"loc", "loc", 'L', "LOC"},
	BackCourse: {"loc bc", "loc-bc", 'B', "LBC"},
	LDA:        {"lda", "lda", 'X', "LDA"},
	SDF:        {"sdf", "sdf", 'U', "SDF"},
	GLS:        {"gls", "gls", 'J', "GLS"},
	MLS:        {"mls", "mls", 'M', "MLS"},
	IGS:        {"igs", "igs", 'G', "IGS"},
	RNAV:       {"rnav", "rnav", 'R', "RNV"},
	RNP:        {"rnp", "rnp", 'H', "RNP"},
	GPS:        {"gps", "gps", 'P', "GPS"},
	FMS:        {"fms", "fms", 'F', "FMS"},
	VOR:        {"vor", "vor", 'V', "VOR"},
	VORDME:     {"vor/dme", "vor-dme", 'D', "VDM"},
	NDB:        {"ndb", "ndb", 'N', "NDB"},
	NDBDME:     {"ndb/dme", "ndb-dme", 'Q', "NDM"},
	TACAN:      {"tacan", "tacan", 'T', "TAC"},
}

// String is the kind's id.
func (k Kind) String() string { return kinds[k].id }

// KindOf tells the kind by the route type letter of a coded file (ARINC 424);
// NoKind for a letter that means none.
func KindOf(letter byte) Kind {
	switch letter {
	case 0:
		return NoKind
	case 'S': // a VOR with its DME or TACAN, which crews call a VOR
		return VOR
	case 'W', 'Y':
		return MLS
	}
	for k := range kinds {
		if kinds[k].letter == letter {
			return Kind(k)
		}
	}
	return NoKind
}

// Title is what names an approach on its chart.
type Title struct {
	Kind   Kind
	Runway string // as "31" or "31L"; empty when circling
	Letter string // Z, Y, ... of several to one runway; A, B, ... when circling
	Course string // three digits, of a helicopter approach to a point
}

// Said is the title as crews say it: "rnp y 31", "vor a".
func (t Title) Said() string {
	words := make([]string, 0, 4)
	if t.Course != "" {
		words = append(words, "copter")
	}
	words = append(words, kinds[t.Kind].said)
	if t.Letter != "" {
		words = append(words, strings.ToLower(t.Letter))
	}
	switch {
	case t.Runway != "":
		words = append(words, strings.ToLower(t.Runway))
	case t.Course != "":
		words = append(words, t.Course)
	}
	return strings.Join(words, " ")
}

// Code is the identifier that a coded file would have: R31-Y, R31LY, VOR-A
// .
func (t Title) Code() string {
	if t.Runway == "" && t.Course == "" {
		return kinds[t.Kind].circling + "-" + t.Letter
	}
	code := string(kinds[t.Kind].letter) + t.Runway + t.Course
	if t.Letter == "" {
		return code
	}
	if len(t.Runway) == 2 {
		code += "-"
	}
	return code + t.Letter
}

// ParseTitle reads a chart's title, as "RNAV (RNP) Y RWY 31", "ILS or LOC RWY
// 12" or "VOR-A". It has one kind, or an ILS with its localizer, and either a
// runway or the letter of a circling approach.
func ParseTitle(title string) (Title, error) {
	w := wordsOf(title)
	if len(w.unknown) > 0 {
		return Title{}, fmt.Errorf("%q is no word of an approach's title", w.unknown[0])
	}
	t := Title{Letter: w.letter, Course: w.course}
	k, ok := w.kind()
	if !ok {
		return t, fmt.Errorf("%q does not say one kind of approach", title)
	}
	t.Kind = k
	if w.runway != 0 {
		t.Runway = fmt.Sprintf("%02d", w.runway) + w.side
	}
	switch {
	case t.Runway == "" && t.Course == "" && t.Letter == "":
		return t, fmt.Errorf("%q has neither a runway nor a circling letter", title)
	case t.Runway != "" && t.Course != "":
		return t, fmt.Errorf("%q has a runway and a course", title)
	}
	return t, nil
}

// asked are the words of one line, sorted by what they say.
type asked struct {
	said    uint32 // a bit a kindWord
	letter  string
	runway  int // 0 when not said
	side    string
	course  string
	copter  bool
	unknown []string
}

type kindWord uint8

const (
	wordILS kindWord = iota
	wordLOC
	wordBC
	wordLDA
	wordSDF
	wordGLS
	wordMLS
	wordIGS
	wordRNAV
	wordRNP
	wordAR
	wordGPS
	wordFMS
	wordVOR
	wordDME
	wordNDB
	wordTACAN
)

var kindWords = map[string]kindWord{
	"ils": wordILS, "loc": wordLOC, "localizer": wordLOC, "localiser": wordLOC, "llz": wordLOC,
	"bc": wordBC, "backcourse": wordBC, "back": wordBC,
	"lda": wordLDA, "sdf": wordSDF, "gls": wordGLS, "mls": wordMLS, "igs": wordIGS,
	"rnav": wordRNAV, "rnv": wordRNAV, "rnp": wordRNP, "ar": wordAR, "gps": wordGPS, "gnss": wordGPS, "fms": wordFMS,
	"vor": wordVOR, "vordme": wordVOR, "dme": wordDME, "ndb": wordNDB, "tacan": wordTACAN, "tac": wordTACAN,
}

// spoken letters, as far as charts use them.
var spoken = map[string]string{
	"alpha": "A", "alfa": "A", "bravo": "B", "charlie": "C", "delta": "D", "echo": "E", "foxtrot": "F",
	"whiskey": "W", "xray": "X", "yankee": "Y", "zulu": "Z", "victor": "V", "uniform": "U", "tango": "T", "sierra": "S",
}

// noise are words that say nothing of which approach it is.
var noise = map[string]bool{
	"rwy": true, "rw": true, "runway": true, "approach": true, "apch": true, "app": true, "or": true, "the": true,
	"to": true, "and": true, "course": true, "circling": true, "circle": true, "iap": true,
}

var sides = map[string]string{"l": "L", "left": "L", "r": "R", "right": "R", "c": "C", "center": "C", "centre": "C"}

// longestLine bounds the work of one line; no title is near it.
const longestLine = 80

// wordsOf sorts the words of a line. Letters and figures are told apart
// whether or not a space stands between them.
func wordsOf(line string) asked {
	var w asked
	if len(line) > longestLine {
		w.unknown = append(w.unknown, line[:longestLine])
		return w
	}
	words := split(line)
	for i, s := range words {
		afterRunway := i > 0 && isFigure(words[i-1]) && w.runway != 0
		k, isKind := kindWords[s]
		switch {
		case isFigure(s):
			w.figure(s)
		case isKind:
			w.say(k)
			if s == "vordme" {
				w.say(wordDME)
			}
		case noise[s]:
		case s == "copter" || s == "heli":
			w.copter = true
		case afterRunway && w.side == "" && sides[s] != "":
			w.side = sides[s]
		case len(s) == 1 && s >= "a" && s <= "z":
			w.setLetter(s)
		case spoken[s] != "":
			w.setLetter(spoken[s])
		case afterRunway && len(s) == 2 && w.side == "" && sides[s[:1]] != "" && s[1] >= 'a' && s[1] <= 'z': // 28LY
			w.side = sides[s[:1]]
			w.setLetter(s[1:])
		default:
			if k, ok := kindWords[s[:len(s)-1]]; ok && isLetter(s[len(s)-1]) { // rnpy31
				w.say(k)
				w.setLetter(s[len(s)-1:])
				continue
			}
			w.unknown = append(w.unknown, s)
		}
	}
	return w
}

func (w *asked) say(k kindWord) { w.said |= 1 << k }

func (w *asked) setLetter(s string) {
	s = strings.ToUpper(s)
	if w.letter != "" && w.letter != s {
		w.unknown = append(w.unknown, strings.ToLower(s))
		return
	}
	w.letter = s
}

// figure reads a runway of one or two figures, or a course of three.
func (w *asked) figure(s string) {
	n := 0
	for i := range len(s) {
		n = n*10 + int(s[i]-'0')
		if n > 360 {
			break
		}
	}
	switch {
	case len(s) == 3 && n >= 1 && n <= 360 && w.course == "":
		w.course = s
	case len(s) <= 2 && n >= 1 && n <= 36 && (w.runway == 0 || w.runway == n):
		w.runway = n
	default:
		w.unknown = append(w.unknown, s)
	}
}

// split makes lower-case words of letters and words of figures; everything
// else stands between them.
func split(line string) []string {
	var words []string
	start, class := 0, byte(0)
	for i := 0; i <= len(line); i++ {
		c := byte(0)
		if i < len(line) {
			switch b := line[i]; {
			case b >= '0' && b <= '9':
				c = '0'
			case isLetter(b), b >= 0x80: // never a word of a title, and said to be unknown
				c = 'a'
			}
		}
		if c == class {
			continue
		}
		if class != 0 {
			words = append(words, strings.ToLower(line[start:i]))
		}
		start, class = i, c
	}
	return words
}

func isLetter(b byte) bool { return b >= 'a' && b <= 'z' || b >= 'A' && b <= 'Z' }

func isFigure(s string) bool { return s[0] >= '0' && s[0] <= '9' }

func (w *asked) has(k kindWord) bool { return w.said&(1<<k) != 0 }

// only says whether these words of a kind were said and no others.
func (w *asked) only(ks ...kindWord) bool {
	var set uint32
	for _, k := range ks {
		set |= 1 << k
	}
	return w.said == set
}

// kind is the one kind that a title's words say.
func (w *asked) kind() (Kind, bool) {
	switch {
	case w.only(wordILS), w.only(wordILS, wordLOC), w.only(wordILS, wordDME), w.only(wordILS, wordLOC, wordDME):
		return ILS, true
	case w.only(wordLOC), w.only(wordLOC, wordDME):
		return Localizer, true
	case w.only(wordLOC, wordBC), w.only(wordLOC, wordBC, wordDME), w.only(wordBC):
		return BackCourse, true
	case w.only(wordLDA), w.only(wordLDA, wordDME):
		return LDA, true
	case w.only(wordSDF):
		return SDF, true
	case w.only(wordGLS):
		return GLS, true
	case w.only(wordMLS):
		return MLS, true
	case w.only(wordIGS):
		return IGS, true
	case w.only(wordRNAV, wordRNP), w.only(wordRNP), w.only(wordRNP, wordAR), w.only(wordRNAV, wordRNP, wordAR):
		return RNP, true
	case w.only(wordRNAV), w.only(wordRNAV, wordGPS):
		return RNAV, true
	case w.only(wordGPS):
		return GPS, true
	case w.only(wordFMS):
		return FMS, true
	case w.only(wordVOR), w.only(wordVOR, wordTACAN):
		return VOR, true
	case w.only(wordVOR, wordDME):
		return VORDME, true
	case w.only(wordNDB):
		return NDB, true
	case w.only(wordNDB, wordDME):
		return NDBDME, true
	case w.only(wordTACAN):
		return TACAN, true
	}
	return NoKind, false
}

// means says whether crews may call an approach of kind k by these words. An
// RNP approach and an RNAV one are told apart only by more words than crews
// use: charts of one country say RNAV (RNP) where another's say RNP, and RNAV
// (GPS) where another's say RNP too.
func (w *asked) means(k Kind) bool {
	if w.said == 0 {
		return true
	}
	if own, ok := w.kind(); ok && own == k && k != RNP && k != RNAV {
		return true
	}
	switch k {
	case ILS:
		return w.has(wordILS) && w.within(wordILS, wordLOC, wordDME)
	case Localizer:
		return w.has(wordLOC) && w.within(wordILS, wordLOC, wordDME)
	case BackCourse:
		return w.within(wordLOC, wordBC, wordDME) && (w.has(wordBC) || w.has(wordLOC))
	case RNP:
		return w.within(wordRNAV, wordRNP, wordAR)
	case RNAV:
		return w.within(wordRNAV, wordGPS) || w.only(wordRNP)
	case GPS:
		return w.only(wordGPS)
	case VOR, VORDME:
		return w.has(wordVOR) && w.within(wordVOR, wordDME, wordTACAN)
	case NDBDME:
		return w.has(wordNDB) && w.within(wordNDB, wordDME)
	case TACAN:
		return w.has(wordTACAN) && w.within(wordVOR, wordTACAN)
	}
	return false
}

// within says whether nothing but these words of a kind was said.
func (w *asked) within(ks ...kindWord) bool {
	var set uint32
	for _, k := range ks {
		set |= 1 << k
	}
	return w.said&^set == 0
}
