package pagestate

import (
	"context"
	"slices"
	"sync"
	"time"
)

// Memory is a Store and a Feed that last as long as their process.
type Memory struct {
	tellers Tellers

	mu     sync.Mutex
	places map[string]*place
}

type place struct {
	rev     int64
	used    time.Time
	entries []*held // in the order in which they were made
}

type held struct {
	Entry
	files [][]byte
}

var (
	_ Store = (*Memory)(nil)
	_ Feed  = (*Memory)(nil)
)

// NewMemory makes an empty one.
func NewMemory() *Memory { return &Memory{places: map[string]*place{}} }

// Edit puts an entry into a place.
func (m *Memory) Edit(ctx context.Context, name, id string, at time.Time, change func(Entry, bool) (Entry, bool)) error {
	changed, err := m.edit(ctx, name, id, at, change)
	if changed {
		m.tellers.Tell(Change{Place, name})
	}
	return err
}

func (m *Memory) edit(ctx context.Context, name, id string, at time.Time, change func(Entry, bool) (Entry, bool)) (bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return false, err
	}
	p := m.places[name]
	if p == nil {
		p = &place{}
	}
	h := p.find(id)
	was := Entry{Place: name, ID: id}
	if h != nil {
		was = h.Entry
	}
	is, keep := change(was, h != nil)
	if !keep {
		return false, nil
	}
	if h == nil {
		h = &held{}
		p.entries = append(p.entries, h)
	}
	p.rev, p.used = Next(p.rev, at), at
	if is.Files != nil {
		h.files = is.Files
	}
	is.Place, is.ID, is.Rev, is.Files = name, id, p.rev, nil
	is.Made = is.Made.UTC().Truncate(time.Microsecond)
	h.Entry = is
	p.trim(is.Under, Most(name, is.Under))
	m.places[name] = p
	return true, nil
}

func (p *place) find(id string) *held {
	if p == nil {
		return nil
	}
	if i := slices.IndexFunc(p.entries, func(h *held) bool { return h.ID == id }); i >= 0 {
		return p.entries[i]
	}
	return nil
}

// trim takes the oldest below an entry, with what stands below them.
func (p *place) trim(under string, most int) {
	n := 0
	for _, h := range slices.Backward(p.entries) {
		if h.Under != under {
			continue
		}
		if n++; n > most {
			p.take(h.ID)
		}
	}
}

func (p *place) take(id string) {
	p.entries = slices.DeleteFunc(slices.Clone(p.entries), func(h *held) bool { return h.ID == id || h.Under == id })
}

// Since gives what was edited after a revision.
func (m *Memory) Since(ctx context.Context, name string, rev int64) (all []Entry, is int64, err error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	p := m.places[name]
	if err := ctx.Err(); err != nil || p == nil {
		return nil, 0, err
	}
	for _, h := range p.entries {
		if h.Rev > rev {
			all = append(all, h.Entry)
		}
	}
	return all, p.rev, nil
}

// Entry is one.
func (m *Memory) Entry(ctx context.Context, name, id string) (Entry, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return Entry{}, false, err
	}
	if h := m.places[name].find(id); h != nil {
		return h.Entry, true, nil
	}
	return Entry{}, false, nil
}

// File is one of an entry's.
func (m *Memory) File(ctx context.Context, name, id string, n int) ([]byte, bool, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return nil, false, err
	}
	if h := m.places[name].find(id); h != nil && n >= 0 && n < len(h.files) {
		return h.files[n], true, nil
	}
	return nil, false, nil
}

// Forget forgets a place.
func (m *Memory) Forget(ctx context.Context, name string) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	delete(m.places, name)
	return nil
}

// Sweep forgets what is old.
func (m *Memory) Sweep(ctx context.Context, idle, old time.Time, most int) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	var left []string
	for name, p := range m.places {
		switch {
		case name == Posts:
		case p.used.Before(idle):
			delete(m.places, name)
		default:
			left = append(left, name)
		}
	}
	slices.SortFunc(left, func(a, b string) int { return m.places[a].used.Compare(m.places[b].used) })
	for _, name := range left[:max(0, len(left)-most)] {
		delete(m.places, name)
	}
	if p := m.places[Posts]; p != nil {
		for _, h := range p.entries {
			if h.Under == "" && h.Made.Before(old) {
				p.take(h.ID)
			}
		}
	}
	return nil
}

// Follow tells each change.
func (m *Memory) Follow(ctx context.Context, tell func(Change)) error {
	defer m.tellers.Add(tell)()
	tell(Change{Kind: All})
	<-ctx.Done()
	return ctx.Err()
}

// Tellers are those who follow the changes of one process. The zero value has
// none. Safe for use by several goroutines.
type Tellers struct {
	mu  sync.Mutex
	n   int
	all map[int]func(Change)
}

// Add adds one, until end is called.
func (t *Tellers) Add(tell func(Change)) (end func()) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.all == nil {
		t.all = map[int]func(Change){}
	}
	t.n++
	n := t.n
	t.all[n] = tell
	return func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		delete(t.all, n)
	}
}

// Tell tells all of them.
func (t *Tellers) Tell(changes ...Change) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for _, tell := range t.all {
		for _, c := range changes {
			tell(c)
		}
	}
}
