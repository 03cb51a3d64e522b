// Package storetest holds what every store of firn is measured by: the
// interface that they all satisfy, one conformance suite, and a store in
// memory that passes it.
//
//   - store.go: Store, the ports of bot in one interface
//   - memory.go, memory_records.go, access_memory.go: Memory, the store for tests of
//     whatever needs one
//   - suite.go: Run, the suite, and what its tests share
//   - alerts.go, queue.go, posts.go, standing.go, leases.go, archive.go, records.go,
//     access.go, room.go, bases.go, procedures.go: the suite's tests, by port; past.go:
//     those of the weather that was (Contend, Killed, Deliver: what the adapters'
//     tests do with several stores or processes on one database)
//   - bench.go: Benchmark, the way of one alert through the outbox
//
// What a store promises beyond its ports, and the suite holds it to:
//
//   - Times come back in UTC, cut to the microsecond.
//   - Texts as received (Observation.Raw, Forecast.Raw, Result.Text) come back
//     byte for byte, whatever they are. Every other text must be UTF-8 without
//     NUL, since PostgreSQL keeps nothing else; a store refuses the rest with
//     an error and writes nothing. Temperatures must be finite.
//   - A reply is kept as its JSON.
//   - A context that has ended gives its error, and nothing is written.
//   - No error's text holds the password of the store's address.
//
// An error may leave it open whether something was written, as when the
// connection is lost while a transaction ends. Every method may be called
// again with the same arguments, and nothing happens twice.
//
// The package knows no database: the adapters' tests hand theirs in.
package storetest
