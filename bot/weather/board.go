package weather

import (
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"firn/engine/wxreport"
)

// Board holds the newest report of each station out of many. The zero value
// is empty and ready. Filling it is for one goroutine; a filled one may be
// read by several.
//
// The newest METAR with a temperature counts: a NIL one does not hide the one
// before, whose age is told. The newest TAF counts whatever it says: after a
// cancelled or missing one there is no forecast. Of two reports of the same
// time, a corrected, amended or cancelling one beats the original; else of two
// METARs the colder counts, and of two TAFs the one added later.
//
// A newer report that cannot be read is told with the one before it, which
// then counts only as far as it is colder.
type Board struct {
	metars map[string]metarOn
	tafs   map[string]tafOn
	broken map[string]broken // "METAR XKLD": the newest that cannot be read
	blank  map[string]bool   // stations with a METAR that has no temperature
}

// broken is a report that cannot be read.
type broken struct {
	err      error
	kind     string    // METAR or TAF
	cause    string    // for people, in few words
	at       time.Time // that it is of; zero: not known
	changes  bool      // it corrects or amends one of the same time
	received time.Time
}

// unreadable is the error of a station whose newest report cannot be read.
type unreadable struct{ broken }

func (u *unreadable) Error() string { return u.err.Error() }
func (u *unreadable) Unwrap() error { return u.err }

// Unreadable says what cannot be read, and why, of the error of a station whose
// sources have nothing else; empty where that is not the reason.
func Unreadable(err error) string {
	var all []error
	if m, ok := errors.AsType[*Missing](err); ok {
		for _, p := range m.Passed {
			all = append(all, p.Err)
		}
	} else {
		all = append(all, err)
	}
	for _, e := range all {
		if u, ok := errors.AsType[*unreadable](e); ok {
			return u.first()
		}
	}
	return ""
}

// newerThan says whether an error is of a report that cannot be read and is
// newer than what was kept of the same source; told is what people must know.
func newerThan(err error, at, received time.Time) (told string, newer bool) {
	u, ok := errors.AsType[*unreadable](err)
	if !ok || !u.after(at, received) {
		return "", false
	}
	return u.told(), true
}

// after says whether it is newer than a report that can be read; where its time
// is not known, unless that came later.
func (b broken) after(at, received time.Time) bool {
	if b.at.IsZero() {
		return !b.received.Before(received)
	}
	return b.at.After(at) || b.changes && b.at.Equal(at)
}

// told is what people must know of the one before it.
func (b broken) told() string {
	what := "a newer " + b.kind
	if !b.at.IsZero() {
		what += " of " + written(b.at)
	}
	return what + " cannot be read: " + b.cause
}

// first is what people must know where there is none before it.
func (b broken) first() string { return strings.Replace(b.told(), "a newer", "the", 1) }

type metarOn struct {
	Observation
	corrected bool
}

// beats says that a report takes the place of another of its station.
func (m metarOn) beats(old metarOn) bool {
	switch {
	case !m.At.Equal(old.At):
		return m.At.After(old.At)
	case m.corrected != old.corrected:
		return m.corrected
	}
	return m.C <= old.C // nobody knows which is right, and a cold is not to be hidden
}

type tafOn struct {
	taf      wxreport.Taf
	source   string
	received time.Time
}

// Add reads a report. name is the source's and is shown as "METAR (name)";
// at is the instant the text is read as of, which gives the month. The error
// says why it cannot be read; the station, where it can be told, answers with
// the same unless it has another report.
func (b *Board) Add(r Report, name string, at, received time.Time) error {
	if r.Taf || !wxreport.LooksLikeMetar(r.Text) && wxreport.Decode(r.Text, at).Kind == "taf" {
		t, err := wxreport.ParseTaf(r.Text, at)
		if err == nil && !t.HasIssue && t.ValidFrom.IsZero() {
			err = errors.New("it has no time")
		}
		if _, doubt := OfTaf(t, name, received); err == nil && !errors.Is(doubt, ErrNone) {
			err = doubt
		}
		if err != nil {
			return b.fail("TAF", r.Text, err, at, received)
		}
		b.addTaf(tafOn{t, "TAF (" + name + ")", received})
		return nil
	}
	m, _, err := wxreport.ParseMetar(r.Text)
	if err != nil {
		return b.fail("METAR", r.Text, err, at, received)
	}
	o, err := OfMetar(m, "METAR ("+name+")", at, received)
	switch {
	case errors.Is(err, ErrNone):
		b.leaveBlank(m.Ident)
		return nil
	case err != nil:
		return b.fail("METAR", r.Text, err, at, received)
	}
	b.addMetar(metarOn{o, m.Corrected})
	return nil
}

func (b *Board) leaveBlank(ident string) {
	if b.blank == nil {
		b.blank = map[string]bool{}
	}
	b.blank[ident] = true
}

