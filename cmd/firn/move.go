package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"path/filepath"
	"reflect"
	"text/tabwriter"

	"firn/adapters/machine"
	"firn/adapters/sqlstore"
	"firn/bot/record"
)

// moveCommand takes everything from the SQLite file into PostgreSQL.
type moveCommand struct {
	To string `help:"Where to: postgres, the database of FIRN_DATABASE_URL." enum:"postgres" required:"" placeholder:"postgres"`
	files
}

// Help is what kong shows below the flags.
func (moveCommand) Help() string {
	return "Stop firn serve first. The database must be empty. Either everything is there afterwards, counted table by table and with its history proved, or nothing is; the file stays as it was."
}

// Run moves.
func (c *moveCommand) Run(ctx context.Context, h host) error {
	url, err := machine.Env(h.getenv).Secret(envDatabase)
	if err != nil {
		return err
	}
	if !url.Set() {
		return fmt.Errorf("%w: set %s or %s to the empty database that everything goes to", errUsage, envDatabase, envDatabase+"_FILE")
	}
	l, err := c.load(h.stderr)
	if err != nil {
		return err
	}
	from, err := sqlstore.Take(ctx, l.file())
	if err != nil {
		return err
	}
	defer from.Close()
	was, err := record.Verify(ctx, from)
	if err != nil {
		return err
	}
	to, err := sqlstore.OpenPostgres(ctx, url.Reveal(), sqlstore.MayCreate)
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
	if err := from.Moved(ctx, h.now()); err != nil {
		slog.New(slog.NewTextHandler(h.stderr, nil)).Warn("everything was moved; do not run firn on the file any more", "store", l.file(), "err", err)
	}
	w := tabwriter.NewWriter(h.stdout, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "table\trows\t")
	for _, t := range all {
		fmt.Fprintf(w, "%s\t%d\t\n", t.Table, t.Rows)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	for _, f := range was.Findings { // moved as they were
		fmt.Fprintln(h.stdout, f.Text)
	}
	_, err = fmt.Fprintf(h.stdout, "everything is in PostgreSQL, and the history is what it was: %d entries, %d records, head %d %x\nrun firn with %s from now on, and keep %s as a backup: it says that it was moved, and is not opened any more\n",
		was.Entries, was.Records, was.Head.Seq, was.Head.Hash, envDatabase, l.file())
	return err
}

// backupCommand copies the SQLite file.
type backupCommand struct {
	files
	File string `arg:"" help:"The copy; it must not be there yet."`
}

// Help is what kong shows below the arguments.
func (backupCommand) Help() string {
	return "firn serve may go on meanwhile. A PostgreSQL database is copied by pg_dump; see the README."
}

// errServer: the database's own programs copy it.
var errServer = errors.New("the store is a PostgreSQL database, which its own programs copy: pg_dump --format=custom --file=FILE service=firn, and pg_restore into a new database; the address stands in the file of PGSERVICEFILE and the password in that of PGPASSFILE, for everybody on this machine reads command lines")

// Run copies and proves the copy.
func (c *backupCommand) Run(ctx context.Context, h host) error {
	l, err := fileOnly(h, c.files)
	if err != nil {
		return err
	}
	to, err := filepath.Abs(c.File)
	if err != nil {
		return fmt.Errorf("backup: %w", err)
	}
	if err := sqlstore.Backup(ctx, l.file(), to); err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.stdout, "%s is a copy of %s\n", to, l.file())
	return err
}

// restoreCommand puts a copy back.
type restoreCommand struct {
	files
	File string `arg:"" optional:"" help:"A copy that firn backup made. Without it: the store was put back by other means, and is to know."`
}

// Help is what kong shows below the arguments.
func (restoreCommand) Help() string {
	return "For two days after it every post is looked up on its chat service before it is sent, for it may stand there already."
}

// Run puts the copy where the store was, or only notes that it was.
func (c *restoreCommand) Run(ctx context.Context, h host) error {
	if c.File == "" {
		return c.note(ctx, h)
	}
	l, err := fileOnly(h, c.files)
	if err != nil {
		return err
	}
	report, err := sqlstore.Restore(ctx, c.File, l.file())
	if old, is := errors.AsType[sqlstore.OldError](err); is {
		_, err := fmt.Fprintf(h.stdout, "%s is back, as an older firn wrote it (schema %d): firn serve of this version brings it up to date, then firn export --verify proves its history\n", l.file(), old.Has)
		return err
	}
	if err != nil {
		return err
	}
	for _, f := range report.Findings {
		fmt.Fprintln(h.stderr, f.Text)
	}
	if len(report.Findings) > 0 {
		return fmt.Errorf("%w; %s is back as it was copied", record.ErrBroken, l.file())
	}
	_, err = fmt.Fprintf(h.stdout, "%s is back: %d entries, %d records, head %d %x\n", l.file(), report.Entries, report.Records, report.Head.Seq, report.Head.Hash)
	return err
}

// note has a store know that it was put back by other means.
func (c *restoreCommand) note(ctx context.Context, h host) error {
	l, err := c.load(h.stderr)
	if err != nil {
		return err
	}
	url, err := machine.Env(h.getenv).Secret(envDatabase)
	if err != nil {
		return err
	}
	where := l.file()
	if url.Set() {
		s, there, err := openStore(ctx, h, l, mustBeThere)
		if err != nil {
			return err
		}
		defer closed(h, s)
		if err := s.Restored(ctx); err != nil {
			return err
		}
		where = there
	} else if err := sqlstore.PutBack(ctx, where); err != nil {
		return err
	}
	_, err = fmt.Fprintf(h.stdout, "%s knows that it was put back from a copy\n", where)
	return err
}

// fileOnly loads the configuration of a store that is a file.
func fileOnly(h host, at files) (*loaded, error) {
	url, err := machine.Env(h.getenv).Secret(envDatabase)
	if err != nil {
		return nil, err
	}
	if url.Set() {
		return nil, errServer
	}
	return at.load(h.stderr)
}
