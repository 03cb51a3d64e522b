package page

import (
	"crypto/rand"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"sync"

	"firn/bot/pagestate"
)

// hub counts what changes. A page knows the count at which it was made; what
// changed since is what it lacks, however long it was away. There is no list
// of events that could be too short.
type hub struct {
	epoch string // this process: the counts of another mean nothing here

	mu    sync.Mutex
	count uint64
	all   uint64            // when everything may have changed
	last  map[string]uint64 // by topic
	wake  chan struct{}     // closed at the next change
}

func newHub() *hub {
	return &hub{epoch: rand.Text()[:6], last: map[string]uint64{}, wake: make(chan struct{})}
}

// The topics; a place's is its name.
const (
	topicBoard   = "board"
	topicRecords = "records"
	topicSeen    = "seen/"  // and a base: who knows of its alert
	topicAccess  = "access" // somebody may not be here any more
	topicAll     = ""       // anything may have changed
)

// mostTopics bounds the memory. All replicas' conversations are told here,
// whether one of them is open here or not.
const mostTopics = pagestate.MostPlaces

// changed counts a change and wakes who waits; it gives the new count.
func (h *hub) changed(topic string) uint64 {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.count++
	if h.last[topic] = h.count; topic == topicAll || len(h.last) > mostTopics {
		clear(h.last)
		h.all = h.count
	}
	close(h.wake)
	h.wake = make(chan struct{})
	return h.count
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
	return max(h.all, h.last[topic]) > count
}

// cursor is what a page has, as it keeps it itself: a browser may come again to
// another process, which knows the revisions and not the count.
type cursor struct {
	epoch       string
	count       uint64 // of the board and the records
	talk, posts int64  // revisions
	sum         string // of the part that is made anew at every change, where there is one
}

// cursorOf reads a cursor; from what is none nothing is known.
func cursorOf(s string) (m cursor) {
	f := strings.Split(s, ".")
	if len(f) != 5 {
		return cursor{}
	}
	var errs [3]error
	m.epoch, m.sum = f[0], f[4]
	m.count, errs[0] = strconv.ParseUint(f[1], 10, 64)
	m.talk, errs[1] = strconv.ParseInt(f[2], 10, 64)
	m.posts, errs[2] = strconv.ParseInt(f[3], 10, 64)
	if errors.Join(errs[:]...) != nil {
		return cursor{}
	}
	return m
}

func (m cursor) String() string {
	return fmt.Sprintf("%s.%d.%d.%d.%s", m.epoch, m.count, m.talk, m.posts, m.sum)
}

// now is the cursor of a page that is about to be made.
func (p *Page) now() cursor {
	count, _ := p.hub.now()
	return cursor{epoch: p.hub.epoch, count: count}
}
