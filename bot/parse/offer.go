package parse

import "strings"

// offer is the line to type instead: what line reads as, written plainly.
// Where line has a problem of its own it is that one's line, and none where
// it would not be answered.
func (rd *reading) offer(line string) string {
	if rd.depth >= deepest || strings.TrimSpace(line) == "" {
		return ""
	}
	req, p := rd.parse(line, rd.depth+1)
	switch {
	case p != nil && p.Either:
		return "" // a guess about a guess
	case p != nil:
		return p.Try
	case req.HasReport && !req.Report.Believed(): // its temperature is no line's
		return ""
	case req.Empty() || traits[req.Verb].unoffered:
		return ""
	case req.Verb == Correct || req.Verb.Shows() || req.Verb == Route || req.Verb == Brief:
		return req.Line()
	}
	return strings.Join(strings.Fields(line), " ")
}

// poorer takes back an offer that only asks for the state of a station, where
// altitudes were typed.
func (rd *reading) poorer(p *Problem) {
	if len(rd.open) == 0 || p.Try == "" || rd.req.Verb != Correct {
		return
	}
	if p.Unread && len(rd.open) == 1 && !rd.place() && rd.req.HasTemperature && len(rd.req.Altitudes) == 0 {
		return // "bugger -42": in a thread it is a whole line
	}
	if req, _ := rd.parse(p.Try, deepest); req.Verb == Correct && len(req.Altitudes) == 0 && req.Procedure == "" {
		p.Try = ""
	}
}

// instead is the message with the tokens from i to j written otherwise. Whether
// it can be offered is seen once, for the problem that is told.
func (rd *reading) instead(i, j int, with string) string {
	return rd.around(rd.tokens[i].start, rd.tokens[j].end, with)
}

// mostWritten is how often a message is written otherwise, ours: whoever has so
// much to mend reads no line of the length, and each takes as long as it is.
const mostWritten = 50

// around is the message with what stands from start to end written otherwise;
// empty when that was done too often.
func (rd *reading) around(start, end int, with string) string {
	if rd.written++; rd.written > mostWritten {
		return ""
	}
	front, rest := rd.text[:start], rd.text[end:]
	switch {
	case with == "": // nor the separator that stood behind it, nor its brackets
		if strings.HasSuffix(front, "(") && strings.HasPrefix(rest, ")") {
			front, rest = front[:len(front)-1], rest[1:]
		}
		rest = strings.TrimLeft(rest, " ,/;|:=.")
	case with[0] == ',':
		front = strings.TrimRight(front, " ,/;|")
		if strings.HasSuffix(with, ":") {
			rest = strings.TrimLeft(rest, " ,/;|")
		}
	}
	if strings.TrimSpace(front) == "" {
		front = ""
	}
	line := strings.Join(strings.Fields(front+" "+with+" "+rest), " ")
	line = strings.Trim(line, " ,/;|")
	if rd.pasted {
		line = rd.withReport(line)
	}
	return line
}

// withReport puts the station and temperature of a pasted report in front of
// a line that was typed beside it.
func (rd *reading) withReport(line string) string {
	head := rd.req.Station
	if strings.Contains(" "+strings.ToUpper(line)+" ", " "+head+" ") {
		head = ""
	}
	if rd.req.HasTemperature {
		head += " " + rd.req.TemperatureWord()
	}
	return strings.TrimSpace(head + " " + line)
}
