package cifp

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

// Handler says what is wanted of a file. What has no function is counted and
// not made.
type Handler struct {
	// Airports are the idents wanted, of 3 or 4 letters or figures; empty
	// means all.
	Airports []string

	// Approach gets each approach when its last record has been read. It is
	// the reader's own and holds until the function returns; what is kept
	// longer is a Clone. An error ends the reading and is returned.
	Approach func(*approach.Approach) error
	Airport  func(Airport)
	Runway   func(Runway)
	Fix      func(Fix)
	Sector   func(Sector)
	// Problem gets every record that could not be read; the summary keeps
	// the first ones.
	Problem func(Problem)
}

// Problem is a record that could not be read, or something in the file that a
// reader should look at.
type Problem struct {
	Line int // from 1
	Text string
}

// Error is one line: line 812: text.
func (p Problem) Error() string { return fmt.Sprintf("line %d: %s", p.Line, p.Text) }

const (
	keptProblems = 100  // in the summary
	mostLegs     = 1000 // of one approach; the longest real one has about a hundred
	mostTitles   = 4096 // remembered; all real files have fewer different ones
	mostCodes    = 1000 // of one airport, remembered
)

// Read reads a whole file in one pass. The summary is good as far as the
// reading went, also beside an error, which is one of reading or of
// h.Approach: a file with faulty records is no error.
func Read(src io.Reader, h Handler) (Summary, error) {
	r := &reader{h: h, titles: map[titleKey]title{}}
	for _, ident := range h.Airports {
		up := strings.ToUpper(ident)
		if len(up) < 3 || len(up) > 4 || strings.ContainsFunc(up, func(c rune) bool { return (c < 'A' || c > 'Z') && (c < '0' || c > '9') }) {
			return Summary{}, fmt.Errorf("airport %q is not 3 or 4 letters or figures, as XKLD", ident)
		}
		r.wanted = append(r.wanted, wanted{ident: up, key: airportKey([]byte(fmt.Sprintf("%-4s", up)))})
	}
	err := eachLine(src, r.record, r.tooLong)
	var failed *readError
	switch {
	case err == nil:
		err = r.flush()
	case errors.As(err, &failed):
		err = fmt.Errorf("coded procedures, after line %d: %w", r.line, failed.err)
	}
	r.summarize()
	r.sum.CutOff = r.short > 0 && r.short == r.line
	return r.sum, err
}

type reader struct {
	h      Handler
	sum    Summary
	wanted []wanted
	line   int
	short  int // the last line that is shorter than a record

	skipped       [128][128]int // records of other sections, by section and subsection
	continuations int

	// The approach whose records are being read.
	key        approachKey // zero when there is none
	code       [6]byte     // its identifier
	legs       []leg
	names      []byte            // scratch for the fixes' and transitions' names
	made       approach.Approach // what is handed over, its legs used again
	unread     int
	kind       byte   // the letter of the final route
	where      uint64 // the route being read, as leg has it
	inside     bool   // the final approach fix is passed
	missed     bool   // the missed approach has begun
	codes      [][6]byte
	codesOf    [4]byte // the airport they are of
	ident      string  // of that airport
	titles     map[titleKey]title
	headerRead bool
}

// wanted is an airport that was asked for.
type wanted struct {
	ident string
	key   uint32
	found bool
}

type titleKey struct {
	code [6]byte
	kind byte
}

type title struct {
	approach.Title
	code, name string
}

// tooLong reports a line that the reader could not hold.
func (r *reader) tooLong() {
	r.line++
	r.sum.Records++
	r.report(nil, &fault{text: fmt.Sprintf("a line of more than %d characters", chunkSize)})
}

// record takes one line. It looks at the section first: most records of a
// file are none of ours.
func (r *reader) record(s []byte) error {
	r.line++
	if n := len(s); n > 0 && s[n-1] == '\r' {
		s = s[:n-1]
	}
	if len(s) == 0 {
		r.sum.Blank++
		return nil
	}
	r.sum.Records++
	if s[0] == 'H' && bytes.HasPrefix(s, []byte("HDR")) {
		r.sum.Headers++
		r.header(s)
		return nil
	}
	if len(s) != recordLength {
		if len(s) < recordLength {
			r.short = r.line
		}
		r.lose(s, &fault{text: fmt.Sprintf("a record has %d characters, this line %d", recordLength, len(s))})
		return nil
	}
	if s[0] != 'S' && s[0] != 'T' {
		r.lose(s, &fault{1, 1, "the record type is neither S (standard) nor T (tailored)"})
		return nil
	}
	section, sub := s[4], s[5]
	if section == 'P' && sub == ' ' {
		sub = s[12] // of airports it stands in column 13, but for terminal beacons (PN)
		switch sub {
		case 'F':
			return r.approachRecord(s)
		case 'A', 'C', 'G', 'S':
			r.airportRecord(s, sub)
			return nil
		}
	} else if section == 'H' && sub == ' ' {
		sub = s[12] // heliports
	}
	if section >= 128 || sub >= 128 {
		r.lose(s, &fault{5, 6, "the section is no letter"})
		return nil
	}
	r.skipped[section][sub]++
	return nil
}

