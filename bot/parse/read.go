package parse

import (
	"slices"
	"strings"
	"sync"
	"unicode"

	"firn/engine/procedure"
	"firn/engine/wxreport"
)

// Places knows the stations.
type Places interface {
	// Place finds a station by its ident or one-word name, in any case.
	Place(word string) (ident string, ok bool)
	// Nearest gives the idents that look most like a word, best first.
	Nearest(word string, n int) []string
	// Slip is the station that a word misspells beyond doubt: what only looks
	// alike is never put into a line to type.
	Slip(word string) (ident string, ok bool)
}

// Lister is a Places that knows more stations than the configuration names.
type Lister interface {
	// Listed says that only a list of airports knows an ident that Place gave.
	Listed(ident string) bool
}

// Reader reads messages against known stations and rule sets.
type Reader struct {
	places Places
	rules  []string
	named  func(words []string) (name string, n int, ok bool)
	fixes  func(station, word string) bool

	roles     func(station, fix string) (role procedure.Role, holds, ok bool)
	withLine  func(station, line string) (name string, ok bool)
	elevation func(station string) (feet float64, ok bool)

	behind bool // what it reads stands in a thread that has a station
}

// Behind is the reader of what stands in a thread that has a station: an ordinary
// word at its beginning is none, "dang its -43".
func (r *Reader) Behind() *Reader {
	there := *r
	there.behind = true
	return &there
}

// NewReader makes a Reader; rules are the ids of the rule sets that a message
// may name.
func NewReader(places Places, rules []string) *Reader {
	return &Reader{places: places, rules: rules}
}

// Named has the reader know the names of records: named says whether words
// begin with one, which, and how many words it is. It must be called before
// Parse.
func (r *Reader) Named(named func(words []string) (name string, n int, ok bool)) { r.named = named }

// Fixes has the reader know the fixes of a station's stored procedures. It
// must be called before Parse.
func (r *Reader) Fixes(known func(station, word string) bool) { r.fixes = known }

// Roles has the reader know what a fix of a station's stored procedures is,
// where it is the same in all of them. It must be called before Parse.
func (r *Reader) Roles(of func(station, fix string) (role procedure.Role, holds, ok bool)) {
	r.roles = of
}

// Lines has the reader know the procedure of a station that alone has a line of
// minimums. It must be called before Parse.
func (r *Reader) Lines(of func(station, line string) (name string, ok bool)) { r.withLine = of }

// Elevations has the reader know the elevations of the stations' fields. It
// must be called before Parse.
func (r *Reader) Elevations(of func(station string) (feet float64, ok bool)) { r.elevation = of }

// The temperatures that occur: -89.2 °C is the lowest ever observed, and no
// report has shown more than 57 °C (WMO archive of extremes, from memory). The
// first is −128.6 °F, a little more.
const (
	coldest, hottest = -89.25, 60
	// The highest published altitude anyone could mean; flight levels begin
	// below it and are refused by name.
	highest = 60000
)

// Parse reads one message. What was understood is in the Request, also when
// there is a Problem; the Problem is the first in the message. Its line to
// type instead reads without one.
func (r *Reader) Parse(text string) (Request, *Problem) {
	req, p := r.Read(text)
	return *req, p
}

// Read is Parse; the Request is the caller's own.
func (r *Reader) Read(text string) (*Request, *Problem) {
	if len(text) > MaxBytes {
		return &Request{}, &Problem{Text: sayTooLong(), Try: Example}
	}
	return r.parse(text, 0)
}

// ReadLine reads what Request.Line wrote, which says in full what a message may
// leave out, and so may be longer than any.
func (r *Reader) ReadLine(line string) (Request, *Problem) {
	req, p := r.parse(line, 0)
	return *req, p
}

// VerbOf is what a message asks for by its words alone, for who knows no
// stations.
func VerbOf(text string) Verb {
	req, _ := stationless.Parse(text)
	return req.Verb
}

// OnDuty says that a message asks for a duty officer's deed. Few do, and every
// message is asked: one without any of their words is not read for it.
func OnDuty(text string) bool {
	if plain(text) {
		low := lowerASCII(text)
		if !slices.ContainsFunc(dutyWords, func(w string) bool { return strings.Contains(low, w) }) {
			return false
		}
	}
	return VerbOf(text).OnDuty()
}

// dutyWords are what every message for a duty officer has one of.
var dutyWords = func() []string {
	words := []string{"base"}
	for _, p := range vocabulary {
		if p.verb.OnDuty() {
			words = append(words, p.words[0])
		}
	}
	return words
}()

