package ruleset

import (
	"fmt"
	"slices"
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
)

var fields = map[string]field{"altitude": fieldAltitude, "amount": fieldAmount, "fixes": fieldFixes}

// selectors of the altitude that a request speaks of.
var requestAltitudes = []string{"initial", "inside", "final-fix", "initial-fixes", "told", "missed", "unlabelled"}

func compileRequest(d RequestDoc) (request, error) {
	r := request{RequestDoc: d}
	if d.When == "" || d.Say == "" {
		return r, fmt.Errorf("when and say are both needed")
	}
	if !slices.Contains(requestAltitudes, d.Altitude) {
		return r, fmt.Errorf("altitude %q: one of %s", d.Altitude, strings.Join(requestAltitudes, ", "))
	}
	rest := d.Say
	for rest != "" {
		before, after, found := strings.Cut(rest, "{")
		if strings.Contains(before, "}") {
			return r, fmt.Errorf("say: } without { before it")
		}
		if before != "" {
			r.parts = append(r.parts, part{text: before})
		}
		if !found {
			break
		}
		name, tail, closed := strings.Cut(after, "}")
		if !closed {
			return r, fmt.Errorf("say: { without } after it")
		}
		f, known := fields[name]
		if !known {
			return r, fmt.Errorf("say: %q is not {altitude}, {amount} or {fixes}", "{"+name+"}")
		}
		r.parts = append(r.parts, part{field: f})
		rest = tail
	}
	return r, nil
}

// RequestOptions are the station's additions to a rule set's requests.
type RequestOptions struct {
	// Extra is added to what is asked for under vectors until established,
	// for an approach into a valley (common practice, no source).
	Extra engine.Feet
}

// RequestsFor fills in the rule set's sentences for a result. Altitudes that
// need no correction ask for nothing; a requested altitude is in whole
// hundreds, rounded up, as air traffic control assigns them.
func (s *Set) RequestsFor(res Result, opt RequestOptions) []Request {
	var out []Request
	for i := range s.requests {
		r := &s.requests[i]
		switch r.Altitude {
		case "initial-fixes", "told":
			out = s.perAltitude(out, r, res)
		default:
			l := pick(res, r.Altitude)
			if l == nil {
				continue
			}
			out = append(out, s.fill(r, l, l.Corrected, ""))
			if opt.Extra > 0 && (r.Altitude == "initial" || r.Altitude == "unlabelled") {
				q := s.fill(r, l, l.Corrected.Add(opt.Extra), "")
				q.When = fmt.Sprintf("%s, until established in the valley (unit's %.0f ft extra)", r.When, float64(opt.Extra))
				q.Source = "unit's configuration; common practice, no source"
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
	var initial engine.Altitude
	for i := range res.Lines {
		l := &res.Lines[i]
		if !l.Report || l.Role == procedure.StepDown && l.Meaning == procedure.AtOrBelow {
			continue // a ceiling on the way is kept, and asks for nothing
		}
		switch {
		case l.Role == procedure.NoRole && l.Segment == procedure.NoSegment:
			unlabelled = higher(unlabelled, l)
		case l.Segment == procedure.Missed:
			missed = higher(missed, l)
		case l.Segment == procedure.Sector:
		default:
			highest = higher(highest, l)
			if l.Role == procedure.FinalFix {
				finalFix = higher(finalFix, l)
			}
			if opensApproach(l.Role) && l.Altitude > initial {
				initial = l.Altitude
			}
		}
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		if l.Report && !(l.Role == procedure.StepDown && l.Meaning == procedure.AtOrBelow) && initial > 0 && !opensApproach(l.Role) && l.Altitude < initial &&
			(l.Segment == procedure.Initial || l.Segment == procedure.Intermediate) {
			inside = higher(inside, l)
		}
	}
	switch which {
	case "initial":
		return highest
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

func higher(have, l *Line) *Line {
	if have == nil || l.Corrected > have.Corrected {
		return l
	}
	return have
}

// opensApproach is true of the places where an approach is begun.
func opensApproach(r procedure.Role) bool {
	return r == procedure.InitialFix || r == procedure.ProcedureTurn || r == procedure.Hold
}

// perAltitude says a sentence once for each different corrected altitude,
// with the fixes that share it.
func (s *Set) perAltitude(out []Request, r *request, res Result) []Request {
	wanted := func(l *Line) bool {
		if !l.Report {
			return false
		}
		if r.Altitude == "initial-fixes" {
			return opensApproach(l.Role)
		}
		return l.Role != procedure.NoRole
	}
	for i := range res.Lines {
		l := &res.Lines[i]
		if !wanted(l) {
			continue
		}
		fixes, first := []string{place(l)}, true
		for j := range res.Lines {
			m := &res.Lines[j]
			if j == i || !wanted(m) || m.Corrected != l.Corrected || m.Correction != l.Correction {
				continue
			}
			if j < i {
				first = false
				break
			}
			if name := place(m); !slices.Contains(fixes, name) {
				fixes = append(fixes, name)
			}
		}
		if first {
			out = append(out, s.fill(r, l, l.Corrected, orList(fixes)))
		}
	}
	return out
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

func (s *Set) fill(r *request, l *Line, altitude engine.Altitude, fixes string) Request {
	hundreds := engine.Altitude(upTo(float64(altitude), 100))
	amount := engine.Feet(engine.UpToFoot(float64(hundreds - l.Altitude)))
	written := make([]byte, 0, 96)
	spoken := make([]byte, 0, 128)
	for _, p := range r.parts {
		switch p.field {
		case fieldAltitude:
			written = fmt.Appendf(written, "%.0f ft", float64(hundreds))
			spoken = append(speech.AppendAltitude(spoken, hundreds), " feet"...)
		case fieldAmount:
			written = fmt.Appendf(written, "%.0f ft", float64(amount))
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
	if up := engine.UpToFoot(float64(altitude)); float64(hundreds) != up {
		when = fmt.Sprintf("%s (%.0f, up to the next hundred)", when, up)
	}
	return Request{When: when, Text: string(written), Spoken: string(spoken), Source: r.RequestDoc.Source}
}
