package main

import (
	"io"
	"path/filepath"
	"runtime"
	"runtime/metrics"
	"strings"
	"testing"
	"time"
)

// TestCollectorWaits: serve has the collector wait until 64 MiB more are
// allocated than otherwise, and that takes no memory.
func TestCollectorWaits(t *testing.T) {
	run(t.Context(), []string{"serve", "--config", filepath.Join(t.TempDir(), "none.yaml")}, host{
		stdin: strings.NewReader(""), stdout: io.Discard, stderr: io.Discard, getenv: func(string) string { return "" }, now: time.Now,
	})
	runtime.GC()
	all := []metrics.Sample{{Name: "/gc/heap/live:bytes"}, {Name: "/gc/heap/goal:bytes"}}
	metrics.Read(all)
	if live, goal := all[0].Value.Uint64(), all[1].Value.Uint64(); live < spare || goal < live+spare {
		t.Errorf("%d bytes are in use and the collector comes at %d, want %d more", live, goal, spare)
	}
}
