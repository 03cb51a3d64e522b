package wxreport

import (
	"strings"
	"time"

	"firn/engine"
)

// Extreme is a forecast maximum or minimum temperature, a TX or TN group.
// C is in whole degrees, -99 to 99; M00 is 0. Source: WMO FM 51, TXTFTF and
// TNTFTF.
type Extreme struct {
	Max bool
	C   engine.Celsius
	At  time.Time // UTC, to the hour; may lie outside the validity, as written
}

// Taf is what a TAF says about temperature and time. Source: WMO FM 51.
type Taf struct {
	Raw   string // the text given, less the space around it
	Ident string // in capitals

	Day, Hour, Minute int // of issue, UTC; HasIssue false: not given
	HasIssue          bool

	Amended, Corrected, Cancelled, Nil bool

	// Issued is the zero Time when HasIssue is false; ValidFrom and ValidTo
	// when a NIL or cancelled TAF gives no validity, or one that ends before
	// it begins. All in UTC.
	Issued, ValidFrom, ValidTo time.Time

	// Extremes are in the order written, as many as there are.
	Extremes []Extreme

	// LowestQNH is the least of the QNHnnnnINS groups, each the lowest
	// altimeter setting forecast for its period; 0 when there is none.
	// Source: US Navy P-304 (military TAFs).
	LowestQNH engine.InchesOfMercury
}

// isTaf tells a TAF from a METAR, in capitals, by its first words: TAF, or a
// validity period behind station and time. NIL without the word TAF is read
// as a METAR: nothing in it says otherwise.
func isTaf(up string) bool {
	var ident, timed bool
	for pos := 0; ; {
		start, end := nextWord(up, pos)
		if start == end {
			return false
		}
		pos = end
		w, _ := bare(up[start:end])
		switch w {
		case "TAF":
			return true
		case "METAR", "SPECI":
			return false
		case "AMD", "COR", "NIL", "CNL", "":
			continue
		}
		if !ident && isIdent(w) {
			ident = true
			continue
		}
		if _, _, _, ok := validity(w); ok && (ident || timed) {
			return true
		}
		if _, ok := oldValidity(w); ok && timed {
			return true
		}
		if _, _, _, _, ok := reportTime(w); !ok || timed {
			return false
		}
		timed = true
	}
}

// period is a validity by days and hours; an old one has no day at its end.
type period struct {
	from, to dayHour
	old      bool
}

// oldValidity reads DDHHHH, the form before November 2008: a day, the hour it
// begins and the hour it ends, that day or the next.
func oldValidity(w string) (period, bool) {
	if len(w) != 6 || !digits(w) {
		return period{}, false
	}
	p := period{
		from: dayHour{number(w[:2]), number(w[2:4])},
		to:   dayHour{number(w[:2]), number(w[4:])},
		old:  true,
	}
	return p, p.from.exists() && p.to.exists()
}

// ParseTaf reads a TAF, with the word TAF or without. AMD, COR, CNL, NIL and
// TAF itself may come in any order and twice. Temperature extremes are taken
// wherever they stand, before or after the change groups.
//
// at is the instant the text is read as of and gives the month: the issue
// time is the latest one at or before an hour after at; the validity begins
// at the instant nearest to the issue (to at, where the issue time is missing)
// with its day and hour, which may be before it; extremes lie in the validity
// where their day allows, else as near to it as they can. One without a day,
// TX32/06Z (the form before November 2008), is the first such hour of the
// validity. An equals sign ends the report.
//
// The error, an *Error, says that there is no station, no validity though the
// TAF is neither NIL nor cancelled, or that a time, validity, maximum or
// minimum cannot be read: an unreadable minimum must not pass for none.
func ParseTaf(text string, at time.Time) (Taf, error) {
	p := tafParser{text: text, up: upper(text)}
	t := &p.t
	t.Raw = strings.TrimSpace(text)
	if err := p.head(); err != nil {
		return Taf{}, err
	}
	near := at.UTC()
	if t.HasIssue {
		t.Issued = latest(dayHour{t.Day, t.Hour}, t.Minute, at)
		near = t.Issued
	}
	switch {
	case p.valid:
		if err := p.resolve(near); err != nil {
			return Taf{}, err
		}
	case !t.Nil && !t.Cancelled:
		return Taf{}, &Error{p.typed(), "this TAF has no validity period, such as 2512/2612"}
	default:
		t.ValidFrom, t.ValidTo = near, near // for a day to be near to
	}
	// The head has stopped at the first word of the forecast.
	for p.start < p.end && !p.closed {
		if err := p.read(); err != nil {
			return Taf{}, err
		}
		p.next()
	}
	if !p.valid {
		t.ValidFrom, t.ValidTo = time.Time{}, time.Time{}
	}
	return *t, nil
}

type tafParser struct {
	text, up   string
	start, end int    // the word in hand; empty at the end
	w          string // the same, in capitals, without punctuation
	closing    bool   // the word in hand carries an equals sign
	closed     bool   // an equals sign has ended the report

	valid  bool
	period period
	word   string // the validity as typed, for an error

	t Taf
}

func (p *tafParser) next() {
	p.closed = p.closing
	p.start, p.end = nextWord(p.up, p.end)
	p.w, p.closing = bare(p.up[p.start:p.end])
	p.closing = p.closing || p.closed
}

func (p *tafParser) typed() string { return p.text[p.start:p.end] }

// peek is the word after the one in hand.
func (p *tafParser) peek() string {
	s, e := nextWord(p.up, p.end)
	w, _ := bare(p.up[s:e])
	return w
}

