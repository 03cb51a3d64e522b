//go:build darwin || dragonfly || freebsd || linux || netbsd || openbsd || illumos

package jsonl

import (
	"errors"
	"os"
	"syscall"
)

// tryLock takes the lock of an open file unless another holds it. The lock
// ends with the file, also when the process is killed.
func tryLock(f *os.File) (taken bool, err error) {
	for {
		err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB)
		switch {
		case err == nil:
			return true, nil
		case errors.Is(err, syscall.EINTR):
		case errors.Is(err, syscall.EWOULDBLOCK):
			return false, nil
		default:
			return false, err
		}
	}
}

// full says that an error is for want of room.
func full(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT)
}
