package page

import (
	"context"
	"errors"
	"slices"
	"strings"
	"sync"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/pagestate"
	"firn/bot/person"
)

var (
	_ chat.Recalling  = (*Page)(nil)
	_ chat.Foreseeing = (*Page)(nil)
	_ outbox.Sender   = (*Page)(nil)
)

// errNoCard is a reference that was never ours, or of a card that is gone.
var errNoCard = errors.New("page: no card has this reference")

// Name is the surface's.
func (p *Page) Name() string { return Surface }

// came is where an answer went to, for whoever waits for it.
type came struct {
	mu   sync.Mutex
	card string        // its id
	fix  bool          // it has a line to type instead
	form *chat.Form    // it was sent back
	not  string        // why it was not taken; empty: it was
	here chan struct{} // closed when it stands
	once sync.Once
}

func newCame() *came { return &came{here: make(chan struct{})} }

// stands lets go on whoever waits: what is done behind the answer, such as
// waiting for the disk, need not be waited for.
func (c *came) stands() { c.once.Do(func() { close(c.here) }) }

// stood tells the event that its answer stands, where it is known.
func stood(e chat.Event, err error) {
	if c, ok := e.Handle.(*came); ok && err == nil {
		c.stands()
	}
}

func (c *came) answered(k *entry) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.card, c.fix = k.id, k.fix()
}

func (c *came) get() (card string, fix bool, form *chat.Form) {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.card, c.fix, c.form
}

// deedKey is where a context has the event that the dispatcher is taking: what is
// done to a card tells nothing of the person who had it done.
type deedKey struct{}

func deedOf(ctx context.Context) (e chat.Event, ok bool) {
	e, ok = ctx.Value(deedKey{}).(chat.Event)
	return e, ok
}

// Answer shows a card in the conversation of the browser that asked. An event
// has one card, however often it is answered.
func (p *Page) Answer(ctx context.Context, e chat.Event, c chat.Message) (chat.Ref, error) {
	return p.answer(ctx, idFor(e), e, c)
}

// idFor is the id of the card that an event has.
func idFor(e chat.Event) string {
	id := newID()
	if eventID.MatchString(e.ID) {
		id = e.ID[:len(id)]
	}
	return id
}

// Foresee is the card that an event will have in the conversation.
func (p *Page) Foresee(e chat.Event) chat.Ref {
	if !eventID.MatchString(e.ID) || e.Kind == chat.Pressed && e.Message != "" && !cardRef.MatchString(string(e.Message)) {
		return "" // below a post
	}
	k := entry{place: e.Place.Channel, id: idFor(e)}
	return k.ref()
}

