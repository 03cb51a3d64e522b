package weather

import (
	"context"
	"fmt"
	"sync"
	"time"
)

// BesideLimit is how long the sources behind one that has an observation are
// waited for: mostly they have theirs at hand. The figure is ours.
const BesideLimit = 3 * time.Second

// colder is the reading, or in its place what a source behind its own has that was
// observed later and is colder: of two that count, the order must not hide a cold.
// The sources from an index on are asked at once; one that fails or is slow is
// left out.
func (c *Chain) colder(ctx context.Context, from int, ident string, r Reading) (Reading, error) {
	sources := c.o.Sources[from:]
	type answer struct {
		o  Observation
		ok bool
	}
	answers := make([]answer, len(sources))
	var asked sync.WaitGroup
	for i, s := range sources {
		asked.Go(func() {
			o, err := limited(ctx, min(c.o.Limit, BesideLimit), func(ctx context.Context) (Observation, error) { return s.Observation(ctx, ident) })
			answers[i] = answer{o, err == nil}
		})
	}
	asked.Wait()
	if err := ctx.Err(); err != nil {
		return Reading{}, err
	}
	best := r
	for i, a := range answers {
		if !a.ok {
			continue
		}
		c.note(from+i, "observation", ident, nil)
		c.saveObservation(ctx, sources[i], a.o)
		age := c.o.Now().Sub(a.o.At)
		if age > c.o.StaleAfter || !a.o.At.After(r.At) || a.o.C >= best.C {
			continue
		}
		warmer := fmt.Errorf("observed %s, older and warmer: %w", r.At.Format("2006-01-02 15:04Z"), ErrStale)
		best = Reading{Observation: a.o, Age: age, Passed: append(r.Passed[:len(r.Passed):len(r.Passed)], Passed{Source: c.o.Sources[from-1].Name(), Err: warmer})}
	}
	return best, nil
}
