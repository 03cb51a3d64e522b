package approach

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// Store keeps procedures that were imported. Safe for use by several
// goroutines and processes.
type Store interface {
	// Replace puts a coded file in the place of what an earlier one of the same
	// dataset has left, in one step: whoever reads meanwhile has the old ones,
	// all of them, then the new ones. airports are those that are meant; none
	// for the whole dataset. fill hands over one approach after the other, and
	// in the end the edition; with its error, or with one that the edition does
	// not Follow, nothing is changed. Two approaches of one airport and code: the later one counts.
	Replace(ctx context.Context, dataset string, airports []string, fill func(add func(*Approach) error) (Edition, error)) (Replaced, error)
	// Procedures are those of a station, in the order of their codes.
	Procedures(ctx context.Context, ident string) ([]Approach, error)
}

// Sized is a Store that tells how many bytes it takes on disk.
type Sized interface {
	Size(ctx context.Context) (bytes int64, err error)
}

// Errors that are wrapped where a file may not take the stored one's place.
var (
	// ErrOlder: the store has a newer cycle than the file.
	ErrOlder = errors.New("an older cycle")
	// ErrFewer: the file is of the stored cycle and has far fewer airports.
	ErrFewer = errors.New("far fewer airports")
)

// Edition is the file that procedures are from.
type Edition struct {
	Cycle          string // as 2609; never empty
	Effective, End time.Time
	Imported       time.Time
	Partial        bool // an excerpt is meant
}

// Follow says why an edition may not take the place of what is stored: of
// which cycle that is, empty for none, and how many airports have procedures
// before and after. One cycle has one set of airports: a tenth less is a file
// that is not whole.
func (e Edition) Follow(was string, before, after int) error {
	switch {
	case e.Cycle == "":
		return errors.New("the edition has no cycle")
	case was > e.Cycle:
		return fmt.Errorf("%w: %s is stored", ErrOlder, was)
	case was == e.Cycle && !e.Partial && 10*after < 9*before:
		return fmt.Errorf("%w: %d, where %d are stored of cycle %s", ErrFewer, after, before, was)
	}
	return nil
}

// Replaced is what a Replace did.
type Replaced struct {
	Before, After int    // how many approaches were there, and are
	Was           string // the newest cycle before; empty where there was none
}
