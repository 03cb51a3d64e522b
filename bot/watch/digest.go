package watch

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"firn/bot/outbox"
	"firn/bot/reply"
	"firn/engine/coldwatch"
)

// Posts are those of the outbox, as digests need them: what stands there, sent
// or not, says what a channel has been told.
type Posts interface {
	outbox.Adder
	Posts(ctx context.Context, prefix string, since time.Time) ([]outbox.Shown, error)
}

// A digest's posts in a channel are numbered from 1, the morning's own. Whoever
// writes the next number first has written what follows it too: all that another
// meant to say then is looked at again at the next tick, since part of it may be
// told by now.
const digestPrefix = "digest/"

func digestKey(day string, n int) string { return digestPrefix + day + "/" + strconv.Itoa(n) }

// digestsKept is how far back the posts of digests are looked at: a day's last
// word comes within this.
const digestsKept = 4 * 24 * time.Hour

// name is an alert's among those that a digest has told.
func (a Alert) name() string { return a.Base + "/" + a.Day[5:] + "/" + strconv.Itoa(a.Seq) }

// member is a base of a channel's morning.
type member struct {
	b     *base
	p     plan
	d     Day
	since string // what ended with the day before
}

// morning is a channel's day: its bases, and what was posted of it.
type morning struct {
	channel, day string
	bases        []member // whose words go there
	escalated    []member // that were escalated to it
	nth          int      // which one on duty it is, where they were
	root         *outbox.Shown
	posted       int // the last number
	told         map[string]bool
	reminders    []outbox.Shown
}

// digesting says that mornings are digests.
func (w *Watch) digesting() bool { return w.set.Digest && w.posted != nil }

// tellDigests writes what the channels have to be told, and has the mornings'
// posts show how things stand. of is the base whose channels are looked at; nil:
// all. fresh asks the store for every day.
func (w *Watch) tellDigests(ctx context.Context, now time.Time, of *base, fresh bool) error {
	if !w.digesting() {
		return nil
	}
	mornings, err := w.mornings(ctx, now, of, fresh)
	if err != nil || len(mornings) == 0 {
		return err
	}
	all, err := w.posted.Posts(ctx, digestPrefix, now.Add(-digestsKept))
	if err != nil {
		return fmt.Errorf("digests: %w", err)
	}
	var wrote int
	var edits []func()
	var failed []error
	for _, m := range mornings {
		m.read(all)
		items := w.digestItems(m, now)
		if len(items) > 0 {
			// Unless another replica does: the next tick finds what it has left.
			fresh, err := w.posted.AddNext(ctx, items)
			wrote += fresh
			failed = append(failed, err)
		}
		if m.root != nil && m.root.Ref != "" && w.set.Edit != nil && w.set.Edits(m.channel) {
			edits = append(edits, func() { w.editDigest(ctx, m, now) })
		}
	}
	if wrote > 0 {
		w.log.InfoContext(ctx, "digest written", "posts", wrote)
		w.set.Wrote()
	}
	together(edits, w.set.Concurrency)
	return errors.Join(failed...)
}

// together does several things, a few at once.
func together(all []func(), most int) {
	room := make(chan struct{}, max(most, 1))
	var working sync.WaitGroup
	for _, do := range all {
		room <- struct{}{}
		working.Go(func() {
			defer func() { <-room }()
			do()
		})
	}
	working.Wait()
}

// mornings are the days of the channels that go on, or have just ended.
func (w *Watch) mornings(ctx context.Context, now time.Time, of *base, fresh bool) ([]*morning, error) {
	byKey := map[[2]string]*morning{}
	var order []*morning
	at := func(channel, day string) *morning {
		key := [2]string{channel, day}
		if byKey[key] == nil {
			byKey[key] = &morning{channel: channel, day: day, told: map[string]bool{}}
			order = append(order, byKey[key])
		}
		return byKey[key]
	}
	var only map[string]bool
	if of != nil {
		only = w.placesOf(of)
	}
	for _, b := range w.watched.Load().all {
		places := w.placesOf(b)
		if only != nil && !anyIn(places, only) {
			continue
		}
		members, err := w.membersOf(ctx, b, now, fresh)
		if err != nil {
			return nil, err
		}
		for _, m := range members {
			for _, c := range w.set.channels(b.Watch.Channels, Opened, 0, 0) {
				if in := at(c.String(), m.p.day); !slices.ContainsFunc(in.bases, func(o member) bool { return o.b == b }) {
					in.bases = append(in.bases, m)
				}
			}
			for i := range min(m.d.escalated(), len(w.set.Duty)) {
				in := at(w.set.Duty[i].String(), m.p.day)
				in.escalated, in.nth = append(in.escalated, m), i
			}
		}
	}
	return order, nil
}

