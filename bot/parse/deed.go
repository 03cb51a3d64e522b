package parse

import (
	"slices"
	"strings"
)

// deed says of a verb that has something done what else the message says: nothing is
// done on words that are not read, on those that may take it back, nor on a question.
func (rd *reading) deed() {
	at := slices.IndexFunc(rd.tags, func(t tag) bool { return t.n > 0 && t.meaning == verbWord && t.verb == rd.req.Verb })
	if at < 0 || rd.problem != nil || rd.req.HasReport {
		return
	}
	if at == 0 && strings.HasSuffix(strings.TrimSpace(rd.text), "?") { // "can you ack XKLD?" is no question
		rd.fail(0, &Problem{Text: sayDeedAsked(rd.req.Verb), Try: strings.TrimRight(rd.text, " ?")})
		return
	}
	line, word, doubt := rd.text, "", false
	for i := len(rd.tokens) - 1; i >= 0; i-- {
		n, plainly := rd.stray(i, at)
		if n == 0 {
			continue
		}
		word, doubt = rd.typed(i, i+n-1), doubt || !plainly
		line = line[:rd.tokens[i].start] + line[rd.tokens[i+n-1].end:]
	}
	if word == "" {
		return
	}
	p := &Problem{Word: word, Text: sayDeedWord(rd.req.Verb, word), Either: doubt}
	if !doubt {
		p.Try = strings.Join(strings.Fields(line), " ")
	}
	rd.fail(0, p)
}

// stray is how many tokens the word at i is where it is none of the deed's, whose verb
// stands at token verb; plainly says that the deed is the same without it.
func (rd *reading) stray(i, verb int) (n int, plainly bool) {
	if rd.req.Verb == Snooze { // "30 min", "half an hour"
		figures, _ := durationIn(rd.figureWord(max(i-1, 0)), rd.wordAt(i))
		if words, _ := rd.durationInWords(i); figures > 0 || words > 0 {
			return 0, false
		}
	}
	if slices.ContainsFunc(rd.unread, func(u unread) bool { return u.token == i }) {
		return max(rd.tags[i].n, 1), true
	}
	if rd.tokens[i].kind == numberToken || rd.tokens[i].kind == doubtToken {
		if v := rd.req.Verb; v == Acknowledge || v == Post || v == Withdraw {
			return 1, false
		}
		return 0, false
	}
	if n = rd.tags[i].n; n == 0 || i < verb {
		return 0, false
	}
	switch m := rd.means(i); m {
	case small:
		if slices.Contains(unsureWords, rd.tokens[i].word) {
			return n, false
		}
		return 0, false
	case thanks, yesWord, andWord, seaWord, celsiusWord, fahrenheitWord, minusWord, plusWord, belowWord, temperatureWord, measureWord, measureUnit,
		latestWord, arriveWord, inWord, zoneWord, noonWord, clockUnit, meridiemWord, coldWord, basesWord, feetWord, metreWord:
		return 0, false
	case dayWord:
		if rd.req.Verb == Observe { // what lies ahead is no observation: observedAt
			return 0, false
		}
	case verbWord: // "ack the cold alert"
		if v := rd.tags[i].verb; v == rd.req.Verb || v == Watch {
			return 0, false
		}
	}
	return n, false
}

// unsureWords are words, small anywhere else, of who does not know, or is not there yet.
var unsureWords = append([]string{"expected", "expecting", "probably", "might", "may", "if", "would", "should", "will", "guess", "think", "approx", "roughly", "but"}, doubting...)

// impossible is the coldest that is written down without a question, °C: the coldest of the
// northern hemisphere was −69.6 (World Meteorological Organization, from memory).
const impossible = -70

// observation says what an observation lacks, and takes its time.
func (rd *reading) observation() {
	r := rd.req
	switch {
	case rd.problem != nil && len(rd.open) > 0:
	case len(r.Altitudes) > 0:
		rd.observedFigure(r.Altitudes[0])
	case r.Station == "" && !r.Elsewhere:
		rd.fail(0, &Problem{Word: "obs", Text: sayObserveNeeds("")})
	case !r.HasTemperature && rd.problem == nil:
		rd.fail(0, &Problem{Word: r.Station, Text: sayObserveNeeds(r.Station)})
	}
	rd.observedAt()
	exact := func(t token) bool {
		return t.kind == numberToken && t.sign < 0 && strings.ContainsAny(t.word, ".,")
	}
	if rd.deed(); rd.problem == nil && r.HasTemperature && !r.HasReport && r.Temperature < impossible && !slices.ContainsFunc(rd.tokens, exact) {
		sure := r.TemperatureWord()
		sure = strings.TrimSuffix(sure, "F") + ".0" + sure[len(strings.TrimSuffix(sure, "F")):]
		p := &Problem{Word: r.TemperatureWord(), Text: sayImpossible(r.TemperatureWord(), sure)}
		if p.Try = Observe.String() + " " + r.Station + " " + sure; r.At.Said {
			p.Try += " " + r.At.String()
		}
		rd.fail(0, p)
	}
}