// TemperatureProblem says what is wrong with a temperature that was typed
// alone, into a field of its own; empty where it is one.
func TemperatureProblem(typed string) string {
	req, p := stationless.Parse("elev 0 " + typed)
	switch {
	case p != nil:
		return p.Text
	case !req.HasTemperature || len(req.Altitudes) > 0 || len(req.NotUsed) > 0:
		return sayNotATemperature(abbreviate(typed))
	}
	return ""
}

// Entered says what is wrong with altitudes that somebody entered for a blind
// check, in a sentence, and how many there are.
func Entered(typed string) (n int, problem string) {
	if strings.TrimSpace(typed) == "" {
		return 0, ""
	}
	req, p := stationless.Parse(Check.String() + " " + typed)
	if p != nil {
		return 0, p.Text
	}
	return len(req.Altitudes), ""
}

// stationless reads what needs no station, and knows none.
var stationless = &Reader{places: nowhere{}}

// nowhere has no stations.
type nowhere struct{}

func (nowhere) Place(string) (string, bool)  { return "", false }
func (nowhere) Nearest(string, int) []string { return nil }
func (nowhere) Slip(string) (string, bool)   { return "", false }

// deepest bounds how often a line to type instead may need mending itself.
const deepest = 4

// room is what a reading needs while it lasts: nothing of it is in what it gives.
type room struct {
	tokens []token
	tags   []tag
	items  []item
}

var rooms = sync.Pool{New: func() any {
	return &room{make([]token, 0, usual), make([]tag, 0, usual), make([]item, 0, usual)}
}}

// usual is how many tokens a message seldom passes; the room of a longer one is not kept.
const usual = 64

func (r *room) back() {
	if cap(r.tokens) == usual {
		r.tokens = r.tokens[:0]
		rooms.Put(r)
	}
}

func (r *Reader) parse(text string, depth int) (*Request, *Problem) {
	req := &Request{}
	s, p := clean(text)
	if p != nil {
		if p.Try != Example {
			p.Try = (&reading{Reader: r, depth: depth}).offer(p.Try)
		}
		return req, p
	}
	metar, s, found, p := cutReport(s)
	if p != nil {
		return req, p
	}
	rd := reading{Reader: r, req: req, text: s, depth: depth, pasted: found}
	room := rooms.Get().(*room)
	defer room.back()
	room.tokens = lexInto(room.tokens, s, lowerASCII(s))
	rd.tokens, rd.tags, rd.items = room.tokens, room.tags, room.items
	rd.tag()
	if found {
		if rd.takeReport(metar); rd.home == "" {
			rd.home = rd.req.Station
		}
	}
	if !found && !slices.ContainsFunc(rd.tokens, func(t token) bool { return t.kind != sepToken && t.kind != bindToken }) {
		if sign := strings.TrimSpace(s); sign == "-" || sign == "+" {
			rd.loneSign(sign == "-")
			return req, rd.problem
		}
		if pictured(text) {
			req.Verb = Note
			return req, nil
		}
		return req, &Problem{Text: Empty, Try: Example}
	}
	if !found && rd.commands() {
		return req, rd.problem
	}
	rd.negate()
	rd.group()
	rd.zoned()
	rd.fill()
	rd.decide()
	rd.typedWord()
	if p := rd.problem; p != nil && p.Try != "" {
		p.Try = rd.offer(p.Try)
		if rd.poorer(p); p.Try != "" && depth == 0 && (!rd.Keeps(text, p.Try) || !p.gains && rd.gained(p.Try)) {
			p.Try = ""
		}
	}
	return req, rd.problem
}

// pictured says that a message is nothing but emoji.
func pictured(text string) bool {
	for i, r := range text {
		if unicode.Is(unicode.So, r) {
			return true
		}
		if n, _ := markup(text, i); r == ':' && n > 0 {
			return true
		}
	}
	return false
}

func (rd *reading) loneSign(minus bool) {
	rd.req.Sign = 1
	if minus {
		rd.req.Sign = -1
	}
	rd.fail(0, &Problem{Text: sayHowMany(minus)})
}

