// Package sqlstore keeps firn's records in one SQLite file, the default, or in
// a PostgreSQL database, for several replicas of one bot. Each statement stands
// here once, with $1 for what it is given.
//
//   - alerts.go, queue.go, leases.go, archive.go, records.go, cards.go,
//     history.go, pagestate.go, access.go, procedures.go, bases.go: the tables, which are
//     the ports of bot
//   - store.go: what all statements share; away.go: which errors are of a store that
//     cannot be used now
//   - dialect.go: what the two databases do in their own ways
//   - place.go: Place: which of the two, and what is done with a whole store
//   - sqlite_read.go: to read alone
//   - open.go: what may be done to a store that is opened; its schema
//   - sqlite.go: OpenSQLite, the file and its folder; sqlite_check.go: what is
//     refused; sqlite_lock.go: who may have it open; owner_unix.go,
//     owner_other.go: whose it is; groupcommit.go: writers that come at once
//     share a commit; sqlite_statements.go: what they run is
//     compiled once; sqlite_instance.go: how a store that was put back from a
//     copy is recognised; sqlite_backup.go: copies while it is in use;
//     sqlite_source.go: moving everything away
//   - postgres.go: OpenPostgres, the address, the schema, transactions;
//     postgres_listen.go: what replicas tell each other; postgres_lock.go: what
//     one of them does; postgres_load.go: taking everything over from a file
//   - migrations: the schemas, one file for each version, the same number in both
//
// # SQLite
//
// It needs no server and no C compiler. A commit is on the disk before it is
// reported (write-ahead log with synchronous=FULL), so that an alert survives a
// power cut. One process serves from a file, and others may use it meanwhile;
// not over a network file system, which the write-ahead log does not work on.
// Leases run by this machine's clock.
//
// A new folder gets mode 0700 and a new file 0600, for they hold what crews
// asked; folders and files that are there keep theirs. Beside the file FILE
// there are FILE-wal and FILE-shm, which belong to it and are to be copied
// with it, and FILE-opening and FILE-serving, which do not and may be deleted
// while no firn runs.
//
// A file that is no SQLite file, is damaged, is another program's, or was
// written by a newer firn is refused with a sentence that says so, and is left
// as it was. An empty file counts as new. Nothing is deleted or repaired.
//
// # PostgreSQL
//
// Leases run by the database's clock, so that replicas whose clocks differ
// agree. Replicas that claim at once pass over what another has locked and do
// not wait for it. A lost connection gives an error; the next call makes a new
// one, and every call may be made again. The tables are made in the first
// schema of the search path; the database must be in UTF-8. No error holds the
// password of the address.
package sqlstore
