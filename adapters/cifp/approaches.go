package cifp

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"slices"

	"firn/bot/approach"
	"firn/engine"
	"firn/engine/procedure"
)

type titleKey struct {
	code [6]byte
	kind byte
}

type title struct {
	approach.Title
	code, name string
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
