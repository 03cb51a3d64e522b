package page

import (
	"context"
	"encoding/hex"
	"net/http"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"firn/bot/access"
)

// enterView is the page by which people come in.
type enterView struct{ Wrong string }

// enterPage asks for a link. Its secret stands behind the address's #, which
// browsers send nowhere: it is in no log on the way, whoever only looks at the
// link uses nothing up, and it is sent by a button.
func (p *Page) enterPage(w http.ResponseWriter, hr *http.Request) {
	r := &request{p: p, w: w, Request: hr}
	switch {
	case p.o.Access == nil:
		http.Redirect(w, hr, "/", http.StatusSeeOther)
	case p.readsTooMuch(hr):
		r.plain(http.StatusTooManyRequests, "Too much at once", "Wait a few seconds, then open your link again.")
	default:
		r.show("enter", frame{Title: "Come in"}, enterView{})
	}
}

// readsTooMuch says that an address without a session reads too much.
func (p *Page) readsTooMuch(hr *http.Request) bool {
	wait, _ := p.limits.take("read/address/"+p.address(hr), p.o.Limits.Reads, p.o.Limits.ReadEvery)
	return wait > 0
}

// oldLink is a link as they were made before: its secret moves out of what is
// sent and logged.
func (p *Page) oldLink(w http.ResponseWriter, hr *http.Request) {
	w.Header().Set("Referrer-Policy", "no-referrer")
	http.Redirect(w, hr, "/enter#"+hr.PathValue("secret"), http.StatusSeeOther)
}

// refusals counts who was not let in, and why.
type refusals struct{ unknown, often, foreign atomic.Int64 }

// Refused is how many tries to come in were refused since the process began,
// by why: the link is not good, too many tries came from one address, or the
// form came from another page.
func (p *Page) Refused() map[string]int64 {
	return map[string]int64{"link": p.refused.unknown.Load(), "often": p.refused.often.Load(), "form": p.refused.foreign.Load()}
}

// What is refused again and again from one address is logged as often and then
// once in so long; Refused counts all. The figures are ours: a log is read.
const (
	mostTold  = 10
	tellEvery = time.Minute
)

// goodLinks are those that let people in, read at most once a second: others at the
// same address, behind the same proxy, may have tried too often, and that keeps nobody
// out who has a link. It costs no look at the store a try, and guesses at 32 random
// bytes are hopeless however many there are.
type goodLinks struct {
	mu  sync.Mutex
	at  time.Time // when they were read
	all map[access.Hash]bool
}

// The figures are ours.
const (
	goodEvery = time.Second
	goodLimit = 2 * time.Second // for reading them
)

// has says that a link is good at a time.
func (g *goodLinks) has(ctx context.Context, of access.Store, link access.Hash, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if d := now.Sub(g.at); d < 0 || d >= goodEvery {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), goodLimit) // others wait for it too
		defer cancel()
		g.at, g.all = now, map[access.Hash]bool{}
		all, err := of.Tokens(ctx)
		if err != nil {
			return false // whoever is refused tries again
		}
		for _, t := range all {
			g.all[t.Hash] = t.Good(now)
		}
	}
	return g.all[link]
}

// enter lets a browser in by a link. The browser gets a secret of its own, so
// that the link's is in no cookie.
func (p *Page) enter(w http.ResponseWriter, hr *http.Request) {
	r := &request{p: p, w: w, Request: hr}
	if p.o.Access == nil {
		http.Redirect(w, hr, "/", http.StatusSeeOther)
		return
	}
	from := p.address(hr)
	refuse := func(count *atomic.Int64, why string, code int, text string) {
		count.Add(1)
		if told, _ := p.limits.take("told/"+why+"/"+from, mostTold, tellEvery); told == 0 {
			p.log.WarnContext(hr.Context(), "sign-in refused", "why", why, "from", from)
		}
		w.WriteHeader(code)
		r.show("enter", frame{Title: "Come in"}, enterView{text})
	}
	if !r.fromHere() {
		refuse(&p.refused.foreign, "form of another page", http.StatusForbidden, "This did not come from this page. Open your link again.")
		return
	}
	wait, noAttempt := p.limits.take("login/"+from, p.o.Limits.LoginAttempts, p.o.Limits.LoginAttemptEvery)
	typed := strings.TrimSpace(r.PostForm.Get("link"))
	token, ok := access.HashOf(typed[strings.LastIndexAny(typed, "#/")+1:])
	if wait > 0 && !(ok && p.good.has(hr.Context(), p.o.Access, token, p.o.Now())) {
		refuse(&p.refused.often, "too many tries", http.StatusTooManyRequests, "Too many tries came from here. Wait a minute, then try again.")
		return
	}
	if ok { // a link that somebody has makes no browsers without end
		if wait, _ = p.limits.take("link/"+hex.EncodeToString(token[:]), p.o.Limits.Entries, p.o.Limits.EntryEvery); wait > 0 {
			noAttempt()
			refuse(&p.refused.often, "too many browsers by one link", http.StatusTooManyRequests, "Too many browsers came in by this link. Wait a minute, then try again.")
			return
		}
	}
	var t access.Token
	now := p.o.Now()
	secret, hash := access.Secret()
	if ok {
		var err error
		if t, ok, err = p.o.Access.Enter(hr.Context(), token, access.Session{Hash: hash, Made: now, Used: now}, now.Add(-SessionLife)); err != nil {
			noAttempt()
			p.log.ErrorContext(hr.Context(), "nobody let in", "err", err)
			r.plain(http.StatusServiceUnavailable, "Not now", "firn cannot look up your link; it is logged. Try again in a minute.")
			return
		}
	}
	if !ok {
		refuse(&p.refused.unknown, "no good link", http.StatusForbidden, "This link does not open: it was ended, or not all of it was copied. Whoever runs firn can make you another.")
		return
	}
	noAttempt() // a good link is no try
	p.log.InfoContext(hr.Context(), "came in by a link", "link", t.Name, "scope", string(t.Scope))
	p.setCookie(w, hr, p.cookieName(hr), secret, SessionLife)
	http.Redirect(w, hr, "/", http.StatusSeeOther)
}