// lose reports a record that may have belonged to the approach being read.
func (r *reader) lose(s []byte, f *fault) {
	if len(s) >= 19 && s[4] == 'P' && s[5] == ' ' && s[12] == 'F' && r.key == keyOf(s) {
		r.unread++
	}
	r.report(s, f)
}

func (r *reader) report(s []byte, f *fault) {
	r.sum.Malformed++
	r.note(s, f)
}

func (r *reader) note(s []byte, f *fault) {
	if r.h.Problem == nil && len(r.sum.Problems) == keptProblems {
		return
	}
	p := Problem{Line: r.line, Text: f.describe(s)}
	if r.h.Problem != nil {
		r.h.Problem(p)
	}
	if len(r.sum.Problems) < keptProblems {
		r.sum.Problems = append(r.sum.Problems, p)
	}
}

// describe names airport and approach, as far as the record shows them, and
// quotes the columns.
func (f *fault) describe(s []byte) string {
	var b strings.Builder
	if len(s) >= 19 && s[4] == 'P' {
		fmt.Fprintf(&b, "%s ", latin1(bytes.TrimSpace(s[6:10])))
		if s[12] == 'F' {
			fmt.Fprintf(&b, "%s ", latin1(bytes.TrimSpace(s[13:19])))
		}
	}
	text := strings.TrimSpace(b.String())
	if text != "" {
		text = fmt.Sprintf("%.40q: ", text)
		text = strings.ReplaceAll(text, `"`, "")
	}
	text += f.text
	switch {
	case f.from == 0 || f.to > len(s):
	case f.from == f.to:
		text += fmt.Sprintf(" (column %d: %q)", f.from, latin1(s[f.from-1:f.to]))
	default:
		text += fmt.Sprintf(" (columns %d-%d: %q)", f.from, f.to, latin1(s[f.from-1:f.to]))
	}
	return text
}

// airportKey is the airport of four columns as a number.
func airportKey(s []byte) uint32 {
	return uint32(s[0])<<24 | uint32(s[1])<<16 | uint32(s[2])<<8 | uint32(s[3])
}

// asked says whether the record's airport is wanted.
func (r *reader) asked(s []byte) bool {
	if len(r.wanted) == 0 {
		return true
	}
	key := airportKey(s[6:10])
	for i := range r.wanted {
		if w := &r.wanted[i]; w.key == key {
			w.found = true
			return true
		}
	}
	return false
}

// airportRecord takes a record of an airport other than an approach's.
func (r *reader) airportRecord(s []byte, sub byte) {
	continuation := s[21] // column 22
	if sub == 'S' {
		continuation = s[38] // column 39
	}
	switch {
	case !r.asked(s):
		r.sum.Elsewhere++
		return
	case continuation != '0' && continuation != '1':
		if !continues(continuation) {
			r.report(s, &fault{text: "the continuation number is neither a figure nor a letter"})
			return
		}
		r.continuations++
		return
	}
	var f *fault
	switch sub {
	case 'A':
		r.codesOf = [4]byte{} // the airport begins, perhaps again
		var a Airport
		if r.h.Airport == nil {
			f = decodeAirport(s, nil)
		} else if f = decodeAirport(s, &a); f == nil {
			r.h.Airport(a)
		}
		r.sum.Airports++
	case 'C':
		var x Fix
		if r.h.Fix == nil {
			f = decodeFix(s, nil)
		} else if f = decodeFix(s, &x); f == nil {
			r.h.Fix(x)
		}
		r.sum.Fixes++
	case 'G':
		var x Runway
		if r.h.Runway == nil {
			f = decodeRunway(s, nil)
		} else if f = decodeRunway(s, &x); f == nil {
			r.h.Runway(x)
		}
		r.sum.Runways++
	case 'S':
		f = decodeSectors(s, r.h.Sector)
		r.sum.Sectors++
	}
	if f != nil {
		r.counter(sub, -1)
		r.report(s, f)
	}
}

func (r *reader) counter(sub byte, by int) {
	switch sub {
	case 'A':
		r.sum.Airports += by
	case 'C':
		r.sum.Fixes += by
	case 'G':
		r.sum.Runways += by
	case 'S':
		r.sum.Sectors += by
	}
}

