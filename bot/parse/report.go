package parse

import (
	"errors"
	"slices"
	"strings"

	"firn/engine/procedure"
	"firn/engine/wxreport"
)

// cutReport takes a pasted METAR or SPECI out of a message. It gives the
// report and what remains: the words before it, those in it that are no part
// of a report, and everything behind the semicolon or line break that ends
// it. After RMK a bare number belongs to the report.
func cutReport(s string) (m wxreport.Metar, rest string, found bool, p *Problem) {
	start, kind := findReport(s)
	switch kind {
	case noReport:
		return m, s, false, nil
	case forecast:
		return m, s, false, aForecast(s[start : start+len("TAF")])
	}
	end := remarksEnd(s, start, reportEnd(s, start))
	if _, again := findReport(s[end:]); again != noReport {
		return m, s, false, &Problem{Text: sayTwoReports}
	}
	m, left, err := wxreport.ParseMetar(s[start:end])
	if err == nil && !wxreport.LooksLikeMetar(s[start:end]) {
		return m, s, false, aForecast("")
	}
	if err != nil {
		p := &Problem{Text: sayReportUnread(err.Error())}
		if e, ok := errors.AsType[*wxreport.Error](err); ok {
			p.Word, p.Text = abbreviate(e.Word), sayReportUnread(strings.ReplaceAll(e.Text, e.Word, abbreviate(e.Word)))
		}
		return m, s, false, p
	}
	var b strings.Builder
	b.Grow(len(s))
	b.WriteString(s[:start])
	b.WriteByte('\n')
	for _, l := range left {
		b.WriteString(s[start+l.Start : start+l.End])
		b.WriteByte(' ')
	}
	b.WriteByte('\n')
	b.WriteString(s[end:])
	return m, b.String(), true, nil
}

func aForecast(word string) *Problem {
	return &Problem{
		Word: word,
		Text: sayForecast,
	}
}

type reportKind uint8

const (
	noReport reportKind = iota
	observation
	forecast
)

// findReport looks for the day-and-time group that every report has behind
// its ident, or the word METAR or SPECI, and gives where the report begins.
func findReport(s string) (start int, kind reportKind) {
	previous, at := -1, 0
	for at < len(s) {
		if isBreak(s[at]) {
			if s[at] != ' ' {
				previous = -1
			}
			at++
			continue
		}
		end := at
		for end < len(s) && !isBreak(s[end]) {
			end++
		}
		word := s[at:end]
		switch {
		case isWord(word, "TAF") && timeBehind(s[end:]): // "using the taf low" is talk
			return at, forecast
		case (isWord(word, "METAR") || isWord(word, "SPECI")) && timeBehind(s[end:]):
			return at, observation
		case isReportTime(word) && reportBehind(s[end:]):
			if previous < 0 {
				previous = at
			}
			return previous, observation
		}
		previous = -1
		if n := len(word); n >= 3 && n <= 4 && isLetter(word[0]) {
			previous = at // may be the ident
		}
		at = end
	}
	return 0, noReport
}

// isWord says that a word is another in any case.
func isWord(word, is string) bool { return len(word) == len(is) && strings.EqualFold(word, is) }

// isReportTime is true of 251153Z, and of 321153Z, which says so itself.
func isReportTime(word string) bool {
	return len(word) == 7 && digitsAt(word, 0) == 6 && word[6]|0x20 == 'z' || wxreport.IsReportTime(word)
}

// timeBehind says that a report's time follows the word METAR within a few
// words: "metar says M38/M42" is talk.
func timeBehind(rest string) bool {
	words := strings.Fields(rest)
	return slices.ContainsFunc(words[:min(len(words), 3)], isReportTime)
}

