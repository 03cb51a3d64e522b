package chat

import (
	"context"
	"sync"
	"time"
)

// show shows a card where it belongs: under the card whose button was pressed,
// else as the answer to the event. what is for the log where it cannot.
func (d *Dispatcher) show(ctx context.Context, s Surface, e Event, c Message, what string) (ref Ref, err error) {
	defer d.appearing.begin(place(s, e))()
	if e.Kind == Pressed && e.Message != "" {
		ref, err = s.Follow(ctx, e.Message, c)
	} else { // also under a card that only the person sees
		ref, err = s.Answer(ctx, e, c)
	}
	d.failed(ctx, s, e, what, err)
	if err == nil {
		d.shown(ctx, s, ref, c, false)
	}
	return ref, err
}

// shown tells which card shows a reply.
func (d *Dispatcher) shown(ctx context.Context, s Surface, ref Ref, c Message, again bool) {
	if d.set.Shown != nil && ref != "" {
		d.set.Shown(ctx, s.Name(), ref, c.Reply, again)
	}
}

// appearanceLimit is how long a press waits for the card that it is on. Ours: a
// service tells of a press while the call that posted the card is still on its
// way back, which takes much less.
const appearanceLimit = 2 * time.Second

// appearing are the cards that stand already and of which firn does not know
// yet where, by place.
type appearing struct {
	mu sync.Mutex
	at map[string]map[chan struct{}]struct{}
}

func place(s Surface, e Event) string { return s.Name() + "/" + e.Place.Channel }

// begin notes that a card appears at a place, until end.
func (a *appearing) begin(place string) (end func()) {
	one := make(chan struct{})
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.at == nil {
		a.at = map[string]map[chan struct{}]struct{}{}
	}
	if a.at[place] == nil {
		a.at[place] = map[chan struct{}]struct{}{}
	}
	a.at[place][one] = struct{}{}
	return func() {
		close(one)
		a.mu.Lock()
		defer a.mu.Unlock()
		if delete(a.at[place], one); len(a.at[place]) == 0 {
			delete(a.at, place)
		}
	}
}

// wait waits for those that appear at a place now; waited says that there were
// some.
func (a *appearing) wait(ctx context.Context, place string) (waited bool) {
	a.mu.Lock()
	var list []chan struct{}
	for one := range a.at[place] {
		list = append(list, one)
	}
	a.mu.Unlock()
	ctx, cancel := context.WithTimeout(ctx, appearanceLimit)
	defer cancel()
	for _, one := range list {
		select {
		case <-one:
		case <-ctx.Done():
			return true
		}
	}
	return len(list) > 0
}