// continues says whether a continuation number is that of a record which
// follows a primary one: 2 to 9, then letters.
func continues(c byte) bool { return c >= '2' && c <= '9' || c >= 'A' && c <= 'Z' }

// approachKey is columns 7 to 19 as two overlapping numbers: airport, region,
// subsection and approach identifier. It is compared once a record.
type approachKey struct{ airport, code uint64 }

func keyOf(s []byte) approachKey {
	return approachKey{binary.LittleEndian.Uint64(s[6:14]), binary.LittleEndian.Uint64(s[11:19])}
}

// approachRecord takes a record of section P, subsection F.
func (r *reader) approachRecord(s []byte) error {
	if !r.asked(s) {
		r.sum.Elsewhere++
		return nil
	}
	if r.key != keyOf(s) {
		if err := r.flush(); err != nil {
			return err
		}
		if err := r.begin(s); err != nil {
			r.report(s, err)
			return nil
		}
	}
	switch c := s[38]; { // column 39, continuation number
	case c == '0' || c == '1':
	case continues(c):
		// Columns 40-132 mean something else there: nothing is read of it.
		r.continuations++
		return nil
	default:
		r.unread++
		r.report(s, &fault{39, 39, "the continuation number is neither a figure nor a letter"})
		return nil
	}
	n := len(r.legs)
	r.legs = slices.Grow(r.legs, 1)[:n+1]
	l := &r.legs[n]
	var last *leg
	if n > 0 {
		last = &r.legs[n-1]
	}
	f := decodeLeg(s, l, last)
	if f == nil && n > 0 {
		f = r.follows(last, l)
	}
	if l.where != r.where {
		r.where, r.inside, r.missed = l.where, false, false
	}
	// Also of a record that cannot be read: it stands where it stands.
	final := l.final()
	if final && s[41] == 'M' { // column 42: the first leg of the missed approach
		r.missed = true
	}
	missed := r.missed && final
	if final && s[42] == 'M' { // column 43: what follows the missed approach point
		r.missed = true
	}
	if f != nil {
		r.legs = r.legs[:n]
		r.unread++
		r.report(s, f)
		return nil
	}
	if final && r.kind == 0 {
		r.kind = s[19]
	}
	l.place(s, r.inside, missed)
	r.inside = r.inside || final && l.role == approach.FinalFix
	return nil
}

// begin starts an approach; its airport and identifier must be words.
func (r *reader) begin(s []byte) *fault {
	airport, ok := word(s[6:10])
	if !ok || len(airport) < 3 {
		return &fault{7, 10, "the airport is not one word"}
	}
	if code, ok := word(s[13:19]); !ok || len(code) < 2 {
		return &fault{14, 19, "the approach identifier is not one word"}
	}
	r.key, r.code = keyOf(s), [6]byte(s[13:19])
	if !bytes.Equal(r.codesOf[:], s[6:10]) {
		copy(r.codesOf[:], s[6:10])
		r.codes = r.codes[:0]
		r.ident = string(airport)
	}
	return nil
}

// follows holds a leg to the order of its route, which is ascending.
func (r *reader) follows(last, l *leg) *fault {
	switch {
	case len(r.legs) > mostLegs:
		return &fault{text: "an approach of more legs than any has"}
	case !last.sameRoute(l):
	case l.sequence == last.sequence:
		return &fault{27, 29, "the sequence is that of the leg before"}
	case l.sequence < last.sequence:
		return &fault{27, 29, "the sequence is less than that of the leg before"}
	}
	return nil
}

// flush hands over the approach that was being read.
func (r *reader) flush() error {
	if r.key == (approachKey{}) || len(r.legs) == 0 && r.unread == 0 { // continuation records alone
		r.reset()
		return nil
	}
	code := r.code
	if slices.Contains(r.codes, code) {
		r.sum.Repeated++
		r.note(nil, &fault{text: fmt.Sprintf("%s %s stands in the file twice, the second time up to the line before", r.ident, bytes.TrimSpace(code[:]))})
	} else if len(r.codes) < mostCodes {
		r.codes = append(r.codes, code)
	}
	r.sum.Approaches++
	r.sum.Legs += len(r.legs)
	if r.unread > 0 {
		r.sum.Incomplete++
	}
	for i := range r.legs {
		if role := r.legs[i].role; role == approach.Hold || role == approach.MissedHold {
			r.sum.Holdings++
		}
	}
	if r.h.Approach == nil {
		r.reset()
		return nil
	}
	t := r.title(code)
	r.made = approach.Approach{
		Ident: r.ident, Code: t.code, Name: t.name, Title: t.Title, Unread: r.unread,
		Legs: r.make(r.made.Legs[:0]), Effective: r.sum.Effective, End: r.sum.End, Cycle: r.sum.Cycle, Source: r.sum.Source,
	}
	r.made.Settle()
	r.reset()
	return r.h.Approach(&r.made)
}

