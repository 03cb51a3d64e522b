package chat

import (
	"fmt"
	"strings"
	"unicode"

	"firn/bot"
	"firn/bot/parse"
	"firn/bot/reply"
)

// formOf is the form that an event brought.
func formOf(e Event) Form {
	if id := e.Fields[FieldRecord]; id != "" {
		f := BlindForm{Record: oneLine(id), All: e.Fields[FieldAllEntered]}
		for i := range mostEntered {
			typed, ok := e.Fields[FieldEntered(i)]
			if !ok {
				break
			}
			f.Typed = append(f.Typed, typed)
		}
		f.Names = make([]string, len(f.Typed))
		return Form{Enter: &f}
	}
	return Form{Station: e.Fields[FieldStation], Temperature: e.Fields[FieldTemperature], Altitudes: e.Fields[FieldAltitudes]}
}

// mostEntered is more altitudes than a procedure has; ours.
const mostEntered = 100

// line is the form as one message.
func (f Form) line() string {
	if f.Enter != nil {
		all := append(append([]string{"check", f.Enter.Record}, f.Enter.Typed...), oneField(f.Enter.All))
		return strings.Join(strings.Fields(strings.Join(all, " ")), " ")
	}
	return strings.Join(strings.Fields(oneField(f.Station)+" "+oneField(f.Temperature)+" "+oneField(f.Altitudes)), " ")
}

// oneField puts the lines of a field behind each other: "FAF 8200" above
// "7400" is not a FAF with two altitudes.
func oneField(text string) string {
	lines := strings.FieldsFunc(text, func(r rune) bool {
		return r == '\n' || r == '\r' || r == '\v' || r == '\f' || r == '\u0085' || r == '\u2028' || r == '\u2029'
	})
	kept := lines[:0]
	for _, l := range lines {
		if l = strings.Trim(l, " \t,;"); l != "" {
			kept = append(kept, l)
		}
	}
	return strings.Join(kept, ", ")
}

// Check gives the problems of a form by field. A field is looked at with those
// before it, as a message alone, so that the words are those of a message.
func (d *Dispatcher) Check(f Form) map[string]string {
	if f.Enter != nil {
		return f.Enter.check()
	}
	problems := map[string]string{}
	station, temperature, altitudes := oneField(f.Station), oneField(f.Temperature), oneField(f.Altitudes)
	if p := d.stationProblem(station); p != "" {
		problems[FieldStation] = p
	}
	before := station
	if problems[FieldStation] != "" {
		before = "elev 0" // anything that lets the other fields be read
	}
	if p := d.temperatureProblem(before, temperature); p != "" {
		problems[FieldTemperature] = p
	}
	if problems[FieldTemperature] != "" {
		temperature = "-20"
	}
	switch {
	case altitudes == "":
		problems[FieldAltitudes] = "Give the altitudes as published, such as FAF 8200, DA 5340."
	case !strings.ContainsFunc(altitudes, unicode.IsDigit):
		problems[FieldAltitudes] = "There is no altitude in it; give them as published, such as FAF 8200, DA 5340."
	case d.set.Problem != nil:
		if p := d.set.Problem(before + " " + temperature + " " + altitudes); p != nil {
			problems[FieldAltitudes] = p.Text
		}
	}
	if len(problems) == 0 {
		return nil
	}
	return problems
}

// check says what cannot be an altitude; whether one agrees is for the record.
func (f *BlindForm) check() map[string]string {
	problems := map[string]string{}
	for i, typed := range f.Typed {
		switch n, wrong := parse.Entered(typed); {
		case wrong != "":
			problems[FieldEntered(i)] = wrong
		case n == 0:
			problems[FieldEntered(i)] = "Enter the corrected altitude from your own table."
		case n > 1:
			problems[FieldEntered(i)] = "Enter one altitude."
		}
	}
	if len(f.Typed) == 0 {
		switch n, wrong := parse.Entered(oneField(f.All)); {
		case wrong != "":
			problems[FieldAllEntered] = wrong
		case n == 0:
			problems[FieldAllEntered] = "Enter the corrected altitudes from your own table."
		case len(f.Names) > 0 && n != len(f.Names):
			problems[FieldAllEntered] = fmt.Sprintf("%d altitudes are asked for, in the card's order, and %d are entered.", len(f.Names), n)
		}
	}
	if len(problems) == 0 {
		return nil
	}
	return problems
}

// entering is the form that a reply asks for.
func entering(e *reply.BlindCheck) Form {
	return Form{Enter: &BlindForm{Record: e.Record, Names: e.Altitudes}}
}

func (d *Dispatcher) stationProblem(typed string) string {
	if typed == "" {
		return "Choose the station, or type its ident."
	}
	var near []bot.Offer
	if d.set.Stations != nil {
		near = d.set.Stations.Find(typed, 1)
		if len(near) > 0 && strings.EqualFold(near[0].Value, typed) {
			return ""
		}
	}
	switch {
	case d.set.Problem != nil && d.set.Problem(typed+" -20") == nil: // a name, an elevation
		return ""
	case d.set.Stations == nil && d.set.Problem == nil:
		return ""
	case len(near) > 0:
		return fmt.Sprintf("%s is not a station firn knows; did you mean %s?", short(typed), near[0].Value)
	}
	return parse.UnknownStation(short(typed))
}

func (d *Dispatcher) temperatureProblem(before, typed string) string {
	if typed == "" {
		return "Give the temperature with its sign, such as -38."
	}
	if p := parse.TemperatureProblem(typed); p != "" || d.set.Problem == nil {
		return p
	}
	if p := d.set.Problem(before + " " + typed); p != nil {
		return p.Text
	}
	return ""
}

// short is typed text for a sentence.
func short(typed string) string {
	const most = 24 // characters; ours
	text := []rune(oneLine(typed))
	if len(text) > most {
		return string(text[:most]) + "…"
	}
	return string(text)
}

// Stations are those that fit what was typed.
func (d *Dispatcher) Stations(typed string, limit int) []bot.Offer {
	if d.set.Stations == nil || limit <= 0 {
		return nil
	}
	found := d.set.Stations.Find(strings.TrimSpace(typed), limit)
	return found[:min(limit, len(found))]
}

// filled is the form for what was typed with the wish for one: the station that it
// names, and nothing that could be misread.
func (d *Dispatcher) filled(text string) Form {
	if d.set.Named == nil {
		return Form{}
	}
	return Form{Station: d.set.Named(text)}
}

// sendBack is what a form with problems says where it cannot be opened again.
func sendBack(f Form, problems map[string]string) reply.Reply {
	var texts []string
	fields := []string{FieldStation, FieldTemperature, FieldAltitudes}
	if f.Enter != nil {
		fields = []string{FieldAllEntered}
		for i := range f.Enter.Typed {
			fields = append(fields, FieldEntered(i))
		}
	}
	for _, field := range fields {
		if p := problems[field]; p != "" {
			texts = append(texts, p)
		}
	}
	return reply.Ask(reply.Problem{Text: strings.Join(texts, " "), Try: f.line()})
}
