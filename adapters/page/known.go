package page

import (
	"context"
	"slices"
	"strings"
	"time"

	"firn/bot/reply"
	"firn/bot/watch"
)

// Show puts the bases' states on the page, as of a time.
func (p *Page) Show(all []reply.Cold, at time.Time) {
	is := make([]base, len(all))
	for i, c := range all {
		is[i].Cold = cleanCold(c)
	}
	p.observe(is)
	p.see(is)
	p.mu.Lock()
	news := changedStates(p.board, is, at)
	p.seenAnew(p.board, is)
	p.board, p.at = is, at
	count := p.hub.changed(topicBoard)
	if news != "" {
		p.news.count, p.news.text = count, news
	}
	p.mu.Unlock()
}

// askedWithin is how long a board waits for observations, and for who has seen
// what: without them it is the forecast's.
const askedWithin = 5 * time.Second

// observe fills in what is observed.
func (p *Page) observe(all []base) {
	if p.o.Observed == nil {
		return
	}
	ctx, cancel := context.WithTimeout(context.Background(), askedWithin)
	defer cancel()
	idents, at := make([]string, len(all)), map[string]int{}
	for i := range all {
		idents[i], at[all[i].Ident] = all[i].Ident, i
	}
	for ident, o := range p.o.Observed(ctx, idents) {
		if i, ok := at[ident]; ok {
			o.Source = clean(o.Source)
			all[i].observed = o
		}
	}
}

// see fills in who has seen what.
func (p *Page) see(all []base) {
	if p.o.Seen == nil {
		return
	}
	var idents []string
	at := map[string]int{}
	for i := range all {
		if all[i].State != "clear" {
			at[all[i].Ident] = i
			idents = append(idents, all[i].Ident)
		}
	}
	ctx, cancel := context.WithTimeout(context.Background(), askedWithin)
	defer cancel()
	for ident, s := range p.o.Seen(ctx, idents) {
		if i, ok := at[ident]; ok {
			all[i].seen = s
		}
	}
}

// seenNow has the board show at once what somebody has just pressed.
func (p *Page) seenNow() {
	p.mu.Lock()
	is := slices.Clone(p.board)
	p.mu.Unlock()
	p.see(is)
	p.mu.Lock()
	defer p.mu.Unlock()
	if len(is) == len(p.board) {
		p.seenAnew(p.board, is)
		p.board = is
		p.hub.changed(topicBoard)
	}
}

// seenAnew counts whose alerts somebody has seen or made quiet, here or
// elsewhere, or nobody any more: cards with their buttons are others then.
func (p *Page) seenAnew(was, is []base) {
	before := map[string]watch.Seen{}
	for i := range was {
		before[was[i].Ident] = was[i].seen
	}
	for i := range is {
		if b := before[is[i].Ident]; b != is[i].seen {
			p.hub.changed(topicSeen + is[i].Ident)
		}
	}
}

// pressedElsewhere says that a reply has a button for what somebody has seen
// since a count.
func (p *Page) pressedElsewhere(a reply.Reply, count uint64) bool {
	return slices.ContainsFunc(a.Actions, func(a reply.Action) bool {
		_, ident, ok := duty(a.Asks())
		return ok && p.hub.since(topicSeen+ident, count)
	})
}

// duty takes apart what a duty officer does about a base's alert.
func duty(text string) (verb, ident string, ok bool) {
	f := strings.Fields(text)
	if len(f) < 2 || f[0] != "ack" && f[0] != "snooze" {
		return "", "", false
	}
	return f[0], f[1], true
}

// done says that somebody has done already what a button would: it is gone
// then.
func (p *Page) done(text string) bool {
	verb, ident, ok := duty(text)
	if !ok {
		return false
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	i := slices.IndexFunc(p.board, func(b base) bool { return b.Ident == ident })
	if i < 0 {
		return false
	}
	s := &p.board[i].seen
	return !s.At.IsZero() || verb == "snooze" && s.Quiet.After(p.o.Now())
}
