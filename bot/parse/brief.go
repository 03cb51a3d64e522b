package parse

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// briefExample is a brief that the demo region answers.
const briefExample = "brief XKLD 1430Z XRUN 1515Z"

// figures are those of a time that is none; a runway has two at most.
var figures = regexp.MustCompile(`^[0-9]{1,2}:?[0-9]{2,}[zl]?$`)

// stops reads what stands behind "brief": stations, each with its time and the
// procedure where one is named, in any order but the station first.
func (r *Reader) stops(rest string) (all []Stop, p *Problem) {
	alternate, day := false, DayUnsaid // that were said before their stop
	words := strings.FieldsFunc(rest, func(c rune) bool { return strings.ContainsRune(" ,;\n\t", c) })
	for i := 0; i < len(words); i++ {
		typed, word := words[i], strings.ToLower(words[i])
		switch word {
		case "alternate", "altn", "alt":
			alternate = true
			continue
		case "at", "and", "then", "for", "local", "eta", "arriving", "to", "the", "me", "please":
			continue
		}
		if ident, ok := r.places.Place(word); ok {
			all = append(all, Stop{Station: ident, Alternate: alternate, At: Clock{Day: day}})
			alternate, day = false, DayUnsaid
			continue
		}
		if said := dayWord(word); said != DayUnsaid && len(all) == 0 {
			day = said
			continue
		}
		if len(all) == 0 {
			text := fmt.Sprintf("“%s” is no station: name each station, then its arrival time.", typed)
			if near := r.places.Nearest(typed, 3); len(near) > 0 {
				text = fmt.Sprintf("%s is not a station firn knows; nearest: %s.", strings.ToUpper(typed), strings.Join(near, ", "))
			}
			return nil, stopProblem(all, typed, text)
		}
		s := &all[len(all)-1]
		if c, n := clockIn(words[i:]); n > 0 {
			if s.At.Said {
				return nil, stopProblem(all, typed, fmt.Sprintf("%s has two times, %s and %s; give one.", s.Station, s.At, c))
			}
			if c.Day == DayUnsaid && c.In == 0 {
				c.Day = s.At.Day
			}
			s.At = c
			i += n - 1
			continue
		}
		if said := dayWord(word); said != DayUnsaid {
			s.At.Day = said
		} else {
			switch {
			case figures.MatchString(word):
				return nil, stopProblem(all, typed, fmt.Sprintf("%s is no time: write four figures, such as 0730, with a Z for UTC.", typed))
			case !approachWord(word):
				text := fmt.Sprintf("%s is not a station firn knows.", strings.ToUpper(typed))
				if near := r.places.Nearest(typed, 3); len(near) > 0 {
					text = fmt.Sprintf("%s is not a station firn knows; nearest: %s.", strings.ToUpper(typed), strings.Join(near, ", "))
				}
				return nil, stopProblem(all, typed, text)
			}
			s.Procedure = strings.TrimSpace(s.Procedure + " " + word)
		}
	}
	for _, s := range all {
		if !s.At.Said {
			return nil, stopProblem(all, s.Station, fmt.Sprintf("What time (UTC) at %s? For example 1805Z.", s.Station))
		}
	}
	if len(all) == 0 {
		return nil, stopProblem(all, "brief", "“brief” takes stations, each with its arrival time.")
	}
	return all, nil
}

// dayWord is the day that a word says; DayUnsaid for another word.
func dayWord(word string) Day {
	switch word {
	case "today", "tonight":
		return Today
	case "tomorrow", "tmrw", "tmr":
		return Tomorrow
	}
	return DayUnsaid
}

// clockIn reads the time that words begin with, and how many words it is.
func clockIn(words []string) (c Clock, n int) {
	word := func(i int) string {
		if i < len(words) {
			return strings.ToLower(words[i])
		}
		return ""
	}
	if word(0) == "in" {
		if d, more := durationIn(word(1), word(2)); d > 0 {
			return Clock{Said: true, In: d}, 1 + more
		}
		return c, 0
	}
	c, ok := clockDigits(word(0))
	if !ok {
		return c, 0
	}
	n = 1
	switch word(1) {
	case "z", "zulu", "utc", "gmt":
		c.Zone = UTC
		n++
	case "l", "lt", "local":
		n++
	}
	return c, n
}

// durationIn reads "2h", "2 hours", "90min", and how many words it is.
func durationIn(first, second string) (time.Duration, int) {
	digits := digitsAt(first, 0)
	if digits == 0 || digits > 3 {
		return 0, 0
	}
	v, _ := strconv.Atoi(first[:digits])
	unit, n := first[digits:], 1
	if unit == "" {
		unit, n = second, 2
	}
	switch unit {
	case "h", "hr", "hrs", "hour", "hours":
		return time.Duration(v) * time.Hour, n
	case "m", "min", "mins", "minutes":
		return time.Duration(v) * time.Minute, n
	}
	return 0, 0
}

// approachWord says that a word may stand in the name of an approach.
func approachWord(w string) bool {
	if names(w) || fused(w) != "" || runway(w) || len(w) == 1 && isLetter(w[0]) {
		return true
	}
	n, err := strconv.Atoi(w)
	return err == nil && n >= 1 && n <= 36 || w == "approach" || w == "or" || w == "dme"
}

// stopProblem keeps in the line to type what was understood; without a time
// that only the crew knows there is none.
func stopProblem(all []Stop, word, text string) *Problem {
	p := &Problem{Word: word, Text: text, Try: briefExample}
	if len(all) > 0 {
		p.Try = BriefLine(all)
	}
	return p
}

// BriefLine is the brief that reads as these stops; empty where one of them
// has no time.
func BriefLine(all []Stop) string {
	line := "brief"
	for _, s := range all {
		if !s.At.Said {
			return ""
		}
		if s.Alternate {
			line += " alternate"
		}
		line += " " + s.Station + " " + s.At.String()
		if s.Procedure != "" {
			line += " " + s.Procedure
		}
	}
	return line
}
