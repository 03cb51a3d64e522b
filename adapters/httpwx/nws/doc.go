// Package nws takes the hourly forecast of the National Weather Service.
//
//   - source.go: New and the Source; a station's place to its grid cell
//   - answer.go: the answers' JSON, and the curve made of the periods
//
// It is the forecast of a grid cell, not of the airport: for planning. US
// civil TAFs carry no temperatures; this is then the source.
//
// The fields are those of a real answer in testdata/ and of a third party's
// catalogue; the addresses, the four decimals of a place and the points
// answer are from memory.
//
// What it never does: give an observation, follow an address that an answer
// names (it takes the cell's office and numbers out of it), or make a
// temperature warmer than the service says.
package nws
