// Package cifp reads coded procedure files: ARINC 424-18 as the FAA publishes
// it every 28 days (Coded Instrument Flight Procedures).
//
//   - Handler, what is wanted of the file, and Read (read.go): one pass over
//     it, an approach handed over as soon as its last record was read, in
//     constant memory
//   - lines.go: the file's lines, each of one length; header.go, cycle.go: which
//     cycle it is of, and when that is in force
//   - leg.go: one record of an approach; approaches.go: the records of one
//     made into it; names.go: what it is called
//   - record.go: airports, runways, fixes, sectors; airports.go: the fields alone
//   - Problem (problems.go): a record that could not be read, told in words
//   - summary.go: Summary, what came in, what was skipped and why
//   - import.go: Import, a file into a store
//
// Columns in the comments are 1-based and inclusive. They are those of ARINC
// 424-18 and were read back from real records, of which testdata/cifp has an
// excerpt.
//
// A record that cannot be read is reported with its line and left out, never
// guessed, and the approach it belongs to says so. The file holds no minimums.
package cifp
