// Package speech puts altitudes, amounts and temperatures into the words that
// are said on the radio.
//
//   - Altitude, Temperature, Digits: one string
//   - AppendAltitudeBelow, AppendAmount and the like: onto a byte slice,
//     without allocating
//   - Manner: FAA or ICAO, which differ in the decimal word
//
// It says numbers. The sentences round them belong to the rule sets, rounding
// too: a requested altitude is a whole hundred before it comes here.
package speech
