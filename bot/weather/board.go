package weather

import (
	"errors"
	"fmt"
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
// time, a corrected, amended or cancelling one beats the original; else the
// one added later.
type Board struct {
	metars map[string]metarOn
	tafs   map[string]tafOn
	broken map[string]error // "metar XKLD": why a report cannot be read
}

type metarOn struct {
	Observation
	corrected bool
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
		if err != nil {
			return b.fail("TAF", r.Text, err)
		}
		b.addTaf(tafOn{t, "TAF (" + name + ")", received})
		return nil
	}
	m, _, err := wxreport.ParseMetar(r.Text)
	if err != nil {
		return b.fail("METAR", r.Text, err)
	}
	o, err := OfMetar(m, "METAR ("+name+")", at, received)
	switch {
	case errors.Is(err, ErrNone):
		return nil
	case err != nil:
		return b.fail("METAR", r.Text, err)
	}
	b.addMetar(metarOn{o, m.Corrected})
	return nil
}

func (b *Board) addMetar(m metarOn) {
	old, ok := b.metars[m.Ident]
	if ok && (old.At.After(m.At) || old.At.Equal(m.At) && old.corrected && !m.corrected) {
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

// Fail notes that a station's report of a kind, METAR or TAF, cannot be read.
func (b *Board) Fail(kind, ident string, err error) {
	if b.broken == nil {
		b.broken = map[string]error{}
	}
	b.broken[kind+" "+strings.ToUpper(ident)] = err
}

// identWords are those that stand before a station.
var identWords = strings.NewReplacer("METAR ", "", "SPECI ", "", "TAF ", "", "AMD ", "", "COR ", "")

func (b *Board) fail(kind, text string, err error) error {
	err = fmt.Errorf("%s %q: %w", kind, clip(text), err)
	ident, _, _ := strings.Cut(identWords.Replace(strings.ToUpper(text)), " ")
	if _, ok := Ident(ident); ok {
		b.Fail(kind, ident, err)
	}
	return err
}

// Merge adds everything of another board.
func (b *Board) Merge(other *Board) {
	for _, m := range other.metars {
		b.addMetar(m)
	}
	for _, t := range other.tafs {
		b.addTaf(t)
	}
	for key, err := range other.broken {
		if b.broken == nil {
			b.broken = map[string]error{}
		}
		b.broken[key] = err
	}
}

// Observation is the newest of a station, in any case; ErrNone when there is
// none.
func (b *Board) Observation(ident string) (Observation, error) {
	ident = strings.ToUpper(ident)
	if m, ok := b.metars[ident]; ok {
		return m.Observation, nil
	}
	if err := b.broken["METAR "+ident]; err != nil {
		return Observation{}, err
	}
	return Observation{}, ErrNone
}

// Forecast is the newest of a station, in any case; ErrNone when there is
// none, or when the newest is cancelled or missing.
func (b *Board) Forecast(ident string) (Forecast, error) {
	ident = strings.ToUpper(ident)
	if t, ok := b.tafs[ident]; ok {
		return OfTaf(t.taf, t.source, t.received)
	}
	if err := b.broken["TAF "+ident]; err != nil {
		return Forecast{}, err
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
