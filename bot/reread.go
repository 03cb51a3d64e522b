package bot

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"firn/bot/approach"
	"firn/bot/parse"
	"firn/engine/procedure"
)

// reread reads a message anew with what its thread has, where it says without that
// something else: figures in hundreds, a line by its accuracy or its figure, an arrival
// that is later, a station that is gone back to. ok is false where it says the same.
func (b *Bot) reread(th *thread, req *parse.Request, problem *parse.Problem, text string) (*parse.Request, *parse.Problem, bool) {
	now := &th.request
	switch {
	case problem != nil && len(th.arrivals) > 0 && laterBy.MatchString(text): // "xrun 30 later"
		next, p := b.reader.Parse(laterBy.ReplaceAllString(text, "delayed $1 min"))
		return &next, p, p == nil
	case problem == nil && len(th.arrivals) > 1 && onlyStation(*req) && req.Verb == parse.Correct && onlyThat(text): // "only XKLD"
		stops := slices.DeleteFunc(slices.Clone(th.arrivals), func(s parse.Stop) bool { return s.Station != req.Station })
		return &parse.Request{Verb: parse.Brief, Stops: stops}, nil, len(stops) > 0
	case problem != nil && now.Station == "", th.question.Asked || !th.answered:
	case problem != nil && now.HasTemperature && !req.HasTemperature && req.Station == "" && inHundreds(text):
		next, p := b.reader.Parse(now.Station + " " + now.TemperatureWord() + " " + text)
		return &next, p, p == nil || p.Try != ""
	case problem != nil && req.Unsigned > 0 && req.Unsigned < 1 && !req.UnsignedF: // "0.30" behind an RNP approach
		line := "rnp " + strconv.FormatFloat(req.Unsigned, 'f', -1, 64)
		return &parse.Request{Minima: line}, nil, hasLine(b.pointsOf(now), line)
	case problem != nil && problem.Sole && now.Way.Kind != parse.Via && now.Procedure != "" && whatOf(text) && b.knownFix(now.Station, problem.Word): // "what about XEMBA"
		way := asked(*now)
		way.Way = parse.Way{Kind: parse.Via, Fix: strings.ToUpper(problem.Word)}
		return req, &parse.Problem{Word: problem.Word, Text: parse.ComeIn(way.Way.Fix), Way: true, Try: way.Line()}, true
	case problem == nil && now.Procedure != "" && len(req.Gone) > 0 && len(req.Altitudes) == 1 && onlyMinimums(req):
		if line := b.lineAt(now, req.Altitudes[0]); line != "" { // "don't fly the DA, fly the MDA 5460"
			return &parse.Request{Minima: line}, nil, true
		}
	case problem == nil && onlyStation(*req) && req.Verb == parse.Correct && goesBack(text): // "no i want xkld"
		again := th.of(req.Station)
		return &again, nil, true
	}
	return req, problem, false
}

// laterBy is how many minutes an arrival is later, said with their unit or without.
var laterBy = regexp.MustCompile(`(?i)\b(\d{1,3})\s*(?:min|mins|minutes|m)?\s+(?:later|late)\b`)

// inHundreds says that a message has more than one figure of two digits, and none
// that is less: altitudes as crews say them.
func inHundreds(text string) bool {
	n := 0
	for _, w := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' || r == '/' || r == '\n' }) {
		v, err := strconv.Atoi(w)
		if err != nil {
			continue
		}
		if w[0] == '-' || w[0] == '+' || v < 10 {
			return false
		}
		if v < 100 {
			n++
		}
	}
	return n > 1
}

// onlyThat says that a message is about one thing alone: "only XKLD", "XKLD only".
func onlyThat(text string) bool {
	return slices.ContainsFunc(strings.Fields(strings.ToLower(text)), func(w string) bool {
		return slices.Contains([]string{"only", "just", "bare", "kun", "nur", "seulement", "solo", "sólo"}, w)
	})
}

// whatOf says that a message asks what there is to say of something.
func whatOf(text string) bool {
	text = strings.ToLower(text)
	return slices.ContainsFunc([]string{"what about", "how about", "what's with", "hva med", "was ist mit", "qu'en est-il de", "que tal"}, func(w string) bool { return strings.Contains(text, w) })
}

// goesBack says that a message wants what was there before: words beside a station.
func goesBack(text string) bool {
	text = " " + strings.ToLower(text) + " "
	return slices.ContainsFunc([]string{" want ", " back to ", " return to ", " wanted ", " vil ha ", " tilbake til ", " ich will ", " zurück zu ", " je veux ", " retour à ", " quiero "}, func(w string) bool { return strings.Contains(text, w) })
}

// onlyMinimums says that all altitudes of a request are minimums, and that it says
// nothing else.
func onlyMinimums(r *parse.Request) bool {
	other := func(a parse.Altitude) bool { return !a.Role.Minimum() && a.Role != procedure.Circling }
	return r.Station == "" && !r.HasTemperature && r.Procedure == "" && !slices.ContainsFunc(r.Gone, other) && !slices.ContainsFunc(r.Altitudes, other)
}

// pointsOf are those of the chart that a request is flown by; none where it is not
// certain which that is.
func (b *Bot) pointsOf(r *parse.Request) []procedure.Point {
	if r.Procedure == "" {
		return nil
	}
	a, one := approach.Find(b.charted(r.Station), r.Procedure).One()
	if !one {
		return nil
	}
	return a.Points()
}

// lineAt is the line of minimums of the chart that alone has this figure; empty where
// none has, or several.
func (b *Bot) lineAt(r *parse.Request, a parse.Altitude) (line string) {
	for _, p := range b.pointsOf(r) {
		if !p.Role.Minimum() && p.Role != procedure.Circling || fmt.Sprintf("%.0f", float64(p.Altitude)) != fmt.Sprintf("%.0f", float64(a.Feet())) {
			continue
		}
		if line != "" {
			return ""
		}
		if line = strings.ToLower(strings.TrimPrefix(p.Label, "S-")); p.Role == procedure.Circling {
			line = "circling"
		} else if !strings.HasPrefix(line, "rnp ") {
			line, _, _ = strings.Cut(line, " ")
		}
	}
	return line
}
