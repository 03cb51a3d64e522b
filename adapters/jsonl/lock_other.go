//go:build !(darwin || dragonfly || freebsd || linux || netbsd || openbsd || illumos)

package jsonl

import (
	"errors"
	"os"
)

// tryLock fails: without a lock between processes a post could come twice.
func tryLock(*os.File) (taken bool, err error) {
	return false, errors.New("file channels need file locks, which this system does not offer; use another channel")
}

func full(error) bool { return false }
