package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"sync"
)

// turns let those who want to write at the same time share a transaction: a
// commit costs a flush of the disk, whatever is in it, and there is one writer
// at a time. Who comes first leads: it begins, does what everybody who waits
// by then wants, each within a savepoint of its own, and commits for all.
type turns struct {
	lead chan struct{} // holds a token while somebody leads

	mu      sync.Mutex
	waiting []*turn
}

// turn is what one caller wants done.
type turn struct {
	ctx  context.Context // of the caller; do gets it without its end
	do   func(context.Context, *sql.Tx) error
	done chan error
}

// mostTurns bounds a transaction, and with it how long those in it wait.
const mostTurns = 64

var errUnfinished = errors.New("the transaction was not finished")

// together does something within a transaction that is committed when it
// returns without an error. do may find what others did in the same one, and
// must not keep what it found when the error is not nil. Its context does not
// end in the middle: SQLite would roll back what the others did as well.
func (s *Store) together(ctx context.Context, do func(context.Context, *sql.Tx) error) error {
	t := &turn{ctx: ctx, do: do, done: make(chan error, 1)}
	s.turns.add(t)
	select {
	case err := <-t.done:
		return err
	case <-ctx.Done():
		if s.turns.forget(t) {
			return ctx.Err()
		}
		return <-t.done // it is under way
	case s.turns.lead <- struct{}{}:
		defer func() { <-s.turns.lead }()
	}
	for {
		select {
		case err := <-t.done:
			return err
		default:
		}
		if err := s.transact(ctx); err != nil {
			if s.turns.forget(t) {
				return because(ctx, err)
			}
			return <-t.done
		}
	}
}

func (q *turns) add(t *turn) {
	q.mu.Lock()
	defer q.mu.Unlock()
	q.waiting = append(q.waiting, t)
}

// forget takes a turn back that has not begun.
func (q *turns) forget(t *turn) bool {
	q.mu.Lock()
	defer q.mu.Unlock()
	for i, w := range q.waiting {
		if w == t {
			q.waiting = append(q.waiting[:i:i], q.waiting[i+1:]...)
			return true
		}
	}
	return false
}

// take takes those who came first.
func (q *turns) take() []*turn {
	q.mu.Lock()
	defer q.mu.Unlock()
	n := min(len(q.waiting), mostTurns)
	batch := q.waiting[:n:n]
	q.waiting = append([]*turn(nil), q.waiting[n:]...)
	return batch
}

// transact does one transaction. Its error is that it could not begin; what
// came of the turns is told to each.
func (s *Store) transact(ctx context.Context) error {
	// The leader may give up while it waits for another process; once the
	// transaction has begun its context has nothing to do with it any more.
	whole, cancel := context.WithCancel(context.WithoutCancel(ctx))
	defer cancel()
	stop := context.AfterFunc(ctx, cancel)
	tx, err := s.write.BeginTx(whole, nil)
	stopped := stop()
	if err != nil {
		return err
	}
	defer tx.Rollback() // after a commit it does nothing
	if !stopped {
		return ctx.Err()
	}
	batch := s.turns.take()
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
		errs[i] = within(tx, t, len(batch) > 1)
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

// within does one turn; among others in a savepoint, so that an error undoes
// what this one did. errUnfinished: the others are undone too.
func within(tx *sql.Tx, t *turn, others bool) error {
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
