package bot

import (
	"fmt"

	"firn/bot/parse"
)

// reobserved is the observation that was asked about with another temperature or another
// time; empty where a message holds neither, or more.
func (q *question) reobserved(next *parse.Request) string {
	had, bare := &q.Scrap, *next
	if had.Verb != parse.Observe || had.Station == "" || !had.HasTemperature {
		return ""
	}
	temperature, at := had.TemperatureWord(), had.At
	if len(next.Altitudes) == 1 && at.Said && !next.At.Said { // "1120" behind "what time (UTC)?"
		if c, ok := next.Altitudes[0].Clock(); ok {
			c.Zone, c.Unzoned = parse.UTC, false
			at, bare.Altitudes, bare.At = c, nil, c
		}
	}
	answered := bare.At.Said || next.HasTemperature
	bare.HasTemperature, bare.At = false, parse.Clock{}
	if !bare.Empty() || !answered {
		return ""
	}
	if next.HasTemperature {
		temperature = next.TemperatureWord()
	}
	if next.At.Said {
		at = next.At
	}
	line := had.Verb.String() + " " + had.Station + " " + temperature
	switch {
	case !at.Said:
		return line
	case at.Unzoned: // it is asked for still
		return fmt.Sprintf("%s %02d:%02d", line, at.Hour, at.Minute)
	}
	return line + " " + at.String()
}
