//go:build linux || darwin

package machine

import "syscall"

// spaceLeft is how many bytes firn may still write below a folder.
func spaceLeft(dir string) (bytes uint64, known bool) {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return 0, false
	}
	return s.Bavail * uint64(s.Bsize), true
}
