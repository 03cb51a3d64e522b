package wxreport

import (
	"strings"

	"firn/engine"
)

// The functions here say whether a word has the shape of one group. They take
// upper case and look at the whole word: half a match is none. They are by
// hand and not by regular expression because one chat message has 20 us for
// everything.

func isDigit(c byte) bool  { return c-'0' <= 9 }
func isLetter(c byte) bool { return c-'A' <= 'Z'-'A' }

// digits says whether all of s is digits, at least one.
func digits(s string) bool {
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) {
			return false
		}
	}
	return s != ""
}

// blanks says whether all of s is slashes, at least one: a value that is
// missing.
func blanks(s string) bool {
	for i := 0; i < len(s); i++ {
		if s[i] != '/' {
			return false
		}
	}
	return s != ""
}

// figure says whether s is n digits or n slashes.
func figure(s string, n int) bool { return len(s) == n && (digits(s) || blanks(s)) }

// number is the value of a string of digits, checked before.
func number(s string) int {
	n := 0
	for i := 0; i < len(s); i++ {
		n = n*10 + int(s[i]-'0')
	}
	return n
}

// upper is text in ASCII capitals, byte for byte: offsets in it are offsets
// in text, which strings.ToUpper does not promise.
func upper(text string) string {
	for i := 0; i < len(text); i++ {
		if text[i]-'a' <= 'z'-'a' {
			var b strings.Builder
			b.Grow(len(text)) // the one allocation
			for j := range len(text) {
				c := text[j]
				if c-'a' <= 'z'-'a' {
					c -= 'a' - 'A'
				}
				b.WriteByte(c)
			}
			return b.String()
		}
	}
	return text
}

// space is the length of the white space at the start of s, 0 for none. A
// no-break space (two bytes) counts: text copied from a web page has it.
func space(s string) int {
	if s == "" {
		return 0
	}
	if s[0] <= ' ' {
		return 1
	}
	if strings.HasPrefix(s, noBreak) {
		return len(noBreak)
	}
	return 0
}

const noBreak = "\u00a0"

// nextWord is the first word of s at or after pos; empty at the end. An equals
// sign ends a word too: bulletins may set the next report right behind it.
func nextWord(s string, pos int) (start, end int) {
	for pos < len(s) {
		n := space(s[pos:])
		if n == 0 {
			break
		}
		pos += n
	}
	start = pos
	for ; pos < len(s); pos++ {
		switch c := s[pos]; {
		case c <= ' ', c == noBreak[0] && space(s[pos:]) > 0:
			return start, pos
		case c == '=' && pos+1 < len(s) && s[pos+1] != '=':
			return start, pos + 1
		}
	}
	return start, pos
}

// bare is a word without the punctuation that people and bulletins put behind
// it; closed says that there was an equals sign, which ends a report.
func bare(word string) (w string, closed bool) {
	n := len(word)
	for n > 0 && (word[n-1] == ',' || word[n-1] == ';' || word[n-1] == '=') {
		closed = closed || word[n-1] == '='
		n--
	}
	return word[:n], closed
}

// isIdent says whether w can name a station: three or four letters and
// digits, a letter first.
func isIdent(w string) bool {
	if len(w) != 3 && len(w) != 4 || !isLetter(w[0]) {
		return false
	}
	for i := 1; i < len(w); i++ {
		if !isLetter(w[i]) && !isDigit(w[i]) {
			return false
		}
	}
	return true
}

// reportTime reads DDHHMM with or without the Z. shape says that the word is
// built like one, ok that it also is a day and a time.
func reportTime(w string) (day, hour, minute int, shape, ok bool) {
	if len(w) == 7 && w[6] == 'Z' {
		w = w[:6]
	}
	if len(w) != 6 || !digits(w) {
		return 0, 0, 0, false, false
	}
	day, hour, minute = number(w[:2]), number(w[2:4]), number(w[4:])
	return day, hour, minute, true, day >= 1 && day <= 31 && hour <= 23 && minute <= 59
}

// temperature reads two digits with M before them for below zero. M00 is
// between -0.5 and 0 and is given as 0: no sign is lost to a negative zero.
func temperature(w string) (c int, ok bool) {
	neg := w != "" && w[0] == 'M'
	if neg {
		w = w[1:]
	}
	if len(w) != 2 || !digits(w) {
		return 0, false
	}
	c = number(w)
	if neg {
		c = -c
	}
	return c, true
}

