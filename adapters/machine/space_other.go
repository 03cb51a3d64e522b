//go:build !linux && !darwin

package machine

// spaceLeft is not known here.
func spaceLeft(string) (bytes uint64, known bool) { return 0, false }
