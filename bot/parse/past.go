package parse

import (
	"slices"
	"strconv"
)

// goneBy says that the temperature at tokens first to last is of a time that has
// gone by: "last night -38", "it was -38 yesterday". What is compared with that
// time, "colder than yesterday", is of now.
func (rd *reading) goneBy(first, last int) bool {
	if !rd.has(pastWord) {
		return false
	}
	past := func(from, step int) bool {
		for k := from; k >= 0 && k < len(rd.tokens) && rd.tokens[k].kind == wordToken; k += step {
			w := rd.wordAt(k)
			switch m := rd.means(k); {
			case m == pastWord:
				before := rd.wordAt(k - 1)
				return !slices.Contains(comparing, before)
			case slices.Contains(nowWords, w), m == dayWord:
				return false
			case !rd.isSmall(k) && !rd.covered(k) && m != minusWord && m != temperatureWord && m != celsiusWord && m != fahrenheitWord && (rd.tags[k].n > 0 || !rd.behindPast(k) && !rd.isPlace(k)):
				return false
			}
		}
		return false
	}
	return past(first-1, -1) || past(last+1, 1)
}

// behindPast says that the token at k stands inside a phrase for a time that has
// gone by.
func (rd *reading) behindPast(k int) bool {
	for j := k - 1; j >= 0 && j > k-4; j-- {
		if n := rd.tags[j].n; n > 0 {
			return rd.means(j) == pastWord && j+n > k
		}
	}
	return false
}

// nowWords part what was from what is; comparing stand before what is compared with.
var (
	nowWords  = []string{"now", "currently", "but", "today", "still", "na", "nå", "jetzt", "aber", "maintenant", "mais", "ahora", "pero", "adesso", "ora"}
	comparing = []string{"than", "as", "like", "as", "since", "from", "som", "enn", "wie", "als", "que", "di", "come", "seit"}
)

// bygoneAsked asks for the temperature where the message has only one that has
// gone by, and something to work out.
func (rd *reading) bygoneAsked() {
	r := rd.req
	if r.Verb == Brief && !rd.hasVerb && !rd.anyVerb && rd.has(coldWord, temperatureWord) && slices.ContainsFunc([]string{"was", "war", "var", "était", "hacía", "hacia"}, rd.wrote) {
		rd.refuse(0, &Problem{Text: sayPast, Either: true}) // "how cold was it at 0600z"
		return
	}
	if i := rd.first(pastWord); i >= 0 && r.Verb == Brief && !slices.Contains(comparing, rd.wordAt(i-1)) {
		rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, i), Text: sayPast, Either: true}) // "brief XKLD yesterday 1200"
		return
	}
	if i := rd.first(pastWord); i > 0 && rd.bygone == "" && r.Verb == Correct && r.HasTemperature && len(r.Altitudes) > 0 && rd.wordAt(i-1) != "than" {
		rd.notUsed(i, i+rd.tags[i].n-1) // "same as yesterday"
	}
	if rd.bygone == "" || r.HasTemperature || r.HasReport || r.Latest || r.Verb != Correct && !r.Verb.Shows() || len(r.Altitudes) == 0 && r.Procedure == "" {
		return
	}
	rd.fail(0, &Problem{Word: rd.bygone, Text: sayBygone(rd.bygone), Either: true})
}

// Changing asks where a follow-up's temperature may be by how much it fell since the
// answer: "3 below" behind -38. One that is near the temperature there, or too much
// for a fall, is the temperature.
func (r Request) Changing(next Request) *Problem {
	const most = 15 // °C, ours
	near := r.HasTemperature && next.Temperature-r.Temperature <= most && r.Temperature-next.Temperature <= most
	if next.Change == "" || !next.HasTemperature || near || next.Temperature < -most || next.Temperature > most {
		return nil
	}
	return &Problem{Word: next.Change, Text: sayChangedBy(next.Change), Either: true}
}

// changedBy says that the figure at i may be by how much the temperature has
// changed: "dropped 4", and not "dropped to 4".
func (rd *reading) changedBy(i int) bool {
	switch rd.wordAt(i - 1) {
	case "dropped", "fell", "rose", "risen", "up", "down", "warmed", "cooled", "increased", "decreased", "by", "another":
		return true
	}
	next := i + 1
	for m := rd.means(next); m == celsiusWord || m == fahrenheitWord; m = rd.means(next) {
		next += rd.tags[next].n
	}
	switch rd.wordAt(next) { // "5 degrees colder"
	case "colder", "warmer", "cooler", "lower", "higher", "more", "less", "mer", "mindre", "weniger", "lavere", "høyere", "kaldere", "varmere", "kalter", "warmere", "wärmer", "mehr":
		return true
	case "de":
		return rd.wordAt(next+1) == "moins" || rd.wordAt(next+1) == "plus" // 3 degrés de moins
	case "mas":
		return true
	case "plus", "piu":
		switch rd.wordAt(next + 1) {
		case "froid", "chaud", "freddo", "caldo":
			return true
		}
	}
	return false
}

// signTakenBack asks for the sign where a plus was typed, and a minus behind it
// without a figure: "+38? no minus".
func (rd *reading) signTakenBack() {
	r := rd.req
	if r.Sign >= 0 || !r.HasTemperature || r.HasReport || rd.problem != nil {
		return
	}
	at := slices.IndexFunc(rd.tokens, func(t token) bool { return t.kind == numberToken && t.sign > 0 })
	typed := float64(r.Temperature)
	if r.InFahrenheit {
		typed = float64(r.Fahrenheit)
	}
	if at < 0 || rd.tokens[at].value != typed {
		return
	}
	r.HasTemperature, rd.unsigned = false, true
	r.Unsigned, r.UnsignedF, r.InFahrenheit = typed, r.InFahrenheit, false
	signed, _ := r.Signed(r.Sign)
	r.Sign = 0
	bare := strconv.FormatFloat(typed, 'f', -1, 64)
	rd.fail(rd.tokens[at].start, &Problem{Word: rd.typed(at, at), Text: sayNoSign(bare), Either: true, Try: signed.Line(), Choices: eitherSign(typed, signed.InFahrenheit)})
}