// placesOf are the channels of a base and those on duty.
func (w *Watch) placesOf(b *base) map[string]bool {
	out := map[string]bool{}
	for _, c := range w.set.channels(b.Watch.Channels, Opened, 0, len(w.set.Duty)) {
		out[c.String()] = true
	}
	return out
}

func anyIn(a, b map[string]bool) bool {
	for k := range a {
		if b[k] {
			return true
		}
	}
	return false
}

// membersOf are a base's days that have begun.
func (w *Watch) membersOf(ctx context.Context, b *base, now time.Time, fresh bool) (list []member, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, p := range b.around(now) {
		if now.Before(p.window.From) {
			continue
		}
		d, known := b.known[p.day]
		if fresh || !known {
			if d, err = w.store.Day(ctx, b.Ident, p.day); err != nil {
				return nil, fmt.Errorf("watch %s: %w", b.Ident, err)
			}
			b.known[p.day] = d
		}
		m := member{b: b, p: p, d: d}
		if len(d.Alerts) > 0 && d.Alerts[0].Judgement.State == coldwatch.Clear {
			since, known := b.since[p.day]
			if !known {
				before, err := w.dayBefore(ctx, b, p, now)
				if err != nil {
					return nil, err
				}
				for _, c := range over(before, d.Alerts[0].Judgement) {
					since = c.Text
				}
				b.since[p.day] = since
			}
			m.since = since
		}
		list = append(list, m)
	}
	return list, nil
}

// read takes what was posted of the morning.
func (m *morning) read(all []outbox.Shown) {
	for _, p := range all {
		line, n := p.OrderingKey()
		if p.Channel != m.channel || line != digestPrefix+m.day {
			continue
		}
		m.posted = max(m.posted, n)
		if n == 1 {
			m.root = &p
		}
		if d := p.Body.Digest; d != nil {
			for _, name := range d.Told {
				m.told[name] = true
			}
			if d.Word == reply.DigestReminder {
				m.reminders = append(m.reminders, p)
			}
		}
	}
}

// editLimit is the longest that one change of a digest may take.
const editLimit = 15 * time.Second

// editDigest has the morning's post show how the bases stand.
func (w *Watch) editDigest(ctx context.Context, m *morning, now time.Time) {
	sc := w.digestScene(m.day, m.bases, now)
	if len(m.bases) == 0 {
		// Somebody on duty was sent a reminder: it stands until one has acted.
		sc = w.digestScene(m.day, m.escalated, now)
		if !slices.ContainsFunc(sc.Bases, func(l reply.DigestLine) bool { return !l.Asks || l.Cold.SeenBy != "" || !l.Cold.SnoozedUntil.IsZero() }) {
			return
		}
	}
	body := reply.MorningDigest(sc)
	for _, b := range m.root.Body.Bases {
		if w.watched.Load().byIdent[b.Ident] == nil {
			body.Facts = append(body.Facts, b.Ident+" is not watched any more.")
		}
	}
	is, err := json.Marshal(body)
	if err != nil {
		w.log.ErrorContext(ctx, "digest not changed", "channel", m.channel, "day", m.day, "err", err)
		return
	}
	key, sum := m.channel+" "+m.day, sha256.Sum256(is)
	w.mu.Lock()
	stands, known := w.stand[key]
	w.mu.Unlock()
	if d := m.root.Body.Digest; d != nil && !known && now.Sub(m.root.Made) < 2*time.Minute {
		d.Told = body.Digest.Told
		if was, err := json.Marshal(m.root.Body); err == nil {
			stands, known = sha256.Sum256(was), true
		}
	}
	if known && stands == sum {
		return
	}
	ctx, cancel := context.WithTimeout(ctx, editLimit)
	defer cancel()
	if err := w.set.Edit(ctx, m.channel, m.root.Ref, body); err != nil {
		w.log.WarnContext(ctx, "digest not changed", "channel", m.channel, "day", m.day, "err", err)
		if !outbox.IsPermanent(err) {
			return
		}
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.stand[key] = sum
	for old := range w.stand { // a channel's days before
		if channel, day, _ := strings.Cut(old, " "); channel == m.channel && day < now.Add(-digestsKept).Format(time.DateOnly) {
			delete(w.stand, old)
		}
	}
}
