// Package sqlite keeps firn's records in one SQLite file, the default store.
// It needs no server and no C compiler.
//
//   - open.go: Open: the file and its folder, what is refused, the schema
//   - lock.go: one process at a time opens a file
//   - store.go: Store, its connections, what all statements share
//   - instance.go: how a store that was put back from a copy is recognised
//   - copy.go, backup.go: moving everything away, copies while it is in use
//   - alerts.go, queue.go, leases.go, archive.go: the ports of bot
//   - migrations: the schema, one file for each version
//
// A commit is on the disk before it is reported (write-ahead log with
// synchronous=FULL), so that an alert survives a power cut. Several processes
// on one machine may use one file; not over a network file system, which the
// write-ahead log does not work on. Leases run by this machine's clock.
//
// A new folder gets mode 0700 and a new file 0600, for they hold what crews
// asked; folders and files that are there keep theirs. Beside the file FILE
// there are FILE-wal and FILE-shm, which belong to it and are to be copied
// with it, and FILE-opening, which does not and may be deleted while no firn
// runs.
//
// A file that is no SQLite file, is damaged, is another program's, or was
// written by a newer firn is refused with a sentence that says so, and is left
// as it was. An empty file counts as new.
//
// The package never deletes or repairs anything.
package sqlite
