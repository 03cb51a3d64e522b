package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// decide says once what the message asks for, and what is wrong with it.
func (rd *reading) decide() {
	rd.req.Verb = rd.command()
	rd.pairs()
	if rd.req.Verb == Watch {
		rd.req.At.Day = rd.day
	}
	switch rd.req.Verb {
	case Note, Yes, No, Forget, Repeat, Help, Watch:
		rd.settle()
		return
	}
	rd.unreadWords()
	rd.stations()
	rd.commandNeeds()
	rd.times()
	rd.twoFinalFixes()
	rd.openBounds()
	rd.settle()
}

// place says that a station or an elevation is named.
func (rd *reading) place() bool { return rd.req.Station != "" || rd.req.HasElevation }

// figures says that the message holds something to work out.
func (rd *reading) figures() bool {
	return rd.req.HasTemperature || len(rd.req.Altitudes) > 0 || rd.req.Procedure != "" || rd.req.HasReport || rd.unsigned
}

// bare says that nothing but words was typed.
func (rd *reading) bare() bool {
	r := rd.req
	return !rd.place() && !rd.figures() && r.Empty() && r.Sign == 0 && len(r.Gone) == 0 && len(rd.clocks) == 0 && !r.Latest && rd.problem == nil
}

// command is the verb: what the message begins with, what stands elsewhere in
// it, or what it says without one.
func (rd *reading) command() Verb {
	whole := rd.place() && rd.figures()
	if rd.hasVerb {
		switch v := rd.lead; v {
		case Help, Check, Add, Remove:
			if !whole {
				return v
			}
		case Recompute:
			if rd.req.Record != "" || !rd.figures() && !rd.place() {
				return v
			}
			rd.req.Instead = true
		case Rules:
			if rd.req.Rules == "" && !rd.figures() || rd.req.Rules != "" && !rd.figures() {
				return v
			}
		case Watch:
			if !rd.figures() {
				return v
			}
		default:
			return v
		}
	}
	if rd.anyVerb {
		switch v := rd.verb; v {
		case Why, Picture, Card, Brief:
			return v
		case Add, Remove:
			if !rd.place() {
				return v
			}
		case Log, Watch, Acknowledge, Snooze, Post, Withdraw, Check:
			if !rd.figures() && !rd.hasVerb {
				return v
			}
		case Help, Rules:
			if rd.bare() {
				return v
			}
		}
	}
	return rd.wordless()
}

// wordless is what a message without a verb asks for.
func (rd *reading) wordless() Verb {
	r := rd.req
	daily := rd.forecast || rd.later || rd.bases
	switch {
	case rd.place() && len(rd.clocks) > 0 && !r.HasTemperature && !rd.unsigned && len(r.Altitudes) == 0 && r.Verb != Same:
		return Brief
	case daily && rd.place() && r.Procedure != "" && !r.HasTemperature && len(r.Altitudes) == 0:
		return Brief
	case daily && !rd.figures() && len(rd.clocks) == 0 && r.Verb != Same, rd.coldAsked && rd.bare() && !rd.agreed:
		return Watch
	case rd.enroute && len(r.Altitudes) == 1 && r.Procedure == "" && rd.place():
		return Route
	case r.Verb == Same && !rd.bare():
		if rd.place() && (len(r.Altitudes) > 0 || r.Procedure != "") {
			return Correct
		}
		return Same
	case !rd.bare():
		return Correct
	case r.Verb == Same, rd.repeated:
		return Repeat
	case rd.forgotten:
		return Forget
	case rd.letterAlone():
		return Correct
	case rd.declined:
		return No
	case rd.agreed:
		return Yes
	case len(rd.unread) > 0 && !rd.thanked:
		return Correct
	case rd.req.Instead, rd.req.Also:
		return Correct
	}
	return Note
}

// letterAlone takes the letter of an approach where nothing else was said but
// small words: "the y", "zulu".
func (rd *reading) letterAlone() bool {
	letter := ""
	for i := 0; i < len(rd.tokens); i += max(rd.tags[i].n, 1) {
		switch t := rd.tokens[i]; {
		case t.kind == numberToken:
			return false
		case t.kind != wordToken || rd.tags[i].n > 1:
		case rd.means(i) == letterWord:
			letter += rd.tags[i].label
		case t.word == "zulu":
			letter += "z"
		case len(t.word) == 1 && strings.Contains("uvwxyz", t.word):
			if t.word == "y" && len(rd.tokens) == 1 {
				return false // a yes, until a procedure is asked about
			}
			letter += t.word
		}
	}
	if len(letter) != 1 {
		return false
	}
	rd.req.Procedure = letter
	rd.unread, rd.agreed = nil, false
	return true
}

