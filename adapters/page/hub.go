package page

import (
	"crypto/rand"
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// hub counts what changes. A page knows the count at which it was made; what
// changed since is what it lacks, however long it was away. There is no list
// of events that could be too short.
type hub struct {
	epoch string // this process: the counts of another mean nothing here

	mu    sync.Mutex
	count uint64
	last  map[string]uint64 // by topic
	wake  chan struct{}     // closed at the next change
}

func newHub() *hub {
	return &hub{epoch: rand.Text()[:6], last: map[string]uint64{}, wake: make(chan struct{})}
}

// The topics; a conversation's is its key.
const (
	topicBoard   = "board"
	topicPosts   = "posts"
	topicRecords = "records"
)

// changed counts a change and wakes who waits; it gives the new count.
func (h *hub) changed(topic string) uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.count++
	h.last[topic] = h.count
	close(h.wake)
	h.wake = make(chan struct{})
	return h.count
}

// forget drops the topic of a conversation that is gone.
func (h *hub) forget(topic string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.last, topic)
}

// now is the count, and a channel that is closed at the next change.
func (h *hub) now() (count uint64, wake <-chan struct{}) {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.count, h.wake
}

// since says that a topic changed after a count.
func (h *hub) since(topic string, count uint64) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.last[topic] > count
}

// mark is a count as a page keeps it.
func (h *hub) mark(count uint64) string { return fmt.Sprintf("%s.%d", h.epoch, count) }

// read is the count of a mark; of another process's, none is known.
func (h *hub) read(mark string) (count uint64, ours bool) {
	epoch, n, _ := strings.Cut(mark, ".")
	count, err := strconv.ParseUint(n, 10, 64)
	return count, epoch == h.epoch && err == nil
}
