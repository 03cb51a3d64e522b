// Package coldwatch holds a forecast against a restriction temperature: pure
// judgement, no clock, no network.
//
// In reading order:
//
//   - coldwatch.go: the words. State, Forecast, Window, Line, Judgement
//   - judge.go: Judge, one forecast against the line for a duty window
//   - choose.go: Choose, one judgement out of several sources'
//   - change.go: Changed, what is different since the judgement that people
//     were last told
//
// A restriction temperature binds at or below it (FAA AIM 7-3-5 b). A
// forecast that has only extremes says nothing of the hours: no curve is
// invented. A forecast that says nothing of the window, or leaves a part of it
// out, is never "warm".
package coldwatch
