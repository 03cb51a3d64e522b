package record

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"
)

// The figures of the writer are ours: at a thousand answers a second four
// seconds of them wait at most. What a store refuses that can still be read is
// tried for four seconds; one that is gone is waited for, as long as a
// database takes to start again elsewhere.
const (
	queueMost  = 4096
	batchMost  = 256
	writeTries = 5
	batchPause = 100 * time.Millisecond // in which more come, for one transaction
	retryPause = time.Second            // between two tries
	storeGone  = 2 * time.Minute
	askLimit   = 2 * time.Second  // for asking whether the store is there
	slowAfter  = 2 * time.Second  // after which a try is thought to hang
	tryLimit   = 15 * time.Second // for one; an import may keep SQLite's writers waiting for ten
)

var errSlow = errors.New("the store has not answered yet")

// nameTries is how many names a record gets before it is given up.
const nameTries = 5

// job is one thing to write: a record, or a card of one.
type job struct {
	made *Result
	card *Mark         // with a record: the one that will show it
	gone bool          // the card shows no record any more
	kept chan struct{} // closed when everything before it is written
}

// put hands a job to the writer; nobody waits for the disk. When the store
// cannot keep up, answers wait for it.
func (b *Book) put(ctx context.Context, j job) error {
	b.closing.RLock()
	defer b.closing.RUnlock()
	if b.closed {
		return errors.New("the record is closed")
	}
	select {
	case b.queue <- j: // also for one whose time has just run out: the card stands
		if len(b.queue) >= batchMost {
			b.hurry()
		}
		return nil
	default:
	}
	select {
	case b.queue <- j:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Close writes what was taken and ends.
func (b *Book) Close() {
	b.end.Do(func() { close(b.ended) })
	b.closing.Lock()
	if !b.closed {
		b.closed = true
		close(b.queue)
	}
	b.closing.Unlock()
	<-b.written
	b.tellers.Wait()
}

// write is the writer's life.
func (b *Book) write() {
	defer close(b.written)
	for first := range b.queue {
		b.keep(b.gather(first))
	}
}

// gather waits a moment for more jobs, unless somebody waits for one of them or
// there are enough. It wakes once a batch, not once a job.
func (b *Book) gather(first job) []job {
	pause := time.NewTimer(batchPause)
	defer pause.Stop()
	select {
	case <-b.urgent: // what they wait for is in the queue
	case <-b.ended:
	case <-pause.C:
	}
	batch := append(make([]job, 0, min(len(b.queue)+1, batchMost)), first)
	for len(batch) < batchMost {
		select {
		case j, open := <-b.queue:
			if !open {
				return batch
			}
			batch = append(batch, j)
		default:
			return batch
		}
	}
	return batch
}

// hurry has the writer write what is in the queue.
func (b *Book) hurry() {
	select {
	case b.urgent <- struct{}{}:
	default:
	}
}

// keep writes a batch: the records and their cards in one transaction where
// nothing is against it, else the records and then the cards.
func (b *Book) keep(batch []job) {
	ctx := context.Background() // the answers were given; nobody waits any more
	var made []Result
	var with, cards []Mark
	for _, j := range batch {
		if j.made != nil {
			made = append(made, *j.made)
		}
		if j.card != nil && !j.gone {
			with = append(with, b.named(*j.card))
		}
	}
	if slices.ContainsFunc(batch, func(j job) bool { return j.gone }) {
		with = nil // what is gone goes before what comes
	}
	kept := b.add(ctx, made, with)
	for _, j := range batch {
		switch {
		case j.card == nil:
		case j.gone:
			b.cardGone(ctx, *j.card)
		case j.made != nil:
			cards = append(cards, b.named(*j.card)) // foreseen; what it shows is told when it does
		default:
			cards = append(cards, b.cardFor(*j.card))
		}
	}
	if kept && slices.Equal(with, cards) {
		cards = nil // what became of the records has not changed what they show
	}
	defer func() {
		for _, j := range batch {
			if j.kept != nil {
				close(j.kept)
			}
		}
	}()
	if len(cards) > 0 {
		if err := b.again(ctx, "cards", len(cards), func(ctx context.Context) error { return b.store.AddCards(ctx, cards) }); err != nil {
			b.log.ErrorContext(ctx, "cards not kept", "cards", len(cards), "err", err)
		}
	}
	switch {
	case len(cards) > 0 || kept && slices.ContainsFunc(made, func(m Result) bool { return m.Replaces != "" }):
		b.Kick() // something may have happened to their records, or those they replace, before they stood
	case kept:
		b.set.Wrote()
	}
}

// add keeps records. Those whose name is taken get their next one; a batch
// that the store refuses is tried one by one, so that a single bad record
// costs no other. with are cards to keep with them at the first try; kept says
// that they are.
func (b *Book) add(ctx context.Context, all []Result, with []Mark) (kept bool) {
	for i := range all {
		all[i].Replaces = b.current(all[i].Replaces)
	}
	if len(all) == 0 {
		return false
	}
	err := b.again(ctx, "records", len(all), func(ctx context.Context) error {
		// Its cards say so before a store that hangs has said anything.
		told := make(chan struct{})
		slow := time.AfterFunc(slowAfter, func() {
			b.tried(errSlow)
			close(told)
		})
		var err error
		kept, err = b.addNamed(ctx, all, with)
		with = nil // a card that the store refuses costs no record
		if !slow.Stop() {
			<-told
		}
		b.tried(err)
		return err
	})
	if err == nil {
		b.settled(all, nil)
		b.tellReplaced(all)
		return kept
	}
	lost := map[string]bool{}
	hangs := errors.Is(err, context.DeadlineExceeded)
	for i := range all {
		if !hangs {
			_, err = b.addNamed(ctx, all[i:i+1], nil)
		}
		if err != nil {
			lost[all[i].ID] = true
			b.set.Lost()
			b.log.ErrorContext(ctx, "record not kept", "record", all[i].ID, "surface", all[i].Surface, "message", all[i].Message, "err", err)
		}
	}
	if len(lost) < len(all) {
		b.tried(nil)
	}
	b.settled(all, lost)
	return false
}

// again does something until the store takes it, for a while.
func (b *Book) again(ctx context.Context, what string, n int, do func(context.Context) error) error {
	began := time.Now()
	for try := 1; ; try++ {
		limited, cancel := context.WithTimeout(ctx, tryLimit)
		err := do(limited)
		cancel()
		if err == nil {
			return nil
		}
		b.log.WarnContext(ctx, "record not kept yet", what, n, "err", err)
		if try >= writeTries && (time.Since(began) >= storeGone || b.ending() || b.answers(ctx)) {
			return err
		}
		if b.ending() && errors.Is(err, context.DeadlineExceeded) {
			return err // whoever stops firn does not wait for minutes
		}
		time.Sleep(retryPause)
	}
}

// ending says that the book is being closed, which must not take minutes.
func (b *Book) ending() bool {
	select {
	case <-b.ended:
		return true
	default:
		return false
	}
}

// answers says that the store can be read.
func (b *Book) answers(ctx context.Context) bool {
	ctx, cancel := context.WithTimeout(ctx, askLimit)
	defer cancel()
	_, _, err := b.store.Record(ctx, "")
	return err == nil
}

// addNamed keeps records under the first of their names that is free; kept says
// that the cards are kept with them.
func (b *Book) addNamed(ctx context.Context, all []Result, with []Mark) (kept bool, err error) {
	kept = len(with) > 0
	left := all
	for try := range nameTries {
		if try > 0 {
			for i := range left {
				b.rename(&left[i], try)
			}
		}
		added, err := b.store.AddRecords(ctx, left, with...)
		if err != nil {
			return false, err
		}
		with = nil
		var taken []Result
		for i, a := range added {
			kept = kept && a == Fresh
			switch a {
			case Taken:
				taken = append(taken, left[i])
			case Already:
				b.mu.Lock()
				b.earlier[left[i].ID] = true
				b.mu.Unlock()
			}
		}
		if len(taken) == 0 {
			return kept, nil
		}
		left = taken
	}
	return false, fmt.Errorf("%d names of %s/%s are taken", nameTries, left[0].Surface, left[0].Message)
}

// rename gives a record its next name. Its card shows the first, and is put
// right when it stands.
func (b *Book) rename(m *Result, try int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if m.Shown == "" {
		m.Shown = m.ID
	}
	m.ID = name(m.Surface, m.Message, try)
	b.renamed[m.Shown] = m.ID
}

// current is the name that a record of this process has now.
func (b *Book) current(id string) string {
	b.mu.Lock()
	defer b.mu.Unlock()
	if now, ok := b.renamed[id]; ok {
		return now
	}
	return id
}

// cardFor is a card as it is kept. One whose record is not what the card was
// made of shows nothing yet: the record has another name now, or its message
// had been answered before, perhaps at another temperature.
func (b *Book) cardFor(m Mark) Mark {
	m = b.named(m)
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.earlier[m.Record] {
		delete(b.earlier, m.Record)
		m.Told = -1
	}
	return m
}

// named is a card by the name that its record has now.
func (b *Book) named(m Mark) Mark {
	if now := b.current(m.Record); now != m.Record {
		m.Record, m.Told = now, -1
	}
	return m
}

// settled lets those go on who wait for a record; some may have been given up.
func (b *Book) settled(all []Result, lost map[string]bool) {
	b.mu.Lock()
	told := false
	for _, m := range all {
		id := m.ID
		if m.Shown != "" {
			id = m.Shown
		}
		p := b.pending[id]
		if p == nil {
			continue
		}
		delete(b.pending, id)
		switch {
		case lost[m.ID]:
			p.refuse()
			if len(b.lost) >= mostLost {
				clear(b.lost)
			}
			b.lost[id] = p
		case p.refused:
			// Its card says that it is not kept, or will: it is told otherwise.
			b.earlier[m.ID], told = true, true
		}
		p.settle()
	}
	b.mu.Unlock()
	if told {
		b.toldOut() // before it is put right
	}
	b.tellUnkept()
}

// cardGone ends the record whose card shows something else now.
func (b *Book) cardGone(ctx context.Context, m Mark) {
	id, found, err := b.store.CardOf(ctx, m.Surface, m.Ref)
	if err == nil && found {
		if err = b.store.DropCard(ctx, m.Surface, m.Ref); err == nil {
			err = b.ends(ctx, id, Action{Kind: KindReplaced})
		}
	}
	if err != nil {
		b.log.ErrorContext(ctx, "record of a changed message not ended", "record", id, "surface", m.Surface, "err", err)
	}
}
