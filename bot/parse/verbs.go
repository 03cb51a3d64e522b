package parse

import (
	"slices"
	"strings"
)

// Verb is what a message asks for. The zero value is a correction, or the
// state of a station when no altitude is given.
type Verb uint8

// The verbs. Add, Remove and Same change the earlier message of a thread; those
// from Note on are about the thread itself.
const (
	Correct Verb = iota
	Why
	Help
	Rules
	Check
	Withdraw
	Recompute
	Watch
	Observe
	Acknowledge
	Snooze
	Log
	Brief
	Route
	Add
	Remove
	Same
	Picture
	Card
	Post
	Stations // fields, by name, by distance, by what is restricted: Search
	Base     // a base is watched from now on, or not any more: Base
	Mine     // what concerns whoever asks
	Note     // thanks, an "ok", a greeting: needs no answer
	Yes      // takes what was offered
	No       // does not
	Forget   // the thread begins anew
	Repeat   // the last answer again
	Undo     // the last change is taken back
	verbCount
)

// verbTraits is what is known of a verb, apart from its words and what it needs.
type verbTraits struct {
	name      string // as it is typed
	shows     bool
	onDuty    bool
	does      bool // though it is not for duty officers alone
	unoffered bool // a line of it is not offered in place of what was typed
	record    bool // the name of a record may stand behind it
	waits     bool // what it lacks may be the next message
}

var traits = [verbCount]verbTraits{
	Correct:     {name: "correct"},
	Why:         {name: "why", shows: true},
	Help:        {name: "help"},
	Rules:       {name: "rules"},
	Check:       {name: "check", does: true, record: true},
	Withdraw:    {name: "withdraw", does: true, record: true},
	Recompute:   {name: "recompute", record: true},
	Watch:       {name: "watch"},
	Observe:     {name: "obs", onDuty: true, waits: true},
	Acknowledge: {name: "ack", onDuty: true, waits: true},
	Snooze:      {name: "snooze", onDuty: true, waits: true},
	Log:         {name: "log", record: true},
	Brief:       {name: "brief", waits: true},
	Route:       {name: "route", waits: true},
	Add:         {name: "add", unoffered: true},
	Remove:      {name: "remove", unoffered: true},
	Same:        {name: "same", unoffered: true},
	Picture:     {name: "picture", shows: true},
	Card:        {name: "card", shows: true, record: true},
	Post:        {name: "post", does: true, record: true},
	Stations:    {name: "stations", unoffered: true, waits: true},
	Base:        {name: "base", onDuty: true, unoffered: true, waits: true},
	Mine:        {name: "mine", unoffered: true},
	Note:        {name: "note", unoffered: true},
	Yes:         {name: "yes", unoffered: true},
	No:          {name: "no", unoffered: true},
	Forget:      {name: "forget that", unoffered: true},
	Repeat:      {name: "repeat", unoffered: true},
	Undo:        {name: "undo", unoffered: true},
}

// Shows says that the verb shows a correction in another way.
func (v Verb) Shows() bool { return traits[v].shows }

// OnDuty says that the verb is for duty officers alone.
func (v Verb) OnDuty() bool { return traits[v].onDuty }

// Does says that the verb does something, and asks for no figures that could be
// worked from the published table.
func (v Verb) Does() bool { return traits[v].onDuty || traits[v].does }

// Waits says that what a message with the verb lacks may be the next message: "-31"
// behind "obs XKLD".
func (v Verb) Waits() bool { return traits[v].waits }

// String is the verb as it is typed.
func (v Verb) String() string { return traits[v].name }

