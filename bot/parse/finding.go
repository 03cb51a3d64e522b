package parse

import (
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"firn/engine"
)

// Search is what a Stations message asks for: fields around a station, those
// that are restricted at the request's temperature, or those of a name.
type Search struct {
	Text   string  // part of an ident or a name, as typed; empty: not by name
	Near   string  // the station that they are around, as it is known; empty: anywhere
	Within float64 // nautical miles; 0: not said
	Cold   bool    // only those that are restricted
}

// ColdExample is a line that finds fields.
const ColdExample = "stations cold -25 within 200 NM of XKLD"

// Watched is what a Base message says of a base that is watched from now on, or
// not any more.
type Watched struct {
	Drop    bool
	At      string  // the local hour, HH:MM; empty: not said
	Hours   float64 // of the duty window; 0: not said
	Channel string  // as the configuration writes it, slack:C01; "here" where it was asked; empty: not said
}

// commands reads the messages that are about fields and no altitude: who begins
// one with its word means it. done is false for every other message.
func (rd *reading) commands() (done bool) {
	if !slices.ContainsFunc(rd.tokens, func(t token) bool { return ofCommand(t.word) }) {
		return false
	}
	words := strings.FieldsFunc(rd.text, func(c rune) bool { return unicode.IsSpace(c) || strings.ContainsRune(",;?!", c) })
	low := make([]string, len(words))
	for i, w := range words {
		low[i] = strings.ToLower(strings.Trim(w, "."))
	}
	return rd.baseCommand(words, low) || rd.findCommand(words, low)
}

// ofCommand says that a word is one of those without one of which no message is
// about fields: most messages have none, and need not be read for it.
func ofCommand(w string) bool {
	switch w {
	case "base", "stations", "airports", "airfields", "cold", "restricted", "near", "around", "nearest", "closest", "by", "within":
		return true
	}
	return false
}

// baseCommand reads "base add XABC 06:00 window 12 slack:C01" and "drop base
// XABC".
func (rd *reading) baseCommand(words, low []string) bool {
	if len(low) < 2 {
		return false
	}
	verb := low[1]
	if low[1] == "base" && low[0] != "base" {
		verb = low[0]
	} else if low[0] != "base" {
		return false
	}
	r := rd.req
	switch verb {
	case "add", "watch":
	case "drop", "remove", "delete", "end":
		r.Base.Drop = true
	default:
		return false
	}
	r.Verb = Base
	for i := 2; i < len(low); i++ {
		w := low[i]
		next := ""
		if i+1 < len(low) {
			next = low[i+1]
		}
		hours, isHours := hoursOf(w)
		switch {
		case slices.Contains([]string{"at", "in", "to", "for", "of", "the", "channel", "please", "local", "a"}, w):
		case w == "window" || w == "hours" || w == "h":
			if h, ok := hoursOf(next); ok && w == "window" {
				r.Base.Hours = h
				i++
			}
		case w == "here":
			r.Base.Channel = w
		case strings.Contains(w, ":") && channelWord.MatchString(w), w == "page", w == "console":
			r.Base.Channel = words[i]
			if a, b, ok := strings.Cut(words[i], ":"); ok {
				r.Base.Channel = strings.ToLower(a) + ":" + b
			}
		case clockWord.MatchString(w):
			w = strings.Replace(w, ":", "", 1)
			r.Base.At = w[:len(w)-2] + ":" + w[len(w)-2:]
			if len(r.Base.At) == 4 {
				r.Base.At = "0" + r.Base.At
			}
		case isHours && (strings.HasSuffix(w, "h") || next == "h" || next == "hours" || next == "hour"):
			r.Base.Hours = hours
		default:
			ident, ok := rd.places.Place(words[i])
			switch {
			case ok && (r.Station == "" || r.Station == ident):
				r.Station = ident
			case ok:
				rd.fail(0, &Problem{Word: words[i], Text: sayOneBase(r.Station, ident)})
			case r.Station == "" && len(w) >= 3:
				rd.fail(0, rd.unknownStation(words[i], func(with string) string {
					return strings.Join(slices.Concat(words[:i], []string{with}, words[i+1:]), " ")
				}))
			default:
				rd.fail(0, &Problem{Word: words[i], Text: sayBaseWord(words[i])})
			}
		}
	}
	if r.Station == "" && rd.problem == nil {
		rd.fail(0, &Problem{Word: "base", Text: sayBaseNeeds, Try: ""})
	}
	return true
}

var (
	channelWord = regexp.MustCompile(`^(slack|discord|file):.+$`)
	clockWord   = regexp.MustCompile(`^([01]?[0-9]|2[0-3]):?[0-5][0-9]$`)
	signed      = regexp.MustCompile(`^(?:-|\+|m|minus)([0-9]{1,2}(?:\.[0-9])?)(?:°?([cf]))?$`)
	unsigned    = regexp.MustCompile(`^([0-9]{1,2}(?:\.[0-9])?)(?:°?([cf]))?$`)
	distance    = regexp.MustCompile(`^([0-9]{1,4})(nm|miles|mi)?$`)
)

func hoursOf(w string) (float64, bool) {
	h, err := strconv.ParseFloat(strings.TrimSuffix(w, "h"), 64)
	return h, err == nil && h > 0
}

