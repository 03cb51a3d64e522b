package fetch

import (
	"errors"
	"fmt"
	"time"
)

var (
	// ErrUnreadable is wrapped when an answer came and makes no sense: another
	// content type, or what Get's read function refuses.
	ErrUnreadable = errors.New("unreadable answer")
	// ErrTooLarge is wrapped when an answer is larger than the limit.
	ErrTooLarge = errors.New("answer larger than the limit")
	// ErrPrivate is wrapped when the service's name leads to an address inside
	// some network.
	ErrPrivate = errors.New("its name leads to an address that is not public, and is not asked; write \"private: true\" beside the url if that is meant")
	// ErrRedirect is wrapped when an answer points to another host or scheme.
	ErrRedirect = errors.New("redirect to another host or scheme refused")
)

// StatusError is an answer with a status that is neither success nor absence.
type StatusError struct{ Code int }

func (e *StatusError) Error() string { return fmt.Sprintf("answered with status %d", e.Code) }

// WaitError says that the service wants to be left alone for now, or, Paced,
// that firn does not ask it any more often.
type WaitError struct {
	Until time.Time
	Paced bool
}

func (e *WaitError) Error() string {
	if e.Paced {
		return "it is asked for many stations in a row, and not any faster; again at " + e.Until.UTC().Format(time.RFC3339)
	}
	return "the service asks not to be asked before " + e.Until.UTC().Format(time.RFC3339)
}
