// Package parse reads a crew's message: a station, a temperature and altitudes,
// in any order, typed in a hurry, said in a sentence, or pasted from a report;
// and every verb with what belongs to it.
//
//   - Parse: a line to a Request and, where something is missing or could be
//     read two ways, a Problem with the word and the line to type instead
//   - Request: what was understood, kept also when there is a Problem
//   - Request.Amend: a follow-up ("-41", "add DA 5340", "same at XRUN")
//     completes or changes an earlier request
//   - Request.Line: a request as the line that gives it again
//
// The reading goes in passes, each with one job:
//
//   - clean.go takes out what chat services and phones put in, report.go cuts a
//     pasted METAR out, lex.go makes words and numbers
//   - tag.go says what the one table of words knows of each (vocabulary.go,
//     smallwords.go), without judging
//   - group.go puts together what belongs together: number.go and inwords.go
//     figures, measure.go times and measurements that are no altitudes,
//     approach.go the names of procedures, words.go what no table has
//   - fill.go binds labels and fixes to altitudes (label.go)
//   - decide.go says once what is asked for, and what is wrong; verbs.go what
//     single verbs need; sentences.go has all wording
//   - offer.go sees to it that a line to type reads well
//
// It never guesses where a guess can hurt: a temperature without a sign, a
// number that could be two things, a label between two altitudes are asked
// about. What was read and needs no answer, and words that touch no figure,
// are told in Request.NotUsed.
package parse
