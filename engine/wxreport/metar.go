package wxreport

import (
	"strings"
	"time"

	"firn/engine"
)

// Error says which word of a report is wrong, in one sentence that a crew
// member can act on.
type Error struct {
	Word string // as typed; empty when the text has no words
	Text string
}

func (e *Error) Error() string { return e.Text }

func noTime(word string) *Error {
	return &Error{word, word + " is no day and time: the day goes from 01 to 31, the hour to 23, the minute to 59"}
}

// Metar is what a METAR or SPECI says about temperature, pressure and time.
// Source: WMO FM 15 and FM 16; remarks: AFMAN 15-111 (12 March 2019), remarks
// 30 to 33.
type Metar struct {
	Raw   string // the text given, less the space around it
	Type  string // "METAR", "SPECI", or "" where the text does not say
	Ident string // in capitals; "" where the text begins with the time

	Day, Hour, Minute int // UTC; HasTime false: not given
	HasTime           bool

	Auto      bool // no human observer
	Corrected bool // COR, or CCA to CCZ as Canada writes it
	Nil       bool // the report is missing

	// Body and Dewpoint are the body group, whole degrees, -99 to 99. M00
	// (between -0.5 and 0) is 0.
	Body, Dewpoint Temp
	// Other is the colder of a second body group and a second T group that says
	// otherwise, which no report has; zero where there is none.
	Other Temp
	// Unread is a word in the place of the body group that stands for one and
	// cannot be read, as typed: M3O/M42; "" where there is none.
	Unread string
	// Tenths and TenthsDewpoint are the T group after RMK, -99.9 to 99.9.
	// Source: AFMAN 15-111 remark 30.
	Tenths, TenthsDewpoint Temp
	// Max6 and Min6 are of the last six hours, Max24 and Min24 of the last
	// twenty-four. Source: AFMAN 15-111 remarks 31, 32 and 33.
	Max6, Min6, Max24, Min24 Temp

	// AltimeterInHg is from A2992 or QNH2992INS (or A2992 after RMK, as Japan
	// writes it beside Q1013), AltimeterHPa from Q1013; 0 when absent. Both
	// may be present. As written, however unlikely.
	AltimeterInHg engine.InchesOfMercury
	AltimeterHPa  engine.Hectopascals
}

// Issued is when the report was made: the latest instant with its day, hour
// and minute at or before an hour after at (an allowance for clocks), in UTC.
// It goes back over months that lack the day. The zero Time when HasTime is
// false. Source: the code has no month; the rule is ours.
func (m Metar) Issued(at time.Time) time.Time {
	if !m.HasTime {
		return time.Time{}
	}
	return latest(dayHour{m.Day, m.Hour}, m.Minute, at)
}

// Leftover is a word in the report text that is no METAR group, such as an
// altitude typed behind a pasted report. Start and End are byte offsets in the
// text given; Text is what lies between them, punctuation included.
type Leftover struct {
	Text       string
	Start, End int
}

// IsReportTime says whether word is DDHHMMZ, a day and time that exist, as
// only a METAR or TAF has it. Case does not matter; the Z must be there.
func IsReportTime(word string) bool {
	w, _ := bare(word)
	if len(w) != 7 || w[6]|0x20 != 'z' {
		return false
	}
	_, _, _, _, ok := reportTime(w[:6])
	return ok
}

// LooksLikeMetar says whether text has the marks of a METAR somewhere in it:
// the word METAR or SPECI, a report time, a wind group, or a temperature group
// beside an altimeter setting. It is false for a TAF. A caller uses it to tell
// a pasted report from a line typed by hand, before ParseMetar.
func LooksLikeMetar(text string) bool {
	up := upper(text)
	if isTaf(up) {
		return false
	}
	var temps, settings bool
	for pos := 0; ; {
		start, end := nextWord(up, pos)
		if start == end {
			return false
		}
		pos = end
		w, _ := bare(up[start:end])
		if w == "METAR" || w == "SPECI" || IsReportTime(w) || isWind(w) {
			return true
		}
		if t, _, ok := bodyGroup(w); ok && t.OK {
			temps = true
		}
		settings = settings || isSetting(w)
		if temps && settings {
			return true
		}
	}
}

// isSetting is A2992, Q1013 or QNH2992INS.
func isSetting(w string) bool {
	return len(w) == 5 && (w[0] == 'A' || w[0] == 'Q') && digits(w[1:]) || isQNHInches(w)
}

func isQNHInches(w string) bool {
	return len(w) == 10 && w[:3] == "QNH" && digits(w[3:7]) && w[7:] == "INS"
}