// make makes the legs that are handed over. All their names share one string,
// where each has a place of two words.
func (r *reader) make(all []approach.Leg) []approach.Leg {
	const word, stride = 8, 16
	r.names = slices.Grow(r.names[:0], stride*len(r.legs))[:stride*len(r.legs)]
	for i := range r.legs {
		l := &r.legs[i]
		at := r.names[stride*i : stride*i+stride]
		binary.LittleEndian.PutUint64(at[:word], l.fix)
		binary.LittleEndian.PutUint64(at[word:], l.where>>8)
	}
	names := string(r.names)
	all = slices.Grow(all, len(r.legs))[:len(r.legs)]
	for i := range r.legs {
		l, to := &r.legs[i], &all[i]
		at := names[stride*i : stride*i+stride]
		to.Fix, to.Transition = at[:l.fixLen], at[word:word+int(l.transitionLen)]
		to.Altitude, to.Altitude2 = engine.Altitude(l.altitude), engine.Altitude(l.altitude2)
		to.Limit, to.Second = l.limit, l.second
		to.Angle, to.HasAngle = 0, l.hasAngle
		if l.hasAngle {
			to.Angle = engine.Degrees(float64(l.hundredths) / 100)
		}
		to.Sequence, to.Coded, to.Path = int(l.sequence), l.coded, l.path
		to.Route, to.Role, to.Initial, to.Segment = l.route, l.role, l.initial, procedure.NoSegment
	}
	return all
}

func (r *reader) reset() {
	r.key = approachKey{}
	r.legs = r.legs[:0]
	r.unread, r.kind, r.where, r.inside, r.missed = 0, 0, 0, false, false
}

// title makes the names of an approach, once for each that there is.
func (r *reader) title(code [6]byte) title {
	key := titleKey{code, r.kind}
	t, ok := r.titles[key]
	if !ok {
		if len(r.titles) == mostTitles {
			clear(r.titles)
		}
		t = titleOf(string(bytes.TrimSpace(code[:])), r.kind)
		r.titles[key] = t
	}
	return t
}

// header reads the record count of HDR01, columns 29-35, and the cycle, 36-39, and holds the words of
// HDR04 against it. The cycle in columns 129-132 of a record is that of its
// own last change and says nothing of the file.
func (r *reader) header(s []byte) {
	switch {
	case bytes.HasPrefix(s, []byte("HDR01")) && len(s) >= 39:
		if r.headerRead {
			r.note(s, &fault{text: "a second HDR01; the first one's cycle holds"})
			return
		}
		r.headerRead = true
		if n := s[28:35]; figures(n) { // columns 29-35, record count
			r.sum.Declared = number(n)
		}
		cycle := latin1(s[35:39])
		effective, end, err := CycleDates(cycle)
		if err != nil {
			r.note(s, &fault{text: err.Error()})
			return
		}
		r.sum.Cycle, r.sum.Effective, r.sum.End = cycle, effective, end
		r.sum.Source = "coded procedures, cycle " + cycle
	case bytes.HasPrefix(s, []byte("HDR04")):
		if text := r.disputed(strings.Fields(latin1(s))); text != "" {
			r.sum.Cycle, r.sum.Effective, r.sum.End, r.sum.Source = "", time.Time{}, time.Time{}, ""
			r.note(s, &fault{text: text + ": the cycle of the file is not known"})
		}
	}
}

// disputed says what the words of HDR04, "VOLUME 2609 EFFECTIVE 03 SEP 2026",
// have against the cycle of HDR01.
func (r *reader) disputed(words []string) string {
	if i := slices.Index(words, "VOLUME"); i >= 0 && i+1 < len(words) && words[i+1] != r.sum.Cycle {
		return fmt.Sprintf("HDR04 says cycle %q, HDR01 says %q", words[i+1], r.sum.Cycle)
	}
	if i := slices.Index(words, "EFFECTIVE"); i >= 0 && i+3 < len(words) {
		day, err := time.Parse("02 Jan 2006", strings.Join(words[i+1:i+4], " "))
		if err == nil && !day.Equal(r.sum.Effective) {
			return fmt.Sprintf("HDR04 says effective %s, and cycle %q begins on %s", day.Format(time.DateOnly), r.sum.Cycle, r.sum.Effective.Format(time.DateOnly))
		}
	}
	return ""
}
