package parse

import (
	"strconv"
	"strings"

	"firn/engine/procedure"
)

// approach reads the name of a stored procedure in any order: "rnp y 28", "vor
// alpha", "rwy 28", "the 31 approach", "yankee 35". "LOC 7300" is a minimums
// line, unless altitudes without a label stand beside it.
func (rd *reading) approach(i int) int {
	if w := rd.wordAt(i + 1); rd.tokens[i].word == "rnp" && (w == "point" || w == "decimal") && rd.numeral(i+2) { // RNP point three
		rd.notUsed(i, i+2)
		return i + 3
	}
	if rd.accuracyAt(i) {
		return rd.accuracy(i)
	}
	if rd.lineBehind(i) {
		line := minimumsLines[rd.tokens[i].word]
		rd.item(item{kind: labelItem, token: i, role: line.role, label: line.label})
		return i + 1
	}
	if line, ok := minimumsLines[rd.tokens[i].word]; ok && i+1 < len(rd.tokens) {
		if t := rd.tokens[i+1]; t.kind == numberToken && t.sign == 0 && t.value >= 100 {
			rd.item(item{kind: labelItem, token: i, role: line.role, label: line.label, approach: true})
			return i + 1
		}
	}
	n := approachName{}
	j := rd.nameFrom(i, &n)
	if j == i { // a letter, or "approach", that names nothing
		return i + rd.tags[i].n
	}
	rd.named1(i, j, n)
	return j
}

// approachName is what a run of words says of an approach.
type approachName struct {
	kinds  []string
	letter string
	runway string
	noun   bool // "approach" stands before it
	doubt  bool // its runway may be the beginning of another figure
}

func (n approachName) String() string {
	words := append([]string(nil), n.kinds...)
	if len(words) == 0 && n.runway != "" {
		words = append(words, "rwy")
		if n.letter != "" && !strings.Contains("uvwxyz", n.letter) {
			if said, ok := chartLetters[n.letter]; ok {
				return "rwy " + n.runway + " " + said // a bare "a" or "s" behind a runway is a small word
			}
			return "rwy " + n.runway + " " + n.letter // before the runway it would name nothing
		}
	}
	if n.letter != "" {
		words = append(words, n.letter)
	}
	if n.runway != "" {
		words = append(words, n.runway)
	}
	return strings.Join(words, " ")
}

func (n approachName) empty() bool { return len(n.kinds) == 0 && n.runway == "" && n.letter == "" }

// nameFrom reads on from token i and gives the token behind the name.
func (rd *reading) nameFrom(i int, n *approachName) int {
	end := i
	for j := i; j < len(rd.tokens); {
		t := rd.tokens[j]
		m := rd.means(j)
		switch {
		case rd.accuracyAt(j):
			return end
		case t.kind == wordToken && m == kindWord && (rd.tags[j].words[0] != "ar" || len(n.kinds) > 0):
			if n.runway != "" && len(n.kinds) > 0 {
				return end
			}
			n.kinds = append(n.kinds, rd.tags[j].words[0])
		case t.kind == wordToken && t.word == "dme" && len(n.kinds) > 0 && n.runway == "":
			n.kinds = append(n.kinds, "dme")
		case t.kind == wordToken && (m == runwayWord || m == approachNoun):
			if m == approachNoun && n.empty() && !rd.runwayAt(j+1) && rd.means(j+1) != runwayWord && !rd.letterAt(j+1) {
				return end
			}
			n.noun = n.noun || m == approachNoun
		case t.kind == wordToken && m == letterWord && n.letter == "":
			n.letter = rd.tags[j].label
		case t.kind == wordToken && m == zoneWord && t.word == "zulu" && n.letter == "" && len(n.kinds) > 0:
			n.letter = "z"
		case t.kind == wordToken && n.runway != "" && n.side(t.word):
		case t.kind == wordToken && len(t.word) == 1 && isLetter(t.word[0]) && n.letter == "" && m != andWord && (n.takesLetter(rd, j) || rd.means(j-1) == runwayWord && n.runway == "" && strings.Contains("uvwxyz", t.word)):
			n.letter = t.word
		case n.runway == "" && (rd.runwayAt(j) || n.centreAt(t, rd.means(j-1) == runwayWord || rd.means(j-2) == runwayWord) || n.courseAt(t)):
			n.runway = t.word
		case n.runway == "" && t.kind == wordToken && rd.tags[j].n == 0 && (n.fusedRunway(t.word) || n.letterBehind(t.word)):
		case n.runway == "" && (!n.empty() || n.noun || rd.means(j-1) == runwayWord) && rd.spokenRunway(j, n) > j:
			j = rd.spokenRunway(j, n)
			end = j
			continue
		case joining(t, m) && rd.goesOn(j, n):
			j++
			continue
		default:
			return end
		}
		j += max(rd.tags[j].n, 1)
		end = j
	}
	return end
}

