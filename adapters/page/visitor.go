package page

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"net/http"
	"strings"
	"time"

	"firn/bot/access"
	"firn/bot/chat"
	"firn/bot/pagestate"
	"firn/bot/person"
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

// SessionLife is how long a session lasts without use. The figure is ours: a
// winter's rotation.
const SessionLife = 60 * 24 * time.Hour

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
		t, ok, err := p.o.Access.Session(r.Context(), h, now, now.Add(-SessionLife))
		if !ok {
			return v, false, err
		}
		if err != nil {
			p.log.WarnContext(r.Context(), "use of a session not marked", "link", t.Name, "err", err)
		}
		v.scope, v.linked = t.Scope, true
		v.person = chat.Person{ID: person.Key(t.Name), Name: t.Name}
		if t.Scope.Allows(access.Duty) {
			v.person.Groups = []string{DutyGroup}
		} else {
			v.person.NoDuty = true // whether the configuration names duty officers or not
		}
		return v, true, nil
	}
	if !has {
		v.secret, h = access.Secret()
		v.key, v.fresh = keyOf(h), true
		p.setCookie(w, r, p.cookieName(r), v.secret, SessionLife)
	}
	v.scope = access.Duty
	v.person = atThisMachine(v.key, nameIn(r))
	return v, true, nil
}

func keyOf(h access.Hash) string { return hex.EncodeToString(h[:8]) }

// atThisMachine is somebody who sits here. Without a name it is the browser
// that asks; with one it is the name, wherever it is typed. A name is no proof:
// the record knows the browser too, so that nobody is their own second person.
func atThisMachine(key, name string) chat.Person {
	p := chat.Person{Name: name, ID: person.Key(name), Groups: []string{DutyGroup}, Via: viaOf(key)}
	if name == "" {
		p.ID, p.Name = "browser-"+key[:6], person.OnPage
	}
	return p
}

// viaOf tells a browser apart in the record; its conversation is called
// otherwise.
func viaOf(key string) string {
	sum := sha256.Sum256([]byte("browser " + key))
	return hex.EncodeToString(sum[:8])
}

// properName is a typed name, or says why it is none; empty when nothing was
// typed.
func properName(typed string) (string, error) {
	name := person.Clean(strings.ToValidUTF8(typed, "\uFFFD"))
	if name == "" {
		return "", nil
	}
	if err := person.Check(name); err != nil {
		return "", err
	}
	return name, nil
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
	name, err := properName(string(b))
	if err != nil {
		return "" // an older firn took it
	}
	return name
}

// csrfToken is what this browser's forms carry. It comes of the cookie, so that it
// outlives a restart and no table of tokens is kept.
func (v visitor) csrfToken() string {
	m := hmac.New(sha256.New, []byte(v.secret))
	m.Write([]byte("firn form"))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil)[:18])
}

func (v visitor) ownsToken(token string) bool {
	return v.secret != "" && hmac.Equal([]byte(token), []byte(v.csrfToken()))
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
	r.w.Header().Set("Clear-Site-Data", `"cache", "storage"`) // the last answer that the browser kept
	for _, place := range []string{r.who.key, pagestate.Thread(r.who.key)} {
		if err := p.o.Room.Forget(r.Context(), place); err != nil {
			p.log.ErrorContext(r.Context(), "conversation not forgotten", "err", err)
		}
	}
	http.Redirect(r.w, r.Request, "/", http.StatusSeeOther)
}

// you takes the name that somebody at this machine gives for the record.
func (p *Page) you(r *request) {
	if !r.who.linked {
		typed := r.PostForm.Get("name")
		name, err := properName(typed)
		if err != nil {
			r.w.WriteHeader(http.StatusUnprocessableEntity)
			r.show("you", frame{Title: "You"}, youView{clean(typed), sentence(err)})
			return
		}
		p.keepName(r, name)
	}
	http.Redirect(r.w, r.Request, r.back()+"#who", http.StatusSeeOther)
}

// nameless says that the record knows a reader who may ask by no name.
func (r *request) nameless() bool {
	return r.canAsk() && !r.who.linked && nameIn(r.Request) == ""
}

// back is the page that a form stood on.
func (r *request) back() string {
	if at := r.PostForm.Get("back"); ownPath(at) {
		return at
	}
	return "/"
}

// keepName keeps the name that somebody at this machine gave.
func (p *Page) keepName(r *request, name string) {
	value := base64.RawURLEncoding.EncodeToString([]byte(name))
	p.setCookie(r.w, r.Request, nameCookie, value, SessionLife)
}

// youPage says who the record takes a browser for.
func (p *Page) youPage(r *request) {
	r.show("you", frame{Title: "You"}, youView{Name: nameIn(r.Request)})
}

// youView is the page on which somebody at this machine gives a name.
type youView struct{ Name, Wrong string }

// sentence is an error for whoever typed what it is about.
func sentence(err error) string {
	text := err.Error()
	return strings.ToUpper(text[:1]) + text[1:] + "."
}
