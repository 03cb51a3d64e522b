package pagestate

import (
	"strings"
	"time"
)

// Posts is the place of what stands there for everybody. The others are
// conversations, each named by its key.
const Posts = "posts"

// Thread is the place of what a follow-up in a conversation is read with.
func Thread(key string) string { return threads + key }

const threads = "thread/"

// Shown says that a place is one whose entries people see.
func Shown(place string) bool { return !strings.HasPrefix(place, threads) }

// Entry is one thing that stands on the page.
type Entry struct {
	Place string
	ID    string // its own in its place
	Under string // the entry that it stands below; empty: it stands by itself
	Rev   int64  // of the place, when it was last edited
	Made  time.Time
	Body  string // JSON of the page's
	// Files are written with an edit and read one by one. nil leaves those
	// that are there; an empty list takes them away.
	Files [][]byte
	// Unkept says that the store did not take it: it lasts as long as this
	// process. Only a Spare says so.
	Unkept bool
}

// What is kept. The figures are ours: a shift's questions of every phone of a
// wing, two weeks of a few bases.
const (
	MostCards  = 40   // of a conversation
	MostPosts  = 200  // for everybody
	MostBelow  = 20   // below one entry
	MostPlaces = 4000 // two a conversation
	TalkLife   = 24 * time.Hour
	PostLife   = 14 * 24 * time.Hour
)

// Most is how many entries stand below one of a place, or with an empty under
// by themselves.
func Most(place, under string) int {
	switch {
	case under != "":
		return MostBelow
	case place == Posts:
		return MostPosts
	}
	return MostCards
}

// Next is a place's revision after was, at a time. The clock is in it so that
// a place that was forgotten and is there again does not begin anew: a page may
// still be open that has seen its later revisions.
func Next(was int64, at time.Time) int64 { return max(was+1, at.UnixMicro()) }

// Kind is what a change is of.
type Kind string

// The kinds.
const (
	Place  Kind = "place"  // an entry of the place
	Record Kind = "record" // a result
	Watch  Kind = "watch"  // an alert of a base, its acknowledgement, its snooze
	Access Kind = "access" // a link, or a browser that came in by one, is not let in any more
	All    Kind = "all"    // anything: changes may have been missed
)

// Change says that something is not as it was.
type Change struct {
	Kind Kind
	ID   string // of the place, record or base; empty: any of them
}

// String is the change as one word or two; Parse reads it.
func (c Change) String() string { return strings.TrimSpace(string(c.Kind) + " " + c.ID) }

// Parse reads a change. One of a kind that it does not know, as a newer firn
// may send, is any.
func Parse(s string) Change {
	kind, id, _ := strings.Cut(s, " ")
	switch k := Kind(kind); k {
	case Place, Record, Watch, Access:
		return Change{k, id}
	}
	return Change{Kind: All}
}