// reading is one message being read.
type reading struct {
	*Reader
	req     *Request
	text    string
	home    string // the first station of the message, wherever it stands
	depth   int
	pasted  bool // a report was cut out of the message
	tokens  []token
	tags    []tag
	items   []item
	problem *Problem
	at      int // where the problem stands
	open    []openProblem
	flown   []flownAsIs
	unread  []unread // words that are in no table
	written int      // how often the message was written otherwise

	lead     Verb // that the message begins with
	hasVerb  bool
	verb     Verb // that stands elsewhere in it
	anyVerb  bool
	cold     bool // the message holds a signed temperature
	unsigned bool // a number has been taken for a temperature without its sign

	twoTemperatures, twoStations bool
	also, taking, not            bool  // what the words before say of the next figure
	goneFrom                     int   // the word that takes away
	arriving                     bool  // of the next figure: it is a time
	notam                        bool  // altitudes with a label are not the chart's
	exchanges                    []int // the altitudes, by index, that stand in place of the one before
	outside                      bool  // of the next temperature: it is that at the level
	meaning                      procedure.Meaning
	between                      bool // the lower bound was read
	ordered                      bool // a change, and no apology for one
	byClock                      bool // of arriving: a time of day is said
	change                       bool // "change 7400 to 7500"
	changeTo                     int  // the altitudes before "to"
	day                          Day
	alternate                    bool
	stops                        []Stop
	clocks                       []clockAtToken
	twoTimes                     *Problem // of one stop
	forecast, coldAsked, bases   bool
	weekday                      string // or date, that was named
	threshold                    bool   // of the temperature: it is a line that is asked about
	later                        bool   // a day that is to come was named
	authority                    bool   // of the rule set: only who makes the rules was named
	blocks                       []bounds
	placings                     []placing
	bygone                       string // a temperature of a time that has gone by
	thanked, agreed, declined    bool
	recalled                     bool // what was answered before is asked for
	forgotten, repeated, undone  bool
	enroute                      bool // a minimum of the way was named
	moved, delayed               bool // an arrival is at another time than it was, or later by so much
	lineOnly                     bool // the line that was chosen is so with an "only"
	lineBack                     bool // the line that was chosen is there again, beside the others
}

// clockAtToken is a time with where it stands.
type clockAtToken struct {
	Clock
	token int
}

// unread is a word that is in no table, and the item that stands for it.
type unread struct{ token, item int }

// openProblem is one that no temperature or station in a follow-up mends.
type openProblem struct {
	at      int
	problem *Problem
}

// fail keeps the problem that stands first in the message.
func (rd *reading) fail(at int, p *Problem) {
	if short := abbreviate(p.Word); short != p.Word {
		p.Text, p.Word = strings.ReplaceAll(p.Text, p.Word, short), short
	}
	if rd.problem == nil || at < rd.at {
		rd.problem, rd.at = p, at
	}
}

// typedWord takes the word from a problem where it is not one of the message's,
// but what firn calls it: "minimums" for "min".
func (rd *reading) typedWord() {
	p := rd.problem
	if p == nil || p.Word == "" || rd.pasted {
		return
	}
	text := strings.Join(strings.Fields(lowerASCII(rd.text)), " ")
	if !strings.Contains(text, lowerASCII(strings.TrimSuffix(p.Word, "…"))) {
		p.Word = ""
	}
}

// refuse is fail for what a temperature or a station in a follow-up would not
// mend: an altitude, a label or a word that would be lost without a word.
func (rd *reading) refuse(at int, p *Problem) {
	rd.fail(at, p)
	rd.open = append(rd.open, openProblem{at, p})
}

// typed is what was typed from token i to j, with one space for many.
func (rd *reading) typed(i, j int) string {
	s := rd.text[rd.tokens[i].start:rd.tokens[j].end]
	if strings.Contains(s, "  ") || strings.Contains(s, "\n") {
		s = strings.Join(strings.Fields(s), " ")
	}
	return s
}

// notUsed tells that what stands from token i to j is not used.
func (rd *reading) notUsed(i, j int) {
	rd.req.NotUsed = append(rd.req.NotUsed, rd.typed(i, j))
}

// takeReport takes the station and the temperature of a pasted report.
func (rd *reading) takeReport(m wxreport.Metar) {
	rd.req.Report, rd.req.HasReport = m, true
	if t := m.Temperature(); t.OK {
		rd.temperature(t.C, 0, false, token{})
	}
	if m.Ident == "" {
		return
	}
	if known, ok := rd.places.Place(m.Ident); ok {
		rd.req.Station = known
		return
	}
	rd.fail(-1, rd.unknownStation(m.Ident, func(with string) string {
		if rd.req.HasTemperature {
			with += " " + rd.req.TemperatureWord()
		}
		return strings.TrimSpace(with + " " + strings.Trim(strings.Join(strings.Fields(rd.text), " "), " ,/;|"))
	}))
}

func (rd *reading) unknownStation(word string, line func(with string) string) *Problem {
	rd.req.Elsewhere = true
	near := rd.places.Nearest(word, 3)
	p := &Problem{Word: word, Text: sayUnknownStation(word, near), Choices: between(near...)}
	if ident, ok := rd.places.Slip(word); ok {
		p.Try = line(ident)
	} else if len(near) == 1 && rd.depth == 0 {
		p.Meant = line(near[0])
	}
	return p
}

// abbreviate shortens a word for a sentence.
func abbreviate(word string) string {
	const most = 24
	if len(word) <= most {
		return word
	}
	return strings.ToValidUTF8(word[:most-len("…")], "") + "…"
}
