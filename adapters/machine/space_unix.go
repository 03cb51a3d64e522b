//go:build linux || darwin

package machine

import (
	"io/fs"
	"syscall"
)

// spaceLeft is how many bytes firn may still write below a folder.
func spaceLeft(dir string) (bytes uint64, known bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return s.Bavail * uint64(s.Bsize), true
}

// ownerOf is whose a file is.
func ownerOf(info fs.FileInfo) (uid int, known bool) {
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, false
	}
	return int(s.Uid), true
}