func (p *Page) answer(ctx context.Context, id string, e chat.Event, c chat.Message) (ref chat.Ref, err error) {
	if _, _, ok := duty(e.Text); ok {
		p.seenNow()
	}
	err = p.edit(ctx, e.Place.Channel, id, func(k *entry, _ bool) ([][]byte, bool) {
		k.at, k.Asked, k.By, k.Message, k.Event = e.At, asked(e), person.Shown(clean(e.Person.Name)), e.Message, e.ID
		if e.Kind == chat.Pressed {
			k.Message = ""
		}
		files := k.show(c)
		ref = k.ref()
		if h, ok := e.Handle.(*came); ok {
			h.answered(k)
		}
		return files, true
	})
	stood(e, err)
	return ref, err
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

// notTaken is why the event was not taken; empty: it was.
func (c *came) notTaken() string {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.not
}

// Whisper is an answer: nobody else reads the conversation. What is not taken goes
// back with the reason, and is no card.
func (p *Page) Whisper(ctx context.Context, e chat.Event, c chat.Message) error {
	if h, ok := e.Handle.(*came); ok && c.NotTaken && c.Reply.Problem != nil {
		h.mu.Lock()
		defer h.mu.Unlock()
		h.not = clean(c.Reply.Problem.Text)
		return nil
	}
	_, err := p.answer(ctx, newID(), e, c)
	return err
}

// AnswerTo is the card that answers a message, whichever process showed it.
func (p *Page) AnswerTo(ctx context.Context, message chat.Ref) (chat.Ref, bool, error) {
	m := messageRef.FindStringSubmatch(string(message))
	if m == nil {
		return "", false, nil
	}
	all, _, err := p.cards(ctx, m[1], 0)
	if err != nil {
		return "", false, err
	}
	for _, k := range slices.Backward(all) {
		if k.Message == message {
			return k.ref(), true, nil
		}
	}
	return "", false, nil
}

// Change puts another card in the place of one.
func (p *Page) Change(ctx context.Context, ref chat.Ref, c chat.Message) error {
	where, id, ok := whereIs(ref)
	if !ok {
		return outbox.Permanent(errNoCard)
	}
	there, of := false, chat.Event{}
	err := p.edit(ctx, where, id, func(k *entry, found bool) ([][]byte, bool) {
		if there = found; !found {
			return nil, false
		}
		files := k.show(c)
		k.Edited = k.place != pagestate.Posts
		if e, ok := deedOf(ctx); ok && e.Message == k.Message && e.Kind == chat.Edited {
			k.Asked, k.Event, of = asked(e), e.ID, e
			if h, ok := e.Handle.(*came); ok {
				h.answered(k)
			}
		}
		return files, true
	})
	if err == nil && !there {
		// It was so long ago that it made room, or its browser has left.
		err = outbox.Permanent(errNoCard)
	}
	stood(of, err)
	return err
}

// Follow shows a card below one: in the conversation, or under a post for
// everybody.
func (p *Page) Follow(ctx context.Context, ref chat.Ref, c chat.Message) (chat.Ref, error) {
	where, id, ok := whereIs(ref)
	if !ok {
		return "", outbox.Permanent(errNoCard)
	}
	before, err := p.card(ctx, where, id)
	if err != nil {
		return "", err
	}
	if before == nil {
		return "", outbox.Permanent(errNoCard)
	}
	e, pressed := deedOf(ctx)
	pressed = pressed && e.Message == ref
	if _, _, ok := duty(e.Text); ok {
		p.seenNow()
	}
	next, below := ref, newID() // what follows a follow-up stands below the post
	if pressed && where != pagestate.Posts {
		below = idFor(e)
	}
	err = p.edit(ctx, where, below, func(k *entry, _ bool) ([][]byte, bool) {
		k.Asked = before.Asked
		if pressed {
			k.Asked, k.By = asked(e), person.Shown(clean(e.Person.Name))
		}
		files := k.show(c)
		if where == pagestate.Posts {
			k.Asked, k.By, k.under = "", "", id
			return files, true
		}
		next = k.ref()
		if h, ok := e.Handle.(*came); ok && pressed {
			h.answered(k)
		}
		return files, true
	})
	if err != nil {
		return "", err
	}
	if pressed {
		stood(e, nil)
	}
	return next, nil
}

// errOwnPage: a blind check has a page of its own, which the card links to.
var errOwnPage = errors.New("page: a check is made on the record's own page")

// errNobody is a form that nobody waits for any more.
var errNobody = errors.New("page: nobody waits for the form")

// Open sends the form back, on the page that whoever sent it gets.
func (p *Page) Open(ctx context.Context, e chat.Event, f chat.Form) error {
	if f.Enter != nil {
		return errOwnPage
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	h, ok := e.Handle.(*came)
	if !ok {
		return errNobody
	}
	h.mu.Lock()
	defer h.mu.Unlock()
	h.form = &f
	h.stands()
	return nil
}

// Send puts a post on the page. One that is there is not put there again.
func (p *Page) Send(ctx context.Context, o outbox.Post) (ref string, err error) {
	err = p.edit(ctx, pagestate.Posts, postID(o.Channel, o.Key), func(k *entry, found bool) ([][]byte, bool) {
		ref = string(k.ref())
		if found {
			return nil, false
		}
		k.Key, k.Channel, k.Late = clean(o.Key), clean(o.Channel), clean(o.Lateness())
		if d := o.Body.Digest; d != nil && d.Under != "" { // what changed stands below its morning
			k.under = postID(o.Channel, d.Under)
		}
		return k.show(chat.Message{Reply: o.Body}), true
	})
	if err != nil {
		return "", err
	}
	return ref, nil
}

// Find looks for a post on the page.
func (p *Page) Find(ctx context.Context, channel, key string) (ref string, found bool, err error) {
	k, err := p.card(ctx, pagestate.Posts, postID(channel, key))
	if err != nil || k == nil {
		return "", false, err
	}
	return string(k.ref()), true, nil
}