// bodyGroup reads TT/TdTd, either half of which may be missing: 10/, 10//,
// 10///, M05/M07, ///M07. A run of slashes alone gives no temperature and
// could be any group. Source: WMO FM 15; the US form 10/ and the three slashes
// of UK AIP GEN 3.5 as seen in reports.
func bodyGroup(w string) (t, d Temp, ok bool) {
	if dew, found := strings.CutPrefix(w, "///"); found {
		c, ok := temperature(dew)
		return Temp{}, Temp{engine.Celsius(c), ok}, ok
	}
	left, right, _ := strings.Cut(w, "/")
	if len(left) == len(w) {
		return t, d, false
	}
	c, ok := temperature(left)
	if !ok {
		return t, d, false
	}
	t = whole(c)
	if right == "" || right == "/" || right == "//" {
		return t, d, true
	}
	c, ok = temperature(right)
	return t, whole(c), ok
}

// brokenBody says of a word that is no group that it stands for a body group
// all the same: two short halves about a stroke, M3O/M42 or -38/-42, and no
// altitudes, 8200/7400. None of the real reports without a temperature has one
// (testdata/wx).
func brokenBody(w string) bool {
	const longest = len("M38.2")
	left, right, stroke := strings.Cut(w, "/")
	altitude := func(half string) bool { return len(half) > 2 && digits(half) }
	return stroke && len(left) <= longest && len(right) <= longest && !altitude(left) && !altitude(right)
}

// tenths reads sTTT: a sign digit, 1 for below zero, and tenths of a degree.
// Source: AFMAN 15-111 remarks 30 to 33.
func tenths(w string) (Temp, bool) {
	if len(w) != 4 || !digits(w) || w[0] > '1' {
		return Temp{}, false
	}
	n := number(w[1:])
	if w[0] == '1' {
		n = -n
	}
	return inTenths(n), true
}

// validity reads DDHH/DDHH. shape says that the word is built like one, ok
// that its days and hours exist; the hour 24 does.
func validity(w string) (from, to dayHour, shape, ok bool) {
	if len(w) != 9 || w[4] != '/' || !digits(w[:4]) || !digits(w[5:]) {
		return from, to, false, false
	}
	from = dayHour{number(w[:2]), number(w[2:4])}
	to = dayHour{number(w[5:7]), number(w[7:])}
	return from, to, true, from.exists() && to.exists()
}

func isWind(w string) bool {
	if isVariation(w) {
		return true
	}
	switch {
	case strings.HasSuffix(w, "KT"):
		w = w[:len(w)-2]
	case strings.HasSuffix(w, "MPS"), strings.HasSuffix(w, "KMH"):
		w = w[:len(w)-3]
	default:
		return false
	}
	// E before the direction is an estimate in military reports (seen in the
	// corpus).
	w = strings.TrimPrefix(w, "E")
	if len(w) < 5 || !figure(w[:3], 3) && w[:3] != "VRB" {
		return false
	}
	mean, gust, gusts := strings.Cut(w[3:], "G")
	return isSpeed(mean) && (!gusts || isSpeed(gust))
}

func isSpeed(w string) bool {
	w = strings.TrimPrefix(w, "P")
	return figure(w, 2) || figure(w, 3)
}

// isVariation is the wind direction's range, 240V310.
func isVariation(w string) bool {
	return len(w) == 7 && w[3] == 'V' && digits(w[:3]) && digits(w[4:])
}

// isMiles is a visibility in statute miles (10SM, P6SM, M1/4SM, 1/2SM, ////SM)
// or kilometres.
func isMiles(w string) bool {
	switch {
	case strings.HasSuffix(w, "SM"), strings.HasSuffix(w, "KM"):
		w = w[:len(w)-2]
	default:
		return false
	}
	if blanks(w) {
		return true
	}
	if w != "" && (w[0] == 'P' || w[0] == 'M') {
		w = w[1:]
	}
	top, bottom, fraction := strings.Cut(w, "/")
	if fraction && (len(bottom) > 2 || !digits(bottom)) {
		return false
	}
	return len(top) <= 2 && digits(top)
}

// isDirected is a visibility in metres that cannot be a bare number: 3000NE,
// 9999NDV.
func isDirected(w string) bool {
	if len(w) < 5 || !digits(w[:4]) {
		return false
	}
	switch w[4:] {
	case "N", "NE", "E", "SE", "S", "SW", "W", "NW", "NDV":
		return true
	}
	return false
}

// isMetres says whether four digits are a visibility that the code can
// express: steps of 50 m below 800, 100 m to 5 km, 1 km above, 9999 for more.
// Source: ICAO Annex 3, appendix 3, 4.2.4 (from memory); all 3 356 reports of
// the corpus keep to it.
func isMetres(w string) bool {
	if len(w) != 4 || !digits(w) {
		return false
	}
	n := number(w)
	return n == 9999 || n < 800 && n%50 == 0 || n <= 5000 && n%100 == 0 || n%1000 == 0
}

