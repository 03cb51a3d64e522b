package pagestate

import (
	"context"
	"errors"
	"maps"
	"slices"
	"sync"
	"time"
)

// Spare is a Store that shows what its store does not take, as long as the
// process lives: a full disk, or a database that is away, must not keep an answer
// from whoever asked. What it holds so is marked, and goes to the store with the next
// edit that the store takes. Safe for use by several goroutines.
type Spare struct {
	Store
	// Refused is told of every edit that the store did not take; nil: nobody is.
	Refused func(ctx context.Context, place string, err error)

	mu     sync.Mutex
	memory *Memory
	held   map[string]map[string]bool // ids by place
}

// mostSpare bounds the places that are held; the figure is ours.
const mostSpare = 200

// NewSpare makes one over a store.
func NewSpare(over Store) *Spare {
	return &Spare{Store: over, memory: NewMemory(), held: map[string]map[string]bool{}}
}

// Edit puts an entry into a place, in memory where the store cannot.
func (s *Spare) Edit(ctx context.Context, place, id string, at time.Time, change func(Entry, bool) (Entry, bool)) error {
	spare, files, was := s.entry(place, id)
	spare.Unkept = false
	decided, gave, keeps := false, Entry{}, false
	err := s.Store.Edit(ctx, place, id, at, func(e Entry, found bool) (Entry, bool) {
		if was {
			e, found = spare, true
		}
		is, keep := change(e, found)
		if was && keep && is.Files == nil {
			is.Files = files
		}
		decided, gave, keeps = true, is, keep
		return is, keep
	})
	if err == nil {
		if was && keeps {
			s.drop(place, id)
		}
		return nil
	}
	if ctx.Err() != nil {
		return err
	}
	if !decided {
		// The store did not come as far as to read what is there.
		e, found, unread := s.Store.Entry(ctx, place, id)
		if was {
			e, found = spare, true
		} else if unread != nil {
			e, found = Entry{Place: place, ID: id}, false
		}
		if gave, keeps = change(e, found); was && keeps && gave.Files == nil {
			gave.Files = files
		}
	}
	if !keeps {
		return nil
	}
	if s.Refused != nil {
		s.Refused(ctx, place, err)
	}
	return s.hold(ctx, place, id, at, gave)
}

// hold keeps an entry in memory.
func (s *Spare) hold(ctx context.Context, place, id string, at time.Time, e Entry) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.held[place] == nil {
		if len(s.held) >= mostSpare {
			clear(s.held)
			s.memory = NewMemory()
		}
		s.held[place] = map[string]bool{}
	}
	s.held[place][id] = true
	e.Unkept = true
	return s.memory.Edit(ctx, place, id, at, func(Entry, bool) (Entry, bool) { return e, true })
}

// entry is one that the store has not taken, with the files that came with it;
// nil: the store may have some of an earlier one.
func (s *Spare) entry(place, id string) (e Entry, files [][]byte, held bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if !s.held[place][id] {
		return e, nil, false
	}
	ctx := context.Background() // nothing in memory takes time
	e, held, _ = s.memory.Entry(ctx, place, id)
	for n := 0; ; n++ {
		data, found, _ := s.memory.File(ctx, place, id, n)
		if !found {
			return e, files, held
		}
		files = append(files, data)
	}
}

// drop forgets what the store has now.
func (s *Spare) drop(place, id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.held[place], id)
	if len(s.held[place]) == 0 {
		delete(s.held, place)
	}
}

// Since gives what was edited after a revision, wherever it is. Where the store
// cannot be read, all that is held comes with the error.
func (s *Spare) Since(ctx context.Context, place string, rev int64) ([]Entry, int64, error) {
	all, is, unread := s.Store.Since(ctx, place, rev)
	s.mu.Lock()
	defer s.mu.Unlock()
	ids := s.held[place]
	if len(ids) == 0 {
		return all, is, unread
	}
	if unread != nil {
		held, _, err := s.memory.Since(ctx, place, 0)
		return slices.DeleteFunc(held, func(e Entry) bool { return !ids[e.ID] }), 0, errors.Join(unread, err)
	}
	all = slices.DeleteFunc(all, func(e Entry) bool { return ids[e.ID] })
	spare, last, err := s.memory.Since(ctx, place, rev)
	for _, e := range spare {
		if ids[e.ID] {
			all = append(all, e)
		}
	}
	slices.SortStableFunc(all, func(a, b Entry) int { return a.Made.Compare(b.Made) })
	return all, max(is, last), err
}

// Entry is one.
func (s *Spare) Entry(ctx context.Context, place, id string) (Entry, bool, error) {
	if e, _, held := s.entry(place, id); held {
		return e, true, ctx.Err()
	}
	return s.Store.Entry(ctx, place, id)
}

// File is one of an entry's.
func (s *Spare) File(ctx context.Context, place, id string, n int) ([]byte, bool, error) {
	if _, files, _ := s.entry(place, id); n >= 0 && n < len(files) {
		return files[n], true, ctx.Err()
	}
	return s.Store.File(ctx, place, id, n)
}

// Forget forgets a place.
func (s *Spare) Forget(ctx context.Context, place string) error {
	s.mu.Lock()
	delete(s.held, place)
	err := s.memory.Forget(ctx, place)
	s.mu.Unlock()
	if err != nil {
		return err
	}
	return s.Store.Forget(ctx, place)
}

// Sweep forgets what is old.
func (s *Spare) Sweep(ctx context.Context, idle, old time.Time, most int) error {
	s.mu.Lock()
	err := s.memory.Sweep(ctx, idle, old, most)
	for _, place := range slices.Collect(maps.Keys(s.held)) {
		for id := range s.held[place] {
			if _, there, _ := s.memory.Entry(ctx, place, id); !there {
				delete(s.held[place], id)
			}
		}
		if len(s.held[place]) == 0 {
			delete(s.held, place)
		}
	}
	s.mu.Unlock()
	if err != nil {
		return err
	}
	return s.Store.Sweep(ctx, idle, old, most)
}
