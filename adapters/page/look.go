package page

import (
	"net/http"
	"net/url"
	"strings"

	"firn/bot/access"
)

// lookCookie holds that a browser's pages are dim and red, which leaves eyes
// used to a dark cockpit as they are.
const (
	lookCookie = "firn-look"
	lookRed    = "red"
)

// lookOf is how the pages of a browser look; empty: as it likes them itself.
func lookOf(r *http.Request) string {
	if c, err := r.Cookie(lookCookie); err == nil && c.Value == lookRed {
		return lookRed
	}
	return ""
}

// ownPath says that an address is one of these pages.
func ownPath(at string) bool {
	u, err := url.Parse(at)
	return err == nil && u.Host == "" && u.Scheme == "" && strings.HasPrefix(at, "/") && !strings.HasPrefix(at, "//") && !strings.Contains(at, "\\")
}

// look changes it, and goes back to the page.
func (p *Page) look(r *request) {
	as := r.PostForm.Get("as")
	if as != lookRed {
		as = ""
	}
	p.setCookie(r.w, r.Request, lookCookie, as, SessionLife)
	http.Redirect(r.w, r.Request, r.back()+"#look", http.StatusSeeOther)
}

// mayDuty says that the reader may do what duty officers do.
func (r *request) mayDuty() bool {
	return r.canAsk() && !r.who.person.NoDuty && r.who.scope.Allows(access.Ask)
}
