package sqlstore

import (
	"context"
	"database/sql"
	"errors"
	"sync"
)

// groupCommit lets those who want to write to a file at the same time share a
// transaction: a commit costs a flush of the disk, whatever is in it, and there
// is one writer at a time. Who comes first leads: it begins, does what everybody
// who waits by then wants, each within a savepoint of its own, and commits for
// all.
type groupCommit struct {
	db         *sql.DB
	statements statements
	lead       chan struct{} // holds a token while somebody leads

	mu      sync.Mutex
	waiting []*pendingCommit
}

func newGroupCommit(db *sql.DB) groupCommit {
	return groupCommit{db: db, statements: statements{db: db, compiled: map[string]*sql.Stmt{}}, lead: make(chan struct{}, 1)}
}

// pendingCommit is what one caller wants done.
type pendingCommit struct {
	ctx  context.Context // of the caller; do gets it without its end
	do   func(context.Context, conn) error
	done chan error
}

// maxTogether bounds a transaction, and with it how long those in it wait.
const maxTogether = 64

var errUnfinished = errors.New("the transaction was not finished")

// commitWith does something within a transaction that is committed when it
// returns without an error. do may find what others did in the same one, and
// must not keep what it found when the error is not nil. Its context does not
// end in the middle: SQLite would roll back what the others did as well.
func (g *groupCommit) commitWith(ctx context.Context, do func(context.Context, conn) error) error {
	t := &pendingCommit{ctx: ctx, do: do, done: make(chan error, 1)}
	g.add(t)
	select {
	case err := <-t.done:
		return err
	case <-ctx.Done():
		if g.forget(t) {
			return ctx.Err()
		}
		return <-t.done // it is under way
	case g.lead <- struct{}{}:
		defer func() { <-g.lead }()
	}
	for {
		select {
		case err := <-t.done:
			return err
		default:
		}
		if err := g.transact(ctx); err != nil {
			if g.forget(t) {
				return contextError(ctx, err)
			}
			return <-t.done
		}
	}
}

func (g *groupCommit) add(t *pendingCommit) {
	g.mu.Lock()
	defer g.mu.Unlock()
	g.waiting = append(g.waiting, t)
}

// forget takes a turn back that has not begun.
func (g *groupCommit) forget(t *pendingCommit) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	for i, w := range g.waiting {
		if w == t {
			g.waiting = append(g.waiting[:i:i], g.waiting[i+1:]...)
			return true
		}
	}
	return false
}

// take takes those who came first.
func (g *groupCommit) take() []*pendingCommit {
	g.mu.Lock()
	defer g.mu.Unlock()
	n := min(len(g.waiting), maxTogether)
	batch := g.waiting[:n:n]
	g.waiting = append([]*pendingCommit(nil), g.waiting[n:]...)
	return batch
}

// transact does one transaction. Its error is that it could not begin; what
// came of the turns is told to each.
func (g *groupCommit) transact(ctx context.Context) error {
	// The leader may give up while it waits for another process; once the
	// transaction has begun its context has nothing to do with it any more.
	g.statements.compile(ctx)
	whole, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	stop := context.AfterFunc(ctx, cancel)
	tx, err := g.db.BeginTx(whole, nil)
	stopped := stop()
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	if !stopped {
		return ctx.Err()
	}
	batch := g.take()
	errs := make([]error, len(batch))
	for i := range errs {
		errs[i] = errUnfinished
	}
	defer func() { // also when a turn panics, which ends its caller's process
		for i, t := range batch {
			t.done <- errs[i]
		}
	}()
	for i, t := range batch {
		errs[i] = inSavepoint(compiledTx{tx, &g.statements}, t, len(batch) > 1)
		if errors.Is(errs[i], errUnfinished) {
			// SQLite has rolled back all of it, as it does when the disk is full.
			for j := range errs {
				errs[j] = errs[i]
			}
			return nil
		}
	}
	if len(batch) == 1 && errs[0] != nil {
		return nil // rolled back
	}
	if err := tx.Commit(); err != nil {
		for i := range errs {
			if errs[i] == nil {
				errs[i] = err
			}
		}
	}
	return nil
}

// inSavepoint does one turn; among others in a savepoint, so that an error undoes
// what this one did. errUnfinished: the others are undone too.
func inSavepoint(tx conn, t *pendingCommit, others bool) error {
	ctx := context.WithoutCancel(t.ctx)
	if err := t.ctx.Err(); err != nil {
		return err
	}
	if !others {
		return t.do(ctx, tx)
	}
	if _, err := tx.ExecContext(ctx, "SAVEPOINT turn"); err != nil {
		return errors.Join(errUnfinished, err)
	}
	err := t.do(ctx, tx)
	if err != nil {
		if _, undo := tx.ExecContext(ctx, "ROLLBACK TO turn"); undo != nil {
			return errors.Join(errUnfinished, err, undo)
		}
	}
	if _, end := tx.ExecContext(ctx, "RELEASE turn"); end != nil {
		return errors.Join(errUnfinished, err, end)
	}
	return err
}
