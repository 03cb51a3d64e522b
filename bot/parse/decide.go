package parse

import (
	"slices"
	"strings"

	"firn/engine/procedure"
)

// decide says once what the message asks for, and what is wrong with it.
func (rd *reading) decide() {
	if r := rd.req; rd.threshold && r.HasTemperature && !r.HasReport && len(r.Altitudes) == 0 && r.Procedure == "" && (rd.place() || rd.forecast || rd.bases || rd.later) {
		r.NotUsed = append(r.NotUsed, r.TemperatureWord())
		r.HasTemperature = false
	}
	if rd.unitsAlone() {
		rd.settle()
		return
	}
	if r := rd.req; (r.Minima != "" || slices.Contains(satelliteLines, r.Procedure) || r.Procedure == "loc" || r.Procedure == "ils") && !rd.place() && !r.HasTemperature && len(r.Altitudes) == 0 && rd.has(orWord) && rd.inquires() {
		r.Minima, r.Procedure, rd.repeated = "", "", true // "is that the loc or the ils?" chooses neither
	}
	rd.asksOfLine()
	if rd.req.Verb = rd.command(); rd.req.Verb == Note && len(rd.flown) > 0 { // "sid 10100", and nothing else
		rd.req.Verb = Correct
	}
	rd.pairs()
	if rd.req.Verb == Watch {
		rd.req.Now = rd.coldAsked && !rd.place() && !rd.later && !rd.forecast && !rd.bases && slices.ContainsFunc(rd.tokens, func(t token) bool {
			return t.word != "but" && t.word != "aber" && t.word != "mais" && t.word != "pero" && slices.Contains(nowWords, t.word)
		})
		rd.req.At.Day, rd.req.Stops = rd.day, rd.stops
		rd.req.Everywhere = rd.bases || rd.hasVerb || rd.anyVerb
	}
	switch rd.req.Verb {
	case Note, Yes, No, Forget, Repeat, Undo, Help, Watch:
		rd.aheadOnly()
		rd.settle()
		return
	}
	rd.besideApproach()
	rd.climbAsked()
	rd.unreadWords()
	rd.stations()
	rd.commandNeeds()
	rd.times()
	if rd.weekday != "" && (rd.req.Verb == Brief || len(rd.clocks) > 0 && !rd.req.HasTemperature) {
		rd.refuse(0, &Problem{Word: rd.weekday, Text: sayWhichDate(rd.weekday), Either: true})
	} else if rd.weekday != "" {
		rd.req.NotUsed = append(rd.req.NotUsed, rd.weekday)
	}
	rd.bygoneAsked()
	rd.blocksAsked()
	rd.twiceAsked()
	rd.twoOfOne()
	rd.ownFigures()
	rd.eitherOf()
	rd.openBounds()
	rd.settingAlone()
	rd.req.OthersSetting = rd.req.Station != "" && !rd.figures() && !rd.wrote("yes") && slices.ContainsFunc(rd.tags, func(t tag) bool {
		return t.n > 0 && (t.meaning == measureWord && t.label == "qnh" || t.meaning == remoteWord && t.label == "yes")
	})
	if i := max(rd.first(celsiusWord), rd.first(fahrenheitWord)); i >= 0 && rd.bare() && len(rd.unread) == 0 {
		rd.fail(0, &Problem{Word: rd.typed(i, i), Text: sayScale(rd.typed(i, i)), Either: true})
		rd.req.Scale = rd.scaleSaid()
	}
	if r := rd.req; (r.SBAS == "yes" || r.Compensated == "yes") && r.Verb == Correct && !rd.place() && !rd.figures() && strings.HasSuffix(strings.TrimSpace(rd.text), "?") {
		rd.refuse(0, &Problem{Text: sayHasIt(r.SBAS == "yes"), Either: true, Choices: hasIt(r.SBAS == "yes")}) // "waas working?"
	}
	rd.settle()
}

