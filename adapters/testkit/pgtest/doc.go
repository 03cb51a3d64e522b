// Package pgtest starts a PostgreSQL server for tests: a cluster of its own in
// a temporary folder, reached by a socket in it, gone when the test's process
// is. Which binaries it uses, package installed says. Only tests and cmd/firn-load import it.
//
// As root it runs the server as the user postgres or nobody, for PostgreSQL
// refuses root.
package pgtest
