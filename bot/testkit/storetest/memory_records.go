package storetest

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"firn/bot/record"
)

// memoryRecords is what Memory keeps of the record, as JSON, so that no caller
// holds a part of it.
type memoryRecords struct {
	byID    map[string]*memoryRecord
	asked   map[resultKey]bool // by message
	cards   map[cardKey]record.Mark
	entries []record.Sealed
	head    record.Head
}

type cardKey struct{ surface, ref string }

type memoryRecord struct {
	made, live []byte
	is         record.Record // for looking it up; shares nothing that changes
}

func newMemoryRecords() memoryRecords {
	return memoryRecords{byID: map[string]*memoryRecord{}, asked: map[resultKey]bool{}, cards: map[cardKey]record.Mark{}}
}

// read is a copy.
func (r *memoryRecord) read() (out record.Record, err error) {
	if err = json.Unmarshal(r.made, &out.Result); err == nil {
		err = json.Unmarshal(r.live, &out.Status)
	}
	return out, err
}

// AddRecords keeps several, or none, and their cards.
func (m *Memory) AddRecords(ctx context.Context, all []record.Result, cards ...record.Mark) ([]record.Added, error) {
	if err := cardTexts(cards); err != nil {
		return nil, fmt.Errorf("add records: %w", err)
	}
	for _, r := range all {
		if err := texts(r.ID, r.Surface, r.Message, r.Thread, r.Station()); err != nil {
			return nil, fmt.Errorf("add records: %w", err)
		}
		if _, _, err := record.Opening(r); err != nil {
			return nil, fmt.Errorf("add records: %w", err)
		}
	}
	if err := m.begin(ctx); err != nil {
		return nil, err
	}
	defer m.mu.Unlock()
	out, fresh := make([]record.Added, len(all)), true
	for i, r := range all {
		var err error
		if out[i], err = m.addRecord(r); err != nil {
			return nil, fmt.Errorf("add records: %w", err)
		}
		fresh = fresh && out[i] == record.Fresh
	}
	if fresh {
		m.addCards(cards)
	}
	return out, nil
}

func (m *Memory) addRecord(r record.Result) (record.Added, error) {
	key := resultKey{r.Surface, r.Message}
	switch {
	case m.records.asked[key]:
		return record.Already, nil
	case m.records.byID[r.ID] != nil:
		return record.Taken, nil
	}
	body, entry, err := record.Opening(r)
	if err != nil {
		return 0, err
	}
	live, err := json.Marshal(record.Status{})
	if err != nil {
		return 0, err
	}
	kept := &memoryRecord{made: body, live: live}
	if kept.is, err = kept.read(); err != nil {
		return 0, err
	}
	m.records.byID[r.ID], m.records.asked[key] = kept, true
	if err := m.append(entry); err != nil {
		return 0, err
	}
	if old := m.records.byID[r.Replaces]; r.Replaces != "" && old != nil {
		if c, ok := record.Replacing(old.is.Status, r); ok {
			return record.Fresh, m.apply(old, c)
		}
	}
	return record.Fresh, nil
}

// append writes an entry; the lock is held.
func (m *Memory) append(e record.Entry) error {
	sealed, next, err := m.records.head.Append(e)
	if err != nil {
		return err
	}
	m.records.entries, m.records.head = append(m.records.entries, sealed), next
	return nil
}

// apply does a change; the lock is held.
func (m *Memory) apply(r *memoryRecord, c record.Change) error {
	is := r.is.With(c)
	live, err := json.Marshal(is)
	if err != nil {
		return err
	}
	r.live = live
	if r.is, err = r.read(); err != nil {
		return err
	}
	return m.append(record.Entry{Record: r.is.ID, Rev: is.Rev, Change: c})
}

// Apply does a change to a record that is still as it was read.
func (m *Memory) Apply(ctx context.Context, r record.Record, c record.Change) (held bool, err error) {
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	at := m.records.byID[r.ID]
	if at == nil || at.is.Rev != r.Rev {
		return false, nil
	}
	if err := m.apply(at, c); err != nil {
		return false, fmt.Errorf("record %s: %w", r.ID, err)
	}
	return true, nil
}

