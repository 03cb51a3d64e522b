package ruleset

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
	"firn/engine/speech"
)

// Request is a sentence for air traffic control, ready to be read aloud.
type Request struct {
	When   string // the moment to say it
	Text   string // as it is written
	Spoken string // as it is said
	Source string
}

// request is a compiled RequestDoc.
type request struct {
	RequestDoc
	parts []part
}

type part struct {
	text  string
	field field
}

type field uint8

const (
	fieldText field = iota
	fieldAltitude
	fieldAmount
	fieldFixes
	fieldProcedure
	fieldVia
	fieldFloor
	fieldUntil
	fieldPlace
	fieldMissed
	fieldAltitudes
	fieldAmounts
)

var fields = map[string]field{"altitude": fieldAltitude, "amount": fieldAmount, "fixes": fieldFixes}

// selectors of the altitude that a request speaks of.
var requestAltitudes = []string{"initial", "inside", "final-fix", "initial-fixes", "told", "missed", "unlabelled"}

func compileRequest(d RequestDoc) (r request, err error) {
	r.RequestDoc = d
	if d.When == "" || d.Say == "" {
		return r, fmt.Errorf("when and say are both needed")
	}
	if !slices.Contains(requestAltitudes, d.Altitude) {
		return r, fmt.Errorf("altitude %q: one of %s", d.Altitude, strings.Join(requestAltitudes, ", "))
	}
	if err := checkOnly(d.Only); err != nil {
		return r, err
	}
	if r.parts, err = parseSay(d.Say, fields); err != nil {
		return r, fmt.Errorf("say: %w", err)
	}
	return r, nil
}

// parseSay takes a sentence apart into text and fields.
func parseSay(rest string, known map[string]field) (parts []part, err error) {
	for rest != "" {
		before, after, found := strings.Cut(rest, "{")
		if strings.Contains(before, "}") {
			return nil, errors.New("} without { before it")
		}
		if before != "" {
			parts = append(parts, part{text: before})
		}
		if !found {
			break
		}
		name, tail, closed := strings.Cut(after, "}")
		if !closed {
			return nil, errors.New("{ without } after it")
		}
		f, ok := known[name]
		if !ok {
			names := slices.Sorted(maps.Keys(known))
			return nil, fmt.Errorf("%q is not {%s}", "{"+name+"}", strings.Join(names, "}, {"))
		}
		parts = append(parts, part{field: f})
		rest = tail
	}
	return parts, nil
}

// RequestsFor fills in the rule set's sentences for a result. Altitudes that
// need no correction ask for nothing; a requested altitude is in whole
// hundreds, rounded up, as air traffic control assigns them. A sentence names
// a line and is its corrected altitude. Below transition, zero is 18 000 ft, it is
// spoken as altitudes are.
func (s *Set) RequestsFor(res Result, transition engine.Altitude) []Request {
	return s.AppendRequests(nil, res, transition)
}

// AppendRequests puts them behind out.
func (s *Set) AppendRequests(out []Request, res Result, transition engine.Altitude) []Request {
	for i := range s.requests {
		r := &s.requests[i]
		if r.Only == onlyRequired && !res.ToldRequired || r.Only == onlyAdvised && res.ToldRequired {
			continue
		}
		switch r.Altitude {
		case "initial-fixes", "told":
			out = s.perAltitude(out, r, res, transition)
		default:
			if l := pick(res, r.Altitude); l != nil {
				q := s.fill(r, l, "", transition)
				if r.Altitude == "final-fix" {
					q.When += insideOf(res, l)
				}
				out = append(out, q)
			}
		}
	}
	return out
}

// pick finds the one altitude that a request speaks of, nil when there is
// none to speak of.
func pick(res Result, which string) *Line {
	var highest, inside, finalFix, missed, unlabelled *Line
	var opening, initial engine.Altitude // the highest place that the approach is begun at: as published, as flown
	opens := false
	for i := range res.Lines {
		l := &res.Lines[i]
		if l.Role.Opens() && !l.NoAltitude && l.Meaning != procedure.AtOrBelow {
			opening = max(opening, l.Corrected)
			if asked(l) {
				opens, initial = true, max(initial, l.Altitude)
			}
		}
		if !asked(l) {
			continue // a ceiling is kept, and asks for nothing
		}
		switch {
		case l.Role == procedure.NoRole && l.Segment == procedure.NoSegment:
			unlabelled = higher(unlabelled, l)
		case l.Role == procedure.MissedHold:
			missed = higher(missed, l)
		case l.Segment == procedure.Missed, l.Segment == procedure.Sector:
		default:
			highest = higher(highest, l)
			if l.Role == procedure.FinalFix {
				finalFix = higher(finalFix, l)
			}
		}
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		if asked(l) && !l.Role.Opens() && l.Altitude < initial && (l.Segment == procedure.Initial || l.Segment == procedure.Intermediate) {
			inside = higher(inside, l)
		}
	}
	switch which {
	case "initial":
		// Not below any place that the crew may be sent to, and none without one.
		if opens && highest.Corrected >= opening-noise {
			return highest
		}
	case "inside":
		return inside
	case "final-fix":
		return finalFix
	case "missed":
		return missed
	case "unlabelled":
		if highest == nil {
			return unlabelled
		}
	}
	return nil
}

