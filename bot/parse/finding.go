package parse

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

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

// FindExample and ColdExample are lines that find fields.
const (
	FindExample = "stations near XKLD"
	ColdExample = "stations cold -25 within 200 NM of XKLD"
	BaseExample = "base add XKLD 06:00"
)

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
	words := strings.Fields(strings.NewReplacer(",", " ", ";", " ", "?", " ", "!", " ").Replace(rd.text))
	low := make([]string, len(words))
	for i, w := range words {
		low[i] = strings.ToLower(strings.Trim(w, "."))
	}
	return rd.baseCommand(words, low) || rd.findCommand(words, low)
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
		rd.fail(0, &Problem{Word: "base", Text: sayBaseNeeds(), Try: ""})
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

// findNouns are what fields are called; only the first may stand alone with a
// part of a name behind.
var findNouns = []string{"stations", "airports", "airfields", "fields", "aerodromes"}

// findCommand reads "stations cold -25 within 200 NM of XKLD", "stations near
// XKLD", "which airports are restricted at -25 near XKLD", "near XKLD" and
// "stations kald".
func (rd *reading) findCommand(words, low []string) bool {
	i, noun, lead := 0, false, 0
	for ; i < len(low); i++ {
		switch w := low[i]; {
		case slices.Contains(findNouns, w):
			noun = true
		case slices.Contains([]string{"which", "what", "list", "show", "find", "all", "the", "any", "are", "is", "me", "please"}, w):
			lead++
		default:
			goto rest
		}
	}
rest:
	var s Search
	r := Request{Verb: Stations}
	var name []string
	place := "" // the word of the station that they are around
	known := 0  // words that belong to the finding
	missing := ""
	for ; i < len(low); i++ {
		w := low[i]
		next := ""
		if i+1 < len(low) {
			next = low[i+1]
		}
		switch {
		case w == "cold" || w == "restricted":
			s.Cold = true
			known++
		case slices.Contains(findNouns, w):
			noun = true
		case slices.Contains([]string{"near", "around", "nearest", "closest", "by"}, w) && next != "" && place == "":
			if next == "to" && i+2 < len(low) {
				i++
			}
			place = words[i+1]
			i++
			known++
		case w == "within" && distance.MatchString(next):
			m := distance.FindStringSubmatch(next)
			s.Within, _ = strconv.ParseFloat(m[1], 64)
			i++
			for i+1 < len(low) && slices.Contains([]string{"nm", "miles", "mi", "nautical"}, low[i+1]) {
				i++
			}
			if i+2 < len(low) && slices.Contains([]string{"of", "from", "around", "to"}, low[i+1]) && place == "" {
				place = words[i+2]
				i += 2
			}
			known++
		case (w == "minus" || w == "-") && unsigned.MatchString(next):
			rd.findTemperature(&r, "-"+next)
			i++
		case signed.MatchString(w):
			rd.findTemperature(&r, w)
		case s.Cold && unsigned.MatchString(w) && !r.HasTemperature:
			missing = w
		case slices.Contains([]string{"at", "below", "are", "is", "c", "degrees", "and", "of", "which", "the"}, w):
		default:
			name = append(name, words[i])
		}
	}
	byName := len(name) > 0 && noun && lead == 0 && known == 0 && !r.HasTemperature && slices.Contains(findNouns[:3], low[0]) && missing == ""
	switch {
	case byName:
		s.Text = strings.Join(name, " ")
	case len(name) > 0, known == 0, !noun && (s.Cold && place == "" || !s.Cold && (lead > 0 || low[0] != "near" && low[0] != "nearest")):
		return false
	case !noun && r.HasTemperature && !s.Cold:
		return false
	case s.Cold && !r.HasTemperature && place == "" && missing == "":
		return false // "cold stations": the bases' state
	}
	if s.Within == 0 && place == "" && !s.Cold && !byName {
		return false
	}
	*rd.req = r
	if place != "" {
		ident, ok := rd.places.Place(place)
		if !ok {
			rd.fail(0, rd.unknownStation(place, func(with string) string {
				return strings.Replace(strings.Join(words, " "), place, with, 1)
			}))
		}
		s.Near = ident
	}
	rd.req.Search = s
	switch {
	case missing != "":
		rd.fail(0, &Problem{Word: missing, Text: sayNoSign(missing), Either: true, Try: strings.Replace(strings.Join(words, " "), missing, "-"+missing, 1)})
	case s.Cold && !r.HasTemperature:
		rd.fail(0, &Problem{Word: "cold", Text: sayColdNeeds()})
	}
	return true
}

// findTemperature takes a signed figure.
func (rd *reading) findTemperature(r *Request, w string) {
	minus := w[0] != '+'
	w = strings.TrimLeft(w, "-+mius")
	m := unsigned.FindStringSubmatch(w)
	if m == nil {
		return
	}
	v, _ := strconv.ParseFloat(m[1], 64)
	if minus {
		v = -v
	}
	r.Temperature, r.HasTemperature = engine.Celsius(v), true
	if m[2] == "f" {
		r.Fahrenheit, r.InFahrenheit = engine.Fahrenheit(v), true
		r.Temperature = r.Fahrenheit.Celsius()
	}
}