// Record is a record by its name.
func (m *Memory) Record(ctx context.Context, id string) (r record.Record, found bool, err error) {
	if err := m.begin(ctx); err != nil {
		return r, false, err
	}
	defer m.mu.Unlock()
	at := m.records.byID[id]
	if at == nil {
		return r, false, nil
	}
	r, err = at.read()
	return r, err == nil, err
}

// EachRecord gives those of a query in the order in which they were asked.
func (m *Memory) EachRecord(ctx context.Context, q record.Query, yield func(record.Record) error) error {
	if err := m.begin(ctx); err != nil {
		return err
	}
	var all []record.Record
	for _, at := range m.records.byID {
		r := at.is
		if !q.From.IsZero() && r.At.Before(q.From) || !q.To.IsZero() && !r.At.Before(q.To) ||
			q.Station != "" && r.Station() != q.Station || q.Nowhere && r.Station() != "" ||
			q.Surface != "" && (r.Surface != q.Surface || r.Thread != q.Thread) ||
			(q.Live || !q.Due.IsZero()) && r.Over() || q.Over && !r.Over() ||
			!q.Due.IsZero() && r.Expires.After(q.Due) || !q.Says(&r) || !q.For.Sees(r) {
			continue
		}
		r, err := at.read()
		if err != nil {
			m.mu.Unlock()
			return fmt.Errorf("records: %w", err)
		}
		all = append(all, r)
	}
	m.mu.Unlock()
	slices.SortFunc(all, func(a, b record.Record) int { return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.ID, b.ID)) })
	if q.Newest {
		slices.Reverse(all)
	}
	if q.Limit > 0 {
		all = all[:min(q.Limit, len(all))]
	}
	for _, r := range all {
		if err := yield(r); err != nil {
			return err
		}
	}
	return nil
}

