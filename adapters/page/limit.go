package page

import (
	"time"

	lru "github.com/hashicorp/golang-lru/v2"
	"golang.org/x/time/rate"
)

// Limits bound what one browser may ask of the page. The figures are ours: a
// person cannot press faster, a page with its pictures loads at once. Whoever
// has no session counts by address.
type Limits struct {
	Reads             int           // at once; default 120
	ReadEvery         time.Duration // one more after each; default 50 ms
	Deeds             int           // at once; default 20
	DeedEvery         time.Duration // default 500 ms
	LoginAttempts     int           // bad links from an address; default 10. A good one is no try
	LoginAttemptEvery time.Duration // default 10 s
	Entries           int           // browsers that come in by one link; default 30
	EntryEvery        time.Duration // default 1 min
	Streams           int           // open pages of one browser; default 12
	AllStreams        int           // open pages; default 4000
}

func (l Limits) withDefaults() Limits {
	count := func(n *int, d int) {
		if *n <= 0 {
			*n = d
		}
	}
	pause := func(n *time.Duration, d time.Duration) {
		if *n <= 0 {
			*n = d
		}
	}
	count(&l.Reads, 120)
	pause(&l.ReadEvery, 50*time.Millisecond)
	count(&l.Deeds, 20)
	pause(&l.DeedEvery, 500*time.Millisecond)
	count(&l.LoginAttempts, 10)
	pause(&l.LoginAttemptEvery, 10*time.Second)
	count(&l.Entries, 30)
	pause(&l.EntryEvery, time.Minute)
	count(&l.Streams, 12)
	count(&l.AllStreams, 4000)
	return l
}

// limiter holds a bucket for each key. Under a flood of keys those that were
// not used for longest are forgotten, which are full again long before.
type limiter struct {
	now     func() time.Time
	buckets *lru.Cache[string, *rate.Limiter]
}

// mostBuckets bounds the memory.
const mostBuckets = 20000

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, buckets: newCache[*rate.Limiter](mostBuckets)}
}

// newCache is a map that keeps the most entries that were used last.
func newCache[V any](most int) *lru.Cache[string, V] {
	c, err := lru.New[string, V](most)
	if err != nil {
		panic("page: " + err.Error()) // of a size below one alone
	}
	return c
}

// take takes one, or says how long it is until there is one. give gives back
// the one that was taken.
func (l *limiter) take(key string, most int, every time.Duration) (wait time.Duration, give func()) {
	fresh := rate.NewLimiter(rate.Every(every), most)
	b, had, _ := l.buckets.PeekOrAdd(key, fresh)
	if !had {
		b = fresh
	} else {
		l.buckets.Get(key) // it was used
	}
	now := l.now()
	taken := b.ReserveN(now, 1)
	if wait = taken.DelayFrom(now); wait > 0 {
		taken.CancelAt(now)
		return wait, func() {}
	}
	return 0, func() { taken.CancelAt(now) }
}
