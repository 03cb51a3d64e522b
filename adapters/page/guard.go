package page

import (
	"bytes"
	"math"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"firn/bot/access"
)

// Limits bound what one browser may ask of the page. The figures are ours: a
// person cannot press faster, a page with its pictures loads at once. Whoever
// has no session counts by address.
type Limits struct {
	Reads      int           // at once; default 120
	ReadEvery  time.Duration // one more after each; default 50 ms
	Deeds      int           // at once; default 20
	DeedEvery  time.Duration // default 500 ms
	Knocks     int           // tries of links from an address; default 10
	KnockEvery time.Duration // default 10 s
	Streams    int           // open pages of one browser; default 12
	AllStreams int           // open pages; default 4000
}

func (l Limits) withDefaults() Limits {
	count := func(n *int, d int) {
		if *n <= 0 {
			*n = d
		}
	}
	pause := func(n *time.Duration, d time.Duration) {
		if *n <= 0 {
			*n = d
		}
	}
	count(&l.Reads, 120)
	pause(&l.ReadEvery, 50*time.Millisecond)
	count(&l.Deeds, 20)
	pause(&l.DeedEvery, 500*time.Millisecond)
	count(&l.Knocks, 10)
	pause(&l.KnockEvery, 10*time.Second)
	count(&l.Streams, 12)
	count(&l.AllStreams, 4000)
	return l
}

// limiter holds a bucket for each key.
type limiter struct {
	now func() time.Time

	mu      sync.Mutex
	buckets map[string]bucket
}

type bucket struct {
	tokens float64
	at     time.Time
	full   time.Time // when it will be: then it may go
}

// mostBuckets bounds the memory; the full ones go first.
const mostBuckets = 20000

func newLimiter(now func() time.Time) *limiter {
	return &limiter{now: now, buckets: map[string]bucket{}}
}

// take takes one, or says how long it is until there is one.
func (l *limiter) take(key string, most int, every time.Duration) (wait time.Duration) {
	l.mu.Lock()
	defer l.mu.Unlock()
	now := l.now()
	b, has := l.buckets[key]
	if !has {
		if len(l.buckets) >= mostBuckets {
			for k, o := range l.buckets {
				if !now.Before(o.full) {
					delete(l.buckets, k)
				}
			}
			if len(l.buckets) >= mostBuckets {
				return every // a flood of addresses: nobody new for now
			}
		}
		b = bucket{tokens: float64(most), at: now}
	}
	if since := now.Sub(b.at); since > 0 {
		b.tokens = min(float64(most), b.tokens+float64(since)/float64(every))
		b.at = now
	}
	if b.tokens < 1-1e-9 {
		wait = time.Duration((1 - b.tokens) * float64(every))
	} else {
		b.tokens--
	}
	b.full = now.Add(time.Duration((float64(most) - b.tokens) * float64(every)))
	l.buckets[key] = b
	return wait
}

// give gives one back.
func (l *limiter) give(key string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if b, has := l.buckets[key]; has {
		b.tokens++ // take holds it to the most
		l.buckets[key] = b
	}
}

// policy lets a page load its own files and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

// methods are what a browser does with the page.
var methods = []string{http.MethodGet, http.MethodHead, http.MethodPost}

