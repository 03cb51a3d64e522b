package coldwatch

import "time"

// Around is the window for an arrival: the hour before to the hour after (FAA
// AIM 7-3-2: plan with the coldest temperature forecast for within an hour of
// the estimated time of arrival).
func Around(arrival time.Time) Window {
	return Window{From: arrival.Add(-time.Hour), To: arrival.Add(time.Hour)}
}
