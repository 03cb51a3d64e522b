package discord

import (
	"testing"

	"firn/adapters/discord/discorddouble"
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
	card := chat.Card{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
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
	card := chat.Card{Reply: reply.Reply{Kind: reply.KindNotice, Facts: []string{"Once."}}}
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
