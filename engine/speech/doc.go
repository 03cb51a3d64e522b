// Package speech puts altitudes, amounts and temperatures into the words that
// are said on the radio.
//
//   - Altitude, Amount, Minimum, FlightLevel, Temperature, Digits: one string
//   - AppendAltitude and the like: the same onto a byte slice, without
//     allocating
//   - Manner: FAA or ICAO, which differ in the decimal word
//   - Pronounce: the words as ICAO spells their sound (TREE, FOW-er)
//
// It says numbers. The sentences round them belong to the rule sets, rounding
// too: a requested altitude is a whole hundred before it comes here.
package speech
