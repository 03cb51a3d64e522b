//go:build unix

package jsonl

import (
	"errors"
	"syscall"
)

// full says that an error is for want of room.
func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
