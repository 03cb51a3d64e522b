// Package postgres keeps firn's records in a PostgreSQL database, for several
// replicas of one bot.
//
//   - instance.go: how a store that was put back from a copy is recognised
//   - copy.go: taking everything over from another store
//   - open.go: Open: the address, what is refused, the schema
//   - store.go: Store, what all statements share
//   - alerts.go, queue.go, leases.go, archive.go: the ports of bot
//   - migrations: the schema, one file for each version
//
// Leases run by the database's clock, so that replicas whose clocks differ
// agree. Replicas that claim at once pass over what another has locked and do
// not wait for it. A lost connection gives an error; the next call makes a new
// one, and every call may be made again.
//
// The tables are made in the first schema of the search path. The database
// must be in UTF-8.
//
// No error holds the password of the address.
package postgres
