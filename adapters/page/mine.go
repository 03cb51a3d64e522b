package page

import (
	"context"
	"sync"

	"firn/bot/chat"
	"firn/bot/reply"
)

// mineView is what waits for the person: one line that unfolds. The bases are in
// the strip above it.
type mineView struct {
	Title string
	Lists []mineList
}

// mineList leads to records, where their figures stand beside what can be done.
type mineList struct {
	Title string
	Items []reply.MineItem
}

// mineOf is what waits for a person.
type mineOf = func(context.Context, chat.Person) (reply.Reply, error)

// awaited is what waits for people, as open pages were last given it: one reading
// serves them all.
type awaited struct {
	mu    sync.Mutex // held while it is read: those who wait want the same
	count uint64
	of    mineOf
}

// awaited reads what waits for people; a page that is loaded has it anew, since
// not every change is told.
func (r *request) awaited(anew bool) (mineOf, error) {
	p := r.p
	p.awaits.mu.Lock()
	defer p.awaits.mu.Unlock()
	if !anew && p.awaits.of != nil && !p.hub.since(topicRecords, p.awaits.count) {
		return p.awaits.of, nil
	}
	count, _ := p.hub.now()
	of, err := p.o.Waiting(r.Context())
	if err != nil {
		return nil, err
	}
	p.awaits.count, p.awaits.of = count, of
	return of, nil
}

// waiting is that of a person who has said who they are; nil: nothing waits.
func (r *request) waiting(anew bool) (*mineView, error) {
	if r.p.o.Waiting == nil || !r.canAsk() || !r.who.linked && nameIn(r.Request) == "" {
		return nil, nil
	}
	of, err := r.awaited(anew)
	var mine reply.Reply
	if err == nil {
		mine, err = of(r.Context(), r.who.person)
	}
	if err != nil {
		r.p.log.WarnContext(r.Context(), "not known what waits for a person", "err", err)
		return nil, err
	}
	if len(mine.Sections) == 0 {
		return nil, nil
	}
	v := mineView{Title: clean(mine.Facts[0])}
	for i, all := range mine.Mine.Lists() {
		list := mineList{Title: clean(mine.Sections[i].Title)}
		for _, it := range all {
			list.Items = append(list.Items, reply.MineItem{ID: it.ID, Text: clean(it.Text)})
		}
		v.Lists = append(v.Lists, list)
	}
	return &v, nil
}
