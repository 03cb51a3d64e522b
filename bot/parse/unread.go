package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// unreadWords says what becomes of words that no table has: a station that is
// misspelt, a label that is, a question about those that touch a figure; the
// others are told as not used.
func (rd *reading) unreadWords() {
	if len(rd.unread) == 0 {
		return
	}
	if at := rd.misspeltStation(); at >= 0 {
		i := rd.unread[at].token
		t := rd.tokens[i]
		sole := rd.soleWord()
		p := rd.unknownStation(rd.typed(i, i), func(with string) string { return rd.around(t.start, t.end, with) })
		p.Sole = sole
		rd.fail(t.start, p)
		rd.unread = slices.Delete(rd.unread, at, at+1)
	}
	var touching []int
	for _, u := range rd.unread {
		word := rd.typed(u.token, u.token+max(rd.tags[u.token].n, 1)-1)
		switch {
		case rd.tokens[u.token].word == "final":
			rd.refuse(rd.tokens[u.token].start, &Problem{Word: word, Text: sayFinal(word), Either: true, Try: rd.instead(u.token, u.token, "FAF"), Choices: rd.finals(u.token)})
		case (rd.tokens[u.token].word == "map" || rd.tokens[u.token].word == "mapt") && rd.touches(u.token):
			rd.refuse(rd.tokens[u.token].start, &Problem{Word: word, Text: sayMissedPoint(word), Either: true, Choices: rd.missedPoint(u.token)})
		case rd.storedFix(rd.tokens[u.token].word) && rd.asksAt(u.token) && rd.req.Procedure != "":
			rd.req.NotUsed = append(rd.req.NotUsed, word) // its altitude is among those of the procedure
		case rd.namesRecord(u.token), rd.weighty(u.token), rd.bareWords(), rd.touches(u.token) && !rd.smallSlip(u.token):
			touching = append(touching, u.token)
		default:
			rd.req.NotUsed = append(rd.req.NotUsed, abbreviate(word))
		}
	}
	if len(touching) > 0 {
		rd.ask(touching)
	}
}

// smallSlip says that the word at i misspells a small word, and that nothing is
// said in the message of which it could take something away.
func (rd *reading) smallSlip(i int) bool {
	if rd.has(lineWord, onlyLine, sbasWord, compensatedWord, remoteWord, notWord, takeWord, notLineWord, stationWord, notWayWord) {
		return false
	}
	slip := slipOf(rd.tokens[i].word)
	return slip != nil && slip.meaning == small
}

// bareWords says that there is nothing but words that no table has.
func (rd *reading) bareWords() bool {
	return !rd.place() && !rd.figures() && !rd.req.Elsewhere && rd.req.Empty()
}

// soleWord says that the message says nothing but one word that no table has.
func (rd *reading) soleWord() bool {
	return len(rd.unread) == 1 && rd.bareWords() && len(rd.req.NotUsed) == 0 && !rd.has(takeWord, notWord)
}

// ask is one question about all the words that were not read.
func (rd *reading) ask(touching []int) {
	slices.Sort(touching)
	touching = slices.Compact(touching)
	var words []string
	line := rd.text
	for k := len(touching) - 1; k >= 0; k-- {
		i := touching[k]
		t, last := rd.tokens[i], rd.tokens[i+max(rd.tags[i].n, 1)-1]
		line = line[:t.start] + line[last.end:]
		words = append(words, abbreviate(rd.typed(i, i)))
	}
	slices.Reverse(words)
	first := touching[0]
	t := rd.tokens[first]
	p := &Problem{Word: words[0], Text: sayUnread(words[:min(len(words), 5)]), Unread: true}
	p.Sole = rd.soleWord()
	p.Asks = rd.asksAt(first)
	if near := nearWord(t.word); near != "" && len(touching) == 1 && rd.tags[first].n == 0 {
		p.Text = sayDidYouMean(words[0], near)
		p.Try = rd.instead(first, first, near)
		if p.Meant = p.Try; rd.has(straightWord) && near == "circling" {
			p.Try = "" // it says the other way as well
		}
	}
	if len(touching) == 1 && rd.storedFix(t.word) && rd.req.Way.Kind == Unsaid {
		fix := strings.ToUpper(t.word)
		if p.Text, p.Way = sayComeIn(fix), true; rd.asksAt(first) && rd.req.Procedure == "" && rd.req.Station != "" {
			p.Text, p.Way, p.Named = sayWhichApproach(rd.req.Station), false, true // it is asked about, and no way in
		} else if len(rd.unread) == 1 { // "XEMBA closed" is no way in
			p.Try = rd.instead(first, first, "via "+fix)
		}
	}
	if len(touching) == 2 && rd.means(touching[0]+1) == orWord && rd.orVia(touching[0]+1) == touching[1] && rd.storedFix(t.word) && rd.req.Way.Kind == Unsaid {
		rd.whichVia(first, strings.ToUpper(t.word), touching[1])
		return
	}
	record := slices.IndexFunc(touching, rd.namesRecord)
	if record >= 0 {
		rd.askRecord(touching[record], p)
	}
	half := slices.ContainsFunc(touching, rd.besideSpelled)
	if half {
		p.Try = ""
	}
	p.gains = p.Try != ""
	if p.Try == "" && record < 0 && !half && !rd.bareWords() && !slices.ContainsFunc(touching, rd.weighty) && !slices.ContainsFunc(touching, rd.besideBare) && !rd.assigned() {
		if rd.pasted {
			line = rd.withReport(line)
		}
		p.Try = rd.offer(line)
	}
	rd.refuse(t.start, p)
}

