package storetest

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"firn/bot/bases"
	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/bot/watch"
	"firn/bot/weather"
	"firn/engine"
	"firn/engine/coldwatch"
)

// Memory is a store that lasts as long as its process.
type Memory struct {
	now func() time.Time

	mu           sync.Mutex
	closed       bool
	days         map[dayKey]*day
	items        []*item // in order of writing
	posted       map[itemKey]*item
	leases       map[string]lease
	observations []weather.Observation // in order of writing
	forecasts    []weather.Forecast
	records      memoryRecords
	seen         map[string]bool // what the archive has
	bases        map[string]bases.Base
}

type (
	dayKey    struct{ base, day string }
	itemKey   struct{ key, channel string }
	lineKey   struct{ channel, line string }
	resultKey struct{ surface, id string }
	ackKey    struct {
		seq int
		by  string
	}
)

type day struct {
	alerts  map[int]watch.Alert
	acks    map[ackKey]watch.Ack
	snoozed time.Time
}

// item is an outbox.Item; its body is kept as JSON, so that no caller holds
// a part of it.
type item struct {
	outbox.Item
	body    []byte
	line    lineKey
	seq     int
	state   itemState
	attempt int
	again   time.Time // not to be tried before
	until   time.Time // end of the lease; zero when there is none
	ref     string
	reason  string
}

type itemState uint8

const (
	waiting itemState = iota
	sent
	givenUp
)

type lease struct {
	holder string
	until  time.Time
}

// NewMemory makes an empty store. Its leases run by now.
func NewMemory(now func() time.Time) *Memory {
	return &Memory{
		now:     now,
		days:    map[dayKey]*day{},
		posted:  map[itemKey]*item{},
		leases:  map[string]lease{},
		records: newMemoryRecords(),
		seen:    map[string]bool{},
	}
}

// errClosed is what a closed store answers.
var errClosed = errors.New("the store is closed")

// begin takes the lock, or says why not.
func (m *Memory) begin(ctx context.Context) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	m.mu.Lock()
	if m.closed {
		m.mu.Unlock()
		return errClosed
	}
	return nil
}

// Close ends the use of the store.
func (m *Memory) Close() error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.closed = true
	return nil
}

// Open writes an alert and its posts.
func (m *Memory) Open(ctx context.Context, a watch.Alert, posts []outbox.Item) (fresh bool, err error) {
	j := a.Judgement
	if err := cmp.Or(
		texts(a.Base, a.Day, string(a.Kind), j.Source, j.Note),
		finite(j.Low, j.Restriction),
	); err != nil {
		return false, fmt.Errorf("open alert: %w", err)
	}
	a.Made = instant(a.Made)
	for _, t := range []*time.Time{&j.LowAt, &j.BelowFrom, &j.BelowTo, &j.CoveredFrom, &j.CoveredTo, &j.Issued} {
		*t = instant(*t)
	}
	a.Judgement = j
	items, err := itemsOf(posts)
	if err != nil {
		return false, fmt.Errorf("open alert: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	d := m.day(a.Base, a.Day)
	if _, there := d.alerts[a.Seq]; there {
		return false, nil
	}
	d.alerts[a.Seq] = a
	m.enqueue(items)
	return true, nil
}

// enqueue keeps posts; those that are there already stay as they are.
func (m *Memory) enqueue(items []*item) {
	for _, it := range items {
		k := itemKey{it.Key, it.Channel}
		if m.posted[k] == nil {
			m.posted[k] = it
			m.items = append(m.items, it)
		}
	}
}

func (m *Memory) day(base, date string) *day {
	k := dayKey{base, date}
	d := m.days[k]
	if d == nil {
		d = &day{alerts: map[int]watch.Alert{}, acks: map[ackKey]watch.Ack{}}
		m.days[k] = d
	}
	return d
}

// Day is all that is known of a base's day.
func (m *Memory) Day(ctx context.Context, base, date string) (watch.Day, error) {
	if err := m.begin(ctx); err != nil {
		return watch.Day{}, err
	}
	defer m.mu.Unlock()
	d := m.days[dayKey{base, date}]
	if d == nil {
		return watch.Day{}, nil
	}
	out := watch.Day{SnoozedUntil: d.snoozed}
	for _, a := range d.alerts {
		out.Alerts = append(out.Alerts, a)
	}
	slices.SortFunc(out.Alerts, func(a, b watch.Alert) int { return cmp.Compare(a.Seq, b.Seq) })
	for _, a := range d.acks {
		out.Acks = append(out.Acks, a)
	}
	slices.SortFunc(out.Acks, func(a, b watch.Ack) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Seq, b.Seq), cmp.Compare(a.By, b.By))
	})
	return out, nil
}

