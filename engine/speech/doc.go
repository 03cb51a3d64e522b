// Package speech puts altitudes and amounts into the words that are said on the
// radio.
//
//   - Altitude, Digits: one string
//   - AppendAltitudeBelow, AppendAmount and the like: onto a byte slice,
//     without allocating
//   - Manner: FAA or ICAO, which differ in how far whole hundreds go
//
// It says numbers. The sentences round them belong to the rule sets, rounding
// too: a requested altitude is a whole hundred before it comes here.
package speech