// verbPhrases are how the verbs are said that have words of their own: by their
// names, and else.
var verbPhrases = slices.Concat(
	verbs(Why, "working", "show working", "show the working", "show me the working", "workings", "how come", "explain", "show your work", "hvorfor", "warum", "pourquoi"),
	verbs(Picture, "show me a picture", "profile view", "show profile", "show the profile", "show me the profile", "plot", "draw", "draw it", "image", "pic"),
	verbs(Card, "print", "pdf", "print it", "kneeboard", "kneeboard card", "printout"),
	verbs(Post, "post it", "share"),
	verbs(Help, "do cold temps", "do cold temperatures", "menu", "what can you do", "what do i type", "how do i use this", "how does this work", "commands", "usage", "hjelp", "hilfe", "examples", "what do you do", "how do i ask", "i don't understand", "i dont understand", "confused", "how do i", "what does that mean", "instructions", "manual", "syntax"),
	verbs(Rules, "which rules", "what rules", "which rules do you use", "what rules do you use", "which method"),
	verbs(Check, "checked", "is it checked", "i get", "i got", "check it", "verify", "cross check", "crosscheck", "xcheck", "double check"),
	verbs(Withdraw, "uncheck"),
	verbs(Recompute, "recalculate", "recalc", "redo", "rerun", "refresh", "update", "compute again"),
	verbs(Watch, "show watch", "alerts", "cold alert", "morning alert"),
	verbs(Observe, "observation", "observed"),
	verbs(Acknowledge, "acknowledge"),
	verbs(Snooze, "mute"),
	verbs(Log, "history", "records", "who checked", "show log"),
	verbs(Mine, "my results", "for me", "my checks", "what waits for me"),
	verbs(Brief, "briefing", "brief me"),
	verbs(Route, "en route", "enroute"),
	verbs(Add),
	verbs(Remove, "drop", "skip", "delete", "kill", "ditch", "scrap", "strike", "quita", "quitar", "elimina", "borra", "fjern", "stryk", "entferne", "streiche", "enleve", "enlever", "supprime", "retire", "togli"),
)

func verbs(v Verb, list ...string) []phrase {
	out := said(verbWord, "", append([]string{v.String()}, list...)...)
	for i := range out {
		out[i].verb = v
	}
	return out
}

// BriefExample is a brief that the demo region answers.
const BriefExample = "brief XKLD 1430Z XRUN 1515Z"

// RouteExample is a route that the demo region answers.
const RouteExample = "route min 13400 XKLD -25"

// verbWords reads what belongs to single verbs.
func (rd *reading) verbWords(i int) int {
	p := rd.tags[i]
	next := i + p.n
	card := rd.hasVerb && rd.lead == Card || rd.anyVerb && rd.verb == Card
	switch p.meaning {
	case verbWord:
		if p.verb == Picture && rd.means(next) == pictureWord {
			rd.req.Kind = rd.tags[next].label
			return next + 1
		}
		if p.verb == Rules || p.verb == Help || p.verb == Check || p.verb == Add || p.verb == Remove {
			return next
		}
	case paperWord:
		if !card {
			return rd.unknown(i)
		}
		rd.req.Kind = p.label
	case pictureWord:
		if rd.has(verbWord) && p.label == "profile" {
			return next
		}
		return rd.otherWord(i)
	case uncheckedWord:
		if !rd.has(verbWord) {
			return rd.unknown(i)
		}
		rd.req.Unchecked = true
	case minimumWord:
		rd.enroute = true
		if rd.procedureNamed() {
			return rd.unknown(i)
		}
		if !rd.hasVerb && rd.has(roleWord, lineWord) {
			word := rd.typed(i, next-1)
			rd.refuse(rd.tokens[i].start, &Problem{Word: word, Text: sayEnroute(word)})
		}
		return next
	}
	rd.apart(i)
	return next
}

