package parse

import (
	"slices"
	"strings"

	"firn/engine"
	"firn/engine/procedure"
)

// Scale is the scale of a temperature that was said without its figure.
type Scale uint8

// The scales; NoScale is the zero value.
const (
	NoScale Scale = iota
	InCelsius
	InFahrenheit
)

// InScale is a request for the temperature of r with its figure, as it was typed, in
// this scale. ok is false where no figure stands there, or none that occurs.
func (r Request) InScale(s Scale) (out Request, ok bool) {
	typed := float64(r.Temperature)
	if r.InFahrenheit {
		typed = float64(r.Fahrenheit)
	}
	out.HasTemperature, out.InFahrenheit = true, s == InFahrenheit
	out.Temperature = engine.Celsius(typed)
	if out.InFahrenheit {
		out.Fahrenheit = engine.Fahrenheit(typed)
		out.Temperature = out.Fahrenheit.Celsius()
	}
	return out, r.HasTemperature && s != NoScale && out.Temperature >= coldest && out.Temperature <= hottest
}

// scaleSaid is the scale that the message names, and not the one that it says is not
// so: "C not F".
func (rd *reading) scaleSaid() (s Scale) {
	if !rd.has(changeWord, notWord, noWord, insteadWord) && !slices.ContainsFunc(rd.tokens, func(t token) bool { return slices.Contains(thatWords, t.word) }) {
		return NoScale // "celsius": asked for, perhaps
	}
	for i, t := range rd.tokens {
		var of Scale
		switch {
		case rd.tags[i].n != 1:
			continue
		case t.word == "c" || t.word == "celsius" || t.word == "centigrade":
			of = InCelsius
		case t.word == "f" || t.word == "fahrenheit":
			of = InFahrenheit
		default:
			continue
		}
		switch {
		case rd.means(i-1) == notWord && of == InCelsius:
			of = InFahrenheit
		case rd.means(i-1) == notWord:
			of = InCelsius
		}
		if s != NoScale && s != of {
			return NoScale
		}
		s = of
	}
	return s
}

// What crews say of themselves, common ones of five languages.
var (
	// thatWords point at what was said before.
	thatWords = []string{"that", "that's", "thats", "it", "it's", "its", "das", "det", "c'est", "c'etait", "esa", "ese", "eso", "era"}
	// notWords and lackWords together say that there is no such thing aboard.
	notWords  = []string{"dont", "don't", "haven't", "havent", "hasn't", "hasnt", "doesn't", "doesnt", "not", "no", "nicht", "kein", "keine", "keins", "ikke", "ingen", "pas", "nope", "nei", "nein", "non", "lost"}
	lackWords = []string{"we", "i", "have", "has", "got", "it", "that", "this", "one", "the", "a", "ours", "plane", "aircraft", "jet", "ok", "okay", "but", "so", "do", "does", "though", "tho", "sorry", "actually", "here", "on", "yet", "wait", "hang", "hmm", "um", "uh", "any", "us", "them",
		"wir", "haben", "das", "hat", "ja", "vi", "har", "det", "on", "n'a", "l'a", "ne", "ca", "lo", "tenemos", "tiene", "pero", "mais", "aber", "men"}
	// claimWords stand beside a figure that somebody has worked out, or was told.
	claimWords = []string{"had", "get", "gets", "got", "getting", "came", "comes", "come", "calculate", "calculated", "compute", "computed", "computes", "worked",
		"fikk", "far", "faar", "bekomme", "bekommt", "krieg", "kriege", "kriegt", "hatte", "obtiens", "obtient", "trouve", "avais", "obtengo", "obtiene", "tenia", "saco"}
	// sourceWords say that a figure is published.
	sourceWords = []string{"notam", "notams", "new", "amended", "amendment", "revision", "edition", "ny", "nytt", "neu", "neue", "nouvelle", "nueva"}
)

// ThatOne says that an answer points at what was said before it: "that was the IF".
func (a Answer) ThatOne() bool {
	return slices.ContainsFunc(a.Words, func(w string) bool { return slices.Contains(thatWords, w) })
}

