package surfacetest

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"firn/bot/chat"
	"firn/bot/outbox"
	"firn/bot/reply"
)

// lacks: what a surface cannot do is said in its traits, and is so.
func lacks(t *testing.T, d Driver) {
	r := start(t, d, nil)
	has := powers(t, d)
	for p, able := range has {
		if said := !slices.Contains(r.traits.Lacks, p); said != able {
			t.Errorf("%s: the surface is said to have it: %v, it has: %v", p, said, able)
		}
	}
	for _, p := range r.traits.Lacks {
		if _, known := has[p]; !known {
			t.Errorf("there is no power %q to lack", p)
		}
	}
	if _, unfolds := r.surface.(chat.Unfolding); unfolds != has[More] {
		t.Errorf("the surface has More: %v, its driver: %v", unfolds, has[More])
	}
	if has[Buttons] {
		return
	}
	r.say(t, 0, "button k1 say k2")
	if got := r.await(t, heard("k1")); len(got.Buttons) > 0 || len(got.More) > 0 {
		t.Errorf("a surface without buttons shows %+v", got.Buttons)
	}
}

// besides: a full question never changes the card of another, wherever it is
// asked.
func besides(t *testing.T, d Driver) {
	var r *rig
	for i, m := range places(d.Traits()) {
		if r != nil {
			r.Stop(t)
		}
		r = startWith(t, d, testBot(t), nil)
		first, second := fmt.Sprintf("XKLD -%d FAF 8200", 31+i), fmt.Sprintf("XRUN -%d FAF 6200", 31+i)
		m.Text = first
		message := r.Say(t, m)
		one := r.await(t, fmt.Sprintf("XKLD, −%d °C", 31+i))
		if !m.Direct {
			m.Thread = message
		}
		m.Text = second
		r.Say(t, m)
		other := r.await(t, fmt.Sprintf("XRUN, −%d °C", 31+i))
		r.dispatcher.Wait()
		if got := r.await(t, fmt.Sprintf("XKLD, −%d °C", 31+i)); got.ID != one.ID || got.ID == other.ID || got.Edited {
			t.Errorf("the card of %q, %s, has become %+v; the other is %s", first, one.ID, got, other.ID)
		}
		r.sound(t)
	}
}

// ownDirect: the bot is told that a direct message is its person's own, and that
// what is said in a channel is nobody's.
func ownDirect(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.Say(t, Said{By: r.traits.People[1], Direct: true, Text: "say k1"})
	r.await(t, heard("k1"))
	if got := r.parrot.heard(); !got.Direct || got.Own == r.traits.Open || !strings.HasSuffix(got.Person, r.traits.People[1].ID) {
		t.Errorf("the bot was asked %+v", got)
	}
	if len(r.traits.Channels) == 0 {
		return
	}
	r.Say(t, Said{By: r.traits.People[1], Channel: r.traits.Channels[0], Text: "say k2"})
	r.await(t, heard("k2"))
	if got := r.parrot.heard(); got.Direct || got.Own {
		t.Errorf("in a channel the bot was asked %+v", got)
	}
}

// commandDirectly: a command works in a direct message, too.
func commandDirectly(t *testing.T, d Driver) {
	r := start(t, d, nil)
	by := r.traits.People[1]
	r.Say(t, Said{By: by, Direct: true, Aside: true, Text: "say k1"})
	if got := r.await(t, heard("k1")); got.Direct != by.ID && got.Only != by.ID {
		t.Errorf("the answer is shown in %q, directly to %q, alone to %q", got.Channel, got.Direct, got.Only)
	}
	if got := r.parrot.heard(); !got.Direct {
		t.Errorf("the bot was asked %+v", got)
	}
	r.sound(t)
}

