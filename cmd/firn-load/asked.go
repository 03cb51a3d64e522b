package main

import (
	"slices"
	"sync"
	"time"

	"firn/adapters/testkit/slackdouble"
)

// asked are the questions of a run, by the names of their messages.
type asked struct {
	mu      sync.Mutex
	open    map[string]time.Time
	early   map[string]time.Time // answers that came before the question's name was known
	took    []time.Duration      // of those since measuring began
	count   int
	answers int
	refused int // answered with less than an answer
	late    time.Time
}

func newAsked() *asked {
	return &asked{open: map[string]time.Time{}, early: map[string]time.Time{}}
}

// was notes a question that was handed over at a time.
func (a *asked) was(name string, at time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.count++
	if then, ok := a.early[name]; ok {
		delete(a.early, name)
		a.done(then.Sub(at))
		return
	}
	a.open[name] = at
}

// answered notes an answer.
func (a *asked) answered(name string, whole bool) {
	now := time.Now()
	a.mu.Lock()
	defer a.mu.Unlock()
	if !whole {
		a.refused++
	}
	at, ok := a.open[name]
	if !ok {
		a.early[name] = now
		return
	}
	delete(a.open, name)
	a.done(now.Sub(at))
}

func (a *asked) done(d time.Duration) {
	a.answers++
	a.late = time.Now()
	a.took = append(a.took, d)
}

// measure forgets the times until now.
func (a *asked) measure() {
	a.mu.Lock()
	defer a.mu.Unlock()
	a.took = nil
}

func (a *asked) counts() (count, answers, refused int) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.count, a.answers, a.refused
}

// settle waits until all is answered, or nothing comes any more.
func (a *asked) settle(most time.Duration) {
	for end := time.Now().Add(most); ; time.Sleep(20 * time.Millisecond) {
		a.mu.Lock()
		over := len(a.open) == 0 || time.Since(a.late) > 10*time.Second
		a.mu.Unlock()
		if over || time.Now().After(end) {
			return
		}
	}
}

// lags are how long after they were due alerts stood in their channels.
type lags struct {
	due time.Time

	mu    sync.Mutex
	posts map[string]int // by channel and key
	took  []time.Duration
}

func (l *lags) posted(m slackdouble.Message) {
	now := time.Now()
	key := m.Channel + " " + m.Key("key")
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.posts == nil {
		l.posts = map[string]int{}
	}
	l.posts[key]++
	l.took = append(l.took, now.Sub(l.due))
}

func (l *lags) counts() (posted, doubled int) {
	l.mu.Lock()
	defer l.mu.Unlock()
	for _, n := range l.posts {
		doubled += n - 1
	}
	return len(l.posts), doubled
}

// percentile of times, to a figure that can be read.
func percentile(all []time.Duration, percent int) time.Duration {
	if len(all) == 0 {
		return 0
	}
	all = slices.Sorted(slices.Values(all))
	d := all[(len(all)-1)*percent/100]
	switch {
	case d >= 10*time.Second:
		return d.Round(100 * time.Millisecond)
	case d >= 100*time.Millisecond:
		return d.Round(time.Millisecond)
	}
	return d.Round(10 * time.Microsecond)
}
