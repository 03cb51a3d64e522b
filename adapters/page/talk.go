package page

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"regexp"
	"slices"
	"strings"
	"time"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// What is kept in memory. The figures are ours: two days of many bases, a
// shift's questions of every phone of a wing.
const (
	mostPosts   = 200
	mostFollows = 20
	mostCards   = 40
	mostTalks   = 2000
	talkLife    = 24 * time.Hour
)

// talk is the conversation of one browser.
type talk struct {
	key   string
	cards []*card    // the newest last
	form  *chat.Form // one sent back by the desk
	used  time.Time
}

// card is one answer.
type card struct {
	id      string
	talk    string // empty: it stands below a post
	asked   string
	by      string
	at      time.Time
	message chat.Ref // the question; empty: a button
	edited  bool
	c       chat.Card
	count   uint64 // of the hub, when it changed last
}

// post is what stands there for everybody.
type post struct {
	id           string
	key, channel string // the outbox's
	late         string
	at           time.Time
	c            chat.Card
	follows      []*card
	count        uint64
}

// A reference says where a card stands, so that it can stand there again after
// a restart. An id is a few random bytes, or for a post the sum of its key.
var (
	cardRef    = regexp.MustCompile(`^c/([0-9a-f]{16})/([0-9a-f]{12})$`)
	postRef    = regexp.MustCompile(`^p/([0-9a-f]{24})$`)
	messageRef = regexp.MustCompile(`^m/([0-9a-f]{16})/[0-9a-f]{24}$`)
)

func newID() string {
	var b [6]byte
	rand.Read(b[:]) // never fails
	return hex.EncodeToString(b[:])
}

// fix says that a card has a line to type instead.
func (c *card) fix() bool { return c.c.Reply.Problem != nil && c.c.Reply.Problem.Try != "" }

func (c *card) ref() chat.Ref {
	if c.talk == "" {
		return ""
	}
	return chat.Ref("c/" + c.talk + "/" + c.id)
}

func (o *post) ref() chat.Ref { return chat.Ref("p/" + o.id) }

// postID is a post's for ever: the outbox asks for it by key.
func postID(channel, key string) string {
	sum := sha256.Sum256([]byte(channel + "\x00" + key))
	return hex.EncodeToString(sum[:12])
}

// cleanCard is a card whose texts are clean.
func cleanCard(c chat.Card) chat.Card {
	c.Reply, c.Note = cleanReply(c.Reply), clean(c.Note)
	pictures := make([]chat.Picture, len(c.Pictures))
	for i, p := range c.Pictures {
		pictures[i] = chat.Picture{Name: clean(p.Name), Alt: clean(p.Alt), PNG: p.PNG}
	}
	c.Pictures = pictures
	return c
}

func cleanCold(c reply.Cold) reply.Cold {
	c.Ident, c.Source, c.Note = clean(c.Ident), clean(c.Source), clean(c.Note)
	return c
}

// talk is the conversation of a browser, a new one where there is none; the
// lock is held.
func (p *Page) talk(key string) *talk {
	t := p.talks[key]
	now := p.o.Now()
	if t == nil {
		p.makeRoom(now)
		t = &talk{key: key}
		p.talks[key] = t
	}
	t.used = now
	return t
}

// makeRoom lets conversations go that nobody uses; the lock is held.
func (p *Page) makeRoom(now time.Time) {
	if len(p.talks) < mostTalks {
		return
	}
	var oldest *talk
	for key, t := range p.talks {
		if now.Sub(t.used) > talkLife {
			delete(p.talks, key)
			p.hub.forget(key)
		} else if oldest == nil || t.used.Before(oldest.used) {
			oldest = t
		}
	}
	if len(p.talks) >= mostTalks {
		delete(p.talks, oldest.key)
		p.hub.forget(oldest.key)
	}
}

// drop forgets a conversation.
func (p *Page) drop(key string) {
	p.mu.Lock()
	defer p.mu.Unlock()
	delete(p.talks, key)
	p.hub.forget(key)
}

// add puts a card into a conversation; the lock is held.
func (p *Page) add(t *talk, c *card) {
	c.talk, c.count = t.key, p.hub.changed(t.key)
	t.cards = append(t.cards, c)
	if n := len(t.cards) - mostCards; n > 0 {
		t.cards = slices.Delete(t.cards, 0, n)
	}
}

// find is a card of a conversation; the lock is held.
func (t *talk) find(id string) *card {
	if t == nil {
		return nil
	}
	if i := slices.IndexFunc(t.cards, func(c *card) bool { return c.id == id }); i >= 0 {
		return t.cards[i]
	}
	return nil
}

// findPost is a post by its id; the lock is held.
func (p *Page) findPost(id string) *post {
	if i := slices.IndexFunc(p.posts, func(o *post) bool { return o.id == id }); i >= 0 {
		return p.posts[i]
	}
	return nil
}

// put stands a post among the others; the lock is held.
func (p *Page) put(o *post) {
	o.count = p.hub.changed(topicPosts)
	p.posts = append(p.posts, o)
	if n := len(p.posts) - mostPosts; n > 0 {
		p.posts = slices.Delete(p.posts, 0, n)
	}
}

// line is what a post is a word on, and which: alert/XKLD/2026-01-15, 2.
func (o *post) line() (string, int) { return outbox.Item{Key: o.key}.Line() }

// overtaken says that a later word on the same stands on the page, so that
// nobody answers the earlier one; the lock is held.
func (p *Page) overtaken(o *post) bool {
	line, seq := o.line()
	if !strings.HasPrefix(line, "alert/") {
		return false
	}
	return slices.ContainsFunc(p.posts, func(other *post) bool {
		l, s := other.line()
		return l == line && s > seq && other.channel == o.channel
	})
}