// AddCards keeps cards.
func (m *Memory) AddCards(ctx context.Context, all []record.Mark) error {
	if err := cardTexts(all); err != nil {
		return fmt.Errorf("add cards: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return err
	}
	defer m.mu.Unlock()
	m.addCards(all)
	return nil
}

func cardTexts(all []record.Mark) error {
	for _, c := range all {
		if err := texts(c.Surface, c.Ref, c.Record); err != nil {
			return err
		}
	}
	return nil
}

// addCards keeps cards; the lock is held.
func (m *Memory) addCards(all []record.Mark) {
	for _, c := range all {
		c.Again = instant(c.Again)
		m.records.cards[cardKey{c.Surface, c.Ref}] = c
	}
}

// DropCard forgets a card.
func (m *Memory) DropCard(ctx context.Context, surface, ref string) error {
	if err := m.begin(ctx); err != nil {
		return err
	}
	defer m.mu.Unlock()
	delete(m.records.cards, cardKey{surface, ref})
	return nil
}

// CardOf is the record that a card shows.
func (m *Memory) CardOf(ctx context.Context, surface, ref string) (id string, found bool, err error) {
	if err := m.begin(ctx); err != nil {
		return "", false, err
	}
	defer m.mu.Unlock()
	c, found := m.records.cards[cardKey{surface, ref}]
	return c.Record, found, nil
}

// Untold are cards that are behind their record and may be tried now.
func (m *Memory) Untold(ctx context.Context, now time.Time, limit int) ([]record.Mark, error) {
	if err := m.begin(ctx); err != nil {
		return nil, err
	}
	defer m.mu.Unlock()
	var out []record.Mark
	for _, c := range m.records.cards {
		if r := m.records.byID[c.Record]; r != nil {
			c.Want = r.is.Rev
		}
		if c.Told < c.Want && !c.Again.After(instant(now)) {
			out = append(out, c)
		}
	}
	slices.SortFunc(out, func(a, b record.Mark) int {
		return cmp.Or(a.Again.Compare(b.Again), cmp.Compare(a.Surface, b.Surface), cmp.Compare(a.Ref, b.Ref))
	})
	return out[:min(len(out), max(limit, 0))], nil
}

// SetMark changes a card's mark that is still as it was read.
func (m *Memory) SetMark(ctx context.Context, was, is record.Mark) (held bool, err error) {
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	key := cardKey{was.Surface, was.Ref}
	c, found := m.records.cards[key]
	if !found || c.Record != was.Record || c.Told != was.Told || c.Tries != was.Tries {
		return false, nil
	}
	c.Told, c.Tries, c.Again = is.Told, is.Tries, instant(is.Again)
	m.records.cards[key] = c
	return true, nil
}

// Walk gives every entry, then every record, as of one moment.
func (m *Memory) Walk(ctx context.Context, entry func(record.Sealed) error, each func(record.Stored) error) (record.Head, error) {
	if err := m.begin(ctx); err != nil {
		return record.Head{}, err
	}
	entries, head := slices.Clone(m.records.entries), m.records.head
	var all []record.Stored
	for id, r := range m.records.byID {
		all = append(all, record.Stored{ID: id, Made: slices.Clone(r.made), Live: slices.Clone(r.live), Found: record.LookupOf(r.is.Result, r.is.Status)})
	}
	m.mu.Unlock()
	slices.SortFunc(all, func(a, b record.Stored) int { return cmp.Compare(a.ID, b.ID) })
	for _, e := range entries {
		if err := entry(e); err != nil {
			return head, err
		}
	}
	for _, r := range all {
		if err := each(r); err != nil {
			return head, err
		}
	}
	return head, nil
}

// Head is the last entry.
func (m *Memory) Head(ctx context.Context) (record.Head, error) {
	if err := m.begin(ctx); err != nil {
		return record.Head{}, err
	}
	defer m.mu.Unlock()
	return m.records.head, nil
}

// Touched names the records of the entries after one.
func (m *Memory) Touched(ctx context.Context, after, to int64, limit int) (ids []string, last int64, err error) {
	if err := m.begin(ctx); err != nil {
		return nil, after, err
	}
	defer m.mu.Unlock()
	last = after
	for _, e := range m.records.entries {
		if e.Seq > after && e.Seq <= to && limit > 0 {
			last, limit = e.Seq, limit-1
			if e.Record != "" && !slices.Contains(ids, e.Record) {
				ids = append(ids, e.Record)
			}
		}
	}
	return ids, last, nil
}

// Prune takes old records with their entries, from the front.
func (m *Memory) Prune(ctx context.Context, before, at time.Time) (records int, err error) {
	if err := m.begin(ctx); err != nil {
		return 0, err
	}
	defer m.mu.Unlock()
	stays := map[string]bool{}
	for id, r := range m.records.byID {
		stays[id] = !r.is.At.Before(instant(before)) || !r.is.Over()
	}
	through := m.records.head.Seq
	for moved := true; moved; {
		moved = false
		for _, e := range m.records.entries {
			switch {
			case e.Seq > through && e.Record != "" && !stays[e.Record]:
				stays[e.Record], moved = true, true
			case e.Seq <= through && stays[e.Record]:
				through, moved = e.Seq-1, true
			}
		}
	}
	cut := 0
	for _, e := range m.records.entries {
		if e.Seq > through {
			break
		}
		cut++
		if r := m.records.byID[e.Record]; r != nil {
			records++
			delete(m.records.byID, e.Record)
			delete(m.records.asked, resultKey{r.is.Surface, r.is.Message})
		}
	}
	if records == 0 {
		return 0, nil
	}
	last := m.records.entries[cut-1]
	m.records.entries = m.records.entries[cut:]
	for k, c := range m.records.cards {
		if m.records.byID[c.Record] == nil {
			delete(m.records.cards, k)
		}
	}
	return records, m.append(record.Pruning(last, records, at))
}

// Tamper lets a test change what the history keeps, as somebody with the
// store's file would.
func (m *Memory) Tamper(change func(entries []record.Sealed) []record.Sealed) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.records.entries = change(m.records.entries)
}

// TamperRecord changes the JSON of a record in the same way.
func (m *Memory) TamperRecord(id string, change func(made, live []byte) ([]byte, []byte)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if r := m.records.byID[id]; r != nil {
		r.made, r.live = change(r.made, r.live)
	}
}

// Forge seals an entry behind the head, as whoever has the file can who knows
// how it is done.
func (m *Memory) Forge(e record.Entry) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.append(e)
}
