package cifp

import (
	"cmp"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// Summary is what came of one reading.
type Summary struct {
	Cycle          string    // as 2609; empty when the header does not say, or not clearly
	Effective, End time.Time // the cycle's; zero without one
	Source         string    // for people

	Records  int  // lines but blank ones
	Declared int  // records that HDR01 says the file has; 0 when it does not say
	CutOff   bool // the last line is shorter than a record
	Headers  int
	Blank    int // lines

	// What came in.
	Airports, Runways, Fixes, Sectors int // records read
	Approaches, Legs, Holdings        int
	Incomplete                        int // approaches of which a record could not be read
	Repeated                          int // approaches that their airport has twice

	// What was skipped, and why.
	Continuations int       // records that go on with another one's
	Elsewhere     int       // records of airports that were not asked for
	Others        []Section // sections that hold no approach
	Malformed     int       // records that could not be read

	NotFound []string  // airports that were asked for and have no record
	Problems []Problem // the first ones of what could not be read or is doubtful
}

// Section is a section of the file, with its records.
type Section struct {
	Code    string // column 5 and 6 or 13, as PD
	Name    string // empty when not known
	Records int
}

// Expired says whether the cycle has ended at a time.
func (s *Summary) Expired(at time.Time) bool { return !s.End.IsZero() && !at.Before(s.End) }

// Whole says what shows that the file was cut off: nil when nothing does. The
// count of the header may or may not count the header's own lines, so that a
// file with as many lines as it says is whole.
func (s *Summary) Whole() error {
	switch {
	case s.CutOff:
		return fmt.Errorf("the last line, %d, is cut off", s.Records+s.Blank)
	case s.Records < s.Declared:
		return fmt.Errorf("the header says %d records, and there are %d", s.Declared, s.Records)
	}
	return nil
}

// Skipped is the number of records of which nothing was read.
func (s *Summary) Skipped() int {
	n := s.Continuations + s.Elsewhere + s.Malformed
	for _, o := range s.Others {
		n += o.Records
	}
	return n
}

// sectionNames are those of ARINC 424, chapter 3, that real files hold.
var sectionNames = map[string]string{
	"AS": "grid minimum altitudes", "D ": "VHF navigation aids", "DB": "beacons", "EA": "en-route waypoints",
	"EM": "airway markers", "EP": "holdings", "ER": "airways", "ET": "preferred routes", "EU": "airway restrictions",
	"EV": "communications", "HA": "heliports", "HC": "heliport fixes", "HD": "heliport departures", "HE": "heliport arrivals",
	"HF": "heliport approaches", "HS": "heliport minimum safe altitudes", "HV": "heliport communications",
	"PB": "gates", "PD": "departures", "PE": "arrivals", "PI": "localizers and glide slopes",
	"PK": "arrival areas", "PL": "microwave landing systems", "PM": "markers", "PN": "terminal beacons",
	"PP": "path points", "PR": "flight planning records", "PT": "satellite landing systems", "PV": "communications",
	"UC": "controlled airspace", "UF": "flight information regions", "UR": "restricted airspace",
}

// summarize gathers the counts of other sections, in the order of their codes.
func (r *reader) summarize() {
	r.sum.Continuations = r.continuations
	for _, w := range r.wanted {
		if !w.found {
			r.sum.NotFound = append(r.sum.NotFound, w.ident)
		}
	}
	for section := range r.skipped {
		for sub, n := range r.skipped[section] {
			if n == 0 {
				continue
			}
			code := string([]byte{byte(section), byte(sub)})
			r.sum.Others = append(r.sum.Others, Section{Code: code, Name: sectionNames[code], Records: n})
		}
	}
}

// counted is a number of things.
func counted(n int, what string) string {
	switch {
	case n == 1:
		return "1 " + what
	case strings.HasSuffix(what, "ch") || strings.HasSuffix(what, "x"):
		what += "e"
	}
	return strconv.Itoa(n) + " " + what + "s"
}

// Write says the summary in lines for people. now is when the cycle is held
// against the calendar.
func (s *Summary) Write(w io.Writer, now time.Time) error {
	p := printer{w: w}
	switch {
	case s.Cycle == "":
		p.line("cycle not known: no HDR01 line says it")
	case s.Expired(now):
		p.line("cycle %s, EXPIRED since %s", s.Cycle, s.End.Format(time.DateOnly))
	case now.Before(s.Effective):
		p.line("cycle %s, not in force until %s", s.Cycle, s.Effective.Format(time.DateOnly))
	default:
		p.line("cycle %s, in force from %s up to %s", s.Cycle, s.Effective.Format(time.DateOnly), s.End.Format(time.DateOnly))
	}
	p.line("%s: %s with %s, %s among them", counted(s.Records, "record"), counted(s.Approaches, "approach"), counted(s.Legs, "leg"), counted(s.Holdings, "holding"))
	p.line("%s, %s, %s, %s", counted(s.Airports, "airport"), counted(s.Runways, "runway"), counted(s.Fixes, "fix"), counted(s.Sectors, "minimum sector altitude"))
	if err := s.Whole(); err != nil {
		p.line("NOT WHOLE: %v", err)
	}
	p.line("no minimums: a coded file has none")
	for _, ident := range s.NotFound {
		p.line("%s is not in the file", ident)
	}
	if s.Repeated > 0 {
		p.line("in the file twice: %s", counted(s.Repeated, "approach"))
	}
	p.line("%s skipped", counted(s.Skipped(), "record"))
	if s.Continuations > 0 {
		p.line("  %s", counted(s.Continuations, "continuation record"))
	}
	if s.Elsewhere > 0 {
		p.line("  %d of other airports", s.Elsewhere)
	}
	for _, o := range s.Others {
		name := cmp.Or(o.Name, "not known")
		p.line("  %d of section %q, %s", o.Records, o.Code, name)
	}
	if s.Malformed > 0 {
		p.line("  %d that cannot be read, in %d approaches that are incomplete for it", s.Malformed, s.Incomplete)
	}
	for _, problem := range s.Problems {
		p.line("%s", problem.Error())
	}
	return p.err
}

// printer keeps the first error.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = fmt.Fprintf(p.w, format+"\n", args...)
	}
}
