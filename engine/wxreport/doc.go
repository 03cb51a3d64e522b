// Package wxreport reads METAR and TAF text: the temperatures in it, when
// they are for, and which words are no part of the report at all.
//
// In reading order:
//
//   - metar.go: ParseMetar, an observation to a Metar, with the words that are
//     left over when it was pasted into a chat line
//   - taf.go: ParseTaf, a forecast to a Taf with its temperature extremes
//   - decode.go: Decode, a line of either kind to the object that
//     `firn decode` prints
//   - words.go: the shape of each group, one small function each; temp.go: a
//     temperature, or none; doubt.go: which of two, and what no air can be
//   - when.go: days of the month to instants
//
// The rules are those of WMO FM 15 and FM 16 (METAR, SPECI), FM 51 (TAF) and
// AFMAN 15-111 (12 March 2019), remarks 30 to 33, for the groups after RMK.
// Where a rule is from memory or from one country's practice, the comment on
// it says so.
//
// What it never does: read a clock (the instant the text is read as of is
// handed in), guess a sign, round a temperature, or keep quiet about a
// temperature group that it cannot read.
package wxreport