// headers are on every answer.
func (p *Page) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		// Not no-referrer: with that, browsers leave the origin of a form out.
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cache-Control", "no-store")
		if p.secure(r) {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		if !slices.Contains(methods, r.Method) {
			h.Set("Allow", strings.Join(methods, ", "))
			http.Error(w, "This page is read, and sent to by its forms.", http.StatusMethodNotAllowed)
			return
		}
		if why := p.wrongDoor(r); why != "" {
			http.Error(w, why, http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// forwarded are the headers of a proxy.
var forwarded = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip"}

// wrongDoor refuses, where no sign-in is asked for, whatever may come from
// elsewhere all the same: a proxy that nobody told firn of, or another name for
// this machine, which a page of somebody else's can make up.
func (p *Page) wrongDoor(r *http.Request) string {
	if p.o.Access != nil {
		return ""
	}
	for _, h := range forwarded {
		if r.Header.Get(h) != "" {
			return "A proxy stands before this page. Write behind_proxy: true below page in firn's configuration; people then sign in by links of \"firn access add\"."
		}
	}
	if !loopback(r.Host) {
		return "This page answers on this machine alone, as localhost. For others write page listen in firn's configuration; people then sign in by links of \"firn access add\"."
	}
	return ""
}

// loopback says that a host, with a port or without, is this machine.
func loopback(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.Trim(name, "[]")
	if strings.EqualFold(name, "localhost") {
		return true
	}
	a, err := netip.ParseAddr(name)
	return err == nil && a.IsLoopback()
}

// Loopback says that a page that listens there is reached from its own machine
// alone.
func Loopback(listen string) bool { return loopback(listen) }

// secure says that nobody on the way can read.
func (p *Page) secure(r *http.Request) bool {
	return r.TLS != nil || p.o.BehindProxy && strings.EqualFold(lastOf(r.Header.Get("X-Forwarded-Proto")), "https")
}

// lastOf is the last entry of a list in a header: what the nearest proxy
// wrote, and nobody before it.
func lastOf(list string) string {
	return strings.TrimSpace(list[strings.LastIndexByte(list, ',')+1:])
}

// address is where a request comes from.
func (p *Page) address(r *http.Request) string {
	if p.o.BehindProxy {
		if a, err := netip.ParseAddr(lastOf(r.Header.Get("X-Forwarded-For"))); err == nil {
			return prefix(a)
		}
	}
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	if a, err := netip.ParseAddr(host); err == nil {
		return prefix(a)
	}
	return host
}

// prefix is an address as limits count it: one household has a /64.
func prefix(a netip.Addr) string {
	if a = a.Unmap(); a.Is6() {
		if n, err := a.WithZone("").Prefix(64); err == nil {
			return n.String()
		}
	}
	return a.String()
}

// mostBody is the largest form: a pasted report and its altitudes are a tenth.
const mostBody = 32 << 10

// request is one that has passed.
type request struct {
	p *Page
	w http.ResponseWriter
	*http.Request
	who visitor
	has mark // what the page that is being made shows
}

// guarded lets through who may, and for a form whose it is.
func (p *Page) guarded(needs access.Scope, next func(*request)) http.HandlerFunc {
	return func(w http.ResponseWriter, hr *http.Request) {
		// The mark is from before anything is read: what changes meanwhile comes
		// again.
		r := &request{p: p, w: w, Request: hr, has: p.now()}
		deed := hr.Method != http.MethodGet && hr.Method != http.MethodHead
		who, ok, err := p.visitor(w, hr)
		r.who = who
		if err != nil {
			p.log.ErrorContext(hr.Context(), "session not read", "err", err)
			r.plain(http.StatusServiceUnavailable, "Not now", "firn cannot look up who you are; it is logged. Try again in a minute.")
			return
		}
		key := "session/" + who.key
		if !ok || who.fresh {
			key = "address/" + p.address(hr)
		}
		wait := time.Duration(0)
		if deed {
			wait = p.limits.take("deed/"+key, p.o.Limits.Deeds, p.o.Limits.DeedEvery)
		} else {
			wait = p.limits.take("read/"+key, p.o.Limits.Reads, p.o.Limits.ReadEvery)
		}
		switch {
		case wait > 0:
			w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
			r.plain(http.StatusTooManyRequests, "Too much at once", "That was more than one person can do. Wait a few seconds, then go back.")
		case !ok:
			r.signIn()
		case deed && !r.own():
			r.notOwn()
		case !who.scope.Allows(needs):
			r.plain(http.StatusForbidden, "Only for reading", "Your link is for reading; whoever runs firn can give you one for asking.")
		default:
			next(r)
		}
	}
}

// own says that a form was sent by one of our pages in this browser: from here
// by what the browser says, and with the mark that only they know.
func (r *request) own() bool {
	return r.fromHere() && r.who.owns(r.PostForm.Get("mark"))
}

// fromHere says that a form was sent by a page of ours, and reads it.
func (r *request) fromHere() bool {
	hr := r.Request
	if h := lastOf(hr.Header.Get("X-Forwarded-Host")); r.p.o.BehindProxy && h != "" {
		hr = hr.Clone(hr.Context())
		hr.Host = h
	}
	if http.NewCrossOriginProtection().Check(hr) != nil {
		return false
	}
	r.Body = http.MaxBytesReader(r.w, r.Body, mostBody)
	return r.ParseForm() == nil
}

// notOwn refuses a form. What was typed into one of ours that has gone old is
// there to be sent again.
func (r *request) notOwn() {
	if r.URL.Path == "/ask" && http.NewCrossOriginProtection().Check(r.Request) == nil {
		r.w.WriteHeader(http.StatusForbidden)
		r.showAsk(askView{Line: clean(r.PostForm.Get("text")), Again: "The page had gone old before you sent this. Send it again."})
		return
	}
	r.plain(http.StatusForbidden, "Not sent", "This form did not come from a page of yours, or the page had gone old. Go back, reload, and send it again.")
}

// plain answers with a sentence.
func (r *request) plain(code int, title, text string) {
	r.w.WriteHeader(code)
	r.show("plain", frame{Title: title}, text)
}

// signIn says how one comes in.
func (r *request) signIn() {
	r.plain(http.StatusUnauthorized, "Sign in", "This page opens with a link of your own. Open it, and press “Come in”. Whoever runs firn makes one with “firn access add NAME --scope ask” and sends it to you.")
}

// show writes a page.
func (r *request) show(name string, f frame, main any) {
	f.fill(r, main)
	var b bytes.Buffer
	if err := r.p.pages[name].ExecuteTemplate(&b, "frame", f); err != nil {
		r.p.log.ErrorContext(r.Context(), "page not rendered", "page", name, "err", err)
		http.Error(r.w, "firn could not make this page; it is logged.", http.StatusInternalServerError)
		return
	}
	r.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	if _, err := together.WriteString(r.w, b.String()); err != nil {
		r.p.log.DebugContext(r.Context(), "page not written", "err", err)
	}
}
