// Package airports knows the fields that lists publish and nobody has typed
// into the configuration.
//
//   - Airport: one field as lists have it, with where each figure is from
//   - Merger: several lists to one, with what they disagree about
//   - Directory: the one list, held compactly and looked up by ident, by name,
//     by what was misspelt, by distance and by restriction temperature
//
// It reads no file: adapters/airportcsv and adapters/cifp bring the rows. What
// is not known stays not known: a field without a restriction temperature is
// one of which none is known, not one that needs no correction.
package airports
