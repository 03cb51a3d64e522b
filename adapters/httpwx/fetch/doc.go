// Package fetch asks one web service, politely and without trusting it.
//
//   - client.go: New, and Get, which answers out of memory while the last
//     answer is fresh and asks otherwise
//   - exchange.go: one request and its answer, with every limit
//   - dial.go: to which addresses a connection is made
//   - lifetime.go: how long an answer is fresh, by its own headers
//   - errors.go: what can go wrong
//
// It is written here and not taken from a library: the HTTP caches that exist
// for Go keep bodies and not what was read out of them, and none remembers
// Retry-After or refuses another host.
//
// What it never does: follow a redirect to another host or scheme, connect to
// an address inside a network because a public name leads there, read more
// than the limit (counted after decompression), ask again before a service's
// Retry-After is over, or put a URL into an error.
package fetch