// morning: one post a channel, its details in its thread; who has seen it and what
// can be done then stand in the same post, and nothing new comes for that.
func morning(t *testing.T, d Driver) {
	p, ok := d.(Poster)
	if !ok {
		return
	}
	r := start(t, d, nil)
	address := r.traits.Name + ":" + r.traits.Channels[1]
	post := func(n int, body reply.Reply) outbox.Post {
		return outbox.Post{Key: fmt.Sprint("digest/2026-01-15/", n), Channel: address, Body: body}
	}
	body := reply.Reply{
		Kind: reply.KindDigest, Headline: "3 below: XKLD −31, XGLN −19, XFRN −26", Facts: []string{"3 below: XKLD −31, XGLN −19, XFRN −26"},
		Actions: []reply.Action{{ID: "ack", Label: "Seen all", Message: "ack all"}, {ID: "ack-XKLD", Label: "Seen XKLD", Message: "ack XKLD"}},
	}
	ref, err := p.Sender(t).Send(t.Context(), post(1, body))
	if err != nil {
		t.Fatal(err)
	}
	first := r.await(t, "3 below")
	if !hasButton(first, "ack") || !hasButton(first, "ack-XKLD") || hasButton(first, "snooze") || strings.Contains(first.Text, "digest/") {
		t.Errorf("the morning is shown as %+v", first)
	}
	want := 1
	if under, ok := p.Sender(t).(outbox.Threaded); ok {
		ref, err := under.SendUnder(t.Context(), post(2, reply.Reply{Kind: reply.KindNotice, Facts: []string{"Of XKLD, in detail."}}), ref)
		if err != nil || ref == "" {
			t.Fatalf("SendUnder = %q, %v", ref, err)
		}
		r.stands(t, r.await(t, "Of XKLD, in detail."), Said{Channel: r.traits.Channels[1]}, first.ID)
		want++
	}
	body.Facts = append(body.Facts, "Seen by Anna 12:02.")
	body.Actions = []reply.Action{{ID: "snooze", Label: "Snooze 2 h", Message: "snooze all 2h"}}
	if err := r.surface.Change(t.Context(), chat.Ref(ref), chat.Message{Reply: body}); err != nil {
		t.Fatal(err)
	}
	got := r.await(t, "Seen by Anna 12:02.")
	if got.ID != first.ID || !hasButton(got, "snooze") || hasButton(got, "ack") {
		t.Errorf("the morning that was seen is shown as %+v", got)
	}
	if all := r.Shown(t); len(all) != want {
		t.Errorf("%d messages are shown, want %d: %+v", len(all), want, all)
	}
	r.sound(t)
}

// saysWhat: a button's words are all there, and what it would do is asked about
// where somebody's colder figures stand.
func saysWhat(t *testing.T, d Driver) {
	r := start(t, d, nil)
	r.say(t, 0, "again k1")
	card := r.await(t, heard("k1"))
	again := Button{"recompute", "Again at −29, 61 min old"}
	if !slices.Contains(card.Buttons, again) {
		t.Errorf("the buttons are %+v", card.Buttons)
	}
	// Where it is warmer, or another's, whoever pressed is asked, and the same
	// button computes; the card stays.
	by := r.traits.People[1]
	if len(r.traits.Channels) == 0 {
		by = r.traits.People[0] // nobody else sees it
	}
	r.Press(t, card, again.ID, by)
	asked := r.await(t, "is warmer than")
	if r.traits.Private && asked.Direct == "" && asked.Only != by.ID || !slices.Contains(asked.Buttons, again) || r.parrot.count("recompute k1 latest") != 0 {
		t.Errorf("asked in %q of %q with %+v, after computing %d times", asked.Channel, asked.Only, asked.Buttons, r.parrot.count("recompute k1 latest"))
	}
	r.Press(t, asked, again.ID, by)
	r.await(t, heard("recompute k1 latest"))
	r.once(t, heard("k1"))
	if n := r.parrot.count("recompute k1 latest"); n != 1 {
		t.Errorf("it was computed %d times", n)
	}
	r.sound(t)
}