// pairs reads "change 7400 to 7500", and "8000, not 7400" in a message that
// stands alone.
func (rd *reading) pairs() {
	r := rd.req
	if rd.change && rd.changeTo > 0 && rd.changeTo < len(r.Altitudes) {
		r.Gone = append(r.Gone, r.Altitudes[:rd.changeTo]...)
		r.Altitudes = slices.Clone(r.Altitudes[rd.changeTo:])
	}
	if rd.takes() && r.Verb == Correct && !rd.place() && !r.HasTemperature {
		r.Verb = Remove
	}
	if r.Verb == Correct && rd.place() && len(r.Altitudes) > 0 {
		for _, a := range r.Gone {
			r.NotUsed = append(r.NotUsed, a.labelled())
		}
		r.Gone = nil
	}
	if len(r.Gone) > 0 && rd.place() && len(r.Altitudes) == 0 && r.Verb == Correct {
		w := r.Gone[0].Name()
		rd.fail(0, &Problem{Word: w, Text: sayNothingLeft(w)})
	}
	r.Also = rd.also && !rd.place()
}

// stations asks about two stations where one is meant.
func (rd *reading) stations() {
	if !rd.twoStations || rd.req.Verb == Brief || rd.req.Verb == Log {
		rd.twoStations = false
		return
	}
	first := rd.req.Station
	for i, t := range rd.tokens {
		if t.kind != wordToken || rd.tags[i].n > 0 {
			continue
		}
		if ident, ok := rd.places.Place(rd.text[t.start:t.end]); ok && ident != first {
			p := &Problem{Word: rd.typed(i, i), Text: sayTwoStations(first, ident)}
			if p.Try = rd.offer(rd.around(t.start, t.end, "")); p.Try == "" {
				p.Try = rd.offer(rd.text[:t.start])
			}
			rd.fail(t.start, p)
			return
		}
	}
	rd.fail(-1, &Problem{Text: sayTwoStations(first, "another"), Try: rd.offer(rd.text)})
}

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
		rd.fail(t.start, rd.unknownStation(rd.typed(i, i), func(with string) string { return rd.around(t.start, t.end, with) }))
		rd.unread = slices.Delete(rd.unread, at, at+1)
	}
	var touching []int
	for _, u := range rd.unread {
		word := rd.typed(u.token, u.token+max(rd.tags[u.token].n, 1)-1)
		switch {
		case rd.tokens[u.token].word == "final":
			rd.refuse(rd.tokens[u.token].start, &Problem{Word: word, Text: sayFinal(word), Either: true, Try: rd.instead(u.token, u.token, "FAF")})
		case rd.touches(u.token) || rd.bareWords() || rd.weighty(u.token):
			touching = append(touching, u.token)
		default:
			rd.req.NotUsed = append(rd.req.NotUsed, abbreviate(word))
		}
	}
	if len(touching) > 0 {
		rd.ask(touching)
	}
}

