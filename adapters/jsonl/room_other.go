//go:build !unix

package jsonl

// full says that an error is for want of room, which this system does not tell
// in a way that is known here.
func full(error) bool { return false }