// spokenRunway takes a runway that is said in words, "three one" or "thirty
// one", and gives the token behind it; j where there is none. What goes on
// behind it may make another figure of it, which is doubted.
func (rd *reading) spokenRunway(j int, n *approachName) int {
	var room [longestRun]numeral
	run := numeralsAt(rd.tokens, j, false, room[:0])
	count := 2
	v, ok := 0, false
	if len(run) >= 2 {
		if v, ok = digits(run[:2]); !ok {
			v, ok = pair(run[:2])
		}
	}
	if !ok && len(run) > 0 {
		count = 1
		v, ok = pair(run[:1])
		ok = ok && (v >= 10 || rd.means(j-1) == runwayWord) // "loc one" is the one with the localizer
	}
	if !ok || v < 1 || v > 36 || run[count-1].next == 0 {
		return j
	}
	next := run[count-1].next
	switch rd.means(next) {
	case belowWord, celsiusWord, fahrenheitWord, feetWord, metreWord:
		return j
	}
	if len(run) > count {
		if run[count].value >= 100 {
			return j
		}
		whole, number := oneNumber(run)
		n.doubt = number && whole <= highest
	}
	n.runway = strconv.Itoa(v)
	if run[0].value == 0 {
		n.runway = "0" + n.runway
	}
	return next
}

// fusedRunway takes "rw31" and "y35".
func (n *approachName) fusedRunway(w string) bool {
	own, ok := fused(w)
	if !ok || len(own.kinds) > 0 || own.runway == "" || own.letter != "" && n.letter != "" {
		return false
	}
	n.runway = own.runway
	if own.letter != "" {
		n.letter = own.letter // rnav y35
	}
	return true
}

// letterBehind takes "35z" behind the kind of approach.
func (n *approachName) letterBehind(w string) bool {
	if len(n.kinds) == 0 && !n.noun || n.letter != "" {
		return false
	}
	rwy, letter := cutLetter(w)
	if letter == "" || !inRunways(rwy) {
		return false
	}
	n.runway, n.letter = rwy, letter
	return true
}

// cutLetter parts the letter of a chart from the runway before it: 35z.
func cutLetter(w string) (rwy, letter string) {
	if n := len(w) - 1; n > 0 && strings.IndexByte("wyz", w[n]) >= 0 && isAlnum(w[n-1]) {
		return w[:n], w[n:]
	}
	return w, ""
}

// inRunways says that a runway may be called so: 7, 07, 31l.
func inRunways(rwy string) bool {
	v, err := strconv.Atoi(strings.TrimRight(rwy, "lrc"))
	return err == nil && v >= 1 && v <= 36 && (len(rwy) <= 2 && digitsAt(rwy, 0) == len(rwy) || runway(rwy))
}

// centreAt says that what could be a temperature without its sign is a runway:
// "ils 27c". Directly behind a kind of approach, or the word for a
// runway, it can be nothing else.
func (n *approachName) centreAt(t token, behindWord bool) bool {
	return t.kind == numberToken && (len(n.kinds) > 0 || behindWord) && t.sign == 0 && t.unit == celsiusUnit && runway(t.word) && t.value >= 1 && t.value <= 36
}

// courseAt says that three figures are the course of a helicopter approach.
func (n *approachName) courseAt(t token) bool {
	return t.kind == numberToken && len(n.kinds) > 1 && (n.kinds[0] == "copter" || n.kinds[0] == "heli") &&
		t.sign == 0 && t.unit == noUnit && len(t.word) == 3 && t.value >= 1 && t.value <= 360
}

