package page

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"net/http"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/room"
)

// visitor is who a request is from.
type visitor struct {
	secret string // of the browser's cookie
	key    string // of its conversation; tells nothing of the secret
	person chat.Person
	scope  access.Scope
	linked bool // came in by a link
	fresh  bool // has just been given its cookie
}

// idleFor is how long a session lasts without use. The figure is ours: a
// winter's rotation.
const idleFor = 60 * 24 * time.Hour

// longestName is of a name typed on this machine, ours.
const longestName = 40

// cookieName ties the cookie to this host where the way is secure.
func (p *Page) cookieName(r *http.Request) string {
	if p.secure(r) {
		return "__Host-firn"
	}
	return "firn"
}

// nameCookie holds the name that somebody at this machine gave for the record.
const nameCookie = "firn-name"

func (p *Page) setCookie(w http.ResponseWriter, r *http.Request, name, value string, age time.Duration) {
	c := &http.Cookie{Name: name, Value: value, Path: "/", HttpOnly: true, Secure: p.secure(r), SameSite: http.SameSiteLaxMode, MaxAge: int(age.Seconds())}
	if value == "" {
		c.MaxAge = -1
	}
	http.SetCookie(w, c)
}

// visitor finds out who a request is from; ok is false for somebody who must
// come in first. On loopback everybody is let in, and given a cookie.
func (p *Page) visitor(w http.ResponseWriter, r *http.Request) (v visitor, ok bool, err error) {
	var h access.Hash
	has := false
	if c, err := r.Cookie(p.cookieName(r)); err == nil {
		if h, has = access.HashOf(c.Value); has {
			v.secret, v.key = c.Value, keyOf(h)
		}
	}
	if p.o.Access != nil {
		if !has {
			return v, false, nil
		}
		now := p.o.Now()
		t, ok, err := p.o.Access.Session(r.Context(), h, now, now.Add(-idleFor))
		if !ok {
			return v, false, err
		}
		if err != nil {
			p.log.WarnContext(r.Context(), "use of a session not marked", "link", t.Name, "err", err)
		}
		v.scope, v.linked = t.Scope, true
		v.person = chat.Person{ID: t.Name, Name: t.Name}
		if t.Scope.Allows(access.Duty) {
			v.person.Groups = []string{DutyGroup}
		}
		return v, true, nil
	}
	if !has {
		v.secret, h = access.Secret()
		v.key, v.fresh = keyOf(h), true
		p.setCookie(w, r, p.cookieName(r), v.secret, idleFor)
	}
	v.scope = access.Duty
	v.person = atThisMachine(v.key, nameIn(r))
	return v, true, nil
}

func keyOf(h access.Hash) string { return hex.EncodeToString(h[:8]) }

// atThisMachine is somebody who sits here. Without a name it is the browser
// that asks; with one it is the name, wherever it is typed: two people at one
// screen are two, as they are on paper.
func atThisMachine(key, name string) chat.Person {
	if name == "" {
		return chat.Person{ID: "browser-" + key[:6], Name: "browser " + key[:6], Groups: []string{DutyGroup}}
	}
	id := strings.Join(strings.FieldsFunc(strings.ToLower(name), func(r rune) bool {
		return !unicode.IsLetter(r) && !unicode.IsDigit(r)
	}), "-")
	return chat.Person{ID: id, Name: name, Groups: []string{DutyGroup}}
}

// properName makes a typed name fit for the record; empty when it is none.
func properName(typed string) string {
	name := strings.Join(strings.Fields(clean(typed)), " ")
	if !strings.ContainsFunc(name, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }) {
		return ""
	}
	for utf8.RuneCountInString(name) > longestName {
		_, n := utf8.DecodeLastRuneInString(name)
		name = name[:len(name)-n]
	}
	return strings.TrimSpace(name)
}

