// Package pgtest starts a PostgreSQL server for tests: a cluster of its own in
// a temporary folder, reached by a socket in it, gone when the test's process
// is. It uses the binaries of the Debian package (apt install postgresql), or
// those on the path. Only tests and cmd/firn-load import it.
//
// As root it runs the server as the user postgres or nobody, for PostgreSQL
// refuses root.
package pgtest
