// Package engine holds the words the calculation is written in: units as
// types, and the errors every part of it shares.
//
// The calculation itself lives in the packages below, each for one question:
//
//   - atmosphere: the standard atmosphere, pressure and altimeter setting,
//     indicated and true altitude
//   - correction: how much to add to an altitude in cold air, by six methods
//   - procedure: what an approach is made of: segments, fixes, altitudes
//   - ruleset: which altitude gets which correction, when, and why
//   - baro: the path a barometric glide path really has, and its limits
//   - wxreport: METAR and TAF text to temperatures
//   - coldwatch: a forecast held against a restriction temperature
//   - speech: altitudes as they are said on the radio
//
// Nothing here reads a clock, a file, a network or an environment; nothing
// here logs. The same input gives the same answer for ever, and a test in
// cmd/firn holds every package below to that.
package engine
