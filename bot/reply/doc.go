// Package reply is what firn answers, free of any platform: facts, a table
// of altitudes, requests for air traffic control, cautions, a source line and
// actions. Each surface renders it in its own way; its JSON form is a
// contract with other programs.
//
//   - reply.go: Reply, Row, Request, Caution, Working, Problem: the structure and JSON
//   - scene.go: Scene, what an answer is made of, and how figures are written
//   - correction.go: Correction, from an evaluated approach to the reply, and Status,
//     whether a correction is asked for at a station, without figures; headline.go:
//     its first line
//   - cautions.go, stop.go: what must be known, what forbids; codes.go: what cautions
//     are called in the contract; procedure.go, way.go: what is told of a stored procedure, and of the way in
//   - working.go: the step-by-step working behind "why"
//   - brief.go, route.go: arrivals, minimum altitudes on the way
//   - alert.go, alertline.go: the watch's word on a base, also in one line;
//     digest.go: those of a channel's morning; board.go, cold.go: every base's
//     state, those that are cold
//   - record.go, mine.go: what was done to a result, what concerns one person
//   - topic.go: what a reply is about, in a few words
//
// It computes nothing: every figure comes from package engine.
package reply