// Lacks says that an answer says that something is not there, and nothing else: "we
// don't have that".
func (a Answer) Lacks() bool {
	not := func(w string) bool { return slices.Contains(notWords, w) }
	return !a.Asks && len(a.Figures) == 0 && len(a.Words) > 1 && slices.ContainsFunc(a.Words, not) &&
		!slices.ContainsFunc(a.Words, func(w string) bool { return !not(w) && !slices.Contains(lackWords, w) })
}

// ownRules is the label of the words for the rules that the unit has configured.
const ownRules = "ours"

// Category says that an answer names a category of aircraft.
func (a Answer) Category() bool {
	return slices.ContainsFunc(a.Words, func(w string) bool { return w == "cat" || w == "category" })
}

// LinesOf are the answers to whose line a figure is.
func LinesOf(figure string) []Choice {
	var out []Choice
	for _, line := range []string{"loc", "lnav", "lp", "vor", "ndb"} {
		out = append(out, Choice{Words: []string{line}, Line: strings.ToUpper(line) + " MDA " + figure})
	}
	return append(out, Choice{Words: []string{"circling"}, Line: "circling " + figure})
}

// Several says that an answer means all of its kind: "the steps", "both".
func (a Answer) Several() bool {
	return slices.ContainsFunc(a.Words, func(w string) bool {
		return slices.Contains([]string{"all", "both", "every", "alle", "begge", "beide", "tous", "toutes", "todos", "todas", "downs", "stepdowns", "steps", "fixes"}, w)
	})
}

// Wrong says that an answer says of something that it is wrong.
func (a Answer) Wrong() bool {
	return slices.ContainsFunc(a.Words, func(w string) bool {
		return slices.Contains([]string{"wrong", "incorrect", "feil", "falsch", "faux", "fausse", "mal", "incorrecto"}, w)
	})
}

// notNeeded says that the message says of the figures before its end that they are not
// needed: "8200 not needed".
func (rd *reading) notNeeded() bool {
	last := len(rd.tokens) - 1
	if last < 2 || !slices.Contains([]string{"needed", "required", "necessary"}, rd.wordAt(last)) {
		return false
	}
	for i := last - 1; i > 0 && rd.tokens[i].kind == wordToken; i-- {
		if slices.Contains([]string{"not", "isn't", "isnt", "aren't", "arent", "longer"}, rd.wordAt(i)) {
			return true
		}
	}
	return false
}

// Claims says that an answer has a figure that somebody got or had, and no word for
// where it is published: "my fo gets 5630 for the MDA".
func (a Answer) Claims() bool {
	return len(a.Figures) == 1 && slices.ContainsFunc(a.Words, func(w string) bool { return slices.Contains(claimWords, w) }) &&
		!slices.ContainsFunc(a.Words, func(w string) bool { return slices.Contains(ChartWords, w) || slices.Contains(sourceWords, w) })
}

// DropsLabel says that an answer takes the altitude with a label away, and says nothing
// else.
func (a Answer) DropsLabel() bool {
	return a.Label && !a.Else && !a.Asks && a.Pick == Drop && len(a.Figures) == 0 && len(a.Weighty) == 1
}

// Makes says that an answer has figures that somebody makes of it: "I make it 5480".
func (a Answer) Makes() bool {
	at := slices.IndexFunc(a.Words, func(w string) bool { return slices.Contains(whoMakes, w) })
	return at >= 0 && len(a.Figures) > 0 && slices.ContainsFunc(a.Words[at+1:], func(w string) bool { return w == "make" || w == "makes" || w == "made" })
}

// whoMakes are those who work a figure out beside firn.
var whoMakes = []string{"i", "we", "he", "she", "fo", "captain", "capt", "skipper", "copilot", "pm", "pf"}

// Zone is the zone of times that an answer names, and nothing else: "local", "utc
// please"; ok is false where it names none.
func (a Answer) Zone() (z Zone, ok bool) {
	if a.Else || a.Asks || a.Not || a.Thanks || len(a.Figures) > 0 || a.Pick != NoPick && a.Pick != Both {
		return z, false
	}
	for _, w := range a.Words {
		switch of, names := zoneNames[w]; {
		case names && ok && of != z:
			return z, false
		case names:
			z, ok = of, true
		case slices.Contains(a.Weighty, w) && !slices.Contains([]string{"time", "times", "tid", "zeit", "heure", "hora", "yes", "no", "all"}, w):
			return z, false
		}
	}
	return z, ok
}

