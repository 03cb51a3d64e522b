// Package parse reads a crew's message: a station, a temperature and altitudes,
// in any order, typed in a hurry, said in a sentence, or pasted from a report;
// and every verb with what belongs to it.
//
//   - Parse: a line to a Request and, where something is missing or could be
//     read two ways, a Problem with the word and the line to type instead
//   - Request: what was understood, kept also when there is a Problem (request.go;
//     clock.go its times); read.go: the Reader, and what it is told of stations
//   - Request.Amend: a follow-up ("-41", "add DA 5340", "same at XRUN")
//     completes or changes an earlier request (amend.go, settles.go); an answer to a
//     question is read by what it chooses among (answer.go, choices.go, labelings.go;
//     said.go: what else it may say of the answer before)
//   - Request.Line: a request as the line that gives it again (line.go)
//
// The reading goes in passes, each with one job:
//
//   - clean.go takes out what chat services and phones put in, report.go cuts a
//     pasted METAR out, lex.go, lexnumber.go and lexclock.go make words and numbers
//   - tag.go says what the one table of words knows of each (vocabulary.go,
//     smallwords.go, foreignwords.go, commonwords.go, numerals.go), without
//     judging, and slip.go which of them a long word misspells
//   - group.go puts together what belongs together: number.go, spelled.go and
//     inwords.go figures, measure.go measurements that are no altitudes, past.go
//     temperatures that have gone by, block.go bounds, charttail.go what charts
//     print behind minimums, printed.go what they and reports print elsewhere, additive.go what a remote source adds, timeword.go
//     and zuluhour.go times, approach.go and kind.go the names of procedures, letter.go their
//     letters, wayin.go how the crew comes in, controller.go what a controller gives,
//     position.go the altitude that the aeroplane has now, negation.go what is out
//     of service, labelword.go labels, field.go what lies at the field, published.go what is
//     flown as published, words.go
//     what no table has; finding.go reads whole lines about stations and bases
//   - fill.go binds labels and fixes to altitudes (label.go; sides.go: before or
//     inside one; charted.go: what the chart calls a fix)
//   - decide.go says once what is asked for, and what is wrong; talked.go whether
//     anything is, units.go in which units; either.go, twostations.go which of two it is, swap.go what changes places, unread.go
//     what becomes of words that no table has, verbs.go what single verbs need,
//     deed.go what keeps one from being done;
//     sentences.go and sentencesbot.go have all wording
//   - offer.go and keeps.go see to it that a line to type reads well, and
//     neither drops nor adds anything
//
// It never guesses where a guess can hurt: a temperature without a sign, a
// number that could be two things, a label between two altitudes are asked
// about. What was read and needs no answer, and words that touch no figure,
// are told in Request.NotUsed.
package parse
