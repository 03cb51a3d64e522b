package sqlstore

import (
	"errors"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"
	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"
)

// Away says of an error that the store cannot be used as its disk or its server
// is now: full, broken, only to be read, or not reached. What firn refuses, such as
// another schema, a damaged file or one that was moved, is not away.
func Away(err error) bool {
	if e, ok := errors.AsType[*sqlite.Error](err); ok && e.Code()&0xff == sqlite3.SQLITE_CANTOPEN {
		return true
	}
	_, ok := errors.AsType[*pgconn.ConnectError](err)
	return ok || Unwritable(err)
}

// Unwritable says of an error that a file's disk takes nothing as it is now; it may
// be read.
func Unwritable(err error) bool {
	if e, ok := errors.AsType[*sqlite.Error](err); ok {
		switch e.Code() & 0xff { // the rest says more of the same
		case sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_READONLY:
			return true
		}
	}
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EROFS) || errors.Is(err, syscall.EIO)
}