// isRunway is a runway visual range or a runway's state in any of its forms:
// R04/720095, R19/4000FT, R10L/3500V4500FT, R09/CLRD60, R09/D, R/SNOCLO, and
// the eight figures without an R (08220356, 1519//65, 88CLRD70).
func isRunway(w string) bool {
	if len(w) > 1 && w[0] == 'R' {
		i := 1
		for i < len(w) && i < 3 && isDigit(w[i]) {
			i++
		}
		if i < len(w) && i > 1 && (w[i] == 'L' || w[i] == 'C' || w[i] == 'R') {
			i++
		}
		return i < len(w) && w[i] == '/' && (i > 2 || strings.HasSuffix(w, "SNOCLO"))
	}
	if w == "SNOCLO" {
		return true
	}
	if len(w) != 8 || !digits(w[:2]) {
		return false
	}
	if strings.HasPrefix(w[2:], "CLRD") {
		return true
	}
	for i := 2; i < 8; i++ {
		if !isDigit(w[i]) && w[i] != '/' {
			return false
		}
	}
	return true
}

func isCloud(w string) bool {
	switch w {
	case "CLR", "SKC", "NSC", "NCD", "CAVOK":
		return true
	}
	var rest string
	switch {
	case strings.HasPrefix(w, "VV"):
		rest = w[2:]
	case len(w) > 3 && (w[:3] == "FEW" || w[:3] == "SCT" || w[:3] == "BKN" || w[:3] == "OVC" || w[:3] == "///"):
		rest = w[3:]
	default:
		return false
	}
	if len(rest) < 3 || !figure(rest[:3], 3) {
		return false
	}
	switch rest[3:] {
	case "", "CB", "TCU", "///":
		return true
	}
	return false
}

// isWeather is present, recent or forecast weather: an intensity, VC or RE,
// and pairs of letters. Source: WMO code table 4678.
func isWeather(w string) bool {
	switch {
	case w == "NSW" || w == "//":
		return true
	case strings.HasPrefix(w, "RE") || strings.HasPrefix(w, "VC"):
		w = w[2:]
	case w != "" && (w[0] == '+' || w[0] == '-'):
		w = strings.TrimPrefix(w[1:], "VC")
	}
	if w == "//" {
		return true
	}
	if len(w) < 2 || len(w)%2 != 0 || len(w) > 10 {
		return false
	}
	for i := 0; i < len(w); i += 2 {
		switch w[i : i+2] {
		case "MI", "BC", "PR", "DR", "BL", "SH", "TS", "FZ",
			"DZ", "RA", "SN", "SG", "IC", "PL", "PE", "GR", "GS", "UP",
			"BR", "FG", "FU", "VA", "DU", "SA", "HZ", "PY", "PO", "SQ", "FC", "SS", "DS":
		default:
			return false
		}
	}
	return true
}

// isColour is a military colour state, one or two of them joined, BLACK
// before it or not.
func isColour(w string) bool {
	w = strings.TrimPrefix(strings.TrimPrefix(w, "BLACK"), "BLK")
	for w != "" {
		switch {
		case strings.HasPrefix(w, "BLU+"), strings.HasPrefix(w, "YLO1"), strings.HasPrefix(w, "YLO2"):
			w = w[4:]
		case strings.HasPrefix(w, "BLU"), strings.HasPrefix(w, "WHT"), strings.HasPrefix(w, "GRN"),
			strings.HasPrefix(w, "YLO"), strings.HasPrefix(w, "AMB"), strings.HasPrefix(w, "RED"):
			w = w[3:]
		default:
			return false
		}
	}
	return true
}

// isSea is the sea's temperature with its state or wave height: W15/S3,
// WM01/H12, W///S9. Source: WMO FM 15, 15.12.
func isSea(w string) bool {
	if len(w) < 2 || w[0] != 'W' {
		return false
	}
	water, state, found := strings.Cut(w[1:], "/")
	if strings.HasPrefix(w, "W///") {
		water, state, found = "//", w[4:], true
	}
	if _, ok := temperature(water); !ok && water != "//" || !found || len(state) < 2 {
		return false
	}
	rest := state[1:]
	switch state[0] {
	case 'S':
		return figure(rest, 1)
	case 'H':
		return len(rest) <= 3 && (digits(rest) || blanks(rest))
	}
	return false
}

// isHumidity is RH100, a relative humidity (seen in the corpus).
func isHumidity(w string) bool {
	return len(w) >= 4 && len(w) <= 5 && w[:2] == "RH" && digits(w[2:])
}

// isTrendTime is FM, TL or AT with an hour and minute.
func isTrendTime(w string) bool {
	return len(w) == 6 && (w[:2] == "FM" || w[:2] == "TL" || w[:2] == "AT") && digits(w[2:])
}