// itemsOf are posts as they are kept.
func itemsOf(posts []outbox.Item) ([]*item, error) {
	items := make([]*item, 0, len(posts))
	for _, p := range posts {
		if err := texts(p.Key, p.Channel); err != nil {
			return nil, err
		}
		body, err := json.Marshal(p.Body)
		if err != nil {
			return nil, err
		}
		p.Made, p.Due, p.Body = instant(p.Made), instant(p.Due), reply.Reply{}
		line, seq := p.OrderingKey()
		items = append(items, &item{Item: p, body: body, line: lineKey{p.Channel, line}, seq: seq})
	}
	return items, nil
}

// Acknowledge writes an acknowledgement and the posts that tell it.
func (m *Memory) Acknowledge(ctx context.Context, a watch.Ack, posts []outbox.Item) (fresh bool, err error) {
	if err := texts(a.Base, a.Day, a.By); err != nil {
		return false, fmt.Errorf("acknowledge: %w", err)
	}
	items, err := itemsOf(posts)
	if err != nil {
		return false, fmt.Errorf("acknowledge: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	d, k := m.day(a.Base, a.Day), ackKey{a.Seq, a.By}
	if _, there := d.acks[k]; there {
		return false, nil
	}
	a.At = instant(a.At)
	d.acks[k] = a
	m.enqueue(items)
	return true, nil
}

// Snooze sets how long a base's day is quiet; the last word holds.
func (m *Memory) Snooze(ctx context.Context, base, date string, until time.Time, by string) error {
	if err := texts(base, date, by); err != nil {
		return fmt.Errorf("snooze: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return err
	}
	defer m.mu.Unlock()
	m.day(base, date).snoozed = instant(until)
	return nil
}

// Lease takes a name for a while.
func (m *Memory) Lease(ctx context.Context, name, holder string, d time.Duration) (held bool, err error) {
	if err := texts(name, holder); err != nil {
		return false, fmt.Errorf("lease: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	now := m.now()
	if l, there := m.leases[name]; there && l.holder != holder && l.until.After(now) {
		return false, nil
	}
	m.leases[name] = lease{holder, now.Add(d)}
	return true, nil
}

// Release gives a name back, if holder has it.
func (m *Memory) Release(ctx context.Context, name, holder string) error {
	if err := m.begin(ctx); err != nil {
		return err
	}
	defer m.mu.Unlock()
	if m.leases[name].holder == holder {
		delete(m.leases, name)
	}
	return nil
}

// Held are those of the names that somebody has, or had last.
func (m *Memory) Held(ctx context.Context, names ...string) (all []watch.Held, err error) {
	if err := texts(names...); err != nil {
		return nil, fmt.Errorf("read leases: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return nil, err
	}
	defer m.mu.Unlock()
	for _, name := range slices.Sorted(slices.Values(names)) {
		if l, there := m.leases[name]; there {
			all = append(all, watch.Held{Name: name, Holder: l.holder, Left: l.until.Sub(m.now())})
		}
	}
	return all, nil
}

// Claim leases items that are due.
func (m *Memory) Claim(ctx context.Context, now time.Time, d time.Duration, limit int) ([]outbox.Claim, error) {
	if err := m.begin(ctx); err != nil {
		return nil, err
	}
	defer m.mu.Unlock()
	now = instant(now)
	clock := m.now()
	head := map[lineKey]int{} // the smallest seq that waits
	for _, it := range m.items {
		if seq, there := head[it.line]; it.state == waiting && (!there || it.seq < seq) {
			head[it.line] = it.seq
		}
	}
	var ready []*item
	for _, it := range m.items {
		if it.state == waiting && !it.Due.After(now) && !it.again.After(now) && !it.until.After(clock) && it.seq == head[it.line] {
			ready = append(ready, it)
		}
	}
	slices.SortStableFunc(ready, func(a, b *item) int { return a.Due.Compare(b.Due) })
	ready = ready[:min(len(ready), max(limit, 0))]
	claims := make([]outbox.Claim, 0, len(ready))
	for _, it := range ready {
		c := outbox.Claim{Item: it.Item, Attempt: it.attempt + 1}
		if err := json.Unmarshal(it.body, &c.Body); err != nil {
			return nil, fmt.Errorf("claim %s: %w", it.Key, err)
		}
		claims = append(claims, c)
	}
	for _, it := range ready {
		it.attempt++
		it.until = clock.Add(d)
	}
	return claims, nil
}

// end changes the item of a claim that still holds.
func (m *Memory) end(ctx context.Context, c outbox.Claim, change func(*item)) (held bool, err error) {
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	it := m.posted[itemKey{c.Key, c.Channel}]
	if it == nil || it.state != waiting || it.attempt != c.Attempt || it.until.IsZero() {
		return false, nil
	}
	change(it)
	it.until = time.Time{}
	return true, nil
}

// Done marks a claim sent.
func (m *Memory) Done(ctx context.Context, c outbox.Claim, ref string, at time.Time) (held bool, err error) {
	if err := texts(ref); err != nil {
		return false, fmt.Errorf("done: %w", err)
	}
	return m.end(ctx, c, func(it *item) { it.state, it.ref = sent, ref })
}

// Later gives a claim back.
func (m *Memory) Later(ctx context.Context, c outbox.Claim, due time.Time, reason string) (held bool, err error) {
	if err := texts(reason); err != nil {
		return false, fmt.Errorf("later: %w", err)
	}
	return m.end(ctx, c, func(it *item) { it.again, it.reason = instant(due), reason })
}

// GiveUp ends a claim without success.
func (m *Memory) GiveUp(ctx context.Context, c outbox.Claim, reason string, at time.Time) (held bool, err error) {
	if err := texts(reason); err != nil {
		return false, fmt.Errorf("give up: %w", err)
	}
	return m.end(ctx, c, func(it *item) { it.state, it.reason = givenUp, reason })
}

// Backlog is what waits: all that is neither sent nor given up, under a
// lease or not, due or not.
func (m *Memory) Backlog(ctx context.Context) (outbox.Backlog, error) {
	if err := m.begin(ctx); err != nil {
		return outbox.Backlog{}, err
	}
	defer m.mu.Unlock()
	var b outbox.Backlog
	for _, it := range m.items {
		switch it.state {
		case waiting:
			if b.Waiting == 0 || it.Due.Before(b.Oldest) {
				b.Oldest = it.Due
			}
			b.Waiting++
		case givenUp:
			b.GivenUp++
		}
	}
	return b, nil
}

// first says whether the archive sees a thing for the first time.
func (m *Memory) first(what string, parts ...any) bool {
	key := what + fmt.Sprintf(" %q", parts)
	if m.seen[key] {
		return false
	}
	m.seen[key] = true
	return true
}

// SaveObservation keeps an observation. It is the same again when all but
// the time received is.
func (m *Memory) SaveObservation(ctx context.Context, o weather.Observation) (fresh bool, err error) {
	o.Newer = ""
	if err := cmp.Or(texts(o.Ident, o.Source), finite(o.C)); err != nil {
		return false, fmt.Errorf("save observation: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	o.At, o.Received = instant(o.At), instant(o.Received)
	if !m.first("observation", o.Ident, o.Source, o.Raw, o.At.String(), fmt.Sprint(float64(o.C))) {
		return false, nil
	}
	m.observations = append(m.observations, o)
	return true, nil
}

// SaveForecast keeps a forecast. It is the same again when all but the time
// received is.
func (m *Memory) SaveForecast(ctx context.Context, f weather.Forecast) (fresh bool, err error) {
	if err := texts(f.Ident, f.Source); err != nil {
		return false, fmt.Errorf("save forecast: %w", err)
	}
	f.Note, f.ColderOnly = "", false // they hold for the moment
	for _, s := range [...]*[]coldwatch.Sample{&f.Hourly, &f.Minimums, &f.Maximums} {
		*s = slices.Clone(*s)
		for i := range *s {
			if err := finite((*s)[i].C); err != nil {
				return false, fmt.Errorf("save forecast: %w", err)
			}
			(*s)[i].At = instant((*s)[i].At)
		}
	}
	for _, t := range [...]*time.Time{&f.Issued, &f.ValidFrom, &f.ValidTo, &f.Received} {
		*t = instant(*t)
	}
	same := f
	same.Raw, same.Received = "", time.Time{}
	content, err := json.Marshal(same)
	if err != nil {
		return false, fmt.Errorf("save forecast: %w", err)
	}
	if err := m.begin(ctx); err != nil {
		return false, err
	}
	defer m.mu.Unlock()
	if !m.first("forecast", string(content), f.Raw) {
		return false, nil
	}
	m.forecasts = append(m.forecasts, f)
	return true, nil
}

// LatestObservation is the latest by time observed, then received.
func (m *Memory) LatestObservation(ctx context.Context, ident, source string) (weather.Observation, bool, error) {
	if err := m.begin(ctx); err != nil {
		return weather.Observation{}, false, err
	}
	defer m.mu.Unlock()
	var best weather.Observation
	found := false
	for _, o := range m.observations {
		if o.Ident != ident || source != "" && o.Source != source {
			continue
		}
		if !found || cmp.Or(o.At.Compare(best.At), o.Received.Compare(best.Received)) >= 0 {
			best, found = o, true
		}
	}
	return best, found, nil
}

// LatestForecast is the latest by time issued, then received.
func (m *Memory) LatestForecast(ctx context.Context, ident, source string) (weather.Forecast, bool, error) {
	if err := m.begin(ctx); err != nil {
		return weather.Forecast{}, false, err
	}
	defer m.mu.Unlock()
	var best weather.Forecast
	found := false
	for _, f := range m.forecasts {
		if f.Ident != ident || source != "" && f.Source != source {
			continue
		}
		if !found || cmp.Or(f.Issued.Compare(best.Issued), f.Received.Compare(best.Received)) >= 0 {
			best, found = f, true
		}
	}
	best.Hourly = slices.Clone(best.Hourly)
	best.Minimums = slices.Clone(best.Minimums)
	best.Maximums = slices.Clone(best.Maximums)
	return best, found, nil
}

// instant is a time as stores keep it.
func instant(t time.Time) time.Time { return t.UTC().Truncate(time.Microsecond) }

// texts refuses what PostgreSQL cannot keep as text.
func texts(all ...string) error {
	for _, s := range all {
		if !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
			return fmt.Errorf("%.40q is not text: it holds a NUL or bytes that are not UTF-8", s)
		}
	}
	return nil
}

// finite refuses temperatures that are none.
func finite(all ...engine.Celsius) error {
	for _, c := range all {
		if math.IsNaN(float64(c)) || math.IsInf(float64(c), 0) {
			return fmt.Errorf("%v is not a temperature", float64(c))
		}
	}
	return nil
}
