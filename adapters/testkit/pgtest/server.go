//go:build unix

package pgtest

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/adapters/testkit/installed"
)

// Server is a running server.
type Server struct {
	dir      string
	password string
	number   atomic.Int64   // of the last database
	leash    io.WriteCloser // the server ends when this does
	cmd      *exec.Cmd
	again    bool // it was started again
}

// keeper runs the server and stops it when its input ends, which it does when
// the test's process ends, however that comes about. Then it clears up. Until
// then a line on its input is a signal that ends the server, or starts it.
const keeper = `
dir=$1; shift
"$@" </dev/null >"$dir/log" 2>&1 &
server=$!
while read -r line; do
	if [ "$line" = start ]; then
		"$@" </dev/null >>"$dir/log" 2>&1 &
		server=$!
	else
		kill -"$line" $server
		wait $server
	fi
done
kill -INT $server
wait $server
cd / && rm -rf "$dir"
`

// Start starts a server. Settings like "fsync=on" go before those for speed.
func Start(settings ...string) (_ *Server, err error) {
	bin, err := binaries()
	if err != nil {
		return nil, err
	}
	attr, err := unprivileged()
	if err != nil {
		return nil, err
	}
	dir, err := os.MkdirTemp("", "firn-postgres-")
	if err != nil {
		return nil, err
	}
	s := &Server{dir: dir, password: rand.Text()}
	defer func() {
		if err != nil {
			s.Stop()
		}
	}()
	secret := filepath.Join(dir, "password")
	if err := os.WriteFile(secret, []byte(s.password), 0o600); err != nil {
		return nil, err
	}
	if c := attr.Credential; c != nil {
		for _, name := range []string{dir, secret} {
			if err := os.Chown(name, int(c.Uid), int(c.Gid)); err != nil {
				return nil, err
			}
		}
	}
	data := filepath.Join(dir, "data")
	initdb := exec.Command(filepath.Join(bin, "initdb"), "-D", data, "-U", "firn", "-A", "scram-sha-256",
		"--pwfile", secret, "-E", "UTF8", "--locale", "C", "--no-sync")
	initdb.Dir, initdb.SysProcAttr = dir, attr
	if out, err := initdb.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("initdb: %w: %s", err, out)
	}
	args := []string{"-c", keeper, "keeper", dir, filepath.Join(bin, "postgres"), "-D", data}
	for _, set := range append([]string{
		"listen_addresses=", "unix_socket_directories=" + dir, "max_connections=200", "shared_buffers=32MB",
		"fsync=off", "full_page_writes=off", "autovacuum=off",
	}, settings...) { // the last one holds
		args = append(args, "-c", set)
	}
	s.cmd = exec.Command("/bin/sh", args...)
	s.cmd.Dir, s.cmd.SysProcAttr = dir, attr
	if s.leash, err = s.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	if err := s.cmd.Start(); err != nil {
		return nil, err
	}
	return s, s.wait()
}

// New starts a server that goes with the test. Without one that is installed
// the test is skipped.
func New(t testing.TB, settings ...string) *Server {
	t.Helper()
	installed.PostgreSQL().Need(t)
	s, err := Start(settings...)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Stop(); err != nil {
			t.Error(err)
		}
	})
	return s
}

// shared goes with the process: to make a cluster takes a second of processor.
var shared = sync.OnceValues(func() (*Server, error) { return Start() })

