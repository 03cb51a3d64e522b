package sqlstore

import (
	"context"
	"time"

	"firn/bot/pagestate"
)

// dialect is what the two databases do in their own ways.
type dialect interface {
	// write runs do in a transaction, which is committed when do returns
	// without an error; what do told of is told then. do may run on another
	// goroutine, in one transaction with what others want: it uses the context
	// that it is given, and what it found counts only when write returns nil.
	// It returns the first error it meets, for on PostgreSQL nothing works in
	// a transaction after that.
	write(ctx context.Context, do func(context.Context, *tx) error) error

	// single is write for one statement, which PostgreSQL commits by itself:
	// BEGIN and COMMIT would be two more round trips.
	single(ctx context.Context, do func(context.Context, conn) error) error

	// replaceProcedures runs clear, then fill with where it inserts and the
	// table, then settle, in one transaction that is committed when none has an
	// error. While fill runs, which may be long, others write as far as they can.
	replaceProcedures(ctx context.Context, clear func(context.Context, conn) error, fill func(on conn, table string) error, settle func(context.Context, conn) error) error
}

// words are what a statement says differently in the two.
type words struct {
	now      string              // an expression: the time by which leases run
	interval func(string) string // of a parameter: that many microseconds
	schema   string              // a query: when the schema was made
	size     string              // a query: how many bytes the store takes

	// Behind a SELECT: rows that others have locked are waited for, or passed
	// over. SQLite has one writer at a time.
	forUpdate, skipLocked string

	// Statements that keep others from what they name until the transaction
	// ends; none where there is one writer anyway.
	lockHistory, lockLinks string

	// digested is a time as the digests of what was received have it.
	digested func(time.Time) any
}

// later is an expression: the time that is a parameter's microseconds from now.
func (w words) later(parameter string) string { return w.now + " + " + w.interval(parameter) }

// tx is a transaction that writes.
type tx struct {
	conn
	changes []pagestate.Change
}

// changed is told to those who follow, if the transaction is committed.
func (t *tx) changed(c ...pagestate.Change) { t.changes = append(t.changes, c...) }

// lock runs one of the words' locks.
func (t *tx) lock(ctx context.Context, statement string) error {
	if statement == "" {
		return nil
	}
	_, err := t.ExecContext(ctx, statement)
	return err
}