func (b *Board) addMetar(m metarOn) {
	if old, ok := b.metars[m.Ident]; ok && !m.beats(old) {
		return
	}
	if b.metars == nil {
		b.metars = map[string]metarOn{}
	}
	b.metars[m.Ident] = m
}

func (b *Board) addTaf(t tafOn) {
	old, ok := b.tafs[t.taf.Ident]
	changed := func(t wxreport.Taf) bool { return t.Amended || t.Corrected || t.Cancelled }
	if was, is := issued(old.taf), issued(t.taf); ok && (was.After(is) || was.Equal(is) && changed(old.taf) && !changed(t.taf)) {
		return
	}
	if b.tafs == nil {
		b.tafs = map[string]tafOn{}
	}
	b.tafs[t.taf.Ident] = t
}

// Fail notes that a station's report of a kind, METAR or TAF, cannot be read;
// dated is its time, zero where that is not known.
func (b *Board) Fail(kind, ident string, err error, dated, received time.Time) {
	b.note(kind+" "+strings.ToUpper(ident), broken{err: err, kind: kind, cause: err.Error(), at: dated, received: received})
}

// note keeps the newest.
func (b *Board) note(key string, n broken) {
	if old, ok := b.broken[key]; ok && (n.at.IsZero() && !old.at.IsZero() || old.at.After(n.at)) {
		return
	}
	if b.broken == nil {
		b.broken = map[string]broken{}
	}
	b.broken[key] = n
}

// changing is a report that corrects or amends one of the same time.
var changing = regexp.MustCompile(`(?i)\b(COR|AMD|CC[A-Z])\b`)

// identWords are those that stand before a station.
var identWords = strings.NewReplacer("METAR ", "", "SPECI ", "", "TAF ", "", "AMD ", "", "COR ", "")

func (b *Board) fail(kind, text string, err error, at, received time.Time) error {
	words := strings.Fields(identWords.Replace(strings.ToUpper(text)))
	n := broken{kind: kind, cause: err.Error(), received: received}
	for _, w := range words[:min(len(words), 3)] {
		if m, _, merr := wxreport.ParseMetar("XXXX " + w); wxreport.IsReportTime(w) && merr == nil {
			n.at = m.Issued(at)
			break
		}
	}
	n.changes = changing.MatchString(text)
	n.err = fmt.Errorf("%s %q: %w", kind, clip(text), err)
	if len(words) > 0 {
		if ident, ok := Ident(words[0]); ok {
			b.note(kind+" "+ident, n)
		}
	}
	return n.err
}

// Merge adds everything of another board.
func (b *Board) Merge(other *Board) {
	for _, m := range other.metars {
		b.addMetar(m)
	}
	for _, t := range other.tafs {
		b.addTaf(t)
	}
	for key, n := range other.broken {
		b.note(key, n)
	}
	for ident := range other.blank {
		b.leaveBlank(ident)
	}
}

// Observation is the newest of a station, in any case; ErrNone when there is
// none, ErrNoTemperature when all that there is has no temperature. Newer says that a newer one cannot be read.
func (b *Board) Observation(ident string) (Observation, error) {
	ident = strings.ToUpper(ident)
	n, failed := b.broken["METAR "+ident]
	if m, ok := b.metars[ident]; ok {
		if failed && n.after(m.At, m.Received) {
			m.Newer = n.told()
		}
		return m.Observation, nil
	}
	if failed {
		return Observation{}, &unreadable{n}
	}
	if b.blank[ident] {
		return Observation{}, ErrNoTemperature
	}
	return Observation{}, ErrNone
}

// Forecast is the newest of a station, in any case; ErrNone when there is
// none, or when the newest is cancelled or missing. Where a newer one cannot be
// read it counts only as far as it is colder, and Note says so.
func (b *Board) Forecast(ident string) (Forecast, error) {
	ident = strings.ToUpper(ident)
	n, failed := b.broken["TAF "+ident]
	if t, ok := b.tafs[ident]; ok {
		f, err := OfTaf(t.taf, t.source, t.received)
		if failed && n.after(issued(t.taf), t.received) {
			if err != nil {
				return Forecast{}, &unreadable{n}
			}
			f.ColderOnly, f.Note = true, n.told()
		}
		return f, err
	}
	if failed {
		return Forecast{}, &unreadable{n}
	}
	return Forecast{}, ErrNone
}

// Ident is an ident in capitals; false where it cannot be one: it has three
// or four letters and digits, as in the configuration. A source asks nobody
// for anything else.
func Ident(s string) (string, bool) {
	if len(s) != 3 && len(s) != 4 {
		return "", false
	}
	s = strings.ToUpper(s)
	for _, c := range s {
		if (c < 'A' || c > 'Z') && (c < '0' || c > '9') {
			return "", false
		}
	}
	return s, true
}