// Shared is one server for all tests of a process, each with databases of its
// own. Without one that is installed the test is skipped. Whoever restarts a
// server or changes what all its databases share needs a New one.
func Shared(t testing.TB) *Server {
	t.Helper()
	installed.PostgreSQL().Need(t)
	s, err := shared()
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// wait waits until the server answers.
func (s *Server) wait() error {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	for {
		c, err := pgx.Connect(ctx, s.url("postgres"))
		if err == nil {
			return c.Close(ctx)
		}
		select {
		case <-ctx.Done():
			log, _ := os.ReadFile(filepath.Join(s.dir, "log"))
			return fmt.Errorf("PostgreSQL does not answer: %w; its log:\n%s", err, log)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

// Stop stops the server and removes its folder.
func (s *Server) Stop() error {
	var errs []error
	if s.again {
		errs = append(errs, s.wait())
	}
	if s.leash != nil {
		errs = append(errs, s.leash.Close())
	}
	if s.cmd != nil && s.cmd.Process != nil {
		errs = append(errs, s.cmd.Wait())
	}
	return errors.Join(append(errs, os.RemoveAll(s.dir))...)
}

// Restart ends the server, without a word to its clients where it crashes, and
// starts it again after a while. It does not wait until it answers.
func (s *Server) Restart(crash bool, down time.Duration) error {
	how := "INT"
	if crash {
		how = "QUIT"
	}
	// A shell starts it with both signals ignored: one that came before it has
	// its own handlers would be lost.
	if err := s.wait(); err != nil {
		return err
	}
	s.again = true
	if _, err := io.WriteString(s.leash, how+"\n"); err != nil {
		return err
	}
	time.Sleep(down)
	_, err := io.WriteString(s.leash, "start\n")
	return err
}

// Password is the password in every address.
func (s *Server) Password() string { return s.password }

// Database makes an empty database, which goes with the test, and gives its
// address. Options follow CREATE DATABASE and its name.
func (s *Server) Database(t testing.TB, options ...string) string {
	t.Helper()
	name := "test_" + strconv.FormatInt(s.number.Add(1), 10)
	s.Exec(t, "CREATE DATABASE "+name+" "+strings.Join(options, " "))
	t.Cleanup(func() { s.Exec(t, "DROP DATABASE "+name+" WITH (FORCE)") })
	return s.url(name)
}

// Create makes an empty database that stays until the server stops, and gives
// its address: for cmd/firn-load, which is no test.
func (s *Server) Create(ctx context.Context, name string) (string, error) {
	c, err := pgx.Connect(ctx, s.url("postgres"))
	if err != nil {
		return "", err
	}
	defer c.Close(ctx)
	if _, err := c.Exec(ctx, "CREATE DATABASE "+pgx.Identifier{name}.Sanitize()); err != nil {
		return "", err
	}
	return s.url(name), nil
}

// Exec runs a statement as the server's superuser.
func (s *Server) Exec(t testing.TB, statement string, args ...any) {
	t.Helper()
	ctx := context.Background() // the test's own has ended when it clears up
	c, err := pgx.Connect(ctx, s.url("postgres"))
	if err != nil {
		t.Fatalf("pgtest: %v", err)
	}
	defer c.Close(ctx)
	if _, err := c.Exec(ctx, statement, args...); err != nil {
		t.Fatalf("pgtest: %s: %v", statement, err)
	}
}

func (s *Server) url(database string) string {
	u := url.URL{
		Scheme: "postgres", User: url.UserPassword("firn", s.password), Path: "/" + database,
		RawQuery: url.Values{"host": {s.dir}}.Encode(),
	}
	return u.String()
}

// binaries is the folder of the newest server that is installed.
func binaries() (string, error) {
	path, err := installed.PostgreSQL().Find()
	return filepath.Dir(path), err
}

// unprivileged makes processes run as somebody else where we are root.
func unprivileged() (*syscall.SysProcAttr, error) {
	attr := &syscall.SysProcAttr{}
	if os.Geteuid() != 0 {
		return attr, nil
	}
	for _, name := range []string{"postgres", "nobody"} {
		u, err := user.Lookup(name)
		if err != nil {
			continue
		}
		uid, err := strconv.ParseUint(u.Uid, 10, 32)
		if err != nil {
			return nil, err
		}
		gid, err := strconv.ParseUint(u.Gid, 10, 32)
		if err != nil {
			return nil, err
		}
		attr.Credential = &syscall.Credential{Uid: uint32(uid), Gid: uint32(gid)}
		return attr, nil
	}
	return nil, errors.New("PostgreSQL does not run as root, and there is neither a user postgres nor nobody")
}

// Program is the path of one of the programs that come with the server, such
// as pg_dump.
func Program(name string) (string, error) {
	bin, err := binaries()
	if err != nil {
		return "", err
	}
	return filepath.Join(bin, name), nil
}