// bareWords says that there is nothing but words that no table has.
func (rd *reading) bareWords() bool {
	return !rd.place() && !rd.figures() && !rd.req.Elsewhere && rd.req.Empty()
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
	p := &Problem{Word: words[0], Text: sayUnread(words[:min(len(words), 5)])}
	if near := nearWord(t.word); near != "" && len(touching) == 1 && rd.tags[first].n == 0 {
		p.Text = sayDidYouMean(words[0], near)
		p.Try = rd.instead(first, first, near)
	}
	if len(touching) == 1 && rd.storedFix(t.word) && rd.req.Way.Kind == Unsaid {
		fix := strings.ToUpper(t.word)
		p.Text, p.Try = sayComeIn(fix), rd.instead(first, first, "via "+fix)
	}
	if p.Try == "" && !rd.bareWords() && !slices.ContainsFunc(touching, rd.weighty) && !rd.assigned() {
		if rd.pasted {
			line = rd.withReport(line)
		}
		p.Try = rd.offer(line)
	}
	rd.refuse(t.start, p)
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
	switch rd.req.Verb {
	case Check, Withdraw, Post, Recompute, Log:
		return false // they say themselves what they cannot take
	}
	if strings.ContainsAny(t.word, "0123456789") || rd.storedFix(t.word) {
		return true
	}
	bears := func(k int) bool {
		switch rd.means(k) {
		case sbasWord, compensatedWord, remoteWord, lineWord, onlyLine, notLineWord, notWayWord:
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
		if rd.tags[u.token].n > 0 || !letters(strings.TrimRight(t.word, "0123456789")) {
			continue
		}
		capitals := raw == strings.ToUpper(raw)
		near := len(rd.places.Nearest(raw, 1)) > 0
		switch {
		case near && (len(t.word) <= 5 || len(t.word) >= 6) && (capitals || rd.figures() || brief || len(rd.tokens) <= 2):
			return k
		case likeIdent(t.word) && best < 0 && (capitals && len(t.word) != 5 || brief || len(t.word) == 4 && rd.figures() && u.token == 0):
			if nearWord(t.word) == "" {
				best = k
			}
		}
	}
	return best
}

// times asks where a figure could be a time, and says of a time that is not
// needed that it is not used.
func (rd *reading) times() {
	r := rd.req
	if r.Verb == Brief || r.Verb == Observe {
		return
	}
	if n := len(rd.clocks); n > 0 {
		switch {
		case rd.place() && (r.HasTemperature || r.HasReport) || rd.unsigned:
			for _, c := range rd.clocks {
				r.NotUsed = append(r.NotUsed, c.String())
			}
		case rd.place():
			i := rd.clocks[0].token
			rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, i), Text: sayTemperatureThen(rd.clocks[0].String())})
		default:
			r.At = rd.clocks[0].Clock
			for _, c := range rd.clocks[1:min(n, 5)] {
				r.NotUsed = append(r.NotUsed, c.String())
			}
		}
	}
	if r.Verb == Correct || r.Verb.Shows() {
		rd.timeOrAltitude()
	}
}

// timeOrAltitude asks about 1430 beside altitudes that have labels, or alone
// with a station.
func (rd *reading) timeOrAltitude() {
	at, labels := -1, 0
	for k, it := range rd.items {
		if it.kind != numberItem || it.altitude < 0 || it.altitude >= len(rd.req.Altitudes) {
			continue
		}
		t := rd.tokens[it.token]
		ok := rd.req.Altitudes[it.altitude].likeTime() && len(t.word) == 4 && (it.token == 0 || !strings.HasPrefix(rd.tokens[it.token-1].word, "alt"))
		bound := slices.ContainsFunc(rd.items, func(l item) bool { return l.kind == labelItem && l.boundTo == k })
		switch {
		case bound:
			labels++
		case ok && at < 0:
			at = it.token
		default:
			return
		}
	}
	if at < 0 || !rd.place() || labels == 0 && (rd.req.HasTemperature || rd.req.HasReport || rd.req.Procedure != "" || rd.unsigned || rd.req.Verb != Correct) {
		return
	}
	word := rd.typed(at, at)
	rd.refuse(rd.tokens[at].start, &Problem{Word: word, Text: sayTimeOrAltitude(word), Either: true})
}

// twoFinalFixes asks which of two is the final approach fix: there is one.
func (rd *reading) twoFinalFixes() {
	first := -1
	for i, a := range rd.req.Altitudes {
		switch {
		case a.Role != procedure.FinalFix:
		case first < 0:
			first = i
		case !a.same(rd.req.Altitudes[first]):
			have := rd.req.Altitudes[first]
			rd.fail(0, &Problem{Word: "FAF", Text: TwoOf(have.Name(), have.figure(), a.figure()), Either: true})
			return
		}
	}
}

// openBounds asks for the upper bound of "between 7400".
func (rd *reading) openBounds() {
	for _, a := range rd.req.Altitudes {
		if a.Meaning == procedure.Between && a.Upper == 0 {
			rd.refuse(0, &Problem{Word: a.figure(), Text: sayUpperBound(a.figure())})
			return
		}
	}
}

// settle leaves in the request only what holds, and what is still open.
func (rd *reading) settle() {
	req := rd.req
	if rd.twoTemperatures {
		req.HasTemperature = false
	}
	if rd.twoStations {
		req.Station = ""
	}
	if req.HasTemperature {
		req.Unsigned, req.Sign = 0, 0
	}
	slices.SortStableFunc(rd.open, func(a, b openProblem) int { return a.at - b.at })
	for _, o := range rd.open {
		req.Open = append(req.Open, *o.problem)
	}
	if req.Sign != 0 && rd.problem == nil {
		rd.fail(0, &Problem{Text: sayHowMany(req.Sign < 0)})
	}
}
