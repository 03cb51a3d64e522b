// Package weather says where temperatures come from and in what order they
// are believed.
//
// In reading order:
//
//   - weather.go: the ports. Source is one place that temperatures come from,
//     Archive keeps what was received; Observation and Forecast are what they
//     hand over
//   - report.go: METAR and TAF text to an Observation and a Forecast
//   - bulletin.go: Split, a file or an answer of many reports to single ones
//   - board.go: Board, the newest report of each station out of many
//   - typed.go: what a duty officer types, as an observation
//   - chain.go: Chain, the sources in their configured order; kept.go: what it
//     puts in the archive and takes from it, and how each source did;
//     colder.go: a later observation that is colder; past.go: what was observed
//     before; doubt.go: what a reader of one line must know of the sources
//   - each.go: Each, many stations with bounded concurrency
//
// Which of several forecasts a window is judged by, and what is said when they
// disagree, is coldwatch.Choose's business.
//
// What it never does: open a file or a connection (adapters do), read a clock
// (it is handed in), invent a temperature between the extremes of a TAF, or
// take "nothing received" for "warm".
package weather
