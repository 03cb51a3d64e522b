// Package jsonl is the file surface: a post to file:NAME becomes one line
// of JSON in NAME.jsonl, for programs that read along and for whoever wants a
// record.
//
//   - box.go: Box, its Send and Find
//   - file.go: opening and locking a file, mending its end, appending a line
//   - index.go: which keys stand in a file, and where
//   - room_unix.go, room_other.go: whether the disk is full
//
// A line is a post once its newline stands. It is written in one call to the
// end of the file and synced before Send says yes; what a process that died
// in mid-write has left is cut off before the next line. All of it happens
// under a lock on the file, so any number of processes may share a folder,
// and Send writes a key once, however often it is asked.
//
// Readers may follow the files; nobody else may change them. A file that is
// moved away takes its keys with it: an item still in the queue could be
// written to the new file again. It needs a file system with working locks.
package jsonl
