// Package process watches the log of a serve process that a test has started.
package process

import (
	"bytes"
	"sync"
)

// Log is what a process writes on stderr: its cmd.Stderr.
type Log struct {
	mu    sync.Mutex
	text  []byte
	ready chan struct{}
	is    bool
}

// NewLog makes one.
func NewLog() *Log { return &Log{ready: make(chan struct{})} }

// Ready is closed when the process says that it is.
func (l *Log) Ready() <-chan struct{} { return l.ready }

// Write takes what the process writes.
func (l *Log) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.text = append(l.text, b...)
	if !l.is && (bytes.Contains(l.text, []byte("msg=ready")) || bytes.Contains(l.text, []byte(`"msg":"ready"`))) {
		l.is = true
		close(l.ready)
	}
	return len(b), nil
}

// tailBytes is how much of the end shows why a process ended.
const tailBytes = 4000

// Tail is the end of it.
func (l *Log) Tail() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return string(l.text[max(0, len(l.text)-tailBytes):])
}

// All is everything.
func (l *Log) All() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return string(l.text)
}
