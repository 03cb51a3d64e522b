package page

import (
	"bytes"
	"errors"
	"math"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"firn/bot/access"
)

// policy lets a page load its own files and nothing else.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; frame-ancestors 'none'; base-uri 'none'"

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
		if why := p.unexpectedProxy(r); why != "" {
			http.Error(w, why, http.StatusForbidden)
			return
		}
		next.ServeHTTP(w, r)
	})
}

// forwarded are the headers of a proxy.
var forwarded = []string{"Forwarded", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-Ip", "Via"}

// unexpectedProxy refuses, where no sign-in is asked for, whatever may come from
// elsewhere all the same: a proxy that nobody told firn of, or another name for
// this machine, which a page of somebody else's can make up.
func (p *Page) unexpectedProxy(r *http.Request) string {
	if p.o.Access != nil {
		return ""
	}
	if proxied(r) {
		return "A proxy stands before this page. Write behind_proxy: true below page in firn's configuration; people then sign in by links of \"firn access add\"."
	}
	if !loopback(r.Host) {
		return "This page answers on this machine alone, as localhost. For others write page listen in firn's configuration; people then sign in by links of \"firn access add\"."
	}
	return ""
}

// proxied says that a request came through a proxy: by what a proxy adds, by a
// version of HTTP that no browser speaks, or because the browser has our page by
// another name than this machine's.
func proxied(r *http.Request) bool {
	if slices.ContainsFunc(forwarded, func(h string) bool { return r.Header.Get(h) != "" }) || !r.ProtoAtLeast(1, 1) {
		return true
	}
	if r.Header.Get("Sec-Fetch-Site") != "same-origin" {
		return false // a link on a page of somebody else's
	}
	return slices.ContainsFunc([]string{"Origin", "Referer"}, func(h string) bool {
		u, err := url.Parse(r.Header.Get(h))
		return err == nil && u.Host != "" && !loopback(u.Host)
	})
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
	return r.TLS != nil || p.o.BehindProxy && strings.EqualFold(lastOf(r.Header, "X-Forwarded-Proto"), "https")
}

// lastOf is the last entry of a list in a header, which may have several lines:
// what the nearest proxy wrote, and nobody before it.
func lastOf(h http.Header, name string) string {
	lines := h.Values(name)
	if len(lines) == 0 {
		return ""
	}
	list := lines[len(lines)-1]
	return strings.TrimSpace(list[strings.LastIndexByte(list, ',')+1:])
}

// address is where a request comes from.
func (p *Page) address(r *http.Request) string {
	if p.o.BehindProxy {
		if a, ok := hop(lastOf(r.Header, "X-Forwarded-For")); ok {
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

// hop is the address that a proxy wrote; some add the port, or brackets.
func hop(text string) (netip.Addr, bool) {
	if a, err := netip.ParseAddrPort(text); err == nil {
		return a.Addr(), true
	}
	a, err := netip.ParseAddr(strings.TrimSuffix(strings.TrimPrefix(text, "["), "]"))
	return a, err == nil
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
	has cursor // what the page that is being made shows

	large bool // its form is larger than any of ours
}

// guarded lets through who may, and for a form whose it is.
func (p *Page) guarded(needs access.Scope, next func(*request)) http.HandlerFunc {
	return func(w http.ResponseWriter, hr *http.Request) {
		// The cursor is from before anything is read: what changes meanwhile comes
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
		var wait time.Duration
		if deed {
			wait, _ = p.limits.take("deed/"+key, p.o.Limits.Deeds, p.o.Limits.DeedEvery)
		} else {
			wait, _ = p.limits.take("read/"+key, p.o.Limits.Reads, p.o.Limits.ReadEvery)
		}
		switch {
		case wait > 0:
			w.Header().Set("Retry-After", strconv.Itoa(int(math.Ceil(wait.Seconds()))))
			r.plain(http.StatusTooManyRequests, "Too much at once", "That was more than one person can do. Wait a few seconds, then go back.")
		case !ok:
			r.signIn()
		case deed && !r.validForm():
			r.invalidForm()
		case !who.scope.Allows(needs):
			r.onlyForReading()
		default:
			next(r)
		}
	}
}

// validForm says that a form was sent by one of our pages in this browser: from here
// by what the browser says, and with the token that only they know.
func (r *request) validForm() bool {
	return r.fromHere() && r.who.ownsToken(r.PostForm.Get("csrf"))
}

// fromHere says that a form was sent by a page of ours, and reads it.
func (r *request) fromHere() bool {
	hr := r.Request
	if h := lastOf(hr.Header, "X-Forwarded-Host"); r.p.o.BehindProxy && h != "" {
		hr = hr.Clone(hr.Context())
		hr.Host = h
	}
	if http.NewCrossOriginProtection().Check(hr) != nil {
		return false
	}
	r.Body = http.MaxBytesReader(r.w, r.Body, mostBody)
	err := r.ParseForm()
	var large *http.MaxBytesError
	r.large = errors.As(err, &large)
	return err == nil
}

// invalidForm refuses a form. What was typed into one of ours that has gone old is
// there to be sent again.
func (r *request) invalidForm() {
	if r.large {
		r.plain(http.StatusRequestEntityTooLarge, "Too much", "That is more than firn reads at once. Go back, and leave out what is neither station, temperature, altitudes nor a report.")
		return
	}
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

// onlyForReading refuses who came in by a link that only reads.
func (r *request) onlyForReading() {
	r.plain(http.StatusForbidden, "Only for reading", "Your link is for reading; whoever runs firn can give you one for asking.")
}

// missing says that something is not there, and where to look for it.
func (r *request) missing(title, text, label, href string) {
	r.w.WriteHeader(http.StatusNotFound)
	r.show("plain", frame{Title: title, On: &buttonView{Label: label, Href: href}}, text)
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