// head reads up to the first word of the forecast itself.
func (p *tafParser) head() error {
	t := &p.t
	for p.next(); p.start < p.end && !p.closed; p.next() {
		switch p.w {
		case "", "TAF":
			continue
		case "AMD":
			// AMD NOT SKED is a remark about amendments, no amendment
			// (AIM 7-1).
			if next := p.peek(); next != "NOT" && next != "LTD" {
				t.Amended = true
				continue
			}
		case "COR":
			t.Corrected = true
			continue
		case "CNL":
			t.Cancelled = true
			continue
		case "NIL":
			t.Nil = true
			continue
		}
		if t.Ident == "" {
			if !isIdent(p.w) {
				return &Error{p.typed(), p.typed() + " is no station: a TAF begins with a station of three or four letters"}
			}
			t.Ident = p.w
			continue
		}
		done, err := p.times()
		if err != nil {
			return err
		}
		if done {
			return nil
		}
	}
	if t.Ident == "" {
		return &Error{Text: "this is no TAF: there is no station in it"}
	}
	return nil
}

// times reads the issue time or the validity; done says that the word in hand
// is neither.
func (p *tafParser) times() (done bool, err error) {
	t := &p.t
	if p.valid {
		return true, nil
	}
	from, to, shape, ok := validity(p.w)
	if shape {
		if !ok {
			return false, &Error{p.typed(), p.typed() + " is no validity period: days go from 01 to 31, hours to 24"}
		}
		p.period, p.valid, p.word = period{from: from, to: to}, true, p.typed()
		return false, nil
	}
	// Six digits without a Z are the old validity, unless no time has come
	// yet and a validity follows.
	if old, ok := oldValidity(p.w); ok {
		_, _, _, follows := validity(p.peek())
		if t.HasIssue || !follows {
			p.period, p.valid, p.word = old, true, p.typed()
			return false, nil
		}
	}
	day, hour, minute, shape, ok := reportTime(p.w)
	if !shape || t.HasIssue {
		return true, nil
	}
	if !ok {
		return false, noTime(p.typed())
	}
	t.Day, t.Hour, t.Minute, t.HasIssue = day, hour, minute, true
	return false, nil
}

// resolve gives the validity its months.
func (p *tafParser) resolve(near time.Time) error {
	t := &p.t
	t.ValidFrom = nearest(p.period.from, near, near)
	if p.period.old {
		hours := p.period.to.hour - p.period.from.hour
		if hours <= 0 {
			hours += 24
		}
		t.ValidTo = t.ValidFrom.Add(time.Duration(hours) * time.Hour)
		return nil
	}
	t.ValidTo = nearest(p.period.to, t.ValidFrom, t.ValidFrom)
	if !t.ValidTo.After(t.ValidFrom) {
		if t.Cancelled || t.Nil {
			p.valid = false // LFMT 032244Z 0318/0206 CNL (seen): nothing hangs on it
			return nil
		}
		return &Error{p.word, "the validity period " + p.word + " ends before it begins"}
	}
	return nil
}

// read takes one word of the forecast.
func (p *tafParser) read() error {
	w, t := p.w, &p.t
	if isQNHInches(w) {
		q := engine.InchesOfMercury(float64(number(w[3:7])) / 100)
		if t.LowestQNH == 0 || q < t.LowestQNH {
			t.LowestQNH = q
		}
		return nil
	}
	// TX and TN with a figure or a stroke: TNCA is a station and T 25 26 24 21
	// Australia's list for fixed hours, which is no extreme.
	if len(w) < 4 || w[0] != 'T' || w[1] != 'X' && w[1] != 'N' ||
		!isDigit(w[2]) && (w[2] != 'M' || !isDigit(w[3])) && strings.IndexByte(w, '/') < 0 {
		if strayExtreme(w) {
			return p.noExtreme()
		}
		return nil
	}
	value, when, _ := strings.Cut(w[2:], "/")
	c, ok := temperature(value)
	when = strings.TrimSuffix(when, "Z")
	if !ok || !digits(when) || len(when) != 4 && len(when) != 2 {
		return p.noExtreme()
	}
	e := Extreme{Max: w[1] == 'X', C: engine.Celsius(c)}
	hour := number(when[len(when)-2:])
	day := 1 // any that exists
	if len(when) == 4 {
		day = number(when[:2])
	}
	d := dayHour{day, hour}
	switch {
	case !d.exists():
		return &Error{p.typed(), p.typed() + " has no such day and hour: days go from 01 to 31, hours to 24"}
	case len(when) == 2:
		y, m, first := t.ValidFrom.Date()
		e.At = time.Date(y, m, first, hour, 0, 0, 0, time.UTC)
		if e.At.Before(t.ValidFrom) {
			e.At = e.At.AddDate(0, 0, 1)
		}
	default:
		e.At = nearest(d, t.ValidFrom, t.ValidTo)
	}
	if t.Extremes == nil {
		t.Extremes = make([]Extreme, 0, 4) // two of each at most (WMO FM 51)
	}
	t.Extremes = append(t.Extremes, e)
	return nil
}

func (p *tafParser) noExtreme() error {
	return &Error{p.typed(), p.typed() + " is no maximum or minimum temperature, such as TNM15/1410Z"}
}

// strayExtreme says of a word without TX or TN that it has the figure and the
// time of an extreme all the same: M30/2610Z, NTM30/2610Z, /2610Z. Nothing else in
// a TAF ends like that (testdata/wx): a period has four figures on both sides.
func strayExtreme(w string) bool {
	const long = len("2610Z")
	value, when, stroke := strings.Cut(w, "/")
	figures := len(value) - len(strings.TrimRight(value, "0123456789"))
	return stroke && len(when) == long && digits(when[:long-1]) && when[long-1] == 'Z' && figures < 4
}