// settingAlone asks what an altimeter setting off the scale is for, where nothing
// else was said: it must not be passed over, and corrects nothing.
func (rd *reading) settingAlone() {
	if r := rd.req; r.OffScale() && r.Verb == Correct && r.Empty() {
		rd.fail(0, &Problem{Text: saySettingAlone(), Either: true})
	}
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
	return !rd.place() && !rd.figures() && r.Empty() && r.Sign == 0 && len(r.Gone) == 0 && len(rd.clocks) == 0 && !r.Latest && !r.OffScale() && rd.problem == nil
}

// command is the verb: what the message begins with, what stands elsewhere in
// it, or what it says without one.
func (rd *reading) command() Verb {
	whole := rd.place() && rd.figures()
	if rd.hasVerb {
		switch v := rd.lead; v {
		case Help, Check, Add, Remove:
			if v == Add && rd.onlyAdditive() {
				break
			}
			if v == Remove && len(rd.req.Without) > 0 && len(rd.req.Gone) == 0 {
				break // "drop the LNAV" takes a line away
			}
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
			if !rd.place() && !(v == Add && rd.onlyAdditive()) {
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

// stationTaken says that the message takes a station away, and says nothing else:
// "forget XRUN", "without XRUN".
func (rd *reading) stationTaken() bool {
	if rd.req.Station == "" || rd.figures() || len(rd.clocks) > 0 || rd.req.Verb == Same {
		return false
	}
	at := slices.IndexFunc(rd.tokens, func(t token) bool { return t.kind == wordToken && rd.names(t, rd.req.Station) })
	return at > 0 && rd.takenAway(at)
}

// names says that a token names a station.
func (rd *reading) names(t token, station string) bool {
	ident, ok := rd.places.Place(rd.text[t.start:t.end])
	return ok && ident == station
}

// wordless is what a message without a verb asks for.
func (rd *reading) wordless() Verb {
	r := rd.req
	if rd.agreed && rd.onlyAsks() {
		rd.agreed, rd.repeated = false, len(rd.unread) == 0
	}
	daily := rd.forecast || rd.bases || rd.later && (rd.place() || !rd.thanked || strings.Contains(rd.text, "?")) // "have a good evening, thanks"
	switch {
	case rd.stationTaken():
		return Remove
	case rd.place() && len(rd.clocks) > 0 && !r.HasTemperature && !rd.unsigned && len(r.Altitudes) == 0 && r.Verb != Same:
		return Brief
	case len(rd.stops) == 1 && rd.stops[0].Alternate && !rd.figures(): // "alternate is XRUN"
		return Brief
	case daily && rd.place() && r.Procedure != "" && !r.HasTemperature && len(r.Altitudes) == 0:
		return Brief
	case daily && !rd.figures() && len(rd.clocks) == 0 && r.Verb != Same && (rd.forecast || rd.bases || rd.place() || r.Empty()), rd.coldAsked && rd.bare() && !rd.agreed && (len(rd.unread) == 0 || !rd.thanked):
		return Watch
	case rd.enroute && len(r.Altitudes) == 1 && r.Procedure == "" && rd.place():
		return Route
	case r.Verb == Same && !rd.bare():
		if rd.place() && (len(r.Altitudes) > 0 || r.Procedure != "") && r.HasTemperature {
			rd.sameAsWhat()
			return Correct
		}
		return Same
	case rd.recalled && rd.req.Station != "" && !rd.figures() && len(rd.clocks) == 0:
		return Repeat
	case !rd.bare():
		return Correct
	case r.Verb == Same, rd.repeated:
		return Repeat
	case rd.forgotten && rd.notam:
		rd.refuse(0, &Problem{Word: "notam", Text: sayChartAgain, Either: true})
		return Correct
	case rd.forgotten:
		return Forget
	case rd.undone:
		return Undo
	case rd.letterAlone():
		return Correct
	case rd.has(celsiusWord, fahrenheitWord) && !rd.thanked && !rd.agreed, rd.scaleSaid() != NoScale && len(rd.unread) == 0:
		return Correct
	case rd.declined:
		return No
	case rd.agreed && (len(rd.unread) == 0 || !rd.wrote("correct")): // "correct anything at ...": a verb
		return Yes
	case len(rd.unread) > 0 && !rd.thanked:
		return Correct
	case !rd.thanked && (rd.req.Instead && rd.ordered || rd.req.Also):
		return Correct
	}
	return Note
}

// pairs reads "change 7400 to 7500", and "8000, not 7400" in a message that
// stands alone.
func (rd *reading) pairs() {
	r := rd.req
	if r.Swap = r.Swap && !rd.place() && !r.HasTemperature && (len(r.Gone) == 0 || len(r.Gone) == 2 && len(r.Altitudes) == 0) && rd.changeTo == 0 && len(r.Altitudes)%2 == 0 && len(r.Altitudes) < 4; r.Swap {
		r.Instead = false
		return
	}
	if rd.change && rd.changeTo > 0 && rd.changeTo < len(r.Altitudes) {
		r.Gone = append(r.Gone, r.Altitudes[:rd.changeTo]...)
		r.Altitudes = slices.Clone(r.Altitudes[rd.changeTo:])
	}
	if rd.change && rd.changeTo == 0 && len(r.Altitudes) == 2 && len(r.Gone) == 0 && !rd.place() && rd.adjacent() { // "make 7400 7500"
		r.Gone = append(r.Gone, r.Altitudes[0])
		r.Altitudes = slices.Clone(r.Altitudes[1:])
	}
	if len(r.Altitudes) == 2 && len(r.Gone) == 0 && !rd.place() && !r.HasTemperature && rd.arrow() { // "8200 -> 8500"
		r.Gone = append(r.Gone, r.Altitudes[0])
		r.Altitudes = slices.Clone(r.Altitudes[1:])
	}
	rd.exchanged()
	if !rd.place() && !r.HasTemperature && len(r.Altitudes) > 0 && len(r.Gone) == 0 && rd.notNeeded() {
		r.Gone, r.Altitudes, r.Verb = r.Altitudes, nil, Remove
	}
	if rd.takes() && r.Verb == Correct && !rd.place() && !r.HasTemperature && (len(r.Without) == 0 || len(r.Gone) > 0) {
		r.Verb = Remove
	}
	if r.Verb == Correct && rd.place() && len(r.Altitudes) > 0 {
		for _, a := range r.Gone {
			if slices.ContainsFunc(r.Altitudes, func(have Altitude) bool { return a.Value > 0 && have.Value == a.Value }) {
				w := a.withLabel() // "DA 5340 not 5340, 5430": never the figure that was taken back
				rd.refuse(0, &Problem{Word: w, Text: sayDenied(w), Either: true})
			}
			r.NotUsed = append(r.NotUsed, a.withLabel())
		}
		r.Gone = nil
	}
	if len(r.Gone) > 0 && rd.place() && len(r.Altitudes) == 0 && r.Verb == Correct {
		w := r.Gone[0].Name()
		text := sayNothingLeft(w)
		if r.Procedure != "" {
			text = RowsStay("without " + w)
		}
		rd.fail(0, &Problem{Word: w, Text: text})
	}
	r.Also = rd.also && (!rd.place() || r.Verb == Brief || !rd.figures())
	if rd.lineBack && rd.place() { // "XRUN ils 12, gs is back": as ever
		r.Minima = ""
	}
	r.Also = r.Also && !(rd.lineOnly && len(r.Altitudes) == 0) // "thx, and lnav only"
	r.Also = r.Also || r.Verb == Brief && len(rd.stops) == 1 && rd.stops[0].Alternate
	no := !rd.place() && !r.HasTemperature && len(r.Altitudes) == 1 && rd.behindNo()
	r.Denied = r.Denied || no
	r.Instead = r.Instead || no && r.Altitudes[0].Role != procedure.NoRole // "no 7500 on the FAF"
	r.Instead = r.Instead || rd.leadsNo() || r.Verb == Brief && (rd.moved || rd.wrote("now")) || (!rd.place() || r.Station == "" && len(r.Altitudes) == 0 && r.Procedure == "") && slices.ContainsFunc(rd.items, func(it item) bool { return it.is })
}

// leadsNo says that the message begins with a no to what was said before, and
// says what is so: "no, XRUN", "nei vent, 35".
func (rd *reading) leadsNo() bool {
	if !rd.declined || rd.bare() || rd.means(0) != noWord {
		return false
	}
	next := rd.tags[0].n
	return rd.place() && !rd.figures() || next < len(rd.tokens) && (rd.tokens[next].kind == sepToken || rd.isSmall(next))
}

// adjacent says that the message's altitudes stand directly behind each other,
// and the first behind the word that changes one.
func (rd *reading) adjacent() bool {
	last := -1
	for _, it := range rd.items {
		if it.kind != numberItem {
			continue
		}
		if last >= 0 && it.token != last+1 || last < 0 && (it.token == 0 || rd.means(it.token-1) != changeWord) {
			return false
		}
		last = it.token
	}
	return last > 0
}

// exchanged takes out the altitudes that others stand in place of: "7400
// should be 7500".
func (rd *reading) exchanged() {
	r := rd.req
	if len(rd.exchanges) == 0 {
		return
	}
	if rd.exchanges[0] == 0 || len(r.Altitudes) <= rd.exchanges[len(rd.exchanges)-1] || len(r.Gone) > 0 || !rd.place() && (len(rd.exchanges) > 1 || len(r.Altitudes) > 2) {
		rd.refuse(0, &Problem{Text: sayOneChange})
		return
	}
	out := make([]Altitude, 0, len(r.Altitudes))
	for i, a := range r.Altitudes {
		if slices.Contains(rd.exchanges, i) {
			gone := out[len(out)-1]
			out = out[:len(out)-1]
			if rd.notam { // "MDA 1760 but NOTAM 1820": the chart may have it
				r.NotUsed = append(r.NotUsed, gone.withLabel())
			} else {
				r.Gone = append(r.Gone, gone)
			}
			if a.Role == procedure.NoRole {
				a.Role, a.Label, a.Fix, a.From, a.Instead = gone.Role, gone.Label, gone.Fix, gone.From, rd.notam
			}
		}
		out = append(out, a)
	}
	r.Altitudes = out
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
		case r.Verb == Add:
			r.At = rd.clocks[0].Clock // one more arrival
		case rd.place():
			i := rd.clocks[0].token
			rd.refuse(rd.tokens[i].start, &Problem{Word: rd.typed(i, i), Text: sayTemperatureThen(rd.clocks[0].String()), Degrees: true})
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
	for k := range rd.items {
		it := &rd.items[k]
		if it.kind != numberItem || it.altitude < 0 || it.altitude >= len(rd.req.Altitudes) {
			continue
		}
		t := &rd.tokens[it.token]
		ok := rd.req.Altitudes[it.altitude].likeTime() && len(t.word) == 4 && (it.token == 0 || !strings.HasPrefix(rd.tokens[it.token-1].word, "alt"))
		switch {
		case bound(rd.items, k):
			labels++
		case ok && at < 0:
			at = it.token
		default:
			return
		}
	}
	early := at >= 0 && rd.req.Procedure != "" && !rd.req.HasTemperature && rd.underField(rd.tokens[at].value) // "rnav 31 1430", far below the field
	if at < 0 || !rd.place() || labels == 0 && !early && (rd.req.HasTemperature || rd.req.HasReport || rd.req.Procedure != "" || rd.unsigned || rd.req.Verb != Correct) {
		return
	}
	word := rd.typed(at, at)
	p := &Problem{Word: word, Text: sayTimeOrAltitude(word), Either: true}
	p.At, _ = clockDigits(rd.tokens[at].word)
	p.At.Zone, p.At.Unzoned = UTC, true
	p.Choices, p.Wrong = timeOr(p.At, rd.tokens[at].value), Altitude{Value: rd.tokens[at].value, Bare: true}
	rd.refuse(rd.tokens[at].start, p)
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
	if rd.twoStations && req.Verb != Watch {
		req.Station = ""
	}
	rd.signTakenBack()
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