// namesRecord says that the word at i is the name of a record, where no verb that
// takes one leads: nothing is done to a record that is only spoken of.
func (rd *reading) namesRecord(i int) bool {
	_, n := rd.recordAt(i)
	return n > 0 && (rd.req.Record != "" || !rd.place() && !rd.req.HasTemperature)
}

// askRecord asks what is to be done with the record that is named at i: what the one
// word beside its name says, else to see it.
func (rd *reading) askRecord(i int, p *Problem) {
	name, n := rd.recordAt(i)
	p.Word = name
	if rd.req.Record != "" {
		p.Text, p.Try = sayOneRecord(rd.req.Record, name), ""
		return
	}
	p.Text, p.Try = sayRecordAlone(name), ""
	if rd.figures() {
		return // they would be lost
	}
	p.Try = Log.String() + " " + name
	if v := rd.verb; rd.anyVerb && traits[v].record && i == 0 && len(strings.Fields(rd.text)) == n+1 && !strings.Contains(rd.text, "?") {
		p.Try = v.String() + " " + name
	}
}

// asksAt says that the message asks for the altitude at the word at i: "what do I
// fly at XOLMI".
func (rd *reading) asksAt(i int) bool {
	at := []string{"at", "cross", "over", "for", "by", "crossing", "ved", "bei", "a", "en", "uber", "sur", "sobre"}
	return slices.Contains(at, rd.wordAt(i-1)) && slices.ContainsFunc(rd.tokens[:i], func(t token) bool {
		return slices.Contains([]string{"what", "whats", "what's", "which", "how", "why", "hva", "was", "wieviel", "combien", "quoi", "que", "cuanto", "hohe", "hoyde", "hauteur", "altura", "altitude"}, t.word)
	}) && !rd.wrote("about")
}

// besideSpelled says that the word at i stands directly beside a figure that is
// written in words: it may be the rest of it, "five thousand four hundrd".
func (rd *reading) besideSpelled(i int) bool {
	spelled := func(k int) bool {
		return k >= 0 && rd.numberAt(k) && !strings.ContainsAny(rd.text[rd.tokens[k].start:rd.tokens[k].end], "0123456789")
	}
	return spelled(i-1) || spelled(i+max(rd.tags[i].n, 1))
}

// besideBare says that the word at i stands beside an altitude without a
// label: the word may be its label, and the altitude is another one without.
func (rd *reading) besideBare(i int) bool {
	bare := func(k int) bool {
		return slices.ContainsFunc(rd.items, func(it item) bool {
			return it.kind == numberItem && it.token == k && it.altitude >= 0 && it.altitude < len(rd.req.Altitudes) && rd.req.Altitudes[it.altitude].Role == procedure.NoRole
		})
	}
	beside := func(from, step int) bool {
		for k := from; k >= 0 && k < len(rd.tokens) && rd.tokens[k].kind != sepToken; k += step {
			if rd.tokens[k].kind == numberToken {
				return bare(k)
			}
			if m := rd.means(k); rd.tokens[k].kind == wordToken && !rd.isSmall(k) && !rd.covered(k) && m != feetWord && m != metreWord {
				return false
			}
		}
		return false
	}
	return beside(i-1, -1) || beside(i+max(rd.tags[i].n, 1), 1)
}

// assigned says that the message is about what a controller has assigned,
// which is flown as it is.
func (rd *reading) assigned() bool {
	return slices.ContainsFunc(rd.tokens, func(t token) bool {
		switch t.word {
		case "told", "accept", "cross", "crossing", "maintain", "cleared", "descend", "direct", "instructed", "assigned", "until", "atc":
			return true
		}
		return false
	})
}

