//go:build unix

package sqlstore

import (
	"io/fs"
	"syscall"
)

// ownerOf is whose a file is.
func ownerOf(info fs.FileInfo) (uid, gid int, known bool) {
	s, ok := info.Sys().(*syscall.Stat_t)
	if !ok {
		return 0, 0, false
	}
	return int(s.Uid), int(s.Gid), true
}
