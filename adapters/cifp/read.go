package cifp

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"

	"firn/bot/airports"
	"firn/bot/approach"
)

// Handler says what is wanted of a file. What has no function is counted and
// not made.
type Handler struct {
	// Airports are the idents wanted, as airports.IsIdent has them; empty
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
		if !airports.IsIdent(up) {
			return Summary{}, fmt.Errorf("airport %q is not 3 or 4 letters or figures with a letter among them, as XKLD", ident)
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