// ParseMetar reads a METAR or SPECI. Case does not matter, METAR or SPECI in
// front may be missing, and so may any group.
//
// The words that are no METAR group come back as leftovers, in order. The
// place decides about bare numbers: one of four digits is a visibility once,
// before the sky and the temperature, and once in each trend if the code can
// express it; any other is left over. Everything after RMK belongs to the
// report up to a semicolon; an equals sign ends it anywhere. What follows the
// end is left over.
//
// The error, an *Error, says that text is no METAR: it has no station and no
// time to begin with, or no time, wind, temperature, altimeter setting or NIL
// in it; or that its time does not exist, or that it is a TAF.
func ParseMetar(text string) (Metar, []Leftover, error) {
	p := metarParser{text: text, up: upper(text)}
	if err := p.head(); err != nil {
		return Metar{}, nil, err
	}
	for p.next() {
		p.read()
	}
	m := &p.m
	if !m.HasTime && !m.Nil && !p.wind && !p.body && !p.setting {
		return Metar{}, nil, &Error{p.second, "this is no METAR: it has no time, wind, temperature group or altimeter setting"}
	}
	m.Raw = strings.TrimSpace(text)
	return *m, p.left, nil
}

type metarParser struct {
	text, up   string
	start, end int    // the word in hand
	w          string // the same, in capitals, without punctuation
	closed     bool   // an equals sign has ended the report
	closing    bool   // the word in hand carries that sign
	second     string // the word after the ident, for the error

	wind, visibility, sky, body, setting bool // groups seen
	trend, shear, remarks                bool // where the word stands

	m    Metar
	left []Leftover
}

// next takes up the next word; false at the end.
func (p *metarParser) next() bool {
	p.closed = p.closed || p.closing
	for {
		p.start, p.end = nextWord(p.up, p.end)
		if p.start == p.end {
			return false
		}
		var closing bool
		p.w, closing = bare(p.up[p.start:p.end])
		// A semicolon ends remarks: no report has one, and crews type their
		// altitudes behind it.
		closing = closing || p.remarks && p.up[p.end-1] == ';'
		if p.w != "" {
			p.closing = closing
			return true
		}
		// A word of nothing but punctuation.
		p.closed = p.closed || closing
	}
}

func (p *metarParser) typed() string { return p.text[p.start:p.end] }

// head reads the words up to and with the time.
func (p *metarParser) head() error {
	m := &p.m
	for p.next() && !p.closed {
		switch p.w {
		case "METAR", "SPECI":
			if m.Ident == "" {
				m.Type = p.w
				continue
			}
		case "COR":
			m.Corrected = true
			continue
		case "AUTO":
			m.Auto = true
			continue
		case "NIL":
			m.Nil = true
			continue
		case "TAF":
			return &Error{p.typed(), "this is a TAF, not a METAR"}
		}
		if m.Ident == "" && isIdent(p.w) {
			m.Ident = p.w
			continue
		}
		if p.second == "" {
			p.second = p.typed()
		}
		if _, _, _, ok := validity(p.w); ok {
			return &Error{p.typed(), "this is a TAF, not a METAR: it has a validity period"}
		}
		day, hour, minute, shape, ok := reportTime(p.w)
		switch {
		case ok:
			m.Day, m.Hour, m.Minute, m.HasTime = day, hour, minute, true
			return nil
		case shape:
			return noTime(p.typed())
		case m.Ident == "":
			return &Error{p.typed(), p.typed() + " is no station: a METAR begins with a station of three or four letters, or its time"}
		}
		p.read()
		return nil
	}
	if p.start < p.end { // the equals sign stood among the first words
		p.read()
	}
	if m.Ident == "" {
		return &Error{Text: "this is no METAR: there is no station in it"}
	}
	return nil
}

// read sorts one word after the head: into the report, or left over.
func (p *metarParser) read() {
	switch {
	case p.closed:
		p.leave()
	case p.remarks:
		p.remark()
	case !p.group():
		if !p.body && !p.trend && p.m.Unread == "" && brokenBody(p.w) {
			p.m.Unread = p.typed()
		}
		p.leave()
	}
}

func (p *metarParser) leave() {
	if p.left == nil {
		p.left = make([]Leftover, 0, 8) // a label and an altitude, four times
	}
	p.left = append(p.left, Leftover{p.typed(), p.start, p.end})
}

