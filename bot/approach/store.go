package approach

import (
	"context"
	"errors"
	"time"
)

// Store keeps procedures that were imported. Safe for use by several
// goroutines and processes.
type Store interface {
	// Replace puts a coded file in the place of what an earlier one of the same
	// dataset has left, in one step: whoever reads meanwhile has the old ones,
	// all of them, then the new ones. airports are those that are meant; none
	// for the whole dataset. fill hands over one approach after the other, and
	// in the end the edition; with its error, or with one of ErrOlder, nothing
	// is changed. Two approaches of one airport and code: the later one counts.
	Replace(ctx context.Context, dataset string, airports []string, fill func(add func(*Approach) error) (Edition, error)) (Replaced, error)
	// Procedures are those of a station, in the order of their codes.
	Procedures(ctx context.Context, ident string) ([]Approach, error)
}

// ErrOlder is wrapped when the store has a newer cycle than the file.
var ErrOlder = errors.New("an older cycle")

// Edition is the file that procedures are from.
type Edition struct {
	Cycle          string // as 2609; never empty
	Effective, End time.Time
	Imported       time.Time
}

// Replaced is what a Replace did.
type Replaced struct {
	Before, After int    // how many approaches were there, and are
	Was           string // the newest cycle before; empty where there was none
}
