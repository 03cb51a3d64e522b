// Package procedure holds what an instrument approach is made of, as far as
// its altitudes go: points with a role, a segment and a published altitude
// that is to be flown at, at or above, at or below, or between.
//
//   - procedure.go: Role: what a label says of an altitude (initial approach fix, ...)
//   - Segment: which part of the approach the altitude belongs to; the rule
//     sets correct by segment
//   - Meaning: at, at or above, at or below, between
//   - Point: one published altitude; way.go: Ways, Along, Parted: which ways in
//     lead over it
//   - AssignSegments: from roles and altitudes to segments, refusing what
//     fits none
//
// It corrects nothing: that is package ruleset's work.
package procedure
