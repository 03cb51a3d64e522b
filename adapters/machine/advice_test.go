package machine

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"strings"
	"syscall"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
)

// coded is an error as SQLite's driver gives it.
type coded int

func (c coded) Error() string { return fmt.Sprintf("SQLite says %d", int(c)) }
func (c coded) Code() int     { return int(c) }

func TestAdvice(t *testing.T) {
	for _, c := range []struct {
		err  error
		want string
	}{
		{&fs.PathError{Op: "write", Path: "firn.db", Err: syscall.ENOSPC}, "the disk is full"},
		{&fs.PathError{Op: "open", Path: "firn.db", Err: syscall.EACCES}, "this user may not"},
		{syscall.EROFS, "mount it for writing"},
		{&net.OpError{Op: "dial", Err: os.NewSyscallError("connect", syscall.ECONNREFUSED)}, "nobody listens there"},
		{&net.OpError{Op: "dial", Err: &net.DNSError{Name: "x", IsNotFound: true}}, "there is no machine of that name"},
		{&net.DNSError{Name: "x", IsTimeout: true}, "no name server answers"},
		{context.DeadlineExceeded, "no answer came in time"},
		{&tls.CertificateVerificationError{Err: x509.CertificateInvalidError{Reason: x509.Expired}}, "compare the clock first"},
		{&tls.CertificateVerificationError{Err: x509.UnknownAuthorityError{}}, "ca-certificates"},
		{x509.HostnameError{Certificate: &x509.Certificate{}}, "something may stand between"},
		{&pgconn.PgError{Code: "53300"}, "raise max_connections"},
		{&pgconn.PgError{Code: "25006"}, "name the primary"},
		{coded(13), "the disk is full"},
		{coded(8 | 1<<8), "run firn as the owner of the file"},
		{coded(1), ""},
		{errors.New("something else"), ""},
	} {
		if got := Advice(fmt.Errorf("where: %w", c.err)); !strings.Contains(got, c.want) || c.want == "" && got != "" {
			t.Errorf("Advice(%v) = %q, want %q", c.err, got, c.want)
		}
	}
}