// side takes left, right and centre behind a runway.
func (n *approachName) side(w string) bool {
	if isLetter(n.runway[len(n.runway)-1]) {
		return false
	}
	switch w {
	case "left", "right", "center", "centre":
		n.runway += w[:1]
		return true
	case "l", "r":
		n.runway += w
		return true
	}
	return false
}

// takesLetter says that a single letter belongs to the name: before the
// runway, or behind it where it cannot be a unit.
func (n *approachName) takesLetter(rd *reading, j int) bool {
	if n.runway == "" {
		return (len(n.kinds) > 0 || n.noun && rd.letterAt(j)) && (rd.tokens[j].word != "m" || rd.runwayAt(j+1)) // "m 38" is a minus
	}
	if strings.Contains("suw", rd.tokens[j].word) && j+1 < len(rd.tokens) && rd.tokens[j+1].kind == wordToken && rd.means(j+1) != kindWord && rd.means(j+1) != lineWord {
		return false // "ils 12 w temp -22"
	}
	return strings.Contains("suvwxyz", rd.tokens[j].word)
}

// letterAt says that a letter stands at j that tells one approach from another.
func (rd *reading) letterAt(j int) bool {
	return j < len(rd.tokens) && rd.tokens[j].kind == wordToken && (rd.means(j) == letterWord || len(rd.tokens[j].word) == 1 && strings.Contains("abcdesuvwxyz", rd.tokens[j].word))
}

func (rd *reading) numberAt(j int) bool {
	return j < len(rd.tokens) && rd.tokens[j].kind == numberToken
}

// runwayAt says that the token at j can be a runway: 28, 28l.
func (rd *reading) runwayAt(j int) bool {
	if j >= len(rd.tokens) {
		return false
	}
	t := rd.tokens[j]
	switch t.kind {
	case wordToken:
		return runway(t.word)
	case numberToken:
		return t.sign == 0 && t.unit == noUnit && !t.grouped && len(t.word) <= 2 && t.value >= 1 && t.value <= 36 && !rd.bigThousands(j)
	}
	return false
}

// bigThousands says that the small number at j is the first of "10 000".
func (rd *reading) bigThousands(j int) bool {
	return j+1 < len(rd.tokens) && rd.thousands(j) && rd.tokens[j+1].word == "000"
}

// joining says that a token may stand inside a name and says nothing.
func joining(t token, m meaning) bool {
	return t.kind == sepToken && t.tight || m == orWord || t.kind == wordToken && (t.word == "to" || t.word == "the" || t.word == "for")
}

// goesOn says that the name goes on behind the token at j.
func (rd *reading) goesOn(j int, n *approachName) bool {
	if j+1 >= len(rd.tokens) || n.empty() {
		return false
	}
	m := rd.means(j + 1)
	return m == kindWord && n.runway == "" || m == runwayWord && n.runway == "" || m == measureUnit && rd.tokens[j+1].word == "dme" || n.runway == "" && rd.tokens[j].kind == wordToken && rd.means(j) != orWord && rd.runwayAt(j+1)
}

// named1 keeps the name that stands from token i up to next.
func (rd *reading) named1(i, next int, n approachName) {
	rd.apart(i)
	if n.doubt {
		word := abbreviate(rd.typed(i, next-1))
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayRunwayAndFigure(word), Either: true})
	}
	name := n.String()
	have := rd.req.Procedure
	switch {
	case rd.hasVerb && rd.lead == Brief, have == "", have == name:
	case n.runway == "" && n.letter == "" && rd.takenAway(i):
		word := rd.typed(i, next-1)
		rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayWhatIsOut(word), Either: true})
		return
	case n.runway == "" && n.letter == "" && len(n.kinds) == 1 && (n.kinds[0] == "loc" || n.kinds[0] == "ils"):
		rd.req.Minima = n.kinds[0]
		return
	case n.runway == "" && n.letter == "": // "rnp 31 on gps"
		rd.notUsed(i, next-1)
		return
	default:
		word := rd.typed(i, next-1)
		rd.fail(rd.tokens[i].start, &Problem{Word: word, Text: sayWhichApproach(rd.req.Station), Either: true, Try: rd.instead(i, next-1, "")})
		return
	}
	rd.req.Procedure = name
	if len(rd.stops) > 0 {
		rd.stops[len(rd.stops)-1].Procedure = name
	}
}

