package outbox

import (
	"errors"
	"time"
)

// Permanent marks an error that another attempt cannot cure: a channel that
// does not exist, a post that the service refuses for what it is.
func Permanent(err error) error {
	if err == nil {
		return nil
	}
	return &permanent{err}
}

// IsPermanent says whether an error was marked by Permanent.
func IsPermanent(err error) bool {
	var p *permanent
	return errors.As(err, &p)
}

type permanent struct{ err error }

func (p *permanent) Error() string { return p.err.Error() }
func (p *permanent) Unwrap() error { return p.err }

// Busy marks an error of a service that said when to come again.
func Busy(err error, after time.Duration) error {
	if err == nil {
		return nil
	}
	return &busy{err, after}
}

type busy struct {
	err   error
	after time.Duration
}

func (b *busy) Error() string             { return b.err.Error() }
func (b *busy) Unwrap() error             { return b.err }
func (b *busy) RetryAfter() time.Duration { return b.after }
