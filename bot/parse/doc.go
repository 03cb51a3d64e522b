// Package parse reads a crew's one-line message: a station, a temperature and
// altitudes, in any order, typed in a hurry or pasted from a report.
//
//   - Parse: a line to a Request and, where something is missing or could be
//     read two ways, a Problem with the word and the line to type instead
//   - Request: what was understood, kept also when there is a Problem
//   - Request.Amend: a follow-up ("-41", "add DA 5340", "same at XRUN")
//     completes or changes an earlier request
//   - Request.Line: a request as the line that gives it again
//
// The reading has four steps, a file each: clean.go takes out what chat
// services and phones put in; report.go cuts a pasted METAR out; lex.go makes
// words and numbers; parse.go says what they are, label.go binds labels to
// altitudes.
//
// It never guesses where a guess can hurt: a temperature without a sign, a
// number that could be two things, a label between two altitudes are asked
// about.
package parse
