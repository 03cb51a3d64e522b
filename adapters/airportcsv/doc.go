// Package airportcsv reads and writes lists of airfields as CSV with a header.
//
//   - Read: a list that an import takes in, with its columns in any order and
//     under the names that open data has for them; what cannot be read is told
//     with line and column, and left out
//   - Load: the list that the configuration names, strictly: the first thing
//     that is wrong is an error that points at it
//   - Write: the list that an import makes, which both read
//
// A line that begins with # is a comment, of which "# date: 2026-01-22" and
// "# until: 2027-01-21" say what the list is of and until when it holds.
package airportcsv