// findNouns are what fields are called; the first three may have a part of a name
// behind.
var findNouns = []string{"stations", "airports", "airfields", "fields", "aerodromes"}

// finding is a message that may look for fields.
type finding struct {
	words, low []string // as typed, and in lower case
	i          int      // the word that is read

	search  Search
	req     Request
	noun    bool     // they are called by a noun
	lead    int      // words such as "which" in front
	known   int      // words that belong to the finding
	place   string   // the word of the station that they are around
	name    []string // words that are none of these
	bare    string   // a figure without its sign
	leading bool     // nothing but the noun and words in front were read
}

// findCommand reads "stations cold -25 within 200 NM of XKLD", "stations near
// XKLD", "which airports are restricted at -25 near XKLD", "near XKLD" and
// "stations kald".
func (rd *reading) findCommand(words, low []string) bool {
	f := finding{words: words, low: low, req: Request{Verb: Stations}, leading: true}
	for ; f.i < len(low); f.i++ {
		f.word()
	}
	if !f.means() {
		return false
	}
	*rd.req = f.req
	if f.place != "" {
		ident, ok := rd.places.Place(f.place)
		if !ok {
			rd.fail(0, rd.unknownStation(f.place, func(with string) string {
				return strings.Replace(strings.Join(words, " "), f.place, with, 1)
			}))
		}
		f.search.Near = ident
	}
	rd.req.Search = f.search
	switch {
	case f.bare != "":
		rd.fail(0, &Problem{Word: f.bare, Text: sayNoSign(f.bare), Either: true, Try: strings.Replace(strings.Join(words, " "), f.bare, "-"+f.bare, 1)})
	case f.search.Cold && !f.req.HasTemperature:
		rd.fail(0, &Problem{Word: "cold", Text: sayColdNeeds})
	}
	return true
}

// means says that the words look for fields, and whether by a name.
func (f *finding) means() bool {
	s := &f.search
	byName := len(f.name) > 0 && f.noun && f.lead == 0 && f.known == 0 && !f.req.HasTemperature && slices.Contains(findNouns[:3], f.low[0]) && f.bare == ""
	switch {
	case byName:
		s.Text = strings.Join(f.name, " ")
		return true
	case len(f.name) > 0, f.known == 0:
		return false
	case s.Cold && f.place == "" && (!f.noun || !f.req.HasTemperature && f.bare == ""):
		return false // "cold stations": the bases' state
	case !s.Cold && f.place == "":
		return false
	case !s.Cold && !f.noun && (f.req.HasTemperature || f.lead > 0 || f.low[0] != "near" && f.low[0] != "nearest"):
		return false
	}
	return true
}

// next is the word behind the one that is read, or some words further on.
func (f *finding) next(n int) string {
	if f.i+n < len(f.low) {
		return f.low[f.i+n]
	}
	return ""
}

// word reads one, and what belongs to it.
func (f *finding) word() {
	w := f.low[f.i]
	in := func(all ...string) bool { return slices.Contains(all, w) }
	leading := f.leading
	f.leading = false
	switch {
	case slices.Contains(findNouns, w):
		f.noun, f.leading = true, leading
	case leading && in("which", "what", "list", "show", "find", "all", "the", "any", "are", "is", "me", "please"):
		f.lead++
		f.leading = true
	case in("cold", "restricted"):
		f.search.Cold = true
		f.known++
	case in("near", "around", "nearest", "closest", "by") && f.next(1) != "" && f.place == "":
		if f.next(1) == "to" && f.next(2) != "" {
			f.i++
		}
		f.i++
		f.place = f.words[f.i]
		f.known++
	case w == "within" && distance.MatchString(f.next(1)):
		f.within()
	case in("minus", "-") && unsigned.MatchString(f.next(1)):
		f.i++
		f.temperature("-" + f.low[f.i])
	case signed.MatchString(w):
		f.temperature(w)
	case f.search.Cold && unsigned.MatchString(w) && !f.req.HasTemperature:
		f.bare = w
	case in("at", "below", "are", "is", "c", "degrees", "and", "of", "which", "the"):
	default:
		f.name = append(f.name, f.words[f.i])
	}
}

// within reads "within 200 NM of XKLD".
func (f *finding) within() {
	f.i++
	f.search.Within, _ = strconv.ParseFloat(distance.FindStringSubmatch(f.low[f.i])[1], 64)
	for slices.Contains([]string{"nm", "miles", "mi", "nautical"}, f.next(1)) {
		f.i++
	}
	if slices.Contains([]string{"of", "from", "around", "to"}, f.next(1)) && f.next(2) != "" && f.place == "" {
		f.i += 2
		f.place = f.words[f.i]
	}
	f.known++
}

// temperature takes a signed figure.
func (f *finding) temperature(w string) {
	m := unsigned.FindStringSubmatch(strings.TrimLeft(w, "-+mius"))
	if m == nil {
		return
	}
	v, _ := strconv.ParseFloat(m[1], 64)
	if w[0] != '+' {
		v = -v
	}
	f.req.Temperature, f.req.HasTemperature = engine.Celsius(v), true
	if m[2] == "f" {
		f.req.Fahrenheit, f.req.InFahrenheit = engine.Fahrenheit(v), true
		f.req.Temperature = f.req.Fahrenheit.Celsius()
	}
}
