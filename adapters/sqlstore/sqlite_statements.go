package sqlstore

import (
	"context"
	"database/sql"
)

// statements are those of a file's writer, compiled once: to compile one takes
// SQLite about as long as to run it. Who leads a commit uses them, nobody else.
type statements struct {
	db       *sql.DB
	compiled map[string]*sql.Stmt
	missed   []string
}

// compile compiles what the last transaction has missed, between two
// transactions, for there is one connection.
func (s *statements) compile(ctx context.Context) {
	for _, query := range s.missed {
		if s.compiled[query] != nil {
			continue
		}
		// What does not compile now is run as it is and says so itself.
		if st, err := s.db.PrepareContext(ctx, query); err == nil {
			s.compiled[query] = st
		}
	}
	s.missed = nil
}

// compiledTx is a transaction that uses them.
type compiledTx struct {
	*sql.Tx
	of *statements
}

func (t compiledTx) compiled(ctx context.Context, query string) *sql.Stmt {
	if st := t.of.compiled[query]; st != nil {
		return t.StmtContext(ctx, st)
	}
	t.of.missed = append(t.of.missed, query)
	return nil
}

// ExecContext runs a statement.
func (t compiledTx) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	if st := t.compiled(ctx, query); st != nil {
		return st.ExecContext(ctx, args...)
	}
	return t.Tx.ExecContext(ctx, query, args...)
}

// QueryContext runs a statement that gives rows.
func (t compiledTx) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if st := t.compiled(ctx, query); st != nil {
		return st.QueryContext(ctx, args...)
	}
	return t.Tx.QueryContext(ctx, query, args...)
}

// QueryRowContext runs a statement that gives one row at most.
func (t compiledTx) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	if st := t.compiled(ctx, query); st != nil {
		return st.QueryRowContext(ctx, args...)
	}
	return t.Tx.QueryRowContext(ctx, query, args...)
}
