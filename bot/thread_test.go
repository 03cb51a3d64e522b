package bot

import (
	"fmt"
	"testing"
	"time"

	"firn/bot/parse"
)

// TestThreadsAreBounded: the least recently used threads are forgotten.
func TestThreadsAreBounded(t *testing.T) {
	now := time.Date(2026, time.January, 15, 12, 0, 0, 0, time.UTC)
	th := newThreads()
	key := func(i int) threadKey { return threadKey{"console", fmt.Sprint(i)} }
	for i := range 3 * maxThreads {
		th.put(key(i), &parse.Request{Station: "XKLD"}, true, now, "")
	}
	if got := th.kept.Len(); got != maxThreads {
		t.Errorf("%d threads are kept, want %d", got, maxThreads)
	}
	if _, ok := th.get(key(3*maxThreads-1), now); !ok {
		t.Error("the latest thread is forgotten")
	}
	if _, ok := th.get(key(0), now); ok {
		t.Error("the oldest thread is kept")
	}
	if _, ok := th.get(key(3*maxThreads-1), now.Add(threadLife+1)); ok {
		t.Error("a thread outlives its hour")
	}
}