// group reads a word before RMK and says whether the report owns it.
func (p *metarParser) group() bool {
	w, m := p.w, &p.m
	if p.shear {
		// WS is followed by the runway: ALL RWY, RWY21, R02, LDG RWY02.
		switch {
		case w == "ALL", w == "RWY", w == "LDG", w == "TKOF":
			return true
		case strings.HasPrefix(w, "RWY") && len(w) <= 6 && isDigit(w[3]),
			w[0] == 'R' && len(w) >= 3 && len(w) <= 4 && digits(w[1:3]):
			return true
		}
		p.shear = false
	}
	switch w {
	case "AUTO":
		m.Auto = true
		return true
	case "COR":
		m.Corrected = true
		return true
	case "NIL":
		m.Nil = true
		return true
	case "RTD", "NOSIG", "$", "PROB30", "PROB40":
		return true
	case "TEMPO", "BECMG", "INTER": // the last in Australia
		p.trend, p.visibility, p.sky = true, false, false
		return true
	case "WS":
		p.shear = true
		return true
	case "M":
		// The sky is missing, as automatic stations in the US write it (seen
		// in the corpus); behind the temperature it is no group.
		return !p.body && !p.setting
	case "RMK":
		p.remarks = true
		return true
	}
	if w[0] == 'C' && len(w) == 3 && w[1] == 'C' && isLetter(w[2]) {
		m.Corrected = true
		return true
	}
	if !p.body && !p.trend {
		if t, d, ok := bodyGroup(w); ok {
			m.Body, m.Dewpoint, p.body = t, d, true
			return true
		}
	}
	if p.body && !p.trend {
		if t, _, ok := bodyGroup(w); ok && t.OK {
			m.Other = colder(m.Other, t)
			return false // whoever typed it is asked which is right
		}
	}
	late := (p.body || p.setting) && !p.trend // weather and sky are behind
	switch {
	case p.altimeter():
	case isCloud(w):
		p.sky = true
	case isWind(w):
		p.wind = true
	case isMiles(w) && !late, isDirected(w) && !late:
		p.visibility = true
	case isTrendTime(w):
		p.visibility = false
	case len(w) == 4 && digits(w):
		return p.metres(late)
	case len(w) <= 2 && digits(w):
		return !late && p.fraction()
	case isWeather(w):
		// Two letters behind the temperature may be a label: GS, PO.
		return !late || len(w) > 2 || blanks(w)
	case isRunway(w), isColour(w), isSea(w), isHumidity(w), blanks(w):
	default:
		return false
	}
	return true
}

// metres decides about four digits. In their place before the sky they are
// the visibility whatever they are; in a trend only if the code has them,
// because an altitude may follow a trend.
func (p *metarParser) metres(late bool) bool {
	if late || p.visibility || p.sky || p.trend && !isMetres(p.w) {
		return false
	}
	p.visibility = true
	return true
}

// fraction says whether a small bare number is the whole miles before a
// fraction: 2 1/4SM.
func (p *metarParser) fraction() bool {
	s, e := nextWord(p.up, p.end)
	w, _ := bare(p.up[s:e])
	return strings.IndexByte(w, '/') > 0 && isMiles(w)
}

// altimeter reads A2992, Q1013, QNH2992INS and their missing forms; the first
// of each stands.
func (p *metarParser) altimeter() bool {
	w := p.w
	switch {
	case len(w) == 5 && (w[0] == 'A' || w[0] == 'Q') && blanks(w[1:]):
	case !isSetting(w):
		return false
	case w[0] == 'A':
		p.inches(w[1:])
	case len(w) == 10:
		p.inches(w[3:7])
	case p.m.AltimeterHPa == 0:
		p.m.AltimeterHPa = engine.Hectopascals(number(w[1:]))
	}
	p.setting = true
	return true
}

func (p *metarParser) inches(hundredths string) {
	if p.m.AltimeterInHg == 0 && digits(hundredths) {
		p.m.AltimeterInHg = engine.InchesOfMercury(float64(number(hundredths)) / 100)
	}
}

// remark reads a word after RMK; the first of each group stands, and a second
// temperature that is another puts the report in doubt.
func (p *metarParser) remark() {
	w, m := p.w, &p.m
	switch w[0] {
	case 'T':
		// The dew point may be missing: T1026.
		t, ok := tenths(w[1:min(len(w), 5)])
		d := Temp{}
		if ok && len(w) > 5 {
			d, ok = tenths(w[5:])
		}
		switch {
		case !ok:
		case !m.Tenths.OK:
			m.Tenths, m.TenthsDewpoint = t, d
		case t != m.Tenths:
			m.Other = colder(m.Other, t)
		}
	case '1':
		keep(&m.Max6, w[1:])
	case '2':
		keep(&m.Min6, w[1:])
	case '4':
		if len(w) != 9 {
			return
		}
		hi, ok1 := tenths(w[1:5])
		lo, ok2 := tenths(w[5:])
		if ok1 && ok2 && !m.Max24.OK {
			m.Max24, m.Min24 = hi, lo
		}
	case 'A':
		if len(w) == 5 {
			p.inches(w[1:])
		}
	}
}

func keep(into *Temp, w string) {
	if t, ok := tenths(w); ok && !into.OK {
		*into = t
	}
}
