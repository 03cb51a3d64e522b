package discord

import (
	"net/http"
	"testing"
	"time"

	"firn/adapters/testkit/discorddouble"
	"firn/bot/chat"
	"firn/bot/reply"
)

// TestAnswerStands: two processes that answer the same message leave one
// answer.
func TestAnswerStands(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	a, b := newSurface(t, options(d)), newSurface(t, options(d))
	k, l := &clerk{silent: true}, &clerk{silent: true}
	ready(t, d, a, k)
	ready(t, d, b, l)
	question := say(t, d, "one")
	eventually(t, "both hear it", func() bool { return len(k.heard()) == 1 && len(l.heard()) == 1 })
	card := chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
	first, err := a.Answer(t.Context(), k.heard()[0], card)
	if err != nil {
		t.Fatal(err)
	}
	second, err := b.Answer(t.Context(), l.heard()[0], card)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(d.FromBot(question)); n != 1 || first != second {
		t.Errorf("%d answers, %s and %s", n, first, second)
	}
}

// TestReplyStands: where the one found no thread its answer is a reply, and
// the other, which could begin one, leaves it at that.
func TestReplyStands(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	a, b := newSurface(t, options(d)), newSurface(t, options(d))
	k, l := &clerk{silent: true}, &clerk{silent: true}
	ready(t, d, a, k)
	ready(t, d, b, l)
	say(t, d, "one")
	eventually(t, "both hear it", func() bool { return len(k.heard()) == 1 && len(l.heard()) == 1 })
	card := chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
	at := d.Channels()[0]
	d.DenyThreads(at, true)
	first, err := a.Answer(t.Context(), k.heard()[0], card)
	if err != nil {
		t.Fatal(err)
	}
	d.DenyThreads(at, false)
	e := l.heard()[0]
	e.Again = true
	second, err := b.Answer(t.Context(), e, card)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(d.FromBot(at)); n != 1 || first != second {
		t.Errorf("%d answers in the channel, %s and %s", n, first, second)
	}
}

// TestAnswerElsewhere: a process answered a message where it could, and was
// killed; the message comes again to the next one, which could answer in the
// other place. The answer that stands is found, also when Discord has forgotten
// the nonce.
func TestAnswerElsewhere(t *testing.T) {
	card := chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
	noThread := func(d *discorddouble.Server) {
		d.Fail(discorddouble.Fault{Method: http.MethodPost, Path: "/threads", Status: http.StatusBadGateway, Times: tries})
	}
	for _, c := range []struct {
		name            string
		first, second   func(d *discorddouble.Server)
		again, forgiven bool // the dispatcher knows that it comes again; the nonce is forgotten
	}{
		{name: "no thread, then a thread", first: noThread},
		{name: "no thread, then a thread, much later", first: noThread, forgiven: true},
		{name: "a thread, then none", second: noThread},
		{name: "a thread, then none, much later", second: noThread, forgiven: true},
		{name: "a thread both times, much later", forgiven: true},
		{name: "another replica died over it", first: noThread, again: true, forgiven: true},
	} {
		t.Run(c.name, func(t *testing.T) {
			d := startDouble(t, discorddouble.Options{})
			k, l := &clerk{silent: true}, &clerk{silent: true}
			a, b := newSurface(t, options(d)), newSurface(t, options(d))
			stop := ready(t, d, a, k)
			if c.again {
				ready(t, d, b, l)
			}
			question := say(t, d, "one")
			eventually(t, "it is heard", func() bool { return len(k.heard()) == 1 && (!c.again || len(l.heard()) == 1) })
			if c.first != nil {
				c.first(d)
			}
			first, err := a.Answer(t.Context(), k.heard()[0], card)
			if err != nil {
				t.Fatal(err)
			}
			if !c.again {
				stop()
				time.Sleep(time.Until(timeOf(question).Add(2 * time.Millisecond))) // ids are as exact as that
				b = newSurface(t, options(d))
				ready(t, d, b, l)
				if err := d.Redeliver(question); err != nil {
					t.Fatal(err)
				}
				eventually(t, "it is heard again", func() bool { return len(l.heard()) == 1 })
			}
			if c.forgiven {
				d.ForgetNonces()
			}
			if c.second != nil {
				c.second(d)
			}
			e := l.heard()[0]
			e.Again = c.again
			second, err := b.Answer(t.Context(), e, card)
			if err != nil {
				t.Fatal(err)
			}
			in, under := len(d.FromBot(d.Channels()[0])), len(d.FromBot(question))
			if in+under != 1 || first != second {
				t.Errorf("%d answers in the channel and %d in the thread, %s and %s; want one", in, under, first, second)
			}
			d.Mend()
		})
	}
}

// TestNonceAnywhere: what two processes answer to one message at the same time
// has one nonce, also where one of them can begin no thread.
func TestNonceAnywhere(t *testing.T) {
	d := startDouble(t, discorddouble.Options{})
	a, b := newSurface(t, options(d)), newSurface(t, options(d))
	k, l := &clerk{silent: true}, &clerk{silent: true}
	ready(t, d, a, k)
	ready(t, d, b, l)
	question := say(t, d, "one")
	eventually(t, "both hear it", func() bool { return len(k.heard()) == 1 && len(l.heard()) == 1 })
	card := chat.Message{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
	d.DenyThreads(d.Channels()[0], true)
	first, err := a.Answer(t.Context(), k.heard()[0], card)
	if err != nil {
		t.Fatal(err)
	}
	d.DenyThreads(d.Channels()[0], false)
	second, err := b.Answer(t.Context(), l.heard()[0], card)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(d.FromBot(d.Channels()[0])) + len(d.FromBot(question)); n != 1 || first != second {
		t.Errorf("%d answers, %s and %s; want one", n, first, second)
	}
}
