package main

import (
	"io"
	"sync"
)

// output is stdout, and remembers that it could not be written to: whatever a
// command makes of that, it has not said what it was asked for.
type output struct {
	to     io.Writer
	mu     sync.Mutex
	failed error // the first
}

// Write writes, and goes on to be asked after a failure.
func (o *output) Write(b []byte) (int, error) {
	n, err := o.to.Write(b)
	if err != nil {
		o.mu.Lock()
		defer o.mu.Unlock()
		if o.failed == nil {
			o.failed = err
		}
	}
	return n, err
}

// lost is why not everything was written; nil where it was.
func (o *output) lost() error {
	o.mu.Lock()
	defer o.mu.Unlock()
	return o.failed
}

// screen is stdout itself: a terminal where it is one, and for who tries a failed
// write again.
func (h host) screen() io.Writer {
	if o, ok := h.stdout.(*output); ok {
		return o.to
	}
	return h.stdout
}
