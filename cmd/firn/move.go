package main

import (
	"context"
	"fmt"
	"log/slog"

	"firn/cmd/wiring"
)

// moveCommand takes everything from the SQLite file into PostgreSQL.
type moveCommand struct {
	To string `help:"Where to: postgres, the database of FIRN_DATABASE_URL." enum:"postgres" required:"" placeholder:"postgres"`
	wiring.Places
}

// Help is what kong shows below the flags.
func (moveCommand) Help() string {
	return "Stop firn serve first. The database must be empty. Either everything is there afterwards, counted table by table and with its history proved, or nothing is; the file stays as it was."
}

// Run moves.
func (c *moveCommand) Run(ctx context.Context, h host) error {
	at, err := c.StoreAt(h.wiring())
	if err != nil {
		return err
	}
	if at.Database == "" {
		return fmt.Errorf("%w: set %s or %[2]s_FILE to the empty database that everything goes to", errUsage, wiring.EnvDatabase)
	}
	return at.Move(ctx, h.now(), h.stdout, func(err error) {
		slog.New(slog.NewTextHandler(h.stderr, nil)).Warn("everything was moved; do not run firn on the file any more", "store", at.File, "err", err)
	})
}

// backupCommand copies the SQLite file.
type backupCommand struct {
	wiring.Places
	File string `arg:"" help:"The copy; it must not be there yet."`
}

// Help is what kong shows below the arguments.
func (backupCommand) Help() string {
	return "firn serve may go on meanwhile. A PostgreSQL database is copied by pg_dump; see the README."
}

// Run copies and proves the copy.
func (c *backupCommand) Run(ctx context.Context, h host) error {
	at, err := c.StoreAt(h.wiring())
	if err != nil {
		return err
	}
	return at.Backup(ctx, c.File, h.stdout)
}

// restoreCommand puts a copy back.
type restoreCommand struct {
	wiring.Places
	File string `arg:"" optional:"" help:"A copy that firn backup made. Without it: the store was put back by other means, and is to know."`
}

// Help is what kong shows below the arguments.
func (restoreCommand) Help() string {
	return "For two days after it every post is looked up on its chat service before it is sent, for it may stand there already."
}

// Run puts the copy where the store was, or only notes that it was.
func (c *restoreCommand) Run(ctx context.Context, h host) error {
	at, err := c.StoreAt(h.wiring())
	if err != nil {
		return err
	}
	if c.File == "" {
		return at.PutBack(ctx, h.stdout)
	}
	return at.Restore(ctx, c.File, h.stdout, h.stderr)
}
