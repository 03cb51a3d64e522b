package chat

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"slices"
	"strconv"
	"sync"
	"time"

	"firn/bot/watch"
)

// The figures are ours.
const (
	// BeatEvery is how often a process says that it lives, and BeatsMissed how
	// often it may fail to before it is thought to be dead.
	BeatEvery   = 10 * time.Second
	BeatsMissed = 3
	// peersMost are how many processes own events. One more is a replica like
	// the others while the store is there.
	peersMost = 16
)

// Roll is where processes say that they live; a store has it.
type Roll interface {
	Leases
	Release(ctx context.Context, name, holder string) error
	Held(ctx context.Context, names ...string) ([]watch.Held, error)
}

// ReadNames are where each process says which configuration it has, in the order
// of PlaceNames: the holder is the configuration's digest.
func ReadNames() []string {
	names := PlaceNames()
	for i, place := range names {
		names[i] = readsAt(place)
	}
	return names
}

func readsAt(place string) string { return "reads/" + place }

// Peers are the processes over one store that lived when it was last asked. The
// zero value knows none. Safe for use by several goroutines.
type Peers struct {
	mu    sync.Mutex
	name  string // this process's place on the roll; empty: it has none
	beats int    // how often it was asked
	self  string
	reads string   // the digest that was last said
	alive []string // holders, this one only once the others had time to see it
}

// PlaceNames are the places on the roll.
func PlaceNames() []string {
	names := make([]string, peersMost)
	for i := range names {
		names[i] = "serve/" + strconv.Itoa(i)
	}
	return names
}

// Beat says that holder lives, for life, and has the configuration of that
// digest, and reads who else lives. An empty digest is not said.
func (p *Peers) Beat(ctx context.Context, roll Roll, holder, reads string, life time.Duration) error {
	all, err := roll.Held(ctx, PlaceNames()...)
	if err != nil {
		return err
	}
	name, err := p.enroll(ctx, roll, holder, life, all)
	if err != nil {
		return err
	}
	if err := p.tell(ctx, roll, name, reads, life); err != nil {
		return err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.name, p.self, p.reads = name, holder, reads
	p.beats++
	p.alive = p.alive[:0]
	for _, h := range all {
		if h.Left > 0 && h.Holder != holder {
			p.alive = append(p.alive, h.Holder)
		}
	}
	if name != "" && p.beats > 1 {
		p.alive = append(p.alive, holder)
	}
	return nil
}

// enroll keeps holder's place on the roll, or finds it one.
func (p *Peers) enroll(ctx context.Context, roll Roll, holder string, life time.Duration, all []watch.Held) (name string, err error) {
	places := PlaceNames()
	p.mu.Lock()
	had := p.name
	p.mu.Unlock()
	slices.SortStableFunc(places, func(a, b string) int { return cmp.Compare(rank(a == had), rank(b == had)) })
	for _, name := range places {
		if slices.ContainsFunc(all, func(h watch.Held) bool { return h.Name == name && h.Left > 0 && h.Holder != holder }) {
			continue
		}
		if held, err := roll.Lease(ctx, name, holder, life); err != nil || held {
			return name, err
		}
	}
	return "", nil
}

// tell says which configuration the process at a place has; one that it had
// before is taken back.
func (p *Peers) tell(ctx context.Context, roll Roll, place, reads string, life time.Duration) error {
	if place == "" {
		return nil
	}
	p.mu.Lock()
	had, before := p.name, p.reads
	p.mu.Unlock()
	if before != "" && (before != reads || had != place) {
		if err := roll.Release(ctx, readsAt(had), before); err != nil {
			return err
		}
	}
	if reads == "" {
		return nil
	}
	_, err := roll.Lease(ctx, readsAt(place), reads, life)
	return err
}

// rank sorts what is so before what is not.
func rank(is bool) int {
	if is {
		return 0
	}
	return 1
}

// Leave says that holder lives no more; that it did stays to be read.
func (p *Peers) Leave(ctx context.Context, roll Roll) error {
	p.mu.Lock()
	name, self, reads := p.name, p.self, p.reads
	p.name, p.reads, p.beats, p.alive = "", "", 0, nil
	p.mu.Unlock()
	if name == "" {
		return nil
	}
	_, err := roll.Lease(ctx, name, self, 0)
	if reads != "" {
		err = errors.Join(err, roll.Release(ctx, readsAt(name), reads))
	}
	return err
}

// Turn says which of them this process is for an event: 0, its owner, where all
// know the same of each other one alone. Each event has its own order, by the
// sum of its id with each process (rendezvous hashing), so that one that comes or
// goes changes no other's.
func (p *Peers) Turn(id string) (turn int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if !slices.Contains(p.alive, p.self) {
		return len(p.alive) // after those who are known to live
	}
	own := weight(p.self, id)
	for _, other := range p.alive {
		if w := weight(other, id); w > own || w == own && other > p.self {
			turn++
		}
	}
	return turn
}

func weight(process, id string) uint64 {
	sum := sha256.Sum256([]byte(process + "\x00" + id))
	return binary.BigEndian.Uint64(sum[:])
}
