package page

import (
	"context"
	"errors"
	"strings"
	"sync"

	"firn/bot/chat"
	"firn/bot/outbox"
)

var (
	_ chat.Surface  = (*Page)(nil)
	_ outbox.Sender = (*Page)(nil)
)

// errNoCard is a reference that was never ours, or of a post that is gone.
var errNoCard = errors.New("page: no card has this reference")

// Name is the surface's.
func (p *Page) Name() string { return Surface }

// came is where an answer went to, for whoever waits for it.
type came struct {
	mu   sync.Mutex
	card string // its id
	form bool   // the form was sent back
}

func (c *came) set(card string, form bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.card, c.form = card, form
}

func (c *came) get() (card string, form bool) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.card, c.form
}

// Answer shows a card in the conversation of the browser that asked.
func (p *Page) Answer(ctx context.Context, e chat.Event, c chat.Card) (chat.Ref, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return "", err
	}
	k := &card{id: newID(), asked: asked(e), by: clean(e.Person.Name), at: e.At, message: e.Message, c: cleanCard(c)}
	if e.Kind == chat.Pressed {
		k.message = ""
	}
	p.add(p.talk(e.Place.Channel), k)
	if h, ok := e.Handle.(*came); ok {
		h.set(k.id, false)
	}
	return k.ref(), nil
}

// asked is what a card answers, on one line.
func asked(e chat.Event) string {
	if e.Kind == chat.Submitted {
		return clean(strings.Join(strings.Fields(strings.Join([]string{
			e.Fields[chat.FieldStation], e.Fields[chat.FieldTemperature], e.Fields[chat.FieldAltitudes],
		}, " ")), " "))
	}
	return clean(e.Text)
}

// Whisper is an answer: nobody else reads the conversation.
func (p *Page) Whisper(ctx context.Context, e chat.Event, c chat.Card) error {
	_, err := p.Answer(ctx, e, c)
	return err
}

// Change puts another card in the place of one.
func (p *Page) Change(ctx context.Context, ref chat.Ref, c chat.Card) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	c = cleanCard(c)
	if m := cardRef.FindStringSubmatch(string(ref)); m != nil {
		t := p.talk(m[1])
		k := t.find(m[2])
		if k == nil { // from before a restart
			p.add(t, &card{id: m[2], at: p.o.Now(), c: c, edited: true})
			return nil
		}
		k.c, k.edited, k.count = c, true, p.hub.changed(t.key)
		return nil
	}
	if m := postRef.FindStringSubmatch(string(ref)); m != nil {
		o := p.findPost(m[1])
		if o == nil {
			p.put(&post{id: m[1], at: p.o.Now(), c: c})
			return nil
		}
		o.c, o.count = c, p.hub.changed(topicPosts)
		return nil
	}
	return outbox.Permanent(errNoCard)
}

// Follow shows a card below one: in the conversation, or under a post for
// everybody.
func (p *Page) Follow(ctx context.Context, ref chat.Ref, c chat.Card) (chat.Ref, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return "", err
	}
	k := &card{id: newID(), at: p.o.Now(), c: cleanCard(c)}
	if m := cardRef.FindStringSubmatch(string(ref)); m != nil {
		t := p.talk(m[1])
		if before := t.find(m[2]); before != nil {
			k.asked = before.asked
		}
		p.add(t, k)
		return k.ref(), nil
	}
	if m := postRef.FindStringSubmatch(string(ref)); m != nil {
		if o := p.findPost(m[1]); o != nil {
			k.count = p.hub.changed(topicPosts)
			o.count = k.count
			o.follows = append(o.follows, k)
			if n := len(o.follows) - mostFollows; n > 0 {
				o.follows = o.follows[n:]
			}
			// What follows a follow-up stands below the post.
			return ref, nil
		}
	}
	return "", outbox.Permanent(errNoCard)
}

// Open sends the form back.
func (p *Page) Open(ctx context.Context, e chat.Event, f chat.Form) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return err
	}
	t := p.talk(e.Place.Channel)
	t.form = &f
	p.hub.changed(t.key)
	if h, ok := e.Handle.(*came); ok {
		h.set("", true)
	}
	return nil
}

// Send puts a post on the page. One that is there is not put there again.
func (p *Page) Send(ctx context.Context, o outbox.Post) (ref string, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return "", err
	}
	id := postID(o.Channel, o.Key)
	if there := p.findPost(id); there != nil {
		return string(there.ref()), nil
	}
	n := &post{id: id, key: o.Key, channel: o.Channel, late: o.Lateness(), at: p.o.Now(), c: cleanCard(chat.Card{Reply: o.Body})}
	p.put(n)
	return string(n.ref()), nil
}

// Find looks for a post on the page. A new process has a new page.
func (p *Page) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := ctx.Err(); err != nil {
		return "", false, err
	}
	if o := p.findPost(postID(channel, key)); o != nil {
		return string(o.ref()), true, nil
	}
	return "", false, nil
}
