package sqlstore

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"path/filepath"
	"reflect"
	"strconv"
	"text/tabwriter"
	"time"

	"github.com/jackc/pgx/v5"

	"firn/bot/access"
	"firn/bot/app"
	"firn/bot/record"
)

// Place is where the store is: the database, where an address is given, else
// the file.
type Place struct {
	Database string // its address, which holds a password
	File     string
	Flags    string // by which another command finds it, behind what is said to be typed
}

// String is the place for people: which database on which server, without who
// comes to it and by which password.
func (p Place) String() string {
	if p.Database == "" {
		return p.File
	}
	cfg, err := pgx.ParseConfig(p.Database)
	if err != nil {
		return "PostgreSQL" // OpenPostgres says what is wrong
	}
	return databaseOf(cfg)
}

// databaseOf is a database for people.
func databaseOf(cfg *pgx.ConnConfig) string {
	return fmt.Sprintf("PostgreSQL %s at %s", cmp.Or(cfg.Database, cfg.User), net.JoinHostPort(cfg.Host, strconv.Itoa(int(cfg.Port))))
}

// Served says whether a process serves from the file, as far as that is seen.
func (p Place) Served() bool {
	is, known := served(p.File)
	return is && known
}

// Opened is a store of either kind.
type Opened interface {
	app.Store
	Restored(ctx context.Context) error // it was put back from a copy
	// Alone is a lock that ends with unlock or with this process.
	Alone(ctx context.Context, name string) (unlock func(context.Context) error, held bool, err error)
	Close() error
}

// Open opens the store that is there.
func (p Place) Open(ctx context.Context, how Opening) (Opened, error) {
	if p.Database != "" {
		s, err := OpenPostgres(ctx, p.Database, how)
		if err != nil {
			return nil, err
		}
		return s, nil
	}
	s, err := OpenSQLite(ctx, p.File, how)
	if err != nil {
		return nil, err
	}
	return s, nil
}

// errServer: the database's own programs copy it.
var errServer = errors.New("the store is a PostgreSQL database, which its own programs copy: pg_dump --format=custom --file=FILE service=firn, and pg_restore into a new database; the address stands in the file of PGSERVICEFILE and the password in that of PGPASSFILE, for everybody on this machine reads command lines")

// Backup copies the file, proves the copy and tells out.
func (p Place) Backup(ctx context.Context, to string, out io.Writer) error {
	if p.Database != "" {
		return errServer
	}
	to, err := filepath.Abs(to)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	if err := Backup(ctx, p.File, to); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "%s is a copy of %s\n", to, p.File)
	return err
}

// Restore puts a copy in the file's place, proves it and tells out; what is not
// sound in it goes to errs.
func (p Place) Restore(ctx context.Context, from string, out, errs io.Writer) error {
	if p.Database != "" {
		return errServer
	}
	report, err := Restore(ctx, from, p.File)
	if old, is := errors.AsType[OldError](err); is {
		_, err := fmt.Fprintf(out, "%s is back, as an older firn wrote it (schema %d): firn serve of this version brings it up to date, then firn export --verify%s proves its history, and firn access list%[3]s shows whose links are good again\n", p.File, old.Has, p.Flags)
		return err
	}
	if err != nil {
		return err
	}
	for _, f := range report.Findings {
		fmt.Fprintln(errs, f.Text)
	}
	if len(report.Findings) > 0 {
		return errors.Join(p.linksBack(ctx, out), fmt.Errorf("%w; %s is back as it was copied", record.ErrBroken, p.File))
	}
	if _, err = fmt.Fprintf(out, "%s is back: %s\n", p.File, report); err != nil {
		return err
	}
	return p.linksBack(ctx, out)
}

// linksBack tells of the links that came back with a copy.
func (p Place) linksBack(ctx context.Context, out io.Writer) error {
	s, err := p.Open(ctx, ToRead)
	if err != nil {
		return err
	}
	return errors.Join(access.Links{Store: s, Now: time.Now, Flags: p.Flags}.Back(ctx, out), s.Close())
}

// PutBack has the store know that it was put back by other means.
func (p Place) PutBack(ctx context.Context, out io.Writer) error {
	if p.Database == "" {
		if err := PutBack(ctx, p.File); err != nil {
			return err
		}
	} else {
		s, err := p.Open(ctx, MustExist)
		if err != nil {
			return err
		}
		if err := errors.Join(s.Restored(ctx), s.Close()); err != nil {
			return err
		}
	}
	if _, err := fmt.Fprintf(out, "%s knows that it was put back from a copy\n", p); err != nil {
		return err
	}
	return p.linksBack(ctx, out)
}

// Move takes everything from the file into the database, which must be empty:
// all of it, counted and with its history proved, or nothing. It tells out; left
// is told when the file does not know afterwards that it was moved.
func (p Place) Move(ctx context.Context, now time.Time, out io.Writer, left func(error)) error {
	from, err := Take(ctx, p.File)
	if err != nil {
		return err
	}
	defer from.Close()
	was, err := record.Verify(ctx, from)
	if err != nil {
		return err
	}
	to, err := OpenPostgres(ctx, p.Database, MayCreate)
	if err != nil {
		return err
	}
	defer to.Close()
	all, err := to.Load(ctx, from, func(ctx context.Context, now record.Walker) error {
		is, err := record.Verify(ctx, now)
		if err == nil && !reflect.DeepEqual(is, was) {
			err = fmt.Errorf("%w after the move: %d entries, %d records and %d findings, where there were %d, %d and %d", record.ErrBroken,
				is.Entries, is.Records, len(is.Findings), was.Entries, was.Records, len(was.Findings))
		}
		return err
	})
	if err != nil {
		return err
	}
	if err := from.Moved(ctx, now); err != nil {
		left(err)
	}
	w := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "table\trows\t")
	for _, t := range all {
		fmt.Fprintf(w, "%s\t%d\t\n", t.Table, t.Rows)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, f := range was.Findings { // moved as they were
		fmt.Fprintln(out, f.Text)
	}
	_, err = fmt.Fprintf(out, "everything is in %s, and the history is what it was: %s\nrun firn with FIRN_DATABASE_URL from now on, and keep %s as a backup: it says that it was moved, and is not opened any more\n",
		p, was, p.File)
	return err
}
