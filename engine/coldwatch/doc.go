// Package coldwatch holds a forecast against a restriction temperature: pure
// judgement, no clock, no network.
//
// In reading order:
//
//   - coldwatch.go: the words. State, Forecast, Window, Line, Judgement
//   - judge.go: Judge, one forecast against the line for a duty window
//   - estimate.go: EstimateOf, the hours between a forecast's extremes
//   - arrival.go: Around, the window for an arrival
//   - choose.go: Choose, one judgement out of several sources'
//   - change.go: Changed, what is different since the judgement that people
//     were last told
//
// A restriction temperature binds at or below it (FAA AIM 7-3-5 b). Of a
// forecast that has only extremes the hours are estimated, which changes
// neither its state nor its low, and nothing is said of hours beside a single
// extreme: README.md. A forecast that says nothing of the window, or leaves a
// part of it out, is never "warm".
package coldwatch
