package weather

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"firn/bot/parse"
	"firn/engine"
)

// TypedSource is what stands in Observation.Source of a typed one. Who typed
// it stands in Raw, before the line.
const TypedSource = "typed by duty officer"

// The temperatures that are believed: a little beyond the coldest and the
// warmest measured on earth, near -89 and 57 (from memory).
const coldest, warmest engine.Celsius = -90, 60

var (
	typedDegrees = regexp.MustCompile(`^([-+M]?)([0-9]{1,3}(?:\.[0-9]{1,2})?)([CF]?)$`)
	typedTime    = regexp.MustCompile(`^(0[1-9]|[12][0-9]|3[01])?([01][0-9]|2[0-3])([0-5][0-9])Z$`)
	// signs are what phones make of a minus.
	signs = strings.NewReplacer("\u2212", "-", "\u2013", "-", "°", "", ",", " ")
)

// ReadTyped reads the duty officer's line: "obs XKLD -38", "obs XKLD -38
// 1430Z", "XKLD M38 251430Z", "obs XKLD -36F". Case does not matter, obs may
// be missing; without a time it was observed now. A time is UTC and the latest
// such at or before now, with five minutes for clocks. One that is nearer ahead
// than behind, or on a day to come, is asked about.
//
// Nothing is guessed: the error, a *parse.Problem, says which word is wrong
// and the line to type instead.
func ReadTyped(who, line string, now time.Time) (Observation, error) {
	words := strings.Fields(strings.ToUpper(signs.Replace(line)))
	if len(words) > 0 && words[0] == "OBS" {
		words = words[1:]
	}
	const example = "obs XKLD -38 1430Z"
	if len(words) == 0 {
		return Observation{}, &parse.Problem{Text: "no station and no temperature were given", Try: example}
	}
	ident, ok := Ident(words[0])
	if !ok || strings.Trim(ident, "0123456789") == "" {
		return Observation{}, &parse.Problem{Word: words[0], Text: words[0] + " is no station: an ident has 3 or 4 letters or digits", Try: example}
	}
	if len(words) == 1 {
		return Observation{}, &parse.Problem{Word: words[0], Text: "no temperature was given", Try: "obs " + ident + " -38"}
	}
	c, err := typedTemperature(ident, words[1])
	if err != nil {
		return Observation{}, err
	}
	o := TypedObservation(who, line, ident, c, now, now)
	if len(words) == 2 {
		return o, nil
	}
	try := "obs " + ident + " " + words[1] + " " + now.UTC().Format("1504Z")
	m := typedTime.FindStringSubmatch(words[2])
	switch {
	case m == nil:
		return Observation{}, &parse.Problem{Word: words[2], Text: words[2] + " is no time: write hours, minutes and Z for UTC", Try: try}
	case len(words) > 3:
		return Observation{}, &parse.Problem{Word: words[3], Text: words[3] + " does not belong here: a station, a temperature and a time are all", Try: "obs " + strings.Join(words[:3], " ")}
	}
	var text string
	day, _ := strconv.Atoi(m[1])
	hour, _ := strconv.Atoi(m[2])
	minute, _ := strconv.Atoi(m[3])
	if o.At, text = TypedTime(day, hour, minute, now.UTC()); text != "" {
		return Observation{}, &parse.Problem{Word: words[2], Text: words[2] + " is " + text, Try: try}
	}
	return o, nil
}

// TypedObservation is what somebody typed, as it is kept: who and the line in
// Raw, when it was typed in Received.
func TypedObservation(who, line, ident string, c engine.Celsius, observed, typed time.Time) Observation {
	raw := strings.Join(strings.Fields(line), " ")
	if who = strings.Join(strings.Fields(who), " "); who != "" {
		raw = who + ": " + raw
	}
	return Observation{Ident: ident, C: c, At: observed.UTC(), Source: TypedSource, Raw: raw, Received: typed.UTC()}
}

func typedTemperature(ident, w string) (engine.Celsius, error) {
	m := typedDegrees.FindStringSubmatch(w)
	if m == nil {
		return 0, &parse.Problem{Word: w, Text: w + " is no temperature", Try: "obs " + ident + " -38"}
	}
	value, err := strconv.ParseFloat(m[2], 64)
	if err != nil {
		return 0, &parse.Problem{Word: w, Text: w + " is no temperature", Try: "obs " + ident + " -38"}
	}
	switch {
	case m[1] == "" && (value != 0 || m[3] == "F"):
		return 0, &parse.Problem{Word: w, Text: w + " has no sign: is it below zero or above?", Try: "obs " + ident + " -" + w}
	case m[1] == "-" && value == 0 && m[3] != "F":
		return 0, &parse.Problem{Word: w, Text: w + " is zero with a minus: is a digit missing?", Try: "obs " + ident + " 0"}
	case m[1] == "-" || m[1] == "M":
		value = -value
	}
	c := engine.Celsius(value + 0)
	if m[3] == "F" {
		c = engine.Fahrenheit(value).Celsius()
	}
	if c < coldest || c > warmest {
		return 0, &parse.Problem{Word: w, Text: w + " is no temperature that air can have", Try: "obs " + ident + " -38"}
	}
	return c, nil
}

// typedAhead is how far ahead of the clock a typed time may be.
const typedAhead = 5 * time.Minute

// TypedTime is the latest instant with this hour and minute in UTC, and on this
// day of the month unless it is 0, that is not after now and the allowance, at
// most three days back; else what is wrong with it, behind "is". now is in UTC.
func TypedTime(day, hour, minute int, now time.Time) (_ time.Time, wrong string) {
	on := func(days int) time.Time {
		return time.Date(now.Year(), now.Month(), now.Day()+days, hour, minute, 0, 0, time.UTC)
	}
	ahead := func(t time.Time) string {
		return fmt.Sprintf("%s ahead of the clock, which shows %s", apart(t.Sub(now)), now.Format("021504Z"))
	}
	for back := -1; back < 4; back++ {
		t := on(-back)
		switch {
		case day != 0 && day != t.Day():
		case !t.After(now.Add(typedAhead)):
			if since := now.Sub(t); since > 72*time.Hour {
				return time.Time{}, "not within the last three days"
			}
			return t, ""
		case day != 0:
			return time.Time{}, ahead(t)
		case t.Sub(now) < now.Sub(on(-back-1)):
			return time.Time{}, ahead(t) + "; for the day before write " + on(-back-1).Format("021504Z")
		}
	}
	for days := 2; days < 4; days++ {
		if t := on(days); day == t.Day() {
			return time.Time{}, ahead(t)
		}
	}
	return time.Time{}, "not within the last three days"
}

// apart is a length of time for people.
func apart(d time.Duration) string {
	m := int((d + time.Minute - 1) / time.Minute)
	if m < 120 {
		return fmt.Sprintf("%d min", m)
	}
	return fmt.Sprintf("%d h", m/60)
}