// commandNeeds says what a verb lacks, and takes what it has of its own.
func (rd *reading) commandNeeds() {
	r := rd.req
	switch r.Verb {
	case Brief:
		rd.brief()
	case Route:
		rd.route()
	case Log:
		rd.logged()
	case Observe:
		rd.observation()
	case Acknowledge:
		if r.Everywhere = r.Station == "" && rd.wrote("all"); r.Station == "" && !r.Everywhere && !r.Elsewhere {
			rd.noBase("ack", sayAckNeeds)
		}
		rd.deed()
	case Snooze:
		rd.snoozed()
		r.Everywhere = r.Station == "" && rd.wrote("all")
		switch {
		case r.Station == "" && !r.Everywhere && !r.Elsewhere && r.For > 0:
			rd.noBase("snooze", saySnoozeNeeds)
		case r.Station == "" && !r.Everywhere && !r.Elsewhere || r.For <= 0:
			rd.fail(0, &Problem{Word: "snooze", Text: saySnoozeNeeds})
		}
		rd.deed()
	case Check, Withdraw, Post, Recompute:
		if rd.ofRecord(); r.Verb == Post || r.Verb == Withdraw {
			rd.deed()
		}
	case Correct:
		if rd.problem == nil && r.Minima != "" && r.Procedure == "" && len(r.Altitudes) == 0 && r.Station != "" {
			if rd.withLine != nil {
				if name, ok := rd.withLine(r.Station, r.Minima); ok {
					r.Procedure = name
					return
				}
			}
			rd.fail(0, &Problem{Word: "", Text: sayWhichApproach(r.Station)})
		}
	}
}

// ofAll is a deed that names no base as one for all of them; empty where it says
// more, or too little.
func (rd *reading) ofAll(verb string) string {
	words := strings.Fields(rd.text)
	switch {
	case verb == "ack" && len(words) == 1:
		return "ack all"
	case verb == "snooze" && len(words) == 2 && rd.req.For > 0 && len(rd.req.NotUsed) == 0:
		return "snooze all " + words[1]
	}
	return ""
}

// wrote says that a word was typed, whatever it means.
func (rd *reading) wrote(word string) bool {
	for i := range rd.tokens {
		if strings.EqualFold(rd.typed(i, i), word) {
			return true
		}
	}
	return false
}

// first is the first token with this meaning.
func (rd *reading) first(m meaning) int {
	return slices.IndexFunc(rd.tags, func(t tag) bool { return t.n > 0 && t.meaning == m })
}

// logged takes which day's results are asked for.
func (rd *reading) logged() {
	r := rd.req
	r.Today = rd.day == Today
	if rd.day != DayUnsaid && !r.Today {
		rd.logWord(rd.first(dayWord))
	}
	if rd.has(weekdayWord) {
		rd.logWord(rd.first(weekdayWord))
	}
	if i := rd.first(pastWord); i >= 0 {
		if r.Yesterday = rd.tags[i].label == "yesterday" && !r.Today; !r.Yesterday {
			rd.logWord(i)
		}
	}
	for _, w := range r.NotUsed {
		rd.fail(0, &Problem{Word: w, Text: sayLogWord(w), Try: "log"})
	}
}

func (rd *reading) logWord(i int) {
	word := rd.typed(i, i+rd.tags[i].n-1)
	rd.fail(rd.tokens[i].start, &Problem{Word: word, Text: sayLogWord(word), Try: "log"})
}

// brief takes the stations with their times; each needs one.
func (rd *reading) brief() {
	r := rd.req
	r.Stops = rd.stops
	r.Altitudes, r.Open = nil, nil
	for i := range r.Stops {
		r.Stops[i].By = r.Terms()
	}
	if rd.day != DayUnsaid {
		for i := range r.Stops {
			if r.Stops[i].At.Day == DayUnsaid && r.Stops[i].At.In == 0 {
				r.Stops[i].At.Day = rd.day
			}
		}
	}
	for _, it := range rd.items {
		if it.kind == numberItem {
			word := rd.typed(it.token, it.token)
			rd.fail(rd.tokens[it.token].start, &Problem{Word: word, Text: sayNoTime(word), Try: rd.whole()})
		}
	}
	if rd.problem == nil && rd.twoTimes != nil {
		rd.fail(0, rd.twoTimes)
	}
	if rd.problem == nil && r.HasTemperature && !r.HasReport {
		p := &Problem{Word: r.TemperatureWord(), Text: sayBriefTemperature(r.TemperatureWord())}
		if len(r.Stops) == 1 {
			one := *r
			one.Verb, one.Station, one.Procedure = Correct, r.Stops[0].Station, r.Stops[0].Procedure
			p.Try = one.Line()
		}
		rd.fail(0, p)
	}
	if rd.problem != nil {
		return
	}
	if len(r.Stops) == 0 {
		rd.fail(0, &Problem{Word: "brief", Text: sayNoStops, Try: BriefExample})
		return
	}
	for _, s := range r.Stops {
		if !s.At.Said {
			rd.fail(0, &Problem{Word: s.Station, Text: sayWhatTime(s.Station)})
			return
		}
	}
}

