package headless

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// TestDoesNotStart: a program that is there and is no browser, as some systems
// have one that only tells how to get it, is an error and not a wait.
func TestDoesNotStart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "chromium")
	if err := os.WriteFile(path, []byte("#!/bin/sh\necho get it elsewhere >&2\nexit 1\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() {
		_, _, err := Start(path)
		done <- err
	}()
	select {
	case err := <-done:
		if err == nil {
			t.Error("it started")
		}
		t.Log(err)
	case <-time.After(startLimit + 10*time.Second):
		t.Error("it is still waited for")
	}
}