// reportBehind says that a report goes on behind its time: 021430Z alone is a
// time of arrival, and so is each of several.
func reportBehind(rest string) bool {
	for w := range strings.FieldsFuncSeq(rest, func(c rune) bool { return c < 0x80 && isBreak(byte(c)) }) {
		if isReportTime(w) {
			continue
		}
		up := strings.ToUpper(w)
		switch up {
		case "AUTO", "COR", "NIL", "CAVOK", "CLR", "SKC", "RMK":
			return true
		}
		if end, ok := pairAt(w, 0); ok && end == len(w) || strings.HasSuffix(up, "KT") || strings.HasSuffix(up, "MPS") || wxreport.LooksLikeMetar(w) || coded(strings.ToLower(w)) {
			return true
		}
	}
	return false
}

func isBreak(c byte) bool { return c <= ',' && (c == ' ' || c == '\n' || c == ',') || c == ';' }

// reportEnd is where the report that begins at start ends: a semicolon, an
// equals sign, or a line break, unless the next line goes on with the report.
func reportEnd(s string, start int) int {
	for i := start; i < len(s); i++ {
		switch s[i] {
		case ';', '=':
			return i
		case '\n':
			if !goesOn(s[start:i], s[i+1:]) {
				return i
			}
		}
	}
	return len(s)
}

// remarksEnd is where the remarks of a report end before end: at the name of
// an approach or a label, which no remark has and a crew types behind what it
// pastes.
func remarksEnd(s string, start, end int) int {
	remarks := false
	for at := start; at < end; {
		if isBreak(s[at]) {
			at++
			continue
		}
		stop := at
		for stop < end && !isBreak(s[stop]) {
			stop++
		}
		if remarks && crewsWord(s[at:stop]) {
			return at
		}
		remarks = remarks || isWord(s[at:stop], "RMK")
		at = stop
	}
	return end
}

// crewsWord says that a word names an approach ("ils", "rnav31"), a way in, a
// label of an altitude or what an aircraft has.
func crewsWord(word string) bool {
	var room [16]byte
	if len(word) > len(room) {
		return false
	}
	lower := room[:copy(room[:], word)]
	n := 0
	for i, c := range lower {
		lower[i] = c | lowerBit(c)
		if isLetter(c) && n == i {
			n++
		}
	}
	for _, p := range phrases[string(lower[:n])] {
		if len(p.words) > 1 {
			continue
		}
		switch p.meaning {
		case kindWord:
			return n == len(word) || len(word)-n <= len("31l") && isDigit(word[n])
		case wayWord, sbasWord, compensatedWord, lineWord:
			return n == len(word)
		case roleWord:
			return n == len(word) && (p.role == procedure.InitialFix || p.role == procedure.FinalFix)
		}
	}
	return false
}

// isRemark is true of the remarks that no crew types: T13781422, SLP044, AO2.
func isRemark(w string) bool {
	switch {
	case w == "AO1", w == "AO2":
		return true
	case strings.HasPrefix(w, "SLP"):
		return len(w) == 6 && digitsAt(w, 3) == 3
	case strings.HasPrefix(w, "T"):
		return (len(w) == 5 || len(w) == 9) && digitsAt(w, 1) == len(w)-1
	}
	return false
}

// goesOn says that a line broken in the middle of a report continues: the
// next line opens with remarks or a trend, or the temperature is still to come.
func goesOn(sofar, next string) bool {
	next = strings.TrimLeft(next, " ")
	word, _, _ := strings.Cut(strings.SplitN(next, "\n", 2)[0], " ")
	switch strings.ToUpper(word) {
	case "RMK", "TEMPO", "BECMG", "NOSIG":
		return true
	case "":
		return false
	}
	if strings.Contains(strings.ToUpper(sofar), "RMK") && isRemark(strings.ToUpper(word)) {
		return true
	}
	if m, _, err := wxreport.ParseMetar(sofar); err == nil && m.Body.OK {
		return false
	}
	line, _, _ := strings.Cut(next, "\n")
	for _, w := range strings.Fields(line) {
		if end, ok := pairAt(w, 0); ok && end == len(w) {
			return true
		}
	}
	return false
}
