// Package weathertest holds the suite that every weather.Source passes, and
// the memory implementation that tests of other packages use.
//
//   - suite.go: Run, and what a source must bring along for it
//   - memory.go: Memory, a Source that says what it is told to
//
// What it never does: reach a network, or wait.
package weathertest