// runwayBefore reads a runway that stands before what it belongs to: "the 31
// approach", "31 rnp", "35 yankee".
func (rd *reading) runwayBefore(i int) int {
	if !rd.runwayAt(i) || i+1 >= len(rd.tokens) || rd.behindElevation() {
		return 0
	}
	switch rd.means(i + 1) {
	case kindWord:
		var own approachName
		if line, ok := minimumsLines[rd.tokens[i+1].word]; ok && line.label != "" && i+2 < len(rd.tokens) && rd.numberAt(i+2) && rd.tokens[i+2].value >= 100 {
			return 0
		}
		if rd.nameFrom(i+1, &own); own.runway != "" {
			return 0
		}
	case approachNoun, letterWord:
	default:
		return 0
	}
	n := approachName{runway: rd.tokens[i].word}
	next := i + 1
	if rd.means(next) == approachNoun {
		next++
	} else {
		own := approachName{}
		next = rd.nameFrom(next, &own)
		n.kinds, n.letter = own.kinds, own.letter
		if next == i+1 {
			return 0
		}
	}
	rd.named1(i, next, n)
	return next
}

// minimumsLines are the approaches that crews name for their minimums.
var minimumsLines = map[string]struct {
	role  procedure.Role
	label string
}{
	"ils": {procedure.DecisionAltitude, "ILS DA"},
	"loc": {procedure.MinimumDescent, "LOC MDA"},
	"vor": {procedure.MinimumDescent, "VOR MDA"},
	"ndb": {procedure.MinimumDescent, "NDB MDA"},
}

// runway is true of "28l".
func runway(w string) bool {
	n := digitsAt(w, 0)
	return (n == 1 || n == 2) && len(w) == n+1 && strings.IndexByte("lrc", w[n]) >= 0
}

// fused is the name of a procedure that was written without its spaces, such
// as "rnp28", "rnpy28", "ils31l", "rw31" or "vora".
func fused(w string) (n approachName, ok bool) {
	at := strings.IndexAny(w, "0123456789")
	kind, rwy := w, ""
	if at >= 0 {
		kind, rwy = w[:at], w[at:]
	}
	rwy, behind := cutLetter(rwy)
	if at == 0 && behind != "" && len(rwy) == 2 && inRunways(rwy) { // 35y
		return approachName{runway: rwy, letter: behind}, true
	}
	if of, ok := strings.CutPrefix(kind, "gls"); ok && (rwy == "" || strings.HasSuffix(rwy, "c") || !strings.Contains("suvwxyz", of)) { // a line of minimums, without its runway
		return n, false
	}
	if kind == "ar" || len(rwy) > len("31l") || len(kind) < 2 && (at != 1 || !strings.Contains("rwxyz", kind)) {
		return n, false
	}
	switch k, r := names(kind); {
	case k && at >= 0:
		n.kinds = []string{kind}
	case r && at >= 0, kind == "r":
	case len(kind) == 1:
		n.letter = kind // y35
	default:
		k, _ := names(kind[:len(kind)-1])
		k = k && kind[:len(kind)-1] != "ar"
		letter := kind[len(kind)-1:]
		if !k || kind[:len(kind)-1] == "ar" || at < 0 && (letter > "f" || len(kind) < 4) || at >= 0 && letter == "m" { // a minus, maybe
			return n, false
		}
		n.kinds, n.letter = []string{kind[:len(kind)-1]}, letter
	}
	if rwy == "" {
		return n, true
	}
	if n.runway = rwy; behind != "" {
		if n.letter != "" {
			return n, false
		}
		n.letter = behind // rnp35z
	}
	return n, inRunways(rwy)
}

// names says that a word is a kind of approach, or says that a runway follows.
func names(w string) (kind, rwy bool) {
	for _, p := range phrases[w] {
		if len(p.words) == 1 {
			kind = kind || p.meaning == kindWord
			rwy = rwy || p.meaning == runwayWord
		}
	}
	return kind, rwy
}