// Timed gives the first stop that has no time this one, and says which is
// still without.
func (r Request) Timed(c Clock) (Request, *Problem) {
	r.Stops = slices.Clone(r.Stops)
	for i := range r.Stops {
		if s := &r.Stops[i]; !s.At.Said {
			if c.Day == DayUnsaid {
				c.Day = s.At.Day
			}
			s.At = c
			break
		}
	}
	for _, s := range r.Stops {
		if !s.At.Said {
			return r, &Problem{Word: s.Station, Text: sayWhatTime(s.Station)}
		}
	}
	return r, nil
}

// whole is the brief of the stops that have a time.
func (rd *reading) whole() string {
	timed := slices.DeleteFunc(slices.Clone(rd.stops), func(s Stop) bool { return !s.At.Said })
	if len(timed) == 0 || len(timed) < len(rd.stops) {
		return ""
	}
	return BriefLine(timed)
}

// BriefLine is the brief that reads as these stops; empty where one of them
// has no time.
func BriefLine(all []Stop) string {
	line := "brief"
	for _, s := range all {
		if !s.At.Said {
			return ""
		}
		if s.Alternate {
			line += " alternate"
		}
		line += " " + s.Station + " " + s.At.String()
		if s.Procedure != "" {
			line += " " + procedureWords(s.Procedure)
		}
	}
	if len(all) > 0 && all[0].By != (Terms{}) {
		line += " " + all[0].By.Request().Line()
	}
	return line
}

// route takes one minimum altitude and the temperatures.
func (rd *reading) route() {
	r := rd.req
	for i := range r.Altitudes {
		r.Altitudes[i].Role, r.Altitudes[i].Label, r.Altitudes[i].Fix = 0, "", ""
	}
	if rd.problem != nil {
		return
	}
	switch {
	case rd.outside:
		i := rd.lastWord("oat")
		rd.fail(0, &Problem{Word: rd.typed(i, i), Text: sayOutsideNeeds})
	case len(r.Altitudes) != 1 || !rd.place():
		rd.fail(0, &Problem{Word: "route", Text: RouteNeeds, Try: RouteExample})
	}
}

func (rd *reading) lastWord(w string) int {
	for i := len(rd.tokens) - 1; i > 0; i-- {
		if rd.tokens[i].word == w {
			return i
		}
	}
	return 0
}

// ofRecord takes what stands behind the name of a record: of check altitudes,
// of recompute a temperature.
func (rd *reading) ofRecord() {
	r := rd.req
	for _, w := range r.NotUsed {
		text := sayNoRecord(w)
		if r.Verb == Check && (r.Record != "" || strings.ContainsAny(w, "0123456789")) {
			text = sayCheckWord(w)
		}
		rd.fail(0, &Problem{Word: w, Text: text, Try: "log"})
	}
	if r.Verb != Check {
		return
	}
	for _, a := range r.Altitudes {
		if v := float64(a.Feet()); v <= 0 || v > highest {
			rd.fail(0, &Problem{Word: a.figure(), Text: sayCheckFigure(a.figure())})
		}
	}
	if r.HasTemperature {
		w := r.TemperatureWord()
		rd.fail(0, &Problem{Word: w, Text: sayCheckWord(w)})
	}
}
