// Package awc takes METAR and TAF from the government's Aviation Weather data
// API.
//
//   - source.go: New and the Source; which stations one request carries
//   - answer.go: the JSON and the raw text to the newest report of each
//     station
//
// The raw report is the authority: every other field may be missing or of
// another type, and helps only to tell the month. The field lists are from a
// third party's catalogue and two real answers in testdata/; the addresses,
// the format=raw answers and the limits of the service are from memory.
//
// A station that nobody configured is asked for alone, at a pace below what the
// service allows, and again when its next report is due.
//
// What it never does: use a temperature that somebody else has decoded, ask
// for one station what another request brings along, or let one station's
// unreadable report spoil the others of its answer.
package awc