// weighty says that a word which is not read cannot be left out: it holds a
// digit, is a fix of the station's procedures, or stands beside what the
// aircraft or the approach has, or a word for the temperature.
func (rd *reading) weighty(i int) bool {
	t := rd.tokens[i]
	if v := rd.req.Verb; traits[v].record && !v.Shows() {
		return false // they say themselves what they cannot take
	}
	if strings.ContainsAny(t.word, "0123456789") || rd.storedFix(t.word) || t.word == "isa" { // a deviation is no temperature
		return true
	}
	if to, _ := rd.takenBehind(i + max(rd.tags[i].n, 1)); to >= 0 || rd.takenAway(i) { // something is out of service
		return true
	}
	bears := func(k int) bool {
		switch rd.means(k) {
		case sbasWord, compensatedWord, remoteWord, lineWord, onlyLine, notLineWord, stationWord, lineBackWord, notWayWord:
			return true
		case temperatureWord:
			return rd.figures()
		case minusWord, belowWord:
			return !rd.req.HasTemperature
		}
		return false
	}
	if bears(i + max(rd.tags[i].n, 1)) {
		return true
	}
	for s := max(0, i-4); s < i; s++ {
		if n := rd.tags[s].n; n > 0 && s+n == i && bears(s) {
			return true
		}
	}
	return false
}

// takenAway says that a word before token i takes it away: "without x".
func (rd *reading) takenAway(i int) bool {
	for k := i - 1; k >= 0 && rd.tokens[k].kind == wordToken; k-- {
		for j := k - 1; rd.tags[k].n == 0 && j >= max(0, k-4); j-- {
			if rd.tags[j].n > k-j {
				k = j // the phrase that it is in: "instead of"
			}
		}
		if m := rd.means(k); m == takeWord || m == notWord {
			return true
		}
		if !rd.isSmall(k) && !rd.covered(k) {
			return false
		}
	}
	return false
}

// touches says that the word at i stands beside a figure, with nothing but
// small words between.
func (rd *reading) touches(i int) bool {
	beside := func(from, step int) bool {
		for k := from; k >= 0 && k < len(rd.tokens); k += step {
			switch t := rd.tokens[k]; {
			case t.kind == numberToken || t.kind == doubtToken:
				return true
			case t.kind != wordToken:
				return t.kind == bindToken
			case rd.covered(k) || rd.isSmall(k) || rd.means(k) == feetWord || rd.means(k) == metreWord:
			default:
				return rd.means(k) == roleWord || rd.means(k) == lineWord
			}
		}
		return false
	}
	return beside(i-1, -1) || beside(i+max(rd.tags[i].n, 1), 1)
}

// covered says that the token at k stands inside a small phrase.
func (rd *reading) covered(k int) bool {
	for j := k - 1; j >= 0 && j > k-6; j-- {
		if n := rd.tags[j].n; n > 0 {
			return j+n > k && rd.isSmall(j)
		}
	}
	return false
}

// misspeltStation is the unread word that is most likely a station, where no
// other place is named: -1 for none.
func (rd *reading) misspeltStation() int {
	brief := rd.req.Verb == Brief
	if rd.place() && !brief {
		return -1
	}
	best := -1
	for k, u := range rd.unread {
		t := rd.tokens[u.token]
		raw := rd.text[t.start:t.end]
		if u.token > 0 && rd.means(u.token-1) == viaWord { // a fix
			continue
		}
		if rd.tags[u.token].n > 0 || len(raw) != len(t.word) || !letters(strings.TrimRight(t.word, "0123456789")) {
			continue
		}
		capitals := raw == strings.ToUpper(raw)
		near := len(rd.places.Nearest(raw, 1)) > 0
		switch {
		case near && (len(t.word) <= 5 || len(t.word) >= 6) && (capitals || rd.figures() || brief || len(rd.clocks) > 0 || len(rd.tokens) <= 2):
			return k
		case likeIdent(t.word) && best < 0 && (capitals && len(t.word) != 5 || len(t.word) == 4 && rd.figures() && u.token == 0 && !rd.behind):
			if nearWord(t.word) == "" {
				best = k
			}
		}
	}
	return best
}

// aheadOnly tells what a question about what is to come holds beside it; what a
// forecast says of its extremes is typed, and not asked of.
func (rd *reading) aheadOnly() {
	if rd.req.Verb != Watch {
		return
	}
	for _, u := range rd.unread {
		w := rd.tokens[u.token].word
		if !strings.ContainsAny(w, "0123456789") {
			continue
		}
		if len(w) > 3 && w[0] == 't' && (w[1] == 'n' || w[1] == 'x') { // TNM39/2612Z
			rd.fail(rd.tokens[u.token].start, aForecast(rd.typed(u.token, u.token)))
			return
		}
		rd.notUsed(u.token, u.token)
	}
}

// sameAsWhat tells that something is said to be as something else, in a message that
// says all itself: "same as yesterday".
func (rd *reading) sameAsWhat() {
	i := rd.first(sameWord)
	if i < 0 {
		return
	}
	last := i + rd.tags[i].n - 1
	for k := last + 1; k < len(rd.tokens) && rd.tags[k].n > 0 && (rd.isSmall(k) || rd.means(k) == dayWord); k += rd.tags[k].n {
		last = k + rd.tags[k].n - 1
	}
	rd.notUsed(i, last)
}