// insideOf is from where on the final approach fix's altitude is low enough to
// be all that is refused below: the last place before it that is flown higher.
func insideOf(res Result, final *Line) string {
	var last *Line
	for i := range res.Lines {
		l := &res.Lines[i]
		n := inward(&l.Point)
		if n == 0 || n >= inwardFinal || l.Meaning == procedure.AtOrBelow || l.Corrected <= final.Corrected {
			continue
		}
		if last == nil || n > inward(&last.Point) || n == inward(&last.Point) && l.Corrected < last.Corrected {
			last = l
		}
	}
	switch {
	case last == nil:
		return ""
	case inward(&last.Point) == 1: // one of several
		return ", inside the " + last.Role.Phrase()
	}
	return ", inside " + place(last)
}

func higher(have, l *Line) *Line {
	if have == nil || l.Corrected > have.Corrected {
		return l
	}
	return have
}

// perAltitude says a sentence once for each different corrected altitude,
// with the fixes that share it.
func (s *Set) perAltitude(out []Request, r *request, res Result, transition engine.Altitude) []Request {
	wanted := func(l *Line) bool {
		if !asked(l) {
			return false
		}
		if r.Altitude == "initial-fixes" {
			return l.Role.Opens()
		}
		return l.Role != procedure.NoRole
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		if !wanted(l) {
			continue
		}
		fixes, first := []string{res.standsAt(l)}, true
		for j := range res.Lines {
			m := &res.Lines[j]
			if j == i || !wanted(m) || m.Corrected != l.Corrected || m.Correction != l.Correction {
				continue
			}
			if j < i {
				first = false
				break
			}
			if name := res.standsAt(m); !slices.Contains(fixes, name) {
				fixes = append(fixes, name)
			}
		}
		if first {
			out = append(out, s.fill(r, l, orList(fixes), transition))
		}
	}
	return out
}

// standsAt is place; a turn, a hold or the missed approach at a fix where another
// altitude is told as well is called what it is.
func (r Result) standsAt(l *Line) string {
	name := ""
	switch l.Role {
	case procedure.ProcedureTurn:
		name = "the procedure turn"
	case procedure.Hold:
		name = "the hold at " + l.Fix
	case procedure.MissedHold:
		name = "the missed approach hold"
	}
	if name == "" || l.Fix == "" {
		return place(l)
	}
	for i := range r.Lines {
		if m := &r.Lines[i]; asked(m) && m.Fix == l.Fix && m.Corrected != l.Corrected {
			return name
		}
	}
	return place(l)
}

// place is where an altitude holds, as it is said.
func place(l *Line) string {
	if l.Fix != "" {
		return l.Fix
	}
	return "the " + l.Role.Phrase()
}

// orList joins names as the AIM's example does: "LANNY, CHARL, or ODIRE".
func orList(names []string) string {
	switch len(names) {
	case 1:
		return names[0]
	case 2:
		return names[0] + " or " + names[1]
	}
	return strings.Join(names[:len(names)-1], ", ") + ", or " + names[len(names)-1]
}

func (s *Set) fill(r *request, l *Line, fixes string, transition engine.Altitude) Request {
	hundreds := engine.Altitude(upTo(float64(l.Corrected), 100))
	amount := engine.Feet(engine.UpToFoot(float64(hundreds - l.Altitude)))
	var writtenRoom [512]byte // of both
	var spokenRoom [320]byte
	written, spoken := writtenRoom[:0], spokenRoom[:0]
	for _, p := range r.parts {
		switch p.field {
		case fieldAltitude:
			written = append(appendWhole(written, float64(hundreds)), " ft"...)
			spoken = append(speech.AppendAltitudeBelow(spoken, hundreds, s.hundreds(transition)), " feet"...)
		case fieldAmount:
			written = append(appendWhole(written, float64(amount)), " ft"...)
			spoken = append(speech.AppendAmount(spoken, amount), " feet"...)
		case fieldFixes:
			written = append(written, fixes...)
			spoken = append(spoken, fixes...)
		default:
			written = append(written, p.text...)
			spoken = append(spoken, p.text...)
		}
	}
	when := r.When
	if up := engine.UpToFoot(float64(l.Corrected)); float64(hundreds) != up {
		when += " (" + strconv.FormatFloat(up, 'f', 0, 64) + ", up to the next hundred)"
	}
	both := string(append(written, spoken...))
	return Request{When: when, Text: both[:len(written)], Spoken: both[len(written):], Source: r.RequestDoc.Source}
}