// observedFigure asks whether a figure behind an observation is its time.
func (rd *reading) observedFigure(a Altitude) {
	w := a.figure()
	p := &Problem{Word: w, Text: sayObserveTime}
	if c, ok := a.Clock(); ok && len(rd.req.Altitudes) == 1 && rd.req.HasTemperature && rd.req.Station != "" {
		*p = *rd.whichZone(w, c)
	}
	rd.fail(0, p)
}

// observedAt takes the time of an observation, which has gone by and has its zone.
func (rd *reading) observedAt() {
	var at Clock
	for _, c := range rd.clocks {
		switch {
		case !at.Said:
			at = c.Clock
		case at != c.Clock:
			rd.fail(0, &Problem{Word: c.String(), Text: sayTwoTimes(rd.req.Station, at.String(), c.String()), Either: true})
		}
	}
	if past := rd.first(pastWord); past >= 0 {
		word := rd.typed(past, past+rd.tags[past].n-1)
		rd.fail(0, &Problem{Word: word, Text: sayWhichDate(word), Either: true})
	}
	day := rd.first(dayWord)
	ahead := at.In > 0 || at.Day == Tomorrow || day >= 0 && (rd.tags[day].day == Tomorrow || rd.later)
	switch rd.req.At = at; {
	case ahead:
		word := at.String()
		if day >= 0 {
			word = rd.typed(day, day+rd.tags[day].n-1)
		}
		rd.fail(0, &Problem{Word: word, Text: sayObservedAhead(word), Either: true})
	case at.Said && at.Unzoned:
		rd.fail(0, rd.whichZone(rd.typed(rd.clocks[0].token, rd.clocks[0].token), at))
	}
}

// whichZone asks what time in UTC the time of an observation is that names no zone.
func (rd *reading) whichZone(word string, c Clock) *Problem {
	c.Zone, c.Unzoned = UTC, false
	p := &Problem{Word: word, Text: sayWhatZone(c.String()), Either: true}
	if r := rd.req; r.Station != "" && r.HasTemperature {
		line := Observe.String() + " " + r.Station + " " + r.TemperatureWord() + " "
		p.Try = line + c.String()
		local := c
		local.Zone = Local
		p.Choices = []Choice{
			{Words: append([]string{"yes"}, timeWords...), Figure: strings.TrimSuffix(c.String(), "Z"), Line: p.Try},
			{Words: []string{"local", "lt", "lcl", "lokal", "ortszeit"}, Line: line + local.String()},
		}
	}
	return p
}

// snoozed takes for how long, where it is said in words: "half an hour".
func (rd *reading) snoozed() {
	for i := range rd.tokens {
		if d, _ := rd.durationInWords(i); d > 0 && rd.req.For == 0 {
			rd.req.For = d
			rd.req.NotUsed = slices.DeleteFunc(rd.req.NotUsed, func(w string) bool { return strings.EqualFold(w, rd.typed(i, i)) })
		}
	}
}

// noBase asks which base is meant, by the word behind the verb that may have been one.
func (rd *reading) noBase(verb, needs string) {
	p := &Problem{Word: verb, Text: needs, Try: rd.ofAll(verb)}
	if k := slices.IndexFunc(rd.unread, func(u unread) bool { return rd.tags[u.token].n == 0 }); k >= 0 {
		i := rd.unread[k].token
		p = rd.unknownStation(rd.typed(i, i), func(with string) string { return rd.instead(i, i, with) })
	} else if rd.hasVerb {
		for i := rd.first(verbWord) + 1; i > 0 && i < len(rd.tokens); i++ {
			if n := rd.tags[i].n; n > 0 && rd.tokens[i-1].kind != numberToken && (!rd.isSmall(i) || rd.means(i) == noWord) {
				p.Word = rd.typed(i, i+n-1)
				p.Text = sayNoBase(verb, p.Word)
				break
			}
		}
	}
	rd.fail(0, p)
}
