package outbox

import (
	"context"
	"strconv"
	"strings"
	"time"

	"firn/bot/reply"
)

// Item is one post to one channel that must happen once. Its key is a deed's
// name ("alert/XKLD/2026-01-15/1"); key and channel together are unique for
// ever. Nothing that two replicas could see differently goes into a key.
type Item struct {
	Key     string
	Channel string // slack:ID, discord:ID, page, console, file:NAME
	Body    reply.Reply
	Made    time.Time
	Due     time.Time
}

// OrderingKey is what an item is the seq-th word on: its key without the number
// at the end. The items of one ordering key reach a channel in order of seq. A
// key without a number is an ordering key of its own, seq 0.
func (it Item) OrderingKey() (key string, seq int) {
	i := strings.LastIndexByte(it.Key, '/')
	if i < 0 {
		return it.Key, 0
	}
	n, err := strconv.Atoi(it.Key[i+1:])
	if err != nil || n < 0 {
		return it.Key, 0
	}
	return it.Key[:i], n
}

// Claim is an item that one process may work on until its lease ends.
type Claim struct {
	Item
	Attempt int // 1 for the first
	// MaybeSent says that the post may stand on its surface although this is
	// the first attempt: the store was put back from an older copy, and the
	// item was made before RestoredWindow had gone by since. From the second
	// attempt on that goes without saying.
	MaybeSent bool
}

// RestoredWindow is how long after a store was put back from a copy posts are
// looked up on the first attempt too. A day's alerts are opened again under
// the same keys by a store that does not know of them, and a base's local day
// is over two days later everywhere.
const RestoredWindow = 48 * time.Hour

// Backlog is what waits, for metrics and the doctor.
type Backlog struct {
	Waiting int
	Oldest  time.Time // due; zero when nothing waits
	GivenUp int
}

// Queue is the store's side. Leases run by the store's own clock, so that
// two replicas whose clocks differ do not work on one item at once; Due is
// compared with the caller's now.
type Queue interface {
	// Claim leases up to limit items that are due, not sent, not given up and
	// not under a live lease, oldest first, and counts the attempt. An item
	// stays behind, whatever its due time, while one of the same channel and
	// ordering key with a smaller seq is neither sent nor given up: only the store
	// knows that for sure when a process has just died or two are at work.
	Claim(ctx context.Context, now time.Time, lease time.Duration, limit int) ([]Claim, error)
	// Done marks a claim sent with the platform's reference. It changes
	// nothing, and says so, when the item was claimed again since.
	Done(ctx context.Context, c Claim, ref string, at time.Time) (held bool, err error)
	// Later gives a claim back, to be tried no earlier than due. The item's
	// own Due stays as it was, in claims and in the Backlog: lateness and age
	// are told from it.
	Later(ctx context.Context, c Claim, due time.Time, reason string) (held bool, err error)
	// GiveUp ends a claim without success; it stays visible.
	GiveUp(ctx context.Context, c Claim, reason string, at time.Time) (held bool, err error)
	Backlog(ctx context.Context) (Backlog, error)
}

// Undelivered is an item that was given up.
type Undelivered struct {
	Key, Channel, Reason string
	At                   time.Time
}

// Losing is a Queue that tells of what was given up.
type Losing interface {
	// GivenUp are the latest that were given up since a time, at most so many, and
	// how many there were.
	GivenUp(ctx context.Context, since time.Time, most int) (latest []Undelivered, n int, err error)
}

// Taker is a Queue that knows what others work on.
type Taker interface {
	// Taken is how many items that wait are under a lease, and how long the last of
	// these holds.
	Taken(ctx context.Context) (n int, longest time.Duration, err error)
}

// Adder takes posts that come of no alert into the queue.
type Adder interface {
	// AddPosts writes posts, all or none. One whose key and channel are there
	// stays as it is, sent or not; fresh is how many were not there.
	AddPosts(ctx context.Context, posts []Item) (fresh int, err error)
	// AddNext writes posts of one channel whose numbers follow each other, all or
	// none: none where the first is there, since then another has written on from
	// the same number, and what the rest would say may be said.
	AddNext(ctx context.Context, posts []Item) (fresh int, err error)
}

// Shown is a post that stands on its surface.
type Shown struct {
	Item
	Ref string // the platform's
}

// Lister gives what stands.
type Lister interface {
	// Posts gives those whose key begins with a text and that were made since a
	// time, sent or not, in no order. The reference of one that was not is empty.
	Posts(ctx context.Context, prefix string, since time.Time) ([]Shown, error)
	// Standing gives the posts that were sent whose key begins with a text and
	// that were made since a time, in no order.
	Standing(ctx context.Context, prefix string, since time.Time) ([]Shown, error)
}

// Under is the key of the item in whose thread this one stands; empty: in none.
func (it Item) Under() string {
	if it.Body.Digest == nil {
		return ""
	}
	return it.Body.Digest.Under
}

// Post is an item as its surface sees it.
type Post struct {
	Key     string
	Channel string
	Body    reply.Reply
	Late    time.Duration // how late it is, when late enough to be said
}

// Lateness says how late a post is ("late by 47 min"), or nothing.
func (p Post) Lateness() string {
	minutes := int(p.Late.Round(time.Minute).Minutes())
	hours := minutes / 60
	switch {
	case p.Late <= 0:
		return ""
	case minutes < 1:
		return "late by less than a minute"
	case minutes < 60:
		return "late by " + strconv.Itoa(minutes) + " min"
	case hours < 48 && minutes%60 == 0:
		return "late by " + strconv.Itoa(hours) + " h"
	case hours < 48:
		return "late by " + strconv.Itoa(hours) + " h " + strconv.Itoa(minutes%60) + " min"
	}
	return "late by " + strconv.Itoa(hours/24) + " days"
}

// Sender posts to the channels of one surface. An error that knows how long
// to wait has a RetryAfter method (RetryAfterError; Busy makes one). An error
// wrapped in Permanent is not tried again. An error of Send says nothing on
// whether the post was stored: Find is asked before it is repeated. Both
// methods end with their context, are safe for concurrent use, and keep
// secrets out of their errors, which are stored and logged.
type Sender interface {
	Send(ctx context.Context, p Post) (ref string, err error)
	// Find looks for a post by its key, before it is repeated.
	Find(ctx context.Context, channel, key string) (ref string, found bool, err error)
}

// Threaded is a Sender that posts into the thread of a message, by the reference
// that Send gave for that.
type Threaded interface {
	Sender
	SendUnder(ctx context.Context, p Post, root string) (ref string, err error)
	FindUnder(ctx context.Context, root, key string) (ref string, found bool, err error)
}

// RetryAfterError is an error of a service that says when to come again.
type RetryAfterError interface {
	error
	RetryAfter() time.Duration
}

// Surface is the part of a channel that names who posts to it.
func Surface(channel string) string {
	surface, _, _ := strings.Cut(channel, ":")
	return surface
}
