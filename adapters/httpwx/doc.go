// Package httpwx holds the weather services that are asked over HTTP. It has
// no code of its own; its parts, in reading order:
//
//   - fetch: one polite client for all of them: conditional requests and the
//     answers' own lifetimes, limits of time, size and concurrency
//   - awc: METAR and TAF of the Aviation Weather data API
//   - nws: the National Weather Service's hourly forecast
//
// testdata/ holds real answers; its README says where they are from.
package httpwx
