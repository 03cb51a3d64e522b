package coldwatch

import (
	"fmt"
	"time"

	"firn/engine"
)

// Around is the window for an arrival: the hour before to the hour after (FAA
// AIM 7-3-2: plan with the coldest temperature forecast for within an hour of
// the estimated time of arrival).
func Around(arrival time.Time) Window {
	return Window{From: arrival.Add(-time.Hour), To: arrival.Add(time.Hour)}
}

// Observed is the judgement of an arrival with what is observed, now, where that is
// colder than what is forecast, or at or below the line where nothing is: no forecast
// makes it warmer within the hour. It is the judgement itself where the clock shows a
// time outside the window; else the second value is true.
func (j Judgement) Observed(w Window, l Line, source string, c engine.Celsius, at, now time.Time) (Judgement, bool) {
	c = c.ColderTenth()
	none := j.State == NoForecast
	if !w.has(now) || !finite(c) || none && l.Of(c) != Below || !none && c >= j.Low {
		return j, false
	}
	note := fmt.Sprintf("%s is observed at %s (%s), colder than the forecast, %s %s: the colder is used", degrees(c), zulu(at), source, j.Source, degrees(j.Low))
	if none {
		note = join(j.Note, fmt.Sprintf("%s is observed at %s (%s)", degrees(c), zulu(at), source))
	}
	return Judgement{
		State: l.Of(c), Low: c, LowAt: now, Restriction: j.Restriction, Source: source, Issued: at, Note: note,
		CoveredFrom: j.CoveredFrom, CoveredTo: j.CoveredTo, Covered: j.Covered, byLow: l.Of(c),
	}, true
}
