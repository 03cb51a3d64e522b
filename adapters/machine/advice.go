package machine

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"io/fs"
	"net"
	"syscall"

	"github.com/jackc/pgx/v5/pgconn"
)

// databaseAdvice is by PostgreSQL's own codes (its manual, appendix A).
var databaseAdvice = map[string]string{
	"28P01": "the password in FIRN_DATABASE_URL is another than the database's, or the file of PGPASSFILE lacks it",
	"28000": "the database does not let this user in from here: see pg_hba.conf, and sslmode in the address",
	"3D000": "there is no such database: CREATE DATABASE firn ENCODING 'UTF8' TEMPLATE template0",
	"42501": "the user may not do that: make it the owner of the database",
	"53100": "the database's disk is full: make room on its machine",
	"53300": "the database has no connection left: raise max_connections, or end what holds them",
	"57P01": "the database is being stopped", "57P02": "the database has crashed and starts again", "57P03": "the database is starting: try again in a moment",
	"25006": "that database is a standby, which cannot be written to: name the primary",
}

// fileAdvice is by SQLite's primary result codes (sqlite.org/rescode.html).
var fileAdvice = map[int]string{
	8:  "the store's file, or its disk, can only be read: run firn as the owner of the file, or mount the disk for writing",
	10: "the disk fails: the system's log says how",
	13: "the disk is full, or the quota of it used up: make room",
}

// Advice says what to do about an error that came from outside, or nothing
// where it says so itself.
func Advice(err error) string {
	if e, ok := errors.AsType[*pgconn.PgError](err); ok {
		return databaseAdvice[e.Code]
	}
	if e, ok := errors.AsType[interface {
		error
		Code() int
	}](err); ok {
		return fileAdvice[e.Code()&0xff] // the rest says more of the same
	}
	if e, ok := errors.AsType[*net.DNSError](err); ok {
		if e.IsNotFound {
			return "there is no machine of that name: look for a slip in the address, and whether this machine is on the network"
		}
		return "no name server answers: is this machine on the network?"
	}
	if e, ok := errors.AsType[x509.CertificateInvalidError](err); ok && e.Reason == x509.Expired {
		return "its certificate is out of date, or this machine's clock is: compare the clock first"
	}
	_, unknown := errors.AsType[x509.UnknownAuthorityError](err)
	_, other := errors.AsType[x509.HostnameError](err)
	_, unverified := errors.AsType[*tls.CertificateVerificationError](err)
	if unknown || other || unverified {
		return "its certificate is not one that this machine trusts: something may stand between; a container needs ca-certificates"
	}
	for _, c := range []struct {
		is  error
		say string
	}{
		{syscall.ENOSPC, "the disk is full: make room"},
		{syscall.EDQUOT, "the quota of the disk is used up: make room, or have it raised"},
		{syscall.EROFS, "the disk can only be read: mount it for writing, or name another place (the store's is store path)"},
		{fs.ErrPermission, "this user may not: run firn as the owner of the file, or give the file to this user"},
		{syscall.ECONNREFUSED, "nobody listens there: is it running, and is that its port?"},
		{syscall.ENETUNREACH, "this machine has no way to that network"},
		{syscall.EHOSTUNREACH, "that machine is not reached: a firewall, or it is off"},
		{syscall.ECONNRESET, "the connection was cut: something between may not let it through"},
		{context.DeadlineExceeded, "no answer came in time: a firewall that says nothing, or a service that is overloaded"},
	} {
		if errors.Is(err, c.is) {
			return c.say
		}
	}
	return ""
}