// zoneNames are what crews call the two zones that a time may be in.
var zoneNames = map[string]Zone{"local": Local, "lt": Local, "lokal": Local, "lokalt": Local, "lokaltid": Local, "lokalzeit": Local, "ortszeit": Local, "locale": Local,
	"z": UTC, "utc": UTC, "gmt": UTC}

// Everything says that an answer asks for all that there is again, and says nothing
// else: "all lines again", "the whole chart".
func (a Answer) Everything() bool {
	all := a.Pick == Both
	for _, w := range a.Weighty {
		switch {
		case slices.Contains(wholeWords, w):
			all = true
		case !slices.Contains(besideWhole, w):
			return false
		}
	}
	return all && !a.Else && !a.Thanks && !a.Not && len(a.Figures) == 0 && (a.Pick == Both || a.Pick == NoPick)
}

var (
	// wholeWords mean all that there is.
	wholeWords = []string{"everything", "whole", "entire", "complete", "alles", "komplett", "hele", "alt", "tout", "toutes", "todo", "todos", "todas"}
	// besideWhole stand beside them.
	besideWhole = []string{"again", "line", "lines", "minimum", "minimums", "minima", "mins", "min", "chart", "plate", "approach", "procedure", "show", "yes", "no", "back",
		"wieder", "linien", "minima", "igjen", "linjer", "kartet", "encore", "lignes", "otra", "vez", "lineas", "minimos"}
)

// Unit is "agl" or "m" where an answer says that of a figure, and nothing else; empty
// where it does not.
func (a Answer) Unit() (unit string) {
	if a.Else || a.Asks || a.Not || a.Thanks || len(a.Figures) > 0 || a.Pick != NoPick {
		return ""
	}
	for _, w := range a.Weighty {
		switch {
		case w == "agl" || w == "aal" || w == "height":
			w = "agl"
		case slices.Contains([]string{"m", "metres", "meters", "metre", "meter", "metros", "metri"}, w):
			w = "m"
		case w == "yes":
			continue
		default:
			return ""
		}
		if unit != "" && unit != w {
			return ""
		}
		unit = w
	}
	return unit
}

// onlyBare is which of the altitudes is the only one without a label; -1 for none.
func onlyBare(list []Altitude) int {
	bare := func(a Altitude) bool { return a.Role == procedure.NoRole }
	at := slices.IndexFunc(list, bare)
	if at >= 0 && slices.ContainsFunc(list[at+1:], bare) {
		return -1
	}
	return at
}

// Notam says that an answer is about a NOTAM.
func (a Answer) Notam() bool {
	return slices.Contains(a.Words, "notam") || slices.Contains(a.Words, "notams")
}

// NotamEnded says that a NOTAM holds no more, and nothing else.
func (a Answer) NotamEnded() bool {
	beside := []string{"notam", "notams", "the", "no", "yes", "ya", "has", "been"}
	return a.Notam() && !a.Asks && len(a.Figures) == 0 && slices.ContainsFunc(a.Words, func(w string) bool { return slices.Contains(endedWords, w) }) &&
		!slices.ContainsFunc(a.Weighty, func(w string) bool { return !slices.Contains(endedWords, w) && !slices.Contains(beside, w) })
}

// endedWords say of a NOTAM that it holds no more.
var endedWords = []string{"forget", "ignore", "disregard", "cancel", "cancelled", "canceled", "expired", "withdrawn", "drop", "scrap", "lifted", "over", "gone", "invalid", "void", "outdated",
	"kansellert", "opphevet", "utgatt", "borte", "aufgehoben", "abgelaufen", "vorbei", "weg", "annule", "annulee", "expire", "levee", "cancelado", "anulado", "caducado", "vencido"}

// And says that an answer joins two things.
func (a Answer) And() bool {
	return slices.ContainsFunc(a.Words, func(w string) bool { return slices.Contains([]string{"and", "plus", "og", "und", "et", "y", "e"}, w) })
}