func nameIn(r *http.Request) string {
	c, err := r.Cookie(nameCookie)
	if err != nil {
		return ""
	}
	b, err := base64.RawURLEncoding.DecodeString(c.Value)
	if err != nil {
		return ""
	}
	return properName(string(b))
}

// mark is what this browser's forms carry. It comes of the cookie, so that it
// outlives a restart and no table of marks is kept.
func (v visitor) mark() string {
	m := hmac.New(sha256.New, []byte(v.secret))
	m.Write([]byte("firn form"))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil)[:18])
}

func (v visitor) owns(mark string) bool {
	return v.secret != "" && hmac.Equal([]byte(mark), []byte(v.mark()))
}

// enter lets a browser in by a link. The link's secret stays in no address and
// in no cookie: the browser gets a secret of its own and goes on to the page.
func (p *Page) enter(w http.ResponseWriter, hr *http.Request) {
	r := &request{p: p, w: w, Request: hr}
	w.Header().Set("Referrer-Policy", "no-referrer")
	if p.o.Access == nil {
		http.Redirect(w, hr, "/", http.StatusSeeOther)
		return
	}
	if hr.Method == http.MethodHead {
		return // somebody looks whether the link is there, and does not come in
	}
	if wait := p.limits.take("knock/"+p.address(hr), p.o.Limits.Knocks, p.o.Limits.KnockEvery); wait > 0 {
		r.plain(http.StatusTooManyRequests, "Too many tries", "Wait a minute, then open your link again.")
		return
	}
	refuse := func() {
		r.plain(http.StatusForbidden, "This link does not open", "It was revoked, or not all of it was copied. Whoever runs firn can make you another.")
	}
	token, ok := access.HashOf(hr.PathValue("secret"))
	if !ok {
		refuse()
		return
	}
	now := p.o.Now()
	secret, hash := access.Secret()
	t, ok, err := p.o.Access.Enter(hr.Context(), token, access.Session{Hash: hash, Made: now, Used: now}, now.Add(-idleFor))
	switch {
	case err != nil:
		p.log.ErrorContext(hr.Context(), "nobody let in", "err", err)
		r.plain(http.StatusServiceUnavailable, "Not now", "firn cannot look up your link; it is logged. Try again in a minute.")
	case !ok:
		refuse()
	default:
		p.log.InfoContext(hr.Context(), "came in by a link", "link", t.Name, "scope", string(t.Scope))
		p.setCookie(w, hr, p.cookieName(hr), secret, idleFor)
		http.Redirect(w, hr, "/", http.StatusSeeOther)
	}
}

// leave signs a browser out.
func (p *Page) leave(r *request) {
	if h, ok := access.HashOf(r.who.secret); ok && p.o.Access != nil {
		if err := p.o.Access.Leave(r.Context(), h); err != nil {
			p.log.ErrorContext(r.Context(), "session not ended", "err", err)
		}
	}
	p.setCookie(r.w, r.Request, p.cookieName(r.Request), "", 0)
	p.setCookie(r.w, r.Request, nameCookie, "", 0)
	for _, place := range []string{r.who.key, room.Thread(r.who.key)} {
		if err := p.o.Room.Forget(r.Context(), place); err != nil {
			p.log.ErrorContext(r.Context(), "conversation not forgotten", "err", err)
		}
	}
	http.Redirect(r.w, r.Request, "/", http.StatusSeeOther)
}

// you takes the name that somebody at this machine gives for the record.
func (p *Page) you(r *request) {
	if !r.who.linked {
		name := properName(r.PostForm.Get("name"))
		value := base64.RawURLEncoding.EncodeToString([]byte(name))
		p.setCookie(r.w, r.Request, nameCookie, value, idleFor)
	}
	http.Redirect(r.w, r.Request, "/", http.StatusSeeOther)
}

// youPage says who the record takes a browser for.
func (p *Page) youPage(r *request) {
	r.show("you", frame{Title: "You"}, nameIn(r.Request))
}
